"""A map of keys: the speeds between which each is without load."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.key_marks import MOST_NAMED, Mark, draw_marks, every_so_many
from rimmodel.plotting.style import mark_speeds, panels

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def draw(
    speed: ArrayLike, angle: ArrayLike, force: ArrayLike, marks: Sequence[Mark], speeds: dict[str, float]
) -> Figure:
    """Map of key forces over speed and key: dark: high force, white: lifted off.

    Parameters
    ----------
    speed : array (speed,), rpm
    angle : array (key,), deg
    force : array (speed, key), kN
    speeds : dict of str to float, rpm
        Named speeds.
    """
    figure, (panel,) = panels((1.0,), height=4.2)
    x, values = np.asarray(speed, dtype=float), np.ma.masked_invalid(np.asarray(force, dtype=float))
    keys = np.arange(1, values.shape[1] + 1)
    mesh = panel.pcolormesh(x, keys, values.T, cmap="Greys", vmin=0.0, shading="nearest", rasterized=False)
    figure.colorbar(mesh, ax=panel, label="force on the key  [kN]")
    draw_marks(panel, [(mark, float(mark.key)) for mark in marks])
    mark_speeds([panel], speeds)
    named = every_so_many(list(zip(keys, np.asarray(angle, dtype=float), strict=True)), MOST_NAMED)
    panel.set_yticks([key for key, _ in named], [f"{key} ({at:.0f}°)" for key, at in named])
    panel.set_xlabel("speed  [rpm]")
    panel.set_ylabel("key (angle in the turning frame)")
    panel.grid(visible=False)
    return figure
