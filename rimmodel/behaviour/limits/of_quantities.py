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
    name : str
        Of the condition.
    carrier : Rotor, optional
        As in `rimmodel.behaviour.quantities.quantity_values`.

    Yields
    ------
    Check
    """
    for entry in QUANTITIES.values():
        if entry.limit is None:
            continue
        limit, ceiling = entry.limit, entry.less_is_better
        share, source = limits.of_quantity(limit)
        reference = limit.reference(rotor)
        missing = entry.missing_key(rotor) or (limit.reference_key if reference is None else "")
        asked = [QuantityAt(entry, at) for at in (rotor.speeds.from_standstill if entry.at_speed else ("",))]
        values = {} if missing else quantity_values(rotor, condition, [row.name for row in asked], carrier)
        for row in asked:
            about = About(row.at, name, source, f"limits.{limit.key}", unit=entry.printed)
            if reference is None or missing:
                yield unknown(entry.words, about, missing, entry.kind, ceiling=ceiling)
                continue
            allowed = share * floats(reference)
            bound = at_most if ceiling else at_least
            yield bound(entry.words, about, values[row.name], allowed, entry.kind, limit.meaning)
