"""What page one asks for where a recording is inconclusive: within the agreed speed, and nothing the reasons deny."""

import re
from dataclasses import replace

import pytest

from rimmodel.evidence.knee.reasons import SCATTER_UNKNOWN, WOULD_DECIDE
from rimmodel.units import RPM, in_rpm
from rimmodel.verdict.output.deciding_words import deciding_words
from tests.verdict.ten_cases import reviewed

OPEN = (-float("inf"), float("inf"))
LONGEST = 700
"""Characters that page one has room for: about six lines."""


def words_of(*, highest=None, reasons=(), interval=OPEN, records=True):
    """The words for a review whose only finding is a float speed without a best value."""
    found = reviewed("seated only")
    row = next(row for row in found.findings if row.quantity == "float_speed")
    run = replace(found.measurements[0], reasons=tuple(reasons), disqualified=())
    plan = replace(found.case.plan, highest_speed=None if highest is None else highest * RPM)
    return deciding_words(
        replace(
            found,
            case=replace(found.case, plan=plan),
            findings=(replace(row, measured=None, interval=interval, parts={}),),
            measurements=(run,) if records else (),
        )
    )


def speeds(words):
    return [float(value) for value in re.findall(r"([\d.]+) rpm", words)]


@pytest.mark.parametrize("interval", [OPEN, (0.0, 20.0), (10.0, float("inf"))])
@pytest.mark.parametrize("highest", [150.0, 187.0, None])
def test_no_run_beyond_the_agreed_speed_is_asked_for(highest, interval):
    words = words_of(highest=highest, interval=interval)
    limit = highest or in_rpm(float(reviewed("seated only").case.rotor.speeds.overspeed))
    asked, _, hidden = words.partition("A lift-off above")
    assert speeds(asked) == [pytest.approx(limit, abs=0.05)]
    assert "not above" in asked
    assert hidden.endswith("shows in no run within that limit.")
    assert "both sides of the lift-off" not in words
    assert ("one side only" in words) == (interval != OPEN)
    assert len(words) < LONGEST


def test_what_a_run_needs_is_that_of_the_annex():
    words = words_of(highest=187.0)
    for needed in ("run-down", "low-speed points repeated", "temperatures of rim and stator", "many readings"):
        assert needed in words, needed


@pytest.mark.parametrize("highest", [150.0, 400.0])
def test_a_lift_off_predicted_beyond_the_limit_is_named_as_hidden(highest):
    found = reviewed("seated only")
    drawn = in_rpm(float(found.predictions[found.measurements[0].condition].float_speed.speed))
    assert (f"(predicted: {drawn:.1f} rpm) shows in no run" in words_of(highest=highest)) == (drawn > highest)


def test_the_reason_that_names_what_would_decide_stands_on_page_one():
    few = SCATTER_UNKNOWN.format(6, 8)
    words = words_of(highest=187.0, reasons=("one straight line fits as well", few))
    assert "column gap_error" in words
    assert "8 points or more" in words
    words = words_of(highest=187.0, reasons=(f"a bend is there; {WOULD_DECIDE}the run repeated",))
    assert "Needed first: the run repeated." in words
    assert len(words) < LONGEST


def test_without_a_recording_no_run_past_the_lift_off_is_asked_for():
    found = reviewed("seated only")
    assert "past the expected lift-off" not in words_of(highest=187.0, records=False)
    assert found.measurements
