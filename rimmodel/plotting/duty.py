"""A history against time, and how fast a machine may be started again after it has stood."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.style import COLOURS, DASHES, FAINT, INK, legend, panels, plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Band:
    """A line against time with what is possible around it.

    Parameters
    ----------
    middle, low, high : array (time,), unit of the axis
    """

    name: str
    middle: ArrayLike
    low: ArrayLike
    high: ArrayLike


@dataclass(frozen=True)
class Stretch:
    """A segment of a history.

    Parameters
    ----------
    start : float, h
    """

    name: str
    start: float


def duty_chart(
    time: ArrayLike,
    speed: ArrayLike,
    float_speed: Band,
    temperatures: Sequence[Band],
    interference: Band,
    stretches: Sequence[Stretch],
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
        _draw(warm, moment, band, number)
    warm.set_ylabel("mean temperature  [degC]")
    legend(warm, loc="best")
    fast.plot(moment, speed, color=INK, linewidth=1.3, label="speed")
    _draw(fast, moment, float_speed, 1)
    fast.set_ylabel("speed  [rpm]")
    fast.set_ylim(bottom=0.0)
    legend(fast, loc="best")
    _draw(tight, moment, interference, 0)
    tight.axhline(0.0, color=INK, linewidth=0.9, linestyle=(0, (4, 2)))
    tight.set_ylabel("interference left  [mm]")
    tight.set_xlabel("time  [h]")
    legend(tight, loc="best")
    tight.set_xlim(moment[0], moment[-1])
    _mark([warm, fast, tight], stretches, float(moment[-1]))
    return figure


def _draw(panel: Axes, moment: ArrayLike, band: Band, number: int) -> None:
    """A line with its band; bands differ by the line that they lie around."""
    colour, dash = COLOURS[number % len(COLOURS)], DASHES[number % len(DASHES)]
    low, high = np.asarray(band.low, dtype=float), np.asarray(band.high, dtype=float)
    panel.fill_between(np.asarray(moment), low, high, color=colour, alpha=0.22, linewidth=0)
    panel.plot(moment, band.middle, color=colour, linestyle=dash, linewidth=1.5, label=plain(band.name))


def _mark(axes: list[Axes], stretches: Sequence[Stretch], end: float) -> None:
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


def restart_chart(
    time: ArrayLike, low: ArrayLike, high: ArrayLike, marks: dict[str, float], ratio: float, shown_until: float
) -> Figure:
    """Speed to which a machine may be started again against the time that it has stood.

    Parameters
    ----------
    time : array (rest,), h
    low, high : array (rest,), rpm
        Lowest float speed of the restart over the ratio that is asked for: over all that is possible.
    marks : dict of str to float, rpm
        Named speeds.
    ratio : float, -
    shown_until : float, h

    Returns
    -------
    matplotlib Figure
    """
    figure, (panel,) = panels((1.0,), height=4.0)
    stood, lower, upper = (np.asarray(values, dtype=float) for values in (time, low, high))
    inside = stood <= shown_until
    panel.fill_between(
        stood[inside], lower[inside], upper[inside], facecolor="none", edgecolor=FAINT, hatch="////", linewidth=0,
        label="not shown",
    )  # fmt: skip
    over = f"float speed / {ratio:g}" if ratio != 1 else "float speed"
    panel.plot(
        stood[inside],
        upper[inside],
        color=COLOURS[1],
        linestyle=DASHES[1],
        label=f"highest possible {over}: does not hold above",
    )
    panel.plot(
        stood[inside],
        lower[inside],
        color=COLOURS[0],
        linewidth=1.6,
        label=f"lowest possible {over}: holds below",
    )
    base, top = 0.8 * float(np.nanmin(lower[inside])), 1.12 * float(np.nanmax(upper[inside]))
    for name, value in marks.items():
        if value < top:
            base = min(base, 0.9 * value)
            panel.axhline(value, color=INK, linewidth=0.8, linestyle=(0, (1, 2)))
            panel.annotate(
                f"{plain(name)} {value:.4g}", (1.0, value), xycoords=("axes fraction", "data"), ha="right", va="bottom",
                fontsize=7.5,
            )  # fmt: skip
    panel.set_ylim(base, top)
    panel.set_xlim(0.0, float(stood[inside][-1]))
    panel.set_xlabel("time at standstill before the restart  [h]")
    panel.set_ylabel("speed of the restart  [rpm]")
    legend(panel, loc="lower right")
    return figure
