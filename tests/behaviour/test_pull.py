"""The pull of the field: by hand, against root finding up to the fold, and where it closes the gap."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from rimmodel.behaviour.contact.coefficients import MAGNETIC_CONSTANT, coefficients
from rimmodel.behaviour.contact.state import contact, lift_off_speed_squared, pulled_gap, solve_gap
from rimmodel.rotor import Condition
from tests.behaviour.invented_rotors import (
    COLD,
    FIXED_FLUX,
    HOT,
    ROTOR,
    changed,
)
from tests.behaviour.second_derivation import Machine


def state(rotor, condition, speed, direction=None):
    return contact(coefficients(rotor, condition, direction), np.asarray(speed, dtype=float) ** 2)


@pytest.mark.derived
def test_mean_pull_by_hand():
    # 1 T peak: B^2/(4 mu0) = 198.94 kPa (mu0 = 1.25663706127e-6, CODATA 2022); on faces 5.0 x 1.7 m, rim 4.5 x 1.8 m
    at = state(ROTOR, Condition(flux_density=1.0, excitation="constant voltage"), 0.0)
    assert pytest.approx(1.25663706127e-6, rel=2e-10) == MAGNETIC_CONSTANT
    assert at.pull == pytest.approx(198943.7 * (5.0 / 4.5) * (1.7 / 1.8), rel=1e-6)
    # at constant current the flux grows as the gap shrinks
    held, grown = (state(ROTOR, c, 25.0) for c in (FIXED_FLUX, HOT))
    assert grown.pull / held.pull == pytest.approx((17e-3 / grown.air_gap) ** 2, rel=1e-12)
    assert grown.air_gap < held.air_gap


@pytest.mark.derived
def test_stator_and_poles_give_under_the_pull():
    bare, core, soft = (
        changed(**parts)
        for parts in (
            {},
            {"air_gap": {"stator_core_depth": 0.4, "stator_core_modulus": 100e9}},
            {"poles": {"radial_stiffness": 5e9}},
        )
    )
    excited = Condition(flux_density=1.0, excitation="constant voltage")
    gap = {key: float(state(r, excited, 0.0).air_gap) for key, r in (("bare", bare), ("core", core), ("soft", soft))}
    # 198943.7 Pa on the bore of 5.017 m: p R^2/(E h) = 0.12518 mm
    assert gap["bare"] - gap["core"] == pytest.approx(198943.7 * 5.017**2 / (100e9 * 0.4), rel=1e-6)
    # 2 pi 5.0 x 1.7 m of faces carry 10.6249 MN, 221.35 kN on each of 48 poles: 0.04427 mm
    assert gap["bare"] - gap["soft"] == pytest.approx(198943.7 * 2 * np.pi * 5.0 * 1.7 / 48 / 5e9, rel=1e-6)
    # by spin each stretches by m r w^2 / k
    assert float(state(bare, COLD, 20.0).air_gap - state(soft, COLD, 20.0).air_gap) == pytest.approx(
        3900.0 * 4.75 * 400.0 / 5e9, rel=1e-9
    )


@pytest.mark.independent
@pytest.mark.parametrize("share", [1e-9, 1e-3, 0.3, 0.9, 1 - 1e-6, 1 - 1e-10])
def test_pulled_gap_against_root_finding_up_to_the_fold(share):
    gap, softening = 0.016, share * 4 / 27 * 0.016**3
    found = brentq(lambda g: g + softening / g**2 - gap, 2 / 3 * gap, gap, xtol=1e-18, rtol=1e-15)
    # near the fold the root moves with the square root of any error
    assert float(pulled_gap(np.asarray(gap), np.asarray(softening))) == pytest.approx(
        found, rel=1e-14 / np.sqrt(1 - share)
    )
    inner = brentq(lambda g: g**3 - gap * g**2 + softening, 0.0, 2 / 3 * gap, xtol=1e-20, rtol=1e-15)
    assert float(pulled_gap(np.asarray(gap), np.asarray(softening), True)) == pytest.approx(
        inner, rel=1e-10, abs=1e-9 * gap
    )


@pytest.mark.independent
@pytest.mark.parametrize("size", [1e-12, 1e-6, 1.0, 1e3])
def test_pulled_gap_that_the_pull_opens(size):
    # below zero: the line of lift-off, where more pull means lift-off at less speed and so at a wider gap
    found = brentq(lambda g: g - size * 0.01**3 / g**2 - 0.01, 0.01, 1.0, xtol=1e-18, rtol=1e-15)
    assert float(pulled_gap(np.asarray(0.01), np.asarray(-size * 0.01**3))) == pytest.approx(found, rel=1e-12)


def test_no_gap_beyond_the_fold_or_behind_the_stator():
    gap = np.array([0.01, 0.01, -0.01, -0.01])
    softening = np.array([4 / 27 * (1 - 1e-9), 4 / 27 * (1 + 1e-9), 0.01, 0.0]) * 1e-6
    ours = pulled_gap(gap, softening)
    assert ours[0] == pytest.approx(2 / 3 * 0.01, rel=1e-4)
    assert np.isnan(ours[1:3]).all()
    assert ours[3] == -0.01  # no field: the plain line, however far


@pytest.mark.derived
@pytest.mark.parametrize("speed", [0.0, 12.0, 30.0])
def test_gap_and_pull_agree_on_both_lines(speed):
    model = coefficients(ROTOR, HOT)
    for line in (model.seated, model.floating):
        gap, pull = solve_gap(line, model, np.asarray(speed**2))
        assert pull * gap**2 == pytest.approx(model.cold_pull * 0.017**2, rel=1e-13)
        plain = line.at_rest - line.per_speed_squared * speed**2 - line.per_traction * pull
        assert gap == pytest.approx(plain, rel=1e-13)


def test_both_lines_meet_at_lift_off():
    model = coefficients(ROTOR, HOT)
    squared, pull = lift_off_speed_squared(model)
    seated, floating = (
        line.at_rest - line.per_speed_squared * squared - line.per_traction * pull
        for line in (model.seated, model.floating)
    )
    assert seated == pytest.approx(floating, rel=1e-13)
    both = contact(model, squared * np.array([1 - 1e-9, 1 + 1e-9]))
    assert both.contact_pressure[0] > 0 == both.contact_pressure[1]
    assert both.air_gap[0] == pytest.approx(both.air_gap[1], rel=1e-8)


@pytest.mark.independent
def test_a_rim_that_the_pull_snaps_shut():
    narrow = changed(air_gap={"cold": 5e-3})
    strong = Condition(flux_density=1.6)
    machine, speeds = Machine(narrow, strong), np.linspace(0.0, 35.0, 36)
    ours = state(narrow, strong, speeds)
    theirs = [machine.state(speed**2) for speed in speeds]
    gone = np.array([found is None for found in theirs])
    assert gone.any()
    assert not gone.all()
    for field in ("air_gap", "pull", "residual_interference", "contact_pressure"):
        np.testing.assert_array_equal(np.isnan(getattr(ours, field)), gone)
    np.testing.assert_allclose(ours.air_gap[~gone], [found.gap for found in theirs if found], rtol=1e-10)


def test_a_machine_without_field_keeps_its_answer_beside_one_with():
    # an unexcited rotor that has outgrown its gap, in an array with an excited one
    speed = np.array([10.0, 60.0])
    alone = state(ROTOR, replace(HOT, flux_density=0.0), speed)
    both = state(ROTOR, replace(HOT, flux_density=np.array([[0.0], [0.95]])), speed)
    assert alone.air_gap[1] < 0
    np.testing.assert_allclose(both.air_gap[0], alone.air_gap, rtol=1e-14)
    np.testing.assert_array_equal(both.pull[0], 0.0)
    assert np.isnan(both.air_gap[1, 1])
