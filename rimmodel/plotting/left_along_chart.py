"""What is left of the fit along the length of a rim, at named speeds."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.style import COLOURS, DASHES, INK, legend, panels, plain

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def draw(height: ArrayLike, curves: Sequence[tuple[str, ArrayLike, ArrayLike]]) -> Figure:
    """Interference left against the height in the rim, a band with its own dash for each speed.

    Parameters
    ----------
    height : array (slice,), m
        Above the lower end of the rim.
    curves : list of (str, array (slice,), array (slice,)), mm
        Name of a speed, and the least and the most that is left; a clearance where it is below zero.

    Returns
    -------
    matplotlib Figure
    """
    figure, (panel,) = panels((1.0,), height=4.4)
    at = np.asarray(height, dtype=float)
    for number, (name, least, most) in enumerate(curves):
        colour, dash = COLOURS[number % len(COLOURS)], DASHES[number % len(DASHES)]
        low, high = np.asarray(least, dtype=float), np.asarray(most, dtype=float)
        panel.fill_between(at, low, high, facecolor=colour, alpha=0.18, linewidth=0)
        panel.plot(at, low, color=colour, linestyle=dash, linewidth=1.5, label=plain(name))
        panel.plot(at, high, color=colour, linestyle=dash, linewidth=1.5)
    panel.axhline(0.0, color=INK, linewidth=1.0)
    panel.annotate(
        "below: no contact", (0.99, 0.0), (0, -3), ("axes fraction", "data"), "offset points", ha="right", va="top",
        fontsize=7.5, color=INK,
    )  # fmt: skip
    panel.set_xlabel("height above the lower end of the rim  [m]")
    panel.set_ylabel("interference left  [mm]")
    panel.margins(x=0.01)
    legend(figure, loc="outside upper center", ncols=2)
    return figure
