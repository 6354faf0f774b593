"""The first of many curves to fall through zero, for many sets of curves at once, proven to be the first.

A curve is a row of a table: ``value + slope s + sum_j weight_j s d_j(s)`` with ``d_j(s) = 1/(1 + rate_j s)``, s from
zero on. Since ``s d_j(s) - l d_j(l) = (s - l) d_j(l) d_j(s)``, a curve that is at f(l) is, without approximation, ::

    f(s) = f(l) + (s - l) [slope + sum_j weight_j d_j(l) d_j(s)]

and d_j(s) lies between its values at the ends of any interval [l, h] that holds s. So each curve lies between two
straight lines from f(l). No curve is below zero before the first lower line is, and one surely is where the first
upper line is: both ends move inward to there, and the interval shrinks with the square of its width. Nothing is
sampled, and nothing can hide between samples. Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats, Mask, Places, floats

_FINE = 4e-16
"""Share of s to which a root is found."""
_STEP = 1e-9
"""Share of the range by which the search moves on at least."""
_ROUNDS = 20_000


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


def first_crossings(table: Floats, rate: Floats, reach: Floats, full: Floats) -> tuple[Floats, Mask]:
    """Where the first row of each of n sets falls through zero, and which of its rows do so there.

    Parameters
    ----------
    table : array (n, N, m + 2), SI
        Value, slope and weights of each row, value zero or above.
    rate : array (n, m), s2/rad2
        ``1 + rate s`` is positive up to `reach`.
    reach : array (n,), rad2/s2
        Range of s.
    full : array (n,), SI
        Size of a large row; rows that start within 1e-10 of it count as zero and are read as their slope
        from there on.

    Returns
    -------
    step : array (n,), rad2/s2
        `reach` when no row falls.
    rows : bool array (n, N)

    Raises
    ------
    ArithmeticError
        Curves that are not finite.

    >>> two = np.array([[[1.0, -0.5, 0.0], [3.0, -1.0, 0.0]], [[1.0, 0.5, 0.0], [3.0, -1.0, 0.0]]])
    >>> one = first_crossings(two, np.zeros((2, 1)), np.full(2, 10.0), np.full(2, 3.0))
    >>> one[0].round(12).tolist(), one[1].tolist()
    ([2.0, 3.0], [[True, False], [False, True]])
    """
    fresh = table[:, :, 0] <= 1e-10 * full[:, None]
    backward: Mask = np.zeros(full.size, dtype=bool)
    rows: Mask = np.zeros_like(fresh)
    if fresh.any():
        table = table.copy()
        own = fresh.nonzero()[0]
        table[fresh] = _divided(table[fresh], rate[own])
        rows = fresh & (table[:, :, 0] < 0.0)
        backward = np.any(rows, axis=1)
    step = np.where(backward, 0.0, reach)
    live = np.flatnonzero((step > 0.0) & ~backward)
    search = _started(table, rate, reach, live)
    for _ in range(_ROUNDS):
        if not live.size:
            return step, rows
        row, clear = search.narrow()
        found = row >= 0
        if found.any():
            done = live[found]
            step[done] = search.high[found]
            part = search if done.size == live.size else search.only(found)
            rows[done] = part.together(row[found], full[done], fresh[done])
            if done.size == full.size:
                return step, rows
        going = ~(found | clear)
        if not going.all():
            live, search = live[going], search.only(going)
    raise ArithmeticError("keys: no end in the search for the next event; are all stiffnesses of the keys finite?")


def _divided(row: Floats, rate: Floats) -> Floats:
    """Each row that starts at zero, divided by s: 1/(1 + rate s) is 1 - rate s/(1 + rate s)."""
    out = np.zeros_like(row)
    out[:, 0], out[:, 2:] = row[:, 1:].sum(axis=1), -row[:, 2:] * rate
    return out


@dataclass(frozen=True)
class _Search:
    """Curves of the sets still searched, and the interval from `low` to `high` in which each set looks next.

    No row is below zero up to `low`; `reach` ends the range. `size` is the absolute of `weight`.
    """

    value: Floats
    slope: Floats
    weight: Floats
    size: Floats
    rate: Floats
    reach: Floats
    low: Floats
    high: Floats

    def only(self, sets: Mask) -> _Search:
        """A part of the sets."""
        parts = self.value, self.slope, self.weight, self.size, self.rate, self.reach, self.low, self.high
        return _Search(*(part[sets] for part in parts))

    def narrow(self) -> tuple[Places, Mask]:
        """Move both ends of each set, in place: its row whose root is found (-1: none), and which are clear to the end.

        Where no row surely falls through zero before `high`, the search looks less far ahead, or, once all rows are
        above zero up to there, farther.
        """
        low, high, width = self.low, self.high, self.high - self.low
        stretch = 1.0 / (1.0 + self.rate * low[:, None])
        near, far = stretch * stretch, stretch / (1.0 + self.rate * high[:, None])
        middle, half = 0.5 * (near + far), 0.5 * np.abs(near - far)
        height = self.value + (self.slope + _times(self.weight, stretch)) * low[:, None]
        tilt, play = self.slope + _times(self.weight, middle), _times(self.size, half)
        at_earliest, at_latest = _where_zero(height, play - tilt), _where_zero(height, -play - tilt)
        row = at_latest.argmin(axis=1)
        before = at_earliest.min(axis=1)
        after = at_latest[np.arange(row.size), row]
        clear = before >= width
        sure = (after <= width) & ~clear
        before, after = np.minimum(np.maximum(before, 0.0), width), np.maximum(after, 0.0)
        end = np.where(sure, low + after, low + before + 0.25 * (width - before))
        start = np.minimum(low + before, end)
        found = sure & (end - start <= _FINE * end)
        # a curve that touches zero and turns back is no event
        past = clear | (~sure & (end - start <= 1e-15 * self.reach))
        finished = clear & (high >= self.reach)
        ahead = np.minimum(self.reach, np.where(clear, high, end) + 4.0 * width + _STEP * self.reach)
        self.low[:] = np.where(clear, high, np.where(past, end, start))
        self.high[:] = np.where(past, ahead, end)
        finished |= self.low >= self.reach
        return np.where(found, row, -1), finished & ~found

    def together(self, row: Places, full: Floats, fresh: Mask) -> Mask:
        """Rows that fall through zero at `high`: the one found, and those that do so with it."""
        every = np.arange(row.size)
        stretch = 1.0 / (1.0 + self.rate * self.high[:, None])
        height = self.value + (self.slope + _times(self.weight, stretch)) * self.high[:, None]
        near: Mask = (np.abs(height) <= 1e-9 * full[:, None]) & ~fresh
        near[every, row] = True
        if near.sum() > row.size:
            near &= self.slope + _times(self.weight, stretch * stretch) < 0.0
            near[every, row] = True
        return near


def _started(table: Floats, rate: Floats, reach: Floats, sets: Places) -> _Search:
    """The search of these sets before its first step: as far as the first row that crosses if all go straight."""
    if sets.size < len(table):
        table, rate, reach = table[sets], rate[sets], reach[sets]
    value, slope, weight = table[:, :, 0], table[:, :, 1], table[:, :, 2:]
    guess = _where_zero(value, -(slope + weight.sum(axis=2))).min(axis=1)
    high = np.minimum(reach, 1.02 * guess)
    return _Search(value, slope, weight, np.abs(weight), rate, reach, np.zeros(sets.size), high)


def _where_zero(height: Floats, steep: Floats) -> Floats:
    """Distance at which a straight line of this fall gets to zero; inf where it does not fall."""
    return np.divide(height, steep, out=np.full_like(height, np.inf), where=steep > 0.0)


def _times(matrix: Floats, vector: Floats) -> Floats:
    """Matrix (n, a, b) times the vector (n, b) of each set."""
    return floats((matrix @ vector[:, :, None])[:, :, 0])
