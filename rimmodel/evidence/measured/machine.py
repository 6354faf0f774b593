"""The machine that a recording shows, and any number of it with everything that is not known.

A back-fit knows how far noise and few points leave its unknowns open. A number that somebody signs depends on more:
pole mass and steel of the machine, temperatures of the run and of the condition asked for, gain and level of the
sensors, and what has lost the interference that is missing. Each cause enters here once: a neighbour of the best
machine is built to each side of it, refitted to the same recording, and every number asked of them all.

The sides of an interval are put together from those of its causes in quadrature, each side by itself: exact where
all is linear and normal, and true to skewed causes (Zou & Donner, Statistics in Medicine 27 (2008) 1693; from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from rimmodel.arrays import Floats, Interval, floats
from rimmodel.behaviour.quantities import quantity_values
from rimmodel.evidence.measured.scatter import scatter_worth, with_scatter
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.registry import quantity_at

RULED_OUT = 2.576
"""Standard uncertainties by which the level must miss a reading before the recording rules it out: 1 in 100."""

READINGS = {"keys": 0.0, "stack": 1.0}
"""Share of the lost interference that is growth of the stack, by what is taken to have lost it."""

NOISE, TEMPERATURE, GAIN, LEVEL, AXES, SHIMS = (
    "recording",
    "temperature of the run",
    "gain of the sensors",
    "level of the sensors and cold gap",
    "axes of the chart",
    "single shims",
)


Asked = Callable[[Rotor, Condition], Floats]
"""Any number of a rotor in a condition, fields (row,) to values (row,)."""


@dataclass(frozen=True)
class Level:
    """Level of the recorded gaps against that of the case, for each cause of lost interference.

    Attributes
    ----------
    difference : dict of float, m
        Recorded less expected mean gap, by "keys" and "stack"; empty where a recording holds changes only.
    standard_uncertainty : float, m
        Of that difference: cold gap, sensors, fit.
    possible : tuple of str
        Causes that the level does not rule out, or that which the case states.
    own_uncertainty : dict of float, m
        Standard uncertainty of each difference by what changes from run to run alone: noise, temperature, sensors.
    """

    difference: dict[str, float]
    standard_uncertainty: float
    possible: tuple[str, ...]
    own_uncertainty: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class ByTest:
    """A number of the measured machine.

    Attributes
    ----------
    best : float, SI
        NaN where the recording gives bounds only.
    interval : pair of float, SI
        Infinite on an open side.
    parts : dict of pair of float, SI
        What each cause adds to the lower and to the upper side.
    by_cause : dict of pair of float and interval, SI
        Best value and interval for each cause of lost interference that is possible.
    """

    best: float
    interval: Interval
    parts: dict[str, Interval]
    by_cause: dict[str, tuple[float, Interval]]


@dataclass(frozen=True)
class MeasuredMachine:
    """The best machine and its neighbours; `rows` of all arrays are best, lower, upper side of each cause.

    Attributes
    ----------
    confidence : float, -
    causes : tuple of str
        One for each pair of neighbours; several pairs may share a cause.
    rotors, carried : dict of Rotor
        By cause of lost interference, fields (row,): with the spider of the drawing, and with that which was fitted.
    conditions : dict of Condition
        Fields (row,).
    bounded : pair of bool
        Whether the lift-off of the run is bounded below, above.
    noise : bool
        Whether the pairs hold the noise of the recording; False where the rows stand at a bound of the lift-off.
    """

    case: Case
    confidence: float
    causes: tuple[str, ...]
    rotors: dict[str, Rotor]
    carried: dict[str, Rotor]
    conditions: dict[str, Condition]
    level: Level
    bounded: tuple[bool, bool]
    noise: bool

    def values(self, asked: str | Asked, condition: str, lost_by: str) -> Floats:
        """Array (row,), SI, of a quantity by name, or of a function of rotor and condition."""
        state = self.conditions[condition]
        with np.errstate(invalid="ignore"):
            if callable(asked):
                found = asked(self.carried[lost_by], state)
            else:  # the fit knows of the spider what a gap shows, not its stress
                entry = quantity_at(asked).quantity  # nor of single keys, which its spider holds smeared
                rotor = (self.rotors if entry.of_spider or entry.of_keys else self.carried)[lost_by]
                found = quantity_values(rotor, state, [asked])[asked]
        return np.broadcast_to(found, (1 + 2 * len(self.causes),))

    def sides(self, values: Floats) -> dict[str, Interval]:
        """What each cause adds below and above the best of `values` (row,), in their unit.

        Infinite where a neighbour has no value.
        """
        count = len(self.causes)
        with np.errstate(invalid="ignore"):  # a value that is none has no sides
            pairs = np.stack([values[1 : 1 + count], values[1 + count :]]) - values[0]
        lost = ~np.isfinite(pairs)
        low = np.where(lost.any(axis=0), _open_side(pairs, -1.0), np.maximum(-pairs.min(axis=0), 0.0))
        high = np.where(lost.any(axis=0), _open_side(pairs, 1.0), np.maximum(pairs.max(axis=0), 0.0))
        found: dict[str, Interval] = {}
        for cause, below, above in zip(self.causes, low, high, strict=True):
            known = found.get(cause, (0.0, 0.0))
            found[cause] = (float(np.hypot(known[0], below)), float(np.hypot(known[1], above)))
        return found


def _open_side(pairs: Floats, sign: float) -> Floats:
    """Reach of a pair of which a neighbour has no finite value: a NaN opens both sides, an infinity its own."""
    towards = sign * pairs
    reach: Floats = np.where(np.isnan(pairs).any(axis=0), np.inf, np.maximum(towards.max(axis=0), 0.0))
    return reach


def interference_left(rotor: Rotor, condition: Condition) -> Floats:
    """Interference at 20 degC that a rotor has left after all that it has lost, whatever the condition.

    Returns
    -------
    array, m
    """
    fit = rotor.fit
    return floats(fit.interference) - floats(fit.settlement) - floats(fit.stack_growth)


def by_test(machines: tuple[MeasuredMachine, ...], quantity: str | Asked, condition: str) -> ByTest:
    """A number of the measured machine with its interval.

    Where the recording bounds the lift-off on one side only, the number is known on the side that follows from that.
    Where the cause of lost interference is open, the interval holds what either would make of it.

    Parameters
    ----------
    quantity : str or callable
        As in claims, or a function of rotor and condition with fields (row,) that gives an array (row,).
    """
    if not machines:
        return ByTest(float("nan"), (-np.inf, np.inf), {}, {})
    causes = machines[0].level.possible
    found = {cause: _for_cause(machines, quantity, condition, cause) for cause in causes}
    if isinstance(quantity, str):
        found = {cause: _scattered(machines, quantity, condition, cause, one) for cause, one in found.items()}
    low = min(interval[0] for _, interval, _ in found.values())
    high = max(interval[1] for _, interval, _ in found.values())
    level = machines[0].level
    likelier = min(causes, key=lambda cause: abs(level.difference.get(cause, 0.0)))
    best, _, parts = found[likelier]
    return ByTest(best, (low, high), parts, {cause: (value, ends) for cause, (value, ends, _) in found.items()})


def own_interval(found: ByTest) -> Interval:
    """The interval from the causes that change from run to run alone: for differences between runs of one machine.

    Returns
    -------
    pair of float, SI
    """
    if not found.parts:
        return found.interval
    below, above = (
        float(np.hypot.reduce([found.parts.get(cause, (0.0, 0.0))[end] for cause in (NOISE, TEMPERATURE, AXES)]))
        for end in (0, 1)
    )
    return found.best - below, found.best + above


def _for_cause(
    machines: tuple[MeasuredMachine, ...], quantity: str | Asked, condition: str, cause: str
) -> tuple[float, Interval, dict[str, Interval]]:
    rows = [(machine, machine.values(quantity, condition, cause)) for machine in machines]
    if machines[0].noise:
        machine, values = rows[0]
        sides = machine.sides(values)
        if not np.isfinite(values[0]):
            return float(values[0]), (-np.inf, np.inf), sides
        below, above = (float(np.hypot.reduce([side[end] for side in sides.values()])) for end in (0, 1))
        return float(values[0]), (float(values[0]) - below, float(values[0]) + above), sides
    return float("nan"), _between_bounds(rows, quantity), {}


def _scattered(
    machines: tuple[MeasuredMachine, ...],
    quantity: str,
    condition: str,
    cause: str,
    found: tuple[float, Interval, dict[str, Interval]],
) -> tuple[float, Interval, dict[str, Interval]]:
    """What `_for_cause` found, with the scatter of single shims where the quantity depends on them."""
    worth = scatter_worth(machines[0].case, quantity, condition, machines[0].confidence)
    if worth == (0.0, 0.0):
        return found

    def changed(change: float) -> float:
        rotor = machines[0].rotors[cause]
        moved = {cause: rotor.with_interference(floats(rotor.fit.interference) + change)}
        return float(replace(machines[0], rotors=moved).values(quantity, condition, cause)[0])

    best, interval, parts = found
    ends, sides = with_scatter(interval, best, worth, changed)
    return best, ends, {**parts, SHIMS: sides}


def _between_bounds(rows: list[tuple[MeasuredMachine, Floats]], quantity: str | Asked) -> Interval:
    """Interval between the bounds of the lift-off; only what rises with it follows from one bound alone."""
    ends = []
    for machine, values in rows:
        sides = machine.sides(values).values()
        below, above = (float(np.hypot.reduce([side[end] for side in sides])) for end in (0, 1))
        ends.append((float(values[0]) - below, float(values[0]) + above))
    bounded = rows[0][0].bounded
    if isinstance(quantity, str):
        rises = quantity_at(quantity).quantity.rises_with_lift_off
    else:
        rises = quantity is interference_left
    if all(bounded):
        return min(low for low, _ in ends), max(high for _, high in ends)
    if not rises or np.isnan(ends[0]).any():
        return -np.inf, np.inf
    return (ends[0][0], np.inf) if bounded[0] else (-np.inf, ends[0][1])
