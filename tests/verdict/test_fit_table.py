"""What recordings show, as JSON and as text: units in the names, null where there is no number, no NaN anywhere."""

from __future__ import annotations

import json
from functools import cache

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.evidence.backfit.fit import ALL_POINTS
from rimmodel.evidence.backfit.fitter import Freedom
from rimmodel.evidence.measured.compare import compare
from rimmodel.evidence.measured.measure import measure, with_case
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.evidence.recording.read import read_recording
from rimmodel.evidence.synthetic import Run, virtual_run
from rimmodel.rotor.requirements import CaseRecord
from rimmodel.units import MILLIMETRE, RPM
from rimmodel.verdict.output.fit import (
    comparison_table,
    comparison_text,
    fit_table,
    interval_table,
    knee_text,
    number,
    run_rows,
)
from rimmodel.verdict.output.fit import (
    text as fit_text,
)

CASE = rm.example_case()
COLD = CASE.conditions["cold"]
WIDE, SHORT, FAST = (tuple(np.linspace(low, high, 12) * RPM) for low, high in ((20, 235), (20, 150), (60, 235)))
PRECISE = Freedom(prior_sd={"hoop_stiffness_factor": 0.03, "spider_stiffness": 0.1})
NAMES = {
    "label", "file", "condition", "verdict", "float_speed_rpm", "float_speed_interval_rpm", "interference_mm",
    "interference_interval_mm", "hoop_stiffness_factor", "confidence", "reasons", "directions",
}  # fmt: skip


@cache
def measured(kind: str) -> Measurement:
    speeds, interference, down = {
        "resolved": (WIDE, 2.1, True),
        "after": (WIDE, 1.6, False),
        "short": (SHORT, 2.1, False),
        "floating": (FAST, 0.05, False),
    }[kind]
    run = Run(speeds=speeds, run_down=down, seed=len(kind))
    frame = virtual_run(CASE.rotor.with_interference(interference * MILLIMETRE), COLD, run)
    recording = read_recording(frame, label=kind)
    found = measure(CASE.rotor, COLD, recording, "cold", freedom=PRECISE)
    return with_case(found, CASE, CaseRecord("run.csv", "cold", kind))


def strict(table: dict[str, object]) -> dict[str, object]:
    """Through JSON and back, where NaN and infinity are refused."""
    return json.loads(json.dumps(table, allow_nan=False))


@pytest.mark.parametrize("kind", ["resolved", "short", "floating"])
def test_a_table_is_plain_json_with_all_names(kind: str) -> None:
    table = strict(fit_table(measured(kind)))
    assert set(table) >= NAMES
    assert table["label"] == kind
    assert table["verdict"] in ("resolved", "above tested range", "already floating", "not resolvable")
    assert table["confidence"] == 0.95


def test_a_resolved_run_in_numbers() -> None:
    found = measured("resolved")
    table = strict(fit_table(found))
    assert table["verdict"] == "resolved"
    low, high = table["float_speed_interval_rpm"]
    assert low < table["float_speed_rpm"] < high
    # by the forward model, which the fit does not see
    truth = float(rm.float_speed(CASE.rotor, COLD).speed) * 30 / np.pi
    assert low < truth < high
    low, high = table["interference_interval_mm"]
    assert low < 2.1 < high
    assert set(table["directions"]) == {"up", "down"}
    for way in table["directions"].values():
        assert way["float_speed_interval_rpm"][0] < truth < way["float_speed_interval_rpm"][1]
    hot = table["float_speed_by_condition"]["hot"]
    assert hot["float_speed_interval_rpm"][0] < hot["float_speed_rpm"] < table["float_speed_rpm"]
    count = len(table["parameters"])
    assert np.shape(table["correlation"]) == (count, count)
    np.testing.assert_allclose(np.diag(table["correlation"]), 1.0)


