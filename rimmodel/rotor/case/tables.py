"""Tables of a case file against their keys and rules, with every fault put into words."""

from __future__ import annotations

import re
from typing import Any

from pydantic import BaseModel, ValidationError

from rimmodel.rotor.case.format import (
    OPTIONAL,
    SPIDER_TABLES,
    BoreTable,
    CellTable,
    ColumnTable,
    ReadingTable,
    RecordTable,
    RestraintTable,
    SegmentTable,
    ShapeTable,
    ShimPieceTable,
)
from rimmodel.rotor.case.text import shown
from rimmodel.rotor.near import near
from rimmodel.rotor.record_columns import CellStyle, ColumnMap, ColumnUse
from rimmodel.rotor.requirements import CaseRecord

_NESTED: dict[str, Any] = {
    "shape": ShapeTable,
    "stator_shape": BoreTable,
    "stator_restraint": RestraintTable,
    "segments": SegmentTable,
    "readings": ReadingTable,
    "stock": ShimPieceTable,
}
"""Tables in lists, by their key."""

_COUNTS = {1: "one", 2: "two"}


def checked_table(model: type[BaseModel], raw: object, where: str, faults: list[str]) -> dict[str, Any] | None:
    """The checked values of one table, absent optional keys left out; None (and faults) when it is not right."""
    if raw is None:
        faults.append(f"[{where}]: missing table; it needs {', '.join(_needed(model))}")
        return None
    if not isinstance(raw, dict):
        faults.append(f"{where} is {shown(raw)}; it must be a table [{where}]")
        return None
    try:
        checked = model.model_validate(raw)
    except ValidationError as error:
        faults += [_fault_text(where, model, raw, dict(fault)) for fault in error.errors()]
        return None
    return {key: value for key in model.model_fields if (value := getattr(checked, key)) is not None}


def _needed(model: type[BaseModel]) -> list[str]:
    return [name for name, about in model.model_fields.items() if about.is_required()]


def _fault_text(where: str, model: type[BaseModel], raw: dict[str, Any], fault: dict[str, Any]) -> str:
    key = where + "".join(f"[{step + 1}]" if isinstance(step, int) else f".{step}" for step in _place(fault["loc"]))
    if fault["type"] == "extra_forbidden":
        known = model.model_fields if len(fault["loc"]) == 1 else _NESTED[str(fault["loc"][0])].model_fields
        return f"{key}: unknown key{near(str(fault['loc'][-1]), known)}"
    about = model.model_fields.get(str(fault["loc"][0])) if fault["loc"] else None
    meaning = f" ({about.description})" if about is not None and about.description else ""
    if fault["type"] == "missing":
        return f"{key}: missing{meaning}"
    if fault["type"] == "unit":
        return f"{key}{meaning}: {fault['msg']}"
    written = _as_written(raw, fault["loc"])
    return f"{key} is {shown(written)}{meaning}; {_rule_words(fault, written)}"


def _rule_words(fault: dict[str, Any], written: object) -> str:
    """The broken rule, and the near word where one of a list was meant."""
    if fault["type"] == "literal_error":
        expected = fault["ctx"]["expected"]
        meant = near(str(written), re.findall("'([^']*)'", expected))
        return (
            f"there is no entry of that name{meant}"
            if meant and len(expected) > 200
            else f"it must be {expected}{meant}"
        )
    if fault["type"] in ("too_short", "too_long"):
        bound = fault["ctx"].get("min_length", fault["ctx"].get("max_length"))
        return f"it must have {_COUNTS.get(bound, bound)} items"
    words: dict[str, str] = {
        "list_type": "it must be a list in square brackets",
        "dict_type": "it must be a table",
        "model_type": "it must be a table",
        "model_attributes_type": "it must be a table",
        "bool_type": "it must be true or false",
        "float_type": "it must be a bare number, without quotes or unit",
        "int_type": "it must be a bare whole number, without decimals, quotes or unit",
        "string_type": "it must be text in quotes",
    }
    said: str = words.get(fault["type"], fault["msg"])
    return said.replace("Input should", "it must")


