"""Reduction to speed points: holds, ramps, robust means and honest standard errors on invented runs."""

from __future__ import annotations

import re

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented_runs import LEVELS, history, read, run, true_gap

from rimmodel.evidence.recording.delimited import RecordingError
from rimmodel.evidence.reduction.speed_points import speed_points
from rimmodel.units import MILLIMETRE, RPM

# ------------------------------------------------------------------------------------- without time


def test_a_chart_gives_its_rows_back_sorted() -> None:
    speed, gap = [100.0, 20.0, 60.0, 80.0, 40.0, 99.9], [14.6, 15.0, 14.9, 14.8, 14.95, 14.61]
    points = speed_points(read(pl.DataFrame({"speed [rpm]": speed, "gap [mm]": gap})))
    order = np.argsort(speed)
    np.testing.assert_allclose(points.speed, np.array(speed)[order] * RPM)
    np.testing.assert_allclose(points.gap, np.array(gap)[order] * MILLIMETRE)
    np.testing.assert_array_equal(points.minimum, points.gap)
    np.testing.assert_array_equal(points.least_sensor_gap, points.gap)
    assert points.count.tolist() == [1] * 6
    assert points.direction.tolist() == [""] * 6
    assert np.isnan(points.standard_error).all()
    assert np.isnan(points.rim_temperature).all()
    assert points.steady.all()
    assert any("cannot be distinguished" in note for note in points.notes)


def test_a_chart_with_direction_is_sorted_up_then_down() -> None:
    frame = pl.DataFrame(
        {
            "speed [rpm]": [20.0, 60.0, 100.0] * 2,
            "gap [mm]": [15.0, 14.9, 14.6, 14.99, 14.88, 14.6],
            "direction": ["up"] * 3 + ["down"] * 3,
        }
    )
    points = speed_points(read(frame), least_points=3)
    assert points.direction.tolist() == ["up"] * 3 + ["down"] * 3
    np.testing.assert_allclose(points.gap / MILLIMETRE, frame["gap [mm]"].to_numpy())
    assert speed_points(read(frame.drop("direction"), direction="down"), least_points=3).count.tolist() == [2, 2, 2]


@pytest.mark.independent
def test_repeated_speeds_are_averaged_with_their_scatter() -> None:
    random = np.random.default_rng(3)
    speed = np.repeat(LEVELS, 50) + random.normal(0.0, 0.05, 50 * len(LEVELS))
    gap = true_gap(np.repeat(LEVELS, 50)) + random.normal(0.0, 0.04, speed.size)
    points = speed_points(read(pl.DataFrame({"speed [rpm]": speed, "gap [mm]": gap})))
    groups = gap.reshape(len(LEVELS), 50)
    np.testing.assert_allclose(points.gap / MILLIMETRE, groups.mean(axis=1), rtol=1e-12)
    assert points.count.tolist() == [50] * len(LEVELS)
    np.testing.assert_allclose(points.standard_error / MILLIMETRE, 0.04 / np.sqrt(50), rtol=0.6)


def test_a_table_of_sensors_by_speed_has_errors_from_what_sensors_leave_unexplained() -> None:
    random = np.random.default_rng(4)
    sensors, offset = 6, np.array([0.5, -0.5, 0.2, -0.2, 0.1, -0.1])
    gap = true_gap(np.array(LEVELS))[:, None] + offset + 0.05 * random.standard_normal((len(LEVELS), sensors))
    frame = pl.DataFrame(
        {
            "speed [rpm]": np.repeat(LEVELS, sensors),
            "gap [mm]": gap.ravel(),
            "sensor": [f"S{i}" for i in range(sensors)] * len(LEVELS),
        }
    )
    points = speed_points(read(frame))
    np.testing.assert_allclose(points.gap / MILLIMETRE, gap.mean(axis=1), rtol=1e-12)
    np.testing.assert_allclose(points.least_sensor_gap / MILLIMETRE, gap.min(axis=1), rtol=1e-12)
    np.testing.assert_allclose(points.standard_error / MILLIMETRE, 0.05 / np.sqrt(6), rtol=0.35)


