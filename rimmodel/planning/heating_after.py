"""After the power is off: keys go in one after the other, the clearance shrinks, the keys hold, the rim cools."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats, Mask, floats
from rimmodel.behaviour.heat.heated_rim import HeatedRim
from rimmodel.planning.heating_course import HeatingCourse

WATCHED = np.concatenate([np.arange(0.0, 24.0, 0.1), np.arange(24.0, 240.5, 0.5)]) * 3600.0
"""Moments after power off that are looked at, s."""

COOLED = 2.0
"""Kelvin of rim over spider below which the fit is measured as cold; common practice, no source."""


@dataclass(frozen=True)
class KeyTime:
    """One key of the work.

    Attributes
    ----------
    key : int
        From 1.
    begin, end : float, s
        After power off.
    interference : float, m
    expected, least : float, m
        Clearance when it is in: in the middle of all ranges, and the least that is possible with all allowances taken
        off; NaN where a possible machine does not reach the growth.
    wanted : float, m
    """

    key: int
    begin: float
    end: float
    interference: float
    expected: float
    least: float
    wanted: float


@dataclass(frozen=True)
class Cooling:
    """After power off, over all possible machines: middle, lowest, highest.

    Attributes
    ----------
    work_may_take : array (3,), s
        All keys together, in their order and each as long as the others, so that none is short.
    first_seats, last_seats : array (3, 3), SI
        Time (s) after power off, mean temperatures (K) of rim and spider when the first and the last key holds.
    cooled : array (3,), s
        When rim and spider are within `within`.
    within : float, K
    rate : float, K/s
        Fastest change of the mean rim temperature until the last key holds.
    spread : float, K
        Largest through the depth until then.
    """

    work_may_take: Floats
    first_seats: Floats
    last_seats: Floats
    cooled: Floats
    within: float
    rate: float
    spread: float


@dataclass(frozen=True)
class Work:
    """The keys in the order in which they go in.

    Attributes
    ----------
    order : tuple of int
        Keys from 0.
    interference : array (place,), m
    end : array (place,), s
        After power off.
    time_per_key : float, s
    allowed_for : float, m
        Taken off beside the interference, without the clearance that is wanted.
    wanted : float, m
        Clearance.
    """

    order: Sequence[int]
    interference: Floats
    end: Floats
    time_per_key: float
    allowed_for: float
    wanted: float

    @property
    def needed(self) -> Floats:
        """Growth (place,) that each key needs until it is in, m."""
        return floats(self.interference + self.allowed_for + self.wanted)


def short_of(model: HeatedRim, course: HeatingCourse, work: Work) -> Floats:
    """Growth that is short of what a key needs when it is in; negative where there is more.

    Returns
    -------
    array (draw, place), m
    """
    return floats(work.needed - model.growth(model.cooled(course.at_off, work.end)))


def key_times(model: HeatedRim, course: HeatingCourse, kept: Mask, work: Work) -> tuple[KeyTime, ...]:
    """Every key in its order, with its time and the clearance that it has when it is in.

    Parameters
    ----------
    kept : bool array (draw,)
        Machines that reach the growth.

    Returns
    -------
    tuple of KeyTime
    """
    grown = model.growth(model.cooled(course.at_off, work.end))
    nothing = np.full(len(work.order), np.nan)
    middle = grown[0] if kept[0] else nothing
    lowest = grown[kept].min(axis=0) if kept.any() else nothing
    return tuple(
        KeyTime(
            key + 1,
            float(end) - work.time_per_key,
            float(end),
            float(own),
            float(expected - own),
            float(least - own - work.allowed_for),
            work.wanted,
        )
        for key, end, own, expected, least in zip(work.order, work.end, work.interference, middle, lowest, strict=True)
    )


def cooling(model: HeatedRim, course: HeatingCourse, kept: Mask, work: Work) -> Cooling:
    """What happens after power off in the machines that reach the growth.

    Parameters
    ----------
    kept : bool array (draw,)

    Returns
    -------
    Cooling
    """
    states = model.cooled(course.at_off, WATCHED)
    growth = model.growth(states)
    rim, spider = model.mean(states), model.spider(states)

    def spanned(values: Floats) -> Floats:
        """Middle, lowest and highest over the machines that count."""
        chosen = values[kept]
        middle = values[0] if kept[0] else np.full(values.shape[1:], np.nan)
        return np.stack([middle, chosen.min(axis=0), chosen.max(axis=0)])

    def seats(level: float) -> Floats:
        time = _falls_below(growth, level)
        at = [
            np.array([np.interp(t, WATCHED, row) for t, row in zip(time, rows, strict=True)]) for rows in (rim, spider)
        ]
        return np.stack([spanned(time), *(spanned(values) for values in at)], axis=1)

    last = _falls_below(growth, float(work.interference.min()))
    loose = np.nanmax(np.append(last[kept], 0.0)) >= WATCHED
    parts = [_falls_below(growth, float(need)) / float(end) for need, end in zip(work.needed, work.end, strict=True)]
    return Cooling(
        spanned(np.min(parts, axis=0) * float(work.end.max())),
        seats(float(work.interference.max())),
        seats(float(work.interference.min())),
        spanned(last + _cold_after(model, states, last)),
        COOLED,
        float(np.abs(np.diff(rim[kept][:, loose]) / np.diff(WATCHED[loose])).max(initial=0.0)),
        float(model.spread(states[kept][:, loose]).max()),
    )


def _cold_after(model: HeatedRim, states: Floats, seated: Floats) -> Floats:
    """Time (draw,) from the moment at which all keys hold until rim and spider agree; NaN where not watched so long."""
    place = np.searchsorted(WATCHED, np.nan_to_num(seated))
    now = states[np.arange(len(place)), np.minimum(place, len(WATCHED) - 1)]
    after = model.seated.after(now, model.opened_air, WATCHED)
    return _falls_below(model.mean(after) - model.spider(after), COOLED)


def _falls_below(values: Floats, level: float) -> Floats:
    """When (draw,) a course of values (draw, moment) is below a level for the first time; NaN where it never is."""
    below = values < level
    place = np.argmax(below, axis=1)
    rows = np.arange(len(values))
    before = np.maximum(place - 1, 0)
    upper, lower = values[rows, before], values[rows, place]
    with np.errstate(divide="ignore", invalid="ignore"):
        part = np.where(place > 0, (upper - level) / (upper - lower), 0.0)
    time = WATCHED[before] + part * (WATCHED[place] - WATCHED[before])
    return floats(np.where(below.any(axis=1), time, np.nan))
