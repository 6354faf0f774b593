"""Interim looks: likelihoods that go on from reading to reading, and intervals that hold at all looks together."""

import numpy as np
import pytest
from scipy.stats import multivariate_normal

import rimmodel as rm
from rimmodel.evidence.backfit.fitter import Freedom
from rimmodel.evidence.backfit.gap_model import PARAMETERS, gap_model
from rimmodel.evidence.backfit.warming import WARMING, gap_per_kelvin
from rimmodel.evidence.interim.course import Course, Schedule, course, log_likelihoods
from rimmodel.evidence.interim.drift import _heated, drift_covariance
from rimmodel.evidence.interim.look import bounds, looks
from tests.benchmarks import interim_calibration

CASE = rm.example_case()
COLD = CASE.conditions["cold"]
HIGHEST = float(CASE.rotor.speeds.overspeed)
SPEED = np.linspace(0.1, 1.0, 16) * HIGHEST
UP = np.full(len(SPEED), "up")
TIME = 10.0 * np.arange(len(SPEED))
"""A run of minutes, in which no body warms."""


@pytest.fixture(scope="module")
def foretold():
    return course(CASE.rotor, COLD, Schedule(SPEED, UP, TIME), HIGHEST)


def small(places=3, readings=4):
    """A course of a few lift-offs and one noise, made up."""
    rng = np.random.default_rng(7)
    mean = 1e-5 * rng.normal(size=(places, readings))
    root = rng.normal(size=(places, readings, readings))
    known = 1e-10 * root @ np.swapaxes(root, 1, 2)
    weight = np.arange(1.0, places + 1.0)
    return Course(np.arange(1.0, places + 1.0), weight / weight.sum(), mean, known, np.eye(readings)[None], np.ones(1))


@pytest.mark.independent
def test_likelihoods_of_every_beginning_are_those_of_the_normal_distribution():
    made_up, gaps = small(), 1e-5 * np.random.default_rng(1).normal(size=(2, 4))
    found = log_likelihoods(made_up, gaps)
    for run in range(2):
        for count in range(1, 5):
            for place in range(3):
                terms = [
                    multivariate_normal(
                        made_up.mean[place, :count],
                        made_up.known[place, :count, :count] + level**2 * np.eye(count),
                        allow_singular=True,
                    ).logpdf(gaps[run, :count])
                    - np.log(len(made_up.levels))
                    for level in made_up.levels
                ]
                assert found[run, count - 1, place] == pytest.approx(np.logaddexp.reduce(terms), rel=1e-6)


@pytest.mark.derived
def test_the_ratio_has_mean_one_after_every_reading_whatever_came_before():
    """Runs are drawn from one lift-off itself: the mean of a martingale that starts at 1 is 1."""
    made_up, runs = small(), 20_000
    rng = np.random.default_rng(3)
    level = rng.choice(made_up.levels, runs)
    noise = rng.normal(size=(runs, 4)) * level[:, None]
    factor = np.linalg.cholesky(made_up.known[1])
    gaps = made_up.mean[1] + rng.normal(size=(runs, 4)) @ factor.T + noise
    log = log_likelihoods(made_up, gaps)
    whole = np.logaddexp.reduce(log + np.log(made_up.weight), axis=2)
    ratio = np.exp(whole - log[:, :, 1])
    error = ratio.std(axis=0) / np.sqrt(runs)
    assert (np.abs(ratio.mean(axis=0) - 1.0) < 4.0 * error + 0.01).all()
    # and so it reaches 20 in no more than one run of twenty
    assert (ratio.max(axis=1) >= 20.0).mean() < 0.05


@pytest.mark.independent
def test_what_a_lift_off_foretells_is_what_drawn_rotors_do(foretold):
    rng, place = np.random.default_rng(5), 120
    unknowns = np.zeros((4000, len(PARAMETERS)))
    unknowns[:, 0] = foretold.lift_off[place]
    unknowns[:, 1], unknowns[:, 2] = 0.15 * rng.normal(size=4000), 0.5 * rng.normal(size=4000)
    gaps = gap_model(CASE.rotor, COLD, SPEED, UP, np.full(len(SPEED), np.nan)).gaps(unknowns, COLD)
    np.testing.assert_allclose(foretold.mean[place], gaps.mean(axis=0), atol=2e-5)
    spread = np.sqrt(np.diag(foretold.known[place] - foretold.known[place].min()))
    fall = (gaps - gaps[:, :1]).std(axis=0)
    np.testing.assert_allclose(spread[4:], fall[4:], rtol=0.25)


