"""A family of sister units: against the eight schools, a second way to integrate, and virtual families."""

import numpy as np
import pytest
from scipy import stats

from rimmodel.evidence.pooling.family import KEPT, pooled_family, predicted_by_others, shrunk_to_family

EIGHT = np.array([28.0, 8.0, -3.0, 7.0, -1.0, 1.0, 18.0, 12.0])
EIGHT_ERRORS = np.array([15.0, 10.0, 16.0, 11.0, 9.0, 11.0, 10.0, 18.0])
"""Rubin 1981; table 5.2 of Gelman et al., Bayesian Data Analysis, 3rd ed., as copied in lectures on the net."""


@pytest.mark.recalled
def test_eight_schools_with_a_flat_prior_of_the_spread():
    # table 5.3 there, from 200 draws: its medians are good to 1, its outer quantiles to a few units
    found = shrunk_to_family(EIGHT, EIGHT_ERRORS, 0.5, scale=np.inf)
    lower = np.array([7.0, 3.0, 2.0, 4.0, 1.0, 2.0, 7.0, 3.0])
    upper = np.array([16.0, 12.0, 11.0, 11.0, 9.0, 10.0, 15.0, 13.0])
    assert np.abs(found.low - lower).max() < 1.6
    assert np.abs(found.high - upper).max() < 1.6
    wide = shrunk_to_family(EIGHT, EIGHT_ERRORS, 0.95, scale=np.inf)
    assert wide.low[0] == pytest.approx(-2.0, abs=2.0)
    assert wide.high[0] == pytest.approx(31.0, abs=2.0)
    assert wide.mean == pytest.approx(8.0, abs=0.5)


@pytest.mark.independent
def test_units_agree_with_integrals_of_another_kind():
    value, error, scale = np.array([1.0, 2.5, 0.2]), np.array([0.5, 0.8, 0.6]), 1.7

    spread, mean = np.linspace(0.0, 60.0, 4001)[:, None, None], np.linspace(-25.0, 28.0, 801)[:, None]
    width = np.hypot(error, spread)
    weight = stats.t.pdf(spread[..., 0] / scale, 4) * np.prod(stats.norm.pdf(value, mean, width), axis=-1)
    own = (value * spread**2 + mean * error**2) / width**2
    ends = np.where(np.isin(np.arange(4001), (0, 4000)), 0.5, 1.0)[:, None]  # trapezium rule
    expected = np.einsum("sm,smu->u", ends * weight, own) / np.sum(ends * weight)
    assert shrunk_to_family(value, error, scale=scale).best == pytest.approx(expected, rel=2e-4)


@pytest.mark.derived
def test_without_spread_it_is_the_weighted_mean_and_with_much_the_unit_alone():
    error = np.array([0.1, 0.2, 0.4, 0.1])
    tight = shrunk_to_family([5.0, 5.0, 5.0, 5.0], error, scale=1e-9)
    assert tight.best == pytest.approx(5.0)
    assert tight.high - tight.best == pytest.approx(1.96 / np.sqrt(np.sum(error**-2.0)), rel=1e-3)
    far = shrunk_to_family([0.0, 100.0, 200.0, 350.0], error, scale=np.inf)
    assert far.best == pytest.approx([0.0, 100.0, 200.0, 350.0], abs=0.01)
    assert far.high - far.best == pytest.approx(1.96 * error, rel=1e-3)


def test_the_others_predict_their_like_and_no_outlier():
    found = predicted_by_others([0.0, 1.0, -1.0, 0.5, 20.0], np.full(5, 0.5))
    assert found.chance[4] < 0.01
    assert found.chance[:4].min() > 0.05
    assert found.low[0] < 0.0 < found.high[0]


def test_a_bad_unit_is_not_drawn_to_its_sisters():
    family = pooled_family([2.0, 2.02, 1.98, 2.01, 1.99, 1.2], np.full(6, 0.06))
    assert family.apart.tolist() == [False] * 5 + [True]
    assert family.best[5] == 1.2
    assert (family.low[5], family.high[5]) == pytest.approx((1.2 - 1.96 * 0.06, 1.2 + 1.96 * 0.06), abs=1e-4)
    assert family.shrunk is not None
    assert family.shrunk.mean == pytest.approx(2.0, abs=0.01)


def test_an_interval_after_pooling_holds_the_inner_part_of_the_own():
    family = pooled_family([2.0, 2.1, 1.9, 2.0, 1.85], np.full(5, 0.1))
    half = KEPT * stats.norm.ppf(0.975) * 0.1
    assert np.all(family.low <= family.value - half + 1e-12)
    assert np.all(family.high >= family.value + half - 1e-12)


@pytest.mark.parametrize(
    ("value", "error", "words"),
    [
        ([1.0, 2.0], [0.1, 0.1], "2 units; a family needs at least 3"),
        ([1.0, 2.0, np.nan], [0.1, 0.1, 0.1], "value is nan; it must be a finite number"),
        ([1.0, 2.0, 3.0], [0.1, 0.0, 0.1], "error is 0; it must be above zero"),
        ([1.0, 2.0, 3.0], [0.1, 0.1], "one number per unit"),
    ],
)
def test_what_is_no_family_is_refused(value, error, words):
    with pytest.raises(ValueError, match=words):
        pooled_family(value, error)


@pytest.mark.independent
@pytest.mark.parametrize("spread", [0.0, 1.0, 5.0])
def test_coverage_on_virtual_families(spread):
    random = np.random.default_rng(7)
    families, units = 120, 8
    hits, worst = np.zeros(units), 0.0
    for _ in range(families):
        error = np.sort(random.uniform(0.7, 1.4, units))
        true = random.normal(3.0, spread, units)
        found = pooled_family(true + error * random.standard_normal(units), error)
        held = (found.low <= true) & (true <= found.high)
        hits += held
        worst += held[np.argmin(true)]
    margin = 2.6 * np.sqrt(0.05 * 0.95 / families)
    assert hits.mean() / families > 0.95 - margin / np.sqrt(3.0)
    assert hits.min() / families > 0.93 - margin
    assert worst / families > 0.93 - margin  # the truly lowest unit: the one that shrinkage could hide
