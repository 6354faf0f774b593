"""Speed up and down again: the rim key by key on each branch, with friction at the keys.

What a rim does at a speed depends on where it comes from. Where pull or spin drive it out, it can rest at one speed in
two states, and is in the first in run-up and in the other in run-down. Friction at the ledge and at the tangential
keys holds it as well: a rim that has lifted off does not drop back until that has turned round.

At each key the rim stands still, at a clearance that does not change, or moves with the friction f of that key against
it. The net force q at a key, contact less friction, is -f while the rim moves out and f while it moves in; a rim on its
key lifts off at q = -f, one that stands clear starts to move at q = f or -f, and one that moves stops where its
clearance stops changing. Without friction that is contact alone. Between two such events the closed form of
`rimmodel.behaviour.keys.lockstep` holds, with what friction does added to the loads. Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, Literal

import numpy as np

from rimmodel.arrays import Floats, Mask, floats
from rimmodel.behaviour.contact.asked import asked_speed
from rimmodel.behaviour.keys.complementarity import Friction, KeyBalance, settle
from rimmodel.behaviour.keys.crossing import first_crossings, terms
from rimmodel.behaviour.keys.events import _ABOVE, KeyLoads, _inverse
from rimmodel.behaviour.keys.keyed_rotor import KeyedRotor, keyed_rotor
from rimmodel.behaviour.keys.lockstep import _NEAR, _Front, _tables, _with_slopes
from rimmodel.behaviour.keys.path import all_alike
from rimmodel.rotor import Condition, Rotor

Kind = Literal["lift-off", "re-seating", "slips", "sticks"]

_SAME = 1e-6
"""Share of the largest speed squared below which two events are at one speed."""


@dataclass(frozen=True)
class BranchEvent:
    """What the rim does at one key on one branch.

    Attributes
    ----------
    speed : float, rad/s
    key : int
        From 1.
    kind : "lift-off", "re-seating", "slips" or "sticks"
        The last two where the rim stands clear of the key, and starts or stops moving against friction.
    """

    speed: float
    key: int
    kind: Kind


@dataclass(frozen=True)
class Branch:
    """One course of speed up or down, from `start` to `stop`.

    Attributes
    ----------
    direction : "up" or "down"
    start, stop : float, rad/s
    lost : tuple of float, rad/s
        Speeds at which a state ended and the rim moved to another.
    span : array (Q, 2), rad2/s2
        Speed squared at the ends of each piece, as it is followed.
    on_key : bool array (Q, N)
        Keys seated in each piece.
    off_centre : float, m
        Largest shift of the rim at the ends of the pieces; guides with play, which would stop it, are no part of this.
    ends : str
        Why it stops early, if it does.
    """

    direction: Literal["up", "down"]
    start: float
    stop: float
    events: tuple[BranchEvent, ...]
    lost: tuple[float, ...]
    span: Floats
    on_key: Mask
    off_centre: float
    ends: str

    def first(self, kind: Kind) -> float | None:
        """Speed of the first event of a kind on this branch, rad/s."""
        return next((event.speed for event in self.events if event.kind == kind), None)

    @property
    def all_seated(self) -> float | None:
        """Speed from which on every key is seated to the end of the branch, rad/s; None where it is not at the end."""
        if not len(self.on_key) or not self.on_key[-1].all():
            return None
        off = np.flatnonzero(~self.on_key.all(axis=1))
        return float(np.sqrt(self.span[off[-1] + 1, 0])) if off.size else self.start


@dataclass(frozen=True)
class KeyHistory:
    """The branches of a course of speed for one friction.

    Attributes
    ----------
    friction_interference : float, m
        Apparent interference that friction adds in run-up and takes in run-down.
    key_angle : array (N,), rad
    alike : bool
        Nothing tells one key from another: where the rim leaves the centre, what single keys do then is arbitrary.
    """

    friction_interference: float
    key_angle: Floats
    branches: tuple[Branch, ...]
    alike: bool = False

    @property
    def arbitrary(self) -> bool:
        """Whether round-off chooses the keys that lift off and seat again: all are alike, and the rim is off centre."""
        return self.alike and any(branch.lost for branch in self.branches)

    def sure_events(self, number: int) -> tuple[BranchEvent, ...]:
        """What single keys do on a branch; nothing where that is arbitrary."""
        return () if self.arbitrary else self.branches[number].events

    def two_states(self) -> list[tuple[float, float]]:
        """Ranges of speed (rad/s) in which the first and the second branch have other keys seated."""
        if len(self.branches) < 2:
            return []
        up, down = self.branches[:2]
        marks = np.unique(np.concatenate([up.span.ravel(), down.span.ravel()]))
        found: list[tuple[float, float]] = []
        for low, high in pairwise(marks.tolist()):
            one, other = (_on_key_at(branch, 0.5 * (low + high)) for branch in (up, down))
            if high - low <= _SAME * marks[-1] or one is None or other is None or np.array_equal(one, other):
                continue
            ends = (float(np.sqrt(low)), float(np.sqrt(high)))
            joins = found and ends[0] ** 2 - found[-1][1] ** 2 <= _SAME * marks[-1]
            found = [*found[:-1], (found[-1][0], ends[1])] if joins else [*found, ends]
        return found


def key_history(
    rotor: Rotor,
    condition: Condition,
    course: Sequence[float] | None = None,
    friction_interference: float | None = None,
    **setup: Any,
) -> KeyHistory:
    """Follow a rotor key by key through a course of speed, each branch from where the branch before it ended.

    Parameters
    ----------
    rotor : Rotor
        Of scalar fields, as the condition.
    course : sequence of float, rad/s, optional
        Speeds between which it runs; from standstill to the highest named one and back by default. It starts in
        the state in which the rim comes to rest at the first speed.
    friction_interference : float, m, optional
        Apparent interference from friction, the same friction at each key; that of the fit by default.
    **setup
        Further arguments of `keyed_rotor`, other than `direction`.

    Raises
    ------
    ValueError
        As `keyed_rotor`; a course of fewer than two speeds, or two in a row that are alike; friction below zero.
    ArithmeticError
        Events that follow each other without end.

    A rim on even keys lifts off later than without friction, and is on all of them again later:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> rotor, cold = case.rotor, case.conditions["cold"]
    >>> even = rotor.with_interference(1.2e-3)
    >>> history = key_history(even, cold, friction_interference=2e-5, key_interference=np.full(14, 1.2e-3))
    >>> up, down = history.branches
    >>> free = key_history(even, cold, friction_interference=0.0, key_interference=np.full(14, 1.2e-3)).branches[0]
    >>> down.all_seated < free.first("lift-off") < up.first("lift-off")
    True
    """
    highest = float(rotor.speeds.highest)
    speeds = floats([0.0, highest, 0.0]) if course is None else floats(course)
    if speeds.ndim != 1 or speeds.size < 2 or np.any(np.diff(speeds) == 0.0):
        raise ValueError(f"course is {speeds.tolist()}; give two speeds at least, each unlike the speed before it")
    asked_speed(rotor, speeds)
    lost = float(rotor.fit.friction_interference if friction_interference is None else friction_interference)
    if not 0.0 <= lost < np.inf:
        raise ValueError(f"friction_interference is {lost:g} m; it must be zero or above")
    keyed = keyed_rotor(rotor, condition, highest_speed=max(highest, float(speeds.max())), **setup)
    if float(speeds.max()) ** 2 > keyed.loads.nodes[-1]:
        raise ValueError(
            f"course goes to {speeds.max():g} rad/s; the pull closes the gap at "
            f"{float(np.sqrt(keyed.loads.nodes[-1])):.4g} rad/s: stay below that"
        )
    return KeyHistory(lost, keyed.key_angle, _branches(keyed, speeds, lost), all_alike(keyed))


def key_friction(keyed: KeyedRotor, friction_interference: float) -> float:
    """Friction at one key that makes an apparent interference: what all keys together move the rim by with it.

    ``f = delta_f / mean of the row sums of A``, as (C_r + C_s) F/(2 pi a L) of the smeared rim; derived here.

    Parameters
    ----------
    friction_interference : float, m

    Returns
    -------
    float, N

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> keyed = keyed_rotor(case.rotor, case.conditions["cold"])
    >>> once, twice = key_friction(keyed, 1e-5), key_friction(keyed, 2e-5)
    >>> print(f"{twice / once:.1f}")
    2.0
    """
    return friction_interference / float(keyed.loads.compliance.sum(axis=1).mean())


@dataclass(frozen=True)
class _Rim:
    """What the rim does: at which keys it stands still, and at what clearance; the net force where it moves; modes."""

    held: Mask
    stood: Floats
    slide: Floats
    mode: Floats


def _branches(keyed: KeyedRotor, speeds: Floats, friction_interference: float) -> tuple[Branch, ...]:
    rub = key_friction(keyed, friction_interference)
    rim: _Rim | None = None
    branches = []
    for start, stop in zip(speeds[:-1].tolist(), speeds[1:].tolist(), strict=True):
        track = _Track(_facing(keyed.loads, start**2, stop**2), start**2, 1.0 if stop > start else -1.0, rub)
        rim = track.begin(rim)
        if rim is not None:
            rim = track.run(rim)
        branches.append(track.branch(start, stop))
        if rim is None:
            break
    return tuple(branches)


def _facing(loads: KeyLoads, start: float, stop: float) -> KeyLoads:
    """The loads from one speed squared to another, over the distance from the start, so that down is as up."""
    low, high = min(start, stop), max(start, stop)
    nodes = np.concatenate([[low], loads.nodes[(loads.nodes > low) & (loads.nodes < high)], [high]])

    def at(rows: Floats) -> Floats:
        columns = rows.reshape(loads.nodes.size, -1).T
        return np.stack([np.interp(nodes, loads.nodes, row) for row in columns], axis=1).reshape(-1, *rows.shape[1:])

    closing, stiffness, force = at(loads.closing), at(loads.stiffness), at(loads.force)
    if stop < start:
        nodes, closing, stiffness, force = nodes[::-1], closing[::-1], stiffness[::-1], force[::-1]
    return replace(loads, nodes=np.abs(nodes - start), closing=closing, stiffness=stiffness, force=force)


class _Track:
    """One branch as it is followed: y is the distance from its start in speed squared."""

    def __init__(self, loads: KeyLoads, start: float, sign: float, rub: float) -> None:
        self.loads, self.start, self.sign, self.rub = loads, start, sign, rub
        self.events: list[BranchEvent] = []
        self.lost: list[float] = []
        self.span: list[tuple[float, float]] = []
        self.on_key: list[Mask] = []
        self.off_centre = 0.0
        self.ends = ""
        self.full = float(np.max(np.abs(loads.interference) / np.diag(loads.compliance)))

    def speed_squared(self, y: float) -> float:
        """Of the machine, rad2/s2."""
        return max(self.start + self.sign * y, 0.0)

    def begin(self, rim: _Rim | None) -> _Rim | None:
        """The state at the start: at rest there, or that of the branch before, which friction holds where it is."""
        keys = self.loads.interference.size
        if rim is not None:
            return rim if self.rub == 0.0 else replace(rim, held=np.ones(keys, dtype=bool), slide=np.zeros(keys))
        nothing = np.zeros(self.loads.shape.shape[1])
        found = settle(self.loads.at(0.0), nothing, np.ones(keys, dtype=bool))
        if found is None:
            self.ends = "no key holds the rim at the first speed"
            return None
        return self._as_rim(found, np.zeros(keys))

    def branch(self, start: float, stop: float) -> Branch:
        """What was followed."""
        keys = self.loads.interference.size
        direction: Literal["up", "down"] = "up" if self.sign > 0 else "down"
        span, on_key = floats(self.span).reshape(-1, 2), np.array(self.on_key, dtype=bool).reshape(-1, keys)
        return Branch(
            direction, start, stop, tuple(self.events), tuple(self.lost), span, on_key, self.off_centre, self.ends
        )

    def run(self, rim: _Rim) -> _Rim | None:
        """Follow to the end of the branch: the state there, or None where no stable state is left."""
        y, end, changed = 0.0, float(self.loads.nodes[-1]), np.zeros(rim.held.size, dtype=bool)
        for _ in range(200 * rim.held.size + 8 * self.loads.nodes.size):
            if y >= end:
                return rim
            piece = self._piece(y, rim)
            if piece is None:
                y, after = self._elsewhere(y, rim, stable=False)
            else:
                length, stop, touched, table, rate, runs_out = piece
                if length == 0.0 and (touched & changed).any():  # several at once, not all of which stay changed
                    y, after = self._elsewhere(y, rim, stable=True)
                else:
                    self.span.append((self.speed_squared(y), self.speed_squared(y + length)))
                    self.on_key.append(rim.held & (rim.stood == 0.0))
                    rows = table @ terms(length, rate)
                    moved = self._moved(rim, rows)
                    after = self._switched(moved, touched, y + length)
                    y, changed = stop if not touched.any() else y + length, touched
                    if runs_out:
                        y, after = self._elsewhere(y, moved, stable=False)
            if after is None:
                return None
            rim = after
        raise ArithmeticError("keys: no end of lift-offs and re-seatings; check the compliance of the keys")

    def _piece(self, y: float, rim: _Rim) -> tuple[float, float, Mask, Floats, Floats, bool] | None:
        """Length to the next event, end of the piece, the keys that change there, closed form; None if unstable."""
        loads = self._loads(rim)
        sets = _with_slopes(loads, loads.interference[None])
        panel = np.array([loads.panel(y)])
        inverse = _inverse(loads.compliance, rim.held)
        none = np.zeros((1, rim.held.size), dtype=bool)
        front = _Front(np.zeros(1, dtype=np.intp), np.array([y]), rim.held[None], rim.mode[None], none, inverse[None])
        table, rate, stable = _tables(sets, front, panel)
        if not stable[0]:
            return None
        edge, lowest = float(loads.nodes[panel[0] + 1]), float(rate[0, 0])
        stop = min(edge, y - (1.0 - _NEAR) / lowest) if lowest < 0.0 else edge
        rows, key = self._limits(table[0], rim, sets.own)
        length, touched = first_crossings(rows[None], rate, np.array([stop - y]), np.array([self.full]))
        changing = np.zeros(rim.held.size, dtype=bool)
        changing[key[touched[0]]] = True
        reach, turning = self._first_turn(table[0], rate[0], rim, float(length[0]))
        if turning >= 0 and (reach < float(length[0]) or not changing.any()):
            length, changing = np.array([reach]), np.zeros(rim.held.size, dtype=bool)
            changing[turning] = True
        runs_out = not changing.any() and stop < edge
        return float(length[0]), stop, changing, table[0], rate[0], runs_out

    def _loads(self, rim: _Rim) -> KeyLoads:
        """The loads with what friction and the clearances at which the rim stands add to them."""
        loads = self.loads
        return replace(
            loads,
            interference=loads.interference + np.where(rim.held, rim.stood, 0.0) - loads.compliance @ rim.slide,
            force=loads.force + loads.shape.T @ rim.slide,
        )

    def _limits(self, table: Floats, rim: _Rim, own: Floats) -> tuple[Floats, Any]:
        """Rows that stay above zero up to the next event, and the key of each."""
        keys = rim.held.size
        rows = table[:keys] * np.where(rim.held, 1.0, own)[:, None]
        rows[rim.held, 0] += self.rub
        clear = np.flatnonzero(rim.held & (rim.stood > 0.0))
        upper = -table[clear]
        upper[:, 0] += self.rub
        return np.concatenate([rows, upper]), np.concatenate([np.arange(keys), clear])

    def _first_turn(self, table: Floats, rate: Floats, rim: _Rim, length: float) -> tuple[float, int]:
        """Where the first key at which the rim moves against friction stops moving, and that key; -1 for none.

        The velocity ``slope + sum_j weight_j/(1 + rate_j s)^2`` lies between what its terms make of it at both ends of
        an interval; intervals are halved until that is above zero or the turn is found.
        """
        moving = np.flatnonzero(~rim.held) if self.rub else np.zeros(0, dtype=np.intp)
        if not moving.size:
            return length, -1
        rows = table[moving] * -np.sign(rim.slide[moving])[:, None]

        def lowest(low: float, high: float) -> Floats:
            ends = [rows[:, 2:] * (1.0 + rate * s) ** -2 for s in (low, high)]
            return floats(rows[:, 1] + np.minimum(*ends).sum(axis=1))

        todo = [(0.0, length)]
        while todo:
            low, high = todo.pop()
            bound = lowest(low, high)
            if bound.min() > 0.0:
                continue
            if high - low <= 1e-13 * max(length, _SAME * high) or lowest(low, low).min() < 0.0:
                return low, int(moving[np.argmin(lowest(low, low))])
            middle = 0.5 * (low + high)
            todo += [(middle, high), (low, middle)]
        return length, -1

    def _moved(self, rim: _Rim, rows: Floats) -> _Rim:
        """The rim at the end of a piece: where it moves, its clearance is that of now."""
        keys = rim.held.size
        self.off_centre = max(self.off_centre, float(np.hypot(*rows[keys : keys + 2])))
        return replace(rim, stood=np.where(rim.held, rim.stood, np.maximum(rows[:keys], 0.0)), mode=rows[keys:])

    def _switched(self, rim: _Rim, touched: Mask, y: float) -> _Rim:
        """The rim after an event at the keys that were touched; `rim` holds the clearances of now."""
        held, stood, slide = rim.held.copy(), rim.stood.copy(), rim.slide.copy()
        near = 1e-9 * float(np.max(np.abs(self.loads.interference)))
        force = self._force(rim, y) if touched.any() else slide
        for key in np.flatnonzero(touched).tolist():
            if held[key]:
                inward = stood[key] > 0.0 and force[key] > 0.0
                held[key], slide[key] = False, self.rub if inward else -self.rub
                self._note(y, key, "slips" if stood[key] > 0.0 else "lift-off")
            else:
                on_key = stood[key] <= near
                stood[key] = 0.0 if on_key else stood[key]
                held[key], slide[key] = True, 0.0
                self._note(y, key, "re-seating" if on_key else "sticks")
        return _Rim(held, stood, slide, rim.mode)

    def _force(self, rim: _Rim, y: float) -> Floats:
        """Net force at each key, N."""
        at = self.loads.at(y)
        wanted = at.interference + rim.stood - at.shape @ rim.mode
        return floats(np.linalg.solve(at.compliance, wanted))

    def _elsewhere(self, y: float, rim: _Rim, stable: bool) -> tuple[float, _Rim | None]:
        """Let the rim run from where its state ends to where it rests a shade farther on."""
        top = max(self.speed_squared(0.0), self.speed_squared(float(self.loads.nodes[-1])))
        above = min(y + _ABOVE * top, float(self.loads.nodes[-1]))
        if not stable:
            self.lost.append(float(np.sqrt(self.speed_squared(y))))
        at = self.loads.at(above)
        if self.rub:
            at = replace(at, friction=Friction(np.full(rim.held.size, self.rub), rim.stood))
        found = settle(at, rim.mode, rim.held)
        if found is None:
            self.ends = "no stable state remains: the keys do not restrain the rim"
            return above, None
        after = self._as_rim(found, rim.stood)
        was, now = rim.held & (rim.stood == 0.0), after.held & (after.stood == 0.0)
        for key in np.flatnonzero(was ^ now).tolist():
            self._note(y, key, "re-seating" if now[key] else "lift-off")
        return above, after

    def _as_rim(self, found: KeyBalance, stood: Floats) -> _Rim:
        """The state in which the rim was found to rest, after it had stood at these clearances."""
        on_key = found.seated & (found.clearance <= 1e-9 * float(np.max(np.abs(self.loads.interference))))
        at = np.where(on_key, 0.0, np.maximum(found.clearance, 0.0))
        slide = np.where(found.seated, 0.0, np.where(at < stood, self.rub, -self.rub))
        return _Rim(found.seated, at, slide, found.mode)

    def _note(self, y: float, key: int, kind: Kind) -> None:
        self.events.append(BranchEvent(float(np.sqrt(self.speed_squared(y))), key + 1, kind))


def _on_key_at(branch: Branch, x: float) -> Mask | None:
    """Keys seated at a speed squared; None where the branch has no state."""
    low, high = branch.span.min(axis=1), branch.span.max(axis=1)
    inside = np.flatnonzero((low <= x) & (x <= high))
    return branch.on_key[inside[0]] if inside.size else None
