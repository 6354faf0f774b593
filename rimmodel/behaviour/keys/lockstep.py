"""Many sets of interferences on the same keys, followed in lockstep: each pass takes every set over one piece.

Pieces, closed forms and events are those of `rimmodel.behaviour.keys.events`, where they are derived; here they have a
leading axis of sets. The few times that a rim has to come to rest anew, `settle`, are worked one by one, after which
the set is back in step. Every product is one of small matrices set by set, so no set's result hangs on the others.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, fields, replace
from functools import partial
from typing import Any

import numpy as np

from rimmodel.arrays import Floats, Mask, Places, floats
from rimmodel.behaviour.keys.crossing import terms
from rimmodel.behaviour.keys.crossings_of_many import first_crossings
from rimmodel.behaviour.keys.events import _NEAR, KeyLoads, KeyPath, _inverse, _let_go, _Place, _standstill

_PLAIN = 1e-9
"""Share of the largest key force that each key carries at least where all are seated beyond doubt."""


@dataclass(frozen=True)
class KeyPaths:
    """What happens to n sets on N keys: E events, L losses and Q pieces, those of one set in the order of its path.

    Attributes
    ----------
    event_set, event_key : int array (E,)
        From 0.
    event_seats : bool array (E,)
    event_at : array (E,), rad2/s2
    lost_set, lost_mode : int array (L,)
        Mode as in `KeyPath`.
    lost_at : array (L,), rad2/s2
    piece_set : int array (Q,)
    piece_seated : bool array (Q, N)
    piece_start : array (Q,), rad2/s2
    """

    event_set: Places
    event_key: Places
    event_seats: Mask
    event_at: Floats
    lost_set: Places
    lost_mode: Places
    lost_at: Floats
    piece_set: Places
    piece_seated: Mask
    piece_start: Floats


@dataclass
class _Log:
    """Events, losses and pieces as they come, in chunks of the columns of `KeyPaths`."""

    events: list[tuple[Any, ...]] = field(default_factory=list)
    lost: list[tuple[Any, ...]] = field(default_factory=list)
    pieces: list[tuple[Any, ...]] = field(default_factory=list)

    def add(self, number: int, path: KeyPath) -> None:
        """Take in what was noted of one set on its own."""
        for event in path.events:
            self.events.append(([number], [event.key], [event.seats], [event.speed_squared]))
        for x, mode in path.lost:
            self.lost.append(([number], [mode], [x]))

    def piece(self, front: _Front, end: Floats, touched: Mask) -> None:
        """Take in one piece of each set and the keys that change at its end."""
        self.pieces.append((front.number, front.seated, front.x))
        row, key = touched.nonzero()
        self.events.append((front.number[row], key, ~front.seated[row, key], end[row]))

    def paths(self, keys: int) -> KeyPaths:
        """All chunks joined."""
        place, mask, number = np.zeros(0, dtype=np.intp), np.zeros((0, keys), dtype=bool), np.zeros(0)
        events = [(place, place, mask[:, 0], number), *self.events]
        lost, pieces = [(place, place, number), *self.lost], [(place, mask, number), *self.pieces]
        columns = (column for part in (events, lost, pieces) for column in zip(*part, strict=True))
        return KeyPaths(*map(np.concatenate, columns))


@dataclass(frozen=True)
class _Front:
    """Where the sets that still run have come to: their numbers, and the fields of `_Place` with a leading axis."""

    number: Places
    x: Floats
    seated: Mask
    mode: Floats
    changed: Mask
    inverse: Floats

    def only(self, sets: Places | Mask) -> _Front:
        """A part of the sets."""
        return _Front(*(getattr(self, one.name)[sets] for one in fields(self)))

    def places(self) -> Iterator[tuple[int, _Place]]:
        """Each set on its own."""
        for row, number in enumerate(self.number.tolist()):
            own = self.seated[row], self.mode[row], self.changed[row], self.inverse[row]
            yield number, _Place(float(self.x[row]), *own)


def _joined(*fronts: _Front) -> _Front:
    """All sets of several fronts."""
    return _Front(*(np.concatenate([getattr(one, name.name) for one in fronts]) for name in fields(_Front)))


@dataclass(frozen=True)
class _Sets:
    """Interference (n, N) of each set, the loads that all share, and the slopes of these in each panel."""

    loads: KeyLoads
    interference: Floats
    closing: Floats
    stiffness: Floats
    force: Floats

    def one(self, number: int) -> KeyLoads:
        """Loads of one set."""
        return replace(self.loads, interference=self.interference[number])


def follow_sets(loads: KeyLoads, interference: Floats) -> KeyPaths:
    """Follow the stable state of n sets, each as `follow` does it; they differ in interference alone.

    Parameters
    ----------
    interference : array (n, N), m
        In place of that of the loads.

    Raises
    ------
    ArithmeticError
        As `follow`.

    >>> import rimmodel as rm
    >>> from rimmodel.behaviour.keys.keyed_rotor import keyed_rotor
    >>> case = rm.example_case()
    >>> loads = keyed_rotor(case.rotor, case.conditions["cold"], np.full(14, 2.1e-3)).loads
    >>> paths = follow_sets(loads, loads.interference - 1e-4 * np.eye(14)[:2])
    >>> [int(paths.event_key[paths.event_set == row][0]) for row in (0, 1)]     # the thinnest shim comes loose first
    [0, 1]
    """
    slopes = [np.diff(row, axis=0).T / np.diff(loads.nodes) for row in (loads.closing, loads.stiffness, loads.force)]
    sets, log = _Sets(loads, interference, *(np.ascontiguousarray(slope.T) for slope in slopes)), _Log()
    front = _start(sets, log)
    for _ in range(60 * interference.shape[1] + 4 * loads.nodes.size):
        front = front.only(front.x < loads.nodes[-1])
        if not front.number.size:
            return log.paths(interference.shape[1])
        front = _step(sets, front, log)
    raise ArithmeticError("keys: no end of lift-offs and re-seatings; check the compliance of the keys")


def _start(sets: _Sets, log: _Log) -> _Front:
    """State of each set at standstill: all keys seated where that is beyond doubt, else what `_standstill` finds.

    Beyond doubt: every key presses with the modes held at zero, where they balance, and so everywhere between.
    """
    loads, (count, keys) = sets.loads, sets.interference.shape
    inverse = _inverse(loads.compliance, np.ones(keys, dtype=bool))
    pushed = loads.shape.T @ inverse
    curvature, axes = np.linalg.eigh(pushed @ loads.shape + np.diag(loads.stiffness[0]))
    wanted = sets.interference - loads.closing[0]
    softest = np.maximum(curvature, _PLAIN * curvature[-1])
    mode = _times((axes / softest) @ axes.T, _times(pushed, wanted) + loads.force[0])
    held, free = _times(inverse, wanted), _times(inverse, wanted - _times(loads.shape, mode))
    plain = np.minimum(held, free).min(axis=1) > _PLAIN * np.abs(held).max(axis=1)
    plain &= (curvature[0] == softest[0]) & (np.abs(mode).max(axis=1) < np.abs(wanted).max(axis=1))
    seated, places = np.ones((count, keys), dtype=bool), np.arange(count)
    whole = _Front(places, np.zeros(count), seated, mode, ~seated, np.tile(inverse, (count, 1, 1)))
    return _joined(
        whole.only(plain), _alone(sets, whole.only(~plain), log, lambda own, path, _: _standstill(own, path))
    )


def _alone(sets: _Sets, front: _Front, log: _Log, work: Callable[[KeyLoads, KeyPath, _Place], _Place | None]) -> _Front:
    """Work on each set by itself; one whose path ends there leaves."""
    moved = [front.only(np.zeros(0, dtype=np.intp))]
    for number, place in front.places():
        path = KeyPath()
        after = work(sets.one(number), path, place)
        log.add(number, path)
        if after is not None:
            own = (np.array([getattr(after, one.name)]) for one in fields(_Place))
            moved.append(_Front(np.array([number]), *own))
    return _joined(*moved)


def _step(sets: _Sets, front: _Front, log: _Log) -> _Front:
    """Take each set over one piece, or to where it comes to rest anew."""
    nodes, keys = sets.loads.nodes, front.seated.shape[1]
    panel = np.clip(nodes.searchsorted(front.x, side="right") - 1, 0, nodes.size - 2)
    table, rate, stable = _tables(sets, front, panel)
    stiffness = 1.0 / np.diag(sets.loads.compliance)
    # forces throughout: a clearance counts as the force that would close it
    pressing = table[:, :keys] * np.where(front.seated, 1.0, stiffness)[:, :, None]
    # several keys at once, not all of which stay changed
    wrong = stable & (front.changed & (pressing[:, :, 1:].sum(axis=2) < 0.0)).any(axis=1)
    settled = _alone(sets, front.only(wrong), log, partial(_let_go, stable=True))
    lost, on = front.only(~stable), stable & ~wrong
    front, panel, table, rate, pressing = front.only(on), panel[on], table[on], rate[on], pressing[on]
    edge, full = nodes[panel + 1], (stiffness * np.abs(sets.interference[front.number])).max(axis=1)
    # a rate below zero has its singular speed ahead
    stop = np.minimum(edge, front.x - (1.0 - _NEAR) / np.minimum(rate[:, 0], -np.finfo(float).tiny))
    length, touched = first_crossings(pressing, rate, stop - front.x, full)
    some = touched.any(axis=1)
    end = np.where(some, front.x + length, stop)
    mode = _times(table[:, keys:], terms(end - front.x, rate))
    log.piece(front, end, touched)
    after = _after(sets.loads.compliance, front, end, mode, touched)
    ran_out = ~some & (stop < edge)
    return _joined(after.only(~ran_out), settled, _alone(sets, _joined(lost, after.only(ran_out)), log, _let_go))


def _after(compliance: Floats, front: _Front, x: Floats, mode: Floats, touched: Mask) -> _Front:
    """The front at x, each touched key now in or out: `inverse` by one bordering step for each, as in `_toggled`."""
    seated, inverse, left = front.seated ^ touched, front.inverse.copy(), touched.copy()
    while (sets := np.flatnonzero(left.any(axis=1))).size:
        key, own, every = left[sets].argmax(axis=1), inverse[sets], np.arange(sets.size)
        enters, column = seated[sets, key], compliance[key]
        entering = -_times(own, column)
        entering[every, key] = 1.0
        leaving = own[every, :, key]
        pivot = np.where(enters, (column * entering).sum(axis=1), -leaving[every, key])
        border = np.where(enters[:, None], entering, leaving)
        own += border[:, :, None] * (border / pivot[:, None])[:, None, :]
        out = np.flatnonzero(~enters)
        own[out, key[out]] = own[out, :, key[out]] = 0.0
        inverse[sets] = own
        left[sets, key] = False
    return _Front(front.number, x, seated, mode, touched, inverse)


def _times(matrix: Floats, vector: Floats) -> Floats:
    """Matrix (n, a, b), or one for all, times the vector (n, b) of each set."""
    return floats((matrix @ vector[:, :, None])[:, :, 0])


def _vibration_shapes(stiffness: Floats, soften: Floats) -> tuple[Floats, Floats, Mask]:
    """Solve soften V = stiffness V rate with V^T stiffness V = 1 for each set; and whether its stiffness is positive.

    soften (n, m) is diagonal. Rates (n, m) and modes (n, m, m) of a set whose stiffness is not positive mean nothing.
    """
    root, stable = _roots(stiffness)
    inner = np.linalg.inv(root)
    rate, turn = np.linalg.eigh((inner * soften[:, None, :]) @ inner.mT)
    return floats(rate), floats(inner.mT @ turn), stable


def _roots(stiffness: Floats) -> tuple[Floats, Mask]:
    """Cholesky factor of each matrix, 1 for one that is not positive definite; and which are.

    LAPACK's answer comes for all at once: where it is no, the halves are asked.
    """
    try:
        return floats(np.linalg.cholesky(stiffness)), np.ones(len(stiffness), dtype=bool)
    except np.linalg.LinAlgError:
        if len(stiffness) == 1:
            return np.eye(stiffness.shape[-1])[None], np.zeros(1, dtype=bool)
        middle = len(stiffness) // 2
        halves = _roots(stiffness[:middle]), _roots(stiffness[middle:])
        root, stable = (np.concatenate(part) for part in zip(*halves, strict=True))
        return floats(root), stable


def _tables(sets: _Sets, front: _Front, panel: Places) -> tuple[Floats, Floats, Mask]:
    """Table (n, N + m, m + 2) and rates of each set from here on, as `_table` of one; and which sets are stable."""
    loads, inverse, step = sets.loads, front.inverse, front.x - sets.loads.nodes[panel]
    closing, soften, drive = sets.closing[panel], sets.stiffness[panel], sets.force[panel]
    interference = sets.interference[front.number] - (loads.closing[panel] + step * closing)[:, None]
    pushed = loads.shape.T @ inverse
    stiffness = pushed @ loads.shape
    diagonal = np.arange(soften.shape[1])
    stiffness[:, diagonal, diagonal] += loads.stiffness[panel] + step[:, None] * soften
    rate, modes, stable = _vibration_shapes(stiffness, soften)
    force = loads.force[panel] + step[:, None] * drive
    load = _times(modes.mT, _times(pushed, interference) + force)
    rise = _times(modes.mT, drive - closing[:, None] * pushed.sum(axis=2))
    mode = np.zeros((*rate.shape, rate.shape[1] + 2))
    mode[:, :, 0], mode[:, :, 2:] = _times(modes, load), modes * (rise - rate * load)[:, None, :]
    wanted = -loads.shape @ mode
    wanted[:, :, 0] += interference
    wanted[:, :, 1] -= closing[:, None]
    pressed = inverse @ wanted
    rows = np.where(front.seated[:, :, None], pressed, loads.compliance @ pressed - wanted)
    return np.concatenate([rows, mode], axis=1), rate, stable
