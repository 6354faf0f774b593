"""Intervals when noise is not white: a small seeded form of `tests/benchmarks/noise_calibration.py`.

Counts are judged by the binomial at odds of one in a thousand for 92 %, the least coverage allowed: what white noise
alone would make of the same runs, 40 to 80 %, falls far below.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom

from rimmodel.evidence.knee.fit import fit_knee
from tests.benchmarks.noise_calibration import FAMILIES, Family, Outcome, bent, by_lines, by_rotor, invented, line

NAMED = {family.name: family for family in FAMILIES}


@pytest.mark.derived
@pytest.mark.parametrize(
    "name",
    [
        "correlation 0.8, 30 points",
        "rounded 0.4, 30 points",
        "drift 0.3 mm, settling, up and down",
        "noise grows 6 times",
    ],
)
def test_the_knee_is_held_as_often_as_said(name: str) -> None:
    rows = list(by_lines(NAMED[name], 30, seed=77))
    assert sum(row.held for row in rows) >= binom.ppf(0.001, 30, 0.92)
    closed = [row for row in rows if row.closed]
    assert len(closed) >= 10  # an answer, not a refusal
    assert sum(row.held for row in closed) >= binom.ppf(0.001, len(closed), 0.92)


@pytest.mark.derived
@pytest.mark.parametrize(
    "name",
    [
        "no knee, correlation 0.8",
        "no knee, drift 0.3 mm",
        "no knee, drift 0.3 mm, settling",
        "no knee, drift 0.3 mm, heated",
    ],
)
def test_noise_that_hangs_together_and_drift_are_seldom_taken_for_a_knee(name: str) -> None:
    rows = list(by_lines(NAMED[name], 30, seed=78))
    assert sum(row.closed for row in rows) <= binom.ppf(0.999, 30, 0.05)


@pytest.mark.derived
def test_interference_of_the_rotor_is_held_as_often_as_said() -> None:
    rows = list(by_rotor(Family("correlated", 30, correlation=0.6), 12, seed=79))
    for name in ("held", "interference"):
        assert sum(getattr(row, name) for row in rows) >= binom.ppf(0.001, 12, 0.92), name


@pytest.mark.derived
def test_five_points_close_no_interval() -> None:
    assert not any(row.closed for row in by_lines(NAMED["white, 5 points"], 15, seed=80))


@pytest.mark.derived
def test_few_points_that_are_alike_are_said_to_be_too_few() -> None:
    random, found = np.random.default_rng(82), []
    for _ in range(12):
        walk = np.cumsum(random.standard_normal(14))
        x = 2.1 * np.linspace(0.1, 1.0, 14) ** 2
        knee = fit_knee(x, -2e-3 * x - 1e-3 * np.maximum(x - 1.2, 0.0) + 2e-4 * walk, drift=1e-4)
        if any("so alike that these 14 bound no knee" in reason for reason in knee.reasons):
            found.append(knee.verdict)
    assert len(found) >= 3
    assert set(found) == {"not resolvable"}


@pytest.mark.derived
def test_a_bend_that_drift_could_make_says_which_measurement_would_tell() -> None:
    found = [
        reason
        for number in range(12)
        for run in (invented(NAMED["no knee, drift 0.3 mm, settling"], number, 81),)
        for reason in fit_knee(2.1 * run.share**2, -2e-3 * run.share**2 + run.spoilt).reasons
    ]
    assert any("a point at low speed repeated after the run" in reason for reason in found)


def test_runs_depend_on_seed_and_number_alone() -> None:
    family = NAMED["correlation 0.6, 30 points"]
    one, same, other = (invented(family, number, 5) for number in (3, 3, 4))
    assert np.array_equal(one.spoilt, same.spoilt)
    assert not np.array_equal(one.spoilt, other.spoilt)


@pytest.mark.derived
def test_correlation_of_invented_noise_is_what_it_says() -> None:
    # lag-one correlation of 4,000 values of a first-order process: standard error sqrt((1 - 0.64)/4000), 0.01
    noise = invented(Family("long", 4000, correlation=0.8), 1, 9).spoilt
    assert np.corrcoef(noise[:-1], noise[1:])[0, 1] == pytest.approx(0.8, abs=0.04)


@pytest.mark.derived
def test_a_bend_rounded_over_many_knees_is_their_mean() -> None:
    # the mean of max(x - k, 0) over k from -w/2 to w/2 is (x + w/2)^2/(2 w) inside (by integration)
    x = np.array([-0.3, 0.0, 0.2, 2.0])
    assert bent(x, 0.0, 1.0) == pytest.approx([0.02, 0.125, 0.245, 2.0], abs=1e-5)


@pytest.mark.derived
def test_closed_intervals_of_few_correlated_points_are_earned() -> None:
    rows = [row for row in by_lines(NAMED["correlation 0.8, 16 points"], 60, seed=87) if row.closed]
    assert len(rows) >= 20
    assert sum(row.held for row in rows) >= binom.ppf(0.001, len(rows), 0.92)


@pytest.mark.parametrize(
    ("interference", "white", "shown"),
    [(None, 0.2, "-      -    0.300   1.50   0.10"), (False, np.nan, "0.0%   0.0%    0.300      -   0.10")],
)
def test_the_table_shows_no_share_of_what_was_not_computed(interference: bool | None, white: float, shown: str) -> None:
    row = line(Family("lines"), [Outcome(True, True, 0.3, interference, 0.1, white)])
    assert row.split(maxsplit=5)[5] == shown
