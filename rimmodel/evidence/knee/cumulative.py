"""Probability that a knee lies below each place of a grid, and the interval that it leaves."""

from __future__ import annotations

import math

import numpy as np

from rimmodel.arrays import Floats


def cell_sizes(knees: Floats) -> Floats:
    """Return the length of x that each knee of a grid stands for.

    Parameters
    ----------
    knees : array (K,), unit of x

    Returns
    -------
    array (K,), unit of x

    >>> cell_sizes(np.array([0.0, 1.0, 4.0])).tolist()
    [0.5, 2.0, 1.5]
    """
    steps = np.diff(knees)
    sizes: Floats = 0.5 * (np.concatenate([[0.0], steps]) + np.concatenate([steps, [0.0]]))
    return sizes


def cumulative_of(knees: Floats, chance: Floats, below: float, above: float) -> Floats:
    """Return the probability (K,) that a knee lies below each of a grid, straight between them.

    Parameters
    ----------
    knees : array (K,), unit of x
    chance : array (K,), -
        Relative.
    below, above : float, -
        Probability outside of the grid.

    Returns
    -------
    array (K,), -

    >>> cumulative_of(np.array([0.0, 1.0, 2.0]), np.ones(3), 0.2, 0.0).round(3).tolist()
    [0.2, 0.6, 1.0]
    """
    climbed = np.concatenate([[0.0], np.cumsum(0.5 * (chance[1:] + chance[:-1]) * np.diff(knees))])
    total: Floats = below + climbed * ((1.0 - below - above) / climbed[-1] if climbed[-1] > 0.0 else 0.0)
    return total


def interval_of(knees: Floats, cumulative: Floats, confidence: float) -> tuple[float, float]:
    """Return the knees with equal probability beyond either; infinite where that lies outside of the grid.

    Parameters
    ----------
    knees : array (K,), unit of x
    cumulative : array (K,), -
    confidence : float, -

    Returns
    -------
    pair of float, unit of x

    A tenth lies above 1, so the lower end of 90 % is where 5 % lie below: 0.05/0.9 of the distance to 1.

    >>> low, high = interval_of(np.array([0.0, 1.0]), np.array([0.0, 0.9]), 0.9)
    >>> round(low, 4), high
    (0.0556, inf)
    """
    tail, low, high = 0.5 * (1.0 - confidence), -math.inf, math.inf
    if cumulative[0] < tail:
        low = crossing(tail, cumulative, knees)
    if cumulative[-1] > 1.0 - tail:
        high = crossing(1.0 - tail, cumulative, knees)
    return low, high


def crossing(level: float, cumulative: Floats, knees: Floats) -> float:
    """Return the knee below which a probability lies, straight between those of a grid.

    Parameters
    ----------
    level : float, -
    cumulative : array (K,), -
        Rising.
    knees : array (K,), unit of x

    Returns
    -------
    float, unit of x

    >>> crossing(0.25, np.array([0.0, 0.5, 1.0]), np.array([1.0, 2.0, 4.0]))
    1.5
    """
    after = int(np.searchsorted(cumulative, level))
    after = min(max(after, 1), len(knees) - 1)
    rise = cumulative[after] - cumulative[after - 1]
    share = (level - cumulative[after - 1]) / rise if rise > 0.0 else 0.0
    return float(knees[after - 1] + share * (knees[after] - knees[after - 1]))
