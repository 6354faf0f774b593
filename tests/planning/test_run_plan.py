"""A proving run planned: its steps, its stop lines under ten thousand virtual runs, and its precision."""

import json
from dataclasses import replace

import numpy as np
import pytest

from rimmodel import float_speed, sweep
from rimmodel.behaviour.contact.spider import spider_response
from rimmodel.evidence.backfit.drawn_rotors import float_speed_uncertainty
from rimmodel.evidence.measured.machine import by_test
from rimmodel.planning.proving_run import run_plan, run_speeds
from rimmodel.planning.stop_lines import NOISE_GUARD, stop_lines
from rimmodel.rotor import GivenSpider, ShrinkFit
from rimmodel.rotor.allowances import ProvingRun
from rimmodel.rotor.case.case import example_case
from rimmodel.units import RPM
from rimmodel.verdict.output.plan import table as plan_table
from rimmodel.verdict.output.plan import text as plan_text
from tests.built_in import example_measured
from tests.planning.virtual_runs import found_float_speeds, prove_stop_lines

CASE = example_case()
PLAN = run_plan(CASE)
COLD, HOT = CASE.conditions["cold"], CASE.conditions["hot"]


def with_minimum(gap, highest=2.0):
    """The case with another least gap, and a run that is agreed up to so many times rated speed."""
    rotor = replace(CASE.rotor, air_gap=replace(CASE.rotor.air_gap, minimum_allowed=gap))
    return replace(CASE, rotor=rotor, plan=replace(CASE.plan, highest_speed=highest * CASE.rotor.speeds.rated))


def test_steps_are_whole_rpm_from_standstill_to_the_last_one_that_the_agreed_speed_allows():
    assert PLAN.speed[0] == 0.0
    assert PLAN.speed[1] == pytest.approx(6 * RPM)  # 5 % of 125 rpm, rounded down
    assert (np.diff(PLAN.speed) > 0).all()
    np.testing.assert_allclose(PLAN.speed / RPM, np.round(PLAN.speed / RPM), atol=1e-9)
    assert PLAN.speed[-1] == pytest.approx(187 * RPM)
    assert PLAN.highest_speed == CASE.plan.highest_speed
    assert np.isclose(PLAN.speed, CASE.rotor.speeds.rated).any()
    assert len(PLAN.speed) == CASE.plan.points


def test_steps_are_finer_where_lift_off_is_expected():
    spacing = np.diff(PLAN.speed)
    both_fine = PLAN.fine[1:] & PLAN.fine[:-1]
    assert both_fine.sum() >= 4
    assert spacing[both_fine].max() < 0.5 * np.median(spacing[2:][~both_fine[2:]])
    assert PLAN.float_speed_low < PLAN.float_speed < PLAN.float_speed_high
    assert PLAN.float_speed == pytest.approx(float(float_speed(CASE.rotor, COLD).speed))


@pytest.mark.parametrize("points", [6, 11, 40])
@pytest.mark.parametrize("highest", [0.9, 1.0, 1.37])
def test_no_step_goes_beyond_the_agreed_speed(points, highest):
    speed, _ = run_speeds(13.0, highest * 13.0, points, (12.0, 15.0))
    assert highest * 13.0 - RPM < speed.max() <= highest * 13.0
    assert (np.diff(speed) > 0).all()
    np.testing.assert_allclose(speed / RPM, np.round(speed / RPM), atol=1e-9)


def test_lines_are_rounded_to_the_safe_side_and_the_hold_line_lies_on_the_band_or_the_stop_line():
    exact = stop_lines(CASE.rotor, COLD, PLAN.speed, CASE.plan)
    for rounded, line in ((PLAN.stops.mean_gap, exact.mean_gap), (PLAN.stops.single_gap, exact.single_gap)):
        assert ((rounded >= line - 1e-11) & (rounded < line + 1e-5)).all()
        np.testing.assert_allclose(rounded * 1e5, np.round(rounded * 1e5), atol=1e-6)
    assert (PLAN.hold_gap >= PLAN.gap_low - 1e-11).all()
    assert (PLAN.hold_gap < PLAN.gap_low + 1e-5).all()
    shallow = run_plan(with_minimum(15e-3, 1.5))  # stop lines within the band
    assert (shallow.stops.mean_gap > shallow.gap_low).any()
    np.testing.assert_array_equal(shallow.hold_gap, np.maximum(shallow.hold_gap, shallow.stops.mean_gap))


@pytest.fixture(scope="module")
def measured():
    return example_measured()[1][-1]


