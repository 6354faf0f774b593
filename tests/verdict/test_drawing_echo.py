"""The echo of the drawing in `check`, the review text and JSON, and the remark on a diametral drawing."""

import math

import pytest

from rimmodel.rotor.case.case import example_case, parse_case
from rimmodel.rotor.case.doubts import case_doubts
from rimmodel.verdict.diametral import diametral_suspicion
from rimmodel.verdict.drawing_echo import doubts_text, drawing_table, drawing_text
from tests.bad_inputs.case_slips import TEXT


def test_every_line_stands_in_text_and_table():
    case = example_case()
    text, table = drawing_text(case), drawing_table(case)
    assert "diameter of the rim bore" in text
    assert "7240 mm" in text
    assert {row["name"]: row for row in table["drawing"]}["electrical frequency at rated speed"][
        "value"
    ] == pytest.approx(50)
    assert table["doubts"] == []
    assert all(row["unit"] or "over" in row["name"] for row in table["drawing"])


def test_a_doubt_is_marked_and_says_what_it_stops():
    case = parse_case(TEXT.replace("count = 48", "count = 24", 1).encode(), "case.toml")
    assert "  ? electrical frequency at rated speed" in drawing_text(case)
    shown = doubts_text(case_doubts(case))
    assert "25.00 Hz" in shown
    assert "state speeds.frequency" in " ".join(shown.split())
    assert drawing_table(case)["doubts"][0]["blocks"]


@pytest.mark.parametrize(
    ("measured", "interval", "suspected"),
    [
        (1.05e-3, (1.0e-3, 1.1e-3), True),  # half of 2.1 mm
        (1.0e-3, (0.8e-3, 1.2e-3), True),
        (1.3e-3, (1.25e-3, 1.35e-3), False),
        (2.0e-3, (1.9e-3, 2.1e-3), False),
        (1.05e-3, (0.2e-3, 2.0e-3), False),  # may be all of it
        (1.05e-3, (0.9e-3, math.inf), False),
        (math.nan, (-math.inf, math.inf), False),
    ],
)
def test_half_of_the_drawn_interference_is_remarked(measured, interval, suspected):
    remark = diametral_suspicion(measured, interval, 2.1e-3)
    assert bool(remark) == suspected
    assert not suspected or "on the diameter" in remark
