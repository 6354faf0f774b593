"""Claims and requirements of a case file: their quantities, values and bounds."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from rimmodel.rotor.conditions import Speeds
from rimmodel.rotor.near import near
from rimmodel.rotor.registry import QUANTITIES, find_quantity, quantity_at, quantity_names
from rimmodel.rotor.requirements import Claim, Requirement, ratio_of_speed, resolve_ratio
from rimmodel.units import UnitError, parse_quantity


def check_condition(key: str, name: str | None, names: list[str], faults: list[str]) -> None:
    """Add a fault when a condition is named that the case does not have."""
    if name is not None and name not in names:
        faults.append(f"{key} is {name!r}; there is no [conditions.{name}]{near(name, names)}")


def check_askable(quantities: list[tuple[str, str]], parts: dict[str, Any], faults: list[str]) -> None:
    """Add a fault for each pair of key and quantity that asks for what the parts of the machine do not give."""
    speeds = parts["speeds"]
    for key, name in quantities:
        wanted = find_quantity(name)
        if wanted is None:
            continue
        if speeds is not None and wanted.at and wanted.at not in speeds.from_standstill:
            faults.append(f"{key} is asked at {wanted.at}; the case gives no speeds.{wanted.at}")
        if lacks := wanted.quantity.missing_input(SimpleNamespace(**parts)):
            faults.append(f"{key} asks for {wanted.quantity.words}; {lacks}")


def _value(key: str, text: str, quantity: str, speeds: Speeds | None, faults: list[str]) -> float | None:
    """The value of a text in SI; None (and a fault, where it is one) when it is not known or breaks its rule."""
    value, rule = _number(key, text, quantity, speeds, faults), quantity_at(quantity).quantity.rule
    if value is not None and not rule.holds(value):
        faults.append(f"{key} is {text!r}; it must be {rule.words}")
        return None
    return value


def _number(key: str, text: str, quantity: str, speeds: Speeds | None, faults: list[str]) -> float | None:
    """The value of a text in SI; None when it is not known, with the fault added where it is one."""
    kind = quantity_at(quantity).quantity.kind
    ratio = ratio_of_speed(text) if kind == "speed" else None
    if ratio is not None and speeds is not None:
        speed = resolve_ratio(*ratio, speeds)
        if speed is None:
            faults.append(f"{key} is {text!r}; the case gives no speeds.{ratio[1]}")
        return speed
    if ratio is not None:
        return None
    try:
        return parse_quantity(text, kind)
    except UnitError as error:
        faults.append(f"{key}: {error}")
        return None


def read_claims(
    group: dict[str, dict[str, Any]], speeds: Speeds | None, names: list[str], faults: list[str]
) -> list[Claim]:
    """Claims from their checked tables."""
    claims = []
    for quantity, table in group.items():
        key = f"claims.{quantity}"
        if find_quantity(quantity) is None:
            faults.append(f"{key}: unknown quantity; one of {_quantities()}{near(quantity, quantity_names())}")
            continue
        check_condition(f"{key}.condition", table.get("condition"), names, faults)
        value = _value(f"{key}.value", table["value"], quantity, speeds, faults)
        if value is not None:
            claims.append(Claim(quantity, **{**table, "value": value}))
    return claims


def _quantities() -> str:
    alone = [entry.name for entry in QUANTITIES.values() if not entry.at_speed]
    others = [entry.name for entry in QUANTITIES.values() if entry.at_speed]
    return f"{', '.join(alone)}, or {', '.join(others[:2])}, ... followed by _at_ and a speed"


def read_requirements(
    group: dict[str, dict[str, Any]], speeds: Speeds | None, names: list[str], faults: list[str]
) -> list[Requirement]:
    """Requirements from their checked tables."""
    rows = []
    for name, table in group.items():
        key, quantity = f"requirements.{name}", table["quantity"]
        check_condition(f"{key}.condition", table.get("condition"), names, faults)
        bounds: dict[str, float | None] = {
            side: _value(f"{key}.{side}", table[side], quantity, speeds, faults)
            for side in ("at_least", "at_most")
            if side in table
        }
        if bounds and None in bounds.values():
            continue
        stated: dict[str, Any] = {"condition": None, "at_least": None, "at_most": None, **table, **bounds}
        try:
            rows.append(Requirement(name, **stated))
        except ValueError as error:
            faults.append(f"{key}: {str(error).partition(': ')[2]}")
    return rows
