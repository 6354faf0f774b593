"""A bare number that can only stand in another unit is refused, and the message names the unit and the SI value."""

from dataclasses import replace

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.behaviour.keys.run import key_run
from rimmodel.rotor import Condition, Speeds
from rimmodel.units import RPM

CASE = rm.example_case()
ROTOR, COLD = CASE.rotor, CASE.conditions["cold"]

SLIPS = {
    # what is done, and the meaning that the message must offer, worked by hand: 125 x 2 pi/60, 58 + 273.15, /1000
    "rpm in a sweep": (lambda: rm.sweep(ROTOR, COLD, 125.0), "125 rpm is meant, it is 13.09 rad/s"),
    "rpm among speeds": (lambda: rm.sweep(ROTOR, COLD, [0.0, 187.5]), "187.5 rpm is meant, it is 19.635 rad/s"),
    "rpm key by key": (lambda: key_run(ROTOR, COLD, [0.0, 125.0]), "125 rpm is meant, it is 13.09 rad/s"),
    "rpm for a fit": (
        lambda: rm.interference_for_float_speed(ROTOR, COLD, 144.0),
        "144 rpm is meant, it is 15.0796 rad/s",
    ),
    "rpm of the machine": (
        lambda: replace(ROTOR, speeds=Speeds(rated=125.0, overspeed=187.5)),
        "125 rpm is meant, it is 13.09 rad/s",
    ),
    "Celsius of the rim": (lambda: Condition(rim_temperature=58.0), "58 degC is meant, it is 331.15 K"),
    "Celsius in an array": (
        lambda: Condition(spider_temperature=np.array([300.0, 50.0])),
        "50 degC is meant, it is 323.15 K",
    ),
    "Celsius of the core": (lambda: Condition(stator_temperature=65.0), "65 degC is meant, it is 338.15 K"),
    "interference in mm": (lambda: ROTOR.with_interference(2.1), "2.1 mm is meant, it is 0.0021 m"),
    "clearance in mm": (lambda: ROTOR.with_interference(-0.3), "-0.3 mm is meant, it is -0.0003 m"),
    "tolerance in mm": (lambda: replace(ROTOR.fit, interference_tolerance=0.1), "0.1 mm is meant, it is 0.0001 m"),
    "a shim in mm": (
        lambda: replace(ROTOR.fit, key_interference=(2.1,) * 14),
        "2.1 mm is meant, it is 0.0021 m",
    ),
    "gap of the machine in mm": (lambda: replace(ROTOR.air_gap, cold=16.0), "16 mm is meant, it is 0.016 m"),
    "gap asked for in mm": (lambda: rm.speed_at_gap(ROTOR, COLD, 13.0), "13 mm is meant, it is 0.013 m"),
    "modulus in GPa": (
        lambda: replace(ROTOR.rim.material, young_modulus=206.0),
        "206 GPa is meant, it is 2.06e+11 Pa",
    ),
    "strength in MPa": (
        lambda: replace(ROTOR.rim.material, yield_strength=345.0),
        "345 MPa is meant, it is 3.45e+08 Pa",
    ),
}


@pytest.mark.derived
@pytest.mark.parametrize("name", SLIPS)
def test_a_slip_of_unit_is_refused_with_the_unit_that_was_probably_meant(name):
    slip, meant = SLIPS[name]
    with pytest.raises(ValueError, match="it must be") as refused:
        slip()
    assert meant in str(refused.value)


def test_what_a_study_may_ask_is_not_refused():
    highest = float(ROTOR.speeds.runaway)
    assert np.isfinite(rm.sweep(ROTOR, COLD, 3.0 * highest).air_gap)
    assert rm.sweep(ROTOR, COLD, []).air_gap.size == 0
    assert rm.float_speed(ROTOR.with_interference(0.02), COLD).speed > 0
    assert rm.speed_at_gap(ROTOR, COLD, 0.0).speed < highest * 3
    assert Condition(rim_temperature=250.0).rim_temperature == 250.0
    # 690 rpm of a rim of 4 m: 290 m/s, beyond any machine and short of the limit of steel
    assert replace(ROTOR, speeds=Speeds(rated=690 * RPM, overspeed=700 * RPM)).speeds.rated == 690 * RPM


@pytest.mark.derived
def test_a_value_that_no_unit_explains_is_refused_without_a_guess():
    with pytest.raises(ValueError, match="it must be at most 3 x the highest named speed") as refused:
        rm.sweep(ROTOR, COLD, 5000.0)  # 5000 rpm would be 20 x runaway
    assert "is meant" not in str(refused.value)


def test_the_gap_of_a_sweep_in_rpm_is_never_shown():
    # read as rad/s, 125 rpm closes the gap six times over: 16.48 mm - 5.801e-6 m s2 x 125^2 = -74 mm
    with pytest.raises(ValueError, match="rpm"):
        rm.sweep(ROTOR, COLD, np.linspace(0.0, 125.0, 6))
