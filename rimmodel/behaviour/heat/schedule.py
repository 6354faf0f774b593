"""A history as steps: stretches in which heat transfer and losses stay, and the times at which one looks.

A ramp is cut into steps of at most `LONGEST_RAMP`; in each the heat transfer is its mean over time, so that the heat
exchanged is right to second order in the step, and the speed at every time that is looked at is exact.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.contact.load_rejection import rejection_speed
from rimmodel.rotor.allowances import LoadRejection
from rimmodel.rotor.history import History, Segment
from rimmodel.rotor.thermal import Thermal

LONGEST_RAMP = 300.0
"""Seconds of one step of a ramp."""

POINTS, RAMP_POINTS = 32, 9
"""Times looked at in a segment of constant speed, and in a step of a ramp."""

_GAUSS = np.polynomial.legendre.leggauss(6)


@dataclass(frozen=True)
class Step:
    """A stretch of a history.

    Attributes
    ----------
    segment : int
        Which one, from 0.
    start, duration : float, s
    speeds : array (sample,), rad/s
        Speeds over which the heat transfer is averaged, with `weights`.
    weights : array (sample,), -
    load : float, -
    air : float, K
    braking : float, W
        Heat of the brakes, before the share that stays in the rotor.
    time : array (time,), s
        From the start of the step; the last is its end.
    speed : array (time,), rad/s
    """

    segment: int
    start: float
    duration: float
    speeds: Floats
    weights: Floats
    load: float
    excited: bool
    air: float
    braking: float
    time: Floats
    speed: Floats


def schedule(
    history: History,
    thermal: Thermal,
    rated: float,
    rejection: LoadRejection | None = None,
    inertia: float | None = None,
    longest_ramp: float = LONGEST_RAMP,
    looked_at: Sequence[float] = (),
) -> tuple[Step, ...]:
    """The steps of a history; speeds in a rejection by the equation of turning masses.

    After a rejection the governor brings the unit back to the speed at which it lost its load and holds it there; with
    a speed of its own the unit runs away to it, as the torque falls evenly with speed: an exponential approach.
    Source: equation of rotating masses.

    Parameters
    ----------
    rated : float, rad/s
    rejection : LoadRejection, optional
        Needed for a rejection.
    inertia : float, kg m2, optional
        Of the turning masses; needed for a brake where `rejection` is absent.
    longest_ramp : float, s
    looked_at : sequence of float, s
        Moments of the history that must be among the times.

    Returns
    -------
    tuple of Step

    Raises
    ------
    ValueError
        A rejection without turning masses.
    """
    steps: list[Step] = []
    clock, before = 0.0, 0.0
    turning = inertia if rejection is None else float(np.asarray(rejection.inertia))
    for number, segment in enumerate(history.segments):
        duration = float(segment.duration)
        speed_at, stops = _course(segment, before, rejection)
        air = float(thermal.air if segment.air is None else segment.air)
        for begin, end, even in _pieces(stops, duration, longest_ramp):
            braking = 0.0
            if segment.kind == "brake" and turning is not None:
                first, last = (float(speed_at(floats(moment))) for moment in (begin, end))
                braking = turning * (first**2 - last**2) / 2 / (end - begin)
            at = _with_moments(_times(end - begin, even), [moment - clock - begin for moment in looked_at])
            points = floats([0.5]) if even else (_GAUSS[0] + 1) / 2
            weights = floats([1.0]) if even else _GAUSS[1] / 2
            steps.append(
                Step(
                    number, clock + begin, end - begin, floats(speed_at(begin + points * (end - begin))), weights,
                    float(segment.load), segment.excited, air, braking, at, floats(speed_at(begin + at)),
                )
            )  # fmt: skip
        before, clock = float(speed_at(floats(duration))), clock + duration
    return tuple(steps)


def _course(
    segment: Segment, before: float, rejection: LoadRejection | None
) -> tuple[Callable[[Floats], Floats], tuple[float, ...]]:
    """Speed against time in a segment, and the times at which a new step must begin; the last piece may be even."""
    duration = float(segment.duration)
    if segment.kind == "rejection":
        if rejection is None:
            raise ValueError("a rejection needs [load_rejection]: turning masses and torque")
        return _rejected(segment, before, rejection)
    after = before if segment.speed is None else float(segment.speed)
    if segment.kind in ("load", "rest"):
        return lambda time: np.full(np.shape(time), after), (0.0,)
    return lambda time: before + (after - before) * time / duration, (0.0, duration)


def _rejected(
    segment: Segment, before: float, rejection: LoadRejection
) -> tuple[Callable[[Floats], Floats], tuple[float, ...]]:
    duration, decay = float(segment.duration), float(np.asarray(rejection.decay_time))
    if segment.speed is not None:
        excess = float(segment.speed) - before
        constant = float(np.asarray(rejection.inertia)) * excess / float(np.asarray(rejection.torque))
        near = {0.0, min(constant, duration), min(3 * constant, duration), duration}
        return lambda time: before + excess * -np.expm1(-time / constant), tuple(sorted(near))
    peak = float(rejection_speed(before, rejection, decay))
    braking = float(np.asarray(rejection.braking_torque))
    back = decay + (peak - before) * float(np.asarray(rejection.inertia)) / braking if braking > 0 else decay
    stops: tuple[float, ...] = tuple(sorted({0.0, *(stop for stop in (decay, back) if stop < duration)}))
    if duration <= decay or (braking > 0 and back >= duration):
        stops = (*stops, duration)
    return lambda time: np.maximum(rejection_speed(before, rejection, time), before), stops


def _pieces(stops: tuple[float, ...], duration: float, longest: float) -> list[tuple[float, float, bool]]:
    """Begin and end of the steps; what lies behind the last stop has an even speed."""
    pieces = []
    for begin, end in pairwise(stops):
        count = max(2, int(np.ceil((end - begin) / longest)))
        edges = np.linspace(begin, end, count + 1)
        pieces += [(float(s), float(e), False) for s, e in pairwise(edges)]
    if stops[-1] < duration:
        pieces.append((stops[-1], duration, True))
    return pieces


def _with_moments(time: Floats, moments: Sequence[float]) -> Floats:
    """The times with those moments between them that are not among them already, to a millisecond."""
    new = [moment for moment in moments if 0 < moment < time[-1] and np.abs(time - moment).min() > 1e-3]
    return np.union1d(time, new) if new else time


def _times(duration: float, even: bool) -> Floats:
    """Times at which one looks: evenly in a ramp, and the denser the nearer to its start where the speed stays."""
    if not even:
        return np.linspace(0.0, duration, RAMP_POINTS)
    return np.append(0.0, np.geomspace(min(30.0, duration / 50), duration, POINTS - 1))
