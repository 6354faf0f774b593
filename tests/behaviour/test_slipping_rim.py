"""A rim that slips: its signature in the floating slope, growth left after the first overspeed, bedding told apart."""

from dataclasses import replace

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.behaviour.contact.slip import Clamping, slip_run

CASE = rm.example_case()
COLD, ROTOR = CASE.conditions["cold"], CASE.rotor
WEAK = Clamping(1.4e5, 120, 0.2, 0.4, 4e-3, 0.4)  # slips from 61 MPa on; invented
STRONG = replace(WEAK, stud_force=1.4e6)
UP = np.linspace(0.0, 1.65 * float(ROTOR.speeds.rated), 45)
PATH = np.concatenate([UP, UP[-2::-1], UP[1:]])


@pytest.fixture(scope="module")
def run():
    return slip_run(ROTOR, COLD, PATH, WEAK)


@pytest.mark.independent
def test_a_stack_that_holds_is_the_rim_of_the_sweep():
    held = slip_run(ROTOR, COLD, UP, STRONG)
    states = rm.sweep(ROTOR, COLD, UP)
    assert held.air_gap == pytest.approx(states.air_gap, rel=1e-12)
    assert held.residual_interference == pytest.approx(states.residual_interference, abs=1e-15)
    assert not held.slips.any()


@pytest.mark.derived
def test_the_floating_slope_steepens_by_what_the_slipping_stack_lacks(run):
    up = len(UP)
    limit = float(WEAK.slip_stress(ROTOR))
    assert limit < run.mean_hoop_stress[:up].max()
    loose = (run.residual_interference[:up] < 0) & (run.mean_hoop_stress[:up] > limit)
    assert loose.sum() > 6
    x, gap = UP[loose] ** 2, run.air_gap[:up][loose]
    slope = np.polyfit(x, gap, 1)[0]
    ring = ROTOR.rim.ring
    hoop = float(ring.young_modulus * ring.hoop_stiffness_factor)
    radius = (float(ROTOR.rim.inner_radius) + float(ROTOR.rim.outer_radius)) / 2
    per_squared = np.polyfit(x, run.mean_hoop_stress[:up][loose], 1)[0]
    extra = per_squared * radius * (1 / WEAK.slipping_share - 1) / hoop
    held = float(coefficients(ROTOR, COLD).floating.per_speed_squared)
    assert slope == pytest.approx(-(held + extra), rel=1e-9)


def test_the_first_overspeed_leaves_a_growth_and_the_second_none(run):
    up = len(UP)
    standstill = run.slip_growth[2 * up - 2]
    assert standstill > 0.1e-3
    assert run.air_gap[0] - run.air_gap[2 * up - 2] > 0
    second = run.slips[2 * up - 1 :]
    assert not second.any()  # shaken down: the stack is as stiff as unslipped from then on
    assert run.residual_interference[2 * up - 2] < run.residual_interference[0]


def test_bedding_and_slip_are_told_apart_by_the_floating_gap(run):
    # both lose the same interference; only slip narrows the gap of the floating rim
    up = len(UP)
    lost = run.residual_interference[0] - run.residual_interference[2 * up - 2]
    bedded = replace(ROTOR, fit=replace(ROTOR.fit, settlement=lost))
    states = rm.sweep(bedded, COLD, UP)
    fresh = rm.sweep(ROTOR, COLD, UP)
    top = -1
    assert states.residual_interference[top] < 0
    assert states.air_gap[top] == pytest.approx(fresh.air_gap[top], rel=1e-12)
    after = run.air_gap[2 * up - 1 :][top]
    assert fresh.air_gap[top] - after == pytest.approx(run.slip_growth[top], rel=1e-9)
    assert run.slip_growth[top] > 0.9 * lost


def test_what_it_cannot_follow_is_refused():
    with pytest.raises(ValueError, match="without field"):
        slip_run(ROTOR, CASE.conditions["hot"], UP, WEAK)
