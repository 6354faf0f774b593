"""The shrink window: edges against a brute-force scan and closed forms, the shim, the heating, and no window at all."""

import json
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from rimmodel import float_speed, interference_for_float_speed
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.behaviour.limits.machine import checks
from rimmodel.behaviour.quantities import evaluate
from rimmodel.behaviour.study.rotor_model import case_inputs, rotor_model
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.planning.present import present_case
from rimmodel.planning.shrink_window import half_width, heating, shrink_window
from rimmodel.rotor.allowances import Limits
from rimmodel.rotor.case.case import example_case
from rimmodel.rotor.requirements import Requirement
from rimmodel.verdict.output.window import closed_by
from rimmodel.verdict.output.window import table as window_table
from rimmodel.verdict.output.window import text as window_text
from rimmodel.verdict.shims import shim_advice, shim_paragraph
from tests.built_in import example_measured

CASE = example_case()
AT = ("standstill", "runaway")
WINDOW = shrink_window(CASE)
PERMILLE_EVEN = replace(CASE.rotor, fit=replace(CASE.rotor.fit, key_interference=None))


def with_requirement(name, **changes):
    rows = tuple(replace(row, **changes) if row.name == name else row for row in CASE.requirements)
    return replace(CASE, requirements=rows)


def edge(window, name, at=""):
    return next(row for row in window.edges if row.name.startswith(name) and at in ("", row.at))


def limit_margin(interference, number):
    rows = checks(CASE.rotor.with_interference(interference), CASE.conditions, CASE.limits, CASE.torque, CASE.duty)
    return float([row for row in rows if row.binding][number].margin)


def brute_force(kept, widest):
    """Last interference that is kept, by steps of ever smaller size from nil on, one machine at a time."""
    step, place = widest / 50, 0.0
    while step > 1e-10:
        while place + step <= widest and kept(place + step):
            place += step
        step /= 10
    return place


@pytest.mark.independent
def test_every_upper_edge_agrees_with_a_brute_force_scan_to_a_millionth():
    names = [(row.name, row.at) for row in checks(CASE.rotor, CASE.conditions, CASE.limits, CASE.torque, CASE.duty)
             if row.binding]  # fmt: skip
    seen = 0
    for row in WINDOW.edges:
        if row.role != "limit" or not np.isfinite(row.high):
            continue
        number = names.index((row.name, row.at))
        found = brute_force(lambda size, number=number: limit_margin(size, number) >= 0, WINDOW.widest)
        assert row.high == pytest.approx(found, rel=1e-6), row.words
        seen += 1
    assert seen >= 4


@pytest.mark.independent
def test_the_lower_edge_agrees_with_a_brute_force_scan_and_with_the_inverse_in_closed_form():
    hot = CASE.conditions["hot"]
    least = CASE.requirements[0].at_least
    found = brute_force(
        lambda size: evaluate("float_speed", CASE.rotor.with_interference(size), hot) < least, WINDOW.widest
    )
    own = edge(WINDOW, "no_float_in_service")
    assert own.low == pytest.approx(found, rel=1e-6)
    assert own.low == pytest.approx(float(interference_for_float_speed(CASE.rotor, hot, least)), rel=1e-9)
    assert np.isinf(own.high)


@pytest.mark.derived
def test_the_arms_set_their_edge_where_the_pressure_does():
    # at standstill sigma A N = (delta/C) 2 pi a L
    compliance = float(coefficients(CASE.rotor, CASE.conditions["cold"]).compliance)
    allowed = 0.5 * 345e6 * 0.058 * 14 * compliance / (2 * np.pi * 3.62 * 1.85)
    assert edge(WINDOW, "arm stress", "standstill").high == pytest.approx(allowed, rel=1e-9)


