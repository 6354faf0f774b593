"""Speeds at which the gap is lost, and their words, against root finding and a second derivation."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from rimmodel import first_yield, float_speed, gap_closes, speed_at_gap, sweep
from rimmodel.behaviour import CharacteristicSpeed
from rimmodel.rotor import Condition
from rimmodel.units import MILLIMETRE, RPM
from tests.behaviour.invented_rotors import (
    COLD,
    FIXED_FLUX,
    GIVEN,
    HOT,
    OUTGROWING,
    ROTOR,
    SPIDERS,
    changed,
    in_words,
    single,
)
from tests.behaviour.second_derivation import Machine

CONDITIONS = {"cold": COLD, "hot": HOT, "fixed flux": FIXED_FLUX}


@pytest.mark.independent
@pytest.mark.parametrize("name", SPIDERS)
@pytest.mark.parametrize("condition", CONDITIONS)
def test_speed_at_gap_against_root_finding_on_the_sweep(name, condition):
    rotor, condition = changed(spider=SPIDERS[name]), CONDITIONS[condition]
    lost = float(float_speed(rotor, condition).speed)
    at_lift_off = float(sweep(rotor, condition, lost).air_gap)
    still = float(sweep(rotor, condition, 0.0).air_gap)
    for wanted in (still - 1e-5, (still + at_lift_off) / 2, at_lift_off - 1e-3, 7e-3):
        found = brentq(lambda w, g=wanted: float(sweep(rotor, condition, w).air_gap) - g, 0.0, 42.0, xtol=1e-13)
        landmark = speed_at_gap(rotor, condition, wanted)
        assert landmark.speed == pytest.approx(found, rel=1e-9)
        gap, speed = in_words(landmark, "gap of # mm at # rpm")
        assert gap == pytest.approx(wanted / MILLIMETRE, abs=0.0051)
        assert speed == pytest.approx(found / RPM, abs=0.051)
    assert speed_at_gap(rotor, condition, at_lift_off).speed == pytest.approx(lost, rel=1e-9)


def test_a_gap_that_is_lost_at_standstill():
    landmark = speed_at_gap(ROTOR, COLD, 17.5e-3)
    assert landmark == CharacteristicSpeed(landmark.speed, "gap of 17.50 mm: already narrower at standstill")
    assert landmark.speed == 0


@pytest.mark.independent
@pytest.mark.parametrize("condition", [COLD, FIXED_FLUX], ids=["no field", "fixed flux"])
def test_the_gap_closes_where_rotor_and_stator_meet(condition):
    machine = Machine(ROTOR, condition)
    found = brentq(lambda x: machine.gap(machine.field_pull(1.0), x), 0.0, 70.0**2, xtol=1e-9)
    landmark = gap_closes(ROTOR, condition)
    assert landmark.speed == pytest.approx(np.sqrt(found), rel=1e-11)
    in_words(landmark, "gap closes at # rpm")


@pytest.mark.independent
@pytest.mark.parametrize("interference", [2.4e-3, 30e-3], ids=["floating", "seated"])
def test_the_pull_closes_the_gap_from_its_last_balance(interference):
    rotor = ROTOR.with_interference(interference)
    machine = Machine(rotor, HOT)
    squared = machine.closing_speed_squared(70.0**2)
    landmark = gap_closes(rotor, HOT)
    assert landmark.speed == pytest.approx(np.sqrt(squared), rel=1e-9)
    _, last = in_words(landmark, "gap closes at # rpm, under the magnetic pull from # mm")
    # the gap moves with the square root of the distance from the fold
    assert last == pytest.approx(machine.state(squared).gap / MILLIMETRE, abs=0.01)
    assert (machine.state(squared).interference > 0) == (interference > 10e-3)
    assert sweep(rotor, HOT, float(landmark.speed) * (1 - 1e-6)).air_gap > 0
    assert np.isnan(sweep(rotor, HOT, float(landmark.speed) * (1 + 1e-6)).air_gap)
    # a gap wider than the last balance is still reached, a narrower one snaps
    assert "at" in speed_at_gap(rotor, HOT, (last + 0.1) * MILLIMETRE).note
    assert speed_at_gap(rotor, HOT, (last - 0.1) * MILLIMETRE).speed == landmark.speed


@pytest.mark.independent
@pytest.mark.parametrize(
    ("interference", "kind"),
    [
        (4.0e-3, "floating"),
        (
            4.82e-3,
            "at lift-off",
        ),  # the seated rim has a balance there; the free one yields more to the pull and has none
        (4.87e-3, "at lift-off"),
        (4.94e-3, "seated"),  # a lift-off with a balance of its own, but beyond the last stable gap of the seated rim
        (5.5e-3, "seated"),
        (9.0e-3, "seated"),
    ],
)
def test_rims_that_the_pull_snaps_shut(interference, kind):
    rotor = changed(air_gap={"cold": 6e-3}, spider=GIVEN, fit={"settlement": 0.0, "interference": interference})
    strong = Condition(flux_density=1.4)
    machine, closes, lifts = Machine(rotor, strong), gap_closes(rotor, strong), float_speed(rotor, strong)
    squared = machine.closing_speed_squared(30.0**2)
    assert closes.speed == pytest.approx(np.sqrt(squared), rel=1e-9)
    _, last = in_words(closes, "gap closes at # rpm, under the magnetic pull from # mm")
    assert last == pytest.approx(machine.state(squared * (1 - 1e-12)).gap / MILLIMETRE, abs=0.0051)
    theirs = machine.float_speed_squared(30.0**2)
    if kind == "seated":
        assert theirs is None
        assert np.isnan(lifts.speed)
        words = "no float speed: the gap closes at # rpm under the magnetic pull before the rim floats"
        assert in_words(lifts, words)[0] == pytest.approx(np.sqrt(squared) / RPM, abs=0.051)
    else:
        assert lifts.speed == pytest.approx(np.sqrt(theirs), rel=1e-9)
        assert (lifts.speed == closes.speed) == (kind == "at lift-off")


@pytest.mark.independent
def test_a_pull_that_shuts_the_gap_of_a_rim_that_never_floats():
    """The spider outgrows the rim, which never floats; halving on the balance finds where the gap ends."""
    rotor, strong = changed(spider=OUTGROWING, air_gap={"cold": 6e-3}), replace(COLD, flux_density=1.0)
    machine = Machine(rotor, strong)
    low, high = 0.0, 230.0 * RPM
    assert machine.state(low) is not None
    assert machine.state(high**2) is None
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (low, middle) if machine.state(middle**2) is None else (middle, high)
    lifts = float_speed(rotor, strong)
    assert np.isnan(lifts.speed)
    words = "no float speed: the gap closes at # rpm under the magnetic pull before the rim floats"
    assert in_words(lifts, words)[0] == pytest.approx(low / RPM, abs=0.051)
    # with the gap it was drawn with it stays open to the highest named speed, and the margin is a number
    wide = float_speed(changed(rotor, air_gap={"cold": 17e-3}), strong)
    assert np.isinf(wide.speed)
    assert "still tight at runaway" in wide.note
    assert "nan" not in wide.note
    many = float_speed(changed(rotor, air_gap={"cold": np.array([6e-3, 17e-3])}), strong)
    assert np.isnan(many.speed[0])
    assert np.isinf(many.speed[1])


def test_a_field_that_closes_the_gap_at_standstill():
    rotor, strong = changed(air_gap={"cold": 2e-3}, poles={"radial_stiffness": 2e8}), Condition(flux_density=2.5)
    assert Machine(rotor, strong).state(0.0) is None
    closes = gap_closes(rotor, strong)
    assert closes == CharacteristicSpeed(closes.speed, "gap of 0.00 mm: the magnetic pull closes it at standstill")
    assert closes.speed == 0
    assert np.isnan(float_speed(rotor, strong).speed)
    assert np.isnan(first_yield(rotor, strong).speed)


def test_gap_landmarks_of_many_rotors():
    excited = replace(HOT, flux_density=np.array([0.0, 0.95]))
    for landmark in (speed_at_gap, lambda *given: gap_closes(*given[:2])):
        both = landmark(ROTOR, excited, 8e-3)
        for index in (0, 1):
            alone = landmark(ROTOR, single(excited, index), 8e-3)
            assert both.speed[index] == pytest.approx(alone.speed, rel=1e-13)
        assert both.note == "2 rotors"


@pytest.mark.independent
def test_speed_at_gap_of_a_rim_that_seats_on_the_way():
    rotor = changed(spider=OUTGROWING, fit={"interference": -0.4e-3, "settlement": 0.0})
    for wanted in (16.9e-3, 15e-3):  # before it seats, and after
        found = brentq(lambda w, g=wanted: float(sweep(rotor, COLD, w).air_gap) - g, 0.0, 60.0, xtol=1e-13)
        assert speed_at_gap(rotor, COLD, wanted).speed == pytest.approx(found, rel=1e-9)
    assert sweep(rotor, COLD, float(speed_at_gap(rotor, COLD, 16.9e-3).speed)).contact_pressure == 0
    assert sweep(rotor, COLD, float(speed_at_gap(rotor, COLD, 15e-3).speed)).contact_pressure > 0
