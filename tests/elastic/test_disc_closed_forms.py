"""Discs of varying thickness against closed forms and series: hyperbolic, of uniform strength, tapered, warmed."""

import numpy as np
import pytest
import sympy as sp

from rimmodel.elastic.disc import Disc

STEEL = {"young_modulus": 206e9, "poisson_ratio": 0.3, "density": 7850.0, "thermal_expansion": 12e-6}


@pytest.mark.derived
def test_hyperbolic_closed_form_is_derived():
    r, q, nu, spin, modulus, power = sp.symbols("r q nu spin modulus power", positive=True)
    thickness = r**-q

    def unbalanced(u, load):
        radial = modulus / (1 - nu**2) * (sp.diff(u, r) + nu * u / r)
        hoop = modulus / (1 - nu**2) * (u / r + nu * sp.diff(u, r))
        return sp.diff(r * thickness * radial, r) - thickness * hoop + load * thickness * r**2

    free = sp.simplify(unbalanced(r**power, 0) * (1 - nu**2) / modulus * r ** (q + 1 - power))
    assert sp.expand(free - (power**2 - q * power - 1 - q * nu)) == 0
    forced = -(1 - nu**2) * spin * r**3 / (modulus * (8 - (3 + nu) * q))
    assert sp.simplify(unbalanced(forced, spin)) == 0


def hyperbolic(radius, a, b, q, speed, pressure, traction, modulus=200e9, nu=0.3, density=7850.0):
    """Stresses and displacement of a disc of thickness c/r^q: powers of r from the derivation above."""
    plane, spin = modulus / (1 - nu**2), density * speed**2
    powers = q / 2 + np.array([1, -1]) * np.sqrt(q * q / 4 + 1 + q * nu)
    forced = -spin / plane / (8 - (3 + nu) * q)

    def radial(r, terms):
        return plane * sum(c * (n + nu) * r ** (n - 1) for c, n in terms)

    matrix = [[radial(r, [(1.0, n)]) for n in powers] for r in (a, b)]
    right = [-pressure - radial(a, [(forced, 3)]), traction - radial(b, [(forced, 3)])]
    terms = [*zip(np.linalg.solve(matrix, right), powers, strict=True), (forced, 3)]
    hoop = plane * sum(c * (1 + nu * n) * radius ** (n - 1) for c, n in terms)
    return radial(radius, terms), hoop, sum(c * radius**n for c, n in terms)


@pytest.mark.recalled
def test_hyperbolic_disc_of_stodola():
    # Stodola, Steam and Gas Turbines; Timoshenko, Strength of Materials II (form from memory): thickness c/r; the
    # numbers are this closed form evaluated apart from this code, with finite elements 1e-5 beside them
    radius = np.array([0.1, 0.5])
    _, hoop, u = hyperbolic(radius, 0.1, 0.5, 1.0, 300.0, 0.0, 0.0)
    assert hoop / 1e6 == pytest.approx([83.08054400207548, 25.946054158314222], rel=1e-12)
    assert u[0] * 1e3 == pytest.approx(0.04154027199860383, rel=1e-10)
    # spin alone: radii in geometric progression make every segment err alike, and an even error changes nothing
    radii = np.geomspace(0.1, 0.5, 401)
    state = Disc(radii, 0.001 / radii, 200e9, 0.3, 7850.0).state(radii[[0, -1]], 300.0)
    np.testing.assert_allclose(state.hoop_stress, hoop, rtol=1e-10)


@pytest.mark.derived
@pytest.mark.parametrize("q", [-0.7, 0.5, 1.0, 1.8])
def test_hyperbolic_disc_to_1e_8(q):
    # straight segments err with the square of their length: halving gains 4, extrapolation the rest
    radius = np.array([0.1, 0.2, 0.35, 0.5])
    exact = np.array(hyperbolic(radius, 0.1, 0.5, q, 300.0, 2e7, 3e7))

    def errors(count):
        radii = np.linspace(0.1, 0.5, count + 1)
        disc = Disc(radii, 0.01 * radii**-q, 200e9, 0.3, 7850.0)
        state = disc.state(radius, 300.0, inner_pressure=2e7, outer_traction=3e7)
        ours = np.array([state.radial_stress, state.hoop_stress, state.radial_displacement])
        return (ours - exact) / np.abs(exact).max(axis=1)[:, np.newaxis]

    coarse, middle, fine = errors(400), errors(800), errors(1600)
    seen = np.abs(fine) > 1e-8
    assert np.count_nonzero(seen) >= 6
    np.testing.assert_allclose((coarse - middle)[seen] / (middle - fine)[seen], 4, atol=0.05)
    assert np.abs((4 * fine - middle) / 3).max() < 1e-8