def run_of(lift, noise=1e-5, seed=1):
    unknowns = np.zeros((1, len(PARAMETERS)))
    unknowns[0, 0] = lift
    model = gap_model(CASE.rotor, COLD, SPEED, UP, np.full(len(SPEED), np.nan))
    return model.gaps(unknowns, COLD)[0] + noise * np.random.default_rng(seed).normal(size=len(SPEED))


def test_a_run_shows_first_that_the_rim_is_seated_and_then_that_it_has_lifted_off(foretold):
    lift = 0.75 * HIGHEST
    found = looks(foretold, run_of(lift))
    assert (np.diff(found.low) >= 0.0).all()
    assert found.low[0] == 0.0
    assert np.isinf(found.high[:10]).all()
    assert found.low[-1] < lift < found.high[-1] < SPEED[-1]
    assert found.probability.sum() == pytest.approx(1.0)


def test_a_look_does_not_depend_on_what_comes_later(foretold):
    gap = run_of(0.7 * HIGHEST)
    early = course(CASE.rotor, COLD, Schedule(SPEED[:9], UP[:9], TIME[:9]), HIGHEST)
    whole, part = looks(foretold, gap), looks(early, gap[:9])
    np.testing.assert_allclose(part.low, whole.low[:9], rtol=1e-7)
    np.testing.assert_array_equal(part.high, whole.high[:9])


