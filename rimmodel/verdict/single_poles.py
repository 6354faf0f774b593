"""What single poles and marks in the gap show by themselves, set beside the machine that was fitted.

Of two intervals the more cautious end counts on each side: no least gap is stated wider than either shows it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from rimmodel.arrays import Interval
from rimmodel.evidence.measured.least_gaps import least_gaps, shown_at, touched_bound
from rimmodel.evidence.measured.machine import ByTest
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.evidence.reduction.bore_split import PlaneGap
from rimmodel.evidence.reduction.rotor_shape import RotorShape
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.registry import quantity_at
from rimmodel.rotor.requirements import CaseRecord


def plane_gaps(
    case: Case, record: CaseRecord, shapes: Mapping[str, RotorShape], confidence: float
) -> dict[str, PlaneGap]:
    """Least gaps of a recording by plane; empty where single poles were not recorded.

    Parameters
    ----------
    confidence : float, -
    """
    _, condition = case.condition(record.condition)
    return least_gaps(case.rotor, condition, record, shapes, confidence)


def usable_planes(
    measurement: Measurement | None, condition: str, planes: Mapping[str, PlaneGap] | None
) -> Mapping[str, PlaneGap]:
    """The planes of a recording that may speak in a condition: its own, and not disqualified."""
    if measurement is None or measurement.disqualified or measurement.condition != condition:
        return {}
    return planes or {}


def with_poles(
    case: Case,
    quantity: str,
    condition: str,
    known: tuple[tuple[ByTest | None, str], Interval],
    planes: Mapping[str, PlaneGap],
) -> tuple[ByTest | None, str]:
    """The number by test with what single poles and touched marks show of it, and how it was obtained.

    Parameters
    ----------
    known : pair of (ByTest or None, str) and pair of float, SI
        The number by the fitted machine with its words, and the predicted interval.
    """
    (found, how), drawn = known
    if found is not None and not np.isfinite(found.interval).any():
        return found, how
    speed = float(case.rotor.speeds.from_standstill[quantity_at(quantity).at])
    first = case.condition()[0]
    shown, touched = shown_at(planes, speed), touched_bound(case.witness_marks, condition, first, speed)
    if shown is None and not np.isfinite(touched):
        return found, how
    low, high = found.interval if found is not None else drawn
    words = [how] if how else ["the prediction"]
    if shown is not None:
        low, high = min(low, shown[0]), min(high, shown[1])
        words.append("single poles")
    if np.isfinite(touched):
        low, high = (low if low <= touched else -np.inf), min(high, touched)
        words.append("a mark that was touched")
    base = found if found is not None else ByTest(float("nan"), drawn, {}, {})
    best = float(np.minimum(base.best, high)) if found is not None else float("nan")
    return replace(base, best=best, interval=(low, high)), ", ".join(words)
