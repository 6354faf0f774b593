"""What a headline quotes of run-up and run-down: a lift-off only where that direction alone resolves it."""

from dataclasses import replace

import numpy as np
import pytest

from rimmodel.evidence.measured.measure import measure
from rimmodel.evidence.measured.measurement import turning_difference
from rimmodel.evidence.recording.read import read_recording
from rimmodel.evidence.synthetic import Run, virtual_run
from rimmodel.rotor.case.case import example_case
from rimmodel.units import RPM
from rimmodel.verdict.headline import _evidence
from rimmodel.verdict.output.fit import run_rows, turning_words

CASE = example_case()
SPEEDS = tuple(np.linspace(20.0, 235.0, 14) * RPM)


@pytest.fixture(scope="module")
def found():
    run = virtual_run(CASE.rotor, CASE.conditions["cold"], Run(speeds=SPEEDS))
    return measure(CASE.rotor, CASE.conditions["cold"], read_recording(run), "cold")


def without(found, *directions):
    knees = {name: replace(knee, verdict="not resolvable") if name in directions else knee
             for name, knee in found.knees.items()}  # fmt: skip
    return replace(found, knees=knees)


def evidence(found):
    return " ".join(_evidence(CASE, [found], []))


def test_both_directions_are_quoted_where_both_resolve_a_lift_off(found):
    assert {"up", "down"} <= found.knees.keys()
    words = evidence(found)
    for part in ("run-up 1", "run-down 1", "difference"):
        assert part in words


@pytest.mark.parametrize(("lost", "kept"), [("down", "up"), ("up", "down")])
def test_a_direction_that_resolves_nothing_is_quoted_with_no_speed(found, lost, kept):
    measured = without(found, lost)
    words = evidence(measured)
    assert f"the run-{lost} alone does not resolve a lift-off" in words
    assert f"run-{kept} 1" in words
    assert f"run-{lost} 1" not in words
    assert "not shown to differ" in words
    assert dict(run_rows(measured))["run-down minus run-up"].startswith("not shown to differ (")


def test_a_difference_beyond_doubt_keeps_its_interval_though_no_best_value(found):
    best, _ = turning_difference(without(found, "down"))
    assert best != best
    assert turning_words(best, (2.0 * RPM, 3.0 * RPM)) == "difference +2.0 to +3.0 rpm"


def test_a_run_that_may_decide_nothing_shows_its_lift_off_only_where_it_resolves_it(found):
    against = replace(found, disqualified=("wrong units",), verdict="not resolvable")
    assert "rpm" in dict(run_rows(against))["lift-off, all points"]
    assert dict(run_rows(without(against, "")))["lift-off, all points"] == "not resolvable"
