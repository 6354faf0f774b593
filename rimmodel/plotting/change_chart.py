"""The gap of several recordings against speed squared, and their float speeds side by side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.style import COLOURS, DASHES, INK, legend, panels, plain

if TYPE_CHECKING:
    from matplotlib.figure import Figure


SHAPES = ("o", "s", "D", "^", "v", "P")


@dataclass(frozen=True)
class Curve:
    """One recording: its gap, its float speed, and the interval of that.

    Parameters
    ----------
    speed : array (point,), rpm
    gap_change : array (point,), mm
        Of the mean gap from its slowest point.
    float_speed, low, high : float, rpm
    """

    name: str
    speed: ArrayLike
    gap_change: ArrayLike
    float_speed: float
    low: float
    high: float


def draw(curves: Sequence[Curve], rated: float) -> Figure:
    """Change of mean gap against (n / n_rated)^2 for each recording, and below it the float speeds with intervals.

    Parameters
    ----------
    rated : float, rpm
    """
    figure, (gap, speeds) = panels((3.0, 0.5 + 0.35 * len(curves)), height=4.6)
    right = max(float(np.max(np.asarray(curve.speed))) for curve in curves)
    for number, curve in enumerate(curves):
        colour, mark = COLOURS[number % len(COLOURS)], SHAPES[number % len(SHAPES)]
        order = np.argsort(np.asarray(curve.speed), kind="stable")
        gap.plot(
            (np.asarray(curve.speed)[order] / rated) ** 2,
            np.asarray(curve.gap_change)[order],
            marker=mark,
            linestyle=DASHES[number % len(DASHES)],
            linewidth=0.9,
            markersize=4.5,
            color=colour,
            label=plain(curve.name),
        )
        low, high = max(curve.low, 0.0), min(curve.high, 1.05 * right)
        speeds.plot([(low / rated) ** 2, (high / rated) ** 2], [number, number], color=colour, linewidth=5, alpha=0.6)
        if np.isfinite(curve.float_speed):
            speeds.plot([(curve.float_speed / rated) ** 2], [number], mark, color=INK, markersize=6)
            speeds.annotate(
                f"{curve.float_speed:.1f} rpm",
                ((curve.float_speed / rated) ** 2, number),
                textcoords="offset points",
                xytext=(0, 6),
                ha="center",
                fontsize=8,
            )
    gap.set_ylabel("change of mean gap\nfrom slowest speed  [mm]")
    legend(gap, loc="lower left")
    speeds.set_yticks(range(len(curves)), [plain(curve.name) for curve in curves])
    speeds.set_ylim(len(curves) - 0.4, -0.7)
    speeds.set_xlabel("(speed / rated speed)²  [-];   bars: interval of the float speed")
    return figure
