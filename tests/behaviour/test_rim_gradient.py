"""A rim hotter outside than at its bore, or colder: stress by the thermal ring of the books, growth unchanged."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

import rimmodel as rm
from rimmodel.behaviour.limits.machine import checks
from rimmodel.behaviour.quantities import quantity_values
from rimmodel.rotor.case.case import CaseError, parse_case
from rimmodel.rotor.rim_sides import mean_rim_temperature
from tests.behaviour.invented_rotors import COLD, ROTOR, changed
from tests.rotor.test_case import NEW

A, B, E, ALPHA = 4.0, 4.5, 206e9, 12e-6
EVEN = changed(rim={"hoop_stiffness_factor": 1.0, "stacking_factor": 1.0})


def linear(r, rise):
    return rise * (r - A) / (B - A)


@pytest.mark.recalled
@pytest.mark.parametrize("rise", [12.0, -8.0])
def test_stress_at_both_sides_is_that_of_the_thermal_ring(rise):
    # Timoshenko & Goodier, thermal stress of a disc with a hole, from memory:
    # s_t = alpha E [(r^2 + a^2)/(r^2 (b^2 - a^2)) int_a^b T r dr + 1/r^2 int_a^r T r dr - T]
    whole = quad(lambda r: linear(r, rise) * r, A, B)[0]

    def hoop(r):
        inside = quad(lambda s: linear(s, rise) * s, A, r)[0]
        return ALPHA * E * ((r**2 + A**2) / (r**2 * (B**2 - A**2)) * whole + inside / r**2 - linear(r, rise))

    warm, even = rm.sweep(EVEN, replace(COLD, rim_temperature_rise=rise), 9.0), rm.sweep(EVEN, COLD, 9.0)
    assert warm.rim_bore_hoop_stress - even.rim_bore_hoop_stress == pytest.approx(hoop(A), rel=1e-8)
    assert warm.rim_outer_hoop_stress - even.rim_outer_hoop_stress == pytest.approx(hoop(B), rel=1e-8)
    assert np.sign(hoop(A)) == np.sign(rise)


@pytest.mark.derived
def test_the_area_mean_decides_growth():
    """Mean by quadrature; a free ring with that gradient moves its two edges as with its mean throughout."""
    rim, bore, outside = EVEN.rim, 310.0, 334.0
    mean = 2 * quad(lambda r: (bore + linear(r, outside - bore)) * r, A, B)[0] / (B**2 - A**2)
    assert mean_rim_temperature(rim, bore, outside) == pytest.approx(mean, rel=1e-12)
    ring = replace(rim, material=replace(rim.material, thermal_expansion=ALPHA)).ring
    for radius in (A, B):
        gradient = ring.radial_displacement(radius, temperature=(bore - 293.15, outside - 293.15))
        assert gradient == pytest.approx(ALPHA * radius * (mean - 293.15), rel=1e-10)
    slack = replace(COLD, rim_temperature=mean)
    tilted = replace(slack, rim_temperature_rise=outside - bore)
    assert rm.float_speed(EVEN, tilted).speed == rm.float_speed(EVEN, slack).speed
    assert rm.sweep(EVEN, tilted, 12.0).air_gap == rm.sweep(EVEN, slack, 12.0).air_gap


@pytest.mark.independent
@pytest.mark.parametrize("rise", [25.0, -80.0])
def test_first_yield_by_root_finding_on_the_sweep(rise):
    condition, net = replace(COLD, rim_temperature_rise=rise), 0.97 * 0.85

    def left(speed):
        state = rm.sweep(ROTOR, condition, speed)
        bore = state.rim_bore_hoop_stress + state.contact_pressure
        return float(500e6 * net - np.maximum(bore, state.rim_outer_hoop_stress))

    found = brentq(left, 5.0, 60.0, xtol=1e-12)
    landmark = rm.first_yield(ROTOR, condition)
    assert landmark.speed == pytest.approx(found, rel=1e-9)
    state = rm.sweep(ROTOR, condition, found)
    outside = state.rim_outer_hoop_stress > state.rim_bore_hoop_stress + state.contact_pressure
    assert ("of the rim outside" in landmark.note) == bool(outside) == (rise < 0)


@pytest.mark.independent
def test_checks_and_quantities_hold_the_stress_of_the_gradient():
    condition, net = replace(COLD, rim_temperature_rise=15.0), 0.97 * 0.85
    state = rm.sweep(ROTOR, condition, ROTOR.speeds.rated)
    rows = {(row.name, row.at): row for row in checks(ROTOR, {"hot": condition}, None, None, ())}
    assert rows["rim bore hoop stress, net section", "rated"].value == pytest.approx(
        float(state.rim_bore_hoop_stress) / net, rel=1e-12
    )
    assert rows["rim outside hoop stress, net section", "rated"].value == pytest.approx(
        float(state.rim_outer_hoop_stress) / net, rel=1e-12
    )
    value = quantity_values(ROTOR, condition, ["rim_stress_at_rated"])["rim_stress_at_rated"]
    assert value == pytest.approx(float(state.rim_bore_hoop_stress) / net, rel=1e-12)
    even = {row.name for row in checks(ROTOR, {"cold": COLD}, None, None, ())}
    assert "rim outside hoop stress, net section" not in even


SIDES = 'rim_bore_temperature = "50 degC"\nrim_outer_temperature = "62 degC"'


def test_a_case_takes_both_sides_in_place_of_the_mean():
    mean = 'rim_temperature = "55 degC"'
    text = NEW.replace(mean, SIDES, 1)
    hot = parse_case(text.encode(), "unit.toml").conditions["hot"]
    assert hot.rim_temperature_rise == pytest.approx(12.0)
    # by hand: 50 + 12 (3.0 + 2 x 3.4)/(3 x 6.4) = 56.125 degC
    assert hot.rim_temperature - 273.15 == pytest.approx(56.125)
    for written, words in (
        (SIDES.splitlines()[0], "conditions.hot.rim_outer_temperature: missing; give both sides"),
        (f"{mean}\n{SIDES}", "conditions.hot.rim_temperature is 55 degC, but its two sides make a mean of 56.12 degC"),
    ):
        with pytest.raises(CaseError) as caught:
            parse_case(NEW.replace(mean, written, 1).encode(), "unit.toml")
        assert words in str(caught.value)
