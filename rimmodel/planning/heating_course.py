"""The rim warms to the growth that is asked for, step by step as a controller on site would have it, then cools.

In every step the power is the largest that keeps all limits to its end: what is connected, the rate, the spread
through the depth, the highest temperature, and the growth that is asked for. Each possible machine has its own course.
Temperatures within a step are exact (`rimmodel.elastic.heat_steps`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats, Mask, Places, floats
from rimmodel.behaviour.heat.heated_rim import HeatedRim

STEP = 600.0
"""Seconds for which a power is held."""

GOVERNS = ("heater power", "rate", "spread through the depth", "highest temperature", "growth to reach")
"""What can set the power of a step."""

WATCH, FALLEN = 6, 1e-7
"""Steps over which a growth that falls by so much, m, under full power or at the highest temperature is given up."""

MET = 1e-9
"""Metres by which a growth may miss what is asked for: rounding."""


@dataclass(frozen=True)
class Bounds:
    """What the power of a step keeps to.

    Parameters
    ----------
    growth : float, m
        Asked for.
    power : float, W
        Of all heaters; infinite where only the other limits count.
    rate : float, K/s
    spread : float, K
        Through the depth.
    highest : float, K
        At any station.
    mean : float, K
        Of the rim.
    hold, longest : float, s
    """

    growth: float
    power: float
    rate: float
    spread: float
    highest: float
    mean: float
    hold: float
    longest: float


@dataclass(frozen=True)
class HeatingCourse:
    """Every possible machine from power on to power off.

    Attributes
    ----------
    time : array (moment,), s
        Ends of steps; the first is the start.
    state : array (draw, moment, coordinate), SI
        Stays as it is once the power is off.
    power : array (draw, step), W
        Of the heaters.
    governs : int array (draw, step)
        Place in `GOVERNS`; -1 once the power is off.
    reached : bool array (draw,)
        Whether the growth was reached and held within the longest time.
    at_growth, off : int array (draw,)
        Moments at which it was reached, and at which the power went off or it was given up; the last of all where it
        was not.
    """

    time: Floats
    state: Floats
    power: Floats
    governs: Places
    reached: Mask
    at_growth: Places
    off: Places

    def set_by(self, moment: int) -> str:
        """What set the power that led to a moment, every range at its middle; empty at the start."""
        place = int(self.governs[0, moment - 1]) if moment > 0 else -1
        return GOVERNS[place] if place >= 0 else ""

    @property
    def at_off(self) -> Floats:
        """State (draw, coordinate), SI, when the power goes off."""
        return floats(self.state[np.arange(len(self.off)), self.off])


def heat_up(model: HeatedRim, start: float, bounds: Bounds, step: float = STEP) -> HeatingCourse:
    """Heat every possible machine from an even temperature until the growth is reached and held, or given up.

    It is given up where the growth falls under full power, or at the highest temperature: the rim gets no hotter, and
    the spider warms on.

    Parameters
    ----------
    start : float, K
    step : float, s

    Returns
    -------
    HeatingCourse
    """
    now = model.even(start)
    alone = model.covered.after(0 * now, np.tile(model.heater, (model.draws, 1)), [step])[:, 0]  # by 1 W
    share = model.values["heater_share"]
    wanted = max(1, int(np.ceil(bounds.hold / step)))
    held, draws = np.zeros(model.draws, dtype=int), np.arange(model.draws)
    on, reached = np.ones(model.draws, dtype=bool), np.zeros(model.draws, dtype=bool)
    never = int(np.ceil(bounds.longest / step))
    first, off = np.full(model.draws, never), np.full(model.draws, never)
    states, powers, governs = [now], [], []
    for moment in range(1, never + 1):
        base = model.covered.after(now, model.covered_air, [step])[:, 0]
        most = _most(model, now, base, alone, bounds, step)
        which = np.argmin(most, axis=0)
        power = np.maximum(most[which, draws], 0.0)
        now = np.where(on[:, np.newaxis], base + power[:, np.newaxis] * alone, now)
        grown = model.growth(now)
        there = grown >= bounds.growth - MET
        first = np.where(on & there & (first == never), moment, first)
        held = np.where(there, held + 1, 0)
        states.append(now)
        powers.append(np.where(on, power / share, 0.0))
        governs.append(np.where(on, which, -1))
        done = on & (held > wanted)
        reached |= done
        if moment >= WATCH:
            stuck = np.isin(governs[-WATCH:], (0, 3)).all(axis=0)
            done |= on & ~there & stuck & (grown < model.growth(states[-1 - WATCH]) - FALLEN)
        off[done] = moment
        on &= ~done
        if not on.any():
            break
    last = len(states) - 1
    return HeatingCourse(
        floats(step * np.arange(last + 1)),
        np.stack(states, axis=1),
        np.stack(powers, axis=1),
        np.stack(governs, axis=1),
        reached,
        np.minimum(first, last),
        np.minimum(off, last),
    )


def _most(model: HeatedRim, now: Floats, base: Floats, alone: Floats, bounds: Bounds, step: float) -> Floats:
    """Most power into the rim (limit, draw), W, with which each limit is kept at the end of the step."""
    through, by_watt = base @ model.stations.T, alone @ model.stations.T
    mean, mean_by_watt = base @ model.rim_mean, alone @ model.rim_mean
    rim, spider = model.growth_per_kelvin
    grown_by_watt = rim * mean_by_watt - spider * (alone @ model.spider_mean)
    apart = through[:, :, np.newaxis] - through[:, np.newaxis, :]
    apart_by_watt = by_watt[:, :, np.newaxis] - by_watt[:, np.newaxis, :]
    with np.errstate(divide="ignore", invalid="ignore"):
        spread = np.where(apart_by_watt > 1e-12, (bounds.spread - apart) / apart_by_watt, np.inf).min(axis=(1, 2))
        hottest = ((bounds.highest - through) / by_watt).min(axis=1)
    return np.stack(
        [
            bounds.power * model.values["heater_share"],
            (model.mean(now) + bounds.rate * step - mean) / mean_by_watt,
            spread,
            np.minimum(hottest, (bounds.mean - mean) / mean_by_watt),
            (bounds.growth - model.growth(base)) / grown_by_watt,
        ]
    )
