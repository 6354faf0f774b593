"""The pull out of balance and where the shaft lets the rotor go: against closed forms, sympy and a root finder."""

import numpy as np
import pytest

from rimmodel.behaviour.least_gap.net_pull import PulledGap, net_pull, settled_centre, turning_parts

ONE = np.float64(1.0)


def circle(eccentricity, mean=1.0):
    return PulledGap(np.array([mean, -eccentricity], dtype=complex), np.float64(0.0), ONE, ONE)


def closed_form(e):
    """Unit cylinder, unit traction, unit gap: e/(1 - e^2)^(3/2)."""
    return e / (1.0 - e * e) ** 1.5


@pytest.mark.derived
@pytest.mark.parametrize("e", [1e-6, 0.05, 0.3, 0.6, 0.8])
def test_an_eccentric_circle_pulls_as_the_closed_form(e):
    force, slope = net_pull(circle(e * np.exp(-0.7j)))
    assert force * np.exp(-0.7j) == pytest.approx(closed_form(e), rel=1e-10)
    along = (1.0 + 2.0 * e**2) / (1.0 - e**2) ** 2.5
    across = 1.0 / (1.0 - e**2) ** 1.5  # the force turns with the direction of e
    assert np.linalg.eigvalsh(slope) == pytest.approx([across, along], rel=1e-10)


@pytest.mark.independent
def test_the_closed_form_is_the_integral_by_sympy():
    """Term by term: the mean over a turn of cos(t)/(1 - e cos(t))^2 is e/(1 - e^2)^(3/2)."""
    import sympy as sp

    e, t = sp.symbols("e t")
    order = 10
    terms = sp.series((1 - e) ** -2, e, 0, order).removeO()
    waves = sp.Poly(terms, e).all_coeffs()[::-1]
    mean = sum(
        c * e**k * sp.integrate(sp.cos(t) ** (k + 1), (t, 0, 2 * sp.pi)) / (2 * sp.pi) for k, c in enumerate(waves)
    )
    closed = sp.series(e * (1 - e**2) ** sp.Rational(-3, 2), e, 0, order).removeO()
    assert sp.simplify(sp.expand(mean) - closed) == 0


@pytest.mark.independent
def test_any_shape_pulls_as_quadrature_says():
    from scipy.integrate import quad

    rng = np.random.default_rng(3)
    waves = 0.03 * (rng.normal(size=9) + 1j * rng.normal(size=9))
    waves[0] = 1.0
    n, added = np.arange(9), 0.15

    def traction(angle):
        width = (waves * np.exp(1j * n * angle)).real.sum() + added
        return ((1.0 + added) / width) ** 2

    x, y = (
        quad(lambda t, part=part: traction(t) * part(t), 0.0, 2.0 * np.pi, limit=400, epsabs=1e-13)[0] / (2.0 * np.pi)
        for part in (np.cos, np.sin)
    )
    force, slope = net_pull(PulledGap(waves, np.float64(added), ONE, ONE))
    assert complex(force) == pytest.approx(complex(x, y), abs=1e-11)
    step = 1e-6
    for column, move in enumerate((step, 1j * step)):
        ends = [complex(net_pull(PulledGap(waves, np.float64(added), ONE, ONE), sign * move)[0]) for sign in (1, -1)]
        rise = (ends[0] - ends[1]) / (2.0 * step)
        assert slope[:, column] == pytest.approx([rise.real, rise.imag], rel=1e-7, abs=1e-8)


@pytest.mark.independent
@pytest.mark.parametrize("stiffness", [2.0, 3.0, 20.0])
def test_a_rotor_on_a_shaft_settles_where_the_closed_form_balances(stiffness):
    from scipy.optimize import brentq

    built = 0.1
    found = settled_centre(circle(built * np.exp(0.4j)), stiffness)
    low = 0.0
    high = next(d for d in np.linspace(0.0, 0.89, 5000) if stiffness * d > closed_form(built + d))
    root = brentq(lambda d: stiffness * d - closed_form(built + d), low, high, xtol=1e-14)
    assert abs(found.shift) == pytest.approx(root, abs=1e-10)
    e = built + root
    assert found.margin == pytest.approx(1.0 - (1.0 + 2.0 * e**2) / (1.0 - e**2) ** 2.5 / stiffness, abs=1e-9)


@pytest.mark.derived
def test_the_shaft_that_just_does_not_hold_is_found():
    """The limit is where force and slope meet: k = F'(e), k (e - e0) = F(e). With e = 0.5 both follow."""
    e = 0.5
    k = (1.0 + 2.0 * e**2) / (1.0 - e**2) ** 2.5
    built = e - closed_form(e) / k
    firm, weak = settled_centre(circle(built), np.array([1.001 * k, 0.999 * k])).margin
    assert 0.0 < firm < 0.1
    assert weak <= 0.0
    assert np.isnan(settled_centre(circle(built), 0.999 * k).shift)


def test_a_rigid_shaft_does_not_move_and_a_shut_gap_has_no_force():
    assert settled_centre(circle(0.3), np.inf).shift == 0.0
    assert np.isnan(net_pull(circle(1.2))[0])
    assert settled_centre(circle(1.2), 5.0).margin == 0.0


@pytest.mark.derived
def test_an_oval_rotor_off_centre_in_its_bore_pulls_twice_per_turn():
    """To second order F = mean of 3 w^2 exp(i t): bore offset s and oval r turn into (3/2) s r exp(2 i phi)."""
    s, r, turn = 1e-3, 2e-3, 2.0 * np.pi * np.arange(16) / 16
    waves = np.zeros((16, 3), dtype=complex)
    waves[:, 0], waves[:, 1], waves[:, 2] = 1.0, -s, -r * np.exp(-2j * turn)
    force, _ = net_pull(PulledGap(waves, np.float64(0.0), ONE, ONE))
    standing, once, twice = turning_parts(force)
    assert standing == pytest.approx(s, rel=1e-4)
    assert abs(once) < 1e-12
    assert twice == pytest.approx(1.5 * s * r, rel=1e-4)


@pytest.mark.derived
def test_slots_and_iron_soften_the_pull():
    """A constant 0.25 beside a gap of 1 makes the slope a fifth less: F = e/(1.25)."""
    gap = PulledGap(np.array([1.0, -1e-6], dtype=complex), np.float64(0.25), ONE, ONE)
    assert net_pull(gap)[0].real == pytest.approx(1e-6 / 1.25, rel=1e-9)
