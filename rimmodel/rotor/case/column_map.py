"""What is stated of the columns of a table: in a file of its own, or in the record of a case, by the same keys."""

from __future__ import annotations

import tomllib
from pathlib import Path

from rimmodel.rotor.case.tables import checked_columns
from rimmodel.rotor.near import near
from rimmodel.rotor.record_columns import ColumnMap
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
    found = checked_columns(raw.get("columns"), raw.get("cells"), "", faults)
    if faults:
        raise ColumnMapError(f"{path}: " + "; ".join(faults))
    if not found:
        raise ColumnMapError(
            f'{path} states nothing; write for example columns."AI 01" = {{ sensor = "G1", unit = "mm" }}'
        )
    return found