@pytest.mark.derived
def test_heating_is_interference_and_play_over_radius_and_expansion():
    found = heating(PERMILLE_EVEN, Limits(), 2.4e-3)
    assert found.mean == pytest.approx(293.15 + 3.0e-3 / 3.62 / 12e-6)
    assert found.per_key == ()
    warm = Limits(shrinking_spider_temperature=303.15)
    assert heating(PERMILLE_EVEN, warm, 2.4e-3).mean == pytest.approx(found.mean + 10.0)
    keys = tuple(2.1e-3 + 0.1e-3 * (-1) ** i for i in range(14))
    uneven = replace(CASE.rotor, fit=replace(CASE.rotor.fit, key_interference=keys, assembly_clearance=None))
    per_key = heating(uneven, Limits(), 2.4e-3)
    assert per_key.per_key[:2] == pytest.approx([293.15 + 2.5e-3 / 3.62 / 12e-6, 293.15 + 2.3e-3 / 3.62 / 12e-6])
    assert not per_key.clearance_given
    cold = replace(
        CASE.rotor, rim=replace(CASE.rotor.rim, material=replace(CASE.rotor.rim.material, thermal_expansion=0.0))
    )
    assert heating(cold, Limits(), 2.4e-3) is None


@pytest.mark.derived
def test_the_hottest_allowed_rim_sets_the_assembly_edge_by_its_tightest_key():
    even = shrink_window(replace(CASE, rotor=PERMILLE_EVEN))
    assert edge(even, "rim temperature").high == pytest.approx(3.62 * 12e-6 * 80.0 - 0.6e-3)
    tightest = max(CASE.rotor.fit.key_interference) - np.mean(CASE.rotor.fit.key_interference)
    assert edge(WINDOW, "rim temperature").high == pytest.approx(3.62 * 12e-6 * 80.0 - 0.6e-3 - tightest)


def test_what_lies_in_the_window_keeps_everything_and_what_lies_outside_does_not():
    low, high = WINDOW.low, WINDOW.high

    def broken(size):
        rotor = CASE.rotor.with_interference(size)
        rows = checks(rotor, CASE.conditions, CASE.limits, CASE.torque, CASE.duty)
        failing = [row.name for row in rows if row.binding and not row.missing and not row.holds]
        for row in CASE.requirements:
            value = evaluate(row.quantity, rotor, CASE.conditions[row.condition])
            good = value >= row.at_least if row.at_least is not None else value <= row.at_most
            failing += [] if good else [row.name]
        return failing

    for size in np.linspace(low + 1e-9, high - 1e-9, 9):
        assert broken(size) == []
    assert broken(low - 1e-7) == ["no_float_in_service"]
    assert "arm stress" in broken(high + 1e-7)


@pytest.mark.derived
def test_the_tolerance_is_taken_off_on_both_sides_at_the_confidence_of_each_edge():
    deviation = CASE.rotor.fit.interference_tolerance / 2
    window = shrink_window(replace(CASE, tolerances=()))
    assert window.low_sure - window.low == pytest.approx(stats.norm.ppf(0.975) * deviation, rel=1e-6)
    assert window.high - window.high_sure == pytest.approx(stats.norm.ppf(0.975) * deviation, rel=1e-6)
    surer = shrink_window(replace(with_requirement("no_float_in_service", confidence=0.99), tolerances=()))
    assert surer.low_sure - surer.low == pytest.approx(stats.norm.ppf(0.995) * deviation, rel=1e-6)
    assert half_width(surer.low_by, surer) == pytest.approx(stats.norm.ppf(0.995) * deviation, rel=1e-6)


@pytest.mark.independent
def test_every_tolerance_counts_in_the_confident_shim_against_drawn_machines():
    """4,000 machines within the tolerances, each with the interference of its own that the requirement asks for."""
    inputs = case_inputs(CASE)
    drawn = inputs.values(np.random.default_rng(11).uniform(size=(inputs.dimensions, 4000)))
    rotor, conditions = rotor_model(CASE, ()).machine(drawn)
    row = next(row for row in CASE.requirements if row.name == "no_float_in_service")
    needed = interference_for_float_speed(rotor, conditions[row.condition], row.at_least)
    shim = needed - rotor.fit.interference
    assert WINDOW.low_by.deviation == pytest.approx(np.std(shim), rel=0.05)
    assert WINDOW.low_by.deviation > 1.5 * CASE.rotor.fit.interference_tolerance / 2
    kept = np.mean(rotor.fit.interference + (WINDOW.low_sure - WINDOW.present) >= needed)
    assert 0.965 < kept < 0.985  # 97.5 %, one end of a two-sided interval; sampling error 0.25 %


