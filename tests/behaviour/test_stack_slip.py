"""A clamped stack in its first overspeed, over all clamping that is possible: slip speed, growth, float speed after."""

from dataclasses import replace

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.behaviour.contact.slip import Clamping, slip_run
from rimmodel.behaviour.contact.stack_slip import clampings, slip_speed, stack_slip
from rimmodel.rotor.clamping import ClampedStack

CASE = rm.example_case()
COLD, HOT, ROTOR = CASE.conditions["cold"], CASE.conditions["hot"], CASE.rotor
RATED, TOP = float(ROTOR.speeds.rated), float(ROTOR.speeds.runaway)
WEAK = Clamping(1.4e5, 120, 0.2, 0.4, 4e-3, 0.4)  # invented
STACK = ClampedStack((1.4e5, 3e5), 120, (0.15, 0.25), 0.4, 4e-3, (0.4, 0.7))
KNOWN = ClampedStack((1.4e5, 1.4e5), 120, (0.2, 0.2), 0.4, 4e-3, (0.4, 0.4))


@pytest.mark.derived
def test_the_laminations_slip_from_the_speed_at_which_the_run_says_so():
    speed = slip_speed(ROTOR, COLD, WEAK, TOP)
    assert 0 < speed < TOP
    # the same run in small steps: it slips just beyond, and not just below
    below, beyond = (slip_run(ROTOR, COLD, [0.0, share * speed], WEAK) for share in (0.999, 1.001))
    assert not below.slips.any()
    assert beyond.slips[-1]
    assert below.mean_hoop_stress[-1] == pytest.approx(float(WEAK.slip_stress(ROTOR)), rel=2e-3)


@pytest.mark.derived
def test_few_steps_leave_what_many_do():
    few = stack_slip(ROTOR, COLD, KNOWN, TOP)
    up = np.linspace(0.0, TOP, 30)
    many = slip_run(ROTOR, COLD, np.concatenate([up, up[-2::-1]]), WEAK)
    assert few.growth == pytest.approx((many.slip_growth[-1],) * 2, rel=1e-6)
    assert few.interference == pytest.approx((many.residual_interference[-1],) * 2, rel=1e-6)
    assert few.interference_before - few.interference[0] == pytest.approx(few.growth[0], rel=1e-9)


@pytest.mark.derived
def test_the_float_speed_after_it_is_that_of_the_second_run():
    # of a run so slow that the stack still has interference after it
    speed = 1.2 * slip_speed(ROTOR, COLD, WEAK, TOP)
    found = stack_slip(ROTOR, COLD, KNOWN, speed)
    after = found.float_speed[0]
    before = float(rm.float_speed(ROTOR, COLD).speed)
    assert 0 < after < before
    if after < speed:  # the second run holds up to there: interference is used up just at that speed
        again = slip_run(ROTOR, COLD, [0.0, speed, 0.0, after], WEAK)
        assert again.residual_interference[-1] == pytest.approx(0.0, abs=1e-9)
    share = (found.interference[0] / found.interference_before) ** 0.5
    assert after == pytest.approx(before * share, rel=1e-9)  # float speed goes with the root of the interference


def test_ranges_hold_every_clamping_between_their_ends():
    found = stack_slip(ROTOR, COLD, STACK, TOP)
    rng = np.random.default_rng(16)
    for _ in range(12):
        force, friction, share = (rng.uniform(*pair) for pair in ((1.4e5, 3e5), (0.15, 0.25), (0.4, 0.7)))
        one = stack_slip(ROTOR, COLD, ClampedStack((force,) * 2, 120, (friction,) * 2, 0.4, 4e-3, (share,) * 2), TOP)
        assert found.slips_from[0] <= one.slips_from[0] <= found.slips_from[1]
        assert found.growth[0] * (1 - 1e-9) <= one.growth[0] <= found.growth[1] * 1.02
    assert len(clampings(STACK)) == 34


def test_a_stack_that_holds_loses_nothing_and_one_without_clamping_slips_at_once():
    strong = replace(STACK, stud_force=(2e6, 3e6))
    held = stack_slip(ROTOR, COLD, strong, TOP)
    assert held.slips_from == (np.inf, np.inf)
    assert held.growth == (0.0, 0.0)
    assert held.float_speed[0] == pytest.approx(float(rm.float_speed(ROTOR, COLD).speed), rel=1e-12)
    assert stack_slip(ROTOR, COLD, replace(STACK, stud_force=(1e3, 1e3)), TOP).slips_from == (0.0, 0.0)


def test_the_field_counts_in_the_float_speed_alone():
    found = stack_slip(ROTOR, HOT, replace(STACK, stud_force=(2e6, 3e6)), TOP)
    assert found.float_speed[0] == pytest.approx(float(rm.float_speed(ROTOR, HOT).speed), rel=1e-12)
