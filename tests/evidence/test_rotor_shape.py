"""Stator and rotor parts, harmonics and circles on an invented machine whose shape is known."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rimmodel.evidence.recording.read import RecordingError, read_recording
from rimmodel.evidence.reduction.rotor_shape import RotorShape, rotor_shape
from rimmodel.evidence.reduction.two_way import two_way
from rimmodel.units import DEGREE, MILLIMETRE

LEVELS = np.array([20.0, 60.0, 100.0, 140.0, 180.0])
POLES, SENSORS, TURNS = 24, 8, 15


def record(noise: float = 0.02, *, sensors: int = SENSORS, seed: int = 1) -> pl.DataFrame:
    """Eccentric by 0.2 mm at 40 degrees and oval by 0.1 mm at 70 degrees, growing with speed; bore off by 0.3 mm."""
    random = np.random.default_rng(seed)
    pole, angle = 2 * np.pi * np.arange(POLES) / POLES, 2 * np.pi * np.arange(sensors) / sensors
    parts = []
    for number, speed in enumerate(LEVELS):
        growth = 1.0 + speed / 180.0
        rotor = growth * (0.2 * np.cos(pole - 40 * DEGREE) + 0.1 * np.cos(2 * (pole - 70 * DEGREE)))
        bore = 0.3 * np.cos(angle - 100 * DEGREE) + 0.05 * np.cos(2 * (angle - 20 * DEGREE))
        gap = 15.0 - 1e-5 * speed**2 + bore[:, None] - rotor
        gap = gap + noise * random.standard_normal((TURNS, sensors, POLES))
        turn, s, p = (index.ravel() for index in np.indices(gap.shape))
        parts.append(
            pl.DataFrame(
                {
                    "time [s]": 600.0 * number + 2.0 * turn,
                    "speed [rpm]": np.full(turn.size, speed),
                    "gap [mm]": gap.ravel(),
                    "sensor": [f"G{i + 1}" for i in s],
                    "angle [deg]": np.degrees(angle)[s],
                    "pole": p + 1,
                }
            )
        )
    return pl.concat(parts)


def shape(frame: pl.DataFrame, **options: object) -> RotorShape:
    return rotor_shape(read_recording(frame), **options)  # type: ignore[arg-type]


@pytest.mark.derived
def test_harmonics_are_those_that_were_put_in() -> None:
    found = shape(record())
    growth = 1.0 + LEVELS / 180.0
    # standard deviation of an amplitude over N readings of noise s: s sqrt(2/N), here below 0.6 um; four of them
    np.testing.assert_allclose(found.mean / MILLIMETRE, 15.0 - 1e-5 * LEVELS**2, atol=2e-3)
    np.testing.assert_allclose(found.rotor.eccentricity.amplitude / MILLIMETRE, 0.2 * growth, atol=2.4e-3)
    np.testing.assert_allclose(found.rotor.eccentricity.phase / DEGREE, 40.0, atol=0.7)
    np.testing.assert_allclose(found.rotor.ovality.amplitude / MILLIMETRE, 0.1 * growth, atol=2.4e-3)
    np.testing.assert_allclose(found.rotor.ovality.phase / DEGREE, 70.0, atol=0.7)
    np.testing.assert_allclose(found.stator.eccentricity.amplitude / MILLIMETRE, 0.3, atol=2.4e-3)
    np.testing.assert_allclose(found.stator.eccentricity.phase / DEGREE, 100.0, atol=0.5)
    np.testing.assert_allclose(found.stator.ovality.amplitude / MILLIMETRE, 0.05, atol=2.4e-3)
    np.testing.assert_allclose(found.stator.ovality.phase / DEGREE, 20.0, atol=1.4)
    np.testing.assert_allclose(found.residual / MILLIMETRE, 0.02 / np.sqrt(TURNS), rtol=0.25)
    expected = 0.02 * np.sqrt(2.0 / (TURNS * SENSORS * POLES))
    np.testing.assert_allclose(found.rotor.eccentricity.standard_error / MILLIMETRE, expected, rtol=0.25)


@pytest.mark.derived
def test_circles_by_each_definition() -> None:
    """Without noise: least-squares and minimum zone of a pure oval are twice its amplitude, eccentricity is shed."""
    found = shape(record(noise=0.0), nominal_gap=15 * MILLIMETRE)
    growth = 1.0 + LEVELS / 180.0
    poles = 2 * np.pi * np.arange(POLES) / POLES
    oval = np.ptp(np.cos(2 * (poles - 70 * DEGREE)))
    np.testing.assert_allclose(found.rotor.circles.least_squares.zone / MILLIMETRE, 0.1 * oval * growth, rtol=2e-3)
    assert (found.rotor.circles.minimum_zone.zone <= found.rotor.circles.least_squares.zone + 1e-12).all()
    profile = 0.2 * np.cos(poles - 40 * DEGREE) + 0.1 * np.cos(2 * (poles - 70 * DEGREE))
    np.testing.assert_allclose(found.rotor.percent_of_gap, 100.0 / 15.0 * np.ptp(profile) * growth, rtol=1e-9)


@pytest.mark.independent
def test_parts_are_the_plain_means_of_a_full_table() -> None:
    frame = record()
    found = shape(frame)
    for number, speed in enumerate(LEVELS):
        here = frame.filter(pl.col("speed [rpm]") == speed)
        table = here.group_by("sensor", "pole").agg(pl.col("gap [mm]").mean()).sort("sensor", "pole")
        gap = table["gap [mm]"].to_numpy().reshape(SENSORS, POLES)
        np.testing.assert_allclose(found.mean[number] / MILLIMETRE, gap.mean(), rtol=1e-9)
        rotor = -(gap.mean(axis=0) - gap.mean())
        np.testing.assert_allclose(found.rotor.deviation[number] / MILLIMETRE, rotor, atol=1e-9)
        np.testing.assert_allclose(
            found.stator.deviation[number] / MILLIMETRE, gap.mean(axis=1) - gap.mean(), atol=1e-9
        )


def test_poles_numbered_against_rotation_and_from_an_angle() -> None:
    frame = record()
    one = shape(frame)
    two = shape(frame, numbering="against rotation", first_pole_angle=10 * DEGREE)
    np.testing.assert_allclose(two.rotor.eccentricity.amplitude, one.rotor.eccentricity.amplitude, rtol=1e-9)
    turned = (10 * DEGREE - one.rotor.eccentricity.phase) % (2 * np.pi)
    np.testing.assert_allclose(two.rotor.eccentricity.phase, turned, atol=1e-9)


def test_without_angles_only_the_stator_harmonics_are_lost() -> None:
    found = shape(record().drop("angle [deg]"))
    assert np.isnan(found.stator.eccentricity.amplitude).all()
    assert np.isfinite(found.rotor.eccentricity.amplitude).all()
    assert any("No sensor angles" in note for note in found.notes)


@pytest.mark.parametrize("sensors", [3, 4])
def test_few_sensors_tell_eccentricity_but_no_ovality_of_the_bore(sensors: int) -> None:
    found = shape(record(sensors=sensors))
    assert np.isfinite(found.stator.eccentricity.amplitude).all()
    assert np.isnan(found.stator.ovality.amplitude).all()
    assert any("ovality of the stator cannot be determined" in note for note in found.notes)
    np.testing.assert_allclose(found.rotor.eccentricity.phase / DEGREE, 40.0, atol=1.0)


def test_a_dead_sensor_is_left_out() -> None:
    frame = record().with_columns(pl.when(pl.col("sensor") == "G5").then(0.01).otherwise("gap [mm]").alias("gap [mm]"))
    found = shape(frame)
    assert "G5" not in found.sensors
    assert any("G5 left out" in note for note in found.notes)
    np.testing.assert_allclose(found.rotor.eccentricity.phase / DEGREE, 40.0, atol=1.0)


def test_what_cannot_be_told_is_refused_in_words() -> None:
    with pytest.raises(RecordingError, match="no pole column"):
        shape(record().drop("pole"))
    with pytest.raises(RecordingError, match="'upper' is not one of none"):
        shape(record(), plane="upper")
    half = pl.when(pl.col("sensor") < "G5").then(pl.lit("upper")).otherwise(pl.lit("lower"))
    with pytest.raises(RecordingError, match="'' is not one of lower, upper"):
        shape(record().with_columns(half.alias("plane")))
    with pytest.raises(RecordingError, match="numbering"):
        shape(record(), numbering="clockwise")


@settings(deadline=None, max_examples=50)
@given(st.integers(0, 10_000), st.integers(2, 7), st.integers(2, 7))
def test_an_additive_table_is_split_exactly_even_with_holes(seed: int, rows: int, columns: int) -> None:
    random = np.random.default_rng(seed)
    row, column = random.standard_normal(rows), random.standard_normal(columns)
    table = 10.0 + (row - row.mean())[:, None] + (column - column.mean())
    holes = random.random(table.shape) < 0.3
    holes[0], holes[:, 0] = False, False  # the first row and column tie all others together
    parts = two_way(np.where(holes, np.nan, table))
    assert parts.mean == pytest.approx(10.0, abs=1e-9)
    np.testing.assert_allclose(parts.row, row - row.mean(), atol=1e-9)
    np.testing.assert_allclose(parts.column, column - column.mean(), atol=1e-9)