def test_open_sides_are_null_and_so_is_a_value_that_nothing_holds() -> None:
    short, floating = (strict(fit_table(measured(kind))) for kind in ("short", "floating"))
    assert short["verdict"] == "above tested range"
    assert short["float_speed_rpm"] is None
    assert short["float_speed_interval_rpm"][0] is not None
    assert short["float_speed_interval_rpm"][1] is None
    assert short["interference_interval_mm"][1] is None
    assert floating["verdict"] == "already floating"
    assert floating["float_speed_interval_rpm"][0] is None
    assert floating["float_speed_interval_rpm"][1] is not None
    assert floating["interference_interval_mm"][0] is None


def test_numbers_and_intervals() -> None:
    assert number(None) is None
    assert number(float("nan")) is None
    assert number(float("-inf")) is None
    assert number(1.5) == 1.5
    assert interval_table((0.001, float("inf")), "length") == [pytest.approx(1.0), None]


def test_text_for_a_terminal_says_all_and_keeps_its_width() -> None:
    rows = [measured("resolved"), measured("short")]
    said = fit_text(rows, [compare(rows[0], measured("after"), -0.5 * MILLIMETRE)])
    assert "resolved (cold): RESOLVED" in said
    assert "run-up" in said
    assert "run-down" in said
    assert "effective interference" in said
    assert "float speed, hot" in said
    assert "floats above" in said
    assert "consistent with the expected shim\nchange" in said
    assert max(len(line) for line in said.splitlines()) <= 100
    assert "nan" not in said.split()
    for reason in rows[1].reasons:
        assert reason[:40] in " ".join(said.split())


def test_lift_offs_of_planes_and_their_difference_name_the_fit_that_they_come_from() -> None:
    found = measured("resolved")
    rows, table = dict(run_rows(found)), strict(fit_table(found))
    assert len(table["planes"]) == 2
    for plane, row in table["planes"].items():
        assert row["how"] == "fitted by itself"
        assert rows[f"plane {plane}"].endswith(" rpm), fitted by itself")
    ends = table["two_ends"]
    assert (ends["how"], table["knee_spread"]["plane"]["how"]) == ("fitted together", "fitted together")
    assert rows[f"{ends['last']} minus {ends['first']}"].endswith(" rpm), fitted together")
    assert any("need not equal the difference" in words for words in table["spread_in_words"])


def test_a_number_that_a_run_leaves_open_is_not_determined_never_none() -> None:
    said = " ".join(fit_text([measured("short")], []).split())
    assert "float speed, cold not determined (above 1" in said
    assert "effective interference not determined (above" in said
    assert "none" not in said


def test_a_comparison_in_numbers_and_words() -> None:
    row = compare(measured("resolved"), measured("after"), -0.5 * MILLIMETRE)
    table = strict(comparison_table(row))
    assert table["interference_change_mm"] == pytest.approx(-0.5, abs=0.15)
    low, high = table["interference_change_interval_mm"]
    assert low < -0.5 < high
    assert table["expected_change_mm"] == pytest.approx(-0.5)
    assert len(table["speed_rpm"]) == len(table["mean_gap_after_mm"]) == len(table["least_gap_before_mm"]) == 12
    assert table["float_speed_change_interval_rpm"][1] < 0
    said = comparison_text(row)
    assert said.startswith("From 'resolved' to 'after' the interference changed by -0.")
    assert said.endswith(": consistent with the expected shim change.")


def test_a_comparison_without_bounds_is_null_not_nan() -> None:
    table = strict(comparison_table(compare(measured("resolved"), measured("short"))))
    assert table["interference_change_mm"] is None
    assert table["interference_change_interval_mm"][1] is None
    assert table["expected_change_mm"] is None
    assert "changed by" in comparison_text(compare(measured("resolved"), measured("short")))


def test_knees_in_words() -> None:
    assert "rpm" in knee_text(measured("resolved").knees["up"])
    assert knee_text(measured("short").knees[ALL_POINTS]) == "above tested range"
