"""Limits and load rejection as table, text and figure."""

import json
from dataclasses import replace

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.behaviour.limits.machine import checks
from rimmodel.planning.present import case_checks
from rimmodel.planning.proving_run import run_plan
from rimmodel.planning.shrink_window import shrink_window
from rimmodel.plotting.limits_chart import WIDEST_USE
from rimmodel.plotting.style import to_svg
from rimmodel.rotor import GivenSpider
from rimmodel.rotor.allowances import Limits
from rimmodel.rotor.case.case import example_case
from rimmodel.verdict.limits import exceeded, value_text, words_of
from rimmodel.verdict.output.limits import (
    after_highest_speed,
    limits_figure,
    limits_table,
    rejection_figure,
    rejection_table,
    rejection_times,
    use_of,
)
from rimmodel.verdict.output.plan import figure as plan_figure
from rimmodel.verdict.output.window import figure as window_figure
from tests.plotting.drawn import axes_of, line_called, panels_in

CASE = example_case()
ROWS = case_checks(CASE)


@pytest.mark.derived
def test_the_table_holds_every_check_in_units_of_print():
    table = json.loads(json.dumps(limits_table(ROWS), allow_nan=False))
    assert len([row for row in table if not row["missing"]]) == len([row for row in ROWS if not row.missing])
    arm = next(row for row in table if row["name"] == "arm stress" and row["at"] == "standstill")
    assert (arm["unit"], arm["limit"], arm["status"], arm["condition"]) == (
        "MPa",
        pytest.approx(0.5 * 345),  # half of the yield strength of the spider in the case
        "meets",
        "cold",
    )
    assert arm["replaced_by"] == "limits.arm_share_of_yield"
    absent = [row for row in table if row["missing"]]  # once each, not once at each speed
    assert [row["name"] for row in absent] == ["spider hoop stress at its bore", "spider largest equivalent stress"]
    hub = absent[0]
    assert (hub["value"], hub["limit"], hub["at"]) == (None, None, "")
    assert hub["status"] == "not checked: spider.hub_bore_radius and hub_length"
    assert all(row["source"] for row in table)


def test_no_rule_is_printed_as_a_standards_word():
    # what was not seen in print says so
    for row in ROWS:
        assert any(mark in row.source for mark in ("memory", "no source", "confirm in", "stated in the case")), (
            row.source
        )


def test_use_is_one_at_the_limit_and_more_when_broken():
    for row in ROWS:
        if not row.missing:
            assert (use_of(row) <= 1) == bool(row.holds), row.name
    assert {row.status.partition(":")[0] for row in ROWS} == {"meets", "for information", "not checked"}


@pytest.mark.derived
def test_what_exceeds_is_counted_and_named_with_value_and_limit():
    (informs,) = exceeded(ROWS)  # of the built-in case, friction alone lies beyond, and does not decide
    assert informs.startswith("For information, ")
    assert "tangential keys carry the torque that friction does not" in informs
    strict = exceeded(case_checks(replace(CASE, limits=Limits(arm_share_of_yield=0.2))), "as drawn")
    decided = [row for row in ROWS if row.binding and not row.missing]
    assert strict[0].startswith(f"2 of {len(decided)} checks against limits exceed their limits (as drawn): arm stress")
    # 0.2 x 345 = 69 MPa; the stress is that of one arm, pressed by its share of the contact force
    still = rm.sweep(CASE.rotor, CASE.conditions["cold"], 0.0)
    pressed = float(still.contact_pressure) * 2 * np.pi * 3.62 * 1.85 / 14 / 0.058 / 1e6
    present = next(row for row in ROWS if (row.name, row.at) == ("arm stress", "standstill"))
    assert float(present.value) / 1e6 == pytest.approx(pressed, rel=1e-9)
    assert f"arm stress, standstill (cold) {pressed:.1f} MPa against at most 69 MPa" in strict[0]


@pytest.mark.parametrize(
    ("value", "kind", "words"),
    [
        (21.684e9, "torque", "21,680,000 kN m"),
        (9.9996e6, "stress", "10 MPa"),
        (0.0, "", "0"),
        (-0.012346, "", "-0.01235"),
        (np.nan, "stress", "not determined"),
        (np.inf, "", "without bound"),
    ],
)
def test_values_have_four_figures_and_no_powers_of_ten(value, kind, words):
    assert value_text(value, kind) == words


