"""Many points gathered into a few means, so that covariances between them stay small enough to be handled."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats
from rimmodel.evidence.knee.broken_line import Points

MOST_GROUPS = 96
"""Up to so many points each stays by itself; means of neighbours among more tell nearly as much."""

SWEEPS = 6.0
"""Ranges of x that a run goes through at most if its points follow each other in time; more, and only x orders them."""


@dataclass(frozen=True)
class Groups:
    """Which group each point belongs to, and the means of the groups (G).

    Attributes
    ----------
    member : int array (n,)
    points : Points
        Weighted means; the weights are those of means.
    moment : array (G,), unit of time
    own_error : array (G,) or None, unit of y
        Of the mean.
    readings : array (G,), -
        Points in each group.
    """

    member: NDArray[np.intp]
    points: Points
    moment: Floats
    own_error: Floats | None
    readings: Floats


def mean_by_group(values: Floats, member: NDArray[np.intp], weight: Floats) -> Floats:
    """Return the weighted mean of each group.

    Parameters
    ----------
    values : array (n,), unit of y
    member : int array (n,)
    weight : array (n,), -

    Returns
    -------
    array (G,), unit of y

    >>> mean_by_group(np.array([1.0, 3.0, 7.0]), np.array([0, 0, 1]), np.ones(3)).tolist()
    [2.0, 7.0]
    """
    total: Floats = np.bincount(member, values * weight) / np.bincount(member, weight)
    return total


def grouped(points: Points, moment: Floats, own_error: Floats | None) -> Groups:
    """Gather neighbours in time, or in x where the points come in no order, into `MOST_GROUPS` means at most.

    Points of equal x that follow each other are never mixed with others unless there are more such dwells than groups.

    Parameters
    ----------
    moment : array (n,), unit of time
    own_error : array (n,) or None, unit of y

    Returns
    -------
    Groups
    """
    count = len(points.x)
    if count <= MOST_GROUPS:
        member = np.arange(count)
    else:
        order = np.argsort(moment, kind="stable")
        if points.noise_known or np.abs(np.diff(points.x[order])).sum() > SWEEPS * np.ptp(points.x):
            order = np.argsort(points.x, kind="stable")
        member = np.empty(count, dtype=np.intp)
        member[order] = _cut(points.x[order])
    weight = points.weight**2
    summed = np.bincount(member, weight)
    readings = np.bincount(member).astype(float)
    means = Points(
        mean_by_group(points.x, member, weight), mean_by_group(points.y, member, weight),
        np.sqrt(summed) if points.noise_known else np.ones(len(summed)), points.noise_known, points.sign,
    )  # fmt: skip
    own = None if own_error is None else np.sqrt(mean_by_group(own_error**2, member, weight) / readings)
    return Groups(member, means, mean_by_group(moment, member, weight), own, readings)


def _cut(x: Floats) -> NDArray[np.intp]:
    """Return the group of each of the points in order: stays at one x, or all where they are many, cut evenly."""
    new = np.concatenate([[True], np.diff(x) != 0.0])
    stay = np.cumsum(new) - 1
    stays = int(stay[-1]) + 1
    if stays > MOST_GROUPS // 2:
        return np.arange(len(x)) * MOST_GROUPS // len(x)
    each = MOST_GROUPS // stays
    length = np.bincount(stay)
    place = np.arange(len(x)) - np.flatnonzero(new)[stay]
    parts = np.minimum(each, length)[stay]
    within = place * parts // length[stay]
    first = np.concatenate([[0], np.cumsum(np.minimum(each, length))[:-1]])
    return np.asarray(first[stay] + within)
