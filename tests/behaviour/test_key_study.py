"""Studies of random shims: the same bits for any number of workers, and the landmarks of any single run."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

import rimmodel as rm
from rimmodel.behaviour.key_run import key_run
from rimmodel.behaviour.key_study import BLOCK, key_study, random_shims

CASE = rm.example_case()
COLD = CASE.conditions["cold"]
FIT = replace(CASE.rotor.fit, key_width=0.3, key_interference=None, guide_stiffness=3e9, tangential_clearance=None)
ROTOR = replace(CASE.rotor, fit=FIT)
SETS = random_shims(np.full(14, 2.1e-3), 0.2e-3, 2 * BLOCK + 8, seed=4)


def backwards(function, tasks):
    """Map that works from the last task to the first and keeps their order."""
    return [function(task) for task in list(tasks)[::-1]][::-1]


@pytest.mark.parametrize("workers", [2, backwards])
def test_any_number_of_workers_gives_the_same_bits(workers):
    alone = key_study(ROTOR, COLD, SETS)
    shared = key_study(ROTOR, COLD, SETS, workers=workers)
    for name in ("first_lift_off", "centring_lost", "last_lift_off", "one_sided", "mean_float", "first_key"):
        assert getattr(alone, name).tobytes() == getattr(shared, name).tobytes()


def test_each_row_is_the_run_of_its_shims():
    study = key_study(ROTOR, COLD, SETS[:5])
    for row, shims in enumerate(SETS[:5]):
        run = key_run(ROTOR, COLD, [0.0], key_interference=shims)
        assert study.first_lift_off[row] == pytest.approx(run.landmarks.first_lift_off, rel=1e-9)
        assert study.last_lift_off[row] == pytest.approx(run.landmarks.last_lift_off, rel=1e-9)
        assert study.mean_float[row] == pytest.approx(run.landmarks.mean_float, rel=1e-9)
        assert study.first_key[row] == run.events[0].key
        assert np.isinf(study.centring_lost[row])


@pytest.mark.derived
def test_every_set_has_its_first_key_below_and_its_last_above_the_mean():
    study = key_study(ROTOR, COLD, SETS[:200])
    assert np.all(study.first_lift_off < study.mean_float)
    assert np.all(study.last_lift_off > study.mean_float)


@pytest.mark.independent
def test_random_shims_are_normal_with_the_tolerance_at_two_deviations():
    drawn = random_shims(np.zeros(20), 0.2e-3, 2000, seed=9)
    assert stats.kstest(drawn.ravel() / 0.1e-3, "norm").pvalue > 1e-3
    assert drawn[:7].tobytes() == random_shims(np.zeros(20), 0.2e-3, 7, seed=9).tobytes()
    assert not np.array_equal(drawn, random_shims(np.zeros(20), 0.2e-3, 2000, seed=10))


def test_wrong_arguments_are_refused_in_words():
    with pytest.raises(ValueError, match="workers is 0"):
        key_study(ROTOR, COLD, SETS[:2], workers=0)
    with pytest.raises(ValueError, match=r"shape \(14,\)"):
        key_study(ROTOR, COLD, SETS[0])
    with pytest.raises(ValueError, match="tolerance is -1"):
        random_shims(np.zeros(3), -1.0, 2, 0)
