"""Tolerances and correlations of a case file: their names, values and rules."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from math import isfinite
from typing import Any

import numpy as np

from rimmodel.rotor.case.format import CorrelationTable, ToleranceTable
from rimmodel.rotor.case.tables import checked_group, checked_table
from rimmodel.rotor.conditions import Condition
from rimmodel.rotor.near import near
from rimmodel.rotor.quantity import Rule, value_text
from rimmodel.rotor.rotor import Rotor
from rimmodel.rotor.shrink_fit import ShrinkFit
from rimmodel.rotor.tolerance import PER_KEY, Correlation, Tolerance, correlation_matrix, tolerance_of
from rimmodel.units import UnitError, parse_difference

PROFILE_NEEDS = ("young_modulus", "poisson_ratio", "density")
NOT_TOLERANCED = ("fit.interference_tolerance", "fit.key_interference_tolerance")


@dataclass(frozen=True)
class CaseNumber:
    """A number of the case by its key.

    Attributes
    ----------
    kind : str or None
        Of `units.KINDS`; None for a number without dimension.
    value : float or None, SI
        None when it is not given.
    fixed : bool
        Cannot vary in this case.
    """

    kind: str | None
    rule: Rule
    value: float | None
    fixed: bool = False


def case_quantities(rotor: Rotor, conditions: dict[str, Condition], raw: dict[str, Any]) -> dict[str, CaseNumber]:
    """Every number of a case that can have a tolerance, by its key in the file."""
    parts: dict[str, Any] = {
        name: getattr(rotor, name)
        for name in ("rim", "poles", "spider", "fit", "air_gap", "speeds", "assembly", "axial")
    }
    for part, stored in (("rim", rotor.rim), ("spider", rotor.spider)):
        name = raw.get(part, {}).get("material")
        if name is not None:
            parts[f"materials.{name}"] = stored.material
    parts |= {f"conditions.{name}": state for name, state in conditions.items()}
    found = {}
    for where, stored in parts.items():
        for field in fields(stored):
            meta, value = field.metadata, getattr(stored, field.name)
            if "rule" in meta and not meta.get("several") and "whole" not in meta["rule"].words:
                found[f"{where}.{field.name}"] = CaseNumber(meta["kind"], meta["rule"], value)
    if getattr(rotor.spider, "profile", None) is not None:
        for key in (f"materials.{raw['spider']['material']}.{name}" for name in PROFILE_NEEDS):
            found[key] = replace(found[key], fixed=True)
    bore = found["air_gap.stator_bore_radius"]
    if not {"stator_bore_radius", "stator_bore_diameter"} & raw.get("air_gap", {}).keys():
        found["air_gap.stator_bore_radius"] = CaseNumber(bore.kind, bore.rule, None)
    interference = found["fit.interference"]
    found[PER_KEY] = CaseNumber(interference.kind, interference.rule, interference.value)
    return {name: quantity for name, quantity in found.items() if name not in NOT_TOLERANCED}


def read_tolerances(
    raw: dict[str, Any], rotor: Rotor, conditions: dict[str, Condition], faults: list[str]
) -> tuple[tuple[Tolerance, ...], tuple[Correlation, ...]]:
    """Tolerances and correlations of a case; those that ``[fit]`` states stand first."""
    known = case_quantities(rotor, conditions, raw)
    stated = checked_group("tolerances", ToleranceTable, raw.get("tolerances"), faults)
    tolerances = _of_fit(rotor.fit)
    for name, table in stated.items():
        key = f"tolerances.{name}"
        if any(row.name == name for row in tolerances):
            own = f"{name}_tolerance"
            faults.append(f"{key}: {own} states it too; give only one of the two")
            continue
        if (one := _tolerance(key, name, table, known, faults)) is not None:
            tolerances.append(one)
    if any(row.name == PER_KEY for row in tolerances) and rotor.key_count is None:
        faults.append(f"tolerances.{PER_KEY}: the number of keys is not known; give fit.key_count")
    names = tuple(row.name for row in tolerances)
    return tuple(tolerances), _correlations(raw.get("correlations", []), names, faults)


def _of_fit(fit: ShrinkFit) -> list[Tolerance]:
    """The tolerances that ``[fit]`` states: half-widths of two standard uncertainties."""
    mean = float(fit.interference)
    pairs = (("fit.interference", fit.interference_tolerance), (PER_KEY, fit.key_interference_tolerance))
    return [Tolerance(name, mean, "normal", float(width) / 2) for name, width in pairs if width]


def _tolerance(
    key: str, name: str, table: dict[str, Any], known: dict[str, CaseNumber], faults: list[str]
) -> Tolerance | None:
    quantity = known.get(name)
    if quantity is None:
        counted = "; a count has no tolerance" if name.endswith("count") else near(name, known)
        faults.append(f"{key}: there is no such number to vary{counted}; names are keys such as 'rim.length'")
        return None
    if quantity.fixed:
        faults.append(f"{key}: the spider has a profile, which is solved for one material; {name} cannot vary")
        return None
    if quantity.value is None or not isfinite(quantity.value):
        faults.append(f"{key}: the case gives no {name}; state its value, which the tolerance refers to")
        return None
    try:
        widths = {
            width: _width(table[width], quantity, quantity.value) if width in table else None
            for width in ("standard", "half_width")
        }
        tolerance = tolerance_of(name, quantity.value, table["distribution"], **widths)
    except ValueError as error:
        faults.append(f"{key}: {error}")
        return None
    for end in (quantity.value - tolerance.reach, quantity.value + tolerance.reach):
        if not quantity.rule.holds(end):
            far = "6 standard deviations" if tolerance.distribution == "normal" else "the end"
            faults.append(
                f"{key} reaches {value_text(end, quantity.kind)} ({far} from {name}); it must be "
                f"{quantity.rule.words}: make it narrower, or a truncated normal that ends before that"
            )
            return None
    return tolerance


def _width(written: float | str, quantity: CaseNumber, value: float) -> float:
    """A width in SI: a share of the value ("2 %"), text with a unit, or a bare number for a dimensionless quantity."""
    if isinstance(written, str) and written.rstrip().endswith("%"):
        try:
            width = abs(value) * float(written.rstrip()[:-1]) / 100
        except ValueError:
            raise UnitError(f"{written!r} is not a share; write for example '2 %'") from None
    elif quantity.kind is not None:
        width = parse_difference(written, quantity.kind)
    elif isinstance(written, str):
        raise UnitError(f"{written!r} is text; here write a bare number, or a share such as '2 %'")
    else:
        width = written
    rule = Tolerance.__dataclass_fields__["half_width"].metadata["rule"]
    if not (isfinite(width) and rule.holds(width)):
        raise UnitError(f"{written!r} makes a width of {width:g}; it must be {rule.words}")
    return width


def _correlations(raw: object, names: tuple[str, ...], faults: list[str]) -> tuple[Correlation, ...]:
    if not isinstance(raw, list):
        faults.append("correlations: it must be a list of tables, each headed [[correlations]]")
        return ()
    found: list[Correlation] = []
    for number, row in enumerate(raw, 1):
        key = f"correlations[{number}]"
        table = checked_table(CorrelationTable, row, key, faults)
        if table is None:
            continue
        pair = tuple(table["between"])
        wrong = [name for name in pair if name not in names or name == PER_KEY]
        if wrong:
            why = "its keys vary one by one" if wrong[0] == PER_KEY else "it has no tolerance"
            faults.append(f"{key}.between names {wrong[0]!r}; {why}{near(wrong[0], names)}")
        elif len(set(pair)) < 2 or any(set(pair) == set(one.between) for one in found):
            faults.append(f"{key}.between is {list(pair)!r}; name two different numbers, each pair once")
        else:
            found.append(Correlation((pair[0], pair[1]), table["coefficient"]))
    least = float(np.linalg.eigvalsh(correlation_matrix(names, tuple(found))).min()) if found else 1.0
    if least <= 1e-10:
        faults.append("correlations: no numbers can be correlated like that (the matrix is not positive definite)")
    return tuple(found)
