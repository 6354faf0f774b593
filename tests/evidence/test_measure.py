"""From a recording to a float speed: verdicts, ways, other conditions, and every reason to distrust, provoked."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import polars as pl
import pytest

import rimmodel as rm
from rimmodel.behaviour import float_speed
from rimmodel.behaviour.contact.spider import spider_response
from rimmodel.evidence.backfit.expected import expected_slopes, slope_uncertainty
from rimmodel.evidence.backfit.fit import ALL_POINTS, OWN_CONDITION, BackFit, back_fit
from rimmodel.evidence.backfit.fitter import Freedom
from rimmodel.evidence.knee.fit import fit_knee
from rimmodel.evidence.measured.growth import growth_doubts
from rimmodel.evidence.measured.measure import PLANES_APART, chosen_points, measure, measure_points
from rimmodel.evidence.measured.measurement import Measurement, best_or_none, describe
from rimmodel.evidence.measured.reasons import doubts, overlap, runs_probability
from rimmodel.evidence.recording.delimited import RecordingError
from rimmodel.evidence.recording.read import read_recording
from rimmodel.evidence.reduction.speed_points import speed_points
from rimmodel.evidence.synthetic import Run, virtual_run
from rimmodel.rotor import Rotor
from rimmodel.units import MILLIMETRE, RPM

CASE = rm.example_case()
COLD, HOT = CASE.conditions["cold"], CASE.conditions["hot"]
TRUTH = float(float_speed(CASE.rotor, COLD).speed)
SPEEDS = tuple(np.linspace(20.0, 235.0, 14) * RPM)
PRECISE = Freedom(prior_sd={"hoop_stiffness_factor": 0.03, "spider_stiffness": 0.1})


def run_of(rotor: Rotor = CASE.rotor, **options: object) -> pl.DataFrame:
    return virtual_run(rotor, COLD, Run(**{"speeds": SPEEDS, **options}))  # type: ignore[arg-type]


def measured(frame: pl.DataFrame, **options: object) -> Measurement:
    return measure(CASE.rotor, COLD, read_recording(frame), "cold", **options)  # type: ignore[arg-type]


@cache
def plain() -> Measurement:
    return measured(run_of(), conditions={"hot": HOT})


def said(found: Measurement, words: str) -> bool:
    return any(words in reason for reason in found.reasons)


@pytest.mark.derived
def test_a_plain_run_gives_the_truth_within_its_intervals_in_each_way() -> None:
    found = plain()
    assert found.verdict == "resolved"
    assert set(found.fits) == {"", "up", "down"}
    for fit in found.fits.values():
        assert fit.float_speed_interval[OWN_CONDITION][0] < TRUTH < fit.float_speed_interval[OWN_CONDITION][1]
        low, high = fit.interference_interval
        assert low < CASE.rotor.fit.interference < high
    low, high = found.float_speed_interval
    assert (high - low) / TRUTH < 0.05
    hot = float(float_speed(CASE.rotor, HOT).speed)
    low, high = found.fits[ALL_POINTS].float_speed_interval["hot"]
    assert low < hot < high
    assert set(found.fits["up"].float_speed) == {""}  # other conditions are inferred from all points alone


@pytest.mark.derived
def test_a_plain_run_gives_no_reason_to_distrust_it() -> None:
    for words in ("residuals are correlated", "times what the readings", "different knees", "contradict", "next to no"):
        assert not said(plain(), words)


# reasons ---------------------------------------------------------------------------------------------------------


@pytest.mark.derived
@pytest.mark.parametrize("spoiler", [{"stator_warming": 8.0}, {"drift": 0.3 * MILLIMETRE}], ids=["warming", "drift"])
def test_a_slow_move_of_the_gap_is_told_from_scatter_and_the_interval_allows_for_it(spoiler: dict[str, float]) -> None:
    found = measured(run_of(**spoiler))
    assert said(found, "residuals are correlated")
    assert said(found, "as by a drift of the level: the interval allows for it")
    assert not said(plain(), "as by a drift of the level")
    own = float(np.median(found.points.standard_error))
    assert found.fits[""].sigma < 3.0 * own  # what is left beside the drift is what the readings scatter by
    low, high = found.float_speed_interval
    assert low <= TRUTH <= high


@pytest.mark.derived
def test_scatter_between_points_beyond_that_of_their_readings_is_said() -> None:
    frame = run_of()
    shift = np.random.default_rng(3).normal(size=frame["time [s]"].n_unique() // 5)
    spread = np.repeat(0.08 * shift, frame.height // len(shift))
    found = measured(frame.with_columns(pl.col("gap [mm]") + spread))
    assert said(found, "times what the readings at each point explain")
    assert not said(found, "residuals are correlated")


@pytest.mark.derived
def test_run_up_against_run_down_is_said() -> None:
    rubbing = replace(CASE.rotor.fit, friction_interference=0.25 * MILLIMETRE)
    found = measured(run_of(replace(CASE.rotor, fit=rubbing), noise=0.01 * MILLIMETRE))
    assert found.reasons[0].startswith("run-up and run-down show different knees")
    ups, downs = found.fits["up"], found.fits["down"]
    # effective interference is delta + friction on the way up and delta - friction on the way down
    for fit, sign in ((ups, 1.0), (downs, -1.0)):
        low, high = fit.interference_interval
        assert low < CASE.rotor.fit.interference + sign * 0.25 * MILLIMETRE < high


@pytest.mark.derived
def test_a_run_that_ends_before_the_knee_bounds_the_interference_from_below_alone_and_says_so() -> None:
    found = measured(run_of(speeds=tuple(np.linspace(20.0, 150.0, 14) * RPM)), freedom=PRECISE)
    assert found.verdict == "above tested range"
    assert np.isnan(found.float_speed)
    assert np.isnan(found.interference)
    assert found.float_speed_interval[1] == np.inf
    assert 120 * RPM < found.float_speed_interval[0] < 151 * RPM
    assert said(found, "the data set no upper bound on the interference")
    assert "floats above" in describe(found)


@pytest.mark.derived
def test_a_rim_that_floats_throughout_says_nothing_of_its_spider() -> None:
    loose = CASE.rotor.with_interference(0.05 * MILLIMETRE)
    found = measured(run_of(loose, speeds=tuple(np.linspace(60.0, 235.0, 14) * RPM)), freedom=PRECISE)
    assert found.verdict == "already floating"
    assert found.float_speed_interval[0] == 0
    assert said(found, "the data set no lower bound on the interference")
    assert said(found, "hardly constrain the spider stiffness")
    assert "lifts off below" in describe(found)


@pytest.mark.derived
def test_without_good_stiffnesses_one_line_tells_neither() -> None:
    found = measured(run_of(speeds=tuple(np.linspace(20.0, 130.0, 14) * RPM)))
    assert found.verdict == "not resolvable"
    assert said(found, "the data set no bound on the interference")
    assert "can distinguish from noise" in describe(found)
    sure = {name: replace(knee, p_value=0.001) for name, knee in found.knees.items()}
    bent = describe(replace(found, knees=sure))
    assert bent.startswith("shows a change of slope, but this recording does not bound its lift-off on both sides")
    assert "noise" not in bent


@pytest.mark.derived
def test_parameters_seen_only_together_are_named() -> None:
    # free drift with time in step with speed squared: drift and hoop stiffness move all gaps alike
    speed = np.sqrt(np.linspace(1.0, 600.0, 30))
    points = chosen_points(speed_points(read_recording(run_of())), np.ones(28, dtype=bool))
    gap = rm.sweep(CASE.rotor, COLD, speed).air_gap + 1e-5 * np.random.default_rng(1).normal(size=30)
    arrays = {name: np.resize(value, 30) for name, value in vars(points).items() if isinstance(value, np.ndarray)}
    points = replace(points, **{**arrays, "speed": speed, "gap": gap, "time": 60.0 * speed**2})
    knee = fit_knee(speed**2, gap, 1e-5)
    wide = Freedom(free=(*Freedom().free, "drift"), prior_sd={"hoop_stiffness_factor": 5.0, "spider_stiffness": 5.0})
    fit = back_fit(CASE.rotor, COLD, points, knee, freedom=wide, sigma=1e-5)
    reasons = doubts(points, {"": knee}, fit)
    assert any("drift cannot be separated" in reason for reason in reasons)


@pytest.mark.derived
def test_a_wrong_stiffness_of_the_case_is_said_and_does_not_spoil_the_result() -> None:
    soft = replace(CASE.rotor, rim=replace(CASE.rotor.rim, hoop_stiffness_factor=0.45))
    found = measured(run_of(soft, noise=0.01 * MILLIMETRE))
    assert said(found, "the data contradict the case's hoop stiffness of the rim")
    low, high = found.interference_interval
    assert low < CASE.rotor.fit.interference < high
    low, high = found.fits[ALL_POINTS].hoop_stiffness_factor_interval
    assert low < 0.45 < high


FASTER = replace(CASE.rotor, speeds=replace(CASE.rotor.speeds, rated=150 * RPM, overspeed=210 * RPM, runaway=None))


def doubts_of_growth(rotor: Rotor, top: float, unit: float = RPM) -> tuple[str, ...]:
    """Of a run up to a share of rated speed, whose speeds are written in a unit, rad/s."""
    speed = np.linspace(0.1, top, 30) * 150 * RPM
    frame = pl.DataFrame({"speed [rpm]": speed / unit, "gap [mm]": rm.sweep(rotor, COLD, speed).air_gap / MILLIMETRE})
    return growth_doubts(FASTER, COLD, speed_points(read_recording(frame)))


@pytest.mark.derived
@pytest.mark.parametrize("interference", [1.0, 4.0])  # floating for most of the run, and seated throughout
def test_speeds_in_percent_under_a_header_of_rpm_are_asked_about_and_decide_nothing(interference: float) -> None:
    rotor = FASTER.with_interference(interference * MILLIMETRE)
    (words,) = doubts_of_growth(rotor, 0.95, 1.5 * RPM)
    assert "percent of rated" in words
    soft = replace(rotor, rim=replace(rotor.rim, hoop_stiffness_factor=0.7 * rotor.rim.hoop_stiffness_factor))
    for machine in (rotor, soft):
        assert doubts_of_growth(machine, 0.7) == doubts_of_growth(machine, 1.4) == ()


@cache
def drifting() -> Measurement:
    """A run-up over two hours of a rim that stays seated, whose stator opens by 0.3 mm: the case is right."""
    speed = np.linspace(20.0, 235.0, 40)
    seated = CASE.rotor.with_interference(4.0 * MILLIMETRE)
    gap = rm.sweep(seated, COLD, speed * RPM).air_gap / MILLIMETRE + 0.4 * np.linspace(0.0, 1.0, 40)
    gap += np.random.default_rng(3).normal(0.0, 0.02, 40)
    return measured(pl.DataFrame({"time [s]": 180.0 * np.arange(40), "speed [rpm]": speed, "gap [mm]": gap}))


def test_a_stiffness_that_contradicts_the_case_names_a_drift_where_the_run_does_not_come_back() -> None:
    found = drifting()
    odd = {"priors_dropped": ("hoop_stiffness_factor",), "hoop_stiffness_factor": 1.36}
    fit = replace(found.fits[ALL_POINTS], **odd)
    stray, stiff = doubts(found.points, found.knees, fit)[:2]
    assert "contradict the case's hoop stiffness" in stray
    assert "no stack is stiffer than solid steel" in stiff
    for words in (stray, stiff):
        assert "a level that drifts in time" in words
        assert "a point at low speed repeated at the end of the run" in words
    assert found.float_speed_interval == (0.0, np.inf)
    assert "float speed" not in stiff  # none is given that could be relied on
    back = plain()
    stray, stiff = doubts(back.points, back.knees, replace(back.fits[ALL_POINTS], **odd))[:2]
    assert "drifts in time" not in stray + stiff
    assert "before relying on the float speed" in stiff


def test_no_interval_is_spoken_of_where_the_fit_bounds_nothing() -> None:
    found = drifting()
    knee, fit = found.knees[ALL_POINTS], found.fits[ALL_POINTS]
    noise = "neighbouring residuals are correlated, as by a drift of the level"
    slopes = "with slopes expected, the knee lies below 124.4 rpm, far inside the tested range"
    spoken = {ALL_POINTS: replace(knee, reasons=(f"{noise}: the interval allows for it", slopes))}
    assert doubts(found.points, spoken, fit)[-1] == noise
    bounded = replace(fit, float_speed_interval={OWN_CONDITION: (1.0, np.inf)})
    assert doubts(found.points, spoken, bounded)[-2:] == spoken[ALL_POINTS].reasons


def test_what_was_assumed_of_a_stiffness_is_stated_with_its_source() -> None:
    found, factor = plain(), float(CASE.rotor.rim.hoop_stiffness_factor)
    fit = found.fits[ALL_POINTS]
    wide = replace(
        fit,
        intervals={**fit.intervals, "hoop_stiffness_factor": (-0.3, 0.3)},
        hoop_stiffness_factor_interval=(0.6, 0.9),
    )

    def hoop(fit: BackFit) -> str:
        (words,) = [
            words
            for words in doubts(found.points, found.knees, fit)
            if "hardly constrain the hoop stiffness of the rim" in words
        ]
        return words

    assert f"the {factor:.2f} of the case with a standard uncertainty of 15 %" in hoop(wide)
    assert "where the case states no tolerance" in hoop(wide)
    assert "solid steel" not in hoop(wide)
    stated = replace(wide, priors={**fit.priors, "hoop_stiffness_factor": 0.1})
    assert "of 10 % by its tolerance" in hoop(stated)
    assert "stiffer than solid steel" in hoop(replace(wide, hoop_stiffness_factor_interval=(0.7, 1.2)))


@pytest.mark.derived
def test_points_that_scatter_more_than_the_noise_given_are_said() -> None:
    points = plain().points
    knee = fit_knee(points.speed**2, points.gap, 1e-6, robust=False)
    fit = back_fit(CASE.rotor, COLD, points, knee, sigma=1e-6)
    wanted = np.sqrt(fit.chi_squared / fit.degrees_of_freedom)
    assert wanted > 2
    assert any(
        f"scatter {wanted:.1f} times as much as their stated noise" in reason
        for reason in doubts(points, {"": knee}, fit)
    )


@pytest.mark.derived
@pytest.mark.parametrize(
    ("signs", "chance"),
    [
        # Wald & Wolfowitz: mean 1 + 2 n m / N, variance (mean - 1)(mean - 2)/(N - 1); normal tables
        ("+-" * 10, 0.99999),  # 20 runs of 20: mean 11, sd 2.176, z = +4.14
        ("+" * 10 + "-" * 10, 1.8e-5),  # 2 runs: z = -4.14
        ("++--" * 5, 0.3230),  # 10 runs: z = -0.460
        ("+" * 12, 1.0),  # one sign alone is not tested
    ],
)
def test_runs_of_signs(signs: str, chance: float) -> None:
    residual = np.array([1.0 if sign == "+" else -1.0 for sign in signs])
    assert runs_probability(residual) == pytest.approx(chance, rel=0.05)


def test_runs_of_nothing_and_overlaps() -> None:
    assert runs_probability(np.zeros(5)) == 1.0
    assert overlap((1.0, 2.0), (2.0, 3.0))
    assert not overlap((1.0, 2.0), (2.1, 3.0))
    assert overlap((0.0, np.inf), (5.0, 6.0))


# pieces ----------------------------------------------------------------------------------------------------------


@pytest.mark.independent
def test_expected_slopes_are_those_of_the_sweep() -> None:
    seated, floating = expected_slopes(CASE.rotor, COLD)
    x = np.array([0.0, 50.0, 500.0, 600.0])
    gap = rm.sweep(CASE.rotor, COLD, np.sqrt(x)).air_gap
    assert seated == pytest.approx((gap[1] - gap[0]) / 50.0, rel=1e-9)
    assert floating == pytest.approx((gap[3] - gap[2]) / 100.0, rel=1e-9)


@pytest.mark.independent
def test_uncertainty_of_the_slopes_is_that_of_rotors_drawn_from_what_is_known() -> None:
    rng = np.random.default_rng(2)
    freedom = Freedom(prior_sd={"hoop_stiffness_factor": 0.05, "spider_stiffness": 0.2})
    drawn = []
    for _ in range(300):
        rim = replace(
            CASE.rotor.rim,
            hoop_stiffness_factor=CASE.rotor.rim.hoop_stiffness_factor * float(np.exp(0.05 * rng.normal())),
        )
        keys = float(np.exp(0.2 * rng.normal()))
        response = spider_response(CASE.rotor)
        area = 2 * np.pi * rim.inner_radius * rim.length
        spider = rm.rotor.GivenSpider(
            float(area / response.compliance * keys), response.growth_per_speed_squared, 1.0, rim.material
        )
        drawn.append(expected_slopes(replace(CASE.rotor, rim=rim, spider=spider), COLD))
    wanted = np.log(np.abs(drawn)).std(axis=0).max()
    assert slope_uncertainty(CASE.rotor, COLD, freedom) == pytest.approx(wanted, rel=0.15)


@pytest.mark.derived
def test_uncertainty_of_the_slopes_without_priors_and_with_nothing_free() -> None:
    assert slope_uncertainty(CASE.rotor, COLD, Freedom(prior_sd={})) == pytest.approx(0.9)
    assert slope_uncertainty(CASE.rotor, COLD, Freedom(free=("interference",))) == pytest.approx(0.02)


@pytest.mark.derived
def test_a_best_value_is_given_only_where_something_holds_it() -> None:
    knee = plain().knees[ALL_POINTS]
    other = replace(knee, verdict="not resolvable")
    assert best_or_none(knee, 1.0, (0.0, np.inf)) == 1.0
    assert best_or_none(other, 1.0, (0.5, 2.0)) == 1.0
    assert np.isnan(best_or_none(other, 1.0, (0.5, np.inf)))
    assert np.isnan(best_or_none(other, 1.0, (0.0, 2.0)))


@pytest.mark.derived
def test_points_chosen_keep_all_that_belongs_to_them() -> None:
    points = plain().points
    chosen = points.direction == "up"
    some = chosen_points(points, chosen)
    assert len(some.speed) == len(some.gap) == len(some.time) == int(chosen.sum())
    assert set(some.direction) == {"up"}


def test_a_run_of_one_way_is_read_once() -> None:
    points = chosen_points(plain().points, plain().points.direction == "up")
    found = measure_points(CASE.rotor, COLD, points, "cold", label="rising")
    assert found.fits["up"] is found.fits[ALL_POINTS]
    assert set(found.fits) == {"", "up"}
    assert found.label == "rising"


def test_too_few_speeds_are_refused_in_words() -> None:
    with pytest.raises(RecordingError, match=r"speed points .* are needed"):
        measured(run_of(speeds=SPEEDS[:2], run_down=False, readings=1))


def test_planes_that_lift_off_apart_are_told_apart() -> None:
    case = rm.example_case()
    cold = case.conditions["cold"]
    speeds = tuple(np.linspace(20.0, 230.0, 24) * RPM)
    runs = []
    for plane, interference in (("upper", 1.2e-3), ("lower", 1.9e-3)):
        run = Run(speeds=speeds, planes=(plane,), run_down=False, noise=1e-5, offset=0.0)
        frame = virtual_run(case.rotor.with_interference(interference), cold, run)
        runs.append(frame.with_columns(pl.col("sensor") + f" {plane}"))
    found = measure(case.rotor, cold, read_recording(pl.concat(runs)), "cold")
    upper, lower = found.planes["upper"], found.planes["lower"]
    assert upper.verdict == lower.verdict == "resolved"
    assert upper.interval[1] < lower.interval[0]
    assert PLANES_APART in found.reasons
    for plane, interference in (("upper", 1.2e-3), ("lower", 1.9e-3)):
        truth = rm.float_speed(case.rotor.with_interference(interference), cold).speed ** 2
        assert found.planes[plane].interval[0] <= truth <= found.planes[plane].interval[1]


def test_a_plane_too_poor_for_a_knee_does_not_spoil_the_whole() -> None:
    case = rm.example_case()
    cold = case.conditions["cold"]
    frame = virtual_run(case.rotor, cold, Run(speeds=tuple(np.linspace(20.0, 230.0, 12) * RPM), run_down=False))
    poor = frame.filter((pl.col("plane") == "upper") | (pl.col("speed [rpm]") < 60.0))
    found = measure(case.rotor, cold, read_recording(poor), "cold")
    assert found.verdict == "resolved"
    assert found.planes == {}
    assert any("planes cannot be evaluated separately" in reason for reason in found.reasons)


def test_a_run_of_another_rotor_gives_its_knee_and_no_interference() -> None:
    # invented gaps with slopes that no stiffness of the example gives; their knee lies at 200 rpm
    rng = np.random.default_rng(3)
    case = rm.example_case()
    rpm = np.arange(20.0, 301.0, 10.0)
    gap = 16.0 - 0.4e-5 * rpm**2 - 0.5e-5 * np.maximum(rpm**2 - 200.0**2, 0.0) + rng.normal(0.0, 0.01, rpm.size)
    found = measure(
        case.rotor,
        case.conditions["cold"],
        read_recording(pl.DataFrame({"speed [rpm]": rpm, "gap [mm]": gap})),
        "cold",
        conditions=case.conditions,
    )
    assert found.verdict == "not resolvable"  # the bend is there, and belongs to no such machine
    assert found.knees[ALL_POINTS].verdict == "resolved"
    assert found.float_speed_interval[0] <= 200.0 * RPM <= found.float_speed_interval[1]
    assert np.isnan(found.interference)
    assert found.interference_interval == (-np.inf, np.inf)
    assert np.isnan(found.fits[ALL_POINTS].float_speed["hot"])
    assert any("cannot reproduce these gaps" in reason for reason in found.disqualified)


@pytest.mark.derived
@pytest.mark.parametrize(("factor", "words"), [(1.15, "stiffer than solid steel"), (0.42, "rarely this soft")])
def test_a_rim_that_no_stack_can_be_is_doubted(factor, words) -> None:
    built = replace(CASE.rotor, rim=replace(CASE.rotor.rim, hoop_stiffness_factor=factor))
    speeds = tuple(np.sqrt(np.linspace(0.02, 1.0, 14)) * 1.9 * float(CASE.rotor.speeds.rated))
    assert said(measured(run_of(built, speeds=speeds)), words)
    assert not said(measured(run_of()), words)
