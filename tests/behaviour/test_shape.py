"""Rim shape, least gap: against eigenvalues and closed forms."""

from dataclasses import replace

import numpy as np
import pytest
import sympy as sp

import rimmodel as rm
from rimmodel.behaviour.contact.shape import (
    as_built,
    bending_stiffness,
    floating_mass,
    free_shape,
    minimum_gap,
    profile,
    pull_stiffness,
    spin_stiffness,
)
from rimmodel.rotor.rim import ShapeHarmonic

CASE = rm.example_case()
ROTOR, COLD, HOT = CASE.rotor, CASE.conditions["cold"], CASE.conditions["hot"]


@pytest.mark.derived
@pytest.mark.parametrize("n", [2, 3, 4, 7])
def test_spin_stiffness_of_a_thin_ring_from_its_energy(n):
    """Second-order inextensible ring: u = W cos n t with tangential -W/n sin n t and the mean shortening it brings."""
    theta, wave, lever, speed, mass, radius = sp.symbols("theta W e omega mu R", positive=True)
    out, along = wave * sp.cos(n * theta), -wave / n * sp.sin(n * theta)
    turn = (sp.diff(out, theta) - along) / radius  # rotation of the section, and of a pole on it
    shorter = -sp.integrate(radius * turn**2 / 2, (theta, 0, 2 * sp.pi)) / (2 * sp.pi)
    # a mass at height e over the ring: (R + w + e cos turn, v - e sin turn), to second order
    radial = radius + shorter + out + lever * (1 - turn**2 / 2)
    tangential = along - lever * turn
    square = sp.integrate(sp.expand(radial**2 + tangential**2), (theta, 0, 2 * sp.pi)) / (2 * sp.pi)
    energy = sp.expand(-mass * speed**2 / 2 * square)
    # 1/2 k <w^2> = k W^2/4
    stiffness = sp.simplify(4 * energy.coeff(wave, 2))
    expected = mass * speed**2 * ((n**2 - 3) + 2 * (lever / radius) * (n**2 - 1))
    second_order = sp.simplify(sp.expand(stiffness - expected))
    # what is left is of second order in lever over radius: a pole's own turning, left out on purpose
    assert sp.simplify(second_order.subs(lever, 0)) == 0
    assert sp.simplify(sp.diff(second_order, lever).subs(lever, 0)) == 0


@pytest.mark.derived
def test_spin_stiffness_takes_masses_per_bore_area():
    rim, poles = ROTOR.rim, ROTOR.poles
    area = 2 * np.pi * rim.inner_radius * rim.length
    mean = (rim.inner_radius + rim.outer_radius) / 2
    own = 0.97 * 7850 * np.pi * (rim.outer_radius**2 - rim.inner_radius**2) * rim.length / area
    hung = poles.count * poles.mass / area
    n = np.array([1.0, 2.0, 5.0])
    expected = own * (n**2 - 3) + hung * (n**2 - 3 + 2 * (poles.mass_radius - mean) / mean * (n**2 - 1))
    assert spin_stiffness(ROTOR, n) == pytest.approx(expected, rel=1e-12)
    assert floating_mass(ROTOR) == pytest.approx((own + hung) * area, rel=1e-12)


@pytest.mark.derived
def test_bending_stiffness_tends_to_that_of_a_thin_ring():
    thin = replace(ROTOR.rim, inner_radius=4.02, outer_radius=4.06, stacking_factor=1.0, hoop_stiffness_factor=1.0)
    rotor = replace(ROTOR, rim=thin)
    n = np.array([2.0, 3.0, 4.0])
    expected = 206e9 * 0.04**3 / 12 * (n**2 - 1) ** 2 / 4.04**4 * 4.04 / 4.02
    assert bending_stiffness(rotor, n) == pytest.approx(expected, rel=6e-3)  # h/R and bore against mean radius
    soft = replace(rotor, rim=replace(thin, bending_stiffness_factor=0.5))
    assert bending_stiffness(soft, 2) == pytest.approx(0.5 * bending_stiffness(rotor, 2), rel=1e-2)