def test_a_plan_after_a_recording_starts_from_the_rotor_that_it_shows(measured):
    plan = run_plan(CASE, "hot", measurement=measured)
    assert plan.basis == "as measured in 'after correction'"
    shown = measured.float_speeds["hot"]
    assert plan.float_speed == pytest.approx(shown.best, rel=1e-6)
    assert (plan.float_speed_low, plan.float_speed_high) == pytest.approx(shown.interval)
    assert plan.float_speed < 0.95 * run_plan(CASE, "hot").float_speed  # the drawing promised more
    overspeed = by_test(measured.machines, "gap_at_overspeed", "hot")
    last = np.argmax(plan.speed)
    assert plan.gap_low[last] == pytest.approx(overspeed.interval[0], abs=0.05e-3)
    with pytest.raises(ValueError, match="from a measurement or from an interference"):
        run_plan(CASE, interference=2e-3, measurement=measured)


def test_overspeed_is_the_limit_where_none_is_agreed():
    assert run_plan(replace(CASE, plan=ProvingRun())).highest_speed == CASE.rotor.speeds.overspeed


def test_the_band_holds_the_expected_gap_and_widens_with_speed():
    assert (PLAN.gap_low < PLAN.gap).all()
    assert (PLAN.gap < PLAN.gap_high).all()
    width = PLAN.gap_high - PLAN.gap_low
    assert width[-1] > 3 * width[0]
    np.testing.assert_allclose(PLAN.gap, sweep(CASE.rotor, COLD, PLAN.speed, "up").air_gap)


@pytest.mark.independent
def test_the_band_holds_19_of_20_rotors_drawn_apart():
    rng = np.random.default_rng(99)
    rotor = CASE.rotor
    factor = rotor.rim.hoop_stiffness_factor * np.exp(rng.normal(0.0, 0.15, (3000, 1)))
    assert factor.max() < 1.5
    response = spider_response(rotor)
    stiffness = 2 * np.pi * 3.62 * 1.85 / response.compliance * np.exp(rng.normal(0.0, 0.5, (3000, 1)))
    drawn = replace(
        rotor,
        spider=GivenSpider(stiffness, float(response.growth_per_speed_squared), 1.0, rotor.spider.material),
        rim=replace(rotor.rim, hoop_stiffness_factor=factor),
        fit=ShrinkFit(2.1e-3 + rng.normal(0.0, 0.05e-3, (3000, 1))),
    )
    gap = sweep(drawn, COLD, PLAN.speed, "up").air_gap
    at_rest = sweep(drawn, COLD, 0.0).air_gap - float(rotor.air_gap.cold)
    gap = gap - at_rest + rng.normal(0.0, 0.05e-3, (3000, 1))
    inside = ((gap > PLAN.gap_low) & (gap < PLAN.gap_high)).mean(axis=0)
    np.testing.assert_allclose(inside, 0.95, atol=0.015)


@pytest.mark.independent
@pytest.mark.parametrize("condition", ["cold", "hot"])
@pytest.mark.parametrize("minimum", [9e-3, 12.5e-3, 13.5e-3])
def test_the_stop_lines_let_no_virtual_run_below_the_allowed_minimum(condition, minimum):
    case = with_minimum(minimum)
    found = prove_stop_lines(case, run_plan(case, condition), runs=10_000)
    assert found.broken == 0
    assert found.least_gap >= minimum
    # the proof is not empty: without the lines the same rotors go far below, and the lines do stop some
    assert found.without_lines < 0.9 * minimum
    assert found.stopped > 100


@pytest.mark.derived
@pytest.mark.parametrize("name", ["cold", "hot"])
def test_the_worst_rim_just_above_the_line_comes_to_the_minimum_and_no_further(name):
    # floating from the start, hoop stiffness 0.6, poles and field 5 % up, next speed passed by 1 %
    case, condition = with_minimum(11e-3), CASE.conditions[name]
    plan = run_plan(case, name)
    rotor, field = case.rotor, replace(condition, flux_density=1.05 * condition.flux_density)
    worst = replace(
        rotor,
        rim=replace(rotor.rim, hoop_stiffness_factor=0.6),
        poles=replace(rotor.poles, mass=1.05 * rotor.poles.mass),
        fit=replace(rotor.fit, interference=-2e-3, key_interference=None),
        air_gap=replace(rotor.air_gap, minimum_allowed=None),
    )
    cold_gap = float(rotor.air_gap.cold)
    exact = stop_lines(rotor, condition, plan.speed, case.plan)
    for step in (5, 12, 18):
        line = float(exact.mean_gap[step]) - plan.stops.guard
        low, high = 6e-3, 40e-3  # the cold gap with which this rim stands on the line at this step
        for _ in range(80):
            middle = (low + high) / 2
            # the pull constant of the field belongs to the machine, not to this gap
            pulled = replace(field, flux_density=field.flux_density * cold_gap / middle)
            there = replace(worst, air_gap=replace(worst.air_gap, cold=middle))
            short = not float(sweep(there, pulled, plan.speed[step]).air_gap) >= line
            low, high = (middle, high) if short else (low, middle)
        following = plan.speed[step + 1] * (1 + case.plan.speed_overshoot)
        assert float(sweep(there, pulled, following).air_gap) == pytest.approx(11e-3, abs=2e-6)


