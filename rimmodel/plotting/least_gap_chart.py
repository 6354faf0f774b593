"""Mean and least gap against speed, predicted and measured."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.style import COLOURS, DASHES, DIRECTIONS, FAINT, INK, MARKERS, legend, mark_speeds, panels, plain

if TYPE_CHECKING:
    from matplotlib.figure import Figure


FILLS = (INK, "white", FAINT)
"""Fill of the markers of each sensor plane in turn; the direction is in their shape."""


@dataclass(frozen=True)
class Band:
    """Predicted mean and least gap against speed; NaN where there is none.

    Parameters
    ----------
    speed : array (speed,), rpm
    mean, least, low, high : array (speed,), mm
    """

    name: str
    speed: ArrayLike
    mean: ArrayLike
    least: ArrayLike
    low: ArrayLike
    high: ArrayLike


@dataclass(frozen=True)
class Points:
    """Least gaps that one sensor plane shows, in one direction of the speed.

    Parameters
    ----------
    direction : str
        "up", "down" or "".
    speed : array (point,), rpm
    least, low, high : array (point,), mm
    """

    name: str
    direction: str
    speed: ArrayLike
    least: ArrayLike
    low: ArrayLike
    high: ArrayLike


@dataclass(frozen=True)
class Mark:
    """A mark in the gap after a run.

    Parameters
    ----------
    speed : float, rpm
        Highest of the run.
    gap : float, mm
    """

    name: str
    speed: float
    gap: float


def draw(band: Band, planes: Sequence[Points], marks: Sequence[Mark], speeds: dict[str, float]) -> Figure:
    """Mean and least gap against speed with the band of the least; what planes read with their intervals; marks.

    Parameters
    ----------
    speeds : dict of str to float, rpm
        Named speeds.

    Returns
    -------
    matplotlib Figure
    """
    figure, (panel,) = panels((1.0,), height=5.0)
    label = plain(band.name)
    panel.fill_between(
        band.speed,
        band.low,
        band.high,
        facecolor="#E4E4E4",
        edgecolor=FAINT,
        linewidth=0.6,
        label="its band, tolerances of the case",
    )
    panel.plot(band.speed, band.mean, color=FAINT, linestyle=DASHES[1], linewidth=1.3, label=f"mean gap, {label}")
    panel.plot(band.speed, band.least, color=INK, linewidth=1.8, label=f"least gap, {label}")
    names = list(dict.fromkeys(plane.name for plane in planes))
    for plane in planes:
        number = names.index(plane.name)
        least, low, high = (np.asarray(values, dtype=float) for values in (plane.least, plane.low, plane.high))
        colour = COLOURS[number % len(COLOURS)]
        panel.errorbar(
            plane.speed, least, yerr=np.stack([least - low, high - least]), color=colour, linestyle="none",
            marker=MARKERS[plane.direction], markerfacecolor=FILLS[number % len(FILLS)], markeredgecolor=INK,
            markersize=5, elinewidth=0.9, capsize=2, label=f"{plain(plane.name)}, {DIRECTIONS[plane.direction]}",
            zorder=4,
        )  # fmt: skip
    for mark in marks:
        panel.plot(mark.speed, mark.gap, "_", color=INK, markersize=16, markeredgewidth=2, zorder=6)
        panel.annotate(
            plain(mark.name), (mark.speed, mark.gap), xytext=(-10, -3), textcoords="offset points", ha="right",
            fontsize=7.5, color=INK,
        )  # fmt: skip
    mark_speeds([panel], {name: speed for name, speed in speeds.items() if speed > 0.0})
    panel.set_xlabel("speed  [rpm]")
    panel.set_ylabel("gap  [mm]")
    panel.set_xlim(0.0, None)
    legend(panel, loc="lower left")
    return figure