def _as_written(raw: Any, steps: tuple[Any, ...]) -> Any:
    """The value in the file, before it was read as a quantity."""
    for step in steps:
        if not isinstance(raw, dict | list) or (isinstance(raw, dict) and step not in raw):
            break
        if isinstance(raw, list) and not isinstance(step, int):
            break  # the validator's own name of a type
        raw = raw[step]
    return raw


def _place(steps: tuple[Any, ...]) -> tuple[Any, ...]:
    """The key, and within a list the item and its key; what the validator adds for its own use is left out."""
    return steps[:3] if len(steps) > 1 and isinstance(steps[1], int) else steps[:1]


def checked_spider(raw: object, faults: list[str]) -> tuple[str, dict[str, Any]] | None:
    """Kind and checked keys of the spider table."""
    if not isinstance(raw, dict) or "kind" not in raw:
        faults.append("[spider]: missing table or key kind; kind is 'disc', 'arms' or 'given'")
        return None
    kind = raw["kind"]
    if not isinstance(kind, str) or kind not in SPIDER_TABLES:
        faults.append(
            f"spider.kind is {shown(kind)}; it must be 'disc', 'arms' or 'given'{near(str(kind), SPIDER_TABLES)}"
        )
        return None
    table = checked_table(SPIDER_TABLES[kind], raw, "spider", faults)
    return None if table is None else (kind, table)


def checked_group(name: str, model: type[BaseModel], raw: object, faults: list[str]) -> dict[str, dict[str, Any]]:
    """The checked tables of a group such as [materials.NAME]; faulty ones are left out."""
    if raw is None:
        if name not in OPTIONAL:
            faults.append(f"[{name}.NAME]: missing; give at least one")
        return {}
    if not isinstance(raw, dict):
        faults.append(f"[{name}] is {shown(raw)}: it must hold tables, as in [{name}.NAME]")
        return {}
    wrong = [f"{name}.{key} is {shown(value)}" for key, value in raw.items() if not isinstance(value, dict)]
    if wrong:
        faults += [f"{text}; it must be a table: [{name}] holds tables, as in [{name}.NAME]" for text in wrong]
        return {}
    checked = {key: checked_table(model, value, f"{name}.{key}", faults) for key, value in raw.items()}
    return {key: value for key, value in checked.items() if value is not None}


def checked_records(raw: object, faults: list[str]) -> list[CaseRecord]:
    """The checked [[records]]."""
    if not isinstance(raw, list):
        faults.append("records: it must be a list of tables, each headed [[records]]")
        return []
    records = []
    for number, row in enumerate(raw, 1):
        table = checked_table(RecordTable, row, f"records[{number}]", faults)
        if table is not None:
            stated = checked_columns(
                table.pop("columns", None), table.pop("cells", None), f"records[{number}].", faults
            )
            records.append(CaseRecord(**table, columns=stated))
    return records


def checked_columns(columns: object, cells: object, where: str, faults: list[str]) -> ColumnMap:
    """The checked columns and cells; faults go to the list, with `where` before their keys."""
    uses: tuple[tuple[str, ColumnUse], ...] = ()
    if columns is not None:
        group = checked_group(f"{where}columns", ColumnTable, columns, faults)
        uses = tuple((name, ColumnUse(**_plain(table))) for name, table in group.items())
        faults += [
            f"{where}columns.{name}: {shown(use.table)} has rows that are no pairs of texts"
            for name, use in uses
            if use.table is not None and any(len(row) != 2 for row in use.table)
        ]
    style = CellStyle()
    if cells is not None and (table := checked_table(CellTable, cells, f"{where}cells", faults)) is not None:
        style = CellStyle(**table)
    return ColumnMap(uses, style)


def _plain(table: dict[str, Any]) -> dict[str, Any]:
    """Keys of a column with lists as tuples, so that they can be compared and kept."""
    return {key: tuple(map(tuple, value)) if key == "table" else value for key, value in table.items()}
