"""Claims and requirements of a case file: their quantities, values and bounds."""

from __future__ import annotations

from typing import Any

from rimmodel.rotor.conditions import SPEED_NAMES, Speeds
from rimmodel.rotor.material import Material
from rimmodel.rotor.near import near
from rimmodel.rotor.requirements import (
    ALL_QUANTITIES,
    OF_SPEED,
    Claim,
    Requirement,
    quantity_kind,
    ratio_of_speed,
    resolve_ratio,
)
from rimmodel.units import UnitError, parse_quantity


def check_condition(key: str, name: str | None, names: list[str], faults: list[str]) -> None:
    """Add a fault when a condition is named that the case does not have."""
    if name is not None and name not in names:
        faults.append(f"{key} is {name!r}; there is no [conditions.{name}]{near(name, names)}")


def check_askable(
    quantities: list[tuple[str, str]], speeds: Speeds | None, rim_steel: Material | None, faults: list[str]
) -> None:
    """Add a fault for each pair of key and quantity that asks for what the case does not give."""
    for key, quantity in quantities:
        at = quantity.rpartition("_at_")[2]
        if speeds is not None and at in SPEED_NAMES[1:] and at not in speeds.named:
            faults.append(f"{key} is asked at {at}; the case gives no speeds.{at}")
        if quantity == "first_yield_speed" and rim_steel is not None and rim_steel.yield_strength is None:
            faults.append(f"{key} asks for first yield; the material of the rim gives no yield_strength")


def _value(key: str, text: str, quantity: str, speeds: Speeds | None, faults: list[str]) -> float:
    value = _number(key, text, quantity, speeds, faults)
    if value is not None and value <= 0 and (quantity in OF_SPEED or quantity.startswith("gap_")):
        faults.append(f"{key} is {text!r}; a speed or a gap must be above zero")
    return value or 0.0


def _number(key: str, text: str, quantity: str, speeds: Speeds | None, faults: list[str]) -> float | None:
    """The value of a text in SI; None when it is not known, with the fault added where it is one."""
    kind = quantity_kind(quantity) or "speed"
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
        if quantity_kind(quantity) is None:
            faults.append(f"{key}: unknown quantity; one of {_quantities()}{near(quantity, ALL_QUANTITIES)}")
            continue
        check_condition(f"{key}.condition", table.get("condition"), names, faults)
        value = _value(f"{key}.value", table["value"], quantity, speeds, faults)
        claims.append(Claim(quantity, value, table.get("condition"), table["tolerance"]))
    return claims


def _quantities() -> str:
    return "float_speed, first_yield_speed, or gap, rim_stress, ... followed by _at_ and a speed"


def read_requirements(
    group: dict[str, dict[str, Any]], speeds: Speeds | None, names: list[str], faults: list[str]
) -> list[Requirement]:
    """Requirements from their checked tables."""
    rows = []
    for name, table in group.items():
        key, quantity = f"requirements.{name}", table["quantity"]
        check_condition(f"{key}.condition", table.get("condition"), names, faults)
        bounds = {
            side: _value(f"{key}.{side}", table[side], quantity, speeds, faults)
            for side in ("at_least", "at_most")
            if table.get(side) is not None
        }
        if len(bounds) != 1:
            faults.append(f"{key}: give either at_least or at_most")
        rows.append(
            Requirement(
                name,
                quantity,
                table.get("condition"),
                bounds.get("at_least"),
                bounds.get("at_most"),
                table["confidence"],
            )
        )
    return rows