@pytest.mark.derived
def test_pull_stiffness_is_the_slope_of_the_maxwell_stress():
    # at constant current B = B0 g0/g: p = B^2/(4 mu0) mean over the sine, dp/dg = -2 p/g = -B^2/(2 mu0 g)
    gap, step = 14e-3, 1e-7
    mean_pressure = [(0.95 * 16e-3 / g) ** 2 / (4 * 4e-7 * np.pi) for g in (gap - step, gap + step)]
    slope = (mean_pressure[0] - mean_pressure[1]) / (2 * step) * 4.58 / 3.62 * 1.80 / 1.85
    assert pull_stiffness(ROTOR, HOT, gap) == pytest.approx(slope, rel=1e-6)
    fixed = replace(HOT, excitation="constant voltage")
    assert pull_stiffness(ROTOR, fixed, 8e-3) == pytest.approx(2 * pull_stiffness(ROTOR, fixed, 16e-3))


@pytest.mark.derived
def test_free_shape_magnifies_and_finds_where_the_pull_takes_over():
    waves = (ShapeHarmonic(2, 0.3e-3, 0.2), ShapeHarmonic(4, 0.1e-3))
    rotor = replace(ROTOR, rim=replace(ROTOR.rim, shape=waves))
    speed = np.linspace(0.0, 24.0, 49)
    run = free_shape(rotor, HOT, speed, highest=5)
    assert run.amplitude[:, 0] == pytest.approx(0.3e-3 * run.magnification[:, 0])
    # at standstill a free ring bends against the pull: k/(k - k_mag), of the waves 2 and 4
    pull = pull_stiffness(rotor, HOT, rm.sweep(rotor, HOT, 0.0).air_gap)
    for place, wave in ((0, 2), (2, 4)):
        stiff = bending_stiffness(rotor, wave)
        assert run.magnification[0, place] == pytest.approx(float(stiff / (stiff - pull)), rel=1e-9)
    assert np.isinf(run.overtaken).all()
    assert run.seated[0]
    assert not run.seated[-1]
    strong = replace(HOT, flux_density=1.2)
    found = free_shape(rotor, strong, np.linspace(0.0, 20.0, 2001))
    gap = float(rm.sweep(rotor, strong, found.overtaken[0]).air_gap)
    held = bending_stiffness(rotor, 2) + spin_stiffness(rotor, 2) * found.overtaken[0] ** 2
    assert 0.0 < found.overtaken[0] < 20.0
    assert pull_stiffness(rotor, strong, gap) == pytest.approx(float(held), rel=1e-4)
    assert any("harmonic 2 of the free rim" in note for note in found.notes)
    assert np.isinf(found.amplitude[-1, 0])
    assert found.amplitude[-1, 1] == 0.0  # no third harmonic was built in


def test_spin_alone_rounds_every_flexural_harmonic():
    run = free_shape(ROTOR, COLD, np.linspace(0.0, 24.0, 9))
    assert np.all(np.diff(run.magnification, axis=0) < 0.0)


@pytest.mark.derived
def test_the_least_gap_is_where_the_highest_rotor_meets_the_lowest_bore():
    rotor = as_built(replace(ROTOR.rim, shape=(ShapeHarmonic(1, 1e-3, 0.3), ShapeHarmonic(2, 0.5e-3, 1.1))), 4)
    stator = np.array([0.0, 0.4e-3 * np.exp(0.7j), 0.0, 0.2e-3])
    turn = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    least = np.inf
    for shift in turn[::4]:
        least = min(least, np.min(12e-3 + profile(stator, turn) - profile(rotor, turn - shift)))
    assert minimum_gap(12e-3, rotor, stator) == pytest.approx(least, abs=1e-6)
    assert minimum_gap(12e-3, rotor, stator) <= least + 1e-12


@pytest.mark.derived
def test_profile_has_its_crest_at_the_phase():
    wave = as_built(replace(ROTOR.rim, shape=(ShapeHarmonic(3, 0.2e-3, 0.4),)), 6)
    assert profile(wave, [0.4, 0.4 + np.pi / 3]) == pytest.approx([0.2e-3, -0.2e-3])