def test_a_missing_sensor_does_not_shift_the_mean() -> None:
    sensors, offset = 4, np.array([0.6, 0.2, -0.2, -0.6])
    gap = true_gap(np.array(LEVELS))[:, None] + offset
    frame = pl.DataFrame(
        {
            "speed [rpm]": np.repeat(LEVELS, sensors),
            "gap [mm]": gap.ravel(),
            "sensor": [f"S{i}" for i in range(sensors)] * len(LEVELS),
        }
    ).filter(~((pl.col("sensor") == "S0") & (pl.col("speed [rpm]") > 150.0)))
    points = speed_points(read(frame))
    np.testing.assert_allclose(points.gap / MILLIMETRE, true_gap(np.array(LEVELS)), rtol=1e-12)


# ---------------------------------------------------------------------------------------- with time


def test_holds_are_found_with_their_direction() -> None:
    levels = [*LEVELS, *LEVELS[-2::-1]]
    points = speed_points(read(run(levels)))
    assert points.steady.all()
    up, down = points.direction == "up", points.direction == "down"
    np.testing.assert_allclose(points.speed[up] / RPM, LEVELS, atol=0.01)
    np.testing.assert_allclose(points.speed[down] / RPM, LEVELS[:-1], atol=0.01)
    error = np.abs(points.gap / MILLIMETRE - true_gap(points.speed / RPM))
    assert (error < 4.0 * points.standard_error / MILLIMETRE).all()
    np.testing.assert_allclose(points.standard_error / MILLIMETRE, 0.03 / np.sqrt(4 * 120), rtol=0.5)
    (note,) = [note for note in points.notes if "Run-up" in note]
    assert "7 holds are used" in note
    left = int(note.split("; ")[1].split(" of ")[0])
    of = int(note.split(" of ")[1].split(" ")[0])
    assert "left out" in note
    assert 0 < left < of


def test_readings_off_the_holds_are_counted_among_what_is_left_out() -> None:
    time = np.arange(0.0, 800.0, 1.0)
    speed = np.repeat(np.linspace(40.0, 180.0, 8), 100)
    speed[55:60] = np.nan
    time, speed = time[np.isfinite(speed)], speed[np.isfinite(speed)]
    speed[150:154] += 9.0  # four moments off their hold
    points = speed_points(read(pl.DataFrame({"time [s]": time, "speed [rpm]": speed, "gap [mm]": true_gap(speed)})))
    read_moments, used = time.size, int(points.count.sum())
    (note,) = [note for note in points.notes if "left out" in note]
    assert f"{read_moments - used} of {read_moments} moments" in note


def test_a_steady_ramp_is_cut_into_pieces_and_follows_the_curve() -> None:
    time = np.arange(0.0, 1200.0, 0.5)
    speed = np.interp(time, [0.0, 600.0, 1200.0], [0.0, 200.0, 0.0])
    gap = true_gap(speed) + np.random.default_rng(5).normal(0.0, 0.02, time.size)
    points = speed_points(read(pl.DataFrame({"time [s]": time, "speed [rpm]": speed, "gap [mm]": gap})))
    assert not points.steady.any()
    assert 100 <= points.gap.size <= 140
    for way in ("up", "down"):
        here = points.direction == way
        assert 50 <= here.sum() <= 70
    # within a piece of 3.3 rpm the mean of speed squared exceeds the square of the mean by 1 rpm^2: negligible
    pull = (points.gap / MILLIMETRE - true_gap(points.speed / RPM)) / (points.standard_error / MILLIMETRE)
    assert np.nanstd(pull) < 1.6


def test_few_holds_bring_the_ramps_in() -> None:
    frame = run([20.0, 100.0, 180.0])
    points = speed_points(read(frame))
    assert int(points.steady.sum()) == 3
    assert (~points.steady).sum() > 20
    assert any("3 holds" in note and "ramp" in note for note in points.notes)
    assert speed_points(read(frame), ramps=False, least_points=3).steady.all()


