"""Tables of a case file against their keys and rules, with every fault put into words."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ValidationError

from rimmodel.rotor.case_format import OPTIONAL, SPIDER_TABLES, RecordTable
from rimmodel.rotor.near import near
from rimmodel.rotor.requirements import Record


def checked_table(model: type[BaseModel], raw: object, where: str, faults: list[str]) -> dict[str, Any] | None:
    """The checked values of one table, absent optional keys left out; None (and faults) when it is not right."""
    if raw is None:
        faults.append(f"[{where}]: missing table; it needs {', '.join(_needed(model))}")
        return None
    if not isinstance(raw, dict):
        faults.append(f"{where} is {raw!r}; it must be a table [{where}]")
        return None
    try:
        checked = model.model_validate(raw)
    except ValidationError as error:
        faults += [_fault_text(where, model, dict(fault)) for fault in error.errors()]
        return None
    return {key: value for key in model.model_fields if (value := getattr(checked, key)) is not None}


def _needed(model: type[BaseModel]) -> list[str]:
    return [name for name, about in model.model_fields.items() if about.is_required()]


def _fault_text(where: str, model: type[BaseModel], fault: dict[str, Any]) -> str:
    key = ".".join([where, *(str(step) for step in fault["loc"][:1])])
    if fault["type"] == "extra_forbidden":
        return f"{key}: unknown key{near(str(fault['loc'][0]), model.model_fields)}"
    about = model.model_fields.get(str(fault["loc"][0])) if fault["loc"] else None
    meaning = f" ({about.description})" if about is not None and about.description else ""
    if fault["type"] == "missing":
        return f"{key}: missing{meaning}"
    words = fault["msg"]
    if fault["type"] in ("float_type", "int_type", "float_parsing"):
        words = "it must be a bare number, without quotes or unit"
    if fault["type"] == "unit":
        return f"{key}{meaning}: {words}"
    return f"{key} is {fault['input']!r}{meaning}; {words[0].lower()}{words[1:]}"


def checked_spider(raw: object, faults: list[str]) -> tuple[str, dict[str, Any]] | None:
    """Kind and checked keys of the spider table."""
    if not isinstance(raw, dict) or "kind" not in raw:
        faults.append("[spider]: missing table or key kind; kind is 'disc', 'arms' or 'given'")
        return None
    kind = raw["kind"]
    if not isinstance(kind, str) or kind not in SPIDER_TABLES:
        faults.append(f"spider.kind is {kind!r}{near(str(kind), SPIDER_TABLES)}; it must be 'disc', 'arms' or 'given'")
        return None
    table = checked_table(SPIDER_TABLES[kind], raw, "spider", faults)
    return None if table is None else (kind, table)


def checked_group(name: str, model: type[BaseModel], raw: object, faults: list[str]) -> dict[str, dict[str, Any]]:
    """The checked tables of a group such as [materials.NAME]; faulty ones are left out."""
    if raw is None:
        if name not in OPTIONAL:
            faults.append(f"[{name}.NAME]: missing; give at least one")
        return {}
    if not isinstance(raw, dict) or not all(isinstance(value, dict) for value in raw.values()):
        faults.append(f"[{name}]: it must hold tables, as in [{name}.NAME]")
        return {}
    checked = {key: checked_table(model, value, f"{name}.{key}", faults) for key, value in raw.items()}
    return {key: value for key, value in checked.items() if value is not None}


def checked_records(raw: object, faults: list[str]) -> list[Record]:
    """The checked [[records]]."""
    if not isinstance(raw, list):
        faults.append("records: it must be a list of tables, each headed [[records]]")
        return []
    tables = [checked_table(RecordTable, row, f"records[{number}]", faults) for number, row in enumerate(raw, 1)]
    return [Record(**table) for table in tables if table is not None]
