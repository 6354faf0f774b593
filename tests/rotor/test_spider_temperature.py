"""Mean spider temperature from hub and rim side, against boundary-value problems and integrals solved elsewhere."""

import numpy as np
import pytest
from scipy.integrate import quad, solve_bvp

from rimmodel.rotor import ArmSpider, DiscSpider, GivenSpider, Material
from rimmodel.rotor.case.case import EXAMPLES, parse_case
from rimmodel.rotor.case.of_drawing import mean_spider_temperature

STEEL = Material(206e9, 0.3, 7850.0, 12e-6)
TEXT = (EXAMPLES / "quillmere.toml").read_text(encoding="utf-8")


def disc_growth(thickness, inner, outer, at_bore, at_rim):
    """Growth outside (m) of a free disc whose temperature is linear in radius: plane stress, solved as it stands."""
    modulus, nu, alpha = 206e9, 0.3, 12e-6

    def temperature(r):
        return at_bore + (at_rim - at_bore) * (r - inner) / (outer - inner)

    def stresses(r, u, slope):
        radial, hoop = slope - alpha * temperature(r), u / r - alpha * temperature(r)
        factor = modulus / (1 - nu**2)
        return factor * (radial + nu * hoop), factor * (hoop + nu * radial)

    # state: u and the radial force per angle h r s_r; (h r s_r)' = h s_t
    def slope_of(r, u, force):
        radial_stress = force / (thickness(r) * r)
        hoop_strain = u / r - alpha * temperature(r)
        return radial_stress * (1 - nu**2) / modulus - nu * hoop_strain + alpha * temperature(r)

    def equations(r, y):
        slope = slope_of(r, y[0], y[1] * 1e9)
        return np.array([slope, thickness(r) * stresses(r, y[0], slope)[1] / 1e9])

    radius = np.linspace(inner, outer, 400)
    start = np.array([12e-6 * 45 * radius, 0 * radius])
    solved = solve_bvp(equations, lambda a, b: np.array([a[1], b[1]]), radius, start, tol=1e-9, max_nodes=100_000)
    assert solved.success
    return float(solved.y[0, -1])


@pytest.mark.independent
def test_a_disc_grows_by_its_area_mean_and_not_by_its_radius_mean():
    disc = DiscSpider(STEEL, bore_radius=0.6, thickness=0.25)
    mean = mean_spider_temperature(disc, 3.62, 30.0, 60.0)
    growth = 12e-6 * 3.62 * mean
    assert growth == pytest.approx(disc_growth(lambda r: 0.25 + 0 * r, 0.6, 3.62, 30.0, 60.0), rel=1e-6)
    assert growth == pytest.approx(2.110e-3, abs=0.001e-3)
    assert growth / (12e-6 * 3.62 * 45) == pytest.approx(1.079, abs=0.001)
    area = quad(lambda r: 2 * r * (30 + 30 * (r - 0.6) / 3.02), 0.6, 3.62)[0] / (3.62**2 - 0.6**2)
    assert mean == pytest.approx(area, rel=1e-9)


@pytest.mark.independent
def test_a_disc_by_a_profile_is_solved():
    disc = DiscSpider(STEEL, profile=((0.6, 0.9), (3.62, 0.2)))
    growth = 12e-6 * 3.62 * mean_spider_temperature(disc, 3.62, 30.0, 60.0)
    found = disc_growth(lambda r: 0.9 - 0.7 * (r - 0.6) / 3.02, 0.6, 3.62, 30.0, 60.0)
    assert growth == pytest.approx(found, rel=1e-6)
    constant = DiscSpider(STEEL, profile=((0.6, 0.25), (3.62, 0.25)))
    plain = DiscSpider(STEEL, bore_radius=0.6, thickness=0.25)
    assert mean_spider_temperature(constant, 3.62, 30.0, 60.0) == pytest.approx(
        mean_spider_temperature(plain, 3.62, 30.0, 60.0), rel=1e-9
    )


@pytest.mark.derived
def test_arms_grow_by_their_length_mean_beyond_a_hub_of_its_own_temperature():
    arms = ArmSpider(STEEL, 14, 0.058, 1.25)
    profile = lambda r: 30.0 if r < 1.25 else 30.0 + 30.0 * (r - 1.25) / (3.62 - 1.25)  # noqa: E731
    mean = quad(profile, 0.0, 3.62, points=[1.25])[0] / 3.62
    assert mean_spider_temperature(arms, 3.62, 30.0, 60.0) == pytest.approx(mean, rel=1e-9)


def test_a_given_spider_takes_the_arithmetic_mean():
    assert mean_spider_temperature(GivenSpider(4e10, 1e-4, 15.0), 3.62, 30.0, 60.0) == 45.0


@pytest.mark.parametrize(
    "spider",
    [
        ArmSpider(STEEL, 14, 0.058, 1.25),
        DiscSpider(STEEL, bore_radius=0.0, thickness=0.2),
        GivenSpider(4e10, 1e-4, 15.0),
    ],
)
def test_one_temperature_throughout_is_its_own_mean(spider):
    assert mean_spider_temperature(spider, 3.62, 320.0, 320.0) == pytest.approx(320.0, rel=1e-12)


def test_both_sides_in_a_case_replace_the_mean():
    both = 'spider_hub_temperature = "40 degC"\nspider_rim_temperature = "56 degC"'
    case = parse_case(TEXT.replace('spider_temperature = "50 degC"', both, 1).encode(), "case.toml")
    assert case.conditions["hot"].spider_temperature - 273.15 == pytest.approx(40 + 16 * 0.5 * (1 - 1.25 / 3.62))
