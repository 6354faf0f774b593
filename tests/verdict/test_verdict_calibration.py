"""What a review signs, on a few virtual machines whose truth is known; the whole table is made by hand.

`tests/benchmarks/verdict_calibration.py` runs 2,000 of them; here the seeded first ones are enough to notice an
uncertainty that is left out or counted twice.
"""

import numpy as np
import pytest

from tests.benchmarks.verdict_calibration import ASKED, outcomes, table

RUNS = 24


@pytest.fixture(scope="module")
def found():
    return outcomes(8200, RUNS)


@pytest.mark.independent
def test_intervals_by_test_hold_the_truth_of_most_machines(found):
    # 24 machines of 8 numbers each: 95 % hold on average, and those of one machine hang together
    held = np.mean([not (row.below or row.above) for rows in found for row in rows])
    assert 0.85 <= held <= 1.0
    for place in range(len(ASKED)):
        held = sum(not (rows[place].below or rows[place].above) for rows in found)
        assert held >= 19  # of 24, below which a coverage of 95 % falls once in two thousand times


@pytest.mark.independent
def test_hardly_any_verdict_is_wrong_and_not_all_are_open(found):
    rows = [row for rows in found for row in rows[: len(ASKED)]]
    assert np.mean([row.wrongly_holds for row in rows]) <= 0.03
    assert np.mean([row.wrongly_fails for row in rows]) <= 0.03
    assert np.mean([row.not_shown for row in rows]) < 1.0  # limits near the truth are seldom decided


def test_intervals_are_not_so_wide_that_they_say_nothing(found):
    widths = [rows[0].width for rows in found if rows[0].resolved]
    assert len(widths) >= RUNS // 2
    assert np.median(widths) < 0.2  # of the float speed, cold


def test_the_table_has_a_line_for_every_number(found):
    lines = table(found).splitlines()
    assert len(lines) == 2 + len(ASKED) + 2
    assert f"{RUNS} machines" in lines[-1]
