"""The tables [thermal] and [histories.NAME] of a case: heat transfer as ranges, and courses of segments."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rimmodel.rotor.allowances import LoadRejection
from rimmodel.rotor.case.format import HistoryTable, ThermalTable
from rimmodel.rotor.case.planning import named_speed
from rimmodel.rotor.case.stated import Stated
from rimmodel.rotor.case.tables import checked_group, checked_table
from rimmodel.rotor.conditions import Condition
from rimmodel.rotor.history import History, Reading, Segment
from rimmodel.rotor.near import near
from rimmodel.rotor.rotor import Rotor
from rimmodel.rotor.spider import ArmSpider, GivenSpider
from rimmodel.rotor.thermal import Thermal
from rimmodel.units import celsius, rpm

SPEEDS_AGREE = 0.02
"""Share by which the speed of a load may miss that at which the segment before ends."""

_DEFAULT_SPEED = {"start": "rated", "load": "rated", "brake": "standstill", "rest": "standstill"}


def read_thermal(
    raw: dict[str, Any],
    rotor: Rotor,
    conditions: dict[str, Condition],
    rejection: LoadRejection | None,
    stated: Stated,
    faults: list[str],
) -> dict[str, Any]:
    """Heat exchange and histories of a case, by the names of their fields; absent ones left out."""
    tables = checked_group("histories", HistoryTable, raw.get("histories"), faults)
    if "thermal" not in raw:
        if raw.get("histories"):
            faults.append("[thermal]: missing table; [histories.NAME] needs it: heat transfer as ranges")
        return {}
    table = checked_table(ThermalTable, raw["thermal"], "thermal", faults)
    thermal = None if table is None else _thermal(table, rotor, conditions, faults)
    histories = [_history(name, rows, rotor, conditions, faults) for name, rows in tables.items()]
    for history in histories:
        faults += _needs(history, rejection, stated)
        steady = None if thermal is None else conditions[thermal.steady_state]
        faults += [] if steady is None else _air_faults(history, steady)
    return {} if thermal is None else {"thermal": thermal, "histories": tuple(histories)}


def _thermal(
    table: dict[str, Any], rotor: Rotor, conditions: dict[str, Condition], faults: list[str]
) -> Thermal | None:
    try:
        thermal = Thermal(**table)
    except ValueError as error:
        faults.append(f"thermal.{str(error).partition(': ')[2]}")
        return None
    needed: list[str] = []
    if isinstance(rotor.spider, ArmSpider) and thermal.arm_perimeter is None:
        needed.append("arm_perimeter: missing (girth of one arm that meets the air); a spider of arms needs it")
    if isinstance(rotor.spider, GivenSpider):
        lacking = [name for name in ("spider_mass", "spider_surface") if getattr(thermal, name) is None]
        needed += [f"{name}: missing; a spider given by its stiffness needs it" for name in lacking]
    name = thermal.steady_state
    if name not in conditions:
        needed.append(f"steady_state is {name!r}; there is no [conditions.{name}]{near(name, conditions)}")
    else:
        needed += _steady_faults(thermal, name, conditions[name])
    faults += [f"thermal.{text}" for text in needed]
    return None if needed else thermal


def _steady_faults(thermal: Thermal, name: str, steady: Condition) -> list[str]:
    """What no machine at rest in its heat can be: air hotter than what it cools."""
    wrong = []
    air = float(thermal.air) + thermal.air_rise[0]
    for part, temperature in (("rim", steady.rim_temperature), ("stator", steady.stator_temperature)):
        if not float(temperature) > air:
            wrong.append(
                f"air: with its least rise it is {celsius(air, 'g')} at the rim, and conditions.{name} has the "
                f"{part} at {celsius(temperature, 'g')}; nothing that makes heat is cooler than the air "
                "around it: check both"
            )
    if thermal.pole_conductance is not None and steady.pole_temperature is None:
        wrong.append(f"pole_conductance is given, but conditions.{name} has no pole_temperature; give both or neither")
    return wrong


def _air_faults(history: History, steady: Condition) -> list[str]:
    """Air that is hotter than all of the machine while nothing in it makes heat."""
    hottest = max(float(steady.rim_temperature), float(steady.spider_temperature), float(steady.stator_temperature))
    return [
        f"histories.{history.name}.segments[{number}].air is {celsius(segment.air, 'g')}, hotter than every part of "
        f"the machine at rated load ({celsius(hottest, 'g')} at most), and nothing makes heat in a {segment.kind} "
        "without field: check it"
        for number, segment in enumerate(history.segments, 1)
        if segment.air is not None and not segment.excited and float(segment.air) > hottest
    ]


def _history(
    name: str, table: dict[str, Any], rotor: Rotor, conditions: dict[str, Condition], faults: list[str]
) -> History:
    where = f"histories.{name}"
    segments: list[Segment] = []
    before: float | None = 0.0
    for number, row in enumerate(table["segments"], 1):
        key = f"{where}.segments[{number}]"
        segment = _segment(key, row, rotor, before, faults)
        if segment is not None:
            segments.append(segment)
            before = None if segment.speed is None else float(segment.speed)
    readings = tuple(
        Reading(float(row.time), row.place, float(row.temperature), float(row.uncertainty)) for row in table["readings"]
    )
    start = table.get("start")
    if start is not None and start not in conditions:
        faults.append(f"{where}.start is {start!r}; there is no [conditions.{start}]{near(start, conditions)}")
    found = History(name, tuple(segments), start, table.get("float_speed_ratio"), table.get("minimum_gap"), readings)
    faults += _time_faults(where, readings, found.duration)
    return found


def _time_faults(where: str, readings: Sequence[Reading], duration: float) -> list[str]:
    faults = []
    for number, reading in enumerate(readings, 1):
        key = f"{where}.readings[{number}].time"
        earlier = readings[number - 2].time if number > 1 else 0.0
        if reading.time > duration:
            faults.append(f"{key} is {reading.time:g} s; the history ends at {duration:g} s")
        elif reading.time < earlier:
            faults.append(f"{key} is {reading.time:g} s, before the reading ahead of it; put readings in order of time")
    return faults


def _segment(key: str, row: Any, rotor: Rotor, before: float | None, faults: list[str]) -> Segment | None:
    """A segment from its table; `before` is the speed at which it begins, None where that follows from a rejection."""
    kind = row.kind
    text = row.speed if row.speed is not None else _DEFAULT_SPEED.get(kind)
    if kind == "coast" and text is None:
        faults.append(f"{key}.speed: missing; give the speed at the end of a coast")
        return None
    speed = None if text is None else named_speed(f"{key}.speed", text, rotor.speeds, faults)
    if text is not None and speed is None:
        return None
    load = row.load if row.load is not None else (1.0 if kind == "load" else 0.0)
    excited = row.excited if row.excited is not None else kind in ("load", "rejection")
    segment = Segment(kind, float(row.duration), speed, float(load), bool(excited), row.air)
    faults += [f"{key}{text}" for text in _segment_faults(segment, before)]
    return segment


def _segment_faults(segment: Segment, before: float | None) -> list[str]:
    """What a segment cannot be, after one that ends at the speed `before`."""
    kind = segment.kind
    speed = None if segment.speed is None else float(segment.speed)
    faults = []
    if segment.load > 0 and kind != "load":
        faults.append(f".load is {segment.load:g}; only a segment of kind 'load' carries load")
    if segment.load > 0 and not segment.excited:
        faults.append(".excited is false; a machine on load has its field")
    if kind == "rest" and speed != 0:
        faults.append(f".speed is {_rpm(speed)}; a rest is at standstill")
    if kind == "load" and speed == 0:
        faults.append(f".speed is {_rpm(speed)}; a load needs a machine that turns")
    if before is None or faults:
        return faults
    if before == 0 and kind in ("load", "rejection", "coast", "brake"):
        return [f": the machine stands still; put a start before the {kind}"]
    if kind == "rest" and before > 0:
        return [f": the machine still turns at {_rpm(before)}; put a coast or a brake before the rest"]
    slow = kind in ("start", "rejection") and speed is not None and not speed > before
    if slow or (kind in ("coast", "brake") and speed is not None and not speed < before):
        rule = "faster" if slow else "slower"
        return [f".speed is {_rpm(speed)}; a {kind} must end {rule} than it begins, at {_rpm(before)}"]
    if kind == "load" and speed is not None and abs(speed - before) > SPEEDS_AGREE * before:
        return [
            f".speed is {_rpm(speed)}, but the segment before ends at {_rpm(before)}; put a start or a coast between"
        ]
    return []


def _rpm(speed: Any) -> str:
    return rpm(speed, "g")


def _needs(history: History, rejection: LoadRejection | None, stated: Stated) -> list[str]:
    """Tables without which a segment cannot be worked out."""
    kinds = {segment.kind for segment in history.segments}
    where = f"histories.{history.name}"
    faults = []
    if "rejection" in kinds and rejection is None:
        faults.append(f"{where}: a rejection needs the table [load_rejection], turning masses and torque")
    if "brake" in kinds and rejection is None and stated.any_inertia is None:
        faults.append(f"{where}: a brake needs the turning masses: [load_rejection] inertia, or [rotor] inertia or gd2")
    return faults
