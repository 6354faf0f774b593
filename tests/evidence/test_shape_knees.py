"""Where eccentricity bends when keys lift off one by one: not at the knee of the mean gap, so no command fits both."""

from __future__ import annotations

import numpy as np
import pytest
from virtual_fits import EXAMPLE

from rimmodel.behaviour import float_speed
from rimmodel.behaviour.keys.run import key_run
from rimmodel.evidence.backfit.shared_knee import Series, broken_line_rest


def knee_of(squared: np.ndarray, value: np.ndarray) -> float:
    """Speed squared at which a bent line leaves least."""
    knees = np.linspace(squared[1], squared[-2], 300)
    rest = broken_line_rest(Series("", np.sqrt(squared), value, 1.0), knees)
    return float(knees[np.sum(rest**2, axis=1).argmin()])


@pytest.mark.derived
def test_eccentricity_bends_well_below_the_knee_of_the_mean_gap() -> None:
    rotor, cold = EXAMPLE.rotor, EXAMPLE.conditions["cold"]
    speed = np.linspace(0.1, 1.35, 40) * float(float_speed(rotor, cold).speed)
    random, mean, centre = np.random.default_rng(3), [], []
    for _ in range(4):
        keys = float(rotor.fit.interference) + random.normal(0.0, 5e-5, 14)
        run = key_run(rotor, cold, speed, key_interference=keys, mass_eccentricity=(5e-5, 0.0))
        known = np.isfinite(run.centre).all(axis=1)
        squared = run.speed[known] ** 2 / run.event_speeds.mean_float**2
        mean.append(knee_of(squared, run.mean_gap[known]))
        centre += [knee_of(squared, run.centre[known, axis]) for axis in (0, 1)]
    assert np.sqrt(mean) == pytest.approx(1.0, abs=0.01)  # the mean gap shows the float speed of the mean interference
    assert np.median(np.sqrt(centre)) < 0.92
