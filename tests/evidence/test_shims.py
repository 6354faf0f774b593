"""From the shape back to the shims: virtual readings of a known rotor, made by the forward run and not by the fit."""

from dataclasses import replace

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.behaviour.contact.shape import profile
from rimmodel.behaviour.keys.keyed_rotor import keyed_rotor
from rimmodel.behaviour.keys.run import key_run
from rimmodel.evidence.shims.from_shape import shim_map

CASE = rm.example_case()
COLD = CASE.conditions["cold"]
FIT = replace(CASE.rotor.fit, key_width=0.3, key_interference=None, guide_stiffness=3e9, tangential_clearance=None)
ROTOR = replace(CASE.rotor, fit=FIT)
SHEET = np.full(14, 2.1e-3)
POLES = 2 * np.pi * np.arange(48) / 48
SPEED = np.concatenate([[5.0, 12.0, 16.0], np.linspace(17.5, 22.5, 21)])
TOLERANCE, NOISE = 0.3e-3, 0.01e-3


def readings(shims, seed, speed=SPEED, noise=NOISE):
    """Gap of every pole, with pole heights, drift of the mean and shaft run-out that no one knows, and noise."""
    rng = np.random.default_rng(seed)
    run = key_run(ROTOR, COLD, speed, key_interference=shims)
    shape = profile(run.outer_harmonics, POLES)
    heights, drift = rng.normal(0, 0.5e-3, 48), rng.normal(0, 0.2e-3, (speed.size, 1))
    shaft = rng.normal(0, 0.1e-3, (speed.size, 1)) * np.cos(POLES - 1.0)
    return run.mean_gap[:, None] - shape + heights + drift + shaft + rng.normal(0, noise, shape.shape)


def true_shims(seed):
    return SHEET + np.random.default_rng(seed).normal(0, 0.5 * TOLERANCE, 14)


KEYED = keyed_rotor(ROTOR, COLD, SHEET)


@pytest.mark.derived
def test_readings_bring_the_shims_back_within_their_intervals():
    """Errors against the whole covariance: chi-squared of 14 in each of four tests, 56 in all with deviation 10.6."""
    total, errors = 0.0, []
    for seed in range(4):
        shims = true_shims(seed)
        found = shim_map(KEYED, SPEED, POLES, readings(shims, 100 + seed), NOISE, TOLERANCE)
        error = found.key_interference - shims
        total += error @ np.linalg.solve(found.covariance, error)
        half = 0.5 * np.diff(found.interval, axis=1)[:, 0]
        assert half == pytest.approx(1.959964 * np.sqrt(np.diag(found.covariance)), rel=1e-6)
        assert found.success
        errors.append(error)
    assert 28.0 < total < 95.0  # 1 in 1000 either side
    assert np.std(errors) < 0.25 * 0.5 * TOLERANCE  # the sheet alone leaves half its tolerance


def test_the_shift_tells_more_when_it_is_the_rims():
    shims = true_shims(5)
    quiet = readings(shims, 3) * 0 + _clean(shims)
    free = shim_map(KEYED, SPEED, POLES, quiet, NOISE, TOLERANCE)
    known = shim_map(KEYED, SPEED, POLES, quiet, NOISE, TOLERANCE, shift_is_rims=True)
    assert np.trace(known.covariance) < np.trace(free.covariance)
    error = known.key_interference - shims
    assert np.abs(error).max() < 0.1 * TOLERANCE


def _clean(shims):
    run = key_run(ROTOR, COLD, SPEED, key_interference=shims)
    return run.mean_gap[:, None] - profile(run.outer_harmonics, POLES)


def test_shim_changes_make_the_keys_alike():
    shims = true_shims(2)
    found = shim_map(KEYED, SPEED, POLES, readings(shims, 9), NOISE, TOLERANCE)
    even = found.key_interference + found.shim_change
    assert np.ptp(even) < 1e-12
    assert found.shim_change.sum() == pytest.approx(0.0, abs=1e-12)
    to_drawing = shim_map(KEYED, SPEED, POLES, readings(shims, 9), NOISE, TOLERANCE, target=2.2e-3)
    assert to_drawing.key_interference + to_drawing.shim_change == pytest.approx(np.full(14, 2.2e-3))
    # done for real they bring the first lift-off nearer the mean float speed
    before, after = (key_run(ROTOR, COLD, key_interference=d) for d in (shims, shims + found.shim_change))
    lag = [1 - run.event_speeds.first_lift_off / run.event_speeds.mean_float for run in (before, after)]
    assert lag[1] < 0.7 * lag[0]


def test_below_the_first_lift_off_the_sheet_comes_back_and_that_is_said():
    slow = np.linspace(2.0, 14.0, 6)
    found = shim_map(KEYED, slow, POLES, readings(true_shims(1), 1, slow), NOISE, TOLERANCE)
    assert found.seen.max() < 0.5
    assert np.sqrt(np.diag(found.covariance)) == pytest.approx(np.full(14, 0.5 * TOLERANCE), rel=0.2)
    assert any("no key lifts off up to" in note for note in found.notes)
    assert any("all keys alike" in note and "14 of 14" in note for note in found.notes)


@pytest.mark.derived
def test_the_sensitivity_of_the_shape_is_its_slope():
    from rimmodel.evidence.shims.from_shape import _shape

    shims, step = true_shims(4), 1e-8
    _, slope = _shape(KEYED.with_keys(shims), SPEED[::4], POLES)
    for key in (0, 5):
        moved = [_shape(KEYED.with_keys(shims + s * step * np.eye(14)[key]), SPEED[::4], POLES)[0] for s in (1, -1)]
        assert slope[:, :, key] == pytest.approx((moved[0] - moved[1]) / (2 * step), abs=1e-5)


def test_a_wrong_noise_is_noticed():
    few = SPEED[::3]
    found = shim_map(KEYED, few, POLES, readings(true_shims(6), 2, few, noise=0.05e-3), NOISE, TOLERANCE)
    assert any("times their noise" in note for note in found.notes)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"gap": np.zeros((3, 4))}, r"gap has shape \(3, 4\)"),
        ({"gap": np.full((24, 48), np.nan)}, "not finite"),
        ({"noise": 0.0}, "noise is 0 m"),
        ({"confidence": 1.0}, "confidence is 1"),
    ],
)
def test_wrong_readings_are_refused_in_words(change, words):
    with pytest.raises(ValueError, match=words):
        shim_map(**{
            "keyed": KEYED, "speed": SPEED, "pole_angle": POLES, "gap": readings(SHEET, 0), "noise": NOISE,
            "sheet_tolerance": TOLERANCE, **change,
        })  # fmt: skip
