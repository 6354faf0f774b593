"""The first crossing of `rimmodel.behaviour.keys.crossing` for many sets of curves at once, each with its own rates.

Bounds, cuts and Newton steps are those of `first_crossing`, where they are explained and derived. All sets are cut in
the same pass, and one that is done drops out: no set's result hangs on the others.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats, Mask, Places, floats
from rimmodel.behaviour.keys.crossing import _CUTS, _STEP, _divided, terms


def first_crossings(table: Floats, rate: Floats, reach: Floats, full: Floats) -> tuple[Floats, Mask]:
    """Where the first row of each of n sets falls through zero, and which of its rows do so there.

    Parameters
    ----------
    table : array (n, N, m + 2), SI
        Of each set as in `first_crossing`.
    rate : array (n, m), s2/rad2
    reach : array (n,), rad2/s2
        Range of s.
    full : array (n,), SI

    Returns
    -------
    step : array (n,), rad2/s2
        `reach` when no row falls.
    rows : bool array (n, N)

    >>> two = np.array([[[1.0, -0.5, 0.0], [3.0, -1.0, 0.0]], [[1.0, 0.5, 0.0], [3.0, -1.0, 0.0]]])
    >>> one = first_crossings(two, np.zeros((2, 1)), np.full(2, 10.0), np.full(2, 3.0))
    >>> one[0].round(12).tolist(), one[1].tolist()
    ([2.0, 3.0], [[True, False], [False, True]])
    """
    fresh = table[:, :, 0] <= 1e-10 * full[:, None]
    table = table.copy()
    table[fresh] = _divided(table[fresh], rate[fresh.nonzero()[0]])
    curves = _curves(table, rate)
    rows = fresh & (table[:, :, 0] < 0.0)
    backward = rows.any(axis=1)
    step = np.where(backward, 0.0, reach)
    low, high = np.where(backward, np.inf, 0.0), np.minimum(reach, 1.5 * _straight_guess(table))
    while (live := np.flatnonzero(low < reach)).size:
        part, begin, end = curves.only(live), low[live], high[live]
        begin, end, doubtful = part.first_doubtful(begin, end)
        root, row, settled = part.resolve(doubtful, begin, end)
        width = end - begin
        settled |= width <= 1e-15 * reach[live]
        low[live] = np.where(settled, end, begin)
        high[live] = np.where(settled, np.minimum(reach[live], end + 4.0 * width + _STEP * reach[live]), end)
        found = np.flatnonzero(row >= 0)
        done = live[found]
        step[done], low[done] = root[found], np.inf
        rows[done] = part.only(found).together(root[found], row[found], full[done], fresh[done])
    return step, rows


def _straight_guess(table: Floats) -> Floats:
    """Where the first row of each set would cross if it went on as it starts; inf where none falls."""
    fall = table[:, :, 1:].sum(axis=2)
    falling = fall < 0.0
    return floats(np.where(falling, table[:, :, 0] / np.where(falling, -fall, 1.0), np.inf).min(axis=1))


@dataclass(frozen=True)
class _Curves:
    """Tables (n, N, m + 2) and rates (n, m) of n sets, each table split in two for the bounds.

    `bent` (n, N, m) are the weights of the convex terms, above their tangents, `rest` (n, N, m + 2) is above its chord.
    """

    table: Floats
    rate: Floats
    bent: Floats
    rest: Floats

    def only(self, sets: Places) -> _Curves:
        """A part of the sets."""
        return _Curves(self.table[sets], self.rate[sets], self.bent[sets], self.rest[sets])

    def at(self, s: Floats) -> Floats:
        """Every row of each set at its own step."""
        return floats((self.table @ terms(s, self.rate)[:, :, None])[:, :, 0])

    def first_doubtful(self, low: Floats, high: Floats) -> tuple[Floats, Floats, Mask]:
        """First part from low to high where a row of the set is not surely positive, and these rows; else all of it."""
        edges = low[:, None] + ((high - low) / _CUTS)[:, None] * np.arange(_CUTS + 1.0)
        doubtful = ~self._cleared(edges)
        own, first = np.arange(low.size), doubtful.any(axis=1).argmax(axis=1)
        rows = doubtful[own, :, first]
        cut = rows.any(axis=1)
        return np.where(cut, edges[own, first], low), np.where(cut, edges[own, first + 1], high), rows

    def _cleared(self, edges: Floats) -> Mask:
        """Whether each row is surely positive in each interval of its set, shape (n, N, intervals)."""
        rate = self.rate[:, None, :]
        middle = 0.5 * (edges[:, 1:] + edges[:, :-1])[:, :, None]
        half = 0.5 * (edges[:, 1:] - edges[:, :-1])[:, :, None]
        stretch = 1.0 / (1.0 + rate * middle)
        tangent, tilt = self.bent @ (middle * stretch).mT, self.bent @ (half * stretch**2).mT
        chord = self.rest @ terms(edges, rate).mT
        clear: Mask = (chord[:, :, :-1] + tangent - tilt > 0.0) & (chord[:, :, 1:] + tangent + tilt > 0.0)
        return clear

    def _slopes(self, s: Floats) -> Floats:
        """Slope of each weighted term of every row at one step a set, shape (n, N, m)."""
        stretch = 1.0 / (1.0 + self.rate * s[:, None])
        return floats(self.table[:, :, 2:] * (stretch * stretch)[:, None, :])

    def resolve(self, rows: Mask, low: Floats, high: Floats) -> tuple[Floats, Places, Mask]:
        """First root among these rows and its row (-1: none), once each is steady; and whether that is settled."""
        ends = self._slopes(low), self._slopes(high)
        falls = self.table[:, :, 1] + np.maximum(*ends).sum(axis=2) < 0.0
        rises = self.table[:, :, 1] + np.minimum(*ends).sum(axis=2) > 0.0
        settled: Mask = (falls | rises | ~rows).all(axis=1)
        heights = self.at(high)
        left = rows & falls & (heights < 0.0) & settled[:, None]
        root, row = high.copy(), np.full(high.size, -1)
        while (busy := np.flatnonzero(left.any(axis=1))).size:  # what is below zero at a root came through earlier
            lowest = np.where(left[busy], heights[busy], np.inf).argmin(axis=1)
            sooner = _falling_root(self.table[busy, lowest], self.rate[busy], low[busy], high[busy])
            better = (sooner < root[busy]) | (row[busy] < 0)
            root[busy], row[busy] = np.where(better, sooner, root[busy]), np.where(better, lowest, row[busy])
            left[busy, lowest] = False
            more = np.flatnonzero(left.any(axis=1))
            heights[more] = self.only(more).at(root[more])
            left[more] &= heights[more] < 0.0
        return root, row, settled

    def together(self, root: Floats, row: Places, full: Floats, fresh: Mask) -> Mask:
        """Rows that fall through zero at the root of their set: the one found, and those that do so with it."""
        near: Mask = (np.abs(self.at(root)) <= 1e-9 * full[:, None]) & ~fresh
        near[np.arange(row.size), row] = True
        several = np.flatnonzero(near.sum(axis=1) > 1)
        if several.size:
            part = self.only(several)
            near[several] &= part.table[:, :, 1] + part._slopes(root[several]).sum(axis=2) < 0.0
            near[several, row[several]] = True
        return near


def _curves(table: Floats, rate: Floats) -> _Curves:
    """Curves with convex and concave terms separated once for all intervals."""
    weight = table[:, :, 2:]
    bent = np.where(weight * rate[:, None, :] < 0.0, weight, 0.0)
    rest = table.copy()
    rest[:, :, 2:] -= bent
    return _Curves(table, rate, bent, rest)


def _falling_root(row: Floats, rate: Floats, low: Floats, high: Floats) -> Floats:
    """Root of one row (n, m + 2) a set that falls steadily from low to high: Newton, kept inside, as in `root`."""
    value, slope, weight = row[:, 0], row[:, 1], row[:, 2:]
    s, fine, going = low, 4e-16 * high, np.ones(low.size, dtype=bool)
    for _ in range(100):
        stretch = 1.0 / (1.0 + rate * s[:, None])
        bent = weight * stretch
        height = value + s * (slope + bent.sum(axis=1))
        above = height > 0.0
        low, high = np.where(above, s, low), np.where(above, high, s)
        new = s - height / (slope + (bent * stretch).sum(axis=1))
        new = np.where((low <= new) & (new <= high), new, 0.5 * (low + high))
        step, s = np.abs(new - s), np.where(going, new, s)
        going &= step > fine
        if not going.any():
            break
    return s
