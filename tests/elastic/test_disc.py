"""Discs of varying thickness against rings, integration and equilibrium; the order of convergence; bad input."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from rimmodel.elastic import Ring, ring_edges
from rimmodel.elastic.disc import Disc

STEEL = {"young_modulus": 206e9, "poisson_ratio": 0.3, "density": 7850.0, "thermal_expansion": 12e-6}
LOADS = [
    {"speed": 100.0},
    {"inner_pressure": 1e7},
    {"outer_traction": 1e7},
    {"temperature": 50.0},
    {"temperature": (10.0, 60.0)},
]


def fields(state):
    return np.array([state.radial_stress, state.hoop_stress, state.radial_displacement * 206e9])


@pytest.mark.independent
@pytest.mark.parametrize(
    ("inner", "load"),
    [
        (inner, load)
        for inner in (0.0, 0.001, 0.1, 0.9, 0.999)
        for load in LOADS
        if inner or "inner_pressure" not in load
    ],
)
def test_even_thickness_is_the_ring(inner, load):
    radius = np.linspace(inner, 1.0, 201)
    ours = fields(Disc([inner, 0.4 + 0.6 * inner, 1.0], [0.2] * 3, **STEEL).state(radius, **load))
    ring = fields(Ring(inner, 1.0, **STEEL).state(radius, **load))
    # rounding grows with (radius / element length) squared: (1 / 0.0004)^2 x 2e-16 = 1.4e-9 in the thinnest
    assert np.abs(ours - ring).max() < (5e-9 if inner == 0.999 else 1e-10) * np.abs(ring).max()


@pytest.mark.derived
@pytest.mark.parametrize(("degree", "counts"), [(1, (8, 16)), (2, (4, 8)), (3, (1, 2)), (4, (1, 2))])
def test_order_of_convergence(degree, counts):
    # Strang & Fix: stress falls with size^degree, displacement at element ends with size^(2 degree), which meets
    # rounding sooner and is looked at on coarser elements
    exact = Ring(0.2, 1.0, **STEEL)
    radius = np.linspace(0.2, 1.0, 20001)
    load = {"speed": 100.0, "inner_pressure": 5e6, "temperature": (0.0, 40.0)}

    def error(subdivision, radius, field):
        disc = Disc([0.2, 1.0], [0.1, 0.1], **STEEL, degree=degree, subdivision=subdivision)
        return np.abs(getattr(disc.state(radius, **load), field) - getattr(exact.state(radius, **load), field)).max()

    stress = [error(count, radius, "hoop_stress") for count in (8, 16)]
    bore = [error(count, 0.2, "radial_displacement") for count in counts]
    assert np.log2(stress[0] / stress[1]) == pytest.approx(degree, abs=0.06)
    assert np.log2(bore[0] / bore[1]) == pytest.approx(2 * degree, abs=0.25)


@pytest.mark.independent
@pytest.mark.parametrize("load", LOADS)
def test_step_between_two_rings_of_two_materials(load):
    # two rings coupled by a line load: their influence coefficients, the same displacement at the joint
    inner = Ring(0.3, 0.8, 206e9, 0.3, 7850.0, 1.0, 12e-6)
    outer = Ring(0.8, 1.5, 110e9, 0.34, 4500.0, 1.0, 9e-6)
    thickness = 0.4, 0.15
    disc = Disc(
        [0.3, 0.8, 0.8, 1.5],
        [thickness[0], thickness[0], thickness[1], thickness[1]],
        [206e9, 110e9],
        [0.3, 0.34],
        [7850.0, 4500.0],
        [12e-6, 9e-6],
    )
    heat = load.get("temperature", 0.0)
    bore, outside = heat if isinstance(heat, tuple) else (heat, heat)
    joint = bore + (outside - bore) * (0.8 - 0.3) / (1.5 - 0.3)
    within = {"speed": load.get("speed", 0.0), "temperature": (bore, joint), "inner_pressure": 0.0}
    within["inner_pressure"] = load.get("inner_pressure", 0.0)
    beyond = {"speed": load.get("speed", 0.0), "temperature": (joint, outside)}
    beyond["outer_traction"] = load.get("outer_traction", 0.0)
    gap = outer.radial_displacement(0.8, **beyond) - inner.radial_displacement(0.8, **within)
    give = ring_edges(inner).outer_displacement.traction / thickness[0]
    give += ring_edges(outer).bore_displacement.pressure / thickness[1]
    line = gap / give
    for ring, radius, loads in (
        (inner, np.linspace(0.3, 0.8 - 1e-9, 40), within | {"outer_traction": line / thickness[0]}),
        (outer, np.linspace(0.8, 1.5, 40), beyond | {"inner_pressure": -line / thickness[1]}),
    ):
        expected = fields(ring.state(radius, **loads))
        scale = max(np.abs(expected).max(), 1e6)
        assert np.abs(fields(disc.state(radius, **load)) - expected).max() < 1e-9 * scale


@pytest.mark.independent
@pytest.mark.parametrize("load", LOADS)
@pytest.mark.parametrize("thicknesses", [(0.3, 0.05), (0.1, 0.4)])
def test_tapered_disc_by_integration(thicknesses, load):
    # radial force and displacement by scipy's integrator, from the bore, the bore displacement by superposition
    a, b, modulus, nu, density, expansion = 0.2, 1.1, 206e9, 0.3, 7850.0, 12e-6
    bore_heat, outer_heat = load.get("temperature", 0.0), load.get("temperature", 0.0)
    if isinstance(bore_heat, tuple):
        bore_heat, outer_heat = bore_heat

    def slope(r, y, on):
        h = thicknesses[0] + (thicknesses[1] - thicknesses[0]) * (r - a) / (b - a)
        free = on * expansion * (bore_heat + (outer_heat - bore_heat) * (r - a) / (b - a))
        radial, u = y[0] * 1e9 / (r * h), y[1]
        hoop = modulus * (u / r - free) + nu * radial
        force = h * hoop - on * density * load.get("speed", 0.0) ** 2 * r**2 * h
        return [force / 1e9, (radial - nu * hoop) / modulus + free]

    def run(start, on, at):
        field = solve_ivp(slope, (a, b), start, args=(on,), method="DOP853", rtol=1e-12, atol=1e-16, t_eval=at)
        return field.y

    radius = np.linspace(a, b, 9)
    forced = run([-load.get("inner_pressure", 0.0) * a * thicknesses[0] / 1e9, 0.0], 1, radius)
    free = run([0.0, 1e-4], 0, radius)
    wanted = load.get("outer_traction", 0.0) * b * thicknesses[1] / 1e9
    force, u = forced + (wanted - forced[0, -1]) / free[0, -1] * free
    h = thicknesses[0] + (thicknesses[1] - thicknesses[0]) * (radius - a) / (b - a)
    state = Disc([a, b], thicknesses, **STEEL).state(radius, **load)
    scale = max(np.abs(state.hoop_stress).max(), 1e6)
    assert np.abs(state.radial_stress - force * 1e9 / (radius * h)).max() < 1e-9 * scale
    assert np.abs(state.radial_displacement - u).max() < 1e-10 * np.abs(u).max()


profiles = st.lists(st.tuples(st.floats(1.02, 2), st.floats(0.02, 1), st.floats(0.02, 1)), min_size=1, max_size=5)


@settings(deadline=None)
@given(profiles, st.floats(0.05, 3), st.floats(0, 1e7), st.floats(0, 1e7), st.floats(0, 60))
def test_section_balance_and_reciprocity(zones, bore, p, q, speed):
    # integral of h s_t dr = a h_a p + b h_b q + rho w^2 integral of h r^2 dr over a section, by equilibrium;
    # Betti: the work of either edge load on the movement by the other
    edges = bore * np.cumprod([1.0] + [zone[0] for zone in zones])
    radii = np.repeat(edges, 2)[1:-1]
    thicknesses = np.array([zone[1:] for zone in zones]).ravel()
    disc = Disc(radii, thicknesses, **STEEL)
    nodes, weights = np.polynomial.legendre.leggauss(40)
    force, mass = 0.0, 0.0
    for low, high, (_, start, end) in zip(edges, edges[1:], zones, strict=False):
        part = (nodes + 1) / 2
        # close to a thin end the stress varies with thickness: sample evenly in its logarithm there
        log_ratio = np.log(end / start)
        spread = part if abs(log_ratio) < 1e-9 else np.expm1(part * log_ratio) / np.expm1(log_ratio)
        rate = (
            np.ones_like(part) if abs(log_ratio) < 1e-9 else log_ratio * np.exp(part * log_ratio) / np.expm1(log_ratio)
        )
        r, h = low + (high - low) * spread, start + (end - start) * spread
        measure = weights / 2 * rate * (high - low) * h
        force += np.sum(measure * disc.state(r, speed, p, q).hoop_stress)
        mass += np.sum(measure * r**2)
    a, b = edges[0], edges[-1]
    balance = a * thicknesses[0] * p + b * thicknesses[-1] * q + 7850 * speed**2 * mass
    assert force == pytest.approx(balance, rel=1e-9, abs=1e-9)
    there = a * thicknesses[0] * disc.state(a, outer_traction=1e6).radial_displacement
    back = b * thicknesses[-1] * disc.state(b, inner_pressure=1e6).radial_displacement
    assert there == pytest.approx(back, rel=1e-9)


def test_uniform_temperature_stresses_nothing():
    disc = Disc([0.1, 0.4, 0.4, 0.9], [0.3, 0.2, 0.05, 0.02], **STEEL)
    radius = np.linspace(0.1, 0.9, 41)
    state = disc.state(radius, temperature=70.0)
    assert np.abs(state.hoop_stress).max() < 1e-11 * 206e9 * 12e-6 * 70
    np.testing.assert_allclose(state.radial_displacement, 12e-6 * 70 * radius, rtol=1e-12)


def test_line_load_balances_at_a_step():
    disc = Disc([0.1, 0.4, 0.4, 0.9], [0.3, 0.3, 0.1, 0.1], **STEEL)
    state = disc.state(np.array([0.4 - 1e-13, 0.4]), speed=200.0)
    assert state.radial_stress[1] == pytest.approx(3 * state.radial_stress[0], rel=1e-9)


def test_broadcasting():
    disc = Disc([0.1, 0.4, 0.9], [0.3, 0.2, 0.1], **STEEL)
    radius, speed = np.linspace(0.1, 0.9, 4), np.array([[5.0], [10.0], [15.0]])
    both = disc.state(radius, speed, inner_pressure=np.full((2, 1, 1), 1e6), temperature=(0.0, speed))
    assert both.hoop_stress.shape == both.radial_displacement.shape == (2, 3, 4)
    assert disc.state(0.4, 5.0).hoop_stress.shape == ()
    np.testing.assert_allclose(
        disc.state(radius, speed).hoop_stress[1], disc.state(radius, 10.0).hoop_stress, rtol=1e-14
    )


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"radii": [0.1, 0.05, 0.3]}, r"radii is 0\.05 m; it must be in rising order"),
        ({"radii": [0.1, 0.1, 0.3]}, "given once at the bore"),
        ({"radii": [-0.1, 0.1, 0.3]}, r"radii is -0\.1 m"),
        ({"radii": [0.1, 0.3]}, "must be two lists of one length"),
        ({"radii": [0.1, 0.2, 0.2, 0.2, 0.3], "thicknesses": [1.0] * 5}, "at most twice"),
        ({"thicknesses": [0.1, 0.0, 0.1]}, "thicknesses is 0 m; it must be positive"),
        ({"thicknesses": [0.1, np.nan, 0.1]}, "thicknesses is nan m"),
        ({"young_modulus": [1e9, 2e9, 3e9]}, "one for each of 2 zones"),
        ({"young_modulus": [1e9, -2e9]}, r"young_modulus is -2e\+09 Pa"),
        ({"poisson_ratio": 0.7}, r"poisson_ratio is 0\.7"),
        ({"density": -1.0}, "density is -1 kg/m3"),
        ({"thermal_expansion": np.inf}, "thermal_expansion is inf"),
        ({"degree": 0}, "degree is 0; it must be 1 or more"),
    ],
)
def test_bad_discs_are_named(change, message):
    good = {"radii": [0.1, 0.2, 0.3], "thicknesses": [0.1, 0.1, 0.1], **STEEL}
    with pytest.raises(ValueError, match=message):
        Disc(**{**good, **change})


def test_bad_loads_are_named():
    with pytest.raises(ValueError, match="radius is 2 m; it must be within the disc"):
        Disc([0.1, 1.0], [0.1, 0.1], **STEEL).state(2.0)
    with pytest.raises(ValueError, match="inner_pressure is 1 Pa; it must be 0: no bore"):
        Disc([0.0, 1.0], [0.1, 0.1], **STEEL).state(0.5, inner_pressure=1.0)
