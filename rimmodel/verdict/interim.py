"""What the part of a run that exists so far shows already, and which speed next would tell most."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from rimmodel.arrays import Interval
from rimmodel.evidence.interim.course import course
from rimmodel.evidence.interim.look import Look, looks
from rimmodel.evidence.knee.of_points import moments
from rimmodel.evidence.measured.growth import growth_doubts
from rimmodel.evidence.measured.neighbours import case_freedom
from rimmodel.evidence.recording.delimited import RecordingError
from rimmodel.evidence.reduction.speed_points import speed_points
from rimmodel.planning.next_speed import NextSpeed, Readings, allowed_speeds, next_speed
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.requirements import CaseRecord
from rimmodel.verdict.judge import CLAIM_CONFIDENCE
from rimmodel.verdict.record_checks import open_record

FEWEST, MOST = 2, 100
"""Speed points from which anything can be shown, and up to which a look takes seconds."""

CONTRADICTION = (
    "no lift-off agrees with all readings: the rotor of the case, or the readings, are not what they are taken for; "
    "nothing is shown until this is explained"
)


@dataclass(frozen=True)
class SoFar:
    """One look at a run that is in progress.

    Attributes
    ----------
    points : int
        Speed points so far.
    fastest : float, rad/s
    shown : str
        "lift-off", "seated", "floating", "nothing" or "contradiction".
    interval : pair of float, rad/s
        Of the lift-off in the run; NaN where nothing is left.
    confidence : float, -
        For all looks together.
    next : NextSpeed or None
        None where the readings contradict the rotor.
    reasons : tuple of str
        Why nothing is shown.
    """

    label: str
    source: str
    condition: str
    points: int
    fastest: float
    shown: str
    interval: Interval
    confidence: float
    next: NextSpeed | None
    reasons: tuple[str, ...]
    notes: tuple[str, ...]


def look_so_far(case: Case, record: CaseRecord, path: Path, confidence: float = CLAIM_CONFIDENCE) -> SoFar:
    """Look at what exists of a run.

    Parameters
    ----------
    confidence : float, -
        For all looks of the run together.

    Raises
    ------
    RecordingError
        The recording cannot be used, or has too few speed points.
    """
    recording = open_record(case, record, path)
    points = speed_points(recording, least_points=FEWEST)
    if len(points.speed) > MOST:
        raise RecordingError(
            f"{recording.source}: {len(points.speed)} speed points, more than the {MOST} of an interim look; hold "
            "speeds, or fit the run when it has ended"
        )
    name, condition = case.condition(record.condition)
    order = np.argsort(moments(points), kind="stable")
    speed, gap, direction = points.speed[order], points.gap[order], points.direction[order]
    agreed = case.plan.highest_speed
    highest = max(float(case.rotor.speeds.overspeed if agreed is None else agreed), float(speed.max()))
    moment, freedom = points.time[order], case_freedom(case)
    found = looks(course(case.rotor, condition, speed, direction, highest, freedom, moment), gap, confidence)
    against = (*growth_doubts(case.rotor, condition, points, recording.source), *points.disqualified)
    shown, interval = _shown(found, float(speed.max()), float(speed.min()))
    if shown == "contradiction":
        against = (CONTRADICTION, *against)
    after = None
    notes: tuple[str, ...] = ()
    if not against:
        allowed, notes = allowed_speeds(case, name, float(speed.max()))
        if len(allowed):
            after = next_speed(
                case.rotor, condition, Readings(speed, direction, gap, moment), allowed, highest, freedom
            )
    return SoFar(
        recording.label or recording.source, recording.source, name, len(speed), float(speed.max()),
        "nothing" if against and shown != "contradiction" else shown, interval, confidence, after, against,
        (*notes, *points.remarks, *points.notes),
    )  # fmt: skip


def _shown(found: Look, fastest: float, slowest: float) -> tuple[str, Interval]:
    low, high = float(found.low[-1]), float(found.high[-1])
    if np.isnan(low):
        return "contradiction", (low, high)
    if high < slowest:
        return "floating", (low, high)
    if high < fastest:
        return "lift-off", (low, high)
    return ("seated" if low > 0.0 else "nothing"), (low, high)
