"""Readings pole by pole from tables of several shapes: turns missing, doubled and not whole, and means by pole."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from rimmodel.evidence.recording.read import Recording, RecordingError, read_recording
from rimmodel.evidence.reduction.rotor_shape import rotor_shape
from rimmodel.evidence.reduction.speed_points import speed_points
from rimmodel.evidence.reduction.turns import turns
from rimmodel.units import MILLIMETRE, RPM

POLES, SPEEDS = 8, (40.0, 80.0, 120.0, 140.0, 160.0)
EACH = 6
HEIGHT = np.array([0.0, 0.3, -0.1, 0.05, -0.2, 0.1, 0.0, -0.15])
"""mm, by which the gap at each pole differs."""

SENSOR = {"G1": 0.2, "G2": -0.2}


def rows(
    skip: tuple[int, ...] = (), twice: tuple[int, ...] = (), *, shift: float = 0.0, lost: tuple[int, int] = (0, 0)
):
    """Readings of the invented run: turn, time, speed, pole (from 1), sensor, gap in mm; turns are counted from 1."""
    found, time = [], 0.0
    for turn in range(1, len(SPEEDS) * EACH + 1):
        speed = SPEEDS[(turn - 1) // EACH]
        for copy in range(2 if turn in twice else 1):
            for pole in range(POLES):
                if turn in skip or (turn, pole + 1) == lost:
                    continue
                for sensor, level in SENSOR.items():
                    gap = 15.0 - speed**2 * 5e-5 + HEIGHT[pole] + level + shift * copy
                    found.append((turn, time + 60.0 / speed * pole / POLES, speed, pole + 1, sensor, gap))
        time += 60.0 / speed
    return found


def table(readings: list[tuple[float, ...]], *names: str) -> pl.DataFrame:
    heads = ("turn", "time [s]", "speed [rpm]", "pole", "sensor", "gap [mm]")
    frame = pl.DataFrame(readings, schema=heads, orient="row")
    return frame.select(name for name in heads if name not in names)


def mean_of(speed: float) -> float:
    return 15.0 - speed**2 * 5e-5 + HEIGHT.mean()


@pytest.mark.derived
@pytest.mark.parametrize("lacking", ["", "turn"])
def test_a_whole_run_has_the_mean_of_its_poles_at_every_turn(lacking: str):
    found = turns(read_recording(table(rows(), lacking)))
    assert found.gap.shape == (len(SPEEDS) * EACH, 2)
    expected = np.repeat([mean_of(speed) for speed in SPEEDS], EACH)[:, None] + np.array([0.2, -0.2])
    np.testing.assert_allclose(found.gap / MILLIMETRE, expected, atol=1e-9)
    np.testing.assert_allclose(found.speed, np.repeat(SPEEDS, EACH) * RPM)
    assert (found.missing, found.doubled, found.notes) == (0, 0, ())
    level = 15.0 - np.mean(np.square(SPEEDS)) * 5e-5
    np.testing.assert_allclose(found.pole_gap[0] / MILLIMETRE, level + 0.2 + HEIGHT, atol=1e-9)


@pytest.mark.parametrize("lacking", ["", "turn"])
def test_missing_turns_are_found_and_said(lacking: str):
    found = turns(read_recording(table(rows(skip=(9, 10, 20)), lacking)))
    assert found.missing == 3
    assert any("3 turns are missing (first after turn 8)" in note for note in found.notes)


def test_a_turn_recorded_twice_counts_once():
    found = turns(read_recording(table(rows(twice=(7,)))))
    assert (found.doubled, found.missing) == (1, 0)
    assert any("1 turn recorded twice and counted once (first: turn 7)" in note for note in found.notes)
    assert found.gap[6, 0] / MILLIMETRE == pytest.approx(mean_of(80.0) + 0.2)


def test_a_turn_recorded_twice_with_other_readings_is_not_used():
    found = turns(read_recording(table(rows(twice=(7,), shift=0.5))))
    assert np.isnan(found.gap[6]).all()
    assert any("different readings" in note for note in found.notes)


def test_a_turn_that_repeats_at_the_same_time_is_found_without_numbers_of_turns():
    found = turns(read_recording(table(rows(twice=(7,)), "turn")))
    assert found.doubled == 1
    assert any("half a turn" in note for note in found.notes)


def test_a_turn_without_all_poles_has_no_mean():
    found = turns(read_recording(table(rows(lost=(3, 2)))))
    assert np.isnan(found.gap[2]).all()
    assert np.isfinite(np.delete(found.gap, 2, axis=0)).all()
    assert any("lacks pole 2" in note for note in found.notes)


def _wide_by_pole() -> pl.DataFrame:
    readings = table(rows()).with_columns(("Pole " + pl.col("pole").cast(pl.String) + " (mm)").alias("head"))
    start = readings.with_columns(pl.col("time [s]").min().over("turn"))
    return start.pivot(on="head", index=["turn", "time [s]", "speed [rpm]", "sensor"], values="gap [mm]")


def _wide_by_sensor() -> pl.DataFrame:
    return (
        table(rows())
        .pivot(on="sensor", index=["turn", "time [s]", "speed [rpm]", "pole"], values="gap [mm]")
        .rename({"G1": "G1 [mm]", "G2": "G2 [mm]", "turn": "Rev no", "pole": "Pole no."})
    )


def _wide_by_both() -> pl.DataFrame:
    readings = table(rows()).with_columns(
        (pl.col("sensor") + " pole " + pl.col("pole").cast(pl.String) + " [mm]").alias("h")
    )
    start = readings.with_columns(pl.col("time [s]").min().over("turn"))
    return start.pivot(on="h", index=["turn", "time [s]", "speed [rpm]"], values="gap [mm]")


def _by_angle(first: float = 0.0, turn: float = 1.0) -> pl.DataFrame:
    angle = first + turn * 360.0 / POLES * (pl.col("pole") - 1)
    return table(rows()).with_columns((angle % 360.0).alias("rotor angle [deg]")).drop("pole")


@pytest.mark.derived
@pytest.mark.parametrize(
    ("frame", "options"),
    [
        (_wide_by_pole(), {}),
        (_wide_by_sensor(), {}),
        (_wide_by_both(), {}),
        (_by_angle(), {"pole_count": POLES}),
        (_by_angle(30.0), {"pole_count": POLES, "first_pole_angle": np.radians(30.0)}),
        (_by_angle(0.0, -1.0), {"pole_count": POLES, "numbering": "against rotation"}),
    ],
    ids=[
        "a column for each pole",
        "for each sensor",
        "for each of both",
        "by angle",
        "from 30 deg",
        "against rotation",
    ],
)
def test_every_shape_of_table_gives_the_same_turns_and_poles(frame: pl.DataFrame, options: dict[str, float]):
    recording = read_recording(frame, **options)
    found = turns(recording)
    expected = np.repeat([mean_of(speed) for speed in SPEEDS], EACH)[:, None] + np.array([0.2, -0.2])
    order = np.argsort([sensor for sensor, _ in found.units])
    np.testing.assert_allclose(found.gap[:, order] / MILLIMETRE, expected, atol=1e-9)
    shape = rotor_shape(recording, pole_count=POLES, least_hold=1.0)
    for deviation in shape.rotor.deviation:
        np.testing.assert_allclose(-deviation / MILLIMETRE, HEIGHT - HEIGHT.mean(), atol=1e-9)
    assert recording.poles == (1, POLES)


def test_angles_between_poles_and_poles_without_a_number_are_refused():
    between = _by_angle(22.0)
    with pytest.raises(RecordingError, match="lies between two of 8 poles"):
        read_recording(between, pole_count=POLES)
    with pytest.raises(RecordingError, match="give pole_count"):
        read_recording(between)
    with pytest.raises(RecordingError, match="has no poles"):
        turns(read_recording(table(rows(), "pole")))


def test_many_columns_of_p_are_poles_or_probes_and_nobody_knows():
    frame = pl.DataFrame({"speed [rpm]": [20.0, 40.0], **{f"P{i} [mm]": [15.0, 14.9] for i in range(1, 49)}})
    with pytest.raises(RecordingError, match=r"48 poles or 48 probes|no column|column gap is missing"):
        read_recording(frame)


def test_points_say_what_is_missing_and_doubled():
    recording: Recording = read_recording(table(rows(skip=(9,), twice=(14,))))
    notes = " ".join(speed_points(recording, least_hold=1.0).notes)
    assert "1 turn is missing" in notes
    assert "1 turn recorded twice" in notes
    assert "turn" not in " ".join(speed_points(read_recording(table(rows())), least_hold=1.0).notes).replace(
        "turns", ""
    )
