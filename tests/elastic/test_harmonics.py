"""Rings under bore pressure cos(n theta), against books, limits and eighty digits."""

from __future__ import annotations

import math
from functools import cache

import mpmath
import numpy as np
import pytest
import sympy

from rimmodel.elastic.harmonics import HarmonicRing

INNER, OUTER, POISSON = 3.3, 3.72, 0.3
RIM = HarmonicRing(INNER, OUTER, 1.0, POISSON)


# --- derivations ------------------------------------------------------------------------------


@cache
def orthotropic_terms():
    """Derive, for a stress function r^(q+1) cos(n t), the equation of q and the amplitudes per E_r, as functions.

    Strains follow from Hooke's law, displacements U r^q cos(n t), V r^q sin(n t) from the two direct strains, and
    the shear strain must then agree: that is the characteristic equation.
    """
    q, n, m, nu, g = sympy.symbols("q n m nu g")
    radial, hoop, shear = q + 1 - n**2, q * (q + 1), n * q  # phi_r/r + phi_tt/r^2, phi_rr, -(phi_t/r)_r
    strain_r, strain_t = radial - nu * hoop, hoop / m - nu * radial
    u = strain_r / q  # du/dr
    v = (strain_t - u) / n  # u/r + v_t/r
    disagreement = sympy.together((-n * u + (q - 1) * v) - g * shear)
    equation = sympy.expand(sympy.numer(disagreement))
    return (
        sympy.lambdify((n, m, nu, g), sympy.Poly(equation, q).all_coeffs(), "mpmath"),
        sympy.lambdify((q, n), (radial, shear, hoop), "mpmath"),
        sympy.lambdify((q, n, m, nu), u, "mpmath"),
    )


def reference(n, ratio, place, nu, m=1, g=None):
    """Displacement over a and hoop stress at place = r/a per unit pressure over E_r, in 80 digits."""
    polynomial, stresses, displacement = orthotropic_terms()
    with mpmath.workdps(80):
        n, ratio, place, m, nu = (mpmath.mpf(x) for x in (n, ratio, place, m, nu))
        g = 2 * (1 + nu) if g is None else mpmath.mpf(g)
        q = mpmath.polyroots(polynomial(n, m, nu, g), maxsteps=400, extraprec=800)
        unit = [ratio ** min(-mpmath.re(x), 0) for x in q]
        rows = [
            [stresses(x, n)[k] * r ** (x - 1) * s for x, s in zip(q, unit, strict=True)]
            for k in (0, 1)
            for r in (1, ratio)
        ]
        c = mpmath.lu_solve(mpmath.matrix(rows), mpmath.matrix([-1, 0, 0, 0]))
        terms = [(c[i] * unit[i], x) for i, x in enumerate(q)]
        u = sum(k * displacement(x, n, m, nu) * place**x for k, x in terms)
        hoop = sum(k * stresses(x, n)[2] * place ** (x - 1) for k, x in terms)
        return float(mpmath.re(u)), float(mpmath.re(hoop))


MATERIALS = (
    (1.0, None),  # isotropic
    (0.6, None),  # complex exponents for n > 3, nearly repeated ones at n = 3
    (0.8, 2.9),  # soft in shear: four real exponents
    (0.6, 10.4),
    (0.6, 1.2),  # stiff in shear
    (1.7, None),
)


@pytest.mark.derived
@pytest.mark.parametrize(("m", "g"), MATERIALS)
@pytest.mark.parametrize("ratio", [1.0005, 1.005, 1.127, 1.5, 3.0])
def test_displacement_and_edge_stress_against_eighty_digits(m, g, ratio):
    ring = HarmonicRing(1.0, ratio, 2.0, POISSON, m, None if g is None else 2.0 / g)
    for n in (2, 3, 12, 60, 1000):
        for place in (1.0, 1.0 + 0.3 * (ratio - 1.0), ratio):
            expected, stress = reference(n, ratio, place, POISSON, m, g)
            state = ring.state(n, place)
            assert float(state.radial_displacement) == pytest.approx(expected / 2.0, rel=1e-11, abs=1e-290)
            inside = 0.0 if place in (1.0, ratio) else abs(float(ring.state(n, 1.0).hoop_stress))  # it has a zero there
            assert float(state.hoop_stress) == pytest.approx(stress, rel=1e-11, abs=max(1e-11 * inside, 1e-290))


@pytest.mark.derived
@pytest.mark.parametrize("n", [2, 7, 100])
def test_michell_with_kappa(n):
    """2G u_r of Michell's four terms in an isotropic ring, the textbook form with kappa = (3-nu)/(1+nu)."""
    with mpmath.workdps(60):
        b, kappa = mpmath.mpf("1.127"), (3 - mpmath.mpf("0.3")) / (1 + mpmath.mpf("0.3"))
        powers = (n, -n, n + 2, 2 - n)
        rows = [[(p - n * n) * r ** (p - 2) for p in powers] for r in (1, b)]
        rows += [[n * (p - 1) * r ** (p - 2) for p in powers] for r in (1, b)]
        A, B, C, D = mpmath.lu_solve(mpmath.matrix(rows), mpmath.matrix([-1, 0, 0, 0]))
        bore = -n * A + n * B + (kappa - n - 1) * C + (kappa + n - 1) * D
        expected = float(bore * (1 + mpmath.mpf("0.3")))  # 2G = E/(1+nu)
    assert float(HarmonicRing(1.0, 1.127, 1.0, 0.3).compliance(n)) == pytest.approx(expected, rel=1e-12)


