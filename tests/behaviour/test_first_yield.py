"""First yield of the rim, seated and floating, and its words, against root finding on the second derivation."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from rimmodel import first_yield, sweep
from rimmodel.behaviour import CharacteristicSpeed
from rimmodel.rotor import Material
from rimmodel.units import RPM
from tests.behaviour.invented_rotors import (
    COLD,
    DISC,
    FIXED_FLUX,
    GIVEN,
    HOT,
    OUTGROWING,
    RIM_STEEL,
    bare_fit,
    changed,
    fully_varied,
    in_words,
    single,
)
from tests.behaviour.second_derivation import Machine, ring

CONDITIONS = {"cold": COLD, "hot": HOT, "fixed flux": FIXED_FLUX}


NET = 0.97 * 0.85


def bore_tresca(rotor, condition, speed):
    """Hoop stress plus pressure at the bore (the axial stress is zero, the radial one minus the pressure)."""
    found = Machine(rotor, condition).state(speed**2)
    hoop = found.rim.stresses(4.0)[1]
    return hoop + found.pressure


@pytest.mark.independent
@pytest.mark.parametrize("condition", CONDITIONS)
@pytest.mark.parametrize(("interference", "seated"), [(2.4e-3, False), (12e-3, True)])
def test_first_yield_floating_and_seated(condition, interference, seated):
    condition = CONDITIONS[condition]
    soft = replace(RIM_STEEL, yield_strength=250e6)
    rotor = changed(rim={"material": soft}, fit={"interference": interference}, air_gap={"cold": 0.05})
    found = brentq(lambda w: bore_tresca(rotor, condition, w) - 250e6 * NET, 1.0, 40.0, xtol=1e-12)
    landmark = first_yield(rotor, condition)
    assert landmark.speed == pytest.approx(found, rel=1e-10)
    assert (sweep(rotor, condition, found).contact_pressure > 0) == seated
    (speed,) = in_words(landmark, "first yield of the rim bore at # rpm")
    assert speed == pytest.approx(found / RPM, abs=0.051)


@pytest.mark.independent
@pytest.mark.parametrize("share", [0.3, 0.9])
def test_no_point_of_the_rim_has_yielded_before(share):
    # over the whole section, not only at the bore
    rotor = changed(fit={"interference": 12e-3})
    first = float(first_yield(rotor, COLD).speed)
    for speed, limit in ((share * first, NET * 500e6), (first, NET * 500e6 * (1 + 1e-9))):
        found = Machine(rotor, COLD).state(speed**2)
        radial, hoop = found.rim.stresses(np.linspace(4.0, 4.5, 101))
        assert np.max([hoop, np.abs(radial), hoop - radial]) <= limit


@pytest.mark.parametrize(
    "stiffness", [4.5e10, 1e15], ids=["spider", "rigid spider, under which speed relieves the bore"]
)
def test_yields_at_standstill(stiffness):
    rotor = changed(spider=replace(GIVEN, radial_stiffness=stiffness), fit={"interference": 60e-3})
    assert bore_tresca(rotor, COLD, 0.0) > NET * 500e6
    assert first_yield(rotor, COLD) == CharacteristicSpeed(first_yield(rotor, COLD).speed, "yields at standstill")
    assert first_yield(rotor, COLD).speed == 0


@pytest.mark.independent
def test_first_yield_of_a_rim_that_speed_seats():
    # loose until the spider catches up; yield before and after that
    for strength in (2e6, 300e6):
        steel = replace(RIM_STEEL, yield_strength=strength)
        rotor = changed(rim={"material": steel}, spider=OUTGROWING, fit={"interference": -0.4e-3, "settlement": 0.0})
        found = brentq(lambda w, r=rotor, s=strength: bore_tresca(r, COLD, w) - s * NET, 0.1, 60.0, xtol=1e-13)
        assert first_yield(rotor, COLD).speed == pytest.approx(found, rel=1e-9)
        assert (sweep(rotor, COLD, found).contact_pressure > 0) == (strength > 100e6)


def test_no_first_yield_once_the_pull_has_closed_the_gap():
    landmark = first_yield(changed(air_gap={"cold": 4e-3}), HOT)
    assert np.isnan(landmark.speed)
    assert landmark.note == "no first yield: the magnetic pull closes the gap before the rim yields"


def test_first_yield_needs_a_strength():
    nameless = changed(rim={"material": Material(206e9, 0.3, 7850.0)})
    with pytest.raises(ValueError, match="rim material has no yield_strength; give it"):
        first_yield(nameless, COLD)


@pytest.mark.independent
def test_first_yield_of_a_rim_that_is_stiffer_in_the_hoop_direction():
    # allowed up to 1.5; the peak of a thick ring may then lie inside, and a rim's bore stays the place
    rotor = changed(rim={"hoop_stiffness_factor": 1.3}, spider=DISC)
    found = brentq(lambda w: bore_tresca(rotor, HOT, w) - 500e6 * NET, 1.0, 45.0, xtol=1e-12)
    assert first_yield(rotor, HOT).speed == pytest.approx(found, rel=1e-10)


def test_first_yields_broadcast():
    rotor, condition = fully_varied(3)
    soft = {"material": replace(RIM_STEEL, yield_strength=200e6)}
    tight = changed(rotor, fit={"interference": np.array([[2e-3], [12e-3]])}, rim=soft)
    table = first_yield(tight, condition)
    assert table.speed.shape == (2, 3)
    assert np.isfinite(table.speed).all()
    one = first_yield(changed(single(rotor, 2), fit={"interference": 12e-3}, rim=soft), single(condition, 2))
    assert table.speed[1, 2] == pytest.approx(one.speed, rel=1e-12)
    assert table.note == "6 rotors"


@pytest.mark.derived
def test_thin_floating_rim_yields_at_the_rim_speed_of_its_strength():
    # sqrt(yield k_n / rho) = sqrt(500e6 x 0.5 / 7850) = 178.46 m/s; stacking takes steel from strength and mass alike
    rotor = changed(
        bare_fit(RIM_STEEL, 0.0, 3.999, 4.001, -0.01), rim={"stacking_factor": 0.9, "net_section_factor": 0.5}
    )
    assert first_yield(rotor, COLD).speed * 4.0 == pytest.approx(178.46, rel=1e-3)
    assert ring(3.999, 4.001, 206e9, 0.3, 7850.0, x=1.0).stresses(4.0)[1] == pytest.approx(7850.0 * 16, rel=1e-3)


@pytest.mark.independent
def test_a_thick_rim_stiff_in_the_hoop_direction_yields_inside_first():
    # no rim of a machine, but allowed: b/a = 1000; the worst radius by search over the field of the second derivation
    rotor = changed(bare_fit(RIM_STEEL, 0.0, 1e-3, 1.0, -1e-4), rim={"hoop_stiffness_factor": 1.5})
    field = Machine(rotor, COLD).state(1.0).rim
    radial, hoop = field.stresses(np.geomspace(1e-3, 1.0, 20001))
    worst = np.max(np.maximum(hoop, hoop - radial))
    assert worst > 1.2 * field.stresses(1e-3)[1]
    assert first_yield(rotor, COLD).speed == pytest.approx(np.sqrt(500e6 / worst), rel=1e-6)
