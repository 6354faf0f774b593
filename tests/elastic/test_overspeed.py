"""What an overspeed leaves in a free ring: against integration, least energy and virtual work."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import brentq, lsq_linear

from rimmodel.elastic import Ring
from rimmodel.elastic.overspeed import elastic_plastic_state, permanent_growth
from rimmodel.elastic.plasticity import first_yield_speed, fully_plastic_speed

STEEL = {"young_modulus": 206e9, "poisson_ratio": 0.3, "density": 7850.0}
YIELD = 320e6

shapes = st.fixed_dictionaries(
    {
        "a": st.floats(0.05, 5),
        "ratio": st.floats(1.005, 12),
        "nu": st.floats(0, 0.3),
        "factor": st.floats(0.3, 1),
        "traction": st.floats(0, 5),
    }
)


def built(shape):
    """A ring, and its traction per speed squared: `traction` is in units of the thin-ring hoop load."""
    a, b = shape["a"], shape["a"] * shape["ratio"]
    return Ring(a, b, 206e9, shape["nu"], 7850.0, shape["factor"]), shape["traction"] * 7850 * b * (b - a)


def tresca(state):
    radial, hoop = state.radial_stress, state.hoop_stress
    return np.max(np.abs([radial, hoop, radial - hoop]), axis=0)


def shot(ring, strength, speed, traction):
    """Loaded displacement of bore and outside by integration outward from the bore, without a plastic radius.

    The hoop stress is the elastic one or the yield strength, whichever is less; the bore displacement is varied
    until the outside carries its traction.
    """
    a, b, modulus, nu = ring.inner_radius, ring.outer_radius, ring.young_modulus, ring.poisson_ratio

    def slope(r, y):
        radial, u = y
        hoop = min(ring.hoop_stiffness_factor * modulus * (u / r + nu * radial / modulus), strength)
        return [(hoop - radial) / r - ring.density * speed**2 * r, (radial - nu * hoop) / modulus]

    def run(bore):
        field = solve_ivp(slope, (a, b), [0.0, bore], method="DOP853", rtol=1e-12, atol=1e-14, max_step=(b - a) / 200)
        return field.y[:, -1]

    elastic = strength * a / (ring.hoop_stiffness_factor * modulus)
    bore = brentq(lambda u: run(u)[0] - traction * speed**2, 0.5 * elastic, 40 * elastic, xtol=1e-14, rtol=1e-12)
    return bore, run(bore)[1]


@pytest.mark.independent
@pytest.mark.parametrize(
    ("a", "b", "factor", "traction", "part"),
    [(1, 2, 1.0, 0.0, 0.5), (3.0, 3.4, 0.8, 1e4, 0.9), (1.0, 4.0, 0.6, 0.0, 0.95), (1.0, 3.0, 1.0, 3e3, 0.99)],
)
def test_growth_by_integration_along_the_radius(a, b, factor, traction, part):
    ring = Ring(a, b, 206e9, 0.3, 7850.0, factor)
    first = first_yield_speed(ring, YIELD, "tresca", traction)
    speed = float(first + part * (fully_plastic_speed(ring, YIELD, traction) - first))
    growth = permanent_growth(ring, YIELD, speed, traction)
    assert growth.note == "unloads elastically"
    for ours, loaded, radius in zip(
        (growth.bore, growth.outer), shot(ring, YIELD, speed, traction), (a, b), strict=True
    ):
        elastic = ring.radial_displacement(radius, speed, outer_traction=traction * speed**2)
        assert ours == pytest.approx(loaded - elastic, abs=1e-10 * loaded)


@pytest.mark.independent
def test_loaded_state_is_that_of_least_energy():
    # Haar and von Karman's principle (from memory): of the stress fields in equilibrium within yield, the one of least
    # complementary energy; a bounded least-squares problem in the hoop stresses of 200 thin shells
    a, b, traction, factor, nu, count = 1.0, 2.0, 2e3, 0.8, 0.3, 200
    ring = Ring(a, b, 206e9, nu, 7850.0, factor)
    first = first_yield_speed(ring, YIELD, "tresca", traction)
    speed = float(0.3 * first + 0.7 * fully_plastic_speed(ring, YIELD, traction))
    edge = np.linspace(a, b, count + 1)
    middle, step = (edge[1:] + edge[:-1]) / 2, np.diff(edge)
    spin = 7850 * speed**2 / YIELD * (edge**3 - a**3) / 3
    force = np.vstack([np.zeros(count), np.tril(np.ones((count, count))) * step])  # r s_r at the edges, less spin
    radial = (force[1:] + force[:-1]) / 2 / middle[:, np.newaxis]
    offset = (spin[1:] + spin[:-1]) / 2 / middle
    # energy s_t^2/m - 2 nu s_t s_r + s_r^2 = (s_r - nu s_t)^2 + (1/m - nu^2) s_t^2
    root = np.sqrt(middle * step)[:, np.newaxis]
    rows = np.vstack([root * (radial - nu * np.eye(count)), root * np.sqrt(1 / factor - nu**2) * np.eye(count)])
    right = np.concatenate([root[:, 0] * offset, np.zeros(count)])
    heavy = 1e4
    rows = np.vstack([rows, heavy * force[-1]])
    right = np.append(right, heavy * (spin[-1] + b * traction * speed**2 / YIELD))
    hoop = lsq_linear(rows, right, bounds=(-1, 1), tol=1e-14, max_iter=500).x
    state = elastic_plastic_state(ring, middle, YIELD, speed, traction).loaded
    assert np.count_nonzero(hoop > 1 - 1e-6) > count / 4
    np.testing.assert_allclose(hoop, state.hoop_stress / YIELD, atol=2e-4)
    np.testing.assert_allclose(radial @ hoop - offset, state.radial_stress / YIELD, atol=2e-4)


between = st.floats(0.01, 1)


@settings(deadline=None)
@given(shapes, between)
def test_growth_is_the_work_of_the_plastic_strain(shape, part):
    # virtual work: 2 pi a u(a) per unit bore pressure = integral of its hoop stress over the plastic strain, likewise
    # for the outside; the plastic strain is the only misfit that is left at standstill
    ring, traction = built(shape)
    speed = between_speeds(ring, traction, part)
    growth = permanent_growth(ring, YIELD, speed, traction)
    a, b = ring.inner_radius, ring.outer_radius
    scale = YIELD * b / ring.young_modulus / ring.hoop_stiffness_factor
    nodes, weights = np.polynomial.legendre.leggauss(30)
    span = np.log(growth.plastic_radius / a)
    r = np.clip(a * np.exp(span * (nodes + 1) / 2), a, b)
    strain = elastic_plastic_state(ring, r, YIELD, speed, traction).plastic_strain
    for ours, edge, load in ((growth.bore, a, {"inner_pressure": 1.0}), (growth.outer, b, {"outer_traction": 1.0})):
        work = ring.state(r, **load).hoop_stress * strain * r
        assert ours == pytest.approx(np.sum(weights * work * r) * span / 2 / edge, abs=1e-9 * scale)


def between_speeds(ring, traction, part):
    first = first_yield_speed(ring, YIELD, "tresca", traction)
    return float(first + part * (fully_plastic_speed(ring, YIELD, traction) - first))


@settings(deadline=None)
@given(shapes, between)
def test_loaded_and_residual_stresses(shape, part):
    ring, traction = built(shape)
    a, b = ring.inner_radius, ring.outer_radius
    speed = between_speeds(ring, traction, part)
    nodes, weights = np.polynomial.legendre.leggauss(30)
    front = permanent_growth(ring, YIELD, speed, traction).plastic_radius
    force, worst = 0.0, 0.0
    for low, high in ((a, front), (front, b)):
        radius = np.clip(low * np.exp(np.log(high / low) * (nodes + 1) / 2), a, b)
        state = elastic_plastic_state(ring, radius, YIELD, speed, traction)
        assert tresca(state.loaded).max() <= YIELD * (1 + 1e-9)
        assert np.all(state.plastic_strain >= -1e-12)
        force += np.sum(weights * radius * state.residual.hoop_stress) * np.log(high / low) / 2
        worst = max(worst, tresca(state.residual).max())
    # nothing loads the ring at standstill, so the section carries no net force, and its edges no radial stress
    assert abs(force) < 1e-9 * YIELD * (b - a)
    edges = elastic_plastic_state(ring, np.array([a, b]), YIELD, speed, traction)
    assert np.abs(edges.residual.radial_stress).max() < 1e-9 * YIELD
    # the bore is the first to yield on the way back: its residual stress tells
    bore = abs(edges.residual.hoop_stress[0])
    assert worst <= bore * (1 + 1e-9)
    assert bool(edges.reverse_yield) == bool(bore > YIELD)


@pytest.mark.derived
def test_reverse_yield_is_said():
    # w_p^2/w_1^2 = 3 ((3+nu) + (1-nu) t^2) / (4 (1+t+t^2)) with t = a/b exceeds 2 below t = 0.2064 for nu = 0.3
    thick, thin = Ring(0.20, 1.0, **STEEL), Ring(0.21, 1.0, **STEEL)
    said = permanent_growth(thick, YIELD, fully_plastic_speed(thick, YIELD))
    assert said.reverse_yield
    assert "yields in compression" in said.note
    silent = permanent_growth(thin, YIELD, fully_plastic_speed(thin, YIELD))
    assert not silent.reverse_yield
    assert silent.note == "unloads elastically"
    both = Ring(np.array([0.20, 0.21]), 1.0, **STEEL)
    assert "1 of 2 cases" in permanent_growth(both, YIELD, fully_plastic_speed(both, YIELD)).note


def test_growth_starts_at_first_yield_and_only_rises():
    ring = Ring(3.0, 3.5, **STEEL)
    first, last = first_yield_speed(ring, YIELD), fully_plastic_speed(ring, YIELD)
    below = permanent_growth(ring, YIELD, np.array([0.0, 0.5, 1.0]) * first)
    assert np.all(below.bore == 0)
    assert np.all(below.plastic_radius == 3.0)
    rising = permanent_growth(ring, YIELD, np.linspace(first, last, 50))
    assert rising.bore[1] < 1e-5
    assert np.all(np.diff(rising.bore) > 0)
    assert np.all(np.diff(rising.outer) > 0)
    # speed squared is level in the plastic radius at collapse: the radius is known to the root of a rounding error
    assert rising.plastic_radius[-1] == pytest.approx(3.5, rel=1e-7)


def test_broadcasting():
    many = Ring(np.array([0.9, 1.0]), np.array([[2.0], [2.5], [3.0]]), **STEEL)
    strength, traction = np.array([[[2e8]], [[3e8]]]), np.array([0.0, 1e3])
    speed = 0.97 * fully_plastic_speed(many, strength, traction)
    growth = permanent_growth(many, strength, speed, traction)
    assert growth.bore.shape == growth.plastic_radius.shape == (2, 3, 2)
    one = permanent_growth(Ring(1.0, 2.5, **STEEL), 2e8, speed[0, 1, 1], 1e3)
    assert growth.bore[0, 1, 1] == pytest.approx(one.bore, rel=1e-12)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: permanent_growth(Ring(0.0, 1.0, **STEEL), YIELD, 1.0), "solid disc"),
        (lambda: permanent_growth(Ring(0.5, 1.0, 206e9, 0.3, 7850.0, 1.2), YIELD, 1.0), "hoop_stiffness_factor is 1.2"),
        (
            lambda: permanent_growth(Ring(0.5, 1.0, **STEEL), YIELD, 400.0),
            "speed is 400 rad/s; .* fully plastic speed of",
        ),
        (lambda: permanent_growth(Ring(0.5, 1.0, **STEEL), YIELD, np.nan), "speed is nan"),
    ],
)
def test_bad_input_is_named(call, message):
    with pytest.raises(ValueError, match=message):
        call()
