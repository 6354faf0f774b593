"""What every stored number of a machine must be: its kind of quantity, its rule, and what it means.

A field of the machine's dataclasses carries these three as metadata. The dataclasses check themselves with them,
the case file is validated with them, and its JSON Schema is written from them, so a rule stands in one place.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import Field, dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rimmodel.units import KINDS, RPM

Numbers = float | NDArray[np.float64]
"""A scalar, or an array that broadcasts with every other field of the machine."""


@dataclass(frozen=True)
class Rule:
    """A condition on one number, and the words for it."""

    words: str
    holds: Callable[[Any], Any]


POSITIVE = Rule("above zero", lambda value: value > 0)
NOT_NEGATIVE = Rule("zero or above", lambda value: value >= 0)
FINITE = Rule("a finite number", np.isfinite)
SHARE = Rule("above 0 and at most 1", lambda value: (value > 0) & (value <= 1))
PART = Rule("0 or above and below 1", lambda value: (value >= 0) & (value < 1))
FLANK = Rule("from 10 deg to 90 deg", lambda value: (value >= 0.1745) & (value <= 1.5708))
HOOP_SHARE = Rule("above 0 and at most 1.5", lambda value: (value > 0) & (value <= 1.5))
ONE_OR_MORE = Rule("1 or more", lambda value: value >= 1)
POISSON = Rule("0 or above and below 0.5", lambda value: (value >= 0) & (value < 0.5))
COUNT = Rule("a whole number of 1 or more", lambda value: (value >= 1) & (value == np.floor(value)))
SEVERAL = Rule("a whole number of 2 or more", lambda value: (value >= 2) & (value == np.floor(value)))


def quantity(kind: str, rule: Rule, meaning: str, **more: object) -> Mapping[str, object]:
    """Metadata of a field that is written as text with a unit in a case file; `kind` is one of `units.KINDS`."""
    return {"kind": KINDS[kind].name, "rule": rule, "meaning": meaning, **more}


def plain(rule: Rule, meaning: str, **more: object) -> Mapping[str, object]:
    """Metadata of a dimensionless field, a bare number in a case file."""
    return {"kind": None, "rule": rule, "meaning": meaning, **more}


def value_text(value: object, kind: str | None) -> str:
    """A number with the unit of its kind, for messages: SI, but speeds in rpm."""
    if kind == "speed" and isinstance(value, float | int | np.number):
        return f"{value / RPM:g} rpm"
    unit = f" {KINDS[kind].si_unit}" if kind else ""
    return f"{value:g}{unit}" if isinstance(value, float | int | np.number) else f"{value!r}"


class Checked:
    """Base of the stored inputs: every field with metadata obeys its rule, or the object is not made."""

    def __post_init__(self) -> None:
        faults = [fault for field in fields(self) if (fault := self._fault(field))]  # type: ignore[arg-type]
        if faults:
            raise ValueError(f"{type(self).__name__}: " + "; ".join(faults))

    def _fault(self, field: Field[Any]) -> str | None:
        rule, value = field.metadata.get("rule"), getattr(self, field.name)
        if rule is None or value is None:
            return None
        number = np.asarray(value, dtype=float)
        bad = ~np.asarray(rule.holds(number), dtype=bool) | np.isnan(number)
        if not bad.any():
            return None
        wrong = number[bad].flat[0] if number.shape else number[()]
        return f"{field.name} is {value_text(wrong, field.metadata['kind'])}; it must be {rule.words}"
