"""A history against time: temperatures, speed with float speed, interference left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.bands import Band, draw_band
from rimmodel.plotting.style import FAINT, INK, legend, panels, plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Mark:
    """A segment of a history.

    Parameters
    ----------
    start : float, h
    """

    name: str
    start: float


def draw(
    time: ArrayLike,
    speed: ArrayLike,
    float_speed: Band,
    temperatures: Sequence[Band],
    interference: Band,
    stretches: Sequence[Mark],
) -> Figure:
    """Temperatures, speed with float speed, and interference left, one above the other against time.

    Parameters
    ----------
    time : array (time,), h
    speed : array (time,), rpm
    float_speed : Band
        In rpm.
    temperatures : sequence of Band
        In degC.
    interference : Band
        In mm, at the speed of the moment.

    Returns
    -------
    matplotlib Figure
    """
    figure, (warm, fast, tight) = panels((1.0, 1.1, 0.9), height=7.4)
    moment = np.asarray(time, dtype=float)
    for number, band in enumerate(temperatures):
        draw_band(warm, moment, band, number)
    warm.set_ylabel("mean temperature  [degC]")
    legend(warm, loc="best")
    fast.plot(moment, speed, color=INK, linewidth=1.3, label="speed")
    draw_band(fast, moment, float_speed, 1)
    fast.set_ylabel("speed  [rpm]")
    fast.set_ylim(bottom=0.0)
    legend(fast, loc="best")
    draw_band(tight, moment, interference, 0)
    tight.axhline(0.0, color=INK, linewidth=0.9, linestyle=(0, (4, 2)))
    tight.set_ylabel("interference left  [mm]")
    tight.set_xlabel("time  [h]")
    legend(tight, loc="best")
    tight.set_xlim(moment[0], moment[-1])
    _mark([warm, fast, tight], stretches, float(moment[-1]))
    return figure


def _mark(axes: list[Axes], stretches: Sequence[Mark], end: float) -> None:
    """Thin lines at the starts of the segments, those that are long enough named above."""
    starts = [stretch.start for stretch in stretches] + [end]
    for number, stretch in enumerate(stretches):
        for panel in axes:
            panel.axvline(stretch.start, color=FAINT, linewidth=0.7, linestyle=(0, (1, 2)), zorder=1)
        if starts[number + 1] - stretch.start > 0.06 * end:
            middle = (stretch.start + starts[number + 1]) / 2
            axes[0].annotate(
                plain(stretch.name),
                (middle, 1.0),
                xycoords=("data", "axes fraction"),
                ha="center",
                va="bottom",
                fontsize=7.5,
            )
