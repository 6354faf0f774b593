"""The quantities that can be claimed, required, predicted, studied and printed, each known by one entry.

An entry holds all that differs from one quantity to the next: its name in a case file, its kind and unit of print, its
words, which side is better, what it needs, what of it is a slip, and how it is computed. Those of the house stand in
`rimmodel.behaviour.quantities`, where what computes them is at hand; here is what asks of them by name.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Numbers
from rimmodel.rotor.allowances import Limits
from rimmodel.rotor.conditions import SPEED_NAMES
from rimmodel.rotor.quantity import FINITE, POSITIVE, Rule
from rimmodel.rotor.rotor import Rotor
from rimmodel.units import KINDS, PRINT, PrintUnit

HIGHEST = "highest"
"""In place of the name of the highest speed that a case gives."""

Slip = Callable[[Rotor, float], str]
"""From the machine and a stated value (SI) to why that is a slip; empty where it may be meant."""


@dataclass(frozen=True)
class Limit:
    """How much of a quantity is allowed where a case states nothing else: a check at every named speed.

    Attributes
    ----------
    key : str
        Under ``[limits]`` in a case file, where another share can be stated.
    allowed : float, -
        Share of the reference.
    meaning, source : str
        Of the share.
    reference : callable
        From the machine to what it is a share of, SI; None where the machine does not give that.
    reference_key : str
        The key of the case that gives it.
    rule : Rule
        Of the share.
    """

    key: str
    allowed: float
    meaning: str
    source: str
    reference: Callable[[Rotor], Numbers | None]
    reference_key: str
    rule: Rule = POSITIVE


@dataclass(frozen=True)
class Quantity:
    """A number of a machine that can be asked for by name.

    Attributes
    ----------
    name : str
        As in a case file; one that belongs to a speed is asked as ``name_at_speed``.
    kind : str
        Of `units.KINDS`.
    words : str
        For print.
    evaluate : callable
        From the state of a rotor (`rimmodel.behaviour.quantities.State`) to an array, SI.
    at_speed : bool
        Asked at a named speed, as in ``gap_at_overspeed``; else it is itself a speed or belongs to none.
    less_is_better : bool
        A claim of it is a ceiling (stress, growth), else a floor (speed, gap).
    unit : PrintUnit, optional
        That of its kind when None.
    needs : tuple of str
        Keys that a case may leave out and without which there is no value, such as ``rim.material.yield_strength``.
    rule : Rule
        Of a value that is claimed or required.
    of_spider : bool
        Needs the parts of the spider: there is none where only the stiffness is known.
    by_gap : bool
        A recording of the gap speaks of it.
    rises_with_lift_off : bool
        Known on one side where the lift-off is bounded on that side alone.
    zero_is_no_bound : bool
        An interval that starts at zero is open on that side.
    by_single_poles : bool
        A recording of single poles, or a mark in the gap, shows it by itself where it was taken at that speed.
    of_keys : "first key", "centring" or None
        Which speed of single keys it is: it depends on how their shims differ, so that nothing is shown of it where the
        case does not say how well they are known. None for any other quantity.
    of_pole_faces : bool
        What lies between pole faces and stator: poles that yield move it.
    studied_at : str or None
        Named speed (or `HIGHEST`) at which a study reports it unasked, "" for a quantity of no speed; None where a
        study reports it only when asked.
    slip_of_floor, slip_of_ceiling : callable or None
        Why a value is no bound: one that anything meets holds by a slip.
    limit : Limit or None
        A ceiling where less is better, else a floor.
    """

    name: str
    kind: str
    words: str
    evaluate: Callable[[Any], NDArray[np.float64]]
    at_speed: bool = True
    less_is_better: bool = False
    unit: PrintUnit | None = None
    needs: tuple[str, ...] = ()
    rule: Rule = FINITE
    of_spider: bool = False
    by_gap: bool = True
    rises_with_lift_off: bool = False
    zero_is_no_bound: bool = False
    by_single_poles: bool = False
    of_keys: Literal["first key", "centring"] | None = None
    of_pole_faces: bool = False
    studied_at: str | None = None
    slip_of_floor: Slip | None = None
    slip_of_ceiling: Slip | None = None
    limit: Limit | None = None

    @property
    def printed(self) -> PrintUnit:
        """Its unit of print."""
        return self.unit or PRINT[self.kind]

    def missing_key(self, machine: object) -> str:
        """The first key that a quantity needs and a machine does not give; empty where nothing is missing.

        Parameters
        ----------
        machine : object
            A `Rotor`, or whatever holds its parts under the same names; a part that is None is not asked.
        """
        for need in self.needs:
            *path, last = need.split(".")
            part = machine
            for step in path:
                part = getattr(part, step, None)
            if part is not None and getattr(part, last) is None:
                return need
        return ""

    def missing_input(self, machine: object) -> str:
        """What a quantity needs and a machine does not give, in words; arguments as in `missing_key`."""
        need = self.missing_key(machine)
        part, _, key = need.partition(".material.")
        if key:
            return f"the material of the {part} gives no {key}"
        return f"the case gives no {need}" if need else ""


@dataclass(frozen=True)
class QuantityAt:
    """A quantity as it is asked for: at the named speed `at`, "" where it belongs to none."""

    quantity: Quantity
    at: str = ""

    @property
    def name(self) -> str:
        """As in a case file."""
        return f"{self.quantity.name}_at_{self.at}" if self.at else self.quantity.name

    @property
    def words(self) -> str:
        """For print."""
        return f"{self.quantity.words} at {self.at}" if self.at else self.quantity.words


QUANTITIES: dict[str, Quantity] = {}
"""All that are registered, by name and in the order in which they are printed."""


def register(quantity: Quantity) -> Quantity:
    """Make a quantity known to case files, reviews, studies and print.

    Returns
    -------
    Quantity
        The same quantity.

    Raises
    ------
    ValueError
        A name that is taken or holds ``_at_``, an unknown kind, a kind without a unit of print where the quantity
        states none of its own, a unit with a zero of its own, or a limit whose key is taken.
    """
    if quantity.name in QUANTITIES:
        raise ValueError(f"quantity {quantity.name!r} is registered already")
    if not quantity.name.isidentifier() or "_at_" in quantity.name:
        raise ValueError(f"quantity {quantity.name!r}: a name is one word of letters, digits and _, without '_at_'")
    if quantity.kind not in KINDS:
        raise ValueError(f"quantity {quantity.name!r} has the kind {quantity.kind!r}; one of {', '.join(KINDS)}")
    if quantity.unit is None and quantity.kind not in PRINT:
        raise ValueError(f"quantity {quantity.name!r} needs a unit of print: {quantity.kind} has none of its own")
    if quantity.printed.zero:
        raise ValueError(
            f"quantity {quantity.name!r} is printed in {quantity.printed.name}, whose zero is not that of SI: its "
            "spread would be wrong; state a unit of its own, such as K"
        )
    if quantity.limit is not None:
        _refuse_taken(quantity.limit.key)
    QUANTITIES[quantity.name] = quantity
    return quantity


def _refuse_taken(key: str) -> None:
    if key in {field.name for field in fields(Limits)} | {limit.key for limit in registered_limits()}:
        raise ValueError(f"limit {key!r}: there is one of that name in [limits] already")


def quantity_names() -> tuple[str, ...]:
    """Every name under which a quantity can be asked for, those of no speed first."""
    alone = [entry.name for entry in QUANTITIES.values() if not entry.at_speed]
    return (
        *alone,
        *(QuantityAt(entry, at).name for entry in QUANTITIES.values() if entry.at_speed for at in SPEED_NAMES),
    )


def registered_limits() -> tuple[Limit, ...]:
    """The limits of all quantities that have a limit."""
    return tuple(entry.limit for entry in QUANTITIES.values() if entry.limit is not None)


def find_quantity(name: str) -> QuantityAt | None:
    """The quantity that is asked for by a name, or None when there is no entry of that name.

    >>> find_quantity("gap_at_overspeed").quantity.kind, find_quantity("float_speed").at, find_quantity("gap")
    ('small length', '', None)
    """
    base, _, at = name.rpartition("_at_")
    if base in QUANTITIES and QUANTITIES[base].at_speed and at in SPEED_NAMES:
        return QuantityAt(QUANTITIES[base], at)
    return QuantityAt(QUANTITIES[name]) if name in QUANTITIES and not QUANTITIES[name].at_speed else None


def quantity_at(name: str) -> QuantityAt:
    """The quantity that is asked for by a name. Raises `ValueError` when there is no entry of that name."""
    found = find_quantity(name)
    if found is None:
        raise ValueError(f"{name}: there is no such quantity; the names are {', '.join(quantity_names())}")
    return found
