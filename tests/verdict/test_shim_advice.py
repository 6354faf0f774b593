"""The one advice on shims: what binds each, that numbers add up as printed, and clashes that no shim mends."""

import json
import re
from dataclasses import replace

import numpy as np
import pytest

from rimmodel import float_speed, interference_for_float_speed
from rimmodel.behaviour.limits.machine import checks
from rimmodel.evidence.measured.machine import by_test
from rimmodel.planning.present import case_checks, is_measured, present_case
from rimmodel.planning.shrink_window import half_width, shrink_window
from rimmodel.rotor.case.case import example_case
from rimmodel.verdict.shims import shim_advice, shim_paragraph, shims_table
from tests.built_in import example_measured

CASE = example_case()


@pytest.fixture(scope="module")
def last():
    return example_measured()[1][-1]


@pytest.fixture(scope="module")
def shown(last):
    return shrink_window(CASE, last)


def demanding(ratio):
    rows = (replace(CASE.requirements[0], at_least=ratio * CASE.rotor.speeds.rated), *CASE.requirements[1:])
    return replace(CASE, requirements=rows)


def choices(advice):
    return [some for some in (advice.least, advice.confident, advice.best, advice.most) if some is not None]


@pytest.mark.derived
def test_the_least_shim_meets_the_requirement_and_a_hundredth_less_does_not():
    loose = replace(CASE, rotor=CASE.rotor.with_interference(1.4e-3))
    advice = shim_advice(shrink_window(loose))
    hot, least = CASE.conditions["hot"], CASE.requirements[0].at_least
    needed = float(interference_for_float_speed(CASE.rotor, hot, least))
    assert advice.least.change == pytest.approx(np.ceil((needed - 1.4e-3) * 1e5) / 1e5)
    assert float(float_speed(CASE.rotor.with_interference(1.4e-3 + advice.least.change), hot).speed) >= least
    short = CASE.rotor.with_interference(1.4e-3 + advice.least.change - 1e-5)
    assert float(float_speed(short, hot).speed) < least
    assert advice.least.by == "no_float_in_service (hot)"
    assert advice.least.change < advice.confident.change < advice.best.change < advice.most.change


def test_present_and_change_add_up_as_printed(shown):
    for window in (
        shown,
        shrink_window(CASE),
        shrink_window(replace(CASE, rotor=CASE.rotor.with_interference(1.333e-3))),
    ):
        advice = shim_advice(window)
        for some in choices(advice):
            assert some.interference == pytest.approx(advice.present + some.change, abs=1e-12)
            assert round(some.change * 1e5, 6) == round(some.change * 1e5)
        numbers = [float(found) for found in re.findall(r"\((\d\.\d\d) mm\)", shim_paragraph(advice))]
        changes = [float(found) for found in re.findall(r"([+-]?\d(?:\.\d\d)?) mm \(", shim_paragraph(advice))]
        present = float(re.search(r"relative to (\d\.\d\d) mm", shim_paragraph(advice))[1])
        assert len(numbers) == len(changes) == len(choices(advice))
        assert numbers == pytest.approx([present + change for change in changes], abs=1e-9)


def test_two_criteria_that_clash_are_both_named_and_no_shim_is_recommended():
    advice = shim_advice(shrink_window(demanding(1.6)))
    assert advice.best is None
    assert advice.clash.startswith("No shim corrects this: no_float_in_service (hot) requires at least ")
    assert "arm stress (standstill, cold) allows" in advice.clash
    assert advice.clash in shim_paragraph(advice)
    table = json.loads(json.dumps(shims_table(advice), allow_nan=False))
    assert table["best"] is None
    assert table["clash"] == advice.clash
    wide = replace(CASE, rotor=replace(CASE.rotor, fit=replace(CASE.rotor.fit, interference_tolerance=1.2e-3)))
    open_ = shim_advice(shrink_window(wide))
    assert open_.clash.startswith("No shim meets both with confidence: ")
    assert "A better measurement or a closer tolerance may open a window." in open_.clash
    hopeless = shim_advice(shrink_window(replace(CASE, limits=replace(CASE.limits, runaway_share_of_yield=0.05))))
    assert hopeless.clash.startswith("No shim corrects rim bore hoop stress")


