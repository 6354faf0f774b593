"""What is stated of the columns of a table: in a file of its own, or in the record of a case, by the same keys."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from rimmodel.rotor.case.text import shown
from rimmodel.rotor.near import near
from rimmodel.rotor.record_columns import CellStyle, ColumnMap, ColumnUse
from rimmodel.rotor.regular_file import not_a_file

KEYS = ("columns", "cells")
LARGEST_FILE = 1 << 20


class ColumnMapError(ValueError):
    """A file for --columns that cannot be used; the text lists all that is wrong in it."""


def read_column_map(path: str | Path) -> ColumnMap:
    """Read what is stated of the columns of a table from a TOML file.

    Raises
    ------
    ColumnMapError
        The file is missing, not TOML, or holds an unknown key or a wrong value.
    """
    file = Path(path)
    reason = not_a_file(file, "the file for --columns")
    if reason:
        raise ColumnMapError(f"{path}: {reason}")
    if file.stat().st_size > LARGEST_FILE:
        raise ColumnMapError(f"{path} is larger than 1 MB; it holds a line for each column")
    try:
        raw = tomllib.loads(file.read_bytes().decode("utf-8-sig"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
        raise ColumnMapError(f"{path} is no TOML text: {error}") from error
    faults = [f"{key}: unknown key{near(key, KEYS)}; it holds columns and cells" for key in raw if key not in KEYS]
    found = column_map(raw.get("columns"), raw.get("cells"), "", faults)
    if faults:
        raise ColumnMapError(f"{path}: " + "; ".join(faults))
    if not found:
        raise ColumnMapError(f'{path} states nothing; write for example columns."AI 01" = {{ sensor = "G1", unit = "mm" }}')
    return found


def column_map(columns: object, cells: object, where: str, faults: list[str]) -> ColumnMap:
    """The checked columns and cells; faults go to the list, with `where` before their keys."""
    from rimmodel.rotor.case.format import CellTable, ColumnTable
    from rimmodel.rotor.case.tables import checked_group, checked_table

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
