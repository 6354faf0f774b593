"""What every stored number of a machine must be: its kind of quantity, its rule, and what it means.

A field of the machine's dataclasses carries these three as metadata. The dataclasses check themselves with them,
the case file is validated with them, and its JSON Schema is written from them, so a rule stands in one place.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import Field, dataclass, fields
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from rimmodel.units import KINDS, probably_meant, rpm, with_unit


@dataclass(frozen=True)
class Rule:
    """A condition on one number, and the words for it."""

    words: str
    holds: Callable[[Any], Any]
    schema: tuple[tuple[str, object], ...] = ()
    """The same in terms of a JSON Schema, for editors."""


@dataclass(frozen=True)
class Bounds:
    """Between which a value lies on every hydro-generator; a case file is refused outside of them.

    They are wider than any machine that is known, and serve to find slips of unit, place and meaning. The
    dataclasses themselves take any value that obeys its rule and is plausible for its kind; see `plausible_range`.

    Parameters
    ----------
    lowest, highest : float, SI
    slip : str
        What a value outside of them probably is.
    or_zero : bool
        Zero, which says that there is none, is allowed too.
    """

    lowest: float
    highest: float
    slip: str = ""
    or_zero: bool = False

    def holds(self, value: float) -> bool:
        """Whether a value (SI) lies between them."""
        return self.lowest <= value <= self.highest or (self.or_zero and value == 0)

    def times(self, factor: float) -> Bounds:
        """The bounds of a multiple, such as those of a diameter."""
        return Bounds(factor * self.lowest, factor * self.highest, self.slip, self.or_zero)

    def words(self, value: float, kind: str | None) -> str:
        """The rule in words, with what probably went wrong with a value (SI) outside of it."""
        zero = "zero, or " if self.or_zero and self.lowest > 0 else ""
        if self.lowest == -np.inf:
            return f"at most {_bound_text(self.highest, kind)}" + (f"; {self.slip}" if self.slip else "")
        rule = f"{zero}from {_bound_text(self.lowest, kind)} to {_bound_text(self.highest, kind)}"
        rule += " on a hydro-generator" if kind else ""
        if self.slip:
            return f"{rule}; {self.slip}"
        fits = [factor for factor in (1e3, 1e-3, 1e6, 1e-6) if self.holds(value * factor)]
        return f"{rule}; {fits[0]:g} times as much would fit, check the unit" if fits else f"{rule}; check the unit"


POSITIVE = Rule("above zero", lambda value: value > 0)
NOT_NEGATIVE = Rule("zero or above", lambda value: value >= 0)
FINITE = Rule("a finite number", np.isfinite)
SHARE = Rule("above 0 and at most 1", lambda value: (value > 0) & (value <= 1))
PART = Rule("0 or above and below 1", lambda value: (value >= 0) & (value < 1))
FLANK = Rule("from 10 deg to 90 deg", lambda value: (value >= 0.1745) & (value <= 1.5708))
HOOP_SHARE = Rule("above 0 and at most 1.5", lambda value: (value > 0) & (value <= 1.5))
ONE_OR_MORE = Rule("1 or more", lambda value: value >= 1)
POISSON = Rule("0 or above and below 0.5", lambda value: (value >= 0) & (value < 0.5))
EVEN = Rule("an even whole number of 2 or more", lambda value: (value >= 2) & (value % 2 == 0))
COUNT = Rule("a whole number of 1 or more", lambda value: (value >= 1) & (value == np.floor(value)))
SEVERAL = Rule("a whole number of 2 or more", lambda value: (value >= 2) & (value == np.floor(value)))


def quantity(kind: str, rule: Rule, meaning: str, **more: object) -> Mapping[str, object]:
    """Metadata of a field that is written as text with a unit in a case file; `kind` is one of `units.KINDS`."""
    return {"kind": KINDS[kind].name, "rule": rule, "meaning": meaning, **more}


def plain(rule: Rule, meaning: str, **more: object) -> Mapping[str, object]:
    """Metadata of a dimensionless field, a bare number in a case file."""
    return {"kind": None, "rule": rule, "meaning": meaning, **more}


def text(
    meaning: str, choices: Callable[[], Sequence[str]] | Sequence[str] = (), **more: object
) -> Mapping[str, object]:
    """Metadata of a field that holds text: any, or one of `choices`."""
    return {"kind": None, "text": True, "choices": choices, "meaning": meaning, **more}


def choices_of(metadata: Mapping[str, Any]) -> tuple[str, ...]:
    """The words that a field of text may hold, as of now; empty where any may stand."""
    choices = metadata.get("choices", ())
    return tuple(choices() if callable(choices) else choices)


_IN_PRINT = ("speed", "temperature", "strength", "stress", "elastic modulus")
"""Kinds whose bounds are shown in the unit of print, not in SI."""


def _bound_text(value: float, kind: str | None) -> str:
    if kind in _IN_PRINT:
        return with_unit(value, kind, ".6g")
    return f"{value:.6g} {KINDS[kind].si_unit if kind else ''}".rstrip()


def value_text(value: object, kind: str | None) -> str:
    """A number with the unit of its kind, for messages: SI, but speeds in rpm."""
    if kind == "speed" and isinstance(value, float | int | np.number):
        return rpm(float(value), "g")
    unit = f" {KINDS[kind].si_unit}" if kind else ""
    return f"{value:g}{unit}" if isinstance(value, float | int | np.number) else f"{value!r}"


SLIPS_OF_UNIT = ("temperature", "small length", "elastic modulus", "shear modulus", "strength")
"""Kinds of which a bare number is refused outside `plausible_range`: their SI value is not what people write down."""


def plausible_range(kind: str, bounds: Bounds | None = None) -> tuple[float, float]:
    """Between which values (SI) a number of a kind is taken; outside it stands in another unit.

    A text with a unit is held to the same range of its kind. A small length reaches five times as far as on any
    machine: wide enough for studies, and narrow enough for millimetres that were given as metres.

    Parameters
    ----------
    kind : str
        One of `units.KINDS`.

    Returns
    -------
    lowest, highest : float, SI

    >>> plausible_range("temperature")
    (173.15, 773.15)
    """
    lowest, highest = KINDS[kind].lowest, KINDS[kind].highest
    if kind == "small length" and bounds is not None:
        reach = 5.0 * max(abs(bounds.lowest), abs(bounds.highest))
        return max(lowest, -reach), min(highest, reach)
    return lowest, highest


Part = TypeVar("Part")


def varied(part: Part, **values: object) -> Part:
    """A copy of a checked part with values that are right by construction: the inner loop of a fit checks nothing.

    Parameters
    ----------
    part : Part
        A frozen dataclass.
    values : float or array, SI
    """
    copy = object.__new__(type(part))
    copy.__dict__.update(vars(part))
    copy.__dict__.update(values)
    return copy


class Checked:
    """Base of the stored inputs: every field with metadata obeys its rule, or the object is not made."""

    def __post_init__(self) -> None:
        faults = [fault for field in fields(self) if (fault := self._fault(field))]  # type: ignore[arg-type]
        if faults:
            raise ValueError(f"{type(self).__name__}: " + "; ".join(faults))

    def _fault(self, field: Field[Any]) -> str | None:
        rule, value = field.metadata.get("rule"), getattr(self, field.name)
        if value is None:
            return None
        name = field.metadata.get("key", field.name)
        if "text" in field.metadata and (choices := choices_of(field.metadata)) and value not in choices:
            return f"{name} is {value!r}; it must be one of {', '.join(choices)}"
        if rule is None:
            return None
        kind: Any = field.metadata.get("kind")
        level = kind in SLIPS_OF_UNIT and "difference" not in field.metadata
        if type(value) is float and value == value and rule.holds(value):  # most are: arrays of one take ten times
            lowest, highest = plausible_range(kind, field.metadata.get("bounds")) if level else (-np.inf, np.inf)
            if lowest <= value <= highest:
                return None
        number = np.asarray(value, dtype=float)
        bad = ~np.asarray(rule.holds(number), dtype=bool) | np.isnan(number)
        if bad.any():
            return f"{name} is {value_text(_first(number, bad), kind)}; it must be {rule.words}"
        return self._slip(name, field, number) if level else None

    def _slip(self, name: str, field: Field[Any], number: NDArray[np.float64]) -> str | None:
        """A number that is far from any of its kind, with the unit in which it was probably meant."""
        kind, bounds = field.metadata["kind"], field.metadata.get("bounds")
        lowest, highest = plausible_range(kind, bounds)
        bad = ((number < lowest) | (number > highest)) & np.isfinite(number)
        if not bad.any():
            return None
        wrong = float(_first(number, bad))
        unit = KINDS[kind].si_unit
        meant = probably_meant(wrong, kind, bounds.holds if bounds else lambda value: lowest <= value <= highest)
        return f"{name} is {wrong:g} {unit}; it must be from {lowest:g} {unit} to {highest:g} {unit}{meant}"


def _first(number: NDArray[np.float64], bad: NDArray[np.bool_]) -> np.float64:
    """The first wrong value of an array, or the wrong number itself."""
    return np.float64(number[bad].flat[0] if number.shape else number[()])
