"""Standard errors of means over time, when readings that follow each other are alike."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from invented_runs import read, run, true_gap

from rimmodel.evidence.reduction.mean_error import mean_error
from rimmodel.evidence.reduction.speed_points import speed_points
from rimmodel.units import MILLIMETRE, RPM


@pytest.mark.independent
@pytest.mark.parametrize("correlation", [0.0, 0.5, 0.9])
def test_standard_error_of_a_correlated_series(correlation: float) -> None:
    """A first-order autoregressive series: variance of the mean is sigma^2/n (1 + r)/(1 - r) for large n."""
    random = np.random.default_rng(13)
    n, runs = 2000, 60
    shocks = random.standard_normal((runs, n + 200))
    series = np.zeros_like(shocks)
    for i in range(1, n + 200):
        series[:, i] = correlation * series[:, i - 1] + shocks[:, i]
    series = series[:, 200:]
    sigma = 1.0 / np.sqrt(1.0 - correlation**2)
    expected = sigma * np.sqrt((1.0 + correlation) / (1.0 - correlation) / n)
    found = np.array([mean_error(row) for row in series])
    assert np.mean(found) == pytest.approx(expected, rel=0.12)


@pytest.mark.independent
def test_standard_errors_are_the_scatter_of_the_means_over_many_runs() -> None:
    """Correlated noise (first order, 0.7) on one sensor: errors over their standard errors scatter by about one."""
    pulls = []
    for seed in range(12):
        frame = run(seed=seed, noise=0.0, sensors=1)
        noise = 0.03 * np.random.default_rng(seed).standard_normal(frame.height)
        for i in range(1, noise.size):
            noise[i] += 0.7 * noise[i - 1]
        points = speed_points(read(frame.with_columns(pl.col("gap [mm]") + pl.Series(noise))))
        # the one sensor of these runs stands 0.3 mm off
        error = points.gap - (true_gap(points.speed / RPM) + 0.3) * MILLIMETRE
        pulls.extend(error / points.standard_error)
    assert 0.75 < np.std(pulls) < 1.35


@pytest.mark.derived
def test_a_constant_series_has_no_error_and_white_noise_the_textbook_one() -> None:
    assert mean_error(np.full(50, 3.0)) == 0.0
    values = np.random.default_rng(2).standard_normal(4000)
    assert mean_error(values) == pytest.approx(values.std(ddof=1) / np.sqrt(4000), rel=0.15)
