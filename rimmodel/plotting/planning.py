"""A proving run as planned: expected gap with its band, the stop line below it, and where lift-off is expected."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.style import COLOURS, DASHES, FAINT, INK, legend, mark_speeds, panels, plain

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class PlannedGap:
    """Steps of a plan; expected gap, its bounds, the stop line and the hold line at each.

    Parameters
    ----------
    speed : array (step,), rpm
    gap, low, high, stop, hold : array (step,), mm
    """

    speed: ArrayLike
    gap: ArrayLike
    low: ArrayLike
    high: ArrayLike
    stop: ArrayLike
    hold: ArrayLike


def plan_chart(
    planned: PlannedGap, least_gap: float, lift_off: tuple[float, float, float], marks: dict[str, float]
) -> Figure:
    """Mean gap against speed for the steps of a plan.

    Parameters
    ----------
    least_gap : float, mm
        Allowed minimum of the mean gap.
    lift_off : triple of float, rpm
        Low, expected, high float speed.
    marks : dict of str to float, rpm
        Named speeds.

    Returns
    -------
    matplotlib Figure
    """
    figure, (panel,) = panels((1.0,), height=4.6)
    speed = np.asarray(planned.speed, dtype=float)
    panel.fill_between(
        speed, planned.low, planned.high, color=COLOURS[5], alpha=0.35, linewidth=0, label="95 % of such rotors"
    )
    panel.plot(speed, planned.gap, "-o", color=COLOURS[0], linewidth=1.6, markersize=4, label="expected mean gap")
    panel.step(
        speed,
        planned.stop,
        where="post",
        color=COLOURS[1],
        linewidth=1.8,
        linestyle=(0, (6, 2)),
        label="stop line: below it go no faster",
    )
    panel.plot(
        speed, planned.hold, color=COLOURS[2], linewidth=1.2, linestyle=(0, (1.5, 1.5)), label="hold line: find out why"
    )
    panel.axhline(least_gap, color=INK, linewidth=1.2)
    panel.annotate(
        f"least mean gap allowed: {least_gap:g} mm", (0.01, least_gap), (0, -3), ("axes fraction", "data"),
        "offset points", va="top", fontsize=8,
    )  # fmt: skip
    low, best, high = lift_off
    right = float(speed[-1])
    if low < right:
        panel.axvspan(max(low, 0.0), min(high, right), color=FAINT, alpha=0.15, linewidth=0, label="lift-off, 95 %")
    if 0 < best < right:
        panel.axvline(
            best, color=INK, linewidth=0.9, linestyle=(0, (2, 1.5)), label=f"lift-off expected {best:.0f} rpm"
        )
    mark_speeds([panel], {name: value for name, value in marks.items() if value <= right})
    panel.set_xlim(0.0, 1.02 * right)
    bottom, top = panel.get_ylim()
    panel.set_ylim(bottom - 0.08 * (top - bottom), top)
    panel.set_xlabel("speed  [rpm]")
    panel.set_ylabel("mean air gap  [mm]")
    legend(panel, loc="center left")
    return figure


@dataclass(frozen=True)
class Allowed:
    """Range of interference that one criterion allows; infinite ends are open, low above high is nowhere.

    Parameters
    ----------
    low, high : float, mm
    half_width : float, mm
        The tolerance at its confidence, taken off at each closed end.
    """

    name: str
    low: float
    high: float
    half_width: float


def window_chart(
    rows: Sequence[Allowed],
    window: tuple[float, float] | None,
    present: float,
    recommended: float | None,
    end: float,
) -> Figure:
    """One bar for each criterion from 0 to `end` (mm), the window as a band, present and recommended as lines.

    Parameters
    ----------
    rows : sequence of Allowed
        Top first.
    window : pair of float, mm, optional
        Sure edges; None where no window exists.
    present : float, mm
    recommended : float, mm, optional
    end : float, mm

    Returns
    -------
    matplotlib Figure
    """
    figure, (panel,) = panels((1.0,), height=1.4 + 0.36 * len(rows))
    for place, row in enumerate(rows):
        low, high = max(row.low, 0.0), min(row.high, end)
        if row.low > row.high:
            panel.annotate("not met anywhere", (0.01 * end, place), va="center", fontsize=8)
            continue
        sure_low = low + (row.half_width if np.isfinite(row.low) else 0.0)
        sure_high = high - (row.half_width if np.isfinite(row.high) and row.high <= end else 0.0)
        panel.barh(place, high - low, left=low, height=0.62, color="white", edgecolor=INK, linewidth=0.6, hatch="////")
        if sure_high > sure_low:
            panel.barh(
                place, sure_high - sure_low, left=sure_low, height=0.62, color=COLOURS[5], edgecolor=INK, linewidth=0.6
            )
        for edge, side in ((row.low, -1), (row.high, 1)):
            if 0 < edge < end:
                panel.annotate(
                    f"{edge:.2f}",
                    (edge, place),
                    (4 * side, 0),
                    textcoords="offset points",
                    ha="left" if side > 0 else "right",
                    va="center",
                    fontsize=7.5,
                    bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6, "alpha": 0.85},
                )
    if window is not None:
        low, high = max(window[0], 0.0), min(window[1], end)
        panel.axvspan(
            low,
            high,
            color=FAINT,
            alpha=0.22,
            linewidth=0,
            zorder=0,
            label="window with uncertainty deducted (hatched)",
        )
    panel.axvline(present, color=INK, linewidth=1.2, linestyle=(0, (2, 1.5)), label=f"present {present:.2f} mm")
    if recommended is not None:
        panel.axvline(recommended, color=COLOURS[1], linewidth=2.0, label=f"recommended {recommended:.2f} mm")
    panel.set_yticks(range(len(rows)), [plain(row.name) for row in rows])
    panel.set_ylim(len(rows) - 0.4, -0.6)
    panel.set_xlim(0.0, end)
    panel.set_xlabel("interference, radial, as assembled  [mm]")
    panel.grid(axis="y", visible=False)
    legend(figure, loc="outside upper center", ncols=3)
    return figure


@dataclass(frozen=True)
class Afloat:
    """Float speed in one condition and the times between which the rim floats; NaN where it does not.

    Parameters
    ----------
    float_speed : float, rpm
    lifts_at, seats_at : float, s
    """

    name: str
    float_speed: float
    lifts_at: float
    seats_at: float


def rejection_chart(time: ArrayLike, speed: ArrayLike, states: Sequence[Afloat], marks: dict[str, float]) -> Figure:
    """Speed against time with the float speed of each condition; the stretches afloat are drawn thick.

    Parameters
    ----------
    time : array (time,), s
    speed : array (time,), rpm
    marks : dict of str to float, rpm
        Named speeds.

    Returns
    -------
    matplotlib Figure
    """
    figure, (panel,) = panels((1.0,), height=3.8)
    moment, turning = np.asarray(time, dtype=float), np.asarray(speed, dtype=float)
    end, top = float(moment[-1]), float(turning.max())
    panel.plot(moment, turning, color=INK, linewidth=1.6, label="speed")
    for number, state in enumerate(states):
        colour, dash = COLOURS[number % len(COLOURS)], DASHES[number % len(DASHES)]
        name = plain(state.name)
        if not np.isfinite(state.float_speed) or state.float_speed > 1.25 * top:
            panel.plot([], [], color=colour, linestyle=dash, label=f"{name}: no float speed near")
            continue
        long = f"afloat {min(state.seats_at, end) - state.lifts_at:.1f} s" if np.isfinite(state.lifts_at) else "seated"
        long += " and on" if np.isfinite(state.lifts_at) and state.seats_at > end else ""
        panel.axhline(
            state.float_speed,
            color=colour,
            linestyle=dash,
            label=f"{name}: floats at {state.float_speed:.0f} rpm, {long}",
        )
        if np.isfinite(state.lifts_at):
            afloat = (moment >= state.lifts_at) & (moment <= state.seats_at)
            panel.plot(moment[afloat], turning[afloat], color=colour, linewidth=4.5 - number, alpha=0.55)
    low, high = (
        0.97 * float(turning.min()),
        1.04 * max([top, *(s.float_speed for s in states if s.float_speed < 1.25 * top)]),
    )
    for name, value in marks.items():
        if low <= value <= high:
            panel.annotate(
                f"{plain(name)} {value:.4g}", (1.0, value), xycoords=("axes fraction", "data"), ha="right", va="bottom",
                fontsize=7.5,
            )  # fmt: skip
            panel.axhline(value, color=INK, linewidth=0.6, linestyle=(0, (1, 2)))
    panel.set_ylim(low, high)
    panel.set_xlim(0.0, end)
    panel.set_xlabel("time after the loss of load  [s]")
    panel.set_ylabel("speed  [rpm]")
    legend(panel, loc="best")
    return figure


WIDEST_USE = 2.0
"""Bars end here; what is used more is printed in figures."""


def limits_chart(names: Sequence[str], use: Sequence[float], binding: Sequence[bool]) -> Figure:
    """Use of each limit (1 is all of it), top first; those for information are drawn hollow.

    Parameters
    ----------
    use : sequence of float, -
        Value over limit for a ceiling, limit over value for a floor.

    Returns
    -------
    matplotlib Figure
    """
    figure, (panel,) = panels((1.0,), height=1.3 + 0.24 * len(names))
    for place, (share, decides) in enumerate(zip(use, binding, strict=True)):
        broken = share > 1
        panel.barh(
            place,
            min(share, WIDEST_USE),
            height=0.62,
            color=("white" if not decides else COLOURS[1] if broken else COLOURS[5]),
            edgecolor=INK,
            linewidth=0.6,
            hatch="////" if broken else None,
        )
        panel.annotate(
            f"{share:.2f}",
            (min(share, WIDEST_USE), place),
            (4, 0),
            textcoords="offset points",
            va="center",
            fontsize=7.5,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.4, "alpha": 0.85},
        )
    panel.axvline(1.0, color=INK, linewidth=1.4)
    panel.set_yticks(range(len(names)), [plain(name) for name in names])
    panel.set_ylim(len(names) - 0.4, -0.6)
    panel.set_xlim(0.0, max(1.15, min(1.12 * max(use, default=1.0), 1.1 * WIDEST_USE)))
    panel.set_xlabel("share of the limit used  [-]\n(hatched: exceeds; hollow: for information)")
    panel.grid(axis="y", visible=False)
    return figure