def test_a_present_interference_with_margin_on_both_sides_is_left_as_it_is():
    assert WINDOW.recommended == CASE.rotor.fit.interference
    assert shim_advice(WINDOW).best.change == 0.0
    said = shim_paragraph(shim_advice(WINDOW))
    assert "best 0 mm (2.10 mm), as the present interference meets every criterion" in said
    below, above = WINDOW.margins
    assert below == pytest.approx(WINDOW.recommended - WINDOW.low_sure)
    assert above == pytest.approx(WINDOW.high_sure - WINDOW.recommended)


@pytest.mark.derived
def test_a_loose_rim_gets_the_least_that_lasts_when_ageing_has_taken_its_share():
    loose = shrink_window(replace(CASE, rotor=CASE.rotor.with_interference(1.2e-3)))
    assert loose.recommended == pytest.approx(loose.low_sure / 0.9)
    advice = shim_advice(loose)
    assert advice.best.interference == pytest.approx(np.ceil(loose.recommended * 1e5) / 1e5)
    assert advice.best.change == pytest.approx(advice.best.interference - 1.2e-3)
    assert "still meets it after ageing has taken 10 %" in shim_paragraph(advice)
    assert loose.margins[0] > 0
    eager = replace(CASE, rotor=CASE.rotor.with_interference(1.2e-3), limits=Limits(relaxation_share=0.9))
    found = shrink_window(eager)
    assert found.recommended == pytest.approx((found.low_sure + found.high_sure) / 2)


@pytest.mark.derived
def test_a_measurement_takes_the_place_of_the_drawing():
    points = None
    seen = Measurement(
        "after shims",
        "run.csv",
        "cold",
        points,
        {},
        "resolved",
        18.0,
        (17.0, 19.0),
        1.7e-3,
        (1.5e-3, 1.85e-3),
        0.9,
        (),
        (),
    )
    found = shrink_window(CASE, seen)
    assert found.present == pytest.approx(1.7e-3 + float(CASE.rotor.fit.settlement))
    assert found.standard_uncertainty == pytest.approx(0.2e-3 / stats.norm.ppf(0.95), rel=1e-6)
    assert "1.70 mm as measured in 'after shims'" in shim_paragraph(shim_advice(found))
    assert found.basis == "as measured in 'after shims'"
    open_ended = replace(seen, interference_interval=(1.5e-3, np.inf))
    assert shrink_window(CASE, open_ended).present == CASE.rotor.fit.interference


def test_no_window_is_said_with_what_closes_it():
    asked = with_requirement("no_float_in_service", at_least=1.6 * CASE.rotor.speeds.rated)
    found = shrink_window(asked)
    assert not found.exists
    assert found.recommended is None
    assert found.heating is None
    assert found.statement.startswith("No window: arm stress (standstill, cold) allows at most")
    assert "no_float_in_service" in found.statement
    assert closed_by(found) == ["arm stress (standstill, cold)", "no_float_in_service (hot)"]
    assert "Without the tolerance" not in found.statement


def test_a_window_that_only_the_tolerance_closes_is_said_to_be_so():
    wide = replace(CASE, rotor=replace(CASE.rotor, fit=replace(CASE.rotor.fit, interference_tolerance=1.2e-3)))
    found = shrink_window(wide)
    assert not found.exists
    assert found.low < found.high
    assert "Without the tolerance" in found.statement


