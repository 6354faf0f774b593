"""What happens in a history: the rim floats and seats, margins are least, stresses are highest."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.heat.fit_course import FitCourse


@dataclass(frozen=True)
class Event:
    """Something that happens; times are those of the first draw where it happens there, the range is that of all.

    Attributes
    ----------
    kind : str
        "floats", "may float", "seats", "closes", "least float speed over running speed", "least gap", "peak key force",
        "peak spider stress", "peak rim stress", "peak thermal stress of the rim".
    time : float, s
        From the start of the history.
    segment : int
        In which it happens, from 0.
    value, low, high : float, SI
        Speed of lifting and seating in rad/s, else the quantity; the range over all draws (NaN where it does not
        happen in all of them).
    share : float, -
        Of the draws in which it happens.
    """

    kind: str
    time: float
    segment: int
    value: float
    low: float
    high: float
    share: float


def crossings(value: Floats) -> NDArray[np.intp]:
    """Places after which a value changes sign: it is zero or above on one side and below on the other, by definition.

    Parameters
    ----------
    value : array (time,), unit of value

    Returns
    -------
    int array

    >>> crossings(np.array([1.0, 0.5, -0.5, -1.0, 2.0])).tolist()
    [1, 3]
    """
    up = value >= 0
    return np.flatnonzero(up[1:] != up[:-1])


def events(course: FitCourse) -> tuple[Event, ...]:
    """The events of a history in order of time; by definition of the fields of `FitCourse`.

    Lifting and seating are found between two times by a straight line in the interference that is left, at steps of
    a ramp or of the loss of load; the other events are the extremes over all times.

    Returns
    -------
    tuple of Event
    """
    found = [*_lifts(course), *_may_float(course)]
    rows = (
        ("least float speed over running speed", course.float_speed_ratio, np.argmin),
        ("least gap", course.air_gap, np.argmin),
        ("peak key force", course.key_force, np.argmax),
        ("peak spider stress", course.spider_stress, np.argmax),
        ("peak rim stress", course.rim_bore_hoop_stress, np.argmax),
        ("peak thermal stress of the rim", course.rim_thermal_stress, np.argmax),
    )
    for kind, values, pick in rows:
        if not np.isfinite(values[0]).any():
            continue
        known = np.where(np.isnan(values), np.inf if pick is np.argmin else -np.inf, values)
        place = int(pick(known[0]))
        best = known.min(axis=1) if pick is np.argmin else known.max(axis=1)
        found.append(
            Event(
                kind, float(course.heat.time[place]), int(course.heat.segment[place]), float(best[0]),
                float(best.min()), float(best.max()), 1.0,
            )
        )  # fmt: skip
    return tuple(sorted(found, key=lambda event: event.time))


def _lifts(course: FitCourse) -> list[Event]:
    left, time, speed = course.residual_interference, course.heat.time, course.heat.speed
    found = []
    shut = np.isnan(course.air_gap)
    if shut[0].any():
        place = int(np.argmax(shut[0]))
        where, turning = int(course.heat.segment[place]), float(speed[place])
        found.append(
            Event("closes", float(time[place]), where, turning, np.nan, np.nan, float(shut.any(axis=1).mean()))
        )
    for place in crossings(left[0]):
        first, last = left[0, place], left[0, place + 1]
        if not np.isfinite([first, last]).all():
            continue
        part = first / (first - last)
        at = float(time[place] + part * (time[place + 1] - time[place]))
        turning = float(speed[place] + part * (speed[place + 1] - speed[place]))
        segment = int(course.heat.segment[place + 1])
        inside = course.heat.segment == segment
        inside[max(int(np.argmax(inside)) - 1, 0)] = True  # it may happen between the segment before and this segment
        alike = [_first_crossing(row[inside], speed[inside], rising=last > first) for row in left]
        speeds = floats([one for one in alike if np.isfinite(one)])
        some = len(speeds) > 0
        low, high = (float(speeds.min()), float(speeds.max())) if some else (np.nan, np.nan)
        found.append(
            Event("seats" if last > first else "floats", at, segment, turning, low, high, len(speeds) / len(left))
        )
    return found


def _may_float(course: FitCourse) -> list[Event]:
    """Segments in which the rim floats in other draws than the first: the first moment at which it does in any."""
    found = []
    loose = course.residual_interference < 0
    for segment in range(int(course.heat.segment[-1]) + 1):
        inside = course.heat.segment == segment
        some = loose[:, inside].any(axis=1)
        if loose[0, inside].any() or not some.any():
            continue
        place = int(np.flatnonzero(inside)[np.argmax(loose[:, inside].any(axis=0))])
        time, speed = float(course.heat.time[place]), float(course.heat.speed[place])
        found.append(Event("may float", time, segment, speed, np.nan, np.nan, float(some.mean())))
    return found


def _first_crossing(left: Floats, speed: Floats, *, rising: bool) -> float:
    """Speed at which the interference first changes sign in a segment, in the sense that is asked for; NaN if never."""
    for place in crossings(left):
        if (left[place + 1] > left[place]) == rising:
            part = left[place] / (left[place] - left[place + 1])
            return float(speed[place] + part * (speed[place + 1] - speed[place]))
    return np.nan


def afloat(course: FitCourse) -> Floats:
    """Time for which the rim floats in each draw: the interference that is left is a straight line between the times.

    By definition of the fields of `FitCourse`.

    Returns
    -------
    array (draw,), s

    The rim of the example, as strong as its fit is, never floats while it stands:

    >>> import rimmodel as rm
    >>> from rimmodel.behaviour.heat.run import run_history
    >>> from rimmodel.rotor.history import History, Segment
    >>> case = rm.example_case()
    >>> rest = History("rest", (Segment("rest", 3600.0, 0.0),), "cold")
    >>> float(afloat(run_history(case, rest, 40).course).max())
    0.0
    """
    return time_below(course.residual_interference, course.heat.time)


def time_below(left: Floats, time: Floats) -> Floats:
    """Time for which a quantity lies below zero, straight between its values; derived here.

    Parameters
    ----------
    left : array (draw, time), m
    time : array (time,), s

    Returns
    -------
    array (draw,), s

    From 1 to -1 in 10 s and back to -0.5 in 4 s it lies below zero for 5 s and 4 s:

    >>> time_below(np.array([[1.0, -1.0, -0.5]]), np.array([0.0, 10.0, 14.0])).tolist()
    [9.0]
    """
    first, last = left[:, :-1], left[:, 1:]
    with np.errstate(divide="ignore", invalid="ignore"):
        part = np.where(first != last, first / (first - last), 0.0)
    share = np.where((first < 0) & (last < 0), 1.0, np.where(first < 0, part, np.where(last < 0, 1.0 - part, 0.0)))
    return floats(np.sum(share * np.diff(time), axis=1))
