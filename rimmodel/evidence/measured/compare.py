"""Before and after a correction: what changed between two recordings of one machine, and was it the shims.

Each recording has its own interval; the interval of a difference is put together from both. What the two share, such
as the mass of the poles of the same machine, is left out of both; the noise and the temperature of each run are in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from rimmodel.arrays import Floats, Interval
from rimmodel.evidence.measured.difference import difference
from rimmodel.evidence.measured.lost_since import LostSince, lost_since
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.evidence.reduction.speed_points import SpeedPoints

NEAR = 0.02
"""Two speeds within this share of the higher speed are compared as the same speed."""


@dataclass(frozen=True)
class GapChange:
    """Mean and least gap of both recordings at the speeds that both have.

    Attributes
    ----------
    speed : array (speed,), rad/s
    mean_before, mean_after, least_before, least_after : array (speed,), m
    """

    speed: Floats
    mean_before: Floats
    mean_after: Floats
    least_before: Floats
    least_after: Floats


@dataclass(frozen=True)
class Comparison:
    """Change from one recording to the next; NaN and open intervals where either of them gives no value.

    Attributes
    ----------
    float_speed_change : float, rad/s
    float_speed_change_interval : pair of float, rad/s
    interference_change : float, m
    interference_change_interval : pair of float, m
    expected : float, m
        Change of interference that the shims should have given; None when not known.
    verdict : "as expected", "not as expected", "not shown" or "no expectation"
    lost : LostSince
        Whether keys have bedded in or the stack has grown, where less is left than the shims should have given.
    """

    before: str
    after: str
    float_speed_change: float
    float_speed_change_interval: Interval
    interference_change: float
    interference_change_interval: Interval
    expected: float | None
    verdict: Literal["as expected", "not as expected", "not shown", "no expectation"]
    gaps: GapChange
    note: str
    lost: LostSince


def compare(before: Measurement, after: Measurement, expected: float | None = None) -> Comparison:
    """Compare two recordings; float speeds only when both were taken in the same condition.

    Parameters
    ----------
    expected : float, m, optional
        Change of radial interference that the shims should have given.

    Returns
    -------
    Comparison
        The verdict is "as expected" when the interval of the change holds the expected value and leaves no room for
        no change at all, "not as expected" when the interval excludes it, "not shown" else.
    """
    same = before.condition == after.condition
    speed, speed_interval = difference(
        (before.float_speed, before.float_speed_interval), (after.float_speed, after.float_speed_interval)
    )
    change, interval = difference(
        (before.interference, before.own_interference_interval), (after.interference, after.own_interference_interval)
    )
    return Comparison(
        before.label,
        after.label,
        speed if same else float("nan"),
        speed_interval if same else (-float("inf"), float("inf")),
        change,
        interval,
        expected,
        _verdict(interval, expected),
        gap_change(before.points, after.points),
        "" if same else f"conditions differ ({before.condition}, {after.condition}): float speeds are not compared",
        lost_since(before, after, interval, expected),
    )


def _verdict(
    interval: Interval, expected: float | None
) -> Literal["as expected", "not as expected", "not shown", "no expectation"]:
    if expected is None:
        return "no expectation"
    low, high = interval
    if not low <= expected <= high:
        return "not as expected"
    return "not shown" if low <= 0 <= high else "as expected"


def gap_change(before: SpeedPoints, after: SpeedPoints) -> GapChange:
    """Mean and least gaps at speeds that both recordings reached, averaged over both directions."""
    speeds: list[float] = []
    rows: list[list[float]] = []
    for speed in np.unique(np.round(before.speed, 6)):
        one, other = (np.abs(points.speed - speed) <= NEAR * speed for points in (before, after))
        if one.any() and other.any() and (not speeds or speed > speeds[-1] * (1 + NEAR)):
            speeds.append(float(speed))
            rows.append(
                [before.gap[one].mean(), after.gap[other].mean(), before.minimum[one].min(), after.minimum[other].min()]
            )
    table = np.array(rows, dtype=float).reshape(-1, 4)
    return GapChange(np.array(speeds), *table.T)


def compare_all(measurements: Sequence[Measurement], expected: Sequence[float | None]) -> tuple[Comparison, ...]:
    """Each recording against the previous recording.

    Parameters
    ----------
    expected : sequence of float, m
        Change of radial interference that each should show; None when not known.
    """
    pairs = zip(measurements, measurements[1:], expected[1:], strict=False)
    return tuple(compare(before, after, change) for before, after, change in pairs)
