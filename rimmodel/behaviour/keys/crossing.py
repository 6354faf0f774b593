"""The first of many curves to fall through zero, proven to be the first.

A curve is a row of a table: ``value + slope s + sum_j weight_j s/(1 + rate_j s)``, s from zero on. Each term of the sum
is convex or concave throughout. A convex one lies above its tangent and a concave one above its chord, so an interval
in which that bound stays positive holds no crossing: nothing is sampled, and nothing can hide between samples. The
first interval that is not cleared is cut until it is, or until what is left falls steadily through zero. Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rimmodel.arrays import Floats, Mask, floats

_CUTS = 8
_STEP = 1e-9
"""Share of a piece by which the search moves on at least."""


def terms(s: ArrayLike, rate: Floats) -> Floats:
    """1, s and s/(1 + rate s) at each s: what the columns of a table are multiplied with.

    Parameters
    ----------
    s : float or array (...), rad2/s2
    rate : array (m,), s2/rad2

    Returns
    -------
    array (..., m + 2), SI
        1 without dimension, the rest in rad2/s2.

    >>> terms(2.0, np.array([0.5])).tolist()
    [1.0, 2.0, 1.0]
    """
    step = floats(s)[..., None]
    out = np.empty((*step.shape[:-1], rate.shape[-1] + 2))  # filled in place: this is called the most
    out[..., 0], out[..., 1:2] = 1.0, step
    out[..., 2:] = step / (1.0 + rate * step)
    return out


def first_crossing(table: Floats, rate: Floats, length: float, full: float) -> tuple[float, Mask]:
    """Where the first of several rows falls through zero, and which rows do so there.

    Parameters
    ----------
    table : array (N, m + 2), SI
        Value, slope and weights of each row, value zero or above.
    rate : array (m,), s2/rad2
        ``1 + rate s`` is positive up to `length`.
    length : float, rad2/s2
        Range of s.
    full : float, SI
        Size of a large row; rows that start within 1e-10 of it count as zero and are read as their slope
        from there on.

    Returns
    -------
    step : float, rad2/s2
        `length` when no row falls.
    rows : bool array (N,)

    >>> one = first_crossing(np.array([[1.0, -0.5, 0.0], [3.0, -1.0, 0.0]]), np.zeros(1), 10.0, 3.0)
    >>> round(one[0], 12), one[1].tolist()
    (2.0, [True, False])
    """
    fresh = table[:, 0] <= 1e-10 * full
    if fresh.any():
        table = table.copy()
        table[fresh] = _divided(table[fresh], rate)
        backward = fresh & (table[:, 0] < 0.0)
        if backward.any():
            return 0.0, backward
    curves = _Curves(table, rate)
    fall = table[:, 1:].sum(axis=1)
    falling = fall < 0.0
    guess = float((table[falling, 0] / -fall[falling]).min(initial=np.inf))
    low, high = 0.0, min(length, 1.5 * guess)
    while low < length:
        edges = low + (high - low) / _CUTS * np.arange(_CUTS + 1.0)
        doubtful = ~curves.cleared(edges)
        where = doubtful.any(axis=1)
        if not where.any():
            low, high = high, min(length, high + max(4.0 * (high - low), _STEP * length))
            continue
        first = int(where.argmax())
        low, high = float(edges[first]), float(edges[first + 1])
        root, row, done = curves.resolve(doubtful[first].nonzero()[0], low, high)
        if row is not None:
            together = (np.abs(curves.at(root)) <= 1e-9 * full) & ~fresh
            if together.sum() > 1:
                together &= curves.slope_at(root) < 0.0
            together[row] = True
            return root, together
        if done or high - low <= 1e-15 * length:
            low, high = high, min(length, high + 4.0 * (high - low) + _STEP * length)
    return length, np.zeros(len(table), dtype=bool)


def _divided(table: Floats, rate: Floats) -> Floats:
    """Each row that starts at zero, divided by s: 1/(1 + rate s) is 1 - rate s/(1 + rate s)."""
    out = np.zeros_like(table)
    out[:, 0], out[:, 2:] = table[:, 1:].sum(axis=1), -table[:, 2:] * rate
    return out


@dataclass(frozen=True)
class _Curves:
    """Rows of a table, with bounds that hold over whole intervals."""

    table: Floats
    rate: Floats

    def at(self, s: float) -> Floats:
        """Every row at one step."""
        return floats(self.table @ terms(s, self.rate))

    def slope_at(self, s: float) -> Floats:
        """Slope of every row at one step."""
        return floats(self.table[:, 1] + self.table[:, 2:] @ (1.0 + self.rate * s) ** -2)

    def cleared(self, edges: Floats) -> Mask:
        """Whether each row is surely positive in each interval, shape (intervals, N)."""
        weight = self.table[:, 2:]
        bent = np.where(weight * self.rate < 0.0, weight, 0.0)
        rest = self.table.copy()
        rest[:, 2:] -= bent
        middle, half = 0.5 * (edges[1:] + edges[:-1])[:, None], 0.5 * (edges[1:] - edges[:-1])[:, None]
        stretch = 1.0 / (1.0 + self.rate * middle)
        tangent, tilt = (middle * stretch) @ bent.T, (half * stretch**2) @ bent.T
        chord = terms(edges, self.rate) @ rest.T
        clear: Mask = (chord[:-1] + tangent - tilt > 0.0) & (chord[1:] + tangent + tilt > 0.0)
        return clear

    def resolve(self, rows: NDArray[np.intp], low: float, high: float) -> tuple[float, int | None, bool]:
        """First root among these rows and its row (or None), once each is steady; and whether that is settled."""
        part = _Curves(self.table[rows], self.rate)
        ends = part.table[:, 2:] * (1.0 + self.rate * low) ** -2, part.table[:, 2:] * (1.0 + self.rate * high) ** -2
        falls = part.table[:, 1] + np.maximum(*ends).sum(axis=1) < 0.0
        rises = part.table[:, 1] + np.minimum(*ends).sum(axis=1) > 0.0
        if not (falls | rises).all():
            return high, None, False
        finish = part.at(high)
        left = falls & (finish < 0.0)
        if not left.any():
            return high, None, True
        if left.sum() == 1:
            only = int(left.argmax())
            return part.root(only, low, high), int(rows[only]), True
        root, row, heights = high, int(rows[0]), finish
        while left.any():  # what is below zero at a root came through earlier
            lowest = int(np.where(left, heights, np.inf).argmin())
            sooner = part.root(lowest, low, high)
            if sooner < root:
                root, row = sooner, int(rows[lowest])
            heights = part.at(root)
            left[lowest] = False
            left &= heights < 0.0
        return root, row, True

    def root(self, row: int, low: float, high: float) -> float:
        """Root of one row that falls steadily from low to high: Newton, kept inside."""
        value, slope, weight = float(self.table[row, 0]), float(self.table[row, 1]), self.table[row, 2:]
        s, fine = low, 4e-16 * high
        for _ in range(100):
            stretch = 1.0 / (1.0 + self.rate * s)
            height = value + s * (slope + float(weight @ stretch))
            low, high = (s, high) if height > 0.0 else (low, s)
            new = s - height / (slope + float(weight @ (stretch * stretch)))
            if not low <= new <= high:
                new = 0.5 * (low + high)
            if abs(new - s) <= fine:
                return new
            s = new
        return s
