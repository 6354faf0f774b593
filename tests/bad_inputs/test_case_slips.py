"""Every slip of the tables is answered in words and in time, and no claim or requirement holds on a doubtful case."""

import time

import pytest

from rimmodel.rotor.case.case import CaseError, example_case, parse_case
from rimmodel.rotor.case.doubts import blocking_doubt, case_doubts
from rimmodel.verdict.judge import judge
from tests.bad_inputs.case_slips import BLOCKED, REFUSED, TEXT, CaseSlip

LONGEST = 5.0
"""Seconds of a processor that any answer may take."""


def named(slip: CaseSlip) -> str:
    return slip.name


@pytest.mark.parametrize("slip", REFUSED, ids=named)
def test_a_slip_is_refused_with_its_words(slip):
    start = time.process_time()
    with pytest.raises(CaseError) as caught:
        parse_case(slip.text.encode(), "case.toml")
    assert slip.words in str(caught.value)
    assert time.process_time() - start < LONGEST
    assert all(len(fault) < 700 and "pydantic" not in fault for fault in caught.value.faults)


@pytest.mark.parametrize("slip", BLOCKED, ids=named)
def test_a_doubtful_case_lets_nothing_hold_that_it_concerns(slip):
    start = time.process_time()
    text = slip.text
    # shims by the key would contradict another mean
    if "4.2 mm" in slip.new:
        text = text[: text.index("key_interference = [")] + text[text.index("tangential_clearance") :]
    case = parse_case(text.encode(), "case.toml")
    doubts = [doubt for doubt in case_doubts(case) if doubt.blocks and slip.words in doubt.text]
    assert doubts
    concerned = [
        item
        for item in (*case.claims, *case.requirements)
        if any(doubt.concerns(case.condition(item.condition)[0], key) for doubt in doubts for key in [_key(item)])
    ]
    assert concerned
    for item in concerned:
        assert blocking_doubt(case, item) is not None
    finding = judge(case, concerned[0], None)
    assert finding.verdict == "not shown"
    assert "the case is in doubt" in finding.reason
    assert time.process_time() - start < LONGEST


def _key(item):
    return f"claims.{item.quantity}" if not hasattr(item, "at_least") else f"requirements.{item.name}"


def test_the_tables_are_as_long_as_they_should_be():
    assert len(REFUSED) >= 80
    assert len(BLOCKED) >= 25
    assert len({slip.text for slip in (*REFUSED, *BLOCKED)}) == len(REFUSED) + len(BLOCKED)


def test_the_built_in_case_itself_is_beyond_doubt():
    assert parse_case(TEXT.encode(), "case.toml").title == example_case().title
    assert case_doubts(example_case()) == ()
