"""Branch and bound over the packs of all keys for a sum of squares: the best choice, and proof of how good it is.

Wanted is the choice with the least ``|A d + b|^2 + sum_i price_i``, d the interferences that it leads to. With
``A = Q R`` the keys are decided one after the other from the last row of R, and what the decided rows leave is the
least that any completion can reach: the others may take any value there, whole pieces or not. A limit on their mean
adds what it costs to bend them there. Every level of the tree is held at once as arrays. Where a level grows beyond its
width, the branches with the largest bounds are dropped, and the least of their bounds is what the optimum cannot lie
below: wider passes follow until nothing is dropped or the last width is reached. Nothing depends on a clock.

Order of the keys: sorted QR (Wuebben et al., Electronics Letters 37 (2001) 1348, from memory), which decides first what
weighs most. Bounds derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats, Interval, Places, floats
from rimmodel.planning.shim_sheet.packs import Packs
from rimmodel.rotor.shim_stock import ShimStock

WIDTHS = (64, 1024)
LARGEST = 250_000
"""Branches looked at in a level of the last pass: about a second for 24 keys."""
_RIDGE = 1e-5
"""Weight of each key by itself beside the largest column: what no pole shows is then still decided."""
_SLACK = 1e-12


@dataclass(frozen=True)
class Task:
    """A sum of squares to make small by packs of N keys, with what limits them.

    Attributes
    ----------
    matrix : array (P, N), -
        A.
    rest : array (P,), m
        b.
    present : array (N,), m
        Interferences before.
    packs : sequence of Packs
        Behind each key.
    price : array (N,), m2
        Added for each thickness whose error enters at a key.
    shims : ShimStock
        What the packs are made of.
    low, high : float, m
        Of the mean interference afterwards.
    each : pair of float, m
        Of every key by itself, which the packs keep.
    """

    matrix: Floats
    rest: Floats
    present: Floats
    packs: Sequence[Packs]
    price: Floats
    shims: ShimStock
    low: float
    high: float
    each: Interval = (-np.inf, np.inf)

    @property
    def stock(self) -> Places:
        """Pieces (T,) there are of each thickness."""
        return np.array([row.pieces for row in self.shims.stock], dtype=np.intp)


@dataclass(frozen=True)
class Found:
    """The best choice that was found, and what no choice lies below.

    Attributes
    ----------
    chosen : int array (N,)
        Pack of each key.
    value, bound : float, m2
        Alike where the choice is proven to be the best.
    """

    chosen: Places
    value: float
    bound: float


def best_packs(task: Task, widths: Sequence[int] | None = None) -> Found | None:
    """The packs with the least sum; None where there are none that stock and mean allow.

    Parameters
    ----------
    widths : sequence of int, optional
        Branches that a level may hold, pass by pass.

    Raises
    ------
    ArithmeticError
        No pass found a choice, and branches were dropped, so that there may be one.
    """
    tree = _Tree.of(task)
    best, bound, dropped = None, -np.inf, False
    if widths is None:
        widths = (*WIDTHS, max(2 * WIDTHS[-1], LARGEST // max(packs.change.size for packs in task.packs)))
    for width in widths:
        found, least = tree.descend(width, np.inf if best is None else best.value)
        dropped = bool(np.isfinite(least))
        if found is not None:
            best = found
        if best is not None:
            bound = max(bound, min(least, best.value))
            if best.value - bound <= _SLACK * max(best.value, 1e-18):
                break
        elif not dropped:
            return None
    if best is None:
        raise ArithmeticError("no choice of packs was found that stock and mean allow, and not all were looked at")
    return Found(best.chosen, best.value, min(bound, best.value))


@dataclass(frozen=True)
class _Level:
    """Packs of the key that a row of R decides, and what is left for the keys below it."""

    key: int
    d: Floats
    price: Floats
    pieces: Places
    below: Floats
    """Of the rows below, whose square is what bending the mean of the open keys costs."""
    least: float
    """Price of the open keys at least, m2."""
    span: tuple[float, float]
    """Least and largest sum of the open keys, m."""


@dataclass(frozen=True)
class _Tree:
    """The task turned to a triangle."""

    task: Task
    triangle: Floats
    start: Floats
    base: float
    levels: tuple[_Level, ...]
    total: tuple[float, float]

    @classmethod
    def of(cls, task: Task) -> _Tree:
        keys = task.present.size
        ridge = _RIDGE * float(np.sqrt((task.matrix**2).sum(axis=0).max())) * np.eye(keys)
        matrix = np.concatenate([task.matrix, ridge])
        middle = (
            0.5 * (task.low + task.high) if np.isfinite([task.low, task.high]).all() else float(task.present.mean())
        )
        rest = np.concatenate([task.rest, -ridge @ np.full(keys, middle)])
        order, triangle, turned = _sorted_triangle(matrix, rest)
        levels = []
        for row in range(keys):
            key, packs = int(order[row]), task.packs[order[row]]
            upper = triangle[:row, :row]
            below = floats(np.linalg.solve(upper.T, np.ones(row)))
            others = [(task.packs[k], task.present[k], task.price[k]) for k in order[:row]]
            span = tuple(sum(float(now + end(some.change)) for some, now, _ in others) for end in (np.min, np.max))
            least = sum(float(price * some.errors.min()) for some, _, price in others)
            levels.append(
                _Level(
                    key, task.present[key] + packs.change, task.price[key] * packs.errors, packs.pieces, below, least,
                    (span[0], span[1]),
                )
            )  # fmt: skip
        base = float(rest @ rest - turned @ turned)
        return cls(task, triangle, turned, base, tuple(levels), (keys * task.low, keys * task.high))

    def descend(self, width: int, ceiling: float) -> tuple[Found | None, float]:
        """The best choice below a ceiling with so many branches a level, and the least bound that was dropped."""
        keys, grain = len(self.levels), 1e-9
        stock = self.task.stock
        ahead, cost, total = self.start[None].copy(), np.array([self.base]), np.zeros(1)
        used = np.zeros((1, stock.size), dtype=np.intp)
        path = np.zeros((1, keys), dtype=np.intp)
        least = np.inf
        for row in range(keys - 1, -1, -1):
            level = self.levels[row]
            at = ahead[:, row, None] + self.triangle[row, row] * level.d
            costs = cost[:, None] + at**2 + level.price
            totals = total[:, None] + level.d
            column = self.triangle[:row, row]
            easy = totals - (ahead[:, :row] @ level.below)[:, None] - (column @ level.below) * level.d
            off = np.maximum(np.maximum(self.total[0] - easy, easy - self.total[1]), 0.0)
            bend = off**2 / float(level.below @ level.below) if row else np.where(off > grain, np.inf, 0.0)
            bounds = costs + bend + level.least
            fits = (totals + level.span[1] >= self.total[0] - grain) & (totals + level.span[0] <= self.total[1] + grain)
            fits &= bounds < ceiling * (1.0 - _SLACK)
            parent, pack = np.nonzero(fits)
            stocked = (used[parent] + level.pieces[pack] <= stock).all(axis=1)
            parent, pack = parent[stocked], pack[stocked]
            if not parent.size:
                return None, least
            bound = bounds[parent, pack]
            if parent.size > width:
                order = np.argpartition(bound, width)
                least = min(least, float(bound[order[width:]].min()))
                parent, pack = parent[order[:width]], pack[order[:width]]
            ahead = ahead[parent, :row] + np.multiply.outer(level.d[pack], column)
            cost, total = costs[parent, pack], totals[parent, pack]
            used, path = used[parent] + level.pieces[pack], path[parent]
            path[:, level.key] = pack
        best = int(np.argmin(cost))
        return Found(path[best], float(cost[best]), least), least


def _sorted_triangle(matrix: Floats, rest: Floats) -> tuple[Places, Floats, Floats]:
    """Order of the columns, R of the ordered matrix with a positive diagonal, and the rest turned alike."""
    left, order = matrix.copy(), np.arange(matrix.shape[1])
    for row in range(order.size):
        norms = (left[:, row:] ** 2).sum(axis=0)
        swap = row + int(np.argmin(norms))
        order[[row, swap]] = order[[swap, row]]
        left[:, [row, swap]] = left[:, [swap, row]]
        direction = left[:, row] / np.linalg.norm(left[:, row])
        left[:, row + 1 :] -= np.outer(direction, direction @ left[:, row + 1 :])
    turn, triangle = np.linalg.qr(matrix[:, order])
    signs = np.where(np.diag(triangle) < 0.0, -1.0, 1.0)
    return order, triangle * signs[:, None], (turn * signs).T @ rest
