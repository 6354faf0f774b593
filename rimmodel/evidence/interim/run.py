"""A run in progress from its speed points: what each reading is, and whatever speaks against the whole of them.

The rules are those of a fit: readings whose errors are not known count from the same number on, recorded temperatures
move the gaps of the same rotor, and the same growth, temperatures and contradictions keep a run from showing anything.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.backfit.fitter import Freedom
from rimmodel.evidence.backfit.recorded_heat import LEAST_DEPARTURE, heat_departures, without_heat
from rimmodel.evidence.interim.course import Schedule, course
from rimmodel.evidence.interim.look import Look, looks
from rimmodel.evidence.knee.fit import scatter_unknown
from rimmodel.evidence.knee.of_points import moments
from rimmodel.evidence.knee.points import FEWEST_BY_SCATTER
from rimmodel.evidence.measured.growth import growth_doubts
from rimmodel.evidence.measured.neighbours import case_freedom
from rimmodel.evidence.reduction.speed_points import SpeedPoints
from rimmodel.evidence.reduction.temperatures import BODIES, points_without, temperature_doubts
from rimmodel.rotor import Condition
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.requirements import CaseRecord
from rimmodel.units import rpm

CONTRADICTION = (
    "no lift-off agrees with all readings: the rotor of the case, or the readings, are not what they are taken for; "
    "nothing is shown until this is explained"
)

DOUBTED = 0.05
"""Probability of the recorded temperatures below which they are remarked as doubtful."""

HEAT_COUNTED = (
    "recorded temperatures ({ends} against the condition) are part of this look: the mean of each body is taken to "
    "move with them to {gain:g} % (temperature_gain of the record); the lift-off is that in the temperatures of the "
    "condition"
)

HEAT_DOUBTED = (
    "these gaps are explained better by any other usual warming than by the recorded temperatures ({ends} against the "
    "condition): this look goes by that instead, so its interval is wider. Thermometers that scatter do that, or a "
    "wrong thermometer, column or condition; check them"
)

HEAT_LEFT_OUT = (
    "recorded temperatures ({bodies}) are not part of this look{why}: it allows for any usual warming in the time of "
    "the run instead, so its interval is wider, never narrower"
)

AXES_LEFT_OUT = (
    "read off a chart: what the axes of the chart may be off by is not in this interval; fit without --so-far counts it"
)

NEGLIGIBLE = 1e-3
"""Share by which the reading of a speed may exceed the agreed speed without a remark: rounding."""


@dataclass(frozen=True)
class RunSoFar:
    """The readings of a run in their order, and what they show.

    Attributes
    ----------
    schedule : Schedule
        With recorded temperatures where the gaps rather move with them than not.
    gap : array (reading,), m
    highest : float, rad/s
        Of the run as agreed, or the fastest reading where that is faster.
    freedom : Freedom
        What is known beforehand.
    look : Look
        After each reading.
    against : tuple of str
        What keeps the readings from showing anything.
    open : tuple of str
        Why nothing is bounded yet, with nothing against the readings.
    remarks : tuple of str
        What else the reader must know.
    doubted : bool
        Whether one of these, or of the points, speaks against readings, temperatures or speeds.
    """

    schedule: Schedule
    gap: Floats
    highest: float
    freedom: Freedom
    look: Look
    against: tuple[str, ...]
    open: tuple[str, ...]
    remarks: tuple[str, ...]
    doubted: bool


def run_so_far(case: Case, record: CaseRecord, points: SpeedPoints, source: str, confidence: float) -> RunSoFar:
    """Look at the speed points of a run in the order in which they were taken.

    Parameters
    ----------
    record : CaseRecord
        Of the run: its condition, and how far bodies move with recorded temperatures.
    source : str
        For messages.
    confidence : float, -
        For all looks together.

    Raises
    ------
    RecordingError
        The gap rises with speed, or falls by several times more or less than it can.
    """
    condition, freedom = case.condition(record.condition)[1], case_freedom(case, record)
    order = np.argsort(moments(points), kind="stable")
    departures = heat_departures(points, condition)
    bare = Schedule(points.speed[order], points.direction[order], points.time[order], points.standard_error[order])
    heated = replace(bare, departures={body: kelvin[order] for body, kelvin in departures.items()})
    gap = points.gap[order]
    highest = max(agreed_speed(case)[0], float(points.speed.max()))
    first = 1 if not scatter_unknown(0, points.standard_error) else FEWEST_BY_SCATTER
    foretold = partial(course, case.rotor, condition, highest=highest, freedom=freedom)
    look = looks(foretold(bare), gap, confidence, first, foretold(heated) if departures else None)
    against = growth_doubts(case.rotor, condition, without_heat(case.rotor, condition, points), source)
    doubts = temperature_doubts(case.rotor, condition, points_without(points, departures))
    too_fast = _too_fast(case, points)
    heat_doubted = bool(departures) and look.trusted < DOUBTED
    return RunSoFar(
        heated if look.trusted > 0.5 else bare,
        gap,
        highest,
        freedom,
        look,
        (*([CONTRADICTION] if np.isnan(look.low[-1]) else []), *against, *doubts.disqualified, *points.disqualified),
        tuple(scatter_unknown(len(gap), points.standard_error)),
        (
            *too_fast,
            *_of_heat(points, condition, departures, freedom, look.trusted),
            *doubts.remarks,
            *_of_axes(points),
        ),
        bool(too_fast or doubts.remarks or points.remarks or heat_doubted),
    )


def agreed_speed(case: Case) -> tuple[float, str]:
    """The highest speed of a run and its name: as agreed in the plan of the case, else its overspeed.

    Returns
    -------
    speed : float, rad/s
    name : str
    """
    agreed = case.plan.highest_speed
    if agreed is None:
        return float(case.rotor.speeds.overspeed), "overspeed of the case, as it states no plan.highest_speed"
    return float(agreed), "agreed highest speed, plan.highest_speed of the case"


def _too_fast(case: Case, points: SpeedPoints) -> list[str]:
    """A remark on readings above the agreed speed: they were taken, so they count."""
    agreed, name = agreed_speed(case)
    count = int(np.count_nonzero(points.speed > (1.0 + NEGLIGIBLE) * agreed))
    if not count:
        return []
    lie = "speed point lies" if count == 1 else "speed points lie"
    return [
        f"CAUTION: {count} {lie} above {rpm(agreed)} ({name}), up to {rpm(float(points.speed.max()))}. What was read "
        "there counts; no speed above it is recommended. Clear with whoever agreed the limit before the run goes on"
    ]


def _of_heat(
    points: SpeedPoints, condition: Condition, departures: dict[str, Floats], freedom: Freedom, trusted: float
) -> list[str]:
    """Which recorded temperatures count, which do not, and what that means."""
    found = []
    if departures:
        ends = ", ".join(f"{body} {kelvin.min():+.1f} to {kelvin.max():+.1f} K" for body, kelvin in departures.items())
        words = HEAT_COUNTED if trusted >= DOUBTED else HEAT_DOUBTED
        found.append(words.format(ends=ends, gain=100 * freedom.heat_gain))
    recorded = {body: getattr(points, name) for body, name in BODIES.items() if body not in departures}
    partly = {body: np.isfinite(kelvin) for body, kelvin in recorded.items() if np.isfinite(kelvin).any()}
    if partly:
        held = {"rim", "spider"}
        if not all(known.all() for known in partly.values()):
            why = ", as not every speed point has them"
        elif held & partly.keys() and not held <= partly.keys():
            why = ", as rim and spider count only where both are recorded"
        elif _departing(points, partly, condition):
            why = ", as they depart from the condition throughout or by much"
        else:
            why = f", as they stay within {LEAST_DEPARTURE:g} K of the condition"
        found.append(HEAT_LEFT_OUT.format(bodies=", ".join(sorted(partly)), why=why))
    return found


def _departing(points: SpeedPoints, bodies: Iterable[str], condition: Condition) -> bool:
    """Whether recorded temperatures of any of these bodies depart from the condition."""
    stated = {body: getattr(condition, name) for body, name in BODIES.items()}
    if stated["pole"] is None:
        stated["pole"] = stated["rim"]
    return any(
        bool(np.abs(getattr(points, BODIES[body]) - float(np.mean(stated[body]))).max() > LEAST_DEPARTURE)
        for body in bodies
    )


def _of_axes(points: SpeedPoints) -> list[str]:
    return [AXES_LEFT_OUT] if points.axis_speed.size or points.axis_gap.size else []