@pytest.mark.recalled
def test_disc_of_uniform_strength():
    # Hearn, Mechanics of Materials 2, ch. 4 summary: h = h0 exp(-rho w^2 r^2/(2 s)) with the outside loaded to s has
    # s everywhere; straight segments err with the square of their length, so halving gains 4, and extrapolation more
    stress, density, speed, outer = 80e6, 8000.0, 3000 * np.pi / 30, 0.5
    radius = np.array([0.0, 0.125, 0.3125, 0.5])

    def errors(count):
        radii = np.linspace(0, outer, count + 1)
        thicknesses = 0.02 * np.exp(-density * speed**2 * radii**2 / (2 * stress))
        assert thicknesses[-1] == pytest.approx(5.824258664280416e-3, rel=1e-12)
        state = Disc(radii, thicknesses, 200e9, 0.3, density).state(radius, speed, outer_traction=stress)
        growth = state.radial_displacement[1:] / (0.7 * stress * radius[1:] / 200e9)
        return np.concatenate([state.hoop_stress / stress, growth]) - 1

    coarse, middle, fine = errors(400), errors(800), errors(1600)
    np.testing.assert_allclose(coarse / middle, 4, atol=0.05)
    np.testing.assert_allclose(middle / fine, 4, atol=0.05)
    assert np.abs((4 * fine - middle) / 3).max() < 1e-8


@pytest.mark.derived
def test_solid_tapered_disc_by_power_series():
    # u = sum c_n r^n in the balance of a disc of thickness 1 - r/R: with x = r/R,
    # (1 - x)(r^2 u'' + r u' - u) - x (r u' + nu u) = -K r^3 (1 - x), so
    # c_n (n^2 - 1) = c_(n-1) [(n-1)^2 - 1 + (n-1) + nu]/R - K [n = 3] + K/R [n = 4]
    size, outer, nu, modulus, speed = 2.0, 1.2, 0.3, 206e9, 60.0
    pull = (1 - nu**2) * 7850 * speed**2 / modulus

    def series(first, load):
        c = np.zeros(160)
        c[1] = first
        for n in range(2, c.size):
            c[n] = c[n - 1] * ((n - 1) ** 2 - 1 + n - 1 + nu) / size
            c[n] += load * ((n == 4) / size - (n == 3))
            c[n] /= n * n - 1
        return c

    def stresses(c, r):
        n = np.arange(c.size)
        radial, hoop = (n * c) @ r ** (n[:, np.newaxis] - 1.0), c @ r ** (n[:, np.newaxis] - 1.0)
        plane = modulus / (1 - nu**2)
        return plane * (radial + nu * hoop), plane * (hoop + nu * radial)

    edge = np.array([outer])
    amount = -stresses(series(0.0, pull), edge)[0] / stresses(series(1.0, 0.0), edge)[0]
    radius = np.linspace(1e-3, outer, 30)
    radial, hoop = stresses(series(amount[0], pull), radius)
    state = Disc([0.0, outer], [0.1, 0.1 * (1 - outer / size)], modulus, nu, 7850.0).state(radius, speed)
    np.testing.assert_allclose(state.hoop_stress, hoop, rtol=1e-9)
    np.testing.assert_allclose(state.radial_stress, radial, atol=1e-9 * hoop.max())
    centre = Disc([0.0, outer], [0.1, 0.1 * (1 - outer / size)], modulus, nu, 7850.0).state(0.0, speed)
    assert centre.radial_stress == pytest.approx(centre.hoop_stress, rel=1e-10)


@pytest.mark.recalled
def test_solid_disc_warmed_towards_the_outside():
    # thin disc with T = T_b r/b, Timoshenko & Goodier (1951) Art. 135, from memory: s(0) = alpha E T_b/3, both ways
    disc = Disc([0.0, 0.5, 0.8], [0.1, 0.1, 0.1], **STEEL)
    state = disc.state(np.array([0.0, 0.8]), temperature=(0.0, 60.0))
    expected = 12e-6 * 206e9 * 60.0 / 3
    assert state.radial_stress == pytest.approx([expected, 0.0], abs=1e-9 * expected)
    assert state.hoop_stress == pytest.approx([expected, -expected], rel=1e-9)