@pytest.mark.derived
def test_repeated_exponents_are_no_singularity():
    """At m = 0.6, n = 3 the shear modulus that makes the exponents repeat sits between two that do not."""
    m, n, nu = 0.6, 3, POISSON
    root = math.sqrt(m)
    repeated = 2.0 * nu + 2.0 / root * (1.0 - (1.0 + root) ** 2 / (2.0 * root * n**2))
    for shift in (-1e-3, -1e-9, 0.0, 1e-9, 1e-3):
        g = repeated + shift
        expected, _ = reference(n, 1.127, 1.127, nu, m, g + 1e-30)
        ours = HarmonicRing(1.0, 1.127, 1.0, nu, m, 1.0 / g).state(n, 1.127).radial_displacement
        assert float(ours) == pytest.approx(expected, rel=1e-11)


@pytest.mark.derived
def test_orthotropy_has_isotropy_as_its_limit():
    n = np.array([2, 3, 10, 200])
    near = HarmonicRing(1.0, 1.127, 1.0, 0.3, 1.0 + 1e-9, 1.0 / 2.6).compliance(n)
    np.testing.assert_allclose(near, HarmonicRing(1.0, 1.127, 1.0, 0.3).compliance(n), rtol=3e-9)


# --- limits and books ---------------------------------------------------------------------------

# Timoshenko & Gere, bending of rings, from memory: w = q R^4/(E I (n^2-1)^2) under a line load q cos(n theta).
THIN_RING = {2: 0.1111, 3: 0.015625, 4: 0.004444}


@pytest.mark.recalled
@pytest.mark.parametrize(("n", "printed"), THIN_RING.items())
def test_thin_ring(n, printed):
    h = 1e-5
    ring = HarmonicRing(1.0 - h / 2, 1.0 + h / 2, 1.0, 0.3)
    deflection = float(ring.compliance(n)) * h**3 / 12.0  # per bore pressure 1, R = 1, I of unit length
    assert deflection == pytest.approx(printed, abs=0.6e-4 if n == 2 else 6e-7)


@pytest.mark.recalled
def test_half_plane():
    """A half plane under cos(k x) gives 2/(E k) (Johnson, Contact Mechanics, ch. 13, from memory), s_t = -p."""
    n = np.array([500.0, 1e4, 1e5])
    ratio = RIM.compliance(n) * n / (2.0 * INNER)
    assert np.all(np.abs(ratio - 1.0) <= 0.36 / n)  # (1 - nu)/(2n) is the next term, shown in the docstring's limit
    np.testing.assert_allclose(RIM.state(n, INNER).hoop_stress, -1.0, rtol=1e-12)


@pytest.mark.derived
def test_asymptote_is_reached_as_the_fifth_power():
    for ring in (RIM, HarmonicRing(INNER, OUTER, 1.0, 0.3, 0.6, 0.3, 0.5)):
        n = np.array([600.0, 1200.0])
        A = ring.asymptote()
        left = ring.compliance(n) - sum(A[k] / n ** (k + 1) for k in range(4))
        assert abs(left[0]) < 1e-7 * ring.compliance(600)
        assert abs(left[0]) > 0.8 * 2**5 * abs(left[1])


@pytest.mark.derived
def test_bending_stiffness_factor_is_a_factor_in_a_thin_ring_and_nothing_to_a_dent():
    soft = HarmonicRing(1.0, 1.0005, 1.0, 0.3, bending_stiffness_factor=0.5)
    solid = HarmonicRing(1.0, 1.0005, 1.0, 0.3)
    assert float(soft.compliance(2) / solid.compliance(2)) == pytest.approx(2.0, rel=2e-3)
    assert float(soft.compliance(10**5) / solid.compliance(10**5)) == pytest.approx(1.0, rel=2e-4)
    assert float(soft.state(2, 1.0).hoop_stress) == float(solid.state(2, 1.0).hoop_stress)


def test_everything_broadcasts():
    ring = HarmonicRing(
        np.array([1.0, 2.0])[:, None, None], 3.0, 1e11, 0.3, np.array([0.6, 0.8, 1.0])[:, None], None, 0.7
    )
    n, pressure = np.array([2, 3, 4, 5]), np.array([1.0, 2.0, 3.0, 4.0])
    state = ring.state(n, 2.5, pressure)
    assert state.radial_displacement.shape == state.hoop_stress.shape == (2, 3, 4)
    one = HarmonicRing(2.0, 3.0, 1e11, 0.3, 0.8, None, 0.7).state(4, 2.5, 3.0)
    assert state.radial_displacement[1, 1, 2] == pytest.approx(float(one.radial_displacement), rel=1e-14)
    assert state.hoop_stress[1, 1, 2] == pytest.approx(float(one.hoop_stress), rel=1e-14)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: HarmonicRing(1.0, 0.9, 1.0, 0.3), "outer_radius is 0.9 m; it must be larger than inner_radius"),
        (lambda: HarmonicRing(1.0, math.nan, 1.0, 0.3), "outer_radius is nan m; it must be positive"),
        (lambda: HarmonicRing(1.0, 1.1, 1.0, 0.9, 1.5), "poisson_ratio is 0.9; it must be below"),
        (lambda: RIM.compliance(1), "harmonic is 1; it must be a whole number"),
        (lambda: RIM.compliance([2, 2.5]), "harmonic is 2.5"),
        (lambda: RIM.state(2, 4.0), "radius is 4 m; it must be between"),
    ],
)
def test_refusals_name_input_value_and_rule(call, words):
    with pytest.raises(ValueError, match=words):
        call()
