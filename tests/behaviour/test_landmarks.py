"""Speeds at which something happens, and their words, against root finding on states that are computed otherwise."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from rimmodel import float_speed, interference_for_float_speed, sweep
from rimmodel.behaviour import CharacteristicSpeed
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.rotor import Condition
from rimmodel.rotor.blocks import BLOCK
from rimmodel.units import MILLIMETRE, RPM
from tests.behaviour.invented_rotors import (
    COLD,
    FIXED_FLUX,
    GIVEN,
    HOT,
    OUTGROWING,
    RIM_STEEL,
    ROTOR,
    SPIDERS,
    bare_fit,
    changed,
    fully_varied,
    in_words,
    single,
)
from tests.behaviour.second_derivation import Machine

CONDITIONS = {"cold": COLD, "hot": HOT, "fixed flux": FIXED_FLUX}
HIGHEST = 50.0**2


# float speed ----------------------------------------------------------------------------------------------------------


@pytest.mark.independent
@pytest.mark.parametrize("name", SPIDERS)
@pytest.mark.parametrize("condition", CONDITIONS)
@pytest.mark.parametrize("direction", [None, "up"])
def test_float_speed_against_the_second_derivation(name, condition, direction):
    rotor = changed(spider=SPIDERS[name], poles={"radial_stiffness": 6e9})
    theirs = Machine(rotor, CONDITIONS[condition], direction).float_speed_squared(HIGHEST)
    ours = float_speed(rotor, CONDITIONS[condition], direction)
    assert ours.speed == pytest.approx(np.sqrt(theirs), rel=1e-11)
    speed, ratio = in_words(ours, "lifts off at # rpm, # x rated")
    assert speed == pytest.approx(float(ours.speed) / RPM, abs=0.051)
    assert ratio == pytest.approx(float(ours.speed) / (115 * RPM), abs=0.00051)


@pytest.mark.derived
def test_float_speed_by_hand():
    # thin ring with poles as heavy as itself, on a spider that does not grow: R delta/w^2 ... delta = 2 rho w^2 R^3/E:
    # 2 x 8000 x 100 x 1000 / 200e9 = 8 mm at 10 rad/s
    steel = replace(RIM_STEEL, young_modulus=200e9, density=8000.0)
    rotor = bare_fit(steel, 0.0, 9.995, 10.005, 8e-3)
    mass = 8000.0 * 2 * np.pi * 10.0 * 0.01 / 20
    rotor = changed(
        rotor, poles={"count": 20, "mass": mass, "mass_radius": 10.0}, spider=replace(GIVEN, growth=0.0, material=None)
    )
    assert float_speed(rotor, COLD).speed == pytest.approx(10.0, rel=1e-3)


def test_beyond_runaway():
    rotor = changed(fit={"interference": 9e-3})
    landmark = float_speed(rotor, COLD)
    theirs = Machine(rotor, COLD)
    assert landmark.speed == pytest.approx(np.sqrt(theirs.float_speed_squared(HIGHEST)), rel=1e-11)
    pattern = r"lifts off at # rpm, # x rated, beyond runaway \(# rpm\): # mm still tight there"
    _, _, runaway, left = in_words(landmark, pattern)
    assert runaway == 230.0
    assert left == pytest.approx(theirs.state((230 * RPM) ** 2).interference / MILLIMETRE, abs=0.0051)
    assert left > 0
    # without a runaway speed the highest that is named is the overspeed
    assert "beyond overspeed (165.0 rpm)" in float_speed(changed(rotor, speeds={"runaway": None}), COLD).note


@pytest.mark.parametrize("condition", CONDITIONS)
def test_floats_at_standstill(condition):
    rotor = changed(fit={"interference": 0.1e-3, "settlement": 0.4e-3})
    landmark = float_speed(rotor, CONDITIONS[condition])
    assert landmark.speed == 0
    (clearance,) = in_words(landmark, "floats at standstill: # mm clearance")
    left = Machine(rotor, CONDITIONS[condition]).state(0.0).interference
    assert clearance == pytest.approx(-left / MILLIMETRE, abs=0.0051)
    assert clearance > 0


def test_just_touching_at_standstill_is_no_negative_clearance():
    landmark = float_speed(changed(fit={"interference": 0.0, "settlement": 0.0}), COLD)
    assert landmark == CharacteristicSpeed(landmark.speed, "floats at standstill: 0.00 mm clearance")
    assert landmark.speed == 0


def test_never_floats():
    rotor = changed(spider=OUTGROWING)
    landmark = float_speed(rotor, COLD)
    assert landmark.speed == np.inf
    pattern = "never floats by speed: the spider grows at least as fast as the rim; # mm still tight at runaway"
    (left,) = in_words(landmark, pattern)
    theirs = Machine(rotor, COLD).state((230 * RPM) ** 2).interference
    assert left == pytest.approx(theirs / MILLIMETRE, abs=0.0051)
    assert left > 2.1  # more than at standstill


def test_never_floats_where_rim_and_spider_grow_alike():
    growth = float(coefficients(changed(spider=replace(GIVEN, growth=0.0)), COLD).net_growth)
    same = changed(spider=replace(GIVEN, growth=growth, growth_speed=1.0))
    assert coefficients(same, COLD).net_growth == 0
    assert float_speed(same, COLD).speed == np.inf
    assert "2.10 mm still tight at runaway" in float_speed(same, COLD).note


def test_a_loose_rim_that_speed_seats():
    rotor = changed(spider=OUTGROWING, fit={"interference": -0.4e-3, "settlement": 0.0})
    landmark = float_speed(rotor, COLD)
    assert landmark.speed == 0
    assert (
        landmark.note
        == "floats at standstill: 0.40 mm clearance and the spider grows faster than the rim: speed seats it"
    )
    assert sweep(rotor, COLD, 40.0).contact_pressure > 0


@pytest.mark.independent
def test_the_pull_alone_lifts_a_rim_that_its_spider_outgrows():
    # what is left is so little that the pull takes it as the gap shrinks, though speed alone would tighten the fit
    rotor = changed(spider=replace(GIVEN, growth=0.0), fit={"settlement": 0.0})
    model = coefficients(rotor, HOT)
    rotor = changed(rotor, spider=replace(GIVEN, growth=1.001 * float(model.net_growth), growth_speed=1.0))
    heat_and_pull = rotor.fit.interference - float(sweep(rotor, HOT, 0.0).residual_interference)
    rotor = rotor.with_interference(heat_and_pull + 0.02e-3)
    assert coefficients(rotor, HOT).net_growth < 0
    theirs = Machine(rotor, HOT).float_speed_squared(HIGHEST)
    landmark = float_speed(rotor, HOT)
    assert landmark.speed == pytest.approx(np.sqrt(theirs), rel=1e-9)
    assert "lifts off at" in landmark.note
    assert float_speed(rotor, replace(HOT, flux_density=0.0)).speed == np.inf


def test_friction_parts_run_up_and_run_down():
    up, down = (float_speed(ROTOR, HOT, way) for way in ("up", "down"))
    for landmark, way in ((up, "up"), (down, "down")):
        theirs = Machine(ROTOR, HOT, way).float_speed_squared(HIGHEST)
        assert landmark.speed == pytest.approx(np.sqrt(theirs), rel=1e-11)
    assert up.speed > down.speed


@pytest.mark.derived
@pytest.mark.parametrize("condition", [COLD, Condition(333.0, 324.0)], ids=["cold", "warm"])
def test_stiffness_of_the_spider_does_not_enter(condition):
    soft, stiff = (changed(spider=replace(GIVEN, radial_stiffness=k)) for k in (1e9, 1e13))
    keyed = changed(spider=GIVEN, fit={"key_count": 20, "key_stiffness": 1e8})
    speeds = [float_speed(rotor, condition).speed for rotor in (soft, stiff, keyed)]
    np.testing.assert_allclose(speeds, speeds[0], rtol=1e-14)


@pytest.mark.parametrize("size", [3, BLOCK + 3])
def test_many_rotors_in_one_call(size):
    rotor, condition = fully_varied(size)
    landmark = float_speed(rotor, condition)
    assert landmark.speed.shape == (size,)
    for index in (0, size // 2, size - 1):
        assert landmark.speed[index] == pytest.approx(
            float_speed(single(rotor, index), single(condition, index)).speed, rel=1e-13
        )
    assert landmark.note == f"{size} rotors: 0 never float, 0 at standstill, 0 pulled shut before"


def test_words_for_many_rotors_count_each_kind():
    outgrown = replace(GIVEN, growth=np.array([0.0, 3.5e-3]))
    rotor = changed(spider=outgrown, fit={"interference": np.array([[2.0e-3], [0.1e-3], [3e-3]])})
    landmark = float_speed(rotor, COLD)
    assert landmark.speed.shape == (3, 2)
    assert landmark.note == "6 rotors: 2 never float, 2 at standstill, 0 pulled shut before"
    assert np.isinf(landmark.speed[[0, 2], 1]).all()
    np.testing.assert_array_equal(landmark.speed[1], 0.0)


def test_a_row_against_a_column():
    mass, interference = np.array([3500.0, 3900.0]), np.array([[1.5e-3], [2.4e-3], [3e-3]])
    rotor = changed(poles={"mass": mass}, fit={"interference": interference})
    speeds = float_speed(rotor, HOT).speed
    assert speeds.shape == (3, 2)
    one = float_speed(changed(poles={"mass": 3900.0}, fit={"interference": 3e-3}), HOT).speed
    assert speeds[2, 1] == pytest.approx(one, rel=1e-14)


# interference for a float speed ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", SPIDERS)
@pytest.mark.parametrize("condition", CONDITIONS)
@pytest.mark.parametrize("speed", [6.0, 14.0, 24.0])
def test_interference_is_the_inverse_of_float_speed(name, condition, speed):
    rotor = changed(spider=SPIDERS[name], fit={"key_count": 28, "key_stiffness": 3e10})
    needed = interference_for_float_speed(rotor, CONDITIONS[condition], speed)
    back = float_speed(rotor.with_interference(needed), CONDITIONS[condition]).speed
    assert back == pytest.approx(speed, rel=1e-11)


@pytest.mark.independent
def test_interference_for_a_float_speed_against_the_second_derivation():
    needed = float(interference_for_float_speed(ROTOR, HOT, 15.0))
    found = brentq(
        lambda delta: Machine(ROTOR.with_interference(delta), HOT).state(15.0**2).interference, 1e-3, 5e-3, xtol=1e-16
    )
    assert needed == pytest.approx(found, rel=1e-11)


@pytest.mark.independent
def test_a_fit_that_only_the_heat_of_the_spider_makes():
    # clearance as assembled: the gap of the assembly is then that of an unstretched rim
    heated = Condition(293.15, 343.15, flux_density=0.95)
    rotor = changed(spider=GIVEN)
    needed = interference_for_float_speed(rotor, heated, 5.0)
    assert needed < 0
    assert float_speed(rotor.with_interference(needed), heated).speed == pytest.approx(5.0, rel=1e-11)


def test_interferences_broadcast_with_speeds():
    rotor, condition = fully_varied(3)
    speeds = np.array([[9.0], [16.0]])
    table = interference_for_float_speed(rotor, condition, speeds)
    assert table.shape == (2, 3)
    one = interference_for_float_speed(single(rotor, 1), single(condition, 1), 16.0)
    assert table[1, 1] == pytest.approx(one, rel=1e-13)
    assert np.shape(one) == ()
