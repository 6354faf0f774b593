"""The echo of the drawing against numbers worked out by hand and by integration, and the doubts that follow."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad

from rimmodel.rotor import DiscSpider, Material
from rimmodel.rotor.case.case import example_case, parse_case
from rimmodel.rotor.case.doubts import case_doubts
from rimmodel.rotor.case.drawing import (
    drawing,
    electrical_frequency,
    pole_mass,
    rim_mass,
    rotor_inertia,
    spider_inertia,
)
from tests.bad_inputs.case_slips import TEXT

ROTOR = example_case().rotor


@pytest.mark.derived
def test_masses_by_hand():
    # 0.97 x 7850 kg/m3 x pi x (4.06^2 - 3.62^2) m2 x 1.85 m; 48 x 3.7 t
    assert rim_mass(ROTOR) == pytest.approx(0.97 * 7850 * 3.14159265 * 3.3792 * 1.85, rel=1e-6)
    assert pole_mass(ROTOR) == 177_600.0


@pytest.mark.derived
def test_frequency_is_pairs_of_poles_times_turns():
    assert electrical_frequency(ROTOR) == pytest.approx(24 * 125 / 60, rel=1e-12)


@pytest.mark.independent
def test_inertia_by_integration():
    ring = quad(lambda r: 2 * np.pi * r**3 * 0.97 * 7850 * 1.85, 3.62, 4.06)[0]
    arms = 14 * quad(lambda r: 7850 * 0.058 * r**2, 1.25, 3.62)[0] + 14 * 180 * 3.62**2
    assert rotor_inertia(ROTOR) == pytest.approx(ring + 177_600 * 4.32**2 + arms, rel=1e-9)


@pytest.mark.independent
def test_inertia_of_a_profile_by_integration():
    profile = ((0.6, 0.9), (1.1, 0.9), (1.1, 0.3), (3.62, 0.2))
    disc = DiscSpider(Material(206e9, 0.3, 7850.0), profile=profile)
    hub = quad(lambda r: 2 * np.pi * 7850 * 0.9 * r**3, 0.6, 1.1)[0]
    web = quad(lambda r: 2 * np.pi * 7850 * (0.3 - 0.1 * (r - 1.1) / 2.52) * r**3, 1.1, 3.62)[0]
    assert spider_inertia(replace(ROTOR, spider=disc)) == pytest.approx(hub + web, rel=1e-9)


@pytest.mark.derived
def test_lines_in_units_of_print():
    lines = {line.name: line for line in drawing(ROTOR)}
    assert lines["interference on the diameter"].text == "4.200 mm"
    assert lines["interference over the radius of the rim bore"].text == "0.580 per mille"
    assert lines["diameter over the pole faces"].text == "9160 mm"
    # pi x 9.16 m x 125/60 per s
    assert lines["peripheral speed of the pole faces, rated"].text == "60.0 m/s"
    assert lines["GD2 = 4 J of rim, poles and spider"].value == 4 * rotor_inertia(ROTOR)


def test_a_second_number_of_the_drawing_settles_a_doubt():
    odd = TEXT.replace('rated = "125 rpm"', 'rated = "137.5 rpm"', 1)
    assert any(doubt.blocks for doubt in case_doubts(parse_case(odd.encode(), "case.toml")))
    settled = odd.replace('rated = "137.5 rpm"', 'rated = "137.5 rpm"\nfrequency = "55 Hz"', 1)
    doubts = case_doubts(parse_case(settled.encode(), "case.toml"))
    assert [doubt.name for doubt in doubts] == ["electrical frequency at rated speed"]
    assert not any(doubt.blocks for doubt in doubts)


def test_a_doubt_about_one_condition_stops_only_what_is_asked_in_it():
    text = TEXT.replace('spider_temperature = "50 degC"', 'spider_temperature = "95 degC"', 1)
    (doubt,) = case_doubts(parse_case(text.encode(), "case.toml"))
    assert doubt.concerns("hot", "requirements.no_float_in_service")
    assert not doubt.concerns("cold", "claims.float_speed")
