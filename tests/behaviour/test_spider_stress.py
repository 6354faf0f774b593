"""The largest stress of a disc with steps against closed forms of its zones, of hubs and even discs by the books."""

from dataclasses import replace

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.behaviour.limits.machine import checks
from rimmodel.behaviour.limits.spider_stress import spider_peak_stress
from rimmodel.rotor import DiscSpider
from tests.behaviour.invented_rotors import COLD, DISC, GIVEN, HUBBED, RIM_STEEL, ROTOR, SOLID, SPIDER_STEEL, changed

E, NU, RHO = SPIDER_STEEL.young_modulus, SPIDER_STEEL.poisson_ratio, SPIDER_STEEL.density
RADII, THICKNESSES = (0.5, 1.0, 3.6, 4.0), (1.6, 0.12, 1.8)
PROFILE = tuple(
    (r, h) for inner, outer, h in zip(RADII[:-1], RADII[1:], THICKNESSES, strict=True) for r in (inner, outer)
)
STEPPED = DiscSpider(SPIDER_STEEL, profile=PROFILE)


def zone_stresses(x, pressure):
    """Stresses (Pa) at 4001 radii of each zone: u = A r + B/r - (1 - nu^2) rho x r^3/(8 E), matched at the steps."""
    count = len(THICKNESSES)
    plane = E / (1 - NU**2)

    def row(r):
        """Displacement and radial stress at r per A and per B, and of spin."""
        cubic = -(1 - NU**2) * RHO * x / (8 * E)
        return (r, 1 / r, cubic * r**3), (
            plane * (1 + NU),
            -plane * (1 - NU) / r**2,
            plane * (3 + NU) * cubic * r**2,
        )

    matrix, right = np.zeros((2 * count, 2 * count)), np.zeros(2 * count)
    matrix[0, :2], right[0] = row(RADII[0])[1][:2], -row(RADII[0])[1][2]
    for step in range(1, count):
        (u_a, u_b, _), (s_a, s_b, s_0) = row(RADII[step])
        inner, outer = THICKNESSES[step - 1 : step + 1]
        at = slice(2 * step - 2, 2 * step + 2)
        matrix[2 * step - 1, at] = u_a, u_b, -u_a, -u_b
        matrix[2 * step, at] = inner * s_a, inner * s_b, -outer * s_a, -outer * s_b
        right[2 * step] = (outer - inner) * s_0
    (s_a, s_b, s_0) = row(RADII[-1])[1]
    matrix[-1, -2:], right[-1] = (s_a, s_b), -pressure - s_0
    found = np.linalg.solve(matrix, right).reshape(count, 2)
    largest = []
    for (a, b), inner, outer in zip(found, RADII[:-1], RADII[1:], strict=True):
        r = np.linspace(inner, outer, 4001)
        cubic = -(1 - NU**2) * RHO * x / (8 * E)
        strain, hoop_strain = a - b / r**2 + 3 * cubic * r**2, a + b / r**2 + cubic * r**2
        radial, hoop = plane * (strain + NU * hoop_strain), plane * (hoop_strain + NU * strain)
        size = np.max(np.abs([radial, hoop, hoop - radial]), axis=0)
        largest.append((size.max(), r[size.argmax()]))
    return max(largest), abs(plane * (found[0, 0] * (1 + NU) + found[0, 1] * (1 - NU) / RADII[0] ** 2
                                      + (1 + 3 * NU) * cubic * RADII[0] ** 2))  # fmt: skip


