"""The shared errors of the axes of a chart in a fit: through the table, into the lift-off, and needed for coverage."""

from dataclasses import replace

import numpy as np
import polars as pl
import pytest

import rimmodel as rm
from rimmodel.behaviour import float_speed, sweep
from rimmodel.evidence.chart.lift_off import axis_doubt, axis_reach, with_axes
from rimmodel.evidence.chart.shared_columns import shared_errors
from rimmodel.evidence.knee.fit import fit_knee
from rimmodel.evidence.measured.machine import AXES, NOISE
from rimmodel.evidence.measured.measure import chosen_points, measure_points, with_case
from rimmodel.evidence.recording.read import RecordingError, read_recording
from rimmodel.evidence.reduction.speed_points import speed_points
from rimmodel.rotor.requirements import CaseRecord
from rimmodel.units import RPM, in_mm, in_rpm
from tests.benchmarks import chart_calibration
from tests.evidence.virtual_fits import SURE

CASE = rm.example_case()
COLD = CASE.conditions["cold"]
SPEED = np.linspace(0.1, 1.25, 40) * float(float_speed(CASE.rotor, COLD).speed)


def chart(axis_speed, axis_gap, noise=0.002, seed=1):
    """A table read off a chart of the built-in machine, its axes with the given errors (rad/s, m)."""
    rng = np.random.default_rng(seed)
    gap = sweep(CASE.rotor, COLD, SPEED).air_gap
    columns = {"speed [rpm]": in_rpm(SPEED), "gap [mm]": in_mm(gap) + noise * rng.normal(size=len(SPEED))}
    for number, (a, b) in enumerate(zip(axis_speed, axis_gap, strict=True), start=1):
        columns[f"axis_speed_{number} [rpm]"] = in_rpm(np.broadcast_to(a, SPEED.shape))
        columns[f"axis_gap_{number} [mm]"] = in_mm(np.broadcast_to(b, SPEED.shape))
    return read_recording(pl.DataFrame(columns))


def measured(recording):
    return measure_points(CASE.rotor, COLD, speed_points(recording), "cold")


def reach(recording):
    points = speed_points(recording)
    whole = measure_points(CASE.rotor, COLD, points, "cold")
    return whole, axis_reach(whole.fits[""], chosen_points(points, whole.knees[""].used))


@pytest.mark.derived
def test_a_speed_axis_stretched_by_one_per_cent_moves_lift_off_by_one_and_interference_by_less_than_two():
    """Lift-off is read on that axis, and interference goes with its square at the stiffness that is fitted with it."""
    whole, found = reach(chart([0.01 * SPEED], [0.0]))
    assert found.lift_off == pytest.approx(0.01 * whole.float_speed, rel=0.02)
    low, high = whole.float_speed_interval
    alone = whole.fits[""].float_speed_interval[""]
    expected = whole.float_speed - np.hypot(whole.float_speed - alone[0], 1.959964 * found.lift_off)
    assert low == pytest.approx(expected, rel=1e-9)
    assert high - low > 1.5 * (alone[1] - alone[0])
    assert 0.0 < found.interference < 0.021 * whole.interference


@pytest.mark.derived
def test_an_offset_of_the_gap_axis_moves_nothing():
    """The level of the gaps is free in a fit."""
    _, found = reach(chart([0.0], [1e-4]))
    assert found.lift_off < 1e-4 * SPEED.max()
    assert found.interference < 1e-7


@pytest.mark.derived
def test_an_offset_of_the_speed_axis_moves_lift_off_by_about_as_much():
    whole, found = reach(chart([0.1], [0.0]))
    assert found.lift_off == pytest.approx(0.1, rel=0.35)
    assert whole.float_speed > 0.0


@pytest.mark.independent
def test_the_first_order_is_that_of_a_fit_to_moved_points():
    size = 0.02 * SPEED
    recording = chart([size], [0.0], noise=0.0005)
    whole, found = reach(recording)
    points = speed_points(recording)
    there = measure_points(CASE.rotor, COLD, replace(points, speed=points.speed + points.axis_speed[:, 0]), "cold")
    assert abs(there.float_speed - whole.float_speed) == pytest.approx(found.lift_off, rel=0.03)
    # what is left of the interference is the small difference of two large moves, of speed squared and of stiffness
    moves = 2.0 * 0.02 * whole.interference
    assert abs(there.interference - whole.interference) == pytest.approx(found.interference, abs=0.03 * moves)


