"""Heat along a line against the series of slab, cylinder and fin; order of the grid; balance of heat; bad input."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.linalg import expm
from scipy.optimize import brentq
from scipy.special import j0, j1, jn_zeros

from rimmodel.elastic.heat_elements import conduction_matrix, joined, node_shares
from rimmodel.elastic.heat_steps import heat_modes, steady

CONDUCTIVITY, HEAT = 40.0, 3.7e6
"""W/m/K, and J/K per m3."""
TIMES = np.array([200.0, 1000.0, 4000.0])


def slab_series(x, time, depth, exchange):
    """Share of the first rise left: insulated at 0, exchange at `depth` (Carslaw & Jaeger 3.11)."""
    biot = exchange * depth / CONDUCTIVITY
    roots = [
        brentq(lambda z: z * np.sin(z) - biot * np.cos(z), n * np.pi + 1e-9, n * np.pi + np.pi / 2) for n in range(200)
    ]
    z = np.array(roots)[:, None]
    factor = 4 * np.sin(z) / (2 * z + np.sin(2 * z))
    fourier = CONDUCTIVITY / HEAT * time / depth**2
    return np.sum(factor * np.cos(z * x / depth) * np.exp(-(z**2) * fourier), axis=0)


def cylinder_series(r, time, radius, exchange):
    """The same of a solid cylinder (Carslaw & Jaeger 7.7)."""
    biot = exchange * radius / CONDUCTIVITY
    ends = np.append(0.0, jn_zeros(1, 120))
    z = np.array([brentq(lambda z: z * j1(z) - biot * j0(z), low + 1e-9, high) for low, high in pairwise(ends)])
    z = z[:, None]
    factor = 2 * j1(z) / (z * (j0(z) ** 2 + j1(z) ** 2))
    fourier = CONDUCTIVITY / HEAT * time / radius**2
    return np.sum(factor * j0(z * r / radius) * np.exp(-(z**2) * fourier), axis=0)


def line(place, section, exchange_end):
    """Modes of a line of section `section` that meets the air at its end."""
    matrix = conduction_matrix(place, CONDUCTIVITY * section)
    matrix[-1, -1] += exchange_end
    return heat_modes(HEAT * node_shares(place, section), matrix)


@pytest.mark.derived
def test_slab_cools_as_its_series_says():
    x = np.linspace(0.0, 0.2, 81)
    found = line(x, np.ones(81), 300.0).after(np.ones(81), np.zeros(81), TIMES)
    exact = np.array([slab_series(x, time, 0.2, 300.0) for time in TIMES])
    assert np.abs(found - exact).max() < 1e-4


@pytest.mark.derived
def test_cylinder_cools_as_its_series_says():
    r = np.linspace(0.0, 0.2, 81)
    found = line(r, 2 * np.pi * r, 2 * np.pi * 0.2 * 300.0).after(np.ones(81), np.zeros(81), TIMES)
    exact = np.array([cylinder_series(r, time, 0.2, 300.0) for time in TIMES])
    assert np.abs(found - exact).max() < 1e-4


@pytest.mark.derived
def test_fin_warms_as_its_series_says():
    # root held at 1, tip insulated, sides in air at 0: steady cosh(m (l - x))/cosh(m l), and a sine series to it
    length, section, girth, exchange = 0.8, 0.01, 0.5, 30.0
    x = np.linspace(0.0, length, 321)
    m2 = exchange * girth / (CONDUCTIVITY * section)
    matrix = conduction_matrix(x, np.full(321, CONDUCTIVITY * section)) + np.diag(
        node_shares(x, np.full(321, exchange * girth))
    )
    inner = heat_modes(HEAT * node_shares(x, np.full(321, section))[1:], matrix[1:, 1:])
    found = inner.after(np.zeros(320), -matrix[1:, 0], TIMES)
    order = (2 * np.arange(400) + 1)[:, None] * np.pi / (2 * length)
    rate = CONDUCTIVITY / HEAT * (order**2 + m2)
    settled = np.cosh(np.sqrt(m2) * (length - x)) / np.cosh(np.sqrt(m2) * length)
    for row, time in zip(found, TIMES, strict=True):
        gone = np.sum(2 / length * order / (order**2 + m2) * np.sin(order * x) * np.exp(-rate * time), axis=0)
        assert np.abs(row - (settled - gone)[1:]).max() < 1e-4


@pytest.mark.derived
@pytest.mark.parametrize(
    ("weight", "series"), [(lambda x: np.ones_like(x), slab_series), (lambda x: 2 * np.pi * x, cylinder_series)]
)
def test_the_error_falls_with_the_square_of_the_element(weight, series):
    def error(count):
        x = np.linspace(0.0, 0.2, count + 1)
        found = line(x, weight(x), weight(x)[-1] * 300.0).after(np.ones(count + 1), np.zeros(count + 1), [1000.0])[0]
        return abs(found[-1] - series(x[-1:], 1000.0, 0.2, 300.0)[0])

    errors = [error(count) for count in (10, 20, 40)]
    assert np.log2(errors[0] / errors[1]) == pytest.approx(2.0, abs=0.1)
    assert np.log2(errors[1] / errors[2]) == pytest.approx(2.0, abs=0.05)


@pytest.mark.independent
def test_steps_are_those_of_the_matrix_exponential():
    rng = np.random.default_rng(3)
    capacity = rng.uniform(1e3, 1e5, 6)
    matrix = joined(joined(conduction_matrix(np.arange(6.0), rng.uniform(1, 9, 6)), 0, 5, 3.0), 1, 4, 2.0)
    matrix += np.diag(rng.uniform(0.0, 4.0, 6))
    start, source = rng.uniform(280, 340, 6), rng.uniform(0, 900, 6)
    rest = steady(matrix, source)
    for time in (1.0, 3e3, 1e5):
        exact = rest + expm(-matrix * time / capacity[:, None]) @ (start - rest)
        ours = heat_modes(capacity, matrix).after(start, source, [time])[0]
        assert ours == pytest.approx(exact, rel=1e-12)


@pytest.mark.derived
def test_heat_is_neither_lost_nor_made():
    rng = np.random.default_rng(5)
    capacity, air = rng.uniform(1e4, 1e6, 8), 300.0
    exchange = rng.uniform(0.0, 50.0, 8) * (rng.uniform(size=8) < 0.5)
    between = conduction_matrix(np.arange(8.0), rng.uniform(100, 900, 8))
    for out in (exchange, np.zeros(8)):  # the second exchanges nothing at all: one rate is zero
        put_in, start = rng.uniform(0, 500, 8), rng.uniform(280, 350, 8)
        modes = heat_modes(capacity, between + np.diag(out))
        source = put_in + out * air
        for time in (1e-3, 50.0, 7e3, 3e6):
            stored = capacity @ (modes.after(start, source, [time])[0] - start)
            taken = out @ (modes.integral(start, source, [time])[0] - air * time)
            scale = max(put_in.sum() * time, abs(taken), capacity @ start * 1e-6)
            assert abs(stored + taken - put_in.sum() * time) < 1e-10 * max(scale, capacity @ start)


def test_nothing_overshoots():
    # a hot surface film on a thick wall: temperatures stay between the first ones and the air
    x = np.linspace(0.0, 0.4, 9)
    found = line(x, np.ones(9), 5e4).after(
        np.full(9, 350.0), np.append(np.zeros(8), 5e4 * 300.0), np.geomspace(1, 1e6, 40)
    )
    assert found.min() >= 300.0 - 1e-9
    assert found.max() <= 350.0 + 1e-9


def test_what_is_no_line_is_refused():
    with pytest.raises(ValueError, match="rising order"):
        conduction_matrix([0.0, 1.0, 0.5], [1.0, 1.0, 1.0])
    with pytest.raises(ValueError, match="one length"):
        node_shares([0.0, 1.0], [1.0])
    with pytest.raises(ValueError, match="capacity is 0 J/K"):
        heat_modes([0.0], [[1.0]])
    with pytest.raises(ValueError, match="time is -1 s"):
        heat_modes([1.0], [[1.0]]).after([1.0], [0.0], [-1.0])
