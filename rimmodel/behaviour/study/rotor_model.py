"""A case as a function of any of its numbers: tables of samples in, float speeds, gaps and stresses out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.quantities import quantity_values
from rimmodel.behaviour.study.inputs import Inputs, Table
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.near import near
from rimmodel.rotor.registry import HIGHEST, QUANTITIES, QuantityAt, quantity_at
from rimmodel.rotor.tolerance import PER_KEY, Tolerance


@dataclass(frozen=True)
class Asked:
    """A quantity in a condition."""

    quantity: str
    condition: str

    @property
    def name(self) -> str:
        """Name of the output of a study."""
        return f"{self.quantity}, {self.condition}"


@dataclass(frozen=True)
class RotorModel:
    """Outputs of a case for tables of its numbers, by their keys in the case file.

    Bounds that the file states as multiples of a speed stay as they are when that speed varies.

    Attributes
    ----------
    steel : dict of str to str
        The material of rim and spider.
    key_values : tuple of float, m
        Interferences of the keys.
    derived : str
        The length that the file left to be worked out from the two others of face radius, cold gap and stator bore.
    """

    rotor: Rotor
    conditions: dict[str, Condition]
    asked: tuple[Asked, ...]
    steel: dict[str, str]
    key_values: tuple[float, ...]
    derived: str

    def __call__(self, table: Table) -> dict[str, Floats]:
        """Every quantity asked, arrays (sample,)."""
        rotor, conditions = self.machine(table)
        found: dict[str, Floats] = {}
        for name, condition in conditions.items():
            quantities = [row.quantity for row in self.asked if row.condition == name]
            values = quantity_values(rotor, condition, quantities) if quantities else {}
            found |= {Asked(quantity, name).name: value for quantity, value in values.items()}
        return {row.name: found[row.name] for row in self.asked}

    def machine(self, table: Table) -> tuple[Rotor, dict[str, Condition]]:
        """Rotor and conditions with the values of the table in place.

        Raises `ValueError` when a value breaks a rule, naming key, value and rule.
        """
        changes: dict[str, dict[str, Any]] = {}
        for name, values in table.items():
            if not name.startswith(PER_KEY):
                where, _, key = name.rpartition(".")
                changes.setdefault(where, {})[key] = values
        self._settle_gap(changes)
        if shift := self._key_shift(table):
            fit = changes.setdefault("fit", {})
            fit["interference"] = fit.get("interference", self.rotor.fit.interference) + shift[0]
        try:
            return self._rotor(changes), {
                name: replace(state, **changes.get(f"conditions.{name}", {})) for name, state in self.conditions.items()
            }
        except ValueError as error:
            raise ValueError(f"a sample cannot be built: {error}; narrow the tolerance of that number") from error

    def _rotor(self, changes: Mapping[str, dict[str, Any]]) -> Rotor:
        parts = {}
        for name in ("rim", "poles", "spider", "fit", "air_gap", "speeds", "assembly", "axial"):
            stored, own = getattr(self.rotor, name), dict(changes.get(name, {}))
            steel = changes.get(f"materials.{self.steel.get(name)}")
            if steel:
                own["material"] = replace(stored.material, **steel)
            if own:
                parts[name] = replace(stored, **own)
        return replace(self.rotor, **parts) if parts else self.rotor

    def _settle_gap(self, changes: dict[str, dict[str, Any]]) -> None:
        """Keep face radius + cold gap = stator bore when one of them varies."""
        gap, poles = changes.get("air_gap", {}), changes.get("poles", {})
        if not ({"cold", "stator_bore_radius"} & gap.keys() or "face_radius" in poles):
            return
        face = poles.get("face_radius", self.rotor.poles.face_radius)
        cold = gap.get("cold", self.rotor.air_gap.cold)
        bore = gap.get("stator_bore_radius", self.rotor.stator_bore_radius)
        gap = changes.setdefault("air_gap", {})
        if self.derived == "face":
            changes.setdefault("poles", {})["face_radius"] = bore - cold
        elif self.derived == "cold" or "stator_bore_radius" in gap:
            gap["cold"] = bore - face
        gap["stator_bore_radius"] = None

    def _key_shift(self, table: Table) -> list[Floats]:
        """What the keys add to the mean interference, as a list of one; empty where none varies by itself."""
        drawn = [
            floats(table[name]) - value
            for key, value in enumerate(self.key_values, 1)
            if (name := f"{PER_KEY}[{key}]") in table
        ]
        return [sum(drawn[1:], drawn[0]) / len(self.key_values)] if drawn else []


def rotor_model(case: Case, asked: Iterable[Asked] | None = None) -> RotorModel:
    """The model of a case; `asked` are by default those of `default_asked`."""
    rotor, raw = case.rotor, case.as_read
    steel = {part: raw[part]["material"] for part in ("rim", "spider") if raw.get(part, {}).get("material")}
    face = {"face_radius", "face_diameter"} & raw.get("poles", {}).keys()
    given = {*raw.get("air_gap", {}), *(["face"] if face else [])}
    derived = "bore" if {"cold", "face"} <= given else ("face" if "cold" in given else "cold")
    count = 0 if rotor.key_count is None else int(np.asarray(rotor.key_count))
    keys = rotor.fit.key_interference or (float(rotor.fit.interference),) * count
    wanted = tuple(default_asked(case) if asked is None else asked)
    return RotorModel(rotor, case.conditions, wanted, steel, tuple(keys), derived)


def default_asked(case: Case) -> tuple[Asked, ...]:
    """What a study reports unasked in every condition, then all that is claimed or required.

    What needs the parts of the spider is left out where only its stiffness is known.
    """
    highest = case.rotor.speeds.highest_name
    usual = [
        QuantityAt(entry, highest if entry.studied_at == HIGHEST else entry.studied_at)
        for entry in QUANTITIES.values()
        if entry.studied_at is not None
    ]
    asked = [Asked(row.name, name) for name in case.conditions for row in usual]
    asked += [Asked(row.quantity, case.condition(row.condition)[0]) for row in case.claims]
    asked += [Asked(row.quantity, case.condition(row.condition)[0]) for row in case.requirements]
    of_spider = [QuantityAt(entry, highest).name for entry in QUANTITIES.values() if entry.of_spider]
    known = quantity_values(case.rotor, next(iter(case.conditions.values())), of_spider)
    without = {quantity_at(name).quantity.name for name, value in known.items() if not np.isfinite(value)}
    return tuple(dict.fromkeys(row for row in asked if quantity_at(row.quantity).quantity.name not in without))


def case_inputs(case: Case) -> Inputs:
    """What varies in a case: its tolerances and correlations, a tolerance of the keys as one for each key."""
    model = rotor_model(case, ())
    marginals: list[Tolerance] = []
    for row in case.tolerances:
        if row.name != PER_KEY:
            marginals.append(row)
            continue
        marginals += [
            replace(row, name=f"{PER_KEY}[{key}]", centre=value) for key, value in enumerate(model.key_values, 1)
        ]
    return Inputs(tuple(marginals), case.correlations)


def check_table(case: Case, names: Iterable[str]) -> None:
    """Refuse a table of samples that names what the case does not hold. Raises `ValueError` with the name."""
    from rimmodel.rotor.case.tolerances import case_quantities  # loads what reads case files

    known = case_quantities(case.rotor, case.conditions, case.as_read)
    for name in names:
        if name.partition("[")[0] not in known:
            raise ValueError(f"table of samples: the case has no {name!r}{near(name, known)}")


def shim_sets(case: Case, table: Table) -> Floats:
    """Interference of every key, as `key_study` takes it, for a table of samples.

    A sample of the mean interference moves all keys alike, by definition.

    Parameters
    ----------
    table : mapping of str to array (sample,), SI

    Returns
    -------
    array (sample, key), m

    The mean of the example is 2.1 mm, so a sample of 2.2 mm adds 0.1 mm to its first key of 2.05 mm:

    >>> import rimmodel as rm
    >>> print(f"{shim_sets(rm.example_case(), {'fit.interference': floats([2.2e-3])})[0, 0] * 1e3:.3f} mm")
    2.150 mm
    """
    model = rotor_model(case, ())
    size = len(next(iter(table.values())))
    moved = floats(table.get("fit.interference", case.rotor.fit.interference)) - floats(case.rotor.fit.interference)
    columns = [
        np.broadcast_to(floats(table.get(f"{PER_KEY}[{key}]", value)) + moved, (size,))
        for key, value in enumerate(model.key_values, 1)
    ]
    return np.stack(columns, axis=1)
