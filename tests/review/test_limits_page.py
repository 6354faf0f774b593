"""Limits and load rejection as table, text and figure."""

import json
from dataclasses import replace

import pytest

from rimmodel.plotting.style import to_svg
from rimmodel.review.limits_page import (
    after_highest_speed,
    case_checks,
    limits_figure,
    limits_table,
    limits_text,
    rejection_figure,
    rejection_table,
    rejection_times,
    use_of,
    verdict_of,
)
from rimmodel.review.plan_page import plan_figure
from rimmodel.review.shrink_window import shrink_window
from rimmodel.review.test_plan import run_plan
from rimmodel.review.window_page import window_figure
from rimmodel.rotor.allowances import Limits
from rimmodel.rotor.case import example_case

CASE = example_case()
ROWS = case_checks(CASE)


def test_the_table_holds_every_check_in_units_of_print():
    table = json.loads(json.dumps(limits_table(ROWS), allow_nan=False))
    assert len(table) == len(ROWS)
    arm = next(row for row in table if row["name"] == "arm stress" and row["at"] == "standstill")
    assert (arm["unit"], arm["limit"], arm["verdict"], arm["condition"]) == (
        "MPa",
        pytest.approx(172.5),
        "holds",
        "cold",
    )
    assert arm["replaced_by"] == "limits.arm_share_of_yield"
    hub = next(row for row in table if row["missing"])
    assert (hub["value"], hub["limit"], hub["verdict"]) == (None, None, "not checked")
    assert all(row["source"] for row in table)


def test_no_rule_is_printed_as_a_standards_word():
    # what was not seen in print says so
    for row in ROWS:
        assert any(mark in row.source for mark in ("memory", "no source", "confirm in", "stated in the case")), (
            row.source
        )


def test_broken_limits_stand_first_and_missing_inputs_last():
    strict = case_checks(replace(CASE, limits=Limits(arm_share_of_yield=0.2)))
    words = limits_text(strict)
    first = words.splitlines()[0]
    assert first.startswith("arm stress, standstill")
    assert "does not hold" in first
    assert "stated in the case" in first
    assert words.splitlines()[-1].strip().startswith("spider.hub_bore_radius")
    assert "told only" in words


def test_use_is_one_at_the_limit_and_more_when_broken():
    for row in ROWS:
        if not row.missing:
            assert (use_of(row) <= 1) == bool(row.holds), row.name
    assert {verdict_of(row) for row in ROWS} == {"holds", "told only", "not checked"}


def test_the_load_rejection_is_told_by_condition():
    table = json.loads(json.dumps(rejection_table(CASE), allow_nan=False))
    assert set(table["conditions"]) == set(CASE.conditions)
    # 9.5e6 x 7.4/(2 x 6e6) = 5.858 rad/s on top of 125 rpm
    assert table["peak_speed_rpm"] == pytest.approx(125 + 5.8583333 * 30 / 3.14159265, rel=1e-7)
    assert table["conditions"]["cold"]["afloat_s"] == 0.0
    assert table["conditions"]["hot"]["afloat_s"] > 10
    bare = replace(CASE, load_rejection=None)
    assert (rejection_table(bare), rejection_figure(bare), rejection_times(bare)) == (None, None, {})


def test_every_figure_of_the_case_is_drawn():
    figures = [
        limits_figure(ROWS),
        rejection_figure(CASE),
        window_figure(shrink_window(CASE)),
        plan_figure(CASE, run_plan(CASE, "hot")),
    ]
    assert all(to_svg(figure).startswith("<?xml") for figure in figures)


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
