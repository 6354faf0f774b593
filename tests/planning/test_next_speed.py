"""The next speed: information that is right, and never a speed that the plan does not allow."""

from dataclasses import replace

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.behaviour import float_speed, sweep
from rimmodel.planning.next_speed import _worth, allowed_speeds, next_speed
from rimmodel.planning.proving_run import run_plan
from rimmodel.units import RPM

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
def test_a_reading_that_hangs_on_nothing_tells_nothing():
    weight = np.full(50, 0.02)
    bits, after = _worth(weight, np.linspace(1.0, 2.0, 50), np.zeros(50), np.ones(50))
    assert bits == pytest.approx(0.0, abs=1e-3)
    assert after == pytest.approx(np.linspace(1.0, 2.0, 50).std(), rel=0.01)


@pytest.mark.parametrize("fastest", [30.0, 100.0, 150.0, 205.0])
def test_no_speed_lies_beyond_the_next_step_of_the_plan(fastest):
    plan = run_plan(CASE, "cold")
    speeds, notes = allowed_speeds(CASE, "cold", fastest * RPM)
    assert speeds.max() <= min(plan.highest_speed, plan.reaches) * (1.0 + 1e-9)
    beyond = plan.speed[plan.speed > 1.005 * fastest * RPM]
    if len(beyond):
        assert speeds.max() <= beyond[0] * (1.0 + 1e-9)
    else:
        assert any("last speed" in note for note in notes)


def test_the_stop_line_ends_the_speeds():
    gap = CASE.rotor.air_gap
    tight = replace(CASE, rotor=replace(CASE.rotor, air_gap=replace(gap, minimum_allowed=0.9 * float(gap.cold))))
    plan = run_plan(tight, "cold")
    assert plan.reaches < plan.speed[-1]
    speeds, notes = allowed_speeds(tight, "cold", 0.999 * plan.reaches)
    assert speeds.max() <= plan.reaches * (1.0 + 1e-9)
    assert any("stop line" in note for note in notes)
    without = replace(CASE, rotor=replace(CASE.rotor, air_gap=replace(gap, minimum_allowed=None)))
    assert any("no stop line" in note for note in allowed_speeds(without, "cold", 50 * RPM)[1])


def test_the_speed_that_tells_most_lies_about_a_lift_off_that_is_half_known():
    lift = float(float_speed(CASE.rotor, COLD).speed)
    speed = np.concatenate([np.linspace(0.2, 0.9, 8), [1.15]]) * lift
    rng = np.random.default_rng(6)
    gap = sweep(CASE.rotor, COLD, speed).air_gap + 1e-5 * rng.normal(size=len(speed))
    candidates = np.linspace(0.25, 1.15, 7) * lift
    found = next_speed(CASE.rotor, COLD, speed, np.full(len(speed), "up"), gap, candidates, 1.3 * lift)
    assert (found.information >= 0.0).all()
    assert 0.85 * lift < found.best <= 1.15 * lift
    assert found.uncertainty.min() < found.present
