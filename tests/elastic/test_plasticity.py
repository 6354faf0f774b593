"""First yield and collapse of free rings against a book formula, a searched peak and linear programming."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog, minimize_scalar

from rimmodel.elastic import Ring
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


@pytest.mark.recalled
@pytest.mark.parametrize("criterion", ["tresca", "von mises"])
def test_ring_yields_at_the_bore(criterion):
    # Timoshenko & Goodier (3rd ed.) Art. 32 and Lame, from memory: hoop stress at the bore
    a, b, nu, traction = 0.3, 0.9, 0.28, np.array([0.0, 4e3])
    bore = 7850 / 4 * ((3 + nu) * b**2 + (1 - nu) * a**2) + traction * 2 * b**2 / (b**2 - a**2)
    speed = first_yield_speed(Ring(a, b, 206e9, nu, 7850.0), YIELD, criterion, traction)
    np.testing.assert_allclose(speed, np.sqrt(YIELD / bore), rtol=1e-13)


@pytest.mark.independent
@pytest.mark.parametrize("criterion", ["tresca", "von mises"])
@pytest.mark.parametrize(
    ("a", "factor", "traction"), [(0.1, 3.0, 0.0), (0.0, 2.0, 0.0), (0.0, 5.0, 2e3), (0.2, 6.0, 5e2)]
)
def test_peak_inside_a_ring_stiff_in_hoop(criterion, a, factor, traction):
    # scipy's bounded search, started around the best of a fine grid
    ring = Ring(a, 1.0, 206e9, 0.2, 7850.0, factor)

    def stress(r):
        state = ring.state(r, 1.0, outer_traction=traction)
        radial, hoop = state.radial_stress, state.hoop_stress
        return tresca(state) if criterion == "tresca" else np.sqrt(radial**2 - radial * hoop + hoop**2)

    grid = np.linspace(a, 1.0, 2001)
    best = grid[np.argmax(stress(grid))]
    assert a < best  # else this would not be a test of the search
    bounds = (max(best - 1e-3, a), min(best + 1e-3, 1.0))
    found = minimize_scalar(lambda r: -float(stress(r)), bounds=bounds, method="bounded", options={"xatol": 1e-9})
    peak = max(-found.fun, float(stress(best)))
    assert first_yield_speed(ring, YIELD, criterion, traction) == pytest.approx(np.sqrt(YIELD / peak), rel=1e-11)


@settings(deadline=None)
@given(shapes, st.floats(1, 12))
def test_no_point_is_beyond_yield_at_the_first_yield_speed(shape, stiffer):
    for factor in (shape["factor"], min(stiffer, 0.9 / max(shape["nu"], 0.01) ** 2)):
        ring, traction = built(shape | {"factor": factor})
        speed = first_yield_speed(ring, YIELD, "tresca", traction)
        r = np.geomspace(ring.inner_radius, ring.outer_radius, 400).clip(ring.inner_radius, ring.outer_radius)
        stress = tresca(ring.state(r, speed, outer_traction=traction * speed**2))
        assert stress.max() <= YIELD * (1 + 1e-10)
        assert stress.max() >= YIELD * (1 - 1e-3)  # 400 radii come this near to the peak


@settings(deadline=None)
@given(shapes)
def test_order_of_the_three_speeds(shape):
    # von Mises lies between Tresca and 2/sqrt(3) of it; no collapse before first yield
    ring, traction = built(shape)
    first = first_yield_speed(ring, YIELD, "tresca", traction)
    mises = first_yield_speed(ring, YIELD, "von mises", traction)
    assert first * (1 - 1e-12) <= mises <= first * np.sqrt(2 / np.sqrt(3)) * (1 + 1e-12)
    assert fully_plastic_speed(ring, YIELD, traction) >= first * (1 - 1e-12)


@pytest.mark.independent
def test_collapse_by_linear_programming():
    # lower-bound theorem: the largest speed squared for which some field in equilibrium keeps within Tresca
    a, b, traction, count = 0.5, 1.3, 3e3, 60
    edge = np.linspace(a, b, count + 1)
    # unknowns: hoop force r s_r at the inner edges is summed from hoop stresses s_t (per yield) and x = w^2 / yield
    step = np.diff(edge)
    spin = 7850 * (edge[1:] ** 3 - a**3) / 3
    radial = np.column_stack([np.tril(np.ones((count, count))) * step, -spin]) / edge[1:, np.newaxis]
    hoop = np.column_stack([np.eye(count), np.zeros(count)])
    limits = np.vstack([radial, -radial, hoop - radial, radial - hoop])
    outside = radial[-1] - np.append(np.zeros(count), traction)
    bounds = [(-1, 1)] * count + [(0, None)]
    best = linprog(
        -np.append(np.zeros(count), 1.0),
        A_ub=limits,
        b_ub=np.ones(len(limits)),
        A_eq=outside[np.newaxis],
        b_eq=[0.0],
        bounds=bounds,
    )
    speed = fully_plastic_speed(Ring(a, b, **STEEL), YIELD, traction)
    assert speed**2 / YIELD == pytest.approx(best.x[-1], rel=1e-8)


def test_speed_scales_with_size_and_strength():
    ring, larger = Ring(1.0, 2.0, **STEEL), Ring(3.0, 6.0, **STEEL)
    for function in (first_yield_speed, fully_plastic_speed):
        assert function(larger, 4 * YIELD) == pytest.approx(2 / 3 * function(ring, YIELD), rel=1e-13)


def test_broadcasting():
    many = Ring(np.array([0.9, 1.0]), np.array([[2.0], [2.5], [3.0]]), **STEEL)
    strength, traction = np.array([[[2e8]], [[3e8]]]), np.array([0.0, 1e3])
    assert first_yield_speed(many, strength, "tresca", traction).shape == (2, 3, 2)
    searched = Ring(0.5, 1.0, 206e9, 0.2, 7850.0, np.array([0.8, 1.0, 3.0]))
    speeds = first_yield_speed(searched, YIELD)
    alone = [first_yield_speed(Ring(0.5, 1.0, 206e9, 0.2, 7850.0, factor), YIELD) for factor in (0.8, 1.0, 3.0)]
    np.testing.assert_allclose(speeds, alone, rtol=1e-13)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: first_yield_speed(Ring(0.0, 1.0, 206e9, 0.3, 7850.0, 0.9), YIELD), "centre is unbounded"),
        (lambda: first_yield_speed(Ring(0.5, 1.0, **STEEL), -1.0), "yield_strength is -1 Pa"),
        (lambda: first_yield_speed(Ring(0.5, 1.0, **STEEL), YIELD, "mises"), 'criterion is "mises"'),
        (lambda: fully_plastic_speed(Ring(0.5, 1.0, **STEEL), YIELD, -2.0), "traction_per_speed_squared is -2"),
    ],
)
def test_bad_input_is_named(call, message):
    with pytest.raises(ValueError, match=message):
        call()
