"""What heat, friction and settlement take from the fit and from the gap, by hand."""

import numpy as np
import pytest

from rimmodel import float_speed
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.behaviour.contact.state import contact
from rimmodel.rotor import Condition
from tests.behaviour.invented_rotors import (
    COLD,
    GIVEN,
    ROTOR,
    changed,
)
from tests.behaviour.second_derivation import ring


def state(rotor, condition, speed, direction=None):
    return contact(coefficients(rotor, condition, direction), np.asarray(speed, dtype=float) ** 2)


def left(rotor, condition, direction=None):
    return float(state(rotor, condition, 0.0, direction).residual_interference)


@pytest.mark.derived
def test_interference_lost_to_heat_by_hand():
    # 4 m x (12e-6 x 40 K - 11e-6 x 31 K) = 0.556 mm; 2.1 mm are there (2.4 less 0.3 settled)
    warm = Condition(rim_temperature=333.15, spider_temperature=324.15)
    assert left(ROTOR, COLD) == pytest.approx(2.1e-3, rel=1e-12)
    assert left(ROTOR, warm) == pytest.approx(2.1e-3 - 0.556e-3, rel=1e-10)
    # with one steel for both only the difference of 9 K counts: 4 m x 12e-6 x 9 K = 0.432 mm
    same = changed(spider=GIVEN)
    assert left(same, warm) == pytest.approx(2.1e-3 - 0.432e-3, rel=1e-10)
    assert left(same, Condition(353.15, 353.15)) == pytest.approx(2.1e-3, rel=1e-12)
    # a spider hotter than the rim tightens
    assert left(same, Condition(293.15, 303.15)) == pytest.approx(2.1e-3 + 0.48e-3, rel=1e-10)


@pytest.mark.derived
def test_the_gap_of_an_evenly_warm_machine_grows_like_any_length():
    rotor, warm = changed(spider=GIVEN, fit={"settlement": 0.0}), Condition(343.15, 343.15, None, 343.15)
    assert state(rotor, COLD, 0.0).air_gap == pytest.approx(17e-3, rel=1e-12)
    assert state(rotor, warm, 0.0).air_gap == pytest.approx(17e-3 * (1 + 12e-6 * 50), rel=1e-12)


@pytest.mark.derived
def test_gap_by_heat_of_each_part_by_hand():
    # floating (nothing to hold the rim), so that each part moves alone
    loose = changed(spider=GIVEN, fit={"interference": -1e-3, "settlement": 0.0})
    cold = 17e-3
    rim = Condition(rim_temperature=303.15)  # 12e-6 x 10 K x 5.0 m: rim and, with it, poles
    assert state(loose, rim, 0.0).air_gap == pytest.approx(cold - 0.600e-3, rel=1e-11)
    rim_only = Condition(rim_temperature=303.15, pole_temperature=293.15)  # 4.5 m
    assert state(loose, rim_only, 0.0).air_gap == pytest.approx(cold - 0.540e-3, rel=1e-11)
    poles = Condition(pole_temperature=343.15)  # 12e-6 x 50 K x 0.5 m
    assert state(loose, poles, 0.0).air_gap == pytest.approx(cold - 0.300e-3, rel=1e-11)
    stator = Condition(stator_temperature=333.15)  # 12e-6 x 40 K x 5.017 m
    assert state(loose, stator, 0.0).air_gap == pytest.approx(cold + 2.40816e-3, rel=1e-11)
    other = changed(loose, air_gap={"stator_thermal_expansion": 10e-6})
    assert state(other, stator, 0.0).air_gap == pytest.approx(cold + 2.0068e-3, rel=1e-11)


@pytest.mark.derived
def test_settlement_takes_interference_and_lets_the_rim_spring_back():
    # the cold gap is that of the assembly, so settling opens it by what the rim outside springs back
    settled, new = ROTOR, changed(fit={"settlement": 0.0})
    before, after = state(new, COLD, 0.0), state(settled, COLD, 0.0)
    assert before.air_gap == pytest.approx(17e-3, rel=1e-13)
    field = ring(4.0, 4.5, 0.97 * 206e9, 0.3, 0.0, 0.85, pressure=1.0)
    back = float(before.contact_pressure - after.contact_pressure) * field.displacement(4.5)
    assert after.air_gap - before.air_gap == pytest.approx(back, rel=1e-9)
    assert 0 < back < 0.3e-3
    assert after.contact_pressure / before.contact_pressure == pytest.approx(2.1 / 2.4, rel=1e-12)


@pytest.mark.derived
def test_friction_adds_on_the_way_up_and_takes_on_the_way_down():
    assert left(ROTOR, COLD, "up") == pytest.approx(2.12e-3, rel=1e-12)
    assert left(ROTOR, COLD, "down") == pytest.approx(2.08e-3, rel=1e-12)
    up, none, down = (float(float_speed(ROTOR, COLD, way).speed) for way in ("up", None, "down"))
    assert up > none > down
    assert up**2 - none**2 == pytest.approx(none**2 - down**2, rel=1e-10)
    assert up / none == pytest.approx(np.sqrt(2.12 / 2.1), rel=1e-12)
