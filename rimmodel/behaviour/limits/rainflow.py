"""Cycles in a course of speed or stress, counted by the rainflow method.

Source: ASTM E1049-85, Standard Practices for Cycle Counting in Fatigue Analysis, 5.4.4 (from memory, confirm in your
copy). Closed cycles are found by the four-point rule, and what is left counts by half cycles, which gives the counts
of the three-point rule of the standard: McInnes & Meehan, International Journal of Fatigue 30 (2008) 547 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats, floats


@dataclass(frozen=True)
class Cycles:
    """Cycles counted, arrays (cycle,).

    Attributes
    ----------
    low, high : array, unit of the course
        Ends of each cycle.
    count : array, -
        1 for a closed cycle, 0.5 for a half cycle of what is left.
    """

    low: Floats
    high: Floats
    count: Floats

    @property
    def range(self) -> Floats:
        """From end to end, unit of the course."""
        size: Floats = self.high - self.low
        return size


def turning_points(course: ArrayLike) -> Floats:
    """Peaks and valleys of a course in their order, with its first and its last value.

    Parameters
    ----------
    course : array (sample,), SI

    Returns
    -------
    array (point,), SI
        One value where the course never changes.

    Raises
    ------
    ValueError
        No value, or one that is not finite.

    >>> turning_points([0, 1, 1, 3, 2, 2, 5])
    array([0., 3., 2., 5.])
    """
    values = floats(course)
    if values.ndim != 1 or not values.size:
        raise ValueError(f"a course has shape {values.shape}; it must be one value after the other, and at least one")
    if not np.isfinite(values).all():
        place = int(np.argmin(np.isfinite(values)))
        raise ValueError(f"value {place + 1} of the course is {values[place]}; leave out what was not read")
    moved: Floats = values[np.concatenate([[True], np.diff(values) != 0])]
    if len(moved) < 3:
        return moved
    upward = np.diff(moved) > 0
    turns: Floats = moved[np.concatenate([[True], upward[1:] != upward[:-1], [True]])]
    return turns


def rainflow(course: ArrayLike) -> Cycles:
    """Count the cycles of a course.

    Parameters
    ----------
    course : array (sample,), SI

    Returns
    -------
    Cycles
        Closed cycles, then half cycles in the order of the course.

    Raises
    ------
    ValueError
        As `turning_points`.

    Notes
    -----
    A range between two longer ones is a closed cycle and is taken out; every pass takes out all that do not touch.

    The course printed in the standard has ranges of 3, 4, 6, 8, 9 with counts 0.5, 1.5, 0.5, 1.0, 0.5:

    >>> found = rainflow([-2, 1, -3, 5, -1, 3, -4, 4, -2])
    >>> {int(size): float(found.count[found.range == size].sum()) for size in sorted(set(found.range))}
    {3: 0.5, 4: 1.5, 6: 0.5, 8: 1.0, 9: 0.5}
    """
    points = turning_points(course)
    ends: list[Floats] = []
    while len(points) > 3:
        size = np.abs(np.diff(points))
        closed = np.zeros(len(size), dtype=bool)
        closed[1:-1] = (size[1:-1] <= size[:-2]) & (size[1:-1] <= size[2:])
        if not closed.any():
            break
        first = np.flatnonzero(_apart(closed))
        ends.append(np.stack([points[first], points[first + 1]]))
        points = np.delete(points, np.concatenate([first, first + 1]))
    half = np.stack([points[:-1], points[1:]])
    whole = np.concatenate([*ends, half], axis=1)
    count = np.where(np.arange(whole.shape[1]) < whole.shape[1] - half.shape[1], 1.0, 0.5)
    return Cycles(whole.min(axis=0), whole.max(axis=0), count)


def _apart(marked: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Alternate places of each run of marked places, beginning with the first: no two neighbours are left."""
    place = np.arange(len(marked))
    start = np.maximum.accumulate(np.where(marked & ~np.concatenate([[False], marked[:-1]]), place, 0))
    found: np.ndarray[tuple[int], np.dtype[np.bool_]] = marked & ((place - start) % 2 == 0)
    return found