def test_reading_errors_come_on_top_of_the_lines():
    quiet, loud = (
        stop_lines(CASE.rotor, COLD, PLAN.speed, replace(CASE.plan, sensor_noise=noise, sensor_offset=offset))
        for noise, offset in ((1e-6, 0.0), (5e-5, 2e-4))
    )
    np.testing.assert_allclose(loud.mean_gap - quiet.mean_gap, NOISE_GUARD * 49e-6 + 2e-4, rtol=1e-9)
    assert loud.eccentricity == pytest.approx(0.05 * 16e-3)
    assert loud.circularity == pytest.approx(0.10 * 16e-3)
    np.testing.assert_allclose(loud.mean_gap - loud.single_gap, 0.10 * 16e-3)


def test_a_line_that_ends_the_run_early_is_told():
    plan = run_plan(with_minimum(14.6e-3, 1.5))
    assert plan.reaches < plan.highest_speed
    assert any("The stop line ends this run" in note for note in plan.notes)


def test_an_expected_float_speed_beyond_the_run_is_told():
    tight = run_plan(CASE, interference=6e-3)
    assert any("not where it floats" in note and "bounds nothing unless" in note for note in tight.notes)
    assert len(tight.precision.float_speed) == 0
    assert "no float speed: none is expected" in plan_text(CASE, tight)
    loose = run_plan(CASE, interference=0.0)
    assert any("upper bound only" in note and "bounds nothing unless" in note for note in loose.notes)
    perhaps = replace(CASE, plan=replace(CASE.plan, highest_speed=PLAN.float_speed))
    (note,) = [note for note in run_plan(perhaps).notes if "may lift off above" in note]
    assert "bounds nothing unless hoop and spider stiffness are known from elsewhere" in note
    assert "lower bound" not in note
    assert any("excited" in note for note in run_plan(CASE, "hot").notes)


@pytest.mark.independent
def test_the_precision_foretold_is_that_of_virtual_runs():
    # quiet sensors, where the knee is seen in every run; two thirds of the fits lie within one standard uncertainty
    case = replace(CASE, plan=replace(CASE.plan, sensor_noise=0.01e-3))
    plan = run_plan(case)
    truth = 160 * RPM
    foretold = float_speed_uncertainty(case.rotor, COLD, plan.speed[1:], 0.01e-3, truth)
    found = found_float_speeds(case, plan, truth, runs=30)
    within = np.percentile(np.abs(found.found - truth), 68.3)
    assert 0.55 < within / foretold < 1.5  # 30 runs know it to about a quarter


def test_precision_improves_with_less_noise_and_more_points():
    def at(noise, points):
        speed, _ = run_speeds(13.09, 19.6, points, (16.0, 18.0))
        return float_speed_uncertainty(CASE.rotor, COLD, speed[1:], noise, 17.0)

    assert at(0.01e-3, 20) < at(0.03e-3, 20)
    assert at(0.03e-3, 40) < at(0.03e-3, 20)


def test_bad_input_is_refused():
    with pytest.raises(ValueError, match=r"air_gap.minimum_allowed is missing; a stop line needs"):
        run_plan(with_minimum(None))
    with pytest.raises(ValueError, match=r"plan.highest_speed is 25 rpm; it must be above 25 % of rated"):
        run_plan(with_minimum(9e-3, 0.2))
    with pytest.raises(KeyError, match="no condition 'warm'"):
        run_plan(CASE, "warm")
    with pytest.raises(ValueError, match="speeds of a run-up must rise"):
        stop_lines(CASE.rotor, HOT, np.array([0.0, 5.0, 5.0]), CASE.plan)
    with pytest.raises(ValueError, match="points is 5; it must be a whole number of 6 or more"):
        ProvingRun(points=5)


def test_table_and_text_hold_the_plan():
    table = json.loads(json.dumps(plan_table(CASE, PLAN), allow_nan=False))
    assert table["speed_rpm"][-1] == pytest.approx(187.0)
    assert table["highest_speed_rpm"] == pytest.approx(187.5)
    assert len(table["hold_gap_mm"]) == len(table["speed_rpm"])
    assert len(table["stop_gap_mm"]) == len(table["gap_mm"]) == len(table["speed_rpm"])
    assert table["minimum_allowed_mm"] == pytest.approx(9.0)
    words = plan_text(CASE, PLAN)
    for part in (
        "stop lines:",
        "sensors:",
        "cautions:",
        "FIST 2-7",
        "An overspeed test can kill",
        " 187*",
        "hold below",
    ):
        assert part in words
    assert max(map(len, words.splitlines())) <= 120


def test_the_interval_of_the_lift_off_names_what_it_includes():
    drawn = " ".join(plan_text(CASE, PLAN).split())
    assert "at 95 %), as drawn" in drawn
    assert "hoop and spider stiffness known to 15 and 50 % (standard)" in drawn
    shown = " ".join(plan_text(CASE, run_plan(CASE, measurement=example_measured()[1][-1])).split())
    assert "This interval includes all that the recording leaves open." in shown
    assert "known to 15" not in shown