def test_what_no_interference_keeps_is_named():
    found = shrink_window(replace(CASE, limits=replace(CASE.limits, runaway_share_of_yield=0.05)))
    assert not found.exists
    assert {row.name for row in found.hopeless} >= {"rim bore hoop stress, net section"}
    assert "Shims cannot correct this" in found.statement
    assert found.low < found.high  # what the others would leave
    assert "not met" in window_text(CASE, found)


def test_without_a_required_float_speed_custom_takes_its_place_in_every_condition():
    rest = replace(CASE, requirements=CASE.requirements[1:])
    found = shrink_window(rest)
    lows = {row.condition: row.low for row in found.edges if "1.1 x rated" in row.name}
    assert set(lows) == set(CASE.conditions)
    for name, low in lows.items():
        speed = float(float_speed(CASE.rotor.with_interference(low), CASE.conditions[name]).speed)
        assert speed == pytest.approx(1.1 * CASE.rotor.speeds.rated, rel=1e-6)
    assert found.low_by.condition == "hot"
    ceiling = Requirement("floats", "float_speed", "cold", None, 1.4 * CASE.rotor.speeds.rated)
    floating = shrink_window(replace(CASE, requirements=(*CASE.requirements, ceiling)))
    assert floating.high_by.name == "floats"


@pytest.mark.parametrize("closed", [False, True])
def test_table_and_text_hold_the_window(closed):
    case = with_requirement("no_float_in_service", at_least=1.6 * CASE.rotor.speeds.rated) if closed else CASE
    found = shrink_window(case)
    table = json.loads(json.dumps(window_table(case, found), allow_nan=False))
    assert table["exists"] is not closed
    assert table["high_mm"] == pytest.approx(found.high * 1e3)
    assert bool(table["closed_by"]) is closed
    assert (table["heating"] is None) is closed
    words = " ".join(window_text(case, found).split())
    assert " ".join(found.statement.split()) in words
    assert "spider.hub_bore_radius" in words


@pytest.mark.derived
def test_shims_move_the_faces_of_a_built_rim_that_is_seated_and_leave_it_where_it_floats():
    """The shim is shared by ring and spider; of the pressure that it adds, the outside moves by Lame's formula."""
    rotor, cold, extra = PERMILLE_EVEN, CASE.conditions["cold"], 0.3e-3
    model = coefficients(rotor, cold)
    assert not model.cold_pull.any()
    moved = float(model.edges.outer_displacement.pressure) * extra / float(model.compliance)
    thicker = rotor.shimmed(extra)
    gap = {at: float(evaluate(f"gap_at_{at}", rotor, cold) - evaluate(f"gap_at_{at}", thicker, cold)) for at in AT}
    assert gap["standstill"] == pytest.approx(moved, rel=1e-9)
    assert 0.1 * extra < moved < extra
    assert gap["runaway"] == pytest.approx(0.0, abs=1e-15)
    assert evaluate("float_speed", thicker, cold) == pytest.approx(
        float(evaluate("float_speed", rotor.with_interference(rotor.fit.interference + extra), cold)), rel=1e-12
    )


def test_a_gap_that_more_shims_would_close_limits_the_shims_of_a_measured_rotor():
    now = example_measured()[1][-1]
    asked = Requirement("gap_still", "gap_at_standstill", "cold", 1.0, None, 0.95)
    present, _ = present_case(CASE, now)
    gap = float(evaluate("gap_at_standstill", present.rotor, CASE.conditions["cold"]))
    asked = replace(asked, at_least=gap - 0.1e-3)
    window = shrink_window(replace(CASE, requirements=(*CASE.requirements, asked)), now)
    found = edge(window, "gap_still")
    # the ring of the test before carries the shim to the faces
    model = coefficients(present.rotor, CASE.conditions["cold"])
    shim = 0.1e-3 * float(model.compliance) / float(model.edges.outer_displacement.pressure)
    assert found.high == pytest.approx(window.present + shim, abs=2e-6)
    assert found.low == -np.inf
