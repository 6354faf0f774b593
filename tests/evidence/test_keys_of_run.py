"""Keys read from the shape of the rotor in a run: virtual runs of known keys, made by the contact key by key."""

from dataclasses import replace

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.behaviour.contact.shape import profile
from rimmodel.behaviour.keys.run import key_run
from rimmodel.evidence.recording.delimited import RecordingError
from rimmodel.evidence.reduction.outline import make_outline
from rimmodel.evidence.reduction.rotor_shape import RotorShape
from rimmodel.evidence.shims.from_run import readings_of_run

CASE = rm.example_case()
COLD = CASE.conditions["cold"]
FIT = replace(CASE.rotor.fit, key_width=0.3, key_interference=None, guide_stiffness=3e9, tangential_clearance=None)
ROTOR = replace(CASE.rotor, fit=FIT)
POLES = 2 * np.pi * np.arange(48) / 48
TOLERANCE, NOISE = 0.3e-3, 0.01e-3
FAR = np.concatenate([[5.0, 12.0, 16.0], np.linspace(17.5, 22.5, 21)])


def shape_of(keys, speed, seed, direction="up"):
    """What the poles show at each speed: the rim's outline, their own heights, and noise."""
    rng = np.random.default_rng(seed)
    run = key_run(ROTOR, COLD, speed, key_interference=keys)
    outline = profile(run.outer_harmonics, POLES) + rng.normal(0.0, 0.5e-3, 48)
    outline = outline - outline.mean(axis=1, keepdims=True) + rng.normal(0.0, NOISE / 2, outline.shape)
    noise = np.full(speed.size, NOISE)
    rotor = make_outline(POLES, outline, noise / 2, mean_radius=4.58, nominal_gap=16e-3)
    sensors = make_outline(np.arange(4.0), np.zeros((speed.size, 4)), noise, mean_radius=4.58, nominal_gap=16e-3)
    names = np.full(speed.size, direction)
    steady = np.ones(speed.size, dtype=bool)
    return RotorShape(speed, run.mean_gap, names, steady, ("a", "b", "c", "d"), noise, rotor, sensors, 16e-3, ())


@pytest.mark.derived
def test_the_keys_come_back_with_a_covariance_that_fits_the_errors():
    """Errors against their covariance: chi-squared of 14 in each of two runs, 28 in all with deviation 7.5."""
    total = 0.0
    for seed in range(2):
        keys = 2.1e-3 + np.random.default_rng(seed).normal(0.0, TOLERANCE / 2, 14)
        found = readings_of_run(ROTOR, COLD, shape_of(keys, FAR, 10 + seed), TOLERANCE, "run.csv")
        error = found.interference - keys
        total += error @ np.linalg.solve(found.covariance, error)
        assert np.std(error) < 0.25 * TOLERANCE / 2
    assert 9.0 < total < 60.0  # 1 in 1000 either side


def test_a_run_below_the_first_lift_off_reads_no_key_and_names_them():
    keys = 2.1e-3 + np.random.default_rng(3).normal(0.0, 0.02e-3, 14)
    slow = shape_of(keys, np.linspace(3.0, 9.0, 8), 4)
    with pytest.raises(RecordingError, match=r"run\.csv: 14 keys and readings of .*blind"):
        readings_of_run(ROTOR, COLD, slow, 0.02e-3, "run.csv")


def test_a_run_down_is_no_run_up():
    with pytest.raises(RecordingError, match="0 holds of the run-up show every pole"):
        readings_of_run(ROTOR, COLD, shape_of(np.full(14, 2.1e-3), FAR, 1, "down"), TOLERANCE, "run.csv")
