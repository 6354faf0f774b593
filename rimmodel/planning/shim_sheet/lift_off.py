"""The packs with which the first key lifts off at the highest speed: a line of integer programmes, each with its bound.

Up to the first lift-off every key presses, and at any speed its force is a straight line in the interferences. A
choice whose first lift-off lies above a speed therefore leaves every key a force there. So the least key force at the
best speed known is made as large as whole pieces allow: if it stays at zero, no choice lifts off later, which is the
proof; if not, the choice found lifts off later, by the contact key by key, and its speed is the next. This is Newton's
step on a falling function (Dinkelbach, Management Science 13 (1967) 492, from memory). Derived here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from rimmodel.arrays import Floats, Places
from rimmodel.planning.shim_sheet.packs import change_of, pieces_used, scarce_kinds
from rimmodel.planning.shim_sheet.roundness import Roundness
from rimmodel.planning.shim_sheet.search import Task
from rimmodel.units import MILLIMETRE

FirstLiftOff = Callable[[Floats], float]
"""From interferences (N,) m to the speed squared of the first lift-off, by the contact key by key."""

LARGEST_PROGRAMME = 45
"""Keys times thicknesses up to which the integer programme is solved; above it, its bound is that of cut pieces."""
_WORK = 40_000
"""Branches of an integer programme times the square of that number."""
STEPS = 3
"""Integer programmes at most."""
_NEAREST = 12
"""Packs of a key that are tried in an exchange, the nearest in thickness."""
_GRAIN = 1e-12
_REACH = 4
"""Keys to each side of the weakest that count as near it."""
_PER_PIECE = 1e-6 * MILLIMETRE
"""Interference that a piece counts as, so that of equal choices that of fewest pieces is taken."""
_NOTHING = 1e-4 * MILLIMETRE
"""Interference within which a force counts as zero: a hundredth of what a micrometer reads."""


@dataclass(frozen=True)
class Highest:
    """The choice of the highest first lift-off that was found, and what no choice exceeds.

    Attributes
    ----------
    chosen : int array (N,)
        Pack of each key.
    value, bound : float, rad2/s2
        Speed squared.
    """

    chosen: Places
    value: float
    bound: float


def highest_lift_off(
    task: Task,
    starts: Sequence[Places],
    pressing: Callable[[float], tuple[Floats, Floats]],
    first_lift_off: FirstLiftOff,
    roundness: Roundness | None = None,
) -> Highest:
    """The packs of the highest first lift-off that stock, mean and roundness allow.

    `pressing` leads from speed squared to influence (N, N) N/m and rest (N,) N of the key forces.

    Parameters
    ----------
    task : Task
        Its sum of squares is not used.
    starts : sequence of int array (N,)
        Choices that stock and mean allow, each of which is bettered by exchanges; those that are not round enough
        are left out, and at least one must be.
    roundness : Roundness, optional
        What the rim must keep.
    """
    starts = [start for start in starts if _is_round(task, start, roundness)]
    reached = [_bettered(task, start, pressing, first_lift_off, roundness) for start in starts]
    best, value = max(reached, key=lambda end: end[1])
    programme, excess = _Programme(task, roundness), np.inf
    for _ in range(STEPS if programme.keys * programme.kinds <= LARGEST_PROGRAMME else 0):
        found, excess = programme.solve(*pressing(value))
        if excess <= _NOTHING or found is None or not _is_round(task, found, roundness):
            break
        better, later = _bettered(task, found, pressing, first_lift_off, roundness)
        if later <= value * (1.0 + 1e-12):
            break
        best, value = better, later
    return Highest(best, value, value if excess <= _NOTHING else _ceiling(programme, pressing, value))


def _is_round(task: Task, chosen: Places, roundness: Roundness | None) -> bool:
    return roundness is None or bool(roundness.kept(_keys(task, chosen)))


def _bettered(
    task: Task,
    chosen: Places,
    pressing: Callable[[float], tuple[Floats, Floats]],
    first_lift_off: FirstLiftOff,
    roundness: Roundness | None,
) -> tuple[Places, float]:
    """A choice after exchanges, each round at the speed squared that the last one reached, and what it reaches."""
    value = first_lift_off(_keys(task, chosen))
    while True:
        found = exchanged(task, chosen, *pressing(value), roundness)
        reached = first_lift_off(_keys(task, found))
        if reached <= value * (1.0 + 1e-12):
            return chosen, value
        chosen, value = found, reached


def exchanged(
    task: Task, chosen: Places, influence: Floats, rest: Floats, roundness: Roundness | None = None
) -> Places:
    """A choice whose least key force no other pack at one key, and no exchange between two keys, makes larger.

    One of the two is the key of the least force or near it.

    Parameters
    ----------
    chosen : int array (N,)
        Where to start.
    influence : array (N, N), N/m
    rest : array (N,), N
    roundness : Roundness, optional
        What every step must keep.
    """
    keys, stock = task.present.size, task.stock
    while True:
        d, every = _keys(task, chosen), np.arange(keys)
        force, used = influence @ d + rest, pieces_used(task.packs, chosen).sum(axis=0)
        change, pieces, packs = _moves(task, chosen)
        best, least = None, float(force.min()) + 1e-9 * float(np.abs(force).max())
        weak = int(np.argmin(force))  # to raise its force, it or a key near it must change
        for first in sorted({(weak + step) % keys for step in range(-_REACH, _REACH + 1)}):
            both = change[first][:, None, None] + change  # (own move, other key, its move)
            mean = (d.sum() + both) / keys
            fits = (mean <= task.high + _GRAIN) & (mean >= task.low - _GRAIN) & (every != first)[:, None]
            fits &= (used + pieces[first][:, None, None] + pieces <= stock).all(axis=3)
            own, other, its = np.nonzero(fits)
            after = force + change[first][own, None] * influence[first] + change[other, its][:, None] * influence[other]
            low = after.min(axis=1)
            if roundness is not None and low.size:
                low = _where_round(roundness, d, low, least, (first, change[first][own]), (other, change[other, its]))
            if low.size and low.max() > least:
                move = int(np.argmax(low))
                least = float(low[move])
                best = (first, packs[first, own[move]], other[move], packs[other[move], its[move]])
        if best is None:
            return chosen
        chosen = chosen.copy()
        chosen[best[0]], chosen[best[2]] = best[1], best[3]


def _where_round(
    roundness: Roundness,
    keys: Floats,
    low: Floats,
    least: float,
    one: tuple[int, Floats],
    other: tuple[Places, Floats],
) -> Floats:
    """Least forces (n,) after moves, -inf where a move that would be an advance leaves the rim not round enough."""
    better = np.flatnonzero(low > least)
    moved = np.tile(keys, (better.size, 1))
    moved[:, one[0]] += one[1][better]
    moved[np.arange(better.size), other[0][better]] += other[1][better]
    kept = np.full(low.size, -np.inf)
    good = better[roundness.kept(moved)]
    kept[good] = low[good]
    return kept


def _moves(task: Task, chosen: Places) -> tuple[Floats, Places, Places]:
    """Change (N, m), pieces (N, m, T) and pack (N, m) of the packs nearest to those of a choice, itself the first."""
    count = min(_NEAREST, *(packs.change.size for packs in task.packs))
    change, pieces, near = [], [], []
    for packs, now in zip(task.packs, chosen, strict=True):
        step = np.abs(packs.change - packs.change[now])
        step[now] = -1.0
        nearest = np.argsort(step, kind="stable")[:count]
        change.append(packs.change[nearest] - packs.change[now])
        pieces.append(packs.pieces[nearest] - packs.pieces[now])
        near.append(nearest)
    return np.array(change), np.array(pieces), np.array(near)


def _keys(task: Task, chosen: Places) -> Floats:
    return task.present + change_of(task.packs, chosen)


def _ceiling(programme: _Programme, pressing: Callable[[float], tuple[Floats, Floats]], value: float) -> float:
    """Speed squared at which no choice leaves every key a force, by bounds alone: bracketed and halved."""
    high = 1.02 * value
    while programme.solve(*pressing(high), relaxed=True)[1] > _NOTHING:
        high *= 1.05
    low = value
    for _ in range(8):
        middle = 0.5 * (low + high)
        if programme.solve(*pressing(middle), relaxed=True)[1] > _NOTHING:
            low = middle
        else:
            high = middle
    return high


class _Programme:
    """Pieces of each thickness at each key, packs taken out, and the least key force, as an integer programme.

    Columns: pieces key by key, one switch a key for its present pack, the least force as even interference, and one
    that is fixed: it makes the relative gap of the solver an absolute gap. Lengths count in hundredths of a millimetre.
    """

    _UNIT = 0.01 * MILLIMETRE
    _FIXED = 1000.0

    def __init__(self, task: Task, roundness: Roundness | None = None) -> None:
        self.task, self.roundness = task, roundness
        self.keys, self.kinds = task.present.size, task.stock.size
        self.thickness = np.array([row.thickness for row in task.shims.stock])
        self.most, self.scarce = int(task.shims.most_pieces), scarce_kinds(task.shims, self.keys)
        present = task.shims.present_packs
        self.removable = np.zeros(self.keys) if present is None else np.array(present)
        self.size = self.keys * self.kinds + self.keys + 2

    def solve(self, influence: Floats, rest: Floats, *, relaxed: bool = False) -> tuple[Places | None, float]:
        """A choice with the largest least key force, None without, and what that cannot exceed, m of even interference.

        Parameters
        ----------
        influence : array (N, N), N/m
        rest : array (N,), N
        relaxed : bool
            The bound alone, with parts of pieces allowed.
        """
        from scipy.optimize import Bounds, milp

        whole = np.zeros(self.size) if relaxed else np.concatenate([np.ones(self.size - 2), np.zeros(2)])
        low, high = np.zeros(self.size), np.full(self.size, float(self.most))
        at = self.keys * self.kinds
        high[at : at + self.keys] = self.removable > 0.0
        low[-2], high[-2] = -np.inf, np.inf
        low[-1] = high[-1] = 1.0
        cost = np.zeros(self.size)
        cost[:at], cost[-2], cost[-1] = _PER_PIECE / self._UNIT, -1.0, -self._FIXED
        options: Any = {"mip_rel_gap": _NOTHING / self._UNIT / self._FIXED, "node_limit": _WORK // at**2}
        limits = [*self._limits(), self._forces(influence, rest)]
        found = milp(cost, integrality=whole, bounds=Bounds(low, high), constraints=limits, options=options)
        dual = found.mip_dual_bound if not relaxed else found.fun
        bound = np.inf if dual is None or not np.isfinite(dual) else (-dual - self._FIXED) * self._UNIT
        bound += self.keys * self.most * _PER_PIECE
        return (None if found.x is None or relaxed else self._chosen(np.round(found.x[:-2]).astype(np.intp))), bound

    def _forces(self, influence: Floats, rest: Floats) -> Any:
        """Each key force at least the least, as interference of an even fit."""
        from scipy.optimize import LinearConstraint

        even = float(influence.sum(axis=1).mean())
        rows = np.zeros((self.keys, self.size))
        rows[:, : self.keys * self.kinds] = np.kron(influence, self.thickness[None, :]) / even / self._UNIT
        rows[:, self.keys * self.kinds : -2] = -influence * self.removable / even / self._UNIT
        rows[:, -2] = -1.0
        return LinearConstraint(rows, -(influence @ self.task.present + rest) / even / self._UNIT, np.inf)

    def _limits(self) -> list[Any]:
        """Roundness, stock, pieces behind one key, and the interference of each key and of their mean."""
        from scipy.optimize import LinearConstraint

        task, keys, kinds, at = self.task, self.keys, self.kinds, self.keys * self.kinds
        stock, pack = np.zeros((kinds, self.size)), np.zeros((keys, self.size))
        stock[:, :at], pack[:, :at] = np.tile(np.eye(kinds), keys), np.kron(np.eye(keys), np.ones(kinds))
        mean = np.zeros((1, self.size))
        mean[0, :at], mean[0, at:-2] = np.tile(self.thickness, keys), -self.removable
        mean /= keys * self._UNIT
        own = np.zeros((keys, self.size))
        own[:, :at], own[:, at:-2] = np.kron(np.eye(keys), self.thickness), -np.diag(self.removable)
        own /= self._UNIT
        room = [(edge - task.present) / self._UNIT for edge in (task.each[0] - _GRAIN, task.each[1] + _GRAIN)]
        level = float(task.present.mean())
        of_round = []
        if self.roundness is not None:
            shape, least, most = self.roundness.straight()
            off, moved = shape @ task.present, np.zeros((len(shape), self.size))
            moved[:, :at], moved[:, at:-2] = np.kron(shape, self.thickness[None, :]), -shape * self.removable
            of_round = [LinearConstraint(moved / self._UNIT, (least - off) / self._UNIT, (most - off) / self._UNIT)]
        return [
            *of_round,
            LinearConstraint(stock, -np.inf, task.stock),
            LinearConstraint(pack, -np.inf, self.most),
            LinearConstraint(own, *room),
            LinearConstraint(mean, (task.low - level) / self._UNIT, (task.high - level) / self._UNIT),
        ]

    def _chosen(self, columns: Places) -> Places:
        """The packs that the columns stand for: the same change with no more of anything scarce."""
        at, chosen = self.keys * self.kinds, []
        for key, packs in enumerate(self.task.packs):
            own, out = columns[key * self.kinds : (key + 1) * self.kinds], columns[at + key] > 0
            change = float(own @ self.thickness) - (self.removable[key] if out else 0.0)
            same = np.flatnonzero(np.abs(packs.change - change) < 0.5e-7)
            fits = (packs.pieces[same] <= own)[:, self.scarce].all(axis=1)
            chosen.append(int(same[np.argmax(fits)]))
        return np.array(chosen, dtype=np.intp)
