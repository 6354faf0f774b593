"""Points of the unit cube against scipy's sequence, numpy's counter-based generator and what a method promises."""

import numpy as np
import pytest
from scipy.stats import kstest
from scipy.stats.qmc import Sobol

from rimmodel.behaviour.study.sampling import METHODS, sampler
from rimmodel.rotor.blocks import BLOCK


def whole(method, dimensions, count, seed):
    points = sampler(method, dimensions, count, seed)
    return np.concatenate([points.block(number) for number in range(points.blocks)], axis=1)


@pytest.mark.independent
@pytest.mark.parametrize("count", [2, 700, BLOCK, 5 * BLOCK])
def test_sobol_points_are_those_of_scipy_in_the_middle_of_their_steps(count):
    ours = whole("sobol", 9, count, 7)
    theirs = Sobol(9, scramble=True, bits=30, rng=np.random.default_rng(7)).random(ours.shape[1]).T
    assert np.array_equal(ours, theirs + 2.0**-31)


@pytest.mark.independent
def test_random_points_hang_on_seed_and_number_alone():
    ours = sampler("random", 5, 3 * BLOCK, 3).block(2)
    # two steps of four numbers for each point of five coordinates
    stream = np.random.Generator(np.random.Philox(key=3)).random((3 * BLOCK, 8))
    assert np.allclose(ours, stream[2 * BLOCK :, :5].T, rtol=0, atol=2e-16)


@pytest.mark.parametrize("method", ["sobol", "random"])
def test_a_longer_study_starts_with_the_shorter_one(method):
    assert np.array_equal(whole(method, 3, 4 * BLOCK, 5)[:, : 2 * BLOCK], whole(method, 3, 2 * BLOCK, 5))


def test_a_latin_hypercube_has_one_point_in_every_cell():
    points = whole("latin hypercube", 4, 10_000, 2)
    assert np.array_equal(np.sort(np.floor(points * 10_000), axis=1), np.tile(np.arange(10_000.0), (4, 1)))


@pytest.mark.parametrize("method", METHODS)
def test_points_are_uniform_open_at_both_ends_and_differ_by_seed(method):
    points = whole(method, 2, 2 * BLOCK, 11)
    assert points.min() > 0
    assert points.max() < 1
    assert all(kstest(row, "uniform").pvalue > 1e-3 for row in points)
    assert abs(np.corrcoef(points)[0, 1]) < 0.03
    assert not np.array_equal(points, whole(method, 2, 2 * BLOCK, 12))


@pytest.mark.parametrize(
    ("method", "dimensions", "count", "words"),
    [("sobl", 1, 10, "must be one of"), ("random", 0, 10, "nothing varies"), ("sobol", 1, 1, "samples is 1"),
     ("latin hypercube", 1, 2_000_000, "to 1000000")],
)  # fmt: skip
def test_what_cannot_be_sampled_is_said(method, dimensions, count, words):
    with pytest.raises(ValueError, match=words):
        sampler(method, dimensions, count, 0)
