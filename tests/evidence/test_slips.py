"""A level that jumps once in a run: a candidate beside drift and correlation, and no knee."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom, multivariate_normal

from rimmodel.evidence.knee.broken_line import Points
from rimmodel.evidence.knee.fit import fit_knee
from rimmodel.evidence.knee.noise import noise_models
from rimmodel.evidence.knee.slips import BEYOND, SIZES_OF_SLIP, SLIPS, with_slips
from tests.benchmarks.noise_calibration import FAMILIES, by_lines

NAMED = {family.name: family for family in FAMILIES}
X = np.linspace(0.1, 1.0, 24) ** 2


def run(jump: float, bend: float, seed: int, noise: float = 0.02) -> np.ndarray:
    """Gaps that bend at 0.5 and jump between the tenth and the eleventh of 24 readings."""
    jumped = jump * (np.arange(len(X)) > 9)
    return -X - bend * np.maximum(X - 0.5, 0.0) + jumped + noise * np.random.default_rng(seed).standard_normal(len(X))


@pytest.mark.derived
@pytest.mark.parametrize("jump", [0.3, -0.3])
def test_a_jump_is_found_between_its_readings_and_the_knee_held(jump: float) -> None:
    knee = fit_knee(X, run(jump, 2.0, 3), time=np.arange(24.0))
    place = knee.noise.models.slip[knee.noise.likeliest]
    assert place == 9.5
    assert knee.verdict == "resolved"
    assert knee.interval[0] <= 0.5 <= knee.interval[1]
    (sentence,) = [reason for reason in knee.reasons if "jumps once" in reason]
    assert f"x = {X[9]:.4g} and x = {X[10]:.4g}" in sentence


@pytest.mark.derived
def test_a_jump_without_a_knee_is_no_knee() -> None:
    assert not any(fit_knee(X, run(-0.2, 0.0, seed), time=np.arange(24.0)).verdict == "resolved" for seed in range(8))


@pytest.mark.derived
def test_lines_with_a_jump_are_held_as_often_as_said() -> None:
    rows = list(by_lines(NAMED["step 0.1 mm"], 30, seed=84))
    assert sum(row.held for row in rows) >= binom.ppf(0.001, 30, 0.92)
    closed = [row for row in rows if row.closed]
    assert len(closed) >= 10
    assert sum(row.held for row in closed) >= binom.ppf(0.001, len(closed), 0.92)


@pytest.mark.independent
def test_a_jump_of_unknown_size_is_this_normal_distribution() -> None:
    x, moment = np.linspace(0.0, 1.0, 9) ** 2, np.arange(9.0)
    y = -x + 0.3 * (moment > 4.5)
    points = Points(x, y, np.ones(9), False, -1.0)
    models = with_slips(noise_models(x, moment), points, moment)
    value = np.random.default_rng(5).standard_normal(9)
    tried = np.flatnonzero(models.slip == 4.5)
    assert len(tried) == len(SIZES_OF_SLIP)
    for place, size in zip(tried, SIZES_OF_SLIP, strict=True):
        step = (moment > 4.5) - np.mean(moment > 4.5)
        exact = multivariate_normal.logpdf(value, np.zeros(9), np.eye(9) + size**2 * np.outer(step, step))
        white = models.root[place] @ value
        assert -models.log_size[place] - 0.5 * white @ white - 4.5 * np.log(2.0 * np.pi) == pytest.approx(exact)


@pytest.mark.derived
def test_jumps_share_their_prior_and_the_rest_keeps_its_own() -> None:
    moment = np.arange(24.0)
    points = Points(X, run(0.3, 0.0, 1), np.ones(24), False, -1.0)
    plain = noise_models(X, moment)
    models = with_slips(plain, points, moment)
    jumps = ~np.isnan(models.slip)
    assert np.exp(models.weight[~jumps]).sum() == pytest.approx(1.0 - SLIPS)
    each = SLIPS / (23 - 2 * (BEYOND - 1)) / len(SIZES_OF_SLIP)
    assert np.exp(models.weight[jumps]) == pytest.approx(np.full(jumps.sum(), each))
    assert len(plain.weight) == (~jumps).sum()


@pytest.mark.derived
def test_points_in_any_order_jump_by_their_moments() -> None:
    moment, order = np.arange(24.0), np.random.default_rng(2).permutation(24)
    y = run(0.3, 2.0, 3)
    one, other = (fit_knee(X[some], y[some], time=moment[some]) for some in (np.arange(24), order))
    assert one.interval == pytest.approx(other.interval, rel=1e-9)
    assert other.noise.models.slip[other.noise.likeliest] == 9.5
