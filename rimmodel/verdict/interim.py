"""What the part of a run that exists so far shows already, and which speed next would tell most."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from rimmodel.arrays import Interval
from rimmodel.evidence.interim.run import RunSoFar, run_so_far
from rimmodel.evidence.recording.delimited import RecordingError
from rimmodel.evidence.reduction.speed_points import speed_points
from rimmodel.planning.next_speed import NextSpeed, allowed_speeds, next_speed
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.requirements import CaseRecord
from rimmodel.verdict.judge import CLAIM_CONFIDENCE
from rimmodel.verdict.record_checks import open_record

FEWEST, MOST = 2, 100
"""Speed points from which anything can be shown, and up to which a look takes seconds."""


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
        None where the readings contradict the rotor, or the plan allows no speed that was not read already.
    go_on_to : float, rad/s
        Up to which the plan lets the run go on; NaN where it has no stop lines, or anything speaks against the
        readings.
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
    go_on_to: float
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
    run = run_so_far(case, record, points, recording.source, confidence)
    shown, interval = _shown(run)
    after, last = None, float("nan")
    notes: tuple[str, ...] = ()
    if not run.against:
        allowed, last, notes = allowed_speeds(case, name, run.schedule.speed)
        if len(allowed):
            after = next_speed(case.rotor, condition, run.schedule, run.gap, allowed, run.highest, run.freedom)
    return SoFar(
        recording.label or recording.source, recording.source, name, len(run.gap), float(points.speed.max()), shown,
        interval, confidence, after, float("nan") if run.doubted else last, (*run.against, *run.open),
        (*run.remarks, *notes, *points.remarks, *points.notes),
    )  # fmt: skip


def _shown(run: RunSoFar) -> tuple[str, Interval]:
    low, high = float(run.look.low[-1]), float(run.look.high[-1])
    if np.isnan(low):
        return "contradiction", (low, high)
    if run.against:
        return "nothing", (0.0, float("inf"))
    if high < run.schedule.speed.min():
        return "floating", (low, high)
    if high < run.schedule.speed.max():
        return "lift-off", (low, high)
    return ("seated" if low > 0.0 else "nothing"), (low, high)