def test_readings_that_no_rotor_makes_leave_nothing():
    foretold = course(CASE.rotor, COLD, Schedule(SPEED, UP, TIME), HIGHEST)
    log = log_likelihoods(foretold, run_of(0.5 * HIGHEST)[None])
    log[0, 8:, : len(foretold.lift_off) // 2] -= 200.0
    log[0, 12:, len(foretold.lift_off) // 2 :] -= 400.0
    low, high = bounds(foretold, log, 0.95)
    assert np.isnan([low[0, -1], high[0, -1]]).all()


@pytest.mark.independent
def test_looks_after_every_reading_are_wrong_in_fewer_than_five_of_a_hundred_runs():
    """The form in small of `tests/benchmarks/interim_calibration.py`, which states the share for 2,000 runs."""
    found = [interim_calibration.batch(8401, number, 40) for number in range(3)]
    wrong, alone = (np.concatenate([getattr(one, name) for one in found]).mean() for name in ("wrong", "wrong_alone"))
    assert wrong <= 0.05
    # the interval of one look, taken at every look, is wrong more often than that
    assert alone > wrong
    assert np.concatenate([one.shown[one.passed] for one in found]).mean() > 0.5


@pytest.mark.independent
def test_a_level_that_drifts_neither_bends_nor_straightens_the_line_of_a_long_run():
    """Rims that float throughout, lift off or never do; the form in small of `interim_calibration.drifting`."""
    found = interim_calibration.drifting(31, 16)
    wrong = {name: one.wrong.mean() for name, one in found.items()}
    assert np.mean(list(wrong.values())) <= 0.03
    assert max(wrong.values()) <= 0.15


def test_the_drift_of_a_beginning_does_not_depend_on_what_comes_later():
    moment = 300.0 * np.arange(len(SPEED))
    whole = drift_covariance(CASE.rotor, COLD, moment, SPEED, HIGHEST)
    np.testing.assert_allclose(
        drift_covariance(CASE.rotor, COLD, moment[:7], SPEED[:7], HIGHEST), whole[:7, :7], rtol=1e-12
    )
    assert np.linalg.eigvalsh(whole).min() > -1e-12 * np.trace(whole)


@pytest.mark.derived
def test_a_body_warmed_by_windage_comes_to_what_its_loss_lets_it():
    """Full power for a time t against a loss of time constant T: T (1 - exp(-t/T)), step by step the same."""
    passed = np.array([0.0, 500.0, 1100.0, 2500.0])
    assert _heated(np.ones(4), passed, 3600.0) == pytest.approx(3600.0 * -np.expm1(-passed / 3600.0), rel=1e-12)


def test_one_line_of_a_long_run_up_bounds_nothing_and_of_a_short_one_does():
    """The slope of one line says which side it is of where the stiffnesses are known well, and no drift may bend it."""
    gap, known = run_of(1.3 * HIGHEST), Freedom(prior_sd={"hoop_stiffness_factor": 0.03, "spider_stiffness": 0.1})
    long = course(CASE.rotor, COLD, Schedule(SPEED, UP, 600.0 * np.arange(len(SPEED))), HIGHEST, known)
    untimed = course(CASE.rotor, COLD, Schedule(SPEED, UP, np.full(len(SPEED), np.nan)), HIGHEST, known)
    for foretold in (long, untimed):
        assert looks(foretold, gap).low[-1] < 0.3 * HIGHEST
    short = looks(course(CASE.rotor, COLD, Schedule(SPEED, UP, TIME), HIGHEST, known), gap)
    assert short.low[-1] > 0.6 * HIGHEST


def test_readings_before_the_first_that_counts_bound_nothing_then_or_later(foretold):
    """What they exclude by themselves is let go; what all readings say together stays."""
    gap = run_of(0.75 * HIGHEST)
    early = looks(foretold, gap)
    first = int(np.flatnonzero(early.low > 0.0)[0]) + 3
    assert first < len(SPEED)
    late = looks(foretold, gap, first=first)
    np.testing.assert_array_equal(late.low[: first - 1], 0.0)
    assert np.isinf(late.high[: first - 1]).all()
    assert 0.0 < late.low[-1] <= early.low[-1]
    assert late.high[-1] >= early.high[-1]
    odd = gap.copy()
    odd[first - 2] += 3e-4  # a reading that misleads the looks that do not count
    assert looks(foretold, odd, first=first).low[-1] <= looks(foretold, odd).low[-1]


def test_own_errors_of_readings_are_a_floor_of_their_noise():
    gap = run_of(0.75 * HIGHEST)
    widths = []
    for error in (np.empty(0), np.full(len(SPEED), np.nan), np.full(len(SPEED), 2e-4)):
        found = looks(course(CASE.rotor, COLD, Schedule(SPEED, UP, TIME, error), HIGHEST), gap)
        widths.append(found.high[-1] - found.low[-1])
    assert widths[0] == widths[1]
    assert widths[2] > 1.5 * widths[0]


@pytest.mark.derived
def test_what_windage_warms_comes_no_further_than_any_other_drift():
    """At full power for good all shapes but the quickest, which has no time to, end at the most that `WARMING` states
    for a body, and that one at a quarter: the mean of their squares is (4 + 1/16)/5 of the square of the most."""
    moment = np.linspace(0.0, 400.0 * 3600.0, 40)
    drift = drift_covariance(CASE.rotor, COLD, moment, np.full(40, HIGHEST), HIGHEST)
    others = drift[0, 0]  # sensors and smooth curves, the same at every reading
    moved = gap_per_kelvin(CASE.rotor, COLD, HIGHEST)
    most = sum((moved[body] * furthest) ** 2 for body, (_, furthest) in WARMING.items())
    assert drift[-1, -1] - others == pytest.approx((4.0 + 1.0 / 16.0) / 5.0 * most, rel=1e-6)


def warm_run(lift, warm, noise=1e-5):
    unknowns = np.zeros((1, len(PARAMETERS)))
    unknowns[0, 0] = lift
    model = gap_model(CASE.rotor, COLD, SPEED, UP, np.full(len(SPEED), np.nan), warm)
    return model.gaps(unknowns, COLD)[0] + noise * np.random.default_rng(2).normal(size=len(SPEED))


def test_recorded_temperatures_bound_what_a_drift_of_no_known_size_leaves_open():
    """A run-up of hours in which bodies warm: with thermometers the lift-off shows, without them it does not."""
    lift, share = 0.7 * HIGHEST, np.linspace(0.0, 1.0, len(SPEED))
    warm = {"rim": 8.0 * share**2, "spider": 4.0 * share**2, "stator": 3.0 * share}
    bare = Schedule(SPEED, UP, 600.0 * np.arange(len(SPEED)))
    with_heat = Schedule(bare.speed, bare.direction, bare.moment, departures=warm)
    gap, cold = warm_run(lift, warm), course(CASE.rotor, COLD, bare, HIGHEST)
    without = looks(cold, gap)
    found = looks(cold, gap, heated=course(CASE.rotor, COLD, with_heat, HIGHEST))
    assert without.low[-1] < 0.2 * lift
    assert 0.3 * lift < found.low[-1] < lift < found.high[-1] < SPEED[-1]
    assert found.trusted > 0.9
    # thermometers that show the opposite are not gone by
    opposite = {body: -kelvin for body, kelvin in warm.items()}
    wrong = course(CASE.rotor, COLD, Schedule(bare.speed, bare.direction, bare.moment, departures=opposite), HIGHEST)
    denied = looks(cold, gap, heated=wrong)
    assert denied.trusted < 0.5
    assert denied.low[-1] < lift < denied.high[-1]


@pytest.mark.independent
def test_rims_that_warm_with_right_and_wrong_thermometers_are_rarely_found_wrong():
    """The form in small of `interim_calibration.warming`: of 24 runs that are wrong in 5 %, more than 3 are in 3 %."""
    found = interim_calibration.warming(17, 6, 12, rims=("lifts off",))
    assert sum(int(one.wrong.sum()) for one in found.values()) <= 3
