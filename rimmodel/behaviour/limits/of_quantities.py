"""Checks of the quantities that carry a limit of their own: share of a reference, at every named speed."""

from __future__ import annotations

from collections.abc import Iterator

from rimmodel.arrays import floats
from rimmodel.behaviour.limits.check import About, Check, at_least, at_most, unknown
from rimmodel.behaviour.quantities import quantity_values
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.allowances import Limits
from rimmodel.rotor.registry import QUANTITIES, QuantityAt


def quantity_checks(
    rotor: Rotor, condition: Condition, name: str, limits: Limits, carrier: Rotor | None = None
) -> Iterator[Check]:
    """The checks of every quantity with a limit in one condition.

    Parameters
    ----------
    rotor : Rotor
    condition : Condition
    name : str
        Of the condition.
    limits : Limits
    carrier : Rotor, optional
        As in `rimmodel.behaviour.quantities.quantity_values`.

    Yields
    ------
    Check
    """
    for entry in QUANTITIES.values():
        limit = entry.limit
        if limit is None:
            continue
        share, source = limits.of_quantity(limit)
        reference = limit.reference(rotor)
        for at in rotor.speeds.from_standstill if entry.at_speed else ("",):
            about = About(at, name, source, f"limits.{limit.key}", unit=entry.printed)
            if reference is None:
                yield unknown(entry.words, about, limit.reference_key, entry.kind, ceiling=entry.less_is_better)
                continue
            asked = QuantityAt(entry, at).name
            value = quantity_values(rotor, condition, [asked], carrier)[asked]
            check = at_most if entry.less_is_better else at_least
            yield check(entry.words, about, value, share * floats(reference), entry.kind, limit.meaning)
