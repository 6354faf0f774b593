"""Keys on a ring: compliance matrix, scallop and outer shape, against plain sums and finite elements."""

from __future__ import annotations

import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rimmodel.elastic.harmonics import HarmonicRing
from rimmodel.elastic.key_compliance import key_compliance_matrix, key_shape_amplitudes, scalloped_compliance
from validation import ring_harmonics_finite_elements as finite_elements

INNER, OUTER, POISSON = 3.3, 3.72, 0.3
RIM = HarmonicRing(INNER, OUTER, 1.0, POISSON)
MEAN = INNER * ((OUTER**2 + INNER**2) / (OUTER**2 - INNER**2) + POISSON)
"""Lame's bore displacement per pressure at E = 1 (Timoshenko & Goodier, thick-walled cylinder)."""


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: scalloped_compliance(RIM, 8, 3.0, MEAN), "key_width is 3 m; it must be at most the pitch"),
        (lambda: scalloped_compliance(RIM, 8, 0.001, MEAN), "knife edge"),
        (
            lambda: key_compliance_matrix(RIM, 1.0, [0.0, 0.01], 0.2, MEAN),
            "key_width is 0.2 m; it must be at most the distance",
        ),
        (lambda: key_compliance_matrix(RIM, 1.0, [0.0, 1.0], 0.2, MEAN, 0.0, [0.0, 1e3]), "n = 3"),
        (lambda: key_shape_amplitudes(RIM, 1.0, [0.0], 0.2, MEAN, 1), "harmonics is 1; it must be 2 or more"),
    ],
)
def test_refusals_name_input_value_and_rule(call, words):
    with pytest.raises(ValueError, match=words):
        call()


def added_up_by_force(ring, mean, angle, width, terms=400_000):
    """The sum as it stands, one pair of keys; what is left out is below (2a/w)^2/terms^2."""
    n = np.arange(2.0, terms)
    total = np.sum(ring.compliance(n) * np.cos(n * angle) * np.sinc(n * width / (2.0 * INNER * np.pi)) ** 2)
    return (0.5 * mean + total) / (np.pi * INNER * 2.0)


@pytest.mark.independent
@pytest.mark.parametrize(
    "ring", [RIM, HarmonicRing(INNER, OUTER, 1.0, 0.3, 0.6, None, 0.5)], ids=["solid", "laminated"]
)
def test_matrix_is_the_sum_of_four_hundred_thousand_terms(ring):
    angle, width = np.array([0.0, 0.9, 2.0, 5.5]), 0.12
    G = key_compliance_matrix(ring, 2.0, angle, width, MEAN)
    for i, j in ((0, 0), (0, 1), (1, 3)):
        expected = added_up_by_force(ring, MEAN, angle[i] - angle[j], width)
        assert G[i, j] == pytest.approx(expected, abs=1e-8 * G[0, 0])


@pytest.mark.derived
@pytest.mark.parametrize(("ratio", "width"), [(1.0005, 0.0033), (1.127, 0.0033), (1.127, 0.4), (3.0, 0.05)])
def test_matrix_is_converged(monkeypatch, ratio, width):
    """Ten times the directly added terms change nothing beyond 1e-8 of the diagonal."""
    ring, angle = HarmonicRing(INNER, INNER * ratio, 1.0, 0.3, 0.7, None, 0.8), np.array([0.0, 0.9, 2.0])
    G = key_compliance_matrix(ring, 2.0, angle, width, MEAN)
    monkeypatch.setattr("rimmodel.elastic.key_compliance._direct_terms", lambda _: 100_000)
    more = key_compliance_matrix(ring, 2.0, angle, width, MEAN)
    assert np.max(np.abs(more - G)) < 1e-8 * G[0, 0]


@pytest.mark.derived
@pytest.mark.parametrize("count", [2, 3, 8, 24])
def test_scallop_is_the_row_sum_of_the_matrix(count):
    """Equal forces on even keys: F sum_j G_ij with F = p 2 pi a L/N."""
    width = 0.1
    G = key_compliance_matrix(RIM, 2.0, np.arange(count) * 2.0 * np.pi / count, width, MEAN)
    by_rows = G.sum(axis=1) * 2.0 * np.pi * INNER * 2.0 / count
    ours = scalloped_compliance(RIM, np.array([[count], [40]]), np.array([width, 0.2]), MEAN)
    assert ours.shape == (2, 2)
    np.testing.assert_allclose(by_rows, ours[0, 0], rtol=1e-9)


