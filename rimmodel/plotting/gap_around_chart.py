"""The least gap around the stator in one turn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.style import COLOURS, DASHES, INK, legend, panels, plain

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Curve:
    """Least gap met at each place of the stator in one turn, at one speed.

    Parameters
    ----------
    angle : array (angle,), deg
        On the stator.
    gap : array (angle,), mm
    """

    name: str
    angle: ArrayLike
    gap: ArrayLike


def draw(curves: Sequence[Curve]) -> Figure:
    """Least gap in one turn against the place on the stator, a line for each speed, a dot where it is least.

    Returns
    -------
    matplotlib Figure
    """
    figure, (panel,) = panels((1.0,), height=4.2)
    for number, curve in enumerate(curves):
        angle, gap = np.asarray(curve.angle, dtype=float), np.asarray(curve.gap, dtype=float)
        colour = COLOURS[number % len(COLOURS)]
        panel.plot(
            angle, gap, color=colour, linestyle=DASHES[number % len(DASHES)], linewidth=1.6, label=plain(curve.name)
        )
        if np.isfinite(gap).any():
            at = int(np.nanargmin(gap))
            panel.plot(angle[at], gap[at], "o", color=colour, markeredgecolor=INK, markersize=5, zorder=5)
            panel.annotate(
                f"{gap[at]:.2f}", (angle[at], gap[at]), xytext=(0, -12), textcoords="offset points", ha="center",
                fontsize=7.5, color=INK,
            )  # fmt: skip
    panel.set_xlabel("place on the stator  [deg, with rotation]")
    panel.set_ylabel("least gap in one turn  [mm]")
    panel.set_xlim(0.0, 360.0)
    panel.set_xticks(np.arange(0, 361, 45))
    panel.margins(y=0.12)
    legend(figure, loc="outside upper center", ncols=2)
    return figure
