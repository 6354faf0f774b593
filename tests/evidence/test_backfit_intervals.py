"""Intervals of the back-fit: their limits against tables, and how often they hold the truth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from virtual_fits import CASE, COLD, RATED, TESTED, fitted

from rimmodel.behaviour import sweep
from rimmodel.evidence.backfit.fit import OWN_CONDITION, gap_band
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
@pytest.mark.parametrize(("known", "most"), [(True, 1.3), (False, 1.45)], ids=["noise known", "noise from the data"])
def test_a_sharp_knee_has_the_interval_of_the_linearised_fit_and_the_price_of_noise(known: bool, most: float) -> None:
    """Where all is linear a posterior of flat priors is the least-squares interval; drift and correlation cost more.

    In the median of seven runs it is not shorter than that of independent noise, and by so much longer at most.
    """
    speed = np.linspace(0.15, 1.9, 60) * RATED
    found = [fitted(speed, noise=2e-6, sigma=2e-6 if known else None, seed=seed).fit for seed in range(1, 8)]
    half = [np.diff(fit.interference_interval)[0] / 2 for fit in found]
    ratio = np.median(half / (1.96 * np.sqrt([fit.covariance[0, 0] for fit in found])))
    assert 1.0 <= ratio <= most


@pytest.mark.derived
def test_the_noise_of_a_fit_is_white_by_its_own_covariance() -> None:
    fit = fitted(TESTED, noise=1e-5, sigma=1e-5, seed=2).fit
    assert fit.whitening == pytest.approx(np.eye(len(TESTED)) / 1e-5, rel=1e-6, abs=1e-3)


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
