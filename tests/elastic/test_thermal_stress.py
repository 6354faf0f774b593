"""Thermal stress of a ring by any temperature against the closed linear field, the book's integrals and balance."""

import numpy as np
import pytest
from scipy.integrate import quad

from rimmodel.elastic import Ring
from rimmodel.elastic.thermal_stress import thermal_stress

STEEL = {"young_modulus": 206e9, "poisson_ratio": 0.3, "density": 7850.0, "thermal_expansion": 12e-6}


@pytest.mark.derived
@pytest.mark.parametrize("factor", [0.6, 0.85, 1.0])
@pytest.mark.parametrize(("inner", "outer"), [(3.62, 4.06), (0.5, 2.0), (3.99, 4.0)])
def test_a_linear_rise_is_that_of_the_closed_field(factor, inner, outer):
    ring = Ring(inner, outer, **STEEL, hoop_stiffness_factor=factor)
    radius = np.linspace(inner, outer, 9)
    found = thermal_stress(ring, radius)
    exact = ring.state(radius, temperature=(10.0, 40.0))
    rise = np.linspace(10.0, 40.0, 9)
    assert np.abs(found.hoop_stress(rise) - exact.hoop_stress).max() < 1e-8 * np.abs(exact.hoop_stress).max()
    grown = found.growth_per_temperature @ rise
    # rounding grows with (radius / element)^2: (4 / 0.00125)^2 x 2e-16 = 2e-9 in the thinnest
    assert grown == pytest.approx(exact.radial_displacement[[0, -1]], rel=5e-9 if inner == 3.99 else 1e-10)


@pytest.mark.derived
def test_any_profile_in_even_steel_is_that_of_the_integrals():
    # Timoshenko & Goodier Art. 151: s_t = E alpha [ (1 + a^2/r^2)/(b^2 - a^2) int_a^b T r + int_a^r T r / r^2 - T ]
    ring = Ring(1.0, 1.8, **STEEL)
    radius = np.linspace(1.0, 1.8, 7)
    rise = np.array([5.0, 9.0, 30.0, 12.0, 8.0, 40.0, 3.0])

    def moment(end):
        stops = [place for place in radius if place < end]
        return quad(lambda r: np.interp(r, radius, rise) * r, 1.0, end, points=stops or None, epsabs=1e-12)[0]

    whole = moment(1.8) / (1.8**2 - 1)
    exact = (
        206e9
        * 12e-6
        * np.array(
            [
                (1 + 1 / r**2) * whole + (moment(r) / r**2 if r > 1 else 0.0) - t
                for r, t in zip(radius, rise, strict=True)
            ]
        )
    )
    found = thermal_stress(ring, radius)
    assert found.hoop_stress(rise) == pytest.approx(exact, rel=1e-8)
    # the bore of a free ring of even steel grows by its area mean
    assert (found.growth_per_temperature @ rise)[0] == pytest.approx(12e-6 * 2 * whole, rel=1e-9)


@pytest.mark.derived
def test_an_even_rise_makes_no_stress():
    found = thermal_stress(Ring(3.0, 4.0, **STEEL, hoop_stiffness_factor=0.7), np.linspace(3.0, 4.0, 5))
    assert np.abs(found.hoop_stress(np.full(5, 60.0))).max() < 1e-3  # Pa, of 148 MPa that E alpha T would be
    assert found.growth_per_temperature @ np.full(5, 60.0) == pytest.approx([12e-6 * 60 * 3, 12e-6 * 60 * 4])


def test_radii_must_run_from_bore_to_outside():
    with pytest.raises(ValueError, match="from the bore to the outside"):
        thermal_stress(Ring(3.0, 4.0, **STEEL), [3.0, 3.5])
    with pytest.raises(ValueError, match="rising order"):
        thermal_stress(Ring(3.0, 4.0, **STEEL), [3.0, 3.8, 3.5, 4.0])
