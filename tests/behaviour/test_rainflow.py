"""Rainflow counts against the printed example of the standard and against its three-point rule, written out plainly."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rimmodel.behaviour.limits.rainflow import rainflow, turning_points


def by_three_points(course):
    """The rule of ASTM E1049-85, 5.4.4, step by step, one point after the other (from memory)."""
    points, counted = [], []
    for point in turning_points(course):
        points.append(point)
        while len(points) >= 3:
            newer, older = abs(points[-1] - points[-2]), abs(points[-2] - points[-3])
            if newer < older:
                break
            if len(points) == 3:  # the range holds the starting point
                counted.append((*sorted(points[:2]), 0.5))
                del points[0]
            else:
                counted.append((*sorted(points[-3:-1]), 1.0))
                del points[-3:-1]
    counted += [(*sorted(pair), 0.5) for pair in pairwise(points)]
    return counted


def table(rows):
    """Count by size of the range."""
    found = {}
    for low, high, count in rows:
        found[high - low] = found.get(high - low, 0.0) + count
    return found


@pytest.mark.recalled
def test_the_printed_example_of_the_standard_to_the_digit():
    found = rainflow([-2, 1, -3, 5, -1, 3, -4, 4, -2])
    assert table(zip(found.low, found.high, found.count, strict=True)) == {3: 0.5, 4: 1.5, 6: 0.5, 8: 1.0, 9: 0.5}
    closed = found.count == 1.0
    assert (found.low[closed], found.high[closed]) == (-1, 3)  # E to F of the printed figure


@pytest.mark.independent
@given(st.lists(st.integers(-9, 9), min_size=1, max_size=60))
def test_any_course_has_the_counts_of_the_three_point_rule(course):
    found = rainflow(course)
    assert table(zip(found.low, found.high, found.count, strict=True)) == table(by_three_points(course))


@pytest.mark.derived
def test_a_long_random_course_keeps_its_total_travel():
    """Half cycles travel their range once and closed ones twice: together the whole course."""
    course = np.random.default_rng(3).normal(size=200_000).cumsum()
    found = rainflow(course)
    assert np.sum(2 * found.count * found.range) == pytest.approx(np.sum(np.abs(np.diff(course))))
    assert found.range.max() == np.ptp(course)


@pytest.mark.parametrize("course", [[], [1.0, np.nan], [[1.0]]])
def test_what_is_no_course_is_refused(course):
    with pytest.raises(ValueError, match="course"):
        rainflow(course)


def test_a_course_that_stands_still_has_no_cycle():
    assert len(rainflow([2.0, 2.0, 2.0]).count) == 0
