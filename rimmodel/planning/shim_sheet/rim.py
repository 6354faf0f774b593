"""The rim key by key in every condition of a case, set up once: what interferences do to it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.keys.keyed_rotor import KeyedRotor, keyed_rotor
from rimmodel.behaviour.keys.lockstep import follow
from rimmodel.behaviour.keys.pressed import pressed_forces, pressed_outline
from rimmodel.planning.shim_sheet.promise import READ, Pressing, ShimErrors
from rimmodel.planning.shim_sheet.roundness import once_around
from rimmodel.planning.shim_sheet.start import Start
from rimmodel.rotor import UNIFORM_COLD, Condition, Rotor


@dataclass(frozen=True)
class State:
    """The rim with a set of interferences (N keys, P poles), all keys pressing at standstill.

    Attributes
    ----------
    keys : array (N,), m
    deviation : array (P,), m
        Of the outside at each pole from the mean circle about the axis, at standstill, 20 degC and without field.
    force : array (N,), N
        On each key, there.
    first_lift_off : dict of str to float, rad/s
        By condition; inf where no key lifts off up to the end of the path.
    first_key : dict of str to int
        From 1, 0 for none.
    """

    keys: Floats
    deviation: Floats
    force: Floats
    first_lift_off: dict[str, float]
    first_key: dict[str, int]

    @property
    def mean(self) -> float:
        """Mean interference, m."""
        return float(self.keys.mean())

    @property
    def largest(self) -> float:
        """Largest deviation, m."""
        return float(np.abs(self.deviation).max())

    @property
    def offset(self) -> float:
        """Offset of the centre of the outside from the axis, m."""
        return float(once_around(self.deviation))


class ShimmedRim:
    """The rim key by key in every condition, set up once: what interferences do to it."""

    def __init__(self, rotor: Rotor, conditions: Mapping[str, Condition], start: Start) -> None:
        self.start = start
        poles = int(rotor.poles.count)
        self.pole_angle = 2.0 * np.pi * np.arange(poles) / poles
        own = start.keys + start.settled
        self.cold = keyed_rotor(rotor, UNIFORM_COLD, own)
        self.keyed = {name: keyed_rotor(rotor, condition, own) for name, condition in conditions.items()}
        matrix, rest = pressed_outline(self.cold, self.pole_angle)
        self.outline = matrix, floats(rest + matrix @ np.full(own.size, start.settled))
        self.pressings = {name: self._pressing(keyed) for name, keyed in self.keyed.items()}
        self.highest = {name: float(keyed.loads.nodes[-1]) for name, keyed in self.keyed.items()}

    def _pressing(self, keyed: KeyedRotor) -> Pressing:
        def at(speed_squared: float) -> tuple[Floats, Floats]:
            influence, rest = pressed_forces(keyed, speed_squared)
            return influence, floats(rest + influence.sum(axis=1) * self.start.settled)

        return at

    def first_lift_off(self, condition: str, keys: Floats) -> tuple[float, int]:
        """Speed (rad/s) and key (from 1) of the first lift-off, by the contact key by key; inf and 0 for none."""
        path = follow(self.keyed[condition].with_keys(keys + self.start.settled).loads)
        first = next((event for event in path.events if not event.seats), None)
        return (math.inf, 0) if first is None else (math.sqrt(first.speed_squared), first.key + 1)

    def state(self, keys: Floats) -> State:
        """The rim with these interferences."""
        influence, rest = pressed_forces(self.cold, 0.0)
        firsts = {name: self.first_lift_off(name, keys) for name in self.keyed}
        matrix, built = self.outline
        return State(
            keys,
            floats(matrix @ keys + built),
            floats(influence @ (keys + self.start.settled) + rest),
            {name: speed for name, (speed, _) in firsts.items()},
            {name: key for name, (_, key) in firsts.items()},
        )

    def expected_square(self, errors: ShimErrors) -> float:
        """What errors of reading add to the mean square of the deviation, whatever is fitted, m2."""
        matrix, keys = self.outline[0], self.start.keys.size
        kinds = [errors.of_reading(keys, kind) + errors.level**2 for kind in READ]
        return max(float(np.einsum("pi,ij,pj->", matrix, kind, matrix)) for kind in kinds) / len(matrix)
