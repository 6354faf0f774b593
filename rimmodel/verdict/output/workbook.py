"""Results as a workbook (.xlsx): one sheet per table, numbers as numbers, and text that stays text.

A cell whose text begins with "=" would be a formula to a spreadsheet, and a title or a label can come from anybody.
Every text is therefore stored as text and marked as such.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from rimmodel.verdict.output.files import OutputError
from rimmodel.version import VERSION

ENDING = ".xlsx"
MOST_ROWS = 100_000
"""Beyond it a workbook takes minutes to write, and to open."""

_WIDEST = 60
_FIGURES = 9


@dataclass(frozen=True)
class Table:
    """What stands on one sheet: heads of the columns, and rows of numbers, texts and empty cells."""

    head: Sequence[str]
    rows: Iterable[Sequence[object]]


def check_ending(place: Path) -> None:
    """Refuse a workbook that cannot be written, before the work is done.

    Raises
    ------
    OutputError
        The name has another ending, or the library is not installed.
    """
    if place.suffix.lower() != ENDING:
        raise OutputError(f"{place} does not end in {ENDING}, the workbook that is written; name it so")
    try:
        import openpyxl  # noqa: F401
    except ImportError:
        raise OutputError(
            f"{place}: openpyxl, which writes workbooks, is not installed: pip install '.[excel]'"
        ) from None


def workbook_bytes(tables: Mapping[str, Table]) -> bytes:
    """A workbook with a sheet for each table, headed in bold, the head kept in sight.

    Parameters
    ----------
    tables : mapping of str to Table
        By name of the sheet.
    """
    from openpyxl import Workbook
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    book, stream = Workbook(write_only=True), io.BytesIO()
    for name, table in tables.items():
        sheet = book.create_sheet(name)
        sheet.freeze_panes = "A2"
        rows = [list(row) for row in table.rows]
        for number, head in enumerate(table.head):
            longest = max([len(head), *(len(str(row[number])) for row in rows[:200])])
            sheet.column_dimensions[get_column_letter(number + 1)].width = min(longest, _WIDEST) + 2
        sheet.append([_cell(sheet, head, Font(bold=True)) for head in table.head])
        for row in rows:
            sheet.append([_cell(sheet, value) for value in row])
    book.save(stream)
    return stream.getvalue()


def _cell(sheet: Any, value: object, font: Any = None) -> Any:
    """A cell: a finite number as it is, everything else as text that is never worked out."""
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    if value is None or value == "":
        return None
    if isinstance(value, bool | str) or not isinstance(value, int | float | np.number):
        text = ("yes" if value else "no") if isinstance(value, bool | np.bool_) else str(value)
        cell = WriteOnlyCell(sheet, ILLEGAL_CHARACTERS_RE.sub("?", text))
        cell.data_type, cell.quotePrefix = "s", True
    else:
        number = float(value)
        if not math.isfinite(number):
            return None
        cell = WriteOnlyCell(
            sheet, int(number) if isinstance(value, int | np.integer) else float(f"{number:.{_FIGURES}g}")
        )
    if font is not None:
        cell.font = font
    return cell


def about(title: str, **more: object) -> Table:
    """The sheet that says what the others were made from and by which version."""
    rows = [
        ("made by", f"rimmodel {VERSION}"),
        ("title", title),
        *((name.replace("_", " "), value) for name, value in more.items()),
    ]
    return Table(("what", "value"), rows)
