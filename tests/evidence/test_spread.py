"""Knees of planes and sensors against each other: equal ones stay equal; taper, cone and tilt are those made."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import polars as pl
import pytest
from scipy.stats import binom

import rimmodel as rm
from rimmodel.evidence.knee.of_points import find_knee, moments
from rimmodel.evidence.measured.measure import PLANES_APART, measure, with_sensors
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.evidence.measured.spread import EQUAL, plane_spread, sensor_spread, two_ends
from rimmodel.evidence.recording.read import read_recording
from rimmodel.evidence.reduction.condensed import reduce_recording
from rimmodel.evidence.reduction.sensor_gaps import SensorGaps, sensor_gaps
from rimmodel.evidence.reduction.speed_points import SpeedPoints, speed_points
from rimmodel.evidence.synthetic import Run, virtual_run
from rimmodel.units import MILLIMETRE, RPM
from tests.benchmarks.knee_equality import CASE, COLD, invented, rows

SPEEDS = tuple(np.linspace(20.0, 235.0, 16) * RPM)


@cache
def tapered() -> Measurement:
    """A run whose upper plane has 10 % more interference than the lower one, and much noise that both share."""
    frame = invented(0, 0.10, 32)
    return with_sensors(measure(CASE.rotor, COLD, read_recording(frame, label="tapered"), "cold"))


@pytest.mark.derived
def test_planes_that_lift_off_together_are_seldom_taken_for_apart() -> None:
    found = list(rows(40, seed=31))
    assert len(found) > 25
    assert sum(row.planes < 0.05 for row in found) <= binom.ppf(0.999, len(found), 0.05)
    assert sum(row.held for row in found) >= binom.ppf(0.001, len(found), 0.95)


@pytest.mark.derived
def test_a_taper_of_a_tenth_is_found() -> None:
    found = list(rows(16, 0.10, seed=32))
    assert sum(row.planes < EQUAL for row in found) >= 0.75 * len(found)
    assert sum(row.held for row in found) >= binom.ppf(0.001, len(found), 0.95)


@pytest.mark.derived
def test_the_end_with_less_interference_lets_go_first() -> None:
    found = tapered()
    assert found.ends is not None
    assert (found.ends.first, found.ends.last, found.ends.differ) == ("lower", "upper", True)
    assert PLANES_APART in found.reasons
    # the upper plane was made with a tenth more, 0.21 mm of 2.1 mm
    low, high = found.ends.interference_interval
    assert low < 0.1 * CASE.rotor.fit.interference < high
    upper, lower = (
        float(rm.float_speed(CASE.rotor.with_interference(share * CASE.rotor.fit.interference), COLD).speed)
        for share in (1.05, 0.95)
    )
    assert found.ends.interval[0] < upper - lower < found.ends.interval[1]


@pytest.mark.derived
def test_the_difference_is_known_better_than_either_knee_where_noise_is_shared() -> None:
    run = Run(speeds=SPEEDS, noise=0.003 * MILLIMETRE, common_noise=0.06 * MILLIMETRE, seed=4)
    found = measure(CASE.rotor, COLD, read_recording(virtual_run(CASE.rotor, COLD, run)), "cold")
    (spread,) = found.spreads
    low, high = spread.knees[0].interval
    own = found.planes["upper"].interval
    assert high - low < 0.4 * (np.sqrt(own[1]) - np.sqrt(own[0]))
    assert not spread.differ


def made(change: np.ndarray, sensors: int = 6) -> tuple[SpeedPoints, SensorGaps]:
    """Points without noise, with a change of gap (point, sensor of both planes) added at will, m."""
    frame = virtual_run(CASE.rotor, COLD, Run(speeds=SPEEDS, run_down=False, readings=1, noise=0.0, offset=0.0))
    recording = read_recording(frame)
    reduction = reduce_recording(recording)
    gaps = sensor_gaps(recording, reduction)
    assert len(gaps.sensor) == 2 * sensors
    return speed_points(recording, reduction=reduction), replace(gaps, gap=gaps.gap + change)


@pytest.mark.derived
def test_cone_and_tilt_are_those_that_were_made() -> None:
    noise = 1e-7 * np.random.default_rng(1).normal(size=(len(SPEEDS), 12))
    points, gaps = made(np.zeros((len(SPEEDS), 12)))
    share = (points.speed**2 - points.speed.min() ** 2) / (points.speed.max() ** 2 - points.speed.min() ** 2)
    upper = np.array([plane == "upper" for plane in gaps.plane])
    # the upper end grows 0.2 mm more by the highest speed, and its axis moves 0.1 mm towards 30 degrees
    towards = 0.1e-3 * np.cos(gaps.angle - np.radians(30.0))
    change = -share[:, None] * np.where(upper, 0.2e-3 + towards, 0.0)
    gaps = replace(gaps, gap=gaps.gap + change + noise)
    knee = find_knee(replace(points, gap=gaps.level(gaps.usable))).knee
    spread = plane_spread(points.speed, moments(points), gaps, knee)
    assert spread is not None
    ends = two_ends(CASE.rotor, COLD, points.speed, gaps, spread)
    assert ends is not None
    sign = 1.0 if ends.first == "upper" else -1.0
    assert sign * ends.cone == pytest.approx(0.2e-3, abs=2e-6)
    assert ends.tilt == pytest.approx(0.1e-3, abs=2e-6)
    turned = ends.tilt_angle if ends.first == "upper" else (ends.tilt_angle + np.pi) % (2 * np.pi)
    assert turned == pytest.approx(np.radians(30.0), abs=0.02)
    assert ends.tilt_uncertainty < 1e-6


@pytest.mark.derived
def test_one_sensor_with_a_knee_of_its_own_is_named() -> None:
    run = Run(speeds=SPEEDS, run_down=False, readings=3, noise=0.004 * MILLIMETRE, common_noise=0.02 * MILLIMETRE)
    frame = virtual_run(CASE.rotor, COLD, run)
    odd = virtual_run(CASE.rotor.with_interference(0.8 * CASE.rotor.fit.interference), COLD, run)
    mixed = pl.concat([frame.filter(pl.col("sensor") != "S4"), odd.filter(pl.col("sensor") == "S4")])
    found = with_sensors(measure(CASE.rotor, COLD, read_recording(mixed), "cold"))
    spread = next(one for one in found.spreads if one.of == "sensor")
    assert spread.differ
    worst = min(spread.knees, key=lambda knee: knee.p_value)
    assert worst.name.startswith("S4")
    assert worst.difference < 0.0


def test_without_a_knee_or_with_one_sensor_nothing_is_compared() -> None:
    short = tuple(np.linspace(20.0, 120.0, 10) * RPM)
    seated = measure(CASE.rotor, COLD, read_recording(virtual_run(CASE.rotor, COLD, Run(speeds=short))), "cold")
    assert seated.spreads == ()
    assert seated.ends is None
    single = Run(speeds=SPEEDS, planes=("",), sensors_per_plane=1, run_down=False)
    frame = virtual_run(CASE.rotor, COLD, single).drop("plane")
    found = with_sensors(measure(CASE.rotor, COLD, read_recording(frame), "cold"))
    assert found.spreads == ()


def test_sensors_are_compared_where_some_are_missing_at_some_points() -> None:
    frame = virtual_run(CASE.rotor, COLD, Run(speeds=SPEEDS, run_down=False))
    gone = frame.filter((pl.col("sensor") != "S2") | (pl.col("speed [rpm]") < 200.0))
    recording = read_recording(gone)
    reduction = reduce_recording(recording)
    points, gaps = speed_points(recording, reduction=reduction), sensor_gaps(recording, reduction)
    knee = find_knee(points).knee
    spread = sensor_spread(points.speed, moments(points), gaps, knee)
    assert spread is not None
    assert len(spread.knees) == 12
    assert np.isnan(gaps.gap).any()
