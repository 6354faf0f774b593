"""The next speed: information that is right, and never a speed that the plan does not allow."""

from dataclasses import replace

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.behaviour import float_speed, sweep
from rimmodel.evidence.interim.course import Schedule, course, log_likelihoods
from rimmodel.planning.next_speed import (
    _foretold_readings,
    _worth,
    allowed_speeds,
    holdable_step,
    next_speed,
)
from rimmodel.planning.proving_run import run_plan
from rimmodel.units import RPM, in_rpm

CASE = rm.example_case()
COLD = CASE.conditions["cold"]


@pytest.mark.derived
def test_information_of_a_normal_reading_of_a_normal_number_is_half_the_logarithm_of_the_ratio():
    """y = z + e: log2(1 + var z/var e)/2 bits, and 1/var = 1/var z + 1/var e afterwards."""
    lift = np.linspace(-6.0, 6.0, 601)
    weight = np.exp(-0.5 * lift**2)
    bits, after = _worth(weight / weight.sum(), lift, lift, np.full(601, 0.5**2))
    assert bits == pytest.approx(0.5 * np.log2(1.0 + 4.0), rel=0.01)
    assert after == pytest.approx((1.0 + 4.0) ** -0.5, rel=0.02)


@pytest.mark.derived
def test_a_reading_that_depends_on_nothing_tells_nothing():
    weight = np.full(50, 0.02)
    bits, after = _worth(weight, np.linspace(1.0, 2.0, 50), np.zeros(50), np.ones(50))
    assert bits == pytest.approx(0.0, abs=1e-3)
    assert after == pytest.approx(np.linspace(1.0, 2.0, 50).std(), rel=0.01)


@pytest.mark.parametrize("fastest", [30.0, 100.0, 150.0, 205.0])
def test_no_speed_lies_beyond_the_next_step_of_the_plan(fastest):
    plan = run_plan(CASE, "cold")
    speeds, _, notes = allowed_speeds(CASE, "cold", np.array([fastest]) * RPM)
    assert speeds.max() <= min(plan.highest_speed, plan.reaches) * (1.0 + 1e-9)
    beyond = plan.speed[plan.speed > 1.005 * fastest * RPM]
    if len(beyond):
        # a step of the plan that lies closer than can be held apart gives way to the next round speed
        closest = fastest * RPM + 1.75 * holdable_step(float(CASE.rotor.speeds.rated))
        assert speeds.max() <= max(beyond[0], closest if beyond[0] < closest else 0.0) * (1.0 + 1e-9)
    else:
        assert any("the last speed that may be run" in note for note in notes)


READ = np.array([6.0, 31.0, 47.5, 62.0, 80.0, 95.2, 110.0, 125.0, 140.0])
"""A run-up of the built-in machine, rpm, to 112 % of its rated speed."""


@pytest.mark.parametrize("points", [20, 300])
@pytest.mark.parametrize("until", [1, 3, 6, 9])
def test_every_speed_can_be_held_and_is_new_or_low(points, until):
    """However close the steps of the plan are."""
    case = replace(CASE, plan=replace(CASE.plan, points=points))
    read, rated = READ[:until], in_rpm(float(CASE.rotor.speeds.rated))
    speeds = in_rpm(allowed_speeds(case, "cold", read * RPM)[0])
    step = in_rpm(holdable_step(rated * RPM))
    assert step == pytest.approx(2.0)
    assert speeds.min() >= 0.24 * rated
    apart = np.abs(speeds[:, None] - read).min(axis=1)
    repeated = apart < 0.75 * step - 1e-6
    assert (speeds[repeated] <= 0.5 * read.max() + 0.5).all()
    new = speeds[~repeated & (np.abs(speeds - rated) > 1e-6)]
    np.testing.assert_allclose(new / step, np.round(new / step), atol=1e-6)
    assert (np.diff(speeds) >= 0.5 * step - 1e-6).all()
    assert speeds.max() > read.max()
    assert speeds.max() <= max(plan_step_after(case, read.max()), read.max() + 1.75 * step)


def plan_step_after(case, fastest):
    steps = in_rpm(run_plan(case, "cold").speed)
    return steps[steps > 1.005 * fastest][0]


def test_no_speed_above_the_agreed_speed_is_compared_where_the_run_went_beyond_it():
    agreed = replace(CASE, plan=replace(CASE.plan, highest_speed=133.0 * RPM))
    speeds, last, notes = allowed_speeds(agreed, "cold", READ * RPM)
    assert last <= 133.0 * RPM
    assert speeds.max() <= 133.0 * RPM
    assert any("beyond 133 rpm" in note for note in notes)
    assert not any("beyond 133 rpm" in note for note in allowed_speeds(agreed, "cold", READ[:5] * RPM)[2])


