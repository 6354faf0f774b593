"""Several runs of one machine: surer together where they may share, refused where they contradict one another."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from rimmodel.evidence.backfit.posterior import FitPosterior
from rimmodel.evidence.pooling.runs import CONTRADICTED, Message, disagreement, informed, pooled_runs
from tests.evidence.virtual_machines import run_of, unknowns


@pytest.fixture(scope="module")
def runs():
    random = np.random.default_rng(3)
    return [run_of(unknowns(left, 0.1, -0.3), random, count=40, noise=0.01e-3) for left in (1.4e-3, 1.6e-3, 1.75e-3)]


def _posterior(random, knots=9):
    """An invented posterior of a float speed, two shared unknowns and one of the run."""
    squared = np.append(np.linspace(100.0, 400.0, knots), 700.0)
    covariance = np.zeros((len(squared), 4, 4))
    for place in range(len(squared)):
        root = random.normal(size=(3, 3))
        covariance[place, 1:, 1:] = root @ root.T + 0.3 * np.eye(3)
    means = np.column_stack([np.sqrt(squared), random.normal(size=(len(squared), 3))])
    chance = random.uniform(0.2, 1.0, len(squared))
    return FitPosterior(squared, chance, 0.1, 0.05, means, covariance, np.eye(2))


@pytest.mark.independent
def test_a_message_is_heard_as_by_adding_up_on_a_grid():
    found = _posterior(np.random.default_rng(5))
    said = Message(np.array([[2.0, 0.5], [0.5, 1.0]]), np.array([0.7, -0.4]), np.ones(2))
    heard = informed(found, np.array([1, 2]), [said])
    axis = np.linspace(-14.0, 14.0, 281)
    grid = np.stack(np.meshgrid(axis, axis, indexing="ij"), axis=-1)
    weight = np.exp(grid @ said.pull - 0.5 * np.einsum("xyi,ij,xyj->xy", grid, said.precision, grid))
    sizes = []
    for place in range(len(found.squared)):
        own = stats.multivariate_normal(found.unknowns[place, 1:3], found.covariance[place, 1:3, 1:3])
        product = own.pdf(grid) * weight
        sizes.append(product.sum())
        mean = np.einsum("xy,xyi->i", product, grid) / product.sum()
        assert heard.unknowns[place, 1:3] == pytest.approx(mean, abs=1e-6)
        apart = grid - mean
        spread = np.einsum("xy,xyi,xyj->ij", product, apart, apart) / product.sum()
        assert heard.covariance[place, 1:3, 1:3] == pytest.approx(spread, abs=1e-6)
    assert heard.likelihood / heard.likelihood[0] == pytest.approx(
        found.likelihood / found.likelihood[0] * np.array(sizes) / sizes[0], rel=1e-6
    )


@pytest.mark.derived
def test_a_message_that_says_nothing_changes_nothing():
    found = _posterior(np.random.default_rng(6))
    heard = informed(found, np.array([1, 2]), [Message(np.zeros((2, 2)), np.zeros(2), np.ones(2))])
    assert heard.unknowns == pytest.approx(found.unknowns, abs=1e-9)
    assert heard.covariance == pytest.approx(found.covariance, abs=1e-9)
    assert (heard.above, heard.below) == pytest.approx((0.1, 0.05))


@pytest.mark.derived
def test_disagreement_is_chi_squared_and_deaf_to_what_a_run_does_not_say():
    random = np.random.default_rng(8)
    prior = np.array([1.0, 1.0])
    found = []
    for _ in range(300):
        said = np.array([0.3, -0.2]) + random.normal(size=(3, 2)) / np.sqrt([40.0, 90.0])
        messages = [Message(np.diag([40.0, 90.0]), np.array([40.0, 90.0]) * one, prior) for one in said]
        value, freedom = disagreement(messages)
        assert freedom == 4
        found.append(value)
    assert stats.kstest(found, stats.chi2(4).cdf).pvalue > 0.01
    deaf = Message(np.diag([40.0, 0.01]), np.array([12.0, 50.0]), prior)
    clear = Message(np.diag([40.0, 90.0]), np.array([12.0, -18.0]), prior)
    assert disagreement([deaf, clear]) == (pytest.approx(0.0, abs=1e-9), 1)


def test_runs_of_one_machine_make_each_other_surer(runs):
    found = pooled_runs(runs)
    assert found is not None
    assert found.refused == ""
    assert found.chance > CONTRADICTED
    for row, true in zip(found.runs, (1.4e-3, 1.6e-3, 1.75e-3), strict=True):
        low, high = row.pooled_noise_interval
        assert low <= true <= high
        assert high - low < 0.97 * (row.noise_interval[1] - row.noise_interval[0])
    low, high = found.hoop_stiffness_factor_interval
    assert low < 0.85 * np.exp(0.1) < high


def test_a_run_of_another_stiffness_refuses_the_pooling(runs):
    other = run_of(unknowns(1.6e-3, -0.25, -0.3), np.random.default_rng(4), count=30, noise=0.015e-3)
    found = pooled_runs([*runs, replace(other, label="after welding")])
    assert found is not None
    assert "contradict one another" in found.refused
    assert "'after welding'" in found.refused
    for row in found.runs:
        assert row.pooled_interval == row.interval
        assert row.pooled_interference == pytest.approx(row.interference, nan_ok=True)


def test_a_run_that_decides_nothing_takes_no_part(runs):
    spoilt = replace(runs[0], label="spoilt", disqualified=("its gaps contradict themselves",))
    assert pooled_runs([spoilt, runs[1]]) is None
    found = pooled_runs([spoilt, *runs[1:]])
    assert found is not None
    assert found.left_out == {"spoilt": "its gaps contradict themselves"}
    assert pooled_runs(runs[:1]) is None
