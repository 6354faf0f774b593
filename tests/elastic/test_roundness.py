"""Circles fitted to points and profiles, against constructed cases, another solver and brute force."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares, minimize

from rimmodel.elastic.roundness import (
    RoundnessError,
    least_squares_circle,
    minimum_zone_circle,
    roundness,
)


@pytest.mark.independent
def test_least_squares_circle_against_a_general_solver() -> None:
    random = np.random.default_rng(1)
    angle = np.sort(random.uniform(0.0, 2.0 * np.pi, (5, 40)))
    radius = 4.0 + 0.01 * random.standard_normal((5, 40))
    x, y = 0.3 + radius * np.cos(angle), -0.2 + radius * np.sin(angle)
    found = least_squares_circle(x, y)
    for i in range(5):
        solved = least_squares(lambda c, i=i: np.hypot(x[i] - c[0], y[i] - c[1]) - c[2], [0.0, 0.0, 4.0], xtol=1e-15)
        np.testing.assert_allclose([found.x[i], found.y[i], found.radius[i]], solved.x, atol=1e-8)


@pytest.mark.derived
def test_three_lobes_with_eccentricity() -> None:
    """Exact by construction in the limit of small deviations.

    R0 + e cos(t - t0) + A cos 3t: the least-squares centre is e, and both zones are 2 A. R0 = 5000, e = 0.4,
    A = 0.5, 360 points; terms of order e^2/R0 and e A/R0 are below 1e-4.
    """
    angle = np.radians(np.arange(360.0))
    found = roundness(angle, 5000.0 + 0.4 * np.cos(angle - np.radians(30.0)) + 0.5 * np.cos(3.0 * angle))
    assert found.least_squares.eccentricity == pytest.approx(0.4, abs=1e-6)
    assert np.degrees(np.arctan2(found.least_squares.y, found.least_squares.x)) == pytest.approx(30.0, abs=1e-3)
    assert found.least_squares.zone == pytest.approx(1.0, abs=5e-5)
    assert found.minimum_zone.zone == pytest.approx(1.0, abs=5e-5)
    assert found.largest_minus_smallest_radius > 1.3


@pytest.mark.independent
@pytest.mark.parametrize("seed", range(8))
def test_minimum_zone_against_a_search_without_slopes(seed: int) -> None:
    random = np.random.default_rng(seed)
    angle = np.linspace(0.0, 2.0 * np.pi, 24, endpoint=False)
    radius = 4.0 + 1e-3 * random.standard_normal(24) + 2e-3 * np.cos(angle - 1.0)
    x, y = radius * np.cos(angle), radius * np.sin(angle)

    def width(centre: np.ndarray) -> float:
        return float(np.ptp(np.hypot(x - 1e-3 * centre[0], y - 1e-3 * centre[1]))) * 1e3

    starts = random.normal(0.0, 2.0, (6, 2))
    searched = min(
        minimize(width, start, method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-12, "maxiter": 4000}).fun
        for start in starts
    )
    zone = 1e3 * float(minimum_zone_circle(x, y).zone)
    assert zone <= searched + 1e-7
    assert zone == pytest.approx(searched, rel=1e-3)


def test_minimum_zone_touches_at_four_points_that_alternate() -> None:
    """Two touch outside and two inside, in turn: the criterion for the narrowest ring (ISO 12181, from memory)."""
    random = np.random.default_rng(9)
    angle = np.linspace(0.0, 2.0 * np.pi, 44, endpoint=False)
    radius = 4.0 + 1e-3 * random.standard_normal(44)
    x, y = radius * np.cos(angle), radius * np.sin(angle)
    circle = minimum_zone_circle(x, y)
    distance = np.hypot(x - circle.x, y - circle.y)
    outer = np.flatnonzero(distance > distance.max() - 1e-9)
    inner = np.flatnonzero(distance < distance.min() + 1e-9)
    order = np.argsort(np.concatenate([outer, inner]))
    kinds = np.concatenate([np.ones(outer.size), -np.ones(inner.size)])[order]
    assert np.count_nonzero(np.diff(np.append(kinds, kinds[0]))) >= 4


def test_profiles_broadcast_over_speed_points() -> None:
    angle = np.linspace(0.0, 2.0 * np.pi, 44, endpoint=False)
    amplitude = np.array([[0.1e-3], [0.2e-3], [0.4e-3]])
    found = roundness(angle, 4.0 + amplitude * np.cos(2.0 * angle))
    assert found.least_squares.zone.shape == (3,)
    np.testing.assert_allclose(found.least_squares.zone, 2.0 * amplitude[:, 0], rtol=1e-6)
    np.testing.assert_allclose(found.minimum_zone.zone, 2.0 * amplitude[:, 0], rtol=1e-6)


@settings(deadline=None, max_examples=30)
@given(
    st.lists(st.floats(-2e-3, 2e-3), min_size=8, max_size=30),
    st.floats(-3.0, 3.0),
    st.floats(-1e-2, 1e-2),
    st.floats(-1e-2, 1e-2),
)
def test_zones_do_not_change_when_the_profile_is_turned_or_moved(
    deviations: list[float], turn: float, dx: float, dy: float
) -> None:
    radius = 4.0 + np.array(deviations)
    angle = np.linspace(0.0, 2.0 * np.pi, radius.size, endpoint=False)
    x, y = radius * np.cos(angle), radius * np.sin(angle)
    moved_x = np.cos(turn) * x - np.sin(turn) * y + dx
    moved_y = np.sin(turn) * x + np.cos(turn) * y + dy
    for fit in (least_squares_circle, minimum_zone_circle):
        assert fit(moved_x, moved_y).zone == pytest.approx(fit(x, y).zone, abs=1e-9)
    least, narrowest = least_squares_circle(x, y), minimum_zone_circle(x, y)
    assert narrowest.zone <= least.zone + 1e-12
    assert least.zone <= np.ptp(radius) + 2.0 * least.eccentricity + 1e-12


def test_what_is_no_circle_is_refused() -> None:
    with pytest.raises(RoundnessError, match="at least 3 points"):
        least_squares_circle([0.0, 1.0], [0.0, 1.0])
    with pytest.raises(RoundnessError, match="one line"):
        least_squares_circle([0.0, 1.0, 2.0, 3.0], [0.0, 1.0, 2.0, 3.0])
    with pytest.raises(RoundnessError, match="not finite"):
        minimum_zone_circle([0.0, 1.0, np.nan], [0.0, 1.0, 0.5])
    with pytest.raises(RoundnessError, match="at least 4 readings"):
        roundness([0.0, 2.0, 4.0], [1.0, 1.0, 1.0])
    with pytest.raises(RoundnessError, match="not positive"):
        roundness([0.0, 1.5, 3.0, 4.5], [1.0, -0.1, 1.0, 1.0])