def test_rows_out_of_order_and_repeated_stamps_change_nothing() -> None:
    frame = run()
    mixed = frame.sample(fraction=1.0, shuffle=True, seed=2)
    one, two = speed_points(read(frame)), speed_points(read(mixed))
    np.testing.assert_allclose(one.gap, two.gap, rtol=1e-12)
    np.testing.assert_allclose(one.standard_error, two.standard_error, rtol=1e-9)
    assert any(re.match(r"Time runs backwards \d+ times from row to row", note) for note in two.notes)
    last_first = speed_points(read(pl.concat([frame[-40:], frame[:-40]])))
    assert any(note.startswith("Time runs backwards once from row to row") for note in last_first.notes)
    twice = speed_points(read(pl.concat([frame, frame])))
    np.testing.assert_allclose(twice.gap, one.gap, rtol=1e-12)


def test_breaks_in_time_are_told_and_not_bridged() -> None:
    frame = run()
    time = frame["time [s]"].to_numpy()
    later = frame.with_columns(pl.Series("time [s]", time + 3600.0 * (time > 500.0)))
    points = speed_points(read(later))
    assert any("break" in note and "3601" in note for note in points.notes)


def test_readings_far_apart_are_taken_as_settled_points_with_direction_from_their_order() -> None:
    levels = np.array([20.0, 60.0, 100.0, 140.0, 180.0, 140.0, 100.0, 60.0])
    frame = pl.DataFrame({"time [s]": np.arange(8) * 300.0, "speed [rpm]": levels, "gap [mm]": true_gap(levels)})
    points = speed_points(read(frame))
    assert points.direction.tolist() == ["up"] * 5 + ["down"] * 3
    assert points.steady.all()


def test_outliers_do_not_move_the_mean_and_are_counted() -> None:
    clean, frame = run(seed=8), run(seed=8)
    random = np.random.default_rng(9)
    spikes = random.random(frame.height) < 0.01
    spoilt = frame.with_columns(pl.Series("gap [mm]", frame["gap [mm]"].to_numpy() - 4.0 * spikes))
    one, two = speed_points(read(clean)), speed_points(read(spoilt))
    np.testing.assert_allclose(two.gap, one.gap, atol=1e-6)
    assert abs(int(two.outliers.sum()) - int(spikes.sum())) <= 0.3 * spikes.sum()
    assert (two.minimum > one.minimum - 1e-5).all()


def test_planes_can_be_kept_apart() -> None:
    upper = run(seed=1).with_columns(plane=pl.lit("upper"))
    lower = run(seed=2).with_columns(pl.col("gap [mm]") - 0.5, plane=pl.lit("lower"))
    recording = read(pl.concat([upper, lower]))
    together, apart = speed_points(recording), speed_points(recording, by_plane=True)
    assert together.plane.tolist() == [""] * len(LEVELS)
    np.testing.assert_allclose(
        (apart.gap[apart.plane == "upper"] - apart.gap[apart.plane == "lower"]) / MILLIMETRE, 0.5, atol=0.02
    )
    mean = (apart.gap[apart.plane == "upper"] + apart.gap[apart.plane == "lower"]) / 2
    np.testing.assert_allclose(together.gap, mean, atol=1e-9)


def test_temperatures_are_averaged_per_point() -> None:
    frame = run().with_columns((30.0 + pl.col("time [s]") / 100.0).alias("stator_temperature [degC]"))
    points = speed_points(read(frame))
    np.testing.assert_allclose(points.stator_temperature, 303.15 + points.time / 100.0, atol=1e-6)


