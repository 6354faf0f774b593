"""Every lift-off and re-seating of the keys of a rim as its speed rises, none skipped, for one set of shims or many.

Between two events the set of seated keys is fixed, and within one panel the loads are straight lines in x = speed
squared. From the start of such a piece, s = x - start, the stiffness of the modes is R + s K'; with its vibration
shapes V (V^T R V = 1, V^T K' V = rate) every key force, clearance and mode amplitude is in closed form::

    value + slope s + sum_j weight_j s/(1 + rate_j s)

so that the next event is the first root of these, which `first_crossings` finds without sampling. Derived here.

Each pass takes every set over one piece. The few times that a rim has to come to rest anew, `settle`, are worked one
by one, after which the set is back in step. Every product is one of small matrices set by set, so no set's result
depends on the others.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, fields, replace
from functools import partial
from typing import Any

import numpy as np

from rimmodel.arrays import Floats, Mask, Places, floats
from rimmodel.behaviour.keys.crossing import first_crossings, terms
from rimmodel.behaviour.keys.events import (
    KeyEvent,
    KeyLoads,
    KeyPath,
    Piece,
    _inverse,
    _let_go,
    _Place,
    _standstill,
)

_NEAR = 1e-9
"""Share of the speed squared that is kept off a singular speed."""
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
    """Events, losses and pieces as they come, in chunks of the columns of `KeyPaths`; why a path ended, by set.

    `whole` keeps the closed forms of the pieces too, which `KeyPaths` does not hold.
    """

    whole: bool = False
    events: list[tuple[Any, ...]] = field(default_factory=list)
    lost: list[tuple[Any, ...]] = field(default_factory=list)
    pieces: list[tuple[Any, ...]] = field(default_factory=list)
    forms: list[Piece] = field(default_factory=list)
    ends: dict[int, str] = field(default_factory=dict)

    def add(self, number: int, path: KeyPath) -> None:
        """Take in what was noted of one set on its own."""
        for event in path.events:
            self.events.append(([number], [event.key], [event.seats], [event.speed_squared]))
        for x, mode in path.lost:
            self.lost.append(([number], [mode], [x]))
        if path.ends:
            self.ends[number] = path.ends

    def piece(self, front: _Front, end: Floats, touched: Mask, table: Floats, rate: Floats) -> None:
        """Take in one piece of each set and the keys that change at its end."""
        self.pieces.append((front.number, front.seated, front.x))
        if touched.any():
            row, key = touched.nonzero()
            self.events.append((front.number[row], key, ~front.seated[row, key], end[row]))
        if self.whole:
            own = zip(front.x.tolist(), end.tolist(), front.seated, table, rate, strict=True)
            self.forms.extend(Piece(*one) for one in own)

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
    """Interference (n, N) of each set, the loads that all share, and what follows from them once.

    Slopes of the loads in each panel, that of the stiffness also as matrices `soften`; the stiffness `own` (N,) of
    each key alone and the force `full` (n,) that the largest interference would press with.
    """

    loads: KeyLoads
    interference: Floats
    closing: Floats
    stiffness: Floats
    force: Floats
    soften: Floats
    own: Floats
    full: Floats

    def one(self, number: int) -> KeyLoads:
        """Loads of one set."""
        return replace(self.loads, interference=self.interference[number])


def _with_slopes(loads: KeyLoads, interference: Floats) -> _Sets:
    """Sets of interferences (n, N) with what follows once from the loads."""
    width = np.diff(loads.nodes)
    closing, stiffness, force = (
        np.diff(row, axis=0) / (width if row.ndim == 1 else width[:, None])
        for row in (loads.closing, loads.stiffness, loads.force)
    )
    soften = stiffness[:, :, None] * np.eye(stiffness.shape[1])
    own = 1.0 / np.diag(loads.compliance)
    return _Sets(loads, interference, closing, stiffness, force, soften, own, (own * np.abs(interference)).max(axis=1))


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
    log = _Log()
    _run(loads, interference, log)
    return log.paths(interference.shape[1])


def follow(loads: KeyLoads) -> KeyPath:
    """Follow the stable state of the rim from standstill to the last node, event by event.

    Returns
    -------
    KeyPath
        At a speed where the state turns unstable the rim is let go (`settle`) and followed from where it lands;
        keys that this lifts or seats are events at that speed.

    Raises
    ------
    ArithmeticError
        Events that follow each other without end, which a sound compliance matrix does not give.
    """
    log = _Log(whole=True)
    _run(loads, loads.interference[None], log)
    found = log.paths(loads.interference.size)
    events = zip(found.event_at.tolist(), found.event_key.tolist(), found.event_seats.tolist(), strict=True)
    lost = zip(found.lost_at.tolist(), found.lost_mode.tolist(), strict=True)
    return KeyPath(log.forms, [KeyEvent(*event) for event in events], list(lost), log.ends.get(0, ""))


def _run(loads: KeyLoads, interference: Floats, log: _Log) -> None:
    """Follow every set to the last node, noting what happens."""
    sets = _with_slopes(loads, interference)
    front = _start(sets, log)
    for _ in range(60 * interference.shape[1] + 4 * loads.nodes.size):
        ends = front.x >= loads.nodes[-1]
        if ends.any():
            front = front.only(~ends)
        if not front.number.size:
            return
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
    panel = np.minimum(nodes[:-1].searchsorted(front.x, side="right") - 1, nodes.size - 2)
    table, rate, stable = _tables(sets, front, panel)
    # forces throughout: a clearance counts as the force that would close it
    pressing = table[:, :keys] * np.where(front.seated, 1.0, sets.own)[:, :, None]
    # several keys at once, not all of which stay changed
    wrong = stable & (front.changed & (pressing[:, :, 1:].sum(axis=2) < 0.0)).any(axis=1)
    apart: list[_Front] = []
    lost, on = front, stable & ~wrong
    if not on.all():
        apart = [_alone(sets, front.only(wrong), log, partial(_let_go, stable=True))]
        lost = front.only(~stable)
        apart.append(_alone(sets, lost, log, _let_go))
        front, panel, table, rate, pressing = front.only(on), panel[on], table[on], rate[on], pressing[on]
    edge = nodes[panel + 1]
    # a rate below zero has its singular speed ahead
    stop = np.minimum(edge, front.x - (1.0 - _NEAR) / np.minimum(rate[:, 0], -np.finfo(float).tiny))
    length, touched = first_crossings(pressing, rate, stop - front.x, sets.full[front.number])
    some = touched.any(axis=1)
    end = np.where(some, front.x + length, stop)
    mode = _times(table[:, keys:], terms(end - front.x, rate))
    log.piece(front, end, touched, table, rate)
    after = _after(sets.loads.compliance, front, end, mode, touched)
    ran_out = ~some & (stop < edge)
    if ran_out.any():
        apart.append(_alone(sets, after.only(ran_out), log, _let_go))
        after = after.only(~ran_out)
    return _joined(after, *apart) if apart else after


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

    soften (n, m, m) is diagonal. Rates (n, m), the lowest first, and modes (n, m, m) of a set whose stiffness is not
    positive mean nothing. LAPACK is called directly, set by set: the checks around it cost several times the work.
    """
    from scipy.linalg.lapack import dsygv

    rate, modes = np.empty(stiffness.shape[:2]), np.empty_like(stiffness)
    stable = np.empty(len(stiffness), dtype=bool)
    for own, (left, right) in enumerate(zip(soften, stiffness, strict=True)):
        rate[own], modes[own], failed = dsygv(left, right)
        stable[own] = failed == 0
    rate[~stable], modes[~stable] = 0.0, 0.0
    return rate, modes, stable