def test_the_axes_are_a_cause_of_their_own_in_every_number_by_test():
    plain, whole = (
        with_case(measured(one), CASE, CaseRecord("chart.csv", "cold"))
        for one in (chart([], []), chart([0.02 * SPEED], [0.0]))
    )
    assert AXES not in plain.float_speeds["cold"].parts
    low, high = whole.float_speeds["cold"].parts[AXES]
    assert low == pytest.approx(1.96 * 0.02 * whole.float_speed, rel=0.1)
    assert high == pytest.approx(low, rel=0.2)
    assert whole.float_speeds["cold"].parts[NOISE] == pytest.approx(plain.float_speeds["cold"].parts[NOISE], rel=0.05)
    width, narrow = (np.ptp(one.interference_interval) for one in (whole, plain))
    assert width > narrow
    assert any("axes" in note for note in whole.notes)


def test_a_bound_alone_moves_with_the_speed_axis():
    seated = CASE.rotor.with_interference(4.0 * CASE.rotor.fit.interference)
    gap = sweep(seated, COLD, SPEED).air_gap
    table = {"speed [rpm]": in_rpm(SPEED), "gap [mm]": in_mm(gap) + 0.004 * np.random.default_rng(2).normal(size=40)}
    table |= {"axis_speed_1 [rpm]": in_rpm(0.03 * SPEED), "axis_gap_1 [mm]": 0.0 * SPEED}
    points = speed_points(read_recording(pl.DataFrame(table)))
    whole = measure_points(CASE.rotor, COLD, points, "cold", freedom=SURE)
    low, high = whole.fits[""].float_speed_interval[""]
    assert not np.isfinite(high)
    assert low > 0.0
    moved, still_open = with_axes(whole.fits[""], chosen_points(points, whole.knees[""].used)).float_speed_interval
    assert moved == pytest.approx(low * (1.0 - 1.959964 * 0.03), rel=1e-6)
    assert still_open == np.inf


def test_the_errors_stay_with_the_points_through_the_table():
    axis = [0.02 * SPEED, 0.1 + 0.0 * SPEED]
    recording = chart(axis, [1e-5, -2e-5])
    points = speed_points(recording)
    np.testing.assert_allclose(points.axis_speed, np.transpose(axis), rtol=1e-9)
    np.testing.assert_allclose(points.axis_gap, np.tile([1e-5, -2e-5], (40, 1)), rtol=1e-9)
    some = chosen_points(points, points.speed > 10.0)
    assert some.axis_speed.shape == (len(some.speed), 2)
    speeds, gaps = shared_errors(recording.sample, np.array([12.0]))
    assert speeds[0] == pytest.approx([0.24, 0.1], rel=1e-6)
    assert gaps.shape == (1, 2)
    assert speed_points(chart([], [])).axis_speed.shape == (40, 0)


def test_a_lost_column_of_the_axes_is_not_passed_over():
    whole = chart([0.02 * SPEED], [0.0]).sample
    table = pl.DataFrame({"speed [rpm]": whole["speed"] / RPM, "gap [mm]": 1e3 * whole["gap"],
                          "axis_gap_1 [mm]": 1e3 * whole["axis_gap_1"]})  # fmt: skip
    with pytest.raises(RecordingError, match=r"axis_gap_1 \[mm\].* no partner"):
        read_recording(table)


@pytest.mark.independent
def test_scanned_charts_cover_the_lift_off_and_only_with_the_errors_of_their_axes():
    """The form in small of `tests/benchmarks/chart_calibration.py`, which states the coverage for 500 charts."""
    found = chart_calibration.outcomes(8301, 10)
    held, without = (sum(getattr(row, name) for row in found) for name in ("held", "held_without"))
    assert held >= 8
    assert without <= 6
    assert np.median([row.width for row in found]) < 0.06


@pytest.mark.derived
@pytest.mark.parametrize(("share", "doubted"), [(0.0, False), (0.30, False), (0.36, True), (1.0, True)])
def test_a_bend_that_the_axes_can_make_by_themselves_decides_nothing(share, doubted):
    """An error of the axes in the very shape of the bend makes that share of it, and three times may happen."""
    recording = chart([0.0], [0.0], noise=0.0005)
    points = speed_points(recording)
    knee = fit_knee(points.speed**2, points.gap)
    assert knee.verdict == "resolved"
    bend = knee.slope_after - knee.slope_before
    rise = share * bend * np.maximum(points.speed**2 - knee.position, 0.0)
    known = replace(points, axis_gap=rise[:, None])
    assert bool(axis_doubt(knee, known)) is doubted
    whole = measure_points(CASE.rotor, COLD, known, "cold")
    assert (whole.verdict == "not resolvable") is doubted
    assert any("axes of the chart can make" in words for words in whole.disqualified) is doubted
