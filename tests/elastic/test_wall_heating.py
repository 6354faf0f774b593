"""Closed forms of heated bodies against the differential equations that they solve."""

import numpy as np
import pytest
import sympy as sp
from scipy.integrate import solve_ivp

from rimmodel.elastic import Ring
from rimmodel.elastic.heat_elements import conduction_matrix, node_shares
from rimmodel.elastic.heat_steps import heat_modes
from rimmodel.elastic.thermal_stress import thermal_stress
from rimmodel.elastic.wall_heating import (
    Wall,
    lumped_rise,
    restrained_stress,
    thermal_wave,
)

STORED, CONDUCTIVITY, DEPTH = 7850.0 * 470.0, 45.0, 0.44


@pytest.mark.derived
def test_a_lumped_body_follows_its_equation():
    found = solve_ivp(lambda _, rise: (2e5 - 900.0 * rise) / 7e7, (0.0, 1e5), [0.0], rtol=1e-10, atol=1e-10)
    assert lumped_rise(2e5, 900.0, 7e7, 1e5) == pytest.approx(found.y[0, -1], rel=1e-8)
    assert lumped_rise(2e5, 1e-9, 7e7, 3600.0) == pytest.approx(2e5 * 3600.0 / 7e7)


@pytest.mark.parametrize(("loss", "capacity", "words"), [(0.0, 1.0, "loss is 0 W/K"), (1.0, 0.0, "capacity is 0 J/K")])
def test_a_lumped_body_needs_loss_and_capacity(loss, capacity, words):
    with pytest.raises(ValueError, match=words):
        lumped_rise(1.0, loss, capacity, 1.0)


def test_a_wall_has_depth():
    with pytest.raises(ValueError, match="depth is 0 m; it must be above zero"):
        Wall(0.0, CONDUCTIVITY, STORED)


@pytest.mark.derived
def test_the_parabola_of_a_flux_solves_the_equation_of_heat():
    x, t, q, k, stored, depth = sp.symbols("x t q k s L", positive=True)
    rate = q / (stored * depth)
    temperature = rate * t + q * (depth - x) ** 2 / (2 * k * depth)
    assert sp.simplify(stored * sp.diff(temperature, t) - k * sp.diff(temperature, x, 2)) == 0
    assert sp.simplify(-k * sp.diff(temperature, x).subs(x, 0) - q) == 0
    assert sp.diff(temperature, x).subs(x, depth) == 0
    spread = sp.simplify(temperature.subs(x, 0) - temperature.subs(x, depth))
    warming = 1200.0 / (STORED * DEPTH)
    wall = Wall(DEPTH, CONDUCTIVITY, STORED)
    assert wall.spread(warming) == pytest.approx(
        float(spread.subs({q: 1200.0, k: CONDUCTIVITY, depth: DEPTH})), rel=1e-12
    )
    assert wall.rate(wall.spread(warming)) == pytest.approx(warming, rel=1e-12)


@pytest.mark.independent
def test_the_slowest_mode_of_a_wall_is_that_of_elements():
    place = np.linspace(0.0, DEPTH, 200)
    capacity = node_shares(place, np.full(200, STORED))
    modes = heat_modes(capacity, conduction_matrix(place, np.full(200, CONDUCTIVITY)))
    assert Wall(DEPTH, CONDUCTIVITY, STORED).evening_time == pytest.approx(1.0 / modes.rate[1], rel=1e-4)


@pytest.mark.independent
def test_two_thirds_and_one_third_of_a_parabola_are_the_stress_of_a_thin_ring():
    ring = Ring(9.78, 10.22, 206e9, 0.3, 7850.0, thermal_expansion=12e-6)
    radius = np.linspace(9.78, 10.22, 61)
    stress = thermal_stress(ring, radius).hoop_stress(10.0 * ((10.22 - radius) / 0.44) ** 2)
    assert stress[0] == pytest.approx(restrained_stress(206e9, 12e-6, 10.0 * 2 / 3), rel=0.03)
    assert stress[-1] == pytest.approx(restrained_stress(206e9, 12e-6, -10.0 / 3), rel=0.03)


@pytest.mark.independent
@pytest.mark.parametrize("harmonic", [2, 3, 5])
def test_the_wave_of_a_ring_is_that_of_straight_pieces_that_grow(harmonic):
    """A polygon of a thousand pieces: each longer by alpha T, the angles between them as they were."""
    count, radius, alpha, tau = 4000, 3.62, 12e-6, 5.0
    middle = (np.arange(count) + 0.5) * 2 * np.pi / count
    length = 2 * np.pi * radius / count * (1 + alpha * tau * np.cos(harmonic * middle))
    corners = np.concatenate([[0], np.cumsum(length * np.exp(1j * (middle + np.pi / 2)))])
    assert abs(corners[-1]) < 1e-9  # from n = 2 it closes without any stress
    found = np.abs(corners[:-1] - corners[:-1].mean())
    wave = 2 * np.mean((found - found.mean()) * np.cos(harmonic * np.arange(count) * 2 * np.pi / count))
    assert -wave == pytest.approx(float(thermal_wave(radius, alpha, tau, harmonic)), rel=1e-3)


def test_a_ring_stays_round_once_around():
    with pytest.raises(ValueError, match="harmonic is 1; it must be 2 or more"):
        thermal_wave(3.62, 12e-6, 5.0, 1)
