"""The optional tables of a case that serve checks, shrink window and test plan."""

from __future__ import annotations

from typing import Any

from rimmodel.rotor.allowances import DutyCycle, Limits, LoadRejection, ProvingRun, Torque
from rimmodel.rotor.case.claims import check_condition
from rimmodel.rotor.case.format import DutyTable, WitnessTable, planning_tables
from rimmodel.rotor.case.tables import checked_table
from rimmodel.rotor.clamping import ClampedStack
from rimmodel.rotor.conditions import SPEED_NAMES, Speeds
from rimmodel.rotor.heating import RimHeating
from rimmodel.rotor.near import near
from rimmodel.rotor.registry import registered_limits
from rimmodel.rotor.requirements import WitnessMark, ratio_of_speed, resolve_ratio
from rimmodel.rotor.shim_stock import ShimPiece, ShimStock
from rimmodel.units import UnitError, mm, parse_quantity, rpm

_STORED: dict[str, type[Any]] = {
    "limits": Limits,
    "torque": Torque,
    "load_rejection": LoadRejection,
    "plan": ProvingRun,
    "clamping": ClampedStack,
    "heating": RimHeating,
    "shims": ShimStock,
}

_SLOWEST = DutyCycle.__dataclass_fields__["start"].metadata["rule"]


def read_planning(raw: dict[str, Any], speeds: Speeds | None, faults: list[str]) -> dict[str, Any]:
    """The optional tables that serve checks, window and plan, by the names of their fields; absent ones left out."""
    found: dict[str, Any] = {}
    for name, model in planning_tables().items():
        table = checked_table(model, raw[name], name, faults) if name in raw else None
        if table is not None:
            _resolve_speed(name, table, speeds, faults)
            if name == "plan":
                _check_run(name, table, speeds, faults)
            stored = _stored(name, table, faults)
            found |= {} if stored is None else {name: stored}
    found["duty"] = tuple(_duty(raw.get("duty", []), speeds, faults))
    return found


def _stored(name: str, table: dict[str, Any], faults: list[str]) -> Any:
    if name == "limits":
        carried = {limit.key for limit in registered_limits()} & table.keys()
        table["of_quantities"] = tuple((key, table.pop(key)) for key in sorted(carried))
    try:
        if name == "shims":
            table["stock"] = tuple(ShimPiece(**dict(row)) for row in table["stock"])
        return _STORED[name](**table)
    except ValueError as error:
        faults.append(f"{name}.{str(error).partition(': ')[2]}")
        return None


def _resolve_speed(where: str, table: dict[str, Any], speeds: Speeds | None, faults: list[str]) -> None:
    """A speed written as a multiple of a named speed, in rad/s; left out where it cannot be determined."""
    ratio = table.get("highest_speed")
    if not isinstance(ratio, tuple):
        return
    speed = resolve_ratio(ratio[0], ratio[1], speeds) if speeds is not None else None
    if speed is None and speeds is not None:
        faults.append(f"{where}.highest_speed is '{ratio[0]:g} x {ratio[1]}'; the case gives no speeds.{ratio[1]}")
    table.pop("highest_speed")
    table |= {} if speed is None else {"highest_speed": speed}


def _check_run(where: str, table: dict[str, Any], speeds: Speeds | None, faults: list[str]) -> None:
    """A proving run that ends below its first step has none."""
    highest = table.get("highest_speed")
    if speeds is None or highest is None:
        return
    if not highest > ProvingRun.first_step * float(speeds.rated):
        faults.append(
            f"{where}.highest_speed is {rpm(highest, 'g')}; it must be above {100 * ProvingRun.first_step:.0f} % "
            "of rated speed, where the steps start"
        )


def _duty(raw: object, speeds: Speeds | None, faults: list[str]) -> list[DutyCycle]:
    if not isinstance(raw, list):
        faults.append("duty: it must be a list of tables, each headed [[duty]]")
        return []
    rows = []
    for number, entry in enumerate(raw, 1):
        where = f"duty[{number}]"
        table = checked_table(DutyTable, entry, where, faults)
        if table is None:
            continue
        start = named_speed(f"{where}.from", table["start"], speeds, faults)
        end = named_speed(f"{where}.to", table["end"], speeds, faults)
        if start is None or end is None:
            continue
        try:
            rows.append(DutyCycle(start, end, table["count"], f"{table['start']} to {table['end']}"))
        except ValueError as error:
            faults.append(f"{where}.{str(error).partition(': ')[2]}")
    return rows


def read_witness_marks(
    raw: object, speeds: Speeds | None, cold_gap: float | None, names: list[str], faults: list[str]
) -> tuple[WitnessMark, ...]:
    """The [[witness_marks]] of a case; faults where one is wrong.

    Parameters
    ----------
    cold_gap : float or None, m
        That no mark may leave more than.
    names : list of str
        Of the conditions.
    """
    if not isinstance(raw, list):
        faults.append("witness_marks: it must be a list of tables, each headed [[witness_marks]]")
        return ()
    rows = []
    for number, entry in enumerate(raw, 1):
        where = f"witness_marks[{number}]"
        table = checked_table(WitnessTable, entry, where, faults)
        if table is None:
            continue
        check_condition(f"{where}.condition", table.get("condition"), names, faults)
        speed = named_speed(f"{where}.highest_speed", table["highest_speed"], speeds, faults)
        if speed is not None and speed <= 0.0:
            faults.append(f"{where}.highest_speed is {table['highest_speed']!r}; a mark needs a run: give its speed")
        elif cold_gap is not None and table["gap"] >= cold_gap:
            faults.append(
                f"{where}.gap is {mm(table['gap'], 'g')}; it must be below the cold gap, {mm(cold_gap, 'g')}: it is "
                "what the mark leaves to the rotor, not its own height"
            )
        elif speed is not None:
            rows.append(WitnessMark(**{**table, "highest_speed": speed}))
    return tuple(rows)


def named_speed(key: str, text: str, speeds: Speeds | None, faults: list[str]) -> float | None:
    """Speed of a text: a named speed, a multiple of it, or a quantity; None where it cannot be determined.

    Parameters
    ----------
    faults : list of str
        What is wrong is added here.

    Returns
    -------
    float or None, rad/s
    """
    words = text.strip()
    if words == "standstill":
        return 0.0
    ratio = ratio_of_speed(words) or ((1.0, words) if words in SPEED_NAMES else None)
    if ratio is not None:
        speed = resolve_ratio(*ratio, speeds) if speeds is not None else None
        if speed is None and speeds is not None:
            faults.append(f"{key} is {text!r}; the case gives no speeds.{ratio[1]}")
        return speed
    try:
        speed = parse_quantity(words, "speed")
    except UnitError as error:
        named = near(words, SPEED_NAMES) if words.isalpha() else ""
        faults.append(f"{key}: {error}; or a name: {', '.join(SPEED_NAMES)}{named}")
        return None
    if not _SLOWEST.holds(speed):
        faults.append(f"{key} is {text!r}; it must be {_SLOWEST.words}")
        return None
    return speed
