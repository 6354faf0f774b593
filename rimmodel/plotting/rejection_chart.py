"""A load rejection against time: speed, and the stretches in which the rim floats."""

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
class Span:
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


def draw(time: ArrayLike, speed: ArrayLike, states: Sequence[Span], marks: dict[str, float]) -> Figure:
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
