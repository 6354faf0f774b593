"""Intervals of the back-fit: their limits against tables, and how often they hold the truth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from virtual_fits import CASE, COLD, RATED, TESTED, fitted

from rimmodel.behaviour import sweep
from rimmodel.evidence.backfit.calibration import regular_rise, rise_limits
from rimmodel.evidence.backfit.fit import OWN_CONDITION, gap_band
from rimmodel.evidence.backfit.profile import Profile, interval
from tests.benchmarks import backfit_calibration as calibration

Floats = NDArray[np.float64]


@pytest.mark.derived
def test_sigma_given_is_absolute_and_intervals_grow_with_it() -> None:
    fits = [fitted(TESTED, noise=3e-6, sigma=sigma).fit for sigma in (3e-6, 9e-6)]
    widths = [np.ptp(fit.interference_interval) for fit in fits]
    assert [fit.sigma for fit in fits] == [3e-6, 9e-6]
    assert widths[1] / widths[0] == pytest.approx(3.0, rel=0.3)
    assert all(fit.sigma_given for fit in fits)
    assert fits[0].chi_squared / fits[1].chi_squared == pytest.approx(9.0, rel=0.05)


@pytest.mark.derived
def test_linearised_interval_agrees_with_the_profile_where_the_knee_is_sharp() -> None:
    speed = np.linspace(0.15, 1.9, 300) * RATED
    fit = fitted(speed, noise=1e-5, sigma=1e-5).fit
    half = np.sqrt(fit.profile_allowed * fit.covariance[0, 0])
    low, high = fit.interference_interval
    assert (high - low) / 2 == pytest.approx(half, rel=0.25)
    assert fit.correlation[0, 0] == pytest.approx(1.0)


@pytest.mark.derived
def test_the_interval_is_where_the_profile_stays_below_its_limit() -> None:
    fit = fitted(TESTED, noise=3e-5, sigma=3e-5, seed=4).fit
    low, high = fit.float_speed_interval[OWN_CONDITION]
    inside = fit.profile_speed[fit.profile_rise <= fit.profile_allowed]
    step = np.diff(fit.profile_speed).max()
    assert inside.min() - step <= low <= inside.min()
    assert inside.max() <= high <= inside.max() + step


@pytest.mark.derived
def test_the_band_holds_the_true_line_and_widens_where_nothing_was_measured() -> None:
    fit = fitted(TESTED[:30], noise=2e-5, sigma=2e-5).fit
    speed = np.linspace(0.2, 1.8, 40) * RATED
    band = gap_band(fit, speed)
    truth = sweep(CASE.rotor, COLD, speed).air_gap
    assert np.mean(np.abs(band.gap - truth) <= band.half_width) > 0.8
    assert band.half_width[-1] > band.half_width[15]


@pytest.mark.derived
def test_interval_of_a_parabola() -> None:
    values = np.linspace(-5.0, 5.0, 21)

    def parabola(some: Floats, _: Floats) -> Profile:
        return Profile(some, 3.0 + (some - 0.2) ** 2, np.zeros((len(some), 1)))

    low, high = interval(parabola(values, values), 3.0, 4.0, parabola)
    assert (low, high) == pytest.approx((-1.8, 2.2), abs=1e-3)


@pytest.mark.derived
def test_interval_keeps_the_outermost_of_several_dips_and_open_ends() -> None:
    values = np.linspace(0.0, 10.0, 101)

    def dips(some: Floats, _: Floats) -> Profile:
        return Profile(some, 10 * np.sin(some * np.pi / 4) ** 2, np.zeros((len(some), 1)))

    low, high = interval(dips(values, values), 0.0, 5.0, dips)  # below 5 within 1 of each of 0, 4, 8
    assert low == -np.inf
    assert high == pytest.approx(9.0, abs=1e-3)


@pytest.mark.derived
def test_limits_differ_value_by_value() -> None:
    values = np.linspace(-5.0, 5.0, 201)

    def parabola(some: Floats, _: Floats) -> Profile:
        return Profile(some, some**2, np.zeros((len(some), 1)))

    low, high = interval(parabola(values, values), 0.0, np.where(values < 0, 4.0, 9.0), parabola)
    assert (low, high) == pytest.approx((-2.0, 3.0), abs=1e-3)


@pytest.mark.derived
def test_limit_without_a_search_is_that_of_chi_squared_and_of_f() -> None:
    at = np.linspace(-12.0, 12.0, 481)
    rest = np.array([1.0, -1.0, 1.0, -1.0, 1.0, -1.0, 1.0, -1.0, 0.0])  # what the best fit leaves: 8 for 8 freedoms
    rows, none = rest + at[:, None] * np.ones(9) / 3, np.zeros((481, 9, 1))
    middle = np.abs(at) < 0.01
    # 1,000 draws know the quantile of chi-squared of 1 to 0.23 (one standard error), that of F of 1 and 8 to 0.40
    for freedom, quantile, error in ((None, 3.8415, 0.23), (8, 5.3177, 0.40)):  # textbook tables
        assert regular_rise(0.95, freedom) == pytest.approx(quantile, abs=1e-4)
        found = float(rise_limits(rows, none, 0.95, freedom, middle)[middle][0])
        assert quantile - 1e-4 <= found <= quantile + 3 * error


@pytest.mark.derived
def test_limit_of_a_search_over_many_chance_bends_is_higher() -> None:
    # no signal at one value, and a hundred others of which each fits one independent row: the rise is the greatest
    # of 100 squared normals, whose 95 % point z solves (2 Phi(z) - 1)^100 = 0.95: z = 3.474 (normal tables), 12.07
    count = 100
    rows = np.zeros((count + 1, count))
    tangents = np.zeros((count + 1, count, 1))
    tangents[1:, :, 0] = np.eye(count)
    wanted = np.arange(count + 1) == 0
    assert rise_limits(rows, tangents, 0.95, None, wanted)[0] == pytest.approx(12.07, abs=1.5)


# calibration -----------------------------------------------------------------------------------------------------


@pytest.mark.derived
def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    """At 93 % coverage, the least allowed, 17 or fewer of 22 would come once in 70 times; at 95 % once in 300."""
    rows = calibration.outcomes(replace(calibration.FAMILIES[0][1], seed=7001), 22)
    for name in ("speed", "hot", "interference"):
        assert sum(getattr(row, name) for row in rows) >= 18, name
    bounded = [row for row in rows if not row.unbounded]
    assert len(bounded) >= 12
    assert np.median([row.speed_width for row in bounded]) < 0.4


@pytest.mark.derived
def test_no_knee_is_claimed_where_there_is_none() -> None:
    """At 5 % the chance of more than 3 claims in 12 runs is 0.2 %."""
    families = (replace(calibration.FAMILIES[place][1], seed=7002) for place in (4, 5))
    rows = [row for family in families for row in calibration.outcomes(family, 6)]
    assert sum(row.verdict == "resolved" for row in rows) <= 3
    assert sum(row.speed for row in rows) >= 9
