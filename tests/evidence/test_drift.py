"""Drift of the level in a run: what shapes it may have, how far it may go, and what is not taken for a knee for it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from scipy.integrate import solve_ivp
from virtual_fits import CASE, COLD, points_of

import rimmodel as rm
from rimmodel.behaviour import interference_for_float_speed, sweep
from rimmodel.evidence.backfit.warming import SENSORS, WARMING, level_drift
from rimmodel.evidence.knee.fit import fit_knee
from rimmodel.evidence.knee.noise import SIZES_OF_DRIFT, UNLIKE, heated, noise_models
from rimmodel.evidence.measured.measure import measure, measure_points
from rimmodel.evidence.recording.read import read_recording
from rimmodel.units import RPM
from tests.benchmarks.noise_calibration import FAMILIES, by_lines

NAMED = {family.name: family for family in FAMILIES}
HIGHEST = 19.5


@pytest.mark.independent
def test_a_heated_body_follows_its_differential_equation() -> None:
    place = np.sort(np.random.default_rng(4).uniform(0.0, 1.0, 400))
    place[[0, -1]] = 0.0, 1.0
    found = heated(place**3, place, 0.3)
    exact = solve_ivp(lambda t, warm: (t**3 - warm) / 0.3, (0.0, 1.0), [0.0], t_eval=place, rtol=1e-8, atol=1e-10)
    assert found == pytest.approx(exact.y[0], abs=1e-3)


@pytest.mark.derived
def test_every_drift_of_a_known_shape_changes_by_its_size_over_the_run() -> None:
    # from first to last of a curve that only rises: variance 1, and of the rest of unknown shape at most twice its own
    x = np.linspace(0.1, 1.0, 12) ** 2
    models = noise_models(x, np.arange(12.0), directed=True)
    factor = np.linalg.inv(models.root)
    covariance = factor @ np.swapaxes(factor, 1, 2)
    over_run = covariance[:, 0, 0] + covariance[:, -1, -1] - 2.0 * covariance[:, 0, -1]
    plain = (models.correlation == 0.0) & (models.increase == 1.0)
    drifting = plain & (models.drift > 0.0)
    assert drifting.sum() >= 12
    size = (over_run[drifting] - 2.0) / models.drift[drifting] ** 2  # two points scatter by themselves
    smooth = size < 0.99
    assert smooth.sum() == len(SIZES_OF_DRIFT)
    assert np.all((size[~smooth] < 1.0 + 2.0 * UNLIKE**2) & (size[~smooth] >= 1.0 - 1e-9))


@pytest.mark.derived
def test_the_gap_drifts_by_what_warm_bodies_grow() -> None:
    rotor = CASE.rotor
    warmest = {body: most for body, (_, most) in WARMING.items()}
    # a rim that floats grows by expansion x radius x K, and so does the bore of the stator; the spider is free of it
    rim = float(rotor.rim.material.thermal_expansion) * float(rotor.poles.face_radius) * warmest["rim"]
    stator = rim * warmest["stator"] / warmest["rim"]
    unknown = level_drift(rotor, COLD, np.array([np.nan]), 1.3 * HIGHEST)
    assert unknown == pytest.approx(np.sqrt(rim**2 + stator**2 + SENSORS**2), rel=0.2)
    # a rate for a time: half an hour is half as far as an hour, and no run comes further than the longest
    half, one, long = (level_drift(rotor, COLD, np.array([0.0, 3600.0 * hours]), HIGHEST) for hours in (0.5, 1.0, 9.0))
    of_rate = np.sqrt([half**2 - SENSORS**2, one**2 - SENSORS**2])
    assert of_rate[1] == pytest.approx(2.0 * of_rate[0])
    assert long == pytest.approx(one)


@pytest.mark.derived
@pytest.mark.parametrize("course", ["linear", "settling", "heated"])
def test_a_rim_that_warms_by_12_degrees_and_never_floats_shows_no_lift_off(course: str) -> None:
    speed, resolved = np.linspace(2.0, HIGHEST, 25), 0
    moment = np.linspace(0.0, 1.0, len(speed))
    warm = {
        "linear": moment,
        "settling": (1.0 - np.exp(-moment / 0.4)) / (1.0 - np.exp(-1.0 / 0.4)),
        "heated": np.cumsum(speed**3) / np.sum(speed**3),
    }[course]
    for seed in range(6):
        random = np.random.default_rng([12, seed])
        lift = random.uniform(1.15, 1.5) * HIGHEST
        rotor = CASE.rotor.with_interference(float(interference_for_float_speed(CASE.rotor, COLD, lift)))
        gap = [
            float(
                sweep(
                    rotor,
                    replace(
                        COLD,
                        rim_temperature=COLD.rim_temperature + 12.0 * share,
                        spider_temperature=COLD.spider_temperature + 4.0 * share,
                    ),
                    one,
                ).air_gap
            )
            for one, share in zip(speed, warm, strict=True)
        ]
        points = points_of(speed, np.array(gap) + 3e-5 * random.standard_normal(len(speed)))
        resolved += measure_points(CASE.rotor, COLD, points).verdict == "resolved"
    assert resolved <= 1  # of 6, at odds of one in twenty each: two or more are found once in thirty


@pytest.mark.derived
def test_honest_noise_costs_a_clean_run_little() -> None:
    rows = list(by_lines(NAMED["white, 30 points"], 40, seed=83))
    length, white = (np.median([getattr(row, name) for row in rows]) for name in ("length", "white"))
    # 1.46 in the table of 500 runs, of which the medians of 40 differ by a sixth or so
    assert length < 1.6 * white


def test_a_drift_that_is_no_size_is_refused() -> None:
    x = np.arange(8.0)
    with pytest.raises(ValueError, match="drift is 0; it must be above zero"):
        fit_knee(x, -x, drift=0.0)


@pytest.mark.parametrize("widened", [0.40e-3, 0.45e-3, 0.5e-3])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_floating_rim_that_a_warming_stator_makes_look_seated_gets_no_bound_above_its_lift_off(widened, seed):
    """In a run-up alone its line is then as steep as that of the seated rim: the side is not known."""
    rotor = replace(CASE.rotor, fit=replace(CASE.rotor.fit, interference=0.2e-3, settlement=0.0))
    cold = CASE.conditions["cold"]
    speed, time = np.linspace(20.0, 187.0, 30), np.linspace(60.0, 7020.0, 30)
    gap = sweep(rotor, cold, speed * RPM).air_gap + widened * (time / time[-1]) ** 2
    gap = gap + np.random.default_rng(seed).normal(0.0, 0.02e-3, gap.shape)
    frame = pl.DataFrame({"time [s]": time, "speed [rpm]": speed, "gap [mm]": 1e3 * gap})
    found = measure(rotor, cold, read_recording(frame), "cold")
    assert found.float_speed_interval[0] < float(rm.float_speed(rotor, cold).speed)