def test_a_low_speed_once_more_is_said_to_be_one():
    """A drift that is not known bends the line of a run-up: only a speed where nothing else changes tells it."""
    speed = np.array([32.0, 60.0, 90.0, 120.0, 150.0, 170.0, 185.0, 200.0]) * RPM
    gap = sweep(CASE.rotor, COLD, speed).air_gap
    schedule = Schedule(speed, np.full(8, "up"), 1500.0 * np.arange(8.0))
    candidates = np.array([32.0, 60.0, 160.0, 178.0, 192.0]) * RPM
    found = next_speed(CASE.rotor, COLD, schedule, gap, candidates, 205.0 * RPM)
    assert found.repeated.tolist() == [True, True, False, False, False]
    assert found.repeats == (in_rpm(found.best) < 61.0)


def test_the_stop_line_ends_the_speeds():
    gap = CASE.rotor.air_gap
    tight = replace(CASE, rotor=replace(CASE.rotor, air_gap=replace(gap, minimum_allowed=0.9 * float(gap.cold))))
    plan = run_plan(tight, "cold")
    assert plan.reaches < plan.speed[-1]
    speeds, last, notes = allowed_speeds(tight, "cold", np.array([0.999 * plan.reaches]))
    assert speeds.max() <= plan.reaches * (1.0 + 1e-9)
    assert any("stop line" in note for note in notes)
    without = replace(CASE, rotor=replace(CASE.rotor, air_gap=replace(gap, minimum_allowed=None)))
    assert last == plan.reaches
    _, last, notes = allowed_speeds(without, "cold", np.array([50 * RPM]))
    assert np.isnan(last)
    assert any("no stop line" in note for note in notes)


def test_the_speed_that_tells_most_lies_about_a_lift_off_that_is_half_known():
    lift = float(float_speed(CASE.rotor, COLD).speed)
    speed = np.concatenate([np.linspace(0.2, 0.9, 8), [1.15]]) * lift
    rng = np.random.default_rng(6)
    gap = sweep(CASE.rotor, COLD, speed).air_gap + 1e-5 * rng.normal(size=len(speed))
    candidates = np.linspace(0.25, 1.15, 7) * lift
    schedule = Schedule(speed, np.full(len(speed), "up"), 10.0 * np.arange(len(speed)))
    found = next_speed(CASE.rotor, COLD, schedule, gap, candidates, 1.3 * lift)
    assert (found.information >= 0.0).all()
    assert 0.85 * lift < found.best <= 1.15 * lift
    assert found.uncertainty.min() < found.present


def test_no_speed_is_recommended_where_none_is_expected_to_narrow_the_lift_off():
    speed = np.linspace(20.0, 60.0, 6) * RPM
    gap = sweep(CASE.rotor, COLD, speed).air_gap
    schedule = Schedule(speed, np.full(6, "up"), np.full(6, np.nan))
    found = next_speed(CASE.rotor, COLD, schedule, gap, speed[-2:], 220.0 * RPM)  # once more what was read last
    assert found.uncertainty.min() > (1.0 - found.least_gain) * found.present
    assert not found.gains


def test_the_uncertainty_that_is_expected_is_that_of_readings_drawn_and_looked_at():
    """Readings are drawn from the rotors that are left, and each run is looked at anew."""
    lift = float(float_speed(CASE.rotor, COLD).speed)
    speed = np.concatenate([np.linspace(0.2, 0.9, 8), [1.15]]) * lift
    schedule, highest = Schedule(speed, np.full(9, "up"), 10.0 * np.arange(9)), 1.3 * lift
    rng = np.random.default_rng(8)
    gap = sweep(CASE.rotor, COLD, speed).air_gap + 1e-5 * rng.normal(size=9)
    found = next_speed(CASE.rotor, COLD, schedule, gap, np.array([1.05 * lift]), highest)
    longer = course(CASE.rotor, COLD, schedule.with_next(np.array([1.05 * lift])), highest)
    weight, mean, variance = _foretold_readings(longer, gap, 1)
    chosen = rng.choice(len(weight), 200, p=weight)
    read = mean[chosen, 0] + np.sqrt(variance[chosen, 0]) * rng.normal(size=200)
    log = log_likelihoods(longer, np.column_stack([np.tile(gap, (200, 1)), read]))[:, -1] + np.log(longer.weight)
    chance = np.exp(log - log.max(axis=1, keepdims=True))
    chance /= chance.sum(axis=1, keepdims=True)
    lifts = np.minimum(longer.lift_off, highest)
    left = chance @ lifts**2 - (chance @ lifts) ** 2
    assert np.sqrt(left.mean()) == pytest.approx(found.uncertainty[0], rel=0.15)
