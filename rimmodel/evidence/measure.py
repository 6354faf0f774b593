"""From a recording to a measured float speed and the effective interference behind it.

The knee of the mean gap gives the float speed of the run. The modelled growth of rim and spider turns that into
the EFFECTIVE interference at standstill and 20 degC: what drawing interference, less all settlement, would make
this rim lift off there in the condition of the run. Any other condition follows from it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rimmodel.behaviour import float_speed, interference_for_float_speed
from rimmodel.behaviour.contact import coefficients
from rimmodel.evidence.knee import Knee, fit_knee
from rimmodel.evidence.reduce import SpeedPoints, speed_points
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.rotor import without_settlement
from rimmodel.units import RPM

if TYPE_CHECKING:
    from rimmodel.evidence.recording import Recording

Interval = tuple[float, float]


@dataclass(frozen=True)
class Measurement:
    """What one recording shows; speeds in rad/s, lengths in m, intervals two-sided at `confidence`.

    Without a knee the float speed and the interference are NaN and the interval holds what bound there is
    (inf: no upper bound; 0: no lower one).
    """

    label: str
    source: str
    condition: str
    points: SpeedPoints
    knees: dict[str, Knee]
    """By direction: "up", "down", or "" for all points together."""
    verdict: str
    float_speed: float
    float_speed_interval: Interval
    interference: float
    interference_interval: Interval
    confidence: float
    notes: tuple[str, ...]
    reasons: tuple[str, ...]


def measure(
    rotor: Rotor,
    condition: Condition,
    recording: Recording,
    condition_name: str = "",
    confidence: float = 0.95,
) -> Measurement:
    """Reduce a recording to speed points, find the knee in each direction and in all, and what it means.

    Parameters
    ----------
    rotor : Rotor
        Gives growth and slopes; its interference does not enter.
    condition : Condition
        In which the recording was taken.
    recording : Recording
    condition_name : str
        For the result.
    confidence : float

    Returns
    -------
    Measurement

    Raises
    ------
    RecordingError
        Too few speed points.
    """
    points = speed_points(recording)
    model = coefficients(rotor, condition)
    slopes = (-float(model.seated.per_speed_squared), -float(model.floating.per_speed_squared))
    ways = [way for way in ("up", "down") if np.count_nonzero(points.direction == way) >= 5]

    def knee_of(chosen: np.ndarray) -> Knee:
        return fit_knee(points.speed[chosen] ** 2, points.gap[chosen], confidence=confidence, expected_slopes=slopes)

    # a hold without a direction is the turning point of the run and belongs to both ways
    knees = {way: knee_of((points.direction == way) | (points.direction == "")) for way in ways}
    whole = knees[ways[0]] if len(ways) == 1 else knee_of(np.ones(points.speed.shape, dtype=bool))
    reasons = list(whole.reasons)
    interval = whole.interval
    if len(ways) == 2 and not _overlap(knees["up"].interval, knees["down"].interval):
        low, high = zip(*(knee.interval for knee in knees.values()), strict=True)
        interval = (min(low), max(high))
        reasons.insert(0, "run-up and run-down show different knees; the interval spans both")
    speeds = (float(np.sqrt(max(interval[0], 0.0))), float(np.sqrt(interval[1])))
    best = float(np.sqrt(whole.position)) if whole.verdict == "resolved" else float("nan")
    return Measurement(
        recording.label or recording.source,
        recording.source,
        condition_name,
        points,
        {"": whole, **knees},
        whole.verdict,
        best,
        speeds,
        effective_interference(rotor, condition, best),
        (effective_interference(rotor, condition, speeds[0]), effective_interference(rotor, condition, speeds[1])),
        confidence,
        points.notes,
        tuple(reasons),
    )


def effective_interference(rotor: Rotor, condition: Condition, speed: float) -> float:
    """Interference (m, standstill, 20 degC, nothing left to settle) of a rim that lifts off at `speed`.

    A lower bound of 0 rad/s gives minus infinity, no bound above gives infinity; NaN stays NaN.
    """
    if not np.isfinite(speed):
        return speed
    if speed == 0:
        return -float("inf")
    return float(interference_for_float_speed(without_settlement(rotor), condition, speed))


def float_speed_elsewhere(rotor: Rotor, condition: Condition, interference: float) -> float:
    """Float speed (rad/s) in another condition of a rim with this effective interference (m; may be infinite)."""
    if not np.isfinite(interference):
        return max(interference, 0.0) if not np.isnan(interference) else interference
    return float(float_speed(without_settlement(rotor).with_interference(interference), condition).speed)


def describe(measurement: Measurement) -> str:
    """One sentence: what the recording shows of the float speed."""
    low, high = (speed / RPM for speed in measurement.float_speed_interval)
    if measurement.verdict == "resolved":
        return (
            f"lifts off at {measurement.float_speed / RPM:.1f} rpm ({low:.1f} to {high:.1f} rpm at "
            f"{measurement.confidence:.0%} confidence)"
        )
    if measurement.verdict == "above tested range":
        return f"no lift-off in the tested range: floats above {low:.1f} rpm, if at all"
    if measurement.verdict == "already floating":
        return f"already floating in all of the tested range: lift-off below {high:.1f} rpm"
    return "no lift-off can be told from this recording"


def _overlap(one: Interval, other: Interval) -> bool:
    return one[0] <= other[1] and other[0] <= one[1]