@pytest.mark.derived
def test_the_checks_of_a_measured_rotor_load_the_drawn_spider_with_the_measured_pressure():
    # a spider twice as soft and half the interference: arm force by hand from both compliances in series
    rotor = CASE.rotor
    measured = replace(
        rotor,
        spider=GivenSpider(1.0e10, 0.1e-3, 15.0, None),
        fit=replace(rotor.fit, settlement=1.05e-3, key_width=None),
    )
    rows = checks(measured, CASE.conditions, CASE.limits, CASE.torque, CASE.duty, rotor)
    arm = next(row for row in rows if (row.name, row.at) == ("arm stress", "standstill"))
    bore = 2 * np.pi * 3.62 * 1.85
    ring = rotor.rim.ring
    by_pressure = ring.state(3.62, inner_pressure=1.0).radial_displacement
    pressure = 1.05e-3 / (float(by_pressure) + bore / 1.0e10)
    assert arm.value == pytest.approx(pressure * bore / 14 / 0.058)
    bearing = next(row for row in rows if row.name == "key bearing pressure")
    assert bearing.value == pytest.approx(pressure * bore / (14 * 0.26 * 1.85 * 0.97))


@pytest.mark.derived
def test_the_load_rejection_is_told_by_condition():
    table = json.loads(json.dumps(rejection_table(CASE), allow_nan=False))
    assert set(table["conditions"]) == set(CASE.conditions)
    # 9.5e6 x 7.4/(2 x 6e6) = 5.858 rad/s on top of 125 rpm
    assert table["peak_speed_rpm"] == pytest.approx(125 + 9.5e6 * 7.4 / (2 * 6e6) * 30 / np.pi, rel=1e-9)
    assert table["conditions"]["cold"]["afloat_s"] == 0.0
    assert table["conditions"]["hot"]["afloat_s"] > 10
    bare = replace(CASE, load_rejection=None)
    assert (rejection_table(bare), rejection_times(bare)) == (None, {})
    with pytest.raises(ValueError, match=r"no \[load_rejection\]"):
        rejection_figure(bare)


def test_the_figure_of_the_limits_draws_value_over_limit_of_every_check():
    figure = limits_figure(ROWS)
    (panel,) = figure.axes
    use = {
        words_of(row): float(row.value / row.limit if row.at_most else row.limit / row.value)
        for row in ROWS
        if not row.missing
    }
    drawn = {
        label.get_text(): bar.get_width() for label, bar in zip(panel.get_yticklabels(), panel.patches, strict=True)
    }
    assert drawn == pytest.approx({name: min(share, WIDEST_USE) for name, share in use.items()})
    assert panel.get_xlabel().startswith("share of the limit used  [-]")
    assert panels_in(to_svg(figure)) == 1


@pytest.mark.derived
def test_the_figure_of_the_load_rejection_draws_the_speed_to_its_peak():
    figure = rejection_figure(CASE)
    time, speed = line_called(figure.axes[0], "speed")
    # from rated, 125 rpm, by 9.5e6 x 7.4/(2 x 6e6) = 5.858 rad/s, where the driving torque is gone after 7.4 s
    assert speed[0] == pytest.approx(125.0)
    assert speed.max() == pytest.approx(125 + 9.5e6 * 7.4 / (2 * 6e6) * 30 / np.pi, rel=1e-4)
    assert time[np.argmax(speed)] == pytest.approx(7.4, abs=time[1])
    assert axes_of(figure) == [("time after the loss of load  [s]", "speed  [rpm]")]
    assert panels_in(to_svg(figure)) == 1


def test_the_figure_of_the_plan_draws_its_table_in_rpm_and_mm():
    plan = run_plan(CASE, "hot")
    figure = plan_figure(CASE, plan)
    rows = {"expected mean gap": plan.gap, "stop line": plan.stops.mean_gap, "hold line": plan.hold_gap}
    for label, gap in rows.items():
        speed, drawn = line_called(figure.axes[0], label)
        np.testing.assert_allclose(speed, plan.speed * 30 / np.pi)
        np.testing.assert_allclose(drawn, 1e3 * gap)
    assert axes_of(figure) == [("speed  [rpm]", "mean air gap  [mm]")]
    assert panels_in(to_svg(figure)) == 1


def test_the_figure_of_the_window_names_each_criterion_and_the_present_interference():
    window = shrink_window(CASE)
    figure = window_figure(window)
    (panel,) = figure.axes
    names = [label.get_text() for label in panel.get_yticklabels()]
    assert "no_float_in_service (hot)" in names
    assert set(names) <= {edge.words for edge in window.edges}
    np.testing.assert_allclose(line_called(panel, "present")[0], 2.1)
    assert axes_of(figure) == [("interference, radial, as assembled  [mm]", "")]
    assert panels_in(to_svg(figure)) == 1


def test_what_runaway_leaves_is_told_in_words():
    said = after_highest_speed(CASE)
    assert set(said) == set(CASE.conditions)
    assert "no yield at 250.0 rpm" in said["cold"]
    assert "0.000 mm of interference lost" in said["cold"]
    rim = CASE.rotor.rim

    def with_yield(strength):
        steel = replace(rim.material, yield_strength=strength)
        return replace(CASE, rotor=replace(CASE.rotor, rim=replace(rim, material=steel)))

    assert "larger for good" in after_highest_speed(with_yield(225e6))["cold"]
    assert "no answer, speed is" in after_highest_speed(with_yield(150e6))["cold"]
    assert after_highest_speed(with_yield(None)) == {}