@settings(max_examples=25, deadline=None)
@given(
    turn=st.floats(-10.0, 10.0),
    gaps=st.lists(st.floats(0.1, 2.0), min_size=3, max_size=9),
    m=st.floats(0.5, 1.0),
    width=st.floats(0.01, 0.3),
)
def test_matrix_is_symmetric_positive_and_blind_to_turning_and_mirror(turn, gaps, m, width):
    ring = HarmonicRing(INNER, OUTER, 1.0, 0.3, m)
    angle = np.cumsum(gaps) * 2.0 * np.pi / np.sum(gaps)
    width = min(width, 0.9 * INNER * float(np.min(np.diff(angle, append=angle[0] + 2.0 * np.pi))))
    width = max(width, 0.004)
    G = key_compliance_matrix(ring, 2.0, angle, width, MEAN)
    turned, mirrored = (key_compliance_matrix(ring, 2.0, x, width, MEAN) for x in (angle + turn, turn - angle))
    scale = G[0, 0]
    assert np.max(np.abs(G - G.T)) < 1e-12 * scale
    assert np.max(np.abs(G - turned)) < 1e-9 * scale
    assert np.max(np.abs(G - mirrored)) < 1e-9 * scale
    assert np.min(np.linalg.eigvalsh(G)) > 0.0


@pytest.mark.derived
def test_spin_and_pull_change_their_harmonic_alone():
    angle, width, stiffness = np.array([0.0, 0.9, 2.0]), 0.1, 1.0 / float(RIM.compliance(3))
    plain = key_compliance_matrix(RIM, 2.0, angle, width, MEAN)
    pulled = key_compliance_matrix(RIM, 2.0, angle, width, MEAN, [0.0, 0.3 * stiffness], [0.0, 0.8 * stiffness])
    apart = angle[:, None] - angle[None, :]
    patch = np.sinc(3 * width / (2.0 * INNER * np.pi)) ** 2
    expected = np.cos(3.0 * apart) * patch / stiffness / (np.pi * INNER * 2.0)  # 1/(K - K/2) - 1/K = 1/K
    np.testing.assert_allclose(pulled - plain, expected, atol=1e-12 * plain[0, 0])
    shapes = [
        key_shape_amplitudes(RIM, 2.0, angle, width, MEAN, 5, None, 0.0, pull) for pull in (0.0, [0.0, 0.5 * stiffness])
    ]
    np.testing.assert_allclose(shapes[1][3], 2.0 * shapes[0][3], rtol=1e-12)
    np.testing.assert_allclose(np.delete(shapes[1], 3, axis=0), np.delete(shapes[0], 3, axis=0), rtol=1e-14)


def test_a_batch_of_rings_is_one_call():
    ring = HarmonicRing(INNER, OUTER, 1.0, 0.3, np.array([0.6, 0.8, 1.0]))
    angle, mean = np.arange(7) * 2.0 * np.pi / 7, np.array([40.0, 35.0, MEAN])
    G = key_compliance_matrix(ring, 2.0, angle, 0.1, mean, spin_stiffness=np.ones((3, 2)) * 1e-4)
    shape = key_shape_amplitudes(ring, 2.0, angle, 0.1, mean, 30)
    assert G.shape == (3, 7, 7)
    assert shape.shape == (3, 31, 7)
    alone = key_compliance_matrix(RIM, 2.0, angle, 0.1, MEAN, spin_stiffness=[1e-4, 1e-4])
    np.testing.assert_allclose(G[2], alone, rtol=1e-9)
    np.testing.assert_allclose(shape[2], key_shape_amplitudes(RIM, 2.0, angle, 0.1, MEAN, 30), rtol=1e-12)