def test_where_no_criterion_asks_for_interference_the_paragraph_says_only_what_is_known():
    ceiling = replace(CASE.requirements[0], at_least=None, at_most=2.0 * CASE.rotor.speeds.rated)
    floor = replace(CASE.requirements[0], name="slow", at_least=0.01)
    advice = shim_advice(shrink_window(replace(CASE, requirements=(ceiling, floor))))
    assert "nan" not in shim_paragraph(advice)
    assert "inf" not in shim_paragraph(advice).replace("information", "")


@pytest.mark.independent
def test_the_confident_shim_of_a_measured_rotor_makes_its_own_interval_meet_the_requirement(last, shown):
    # by the numbers by test: with the confident shim the lower end of the float speed reaches the requirement
    advice = shim_advice(shown)
    least = CASE.requirements[0].at_least

    def lower_end(shim):
        def shimmed(rotor, condition):
            return float_speed(rotor.with_interference(rotor.fit.interference + shim), condition).speed

        return by_test(last.machines, shimmed, "hot").interval[0]

    assert lower_end(0.0) == pytest.approx(last.float_speeds["hot"].interval[0], rel=1e-9)
    assert lower_end(advice.confident.change) == pytest.approx(least, rel=4e-3)
    assert lower_end(advice.least.change) < least
    best = by_test(last.machines, "float_speed", "hot").best
    assert (advice.least.change <= 0) == (best >= least)


def test_upper_edges_of_a_measured_rotor_hold_what_the_run_leaves_open_of_stiffness_too(last, shown):
    arm = next(edge for edge in shown.edges if edge.words == "arm stress (standstill, cold)")
    floats = next(edge for edge in shown.edges if edge.name == "no_float_in_service")
    assert half_width(arm, shown) > half_width(floats, shown)
    assert "the tolerance of the drawing" not in shown.statement
    present, basis = present_case(CASE, last)
    assert basis == shown.basis == "as measured in 'after correction'"
    at_edge = present.rotor.with_interference(present.rotor.fit.interference + arm.high - shown.present)
    rows = checks(at_edge, CASE.conditions, CASE.limits, CASE.torque, CASE.duty, CASE.rotor)
    assert next(row for row in rows if (row.name, row.at) == (arm.name, arm.at)).margin == pytest.approx(0.0, abs=1e-6)


def test_the_present_rotor_is_the_measured_one_in_plain_numbers(last):
    present, basis = present_case(CASE, last)
    rotor = present.rotor
    assert basis == "as measured in 'after correction'"
    for name, shown_speed in last.float_speeds.items():
        assert float(float_speed(rotor, CASE.conditions[name]).speed) == pytest.approx(shown_speed.best, rel=1e-9)
    left = rotor.fit.interference - rotor.fit.settlement - rotor.fit.stack_growth
    assert left == pytest.approx(last.interference)
    assert isinstance(rotor.rim.hoop_stiffness_factor, float)
    assert (rotor.key_count, rotor.fit.key_interference) == (14, CASE.rotor.fit.key_interference)
    keyed, _ = present_case(CASE, last, drawn_spider=True)
    assert keyed.rotor.spider == CASE.rotor.spider
    assert keyed.rotor.fit.key_width == CASE.rotor.fit.key_width
    assert keyed.rotor.rim.hoop_stiffness_factor == rotor.rim.hoop_stiffness_factor
    drawn, measured = case_checks(CASE), case_checks(CASE, last)
    assert [(row.name, row.at) for row in drawn] == [(row.name, row.at) for row in measured]
    assert [row.missing for row in drawn] == [row.missing for row in measured]


def test_a_recording_without_an_interference_leaves_the_drawing_and_says_so(last):
    silent = replace(last, interference=float("nan"))
    assert not is_measured(silent)
    case, basis = present_case(CASE, silent)
    assert case is CASE
    assert basis == "as drawn, as 'after correction' does not determine the effective interference"