def _tables(sets: _Sets, front: _Front, panel: Places) -> tuple[Floats, Floats, Mask]:
    """Table (n, N + m, m + 2) and rates of each set from here on, as `_table` of one; and which sets are stable."""
    loads, inverse, step = sets.loads, front.inverse, front.x - sets.loads.nodes[panel]
    closing, soften, drive = sets.closing[panel], sets.stiffness[panel], sets.force[panel]
    interference = sets.interference[front.number] - (loads.closing[panel] + step * closing)[:, None]
    pushed = inverse @ loads.shape
    stiffness = loads.shape.T @ pushed
    size = soften.shape[1]
    stiffness.reshape(-1, size * size)[:, :: size + 1] += loads.stiffness[panel] + step[:, None] * soften
    rate, modes, stable = _vibration_shapes(stiffness, sets.soften[panel])
    # what the modes are loaded with at the start, and how that changes
    load = np.empty((len(step), size, 2))
    load[:, :, 0] = (interference[:, None, :] @ pushed)[:, 0] + loads.force[panel] + step[:, None] * drive
    load[:, :, 1] = drive - closing[:, None] * pushed.sum(axis=1)
    load = modes.mT @ load
    # of each vibration shape: (load + rise s)/(1 + rate s) = load + (rise - rate load) s/(1 + rate s)
    keys = interference.shape[1]
    table = np.zeros((len(step), keys + size, size + 2))
    mode, rows = table[:, keys:], table[:, :keys]
    mode[:, :, 0] = _times(modes, load[:, :, 0])
    np.multiply(modes, (load[:, :, 1] - rate * load[:, :, 0])[:, None, :], out=mode[:, :, 2:])
    wanted = -loads.shape @ mode
    wanted[:, :, 0] += interference
    wanted[:, :, 1] -= closing[:, None]
    pressed = inverse @ wanted
    free = loads.compliance @ pressed - wanted
    np.copyto(rows, free)
    np.copyto(rows, pressed, where=front.seated[:, :, None])
    return table, rate, stable