@pytest.mark.derived
def test_profile_at_the_bore_averages_to_the_matrix():
    """Averaging the bore profile over a key by its own sinc must give back G."""
    angle, width, top = np.array([0.0, 0.9, 2.0]), 0.2, 40_000
    shape = key_shape_amplitudes(RIM, 2.0, angle, width, MEAN, top, radius=INNER)
    n = np.arange(top + 1.0)[:, None]
    average = np.exp(1j * n * angle) * np.sinc(n * width / (2.0 * INNER * np.pi))
    G = key_compliance_matrix(RIM, 2.0, angle, width, MEAN)
    np.testing.assert_allclose((average.T @ shape).real, G, atol=1e-7 * G[0, 0])


@pytest.mark.derived
def test_size_of_the_neglected_first_harmonic():
    """Bore pressure cos(theta) balanced by the ring's own inertia, by Ritz with polynomials in r.

    The bore's displacement from the mean of the mass is 0.26 C_0 at b/a = 1.127, and 1/4 in a thin ring.
    """
    assert first_harmonic(INNER, OUTER) / MEAN == pytest.approx(0.26, abs=0.005)
    thin = INNER * (1.001**2 + 1.0) / (1.001**2 - 1.0)
    assert first_harmonic(INNER, INNER * 1.001) / thin == pytest.approx(0.25, abs=2e-3)
    share = first_harmonic(INNER, OUTER) / (np.pi * INNER) / key_compliance_matrix(RIM, 1.0, [0.0], 0.2, MEAN)[0, 0]
    assert share == pytest.approx(0.0024, abs=1e-4)


def first_harmonic(a, b, degree=10):
    """Ritz: u = U(r) cos, v = V(r) sin, E = 1, displacement of the centre of mass zero."""
    from numpy.polynomial.legendre import legder, leggauss, legval

    x, weight = leggauss(40)
    r, weight, unit = 0.5 * (a + b) + 0.5 * (b - a) * x, weight * 0.5 * (b - a), np.eye(degree)
    P, slope = legval(x, unit), legval(x, legder(unit)) * 2.0 / (b - a)
    none, bore = np.zeros_like(P), legval(-1.0, unit)
    radial, hoop, shear = np.vstack([slope, none]), np.vstack([P / r, P / r]), np.vstack([-P / r, slope - P / r])
    volume = weight * r

    def product(f, g):
        return (f * volume) @ g.T

    direct = product(radial, radial) + product(hoop, hoop) + POISSON * (product(radial, hoop) + product(hoop, radial))
    stiffness = direct / (1.0 - POISSON**2) + product(shear, shear) / (2.0 * (1.0 + POISSON))
    along = np.concatenate([P @ volume, -(P @ volume)])  # work of a uniform body force along x
    shift = np.concatenate([unit[0], -unit[0]])
    load = np.concatenate([a * bore, 0.0 * bore])
    load = load - along * (load @ shift) / (along @ shift)
    system = np.block([[stiffness, along[:, None]], [along[None, :], np.zeros((1, 1))]])
    return float(np.linalg.solve(system, np.append(load, 0.0))[:degree] @ bore)


@pytest.mark.independent
def test_even_keys_against_finite_elements():
    for row in finite_elements.even_checks(finite_elements.Ring(), "rim", (6, 8, 14), (0.02, 0.20)):
        assert row.relative_difference < row.tolerance, row.what


@pytest.mark.independent
def test_uneven_keys_of_a_laminated_rim_against_finite_elements():
    name, angle, width, force = finite_elements.PATTERNS[0]
    ring = finite_elements.Ring(hoop_stiffness_factor=0.6)
    for row in finite_elements.uneven_checks(ring, name, np.array(angle), width, 1e6 * np.array(force)):
        assert row.relative_difference < row.tolerance, row.what


def test_twenty_four_keys_cost_less_than_adding_up():
    """A ratio in one run: the whole matrix to 1e-8 against 20,000 plain terms (1e-6) for the first key's row alone."""
    angle, n = np.arange(24) * np.pi / 12.0, np.arange(2.0, 20_000.0)

    def best(call):
        times = []
        for _ in range(5):
            start = time.perf_counter()
            call()
            times.append(time.perf_counter() - start)
        return min(times)

    ours = best(lambda: key_compliance_matrix(RIM, 2.0, angle, 0.1, MEAN))
    plain = best(lambda: (RIM.compliance(n) * np.sinc(n * 0.005) ** 2) @ np.cos(n[:, None] * angle))
    assert ours < plain
