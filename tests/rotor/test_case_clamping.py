"""The table [clamping] of a case: what is read, what is refused, and what a review makes of it."""

import json
import re
import tomllib
from dataclasses import replace

import pytest

from rimmodel.rotor.case.case import EXAMPLES, CaseError, parse_case
from rimmodel.rotor.case.format import case_schema
from rimmodel.verdict.output.slip import slip_table

TEXT = (EXAMPLES / "quillmere.toml").read_text(encoding="utf-8")
TABLE = """[clamping]
stud_force = ["100 kN", "180 kN"]
stud_count = 120
friction_coefficient = [0.15, 0.3]
segment_overlap = "400 mm"
sheet_thickness = "4 mm"
"""
STATED = f"{TEXT}\n{TABLE}"


def test_what_is_stated_is_read():
    stack = parse_case(STATED.encode(), "unit.toml").clamping
    assert stack.stud_force == (100e3, 180e3)
    assert (stack.stud_count, stack.segment_overlap, stack.sheet_thickness) == (120, 0.4, pytest.approx(4e-3))
    assert stack.friction_coefficient == (0.15, 0.3)
    assert stack.slipping_share == (0.3, 0.8)
    assert parse_case(TEXT.encode(), "unit.toml").clamping is None


def test_the_lines_of_a_new_case_are_a_table_that_is_read():
    new = (EXAMPLES / "new_case.toml").read_text(encoding="utf-8")
    block = re.search(r"# \[clamping\].*?\n\n", new, re.DOTALL)[0]
    table = re.sub(r"(?m)^# ", "", block)
    assert set(tomllib.loads(table)["clamping"]) == {
        "stud_force", "stud_count", "friction_coefficient", "segment_overlap", "sheet_thickness", "slipping_share"
    }  # fmt: skip
    assert parse_case(f"{new}\n{table}".encode(), "unit.toml").clamping.stud_count == 160


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"100 kN", "180 kN"', '"180 kN", "100 kN"', "clamping.stud_force is [180000.0, 100000.0]; it must be a pair"),
        ('["100 kN", "180 kN"]', '["100 kN"]', "clamping.stud_force is [100000.0]; it must be a pair"),
        ('"100 kN", "180 kN"', '"100 mm", "180 mm"', "does not measure a force"),
        ('"100 kN", "180 kN"', '"100 N", "180 kN"', "a rim stud of 40 to 70 mm has 100 to 1000 kN"),
        ("stud_count = 120\n", "", "clamping.stud_count: missing"),
        ("stud_count = 120", "stud_count = 120.5", "it must be a whole number"),
        ("[0.15, 0.3]", "[0.0, 0.3]", "it must be above zero"),
        ('"4 mm"', '"40 mm"', "a rim sheet has 1.5 to 5 mm"),
        ("segment_overlap", "overlap", "clamping.overlap: unknown key"),
        ("stud_count = 120", "stud_count = 120\nslipping_share = [0.3, 1.2]", "above zero and at most 1"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(old, new, words):
    assert old in TABLE
    with pytest.raises(CaseError) as caught:
        parse_case(f"{TEXT}\n{TABLE.replace(old, new, 1)}".encode(), "unit.toml")
    assert words in "\n".join(caught.value.faults)


def test_the_schema_describes_every_key():
    properties = case_schema()["$defs"]["ClampedStack"]["properties"]
    assert all(entry.get("description") for entry in properties.values())


def test_a_review_shows_it_where_it_is_stated_and_says_so_where_not():
    case = parse_case(STATED.encode(), "unit.toml")
    found = slip_table(case)
    json.dumps(found, allow_nan=False)
    assert [(row["condition"], row["run_to"]) for row in found["runs"]] == [
        ("cold", "overspeed"), ("cold", "runaway"), ("hot", "overspeed"), ("hot", "runaway")
    ]  # fmt: skip
    first, second = found["runs"][:2]
    assert first["slips"] == "not shown"  # weak studs slip, strong ones hold up to there
    assert second["slips"] == "slips"
    assert second["growth_left_mm"][1] > first["growth_left_mm"][1]
    assert "nan" not in " ".join(found["sentences"])
    assert "inf " not in " ".join(found["sentences"])
    assert slip_table(replace(case, clamping=None))["sentences"][0].startswith("Slip of the laminations: not stated")