@pytest.mark.derived
@pytest.mark.parametrize("speed", [0.0, 12.0, 24.0])
def test_a_disc_with_steps_against_the_closed_form_of_its_zones(speed):
    rotor = changed(spider=STEPPED)
    state = rm.sweep(rotor, COLD, speed)
    peak = spider_peak_stress(rotor, state)
    pressure = float(state.contact_pressure) * rotor.rim.length / THICKNESSES[-1]
    (largest, radius), at_bore = zone_stresses(speed**2, pressure)
    assert abs(state.spider_hoop_stress) == pytest.approx(at_bore, rel=1e-8)
    assert peak.equivalent_stress == pytest.approx(largest, rel=1e-4)
    assert peak.radius == pytest.approx(radius, rel=0.02)
    if speed == 0.0:
        assert peak.equivalent_stress > 2 * at_bore  # the web is the weak part
        assert radius == pytest.approx(1.0, rel=1e-3)


@pytest.mark.recalled
@pytest.mark.parametrize("spider", [DISC, SOLID], ids=["annular", "solid"])
def test_an_even_disc_has_its_largest_stress_at_the_bore(spider):
    # Timoshenko & Goodier, Arts. 28 and 32, from memory: hoop stress falls outward, and radial stress is below it
    rotor = changed(spider=spider, fit={"interference": 0.0, "settlement": 0.0})
    speed = 15.0
    state = rm.sweep(rotor, COLD, speed)
    assert state.contact_pressure == 0
    c, a = spider.bore_radius, 4.0
    centre = (3 + NU) / 8 * RHO * speed**2 * a**2
    bore = RHO * speed**2 / 4 * ((3 + NU) * a**2 + (1 - NU) * c**2)
    peak = spider_peak_stress(rotor, state)
    assert peak.equivalent_stress == pytest.approx(bore if c else centre, rel=1e-12)
    assert peak.radius == pytest.approx(c, abs=1e-12)


@pytest.mark.derived
def test_a_hub_has_its_largest_stress_at_its_bore():
    """Pressed by arms alone: Lame, hoop stress at the bore; then spinning, with the sum of `spider_response`."""
    rotor = changed(spider=HUBBED)
    for speed in (0.0, 10.0):
        state = rm.sweep(rotor, COLD, speed)
        peak = spider_peak_stress(rotor, state)
        assert peak.equivalent_stress == pytest.approx(abs(float(state.spider_hoop_stress)), rel=1e-10)
        assert peak.radius == pytest.approx(0.7)


@pytest.mark.independent
def test_the_check_of_a_profiled_disc_says_where_its_largest_stress_stands():
    steel = replace(SPIDER_STEEL, yield_strength=400e6)
    rotor = changed(spider=replace(STEPPED, material=steel), rim={"material": RIM_STEEL})
    rows = {(row.name, row.at): row for row in checks(rotor, {"cold": COLD}, None, None, ())}
    row = rows["spider largest equivalent stress", "standstill"]
    state = rm.sweep(rotor, COLD, 0.0)
    (largest, _), _ = zone_stresses(0.0, float(state.contact_pressure) * rotor.rim.length / THICKNESSES[-1])
    assert row.value == pytest.approx(largest, rel=1e-4)
    assert row.note.startswith("Tresca, at a radius of 1.000 m, at a step in thickness")


@pytest.mark.independent
def test_many_rotors_one_by_one_and_none_where_nothing_is_known():
    interference = np.array([0.5e-3, 1.5e-3, 2.5e-3])
    for spider in (STEPPED, DISC, HUBBED):
        many = changed(spider=spider, fit={"interference": interference})
        together = spider_peak_stress(many, rm.sweep(many, COLD, 9.0))
        for place, value in enumerate(interference):
            one = changed(spider=spider, fit={"interference": float(value)})
            alone = spider_peak_stress(one, rm.sweep(one, COLD, 9.0))
            assert together.equivalent_stress[place] == pytest.approx(float(alone.equivalent_stress), rel=1e-13)
    given = changed(spider=GIVEN)
    assert np.isnan(spider_peak_stress(given, rm.sweep(given, COLD, 0.0)).equivalent_stress)
    assert np.isnan(spider_peak_stress(ROTOR, rm.sweep(ROTOR, COLD, 0.0)).equivalent_stress)