def test_a_long_run_is_sampled_and_summed_exactly() -> None:
    """More rows than the sample holds: the means must be those of all rows, recomputed here with numpy."""
    time, speed = history(LEVELS, hold=1200.0, step=0.05)
    sensors = 4
    random = np.random.default_rng(11)
    gap = true_gap(speed)[:, None] + 0.03 * random.standard_normal((time.size, sensors))
    frame = pl.DataFrame(
        {
            "time [s]": np.repeat(time, sensors),
            "speed [rpm]": np.repeat(speed, sensors),
            "gap [mm]": gap.ravel(),
            "sensor": [f"G{i}" for i in range(sensors)] * time.size,
        }
    )
    recording = read(frame)
    assert recording.sample.height < frame.height
    points = speed_points(recording)
    for level, mean, count in zip(LEVELS, points.gap / MILLIMETRE, points.count, strict=True):
        here = speed == level
        assert abs(count - here.sum() * sensors) < 0.03 * here.sum() * sensors
        assert mean == pytest.approx(gap[here].mean(), abs=3e-4)


# --------------------------------------------------------------------------------------- bad input


def test_fewer_than_five_points_are_refused() -> None:
    frame = pl.DataFrame({"speed [rpm]": [20.0, 40.0, 60.0, 80.0], "gap [mm]": [15.0, 14.9, 14.8, 14.7]})
    with pytest.raises(RecordingError, match=r"only 4 speed points \(20, 40, 60, 80 rpm\), at least 5"):
        speed_points(read(frame))


def test_three_speeds_both_ways_are_still_three() -> None:
    frame = pl.DataFrame(
        {
            "speed [rpm]": [20.0, 40.0, 60.0, 60.1, 40.1, 20.1],
            "gap [mm]": [15.0, 14.9, 14.8, 14.8, 14.9, 15.0],
            "direction": ["up"] * 3 + ["down"] * 3,
        }
    )
    with pytest.raises(RecordingError, match="only 6 speed points"):
        speed_points(read(frame))


def test_changes_of_gap_reduce_like_gaps() -> None:
    speed = np.array(LEVELS)
    change = true_gap(speed) - true_gap(speed[0])
    points = speed_points(read(pl.DataFrame({"speed [rpm]": speed, "gap_change [mm]": change})))
    assert points.is_change
    np.testing.assert_allclose(points.gap / MILLIMETRE, change, atol=1e-12)


def test_directions_mixed_without_label_are_told() -> None:
    speed = np.array([*LEVELS, *LEVELS[::-1]])
    notes = speed_points(read(pl.DataFrame({"speed [rpm]": speed, "gap [mm]": true_gap(speed)}))).notes
    assert any("cannot be distinguished" in note and "rises and falls" in note for note in notes)


def test_excited_and_unexcited_readings_together_are_told() -> None:
    gap, excitation = true_gap(np.array(LEVELS)), ["off"] + ["on"] * 6
    frame = pl.DataFrame({"speed [rpm]": LEVELS, "gap [mm]": gap, "excitation": excitation})
    assert any("excitation" in note and "evaluate them separately" in note for note in speed_points(read(frame)).notes)


def test_holds_read_every_ten_seconds_are_found() -> None:
    points = speed_points(read(run(hold=180.0, ramp=60.0, step=10.0)), ramps=False)
    assert points.steady.all()
    np.testing.assert_allclose(points.speed / RPM, LEVELS, atol=0.5)


# -------------------------------------------------------------------------------------- properties


@settings(deadline=None, max_examples=25)
@given(st.permutations(range(12)), st.floats(0.1, 10.0))
def test_order_of_rows_and_scale_of_speed_do_not_matter(order: list[int], scale: float) -> None:
    speed, gap = np.linspace(10.0, 200.0, 12), true_gap(np.linspace(10.0, 200.0, 12))
    frame = pl.DataFrame({"speed [rpm]": scale * speed[order], "gap [mm]": gap[order]})
    points = speed_points(read(frame))
    np.testing.assert_allclose(points.gap / MILLIMETRE, gap, rtol=1e-12)
    np.testing.assert_allclose(points.speed / RPM, scale * speed, rtol=1e-12)
