"""The back-fit on virtual runs whose truth is known: what it recovers, what it bounds, what it refuses."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from virtual_fits import CASE, COLD, HOT, MM, RATED, SURE, TESTED, Fitted, Floats, fitted, points_of, with_spider

from rimmodel.behaviour import float_speed, interference_for_float_speed, sweep
from rimmodel.evidence.backfit.fit import OWN_CONDITION, BackFit, back_fit
from rimmodel.evidence.backfit.fitter import Freedom
from rimmodel.evidence.knee.fit import fit_knee
from rimmodel.rotor import Condition
from rimmodel.units import RPM


@pytest.mark.derived
@pytest.mark.parametrize("condition", [COLD, HOT], ids=["cold", "hot and excited, constant current"])
@pytest.mark.parametrize("factor", [0.85, 1.0, 1.1])
def test_without_noise_the_truth_comes_back(condition: Condition, factor: float) -> None:
    rim = replace(CASE.rotor.rim, hoop_stiffness_factor=CASE.rotor.rim.hoop_stiffness_factor * factor)
    truth = with_spider(replace(CASE.rotor, rim=rim), 1.3)
    # priors wide open: they may not pull the answer off the truth
    freedom = Freedom(prior_sd={"hoop_stiffness_factor": 1e3, "spider_stiffness": 1e3})
    fit = fitted(TESTED, rotor=truth, condition=condition, conditions={"cold": COLD, "hot": HOT}, freedom=freedom).fit
    assert fit.converged
    assert fit.interference == pytest.approx(truth.fit.interference, rel=1e-6)
    assert fit.hoop_stiffness_factor == pytest.approx(rim.hoop_stiffness_factor, rel=1e-6)
    assert np.exp(fit.estimate[fit.parameters.index("spider_stiffness")]) == pytest.approx(1.3, rel=1e-6)
    for name, other in (("", condition), ("cold", COLD), ("hot", HOT)):
        assert fit.float_speed[name] == pytest.approx(float(float_speed(truth, other).speed), rel=1e-6)
        low, high = fit.float_speed_interval[name]
        assert low < fit.float_speed[name] < high
        assert high - low < 1e-2 * fit.float_speed[name]


@pytest.mark.derived
def test_a_gap_level_that_is_off_is_an_offset_and_nothing_else() -> None:
    gap = sweep(CASE.rotor, COLD, TESTED).air_gap + 0.7 * MM
    points = points_of(TESTED, gap)
    knee = fit_knee(TESTED**2, gap, 1e-6)
    fit = back_fit(CASE.rotor, COLD, points, knee, sigma=1e-6)
    assert fit.estimate[fit.parameters.index("gap_offset")] == pytest.approx(0.7 * MM, rel=1e-6)
    assert fit.interference == pytest.approx(CASE.rotor.fit.interference, rel=1e-6)


# what a run cannot show ------------------------------------------------------------------------------------------


def floating_run(speed: Floats, seed: int = 3) -> Fitted:
    """A run of a rim that lifts off at 30 rpm, its spider known to 5 %."""
    slack = with_spider(CASE.rotor, 1.0)
    loose = slack.with_interference(float(interference_for_float_speed(slack, COLD, 30 * RPM)))
    freedom = Freedom(
        free=("interference", "hoop_stiffness_factor", "spider_stiffness"),
        prior_sd={"hoop_stiffness_factor": 0.05, "spider_stiffness": 0.05},
    )
    return fitted(speed, rotor=loose, noise=1e-6, seed=seed, sigma=1e-6, freedom=freedom)


@pytest.mark.derived
def test_already_floating_with_a_standstill_reading_still_gives_the_interference() -> None:
    moving = np.linspace(0.5, 1.6, 24) * RATED
    fit = floating_run(np.concatenate([np.zeros(3), moving])).fit
    truth = float(interference_for_float_speed(CASE.rotor, COLD, 30 * RPM))
    low, high = fit.interference_interval
    assert 0.5 * truth < low < truth < high < 1.5 * truth
    assert fit.float_speed_interval[OWN_CONDITION][0] > 0
    assert np.isfinite(fit.float_speed_interval[OWN_CONDITION][1])


@pytest.mark.derived
def test_already_floating_without_one_gives_an_upper_bound_alone() -> None:
    moving = np.linspace(0.5, 1.6, 24) * RATED
    slack = CASE.rotor.with_interference(float(interference_for_float_speed(CASE.rotor, COLD, 30 * RPM)))
    found = fitted(moving, rotor=slack, noise=1e-5, sigma=1e-5, freedom=SURE)
    assert found.knee.verdict == "already floating"
    low, high = found.fit.float_speed_interval[OWN_CONDITION]
    assert low == 0
    assert 30 * RPM < high < 0.7 * RATED
    assert found.fit.interference_interval[0] == -np.inf
    assert found.fit.interference_interval[1] == pytest.approx(
        float(interference_for_float_speed(CASE.rotor, COLD, high)), rel=0.3
    )


@pytest.mark.derived
def test_a_knee_above_the_tested_range_gives_a_lower_bound_alone() -> None:
    speed = np.linspace(0.15, 1.2, 40) * RATED
    found = fitted(speed, noise=1e-5, sigma=1e-5, conditions={"hot": HOT}, freedom=SURE)
    assert found.knee.verdict == "above tested range"
    low, high = found.fit.float_speed_interval[OWN_CONDITION]
    assert 0.9 * speed.max() < low <= speed.max()
    assert high == np.inf
    assert found.fit.interference_interval[1] == np.inf
    low, high = found.fit.float_speed_interval["hot"]
    assert 0 < low < float(float_speed(CASE.rotor, HOT).speed)
    assert high == np.inf


@pytest.mark.derived
@pytest.mark.parametrize("share", [0.25, 1.4], ids=["floating", "seated"])
def test_one_straight_line_alone_tells_neither_when_stiffnesses_are_known_badly(share: float) -> None:
    vague = Freedom(prior_sd={"hoop_stiffness_factor": 0.3, "spider_stiffness": 1.0})
    slack = CASE.rotor.with_interference(float(interference_for_float_speed(CASE.rotor, COLD, share * RATED)))
    found = fitted(np.linspace(0.5, 1.2, 24) * RATED, rotor=slack, noise=1e-5, sigma=1e-5, freedom=vague)
    assert found.knee.verdict == "not resolvable"
    assert found.fit.float_speed_interval[OWN_CONDITION] == (0.0, np.inf)
    assert found.fit.interference_interval == (-np.inf, np.inf)


@pytest.mark.derived
def test_one_stray_reading_at_the_end_is_no_knee_just_before_it() -> None:
    speed = np.append(np.linspace(0.15, 1.1, 40), 1.3) * RATED
    gap = sweep(CASE.rotor, COLD, speed).air_gap + 1e-5 * np.random.default_rng(8).normal(size=len(speed))
    gap[-1] -= 2e-4
    points = points_of(speed, gap)
    knee = fit_knee(speed**2, gap, 1e-5, robust=False)
    fit = back_fit(CASE.rotor, COLD, points, knee, sigma=1e-5)
    assert fit.float_speed_interval[OWN_CONDITION][1] == np.inf
    assert fit.interference_interval[1] == np.inf
    # a mean of many readings is not one stray reading: there the bend is taken at its word
    many = replace(points, count=np.full(len(speed), 60))
    assert np.isfinite(back_fit(CASE.rotor, COLD, many, knee, sigma=1e-5).interference_interval[1])


@pytest.mark.derived
def test_a_rim_that_floats_at_standstill_when_hot_is_said_to() -> None:
    loose = CASE.rotor.with_interference(float(interference_for_float_speed(CASE.rotor, COLD, 0.6 * RATED)))
    very_hot = Condition(rim_temperature=293.15 + 60, spider_temperature=293.15)
    assert float(float_speed(loose, very_hot).speed) == 0  # or the test says nothing
    fit = fitted(TESTED, rotor=loose, noise=1e-5, sigma=1e-5, conditions={"hot": very_hot}).fit
    assert fit.float_speed["hot"] == 0
    low, high = fit.float_speed_interval["hot"]
    assert low == 0
    assert high < 0.2 * RATED


# fixed, free, prior ----------------------------------------------------------------------------------------------


@pytest.mark.derived
def test_what_is_fixed_stays_and_is_no_parameter() -> None:
    freedom = Freedom(free=("interference", "gap_offset"))
    fit = fitted(TESTED, noise=2e-5, sigma=2e-5, freedom=freedom).fit
    assert fit.parameters == ("interference", "gap_offset")
    assert fit.hoop_stiffness_factor == CASE.rotor.rim.hoop_stiffness_factor
    assert fit.hoop_stiffness_factor_interval == (fit.hoop_stiffness_factor, fit.hoop_stiffness_factor)
    assert set(fit.intervals) == {"interference", "gap_offset"}
    assert fit.unknowns[1] == 0


@pytest.mark.derived
def test_a_tight_prior_holds_its_parameter_and_shortens_the_interval() -> None:
    loose = Freedom(prior_sd={"hoop_stiffness_factor": 10.0, "spider_stiffness": 10.0})
    tight = Freedom(prior_sd={"hoop_stiffness_factor": 1e-4, "spider_stiffness": 1e-4})
    by_data, by_both = (fitted(TESTED, noise=3e-5, sigma=3e-5, freedom=freedom).fit for freedom in (loose, tight))
    assert abs(by_both.unknowns[1]) < 3e-4

    def width(fit: BackFit) -> float:
        return fit.interference_interval[1] - fit.interference_interval[0]

    assert width(by_both) < 0.7 * width(by_data)


@pytest.mark.derived
def test_the_priors_own_width_is_what_the_data_leave_of_a_parameter_they_do_not_see() -> None:
    speed = np.linspace(0.5, 1.6, 24) * RATED
    slack = CASE.rotor.with_interference(float(interference_for_float_speed(CASE.rotor, COLD, 30 * RPM)))
    fit = fitted(speed, rotor=slack, noise=1e-5, sigma=1e-5).fit
    low, high = fit.intervals["spider_stiffness"]  # a floating rim says nothing of its spider
    assert high - low == pytest.approx(2 * 1.96 * 0.5, rel=0.1)


@pytest.mark.derived
def test_a_prior_that_the_data_contradict_is_dropped_and_said() -> None:
    rim = replace(CASE.rotor.rim, hoop_stiffness_factor=0.55)
    truth = replace(CASE.rotor, rim=rim)
    sure = Freedom(prior_sd={"hoop_stiffness_factor": 0.05, "spider_stiffness": 0.5})
    fit = fitted(TESTED, rotor=truth, noise=1e-5, sigma=1e-5, freedom=sure).fit
    assert fit.priors_dropped == ("hoop_stiffness_factor",)
    low, high = fit.hoop_stiffness_factor_interval
    assert low < 0.55 < high
    low, high = fit.interference_interval
    assert low < truth.fit.interference < high


@pytest.mark.derived
def test_a_prior_that_the_data_bear_out_is_kept() -> None:
    assert fitted(TESTED, noise=1e-5, sigma=1e-5).fit.priors_dropped == ()


@pytest.mark.derived
def test_friction_is_found_between_run_up_and_run_down() -> None:
    rubbing = replace(CASE.rotor, fit=replace(CASE.rotor.fit, interference=1.8 * MM, friction_interference=0.05 * MM))
    rng = np.random.default_rng(5)
    gaps = [sweep(rubbing, COLD, TESTED, way).air_gap for way in ("up", "down")]
    gap = np.concatenate(gaps) + 3e-6 * rng.normal(size=2 * len(TESTED))
    points = points_of(np.tile(TESTED, 2), gap, np.repeat(["up", "down"], len(TESTED)))
    knee = fit_knee(points.speed**2, gap, 3e-6, robust=False, rounded=False)
    freedom = Freedom(free=(*Freedom().free, "friction_interference"))
    fit = back_fit(CASE.rotor, COLD, points, knee, freedom=freedom, sigma=3e-6)
    low, high = fit.intervals["friction_interference"]
    assert low < 0.05 * MM < high
    assert high - low < 0.02 * MM
    low, high = fit.interference_interval
    assert low < 1.8 * MM < high


@pytest.mark.derived
def test_a_drift_is_found_when_it_is_free_and_spoils_the_fit_when_it_is_not() -> None:
    time = np.linspace(0.0, 7200.0, len(TESTED))[::-1].copy()  # a run-down: time and speed are not in step
    time = np.random.default_rng(2).permutation(time)
    drift = 0.1 * MM / 3600
    gap = sweep(CASE.rotor, COLD, TESTED).air_gap + drift * (time - time[0]) + 0.0
    gap = gap + 5e-6 * np.random.default_rng(3).normal(size=len(gap))
    points = points_of(TESTED, gap, time=time)
    knee = fit_knee(TESTED**2, gap, 5e-6, robust=False, rounded=False)
    fit = back_fit(CASE.rotor, COLD, points, knee, freedom=Freedom(free=(*Freedom().free, "drift")), sigma=5e-6)
    low, high = fit.intervals["drift"]
    assert low < drift < high
    assert high - low < 0.1 * drift
    stiff = back_fit(CASE.rotor, COLD, points, knee, sigma=5e-6)
    assert fit.chi_squared < 2 * fit.degrees_of_freedom < 0.1 * stiff.chi_squared


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"free": ("interference", "colour")}, "unknown parameter 'colour'; the parameters are interference, "),
        ({"prior_sd": {"stiffness": 0.1}}, "unknown parameter 'stiffness'"),
        ({"prior_sd": {"spider_stiffness": 0.0}}, "prior_sd of spider_stiffness is 0.0; it must be above zero"),
        ({"prior_sd": {"spider_stiffness": -0.1}}, "must be above zero"),
        ({"prior_sd": {"spider_stiffness": float("nan")}}, "must be above zero"),
        ({"free": ("gap_offset",)}, "interference must be free"),
    ],
)
def test_a_freedom_that_makes_no_sense_is_refused_in_words(options: dict[str, object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        Freedom(**options)  # type: ignore[arg-type]


def test_too_few_points_are_refused_in_words() -> None:
    speed = np.array([3.0, 6.0, 9.0, 12.0])
    with pytest.raises(ValueError, match="4 points to fit"):
        fitted(speed)


@pytest.mark.parametrize("sigma", [0.0, -1e-5, float("nan"), float("inf")])
def test_a_noise_that_is_none_is_refused_in_words(sigma: float) -> None:
    gap = sweep(CASE.rotor, COLD, TESTED).air_gap
    knee = fit_knee(TESTED**2, gap, 1e-5)
    with pytest.raises(ValueError, match="sigma is"):
        back_fit(CASE.rotor, COLD, points_of(TESTED, gap), knee, sigma=sigma)


@pytest.mark.derived
def test_five_points_give_an_answer_without_a_nan() -> None:
    speed = np.array([0.3, 0.7, 1.1, 1.5, 1.9]) * RATED
    found = fitted(speed, noise=2e-5, sigma=None)
    fit = found.fit
    values = [fit.interference, *fit.interference_interval, *fit.float_speed_interval[OWN_CONDITION], *fit.estimate]
    assert not np.isnan(values).any()
    assert not np.isnan(fit.profile_rise).any()


@pytest.mark.derived
@pytest.mark.parametrize("seed", range(4))
def test_noise_as_large_as_all_that_happens_gives_no_nan_and_no_false_bound(seed: int) -> None:
    fit = fitted(TESTED, noise=2 * MM, sigma=None, seed=seed).fit
    truth = float(float_speed(CASE.rotor, COLD).speed)
    low, high = fit.float_speed_interval[OWN_CONDITION]
    assert low <= truth <= high
    assert not np.isnan([*fit.interference_interval, fit.interference]).any()
