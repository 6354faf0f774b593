"""Whether two machines are of one design: geometry, masses and materials, number by number."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import Field, dataclass, fields, is_dataclass
from typing import Any

import numpy as np

from rimmodel.rotor.conditions import Condition
from rimmodel.rotor.quantity import value_text
from rimmodel.rotor.rotor import Rotor

SAME_LENGTH = 0.005
"""Share by which lengths of one design may differ between drawings: rounding, and machining that was recorded."""

SAME_OTHER = 0.02
"""Share by which masses, elastic constants, densities and factors of one design may differ."""

SAME_TEMPERATURE = 1.0
"""K between conditions that count as the same."""

PARTS = ("rim", "poles", "spider")
"""Parts of a design. Fit and air gap are left out: how they differ between sister units is what a family asks."""

_LENGTHS = ("length", "small length")
_NO_PART_OF_GROWTH = ("shape", "yield_strength", "ultimate_strength", "endurance_limit", "stress_concentration_factor",
                      "net_section_factor", "bending_stiffness_factor", "attachment_area")  # fmt: skip


@dataclass(frozen=True)
class Stated:
    """A number of a drawing as it enters the comparison; `value` is None, a text, or SI.

    Parameters
    ----------
    value : float, SI
    """

    value: Any
    kind: str | None = None

    @property
    def words(self) -> str:
        """The value in words."""
        if self.value is None:
            return "absent"
        return value_text(self.value, self.kind) if isinstance(self.value, float) else str(self.value)


@dataclass(frozen=True)
class Design:
    """Every number of a machine that makes its growth, and of its conditions, by the key of the case file."""

    numbers: dict[str, Stated]
    conditions: dict[str, dict[str, Stated]]

    @classmethod
    def of(cls, rotor: Rotor, conditions: Mapping[str, Condition]) -> Design:
        """The design of a rotor with its conditions."""
        found: dict[str, Stated] = {}
        for part in PARTS:
            whole = getattr(rotor, part)
            found[f"{part}.kind"] = Stated(type(whole).__name__.removesuffix("Spider").lower())
            found |= dict(_numbers(whole, part))
        states = {name: dict(_numbers(state, f"conditions.{name}")) for name, state in conditions.items()}
        return cls(found, states)

    def unlike(self, other: Design, condition: str | None = None) -> str:
        """The first number in which two designs, or their conditions of a name, differ; empty where they are alike.

        Returns
        -------
        str
            Key, both values, and by how much they may differ.
        """
        if condition is None:
            return _difference(self.numbers, other.numbers)
        return _difference(self.conditions[condition], other.conditions[condition])


def _difference(one: dict[str, Stated], other: dict[str, Stated]) -> str:
    for key in (*one, *(key for key in other if key not in one)):
        here, there = one.get(key, Stated(None)), other.get(key, Stated(None))
        if not _same(key, here, there):
            return f"{key} is {here.words} against {there.words} (may differ by {_allowed(key, here, there)})"
    return ""


def _numbers(part: Any, prefix: str) -> Iterator[tuple[str, Stated]]:
    for field in fields(part):
        value = getattr(part, field.name)
        if field.name in _NO_PART_OF_GROWTH:
            continue
        if is_dataclass(value) and not isinstance(value, type):
            yield from _numbers(value, f"{prefix}.{field.name}")
        elif isinstance(value, tuple):
            flat = np.ravel(np.asarray(value, dtype=float))
            yield from ((f"{prefix}.{field.name}[{place}]", Stated(float(x), "length")) for place, x in enumerate(flat))
        else:
            yield f"{prefix}.{field.name}", _stated(field, value)


def _stated(field: Field[Any], value: Any) -> Stated:
    if value is None or isinstance(value, str):
        return Stated(value)
    return Stated(float(np.mean(value)), field.metadata.get("kind"))


def _same(key: str, here: Stated, there: Stated) -> bool:
    one, other = here.value, there.value
    if not (isinstance(one, float) and isinstance(other, float)):
        return bool(one == other)
    if one == other:
        return True
    if here.kind == "temperature":
        return abs(one - other) <= SAME_TEMPERATURE
    return not key.endswith("count") and abs(one - other) <= _share(here) * max(abs(one), abs(other))


def _share(stated: Stated) -> float:
    return SAME_LENGTH if stated.kind in _LENGTHS else SAME_OTHER


def _allowed(key: str, here: Stated, there: Stated) -> str:
    if here.kind == "temperature":
        return f"{SAME_TEMPERATURE:g} K"
    exact = key.endswith("count") or not (isinstance(here.value, float) and isinstance(there.value, float))
    return "nothing" if exact else f"{100 * _share(here):g} %"
