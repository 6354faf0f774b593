"""Mean gap against speed squared with the two straight lines and the interval of their knee."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.speed_chart import Points
from rimmodel.plotting.style import COLOURS, FAINT, INK, MARKERS, WAYS, panels, plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class BrokenLine:
    """Two lines that meet at a knee; speeds in rpm, gaps in mm, slopes in mm per rpm squared; NaN where unknown."""

    knee: float
    low: float
    high: float
    level: float
    slope_before: float
    slope_after: float


def knee_chart(points: Sequence[Points], line: BrokenLine, rated: float) -> Figure:
    """Mean gap against (n / n_rated)^2, in which the gap of a seated and of a floating rim is a straight line.

    Parameters
    ----------
    points : sequence of Points
        Measured, one per way; speeds in rpm.
    line : BrokenLine
        The fitted lines; drawn only where they are known.
    rated : float
        Rated speed, rpm.

    Returns
    -------
    matplotlib Figure
    """
    figure, (panel,) = panels((1.0,), height=3.6)
    speeds = np.concatenate([np.asarray(some.speed, dtype=float) for some in points])
    for some in points:
        panel.plot(
            (np.asarray(some.speed) / rated) ** 2,
            some.gap,
            MARKERS[some.way],
            color=INK,
            markerfacecolor="white" if some.way == "down" else INK,
            markersize=5,
            label=f"{plain(some.name)}, {WAYS[some.way]}",
            zorder=4,
        )
    if np.isfinite(line.knee):
        _draw_lines(panel, line, rated, speeds)
    panel.set_xlabel("(speed / rated speed)²  [-]")
    panel.set_ylabel("mean air gap  [mm]")
    panel.legend(loc="lower left")
    return figure


def _draw_lines(panel: Axes, line: BrokenLine, rated: float, speeds: ArrayLike) -> None:
    squared = np.asarray(speeds) ** 2
    for end, slope, name, colour, dash in (
        (squared.min(), line.slope_before, "seated", COLOURS[0], "-"),
        (squared.max(), line.slope_after, "floating", COLOURS[1], (0, (6, 2))),
    ):
        ends = np.array([line.knee**2, end])
        level = line.level + slope * (ends - line.knee**2)
        panel.plot(ends / rated**2, level, color=colour, linestyle=dash, linewidth=1.8, label=name)
    high = min(line.high, float(np.sqrt(squared.max())))
    panel.axvspan((line.low / rated) ** 2, (high / rated) ** 2, color=FAINT, alpha=0.18, linewidth=0)
    panel.axvline((line.knee / rated) ** 2, color=INK, linewidth=0.8)
    panel.annotate(
        f" {line.knee:.1f} rpm\n ({line.low:.1f} to {line.high:.1f})",
        ((line.knee / rated) ** 2, 0.99),
        xycoords=("data", "axes fraction"),
        va="top",
        fontsize=8,
    )
