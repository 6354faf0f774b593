"""Unusual cases that are right are read with the right numbers, and no doubt keeps them from a verdict."""

import pytest

from rimmodel.rotor.case.case import parse_case
from rimmodel.rotor.case.doubts import case_doubts
from tests.bad_inputs.legal_cases import LARGE, LEGAL, SMALL, LegalCase

DOUBTED = ("floating by design",)


def named(legal: LegalCase) -> str:
    return legal.name


@pytest.mark.derived
@pytest.mark.parametrize("legal", LEGAL, ids=named)
def test_an_unusual_case_gives_the_right_number_and_no_doubt(legal):
    case = parse_case(legal.text.encode(), "case.toml")
    assert float(legal.value(case)) == pytest.approx(legal.expected, rel=3e-4, abs=1e-12)
    assert [str(doubt) for doubt in case_doubts(case) if doubt.blocks] == []


def test_there_are_enough_of_them():
    assert len(LEGAL) >= 30


@pytest.mark.parametrize("text", [SMALL, LARGE], ids=["small", "large"])
def test_the_smallest_and_the_largest_machines_pass_without_a_blocking_doubt(text):
    case = parse_case(text.encode(), "case.toml")
    assert [str(doubt) for doubt in case_doubts(case) if doubt.blocks] == []
