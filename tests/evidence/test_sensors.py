"""Sensors in trouble are found, named, left out and reported; sound ones never."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented_runs import LEVELS, read, run, true_gap

from rimmodel.evidence.recording.delimited import RecordingError
from rimmodel.evidence.reduction.speed_points import speed_points


def both_ways(sensors: int = 6, **options: float) -> pl.DataFrame:
    return run([*LEVELS, *LEVELS[-2::-1]], sensors=sensors, **options)


def spoil(frame: pl.DataFrame, sensor: str, value: pl.Expr) -> pl.DataFrame:
    return frame.with_columns(pl.when(pl.col("sensor") == sensor).then(value).otherwise("gap [mm]").alias("gap [mm]"))


@pytest.mark.parametrize(
    ("value", "word"),
    [
        (pl.lit(float("nan")), "no usable reading"),
        (0.02 + 0.0 * pl.col("gap [mm]"), "dead"),
        (pl.lit(14.8), "stuck at 14.8 mm"),
        (pl.min_horizontal("gap [mm]", pl.lit(14.7)), "upper limit of 14.7 mm"),
        (pl.col("gap [mm]") + pl.col("time [s]") / 2000.0, "drifts"),
    ],
    ids=["missing", "dead", "stuck", "ceiling", "drifting"],
)
def test_a_sensor_in_trouble_is_named_and_left_out(value: pl.Expr, word: str) -> None:
    frame = both_ways()
    points = speed_points(read(spoil(frame, "G3", value)))
    told = [note for note in points.notes if "Sensor G3 left out" in note]
    assert len(told) == 1
    assert word in told[0]
    without = speed_points(read(frame.filter(pl.col("sensor") != "G3")))
    np.testing.assert_allclose(points.gap, without.gap, atol=1e-9)


@settings(deadline=None, max_examples=10)
@given(st.integers(0, 10_000))
def test_sound_sensors_are_never_left_out(seed: int) -> None:
    assert not any("left out: it" in note for note in speed_points(read(both_ways(seed=seed))).notes)


def test_few_sensors_left_say_what_can_no_longer_be_told() -> None:
    for sensors, word in ((3, "ovality cannot be determined"), (2, "opposite"), (1, "shift of the rotor")):
        notes = speed_points(read(both_ways(sensors))).notes
        assert any(note.startswith(f"{sensors} sensor") and word in note for note in notes)


def test_a_single_saturated_gap_is_refused() -> None:
    frame = both_ways(1).with_columns(pl.min_horizontal("gap [mm]", pl.lit(14.75)))
    with pytest.raises(RecordingError, match=r"upper limit of 14.75 mm"):
        speed_points(read(frame))
    speed = np.linspace(20.0, 200.0, 12)
    chart = pl.DataFrame({"speed [rpm]": speed, "gap [mm]": np.minimum(true_gap(speed), 14.75)})
    with pytest.raises(RecordingError, match=r"exactly 14.75 mm at 9 of 12 speed points.*saturated"):
        speed_points(read(chart))
