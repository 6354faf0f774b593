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

from rimmodel.evidence.backfit.fit import ALL_POINTS
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.units import in_mm, in_rpm
from rimmodel.verdict.output.files import OutputError, write_files
from rimmodel.verdict.output.fit import fit_table
from rimmodel.verdict.output.fleet import COLUMNS, Fleet, fleet_cells, fleet_inputs
from rimmodel.verdict.output.fleet_findings import COLUMNS as FINDING_COLUMNS
from rimmodel.verdict.output.fleet_findings import finding_cells
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


def refuse_workbook(place: Path) -> None:
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


def sweep_workbook(title: str, table: Mapping[str, Any]) -> bytes:
    """A sweep as the command prints it for JSON: its columns on a sheet, what it is of on another.

    Raises
    ------
    OutputError
        More speeds than a workbook takes.
    """
    columns = {name: values for name, values in table.items() if isinstance(values, list)}
    points = len(next(iter(columns.values())))
    if points > MOST_ROWS:
        raise OutputError(f"a workbook takes {MOST_ROWS} speeds, not {points}; write them as CSV, or ask for fewer")
    rest = {name: value for name, value in table.items() if name not in columns}
    rows = zip(*columns.values(), strict=True)
    return workbook_bytes({"sweep": Table(list(columns), rows), "about": about(title, **rest)})


RESULTS = (
    "label", "file", "condition", "verdict", "float_speed_rpm", "float_speed_interval_rpm", "interference_mm",
    "interference_interval_mm", "hoop_stiffness_factor", "hoop_stiffness_factor_interval", "lift_off_in_run_rpm",
    "lift_off_in_run_interval_rpm", "confidence", "noise_mm", "speed_points",
)  # fmt: skip
"""Results of a fit that stand in the workbook; an interval has a column for each of its ends."""

POINTS = (
    "record", "direction", "plane", "speed_rpm", "gap_mm", "standard_error_mm", "readings", "steady", "used in fit",
    "measured_less_fitted_gap_mm",
)  # fmt: skip


def fit_workbook(title: str, measurements: Sequence[Measurement]) -> bytes:
    """What recordings show, the speed points that it was found from with what the fit leaves, and the reasons."""
    tables = [fit_table(one) for one in measurements]
    head: list[str] = []
    for name in RESULTS:
        head += [f"{name}_low", f"{name}_high"] if "_interval" in name else [name]
    rows = []
    for table in tables:
        row: list[object] = []
        for name in RESULTS:
            row += list(table[name]) if "_interval" in name else [table[name]]
        rows.append(row)
    words = [
        (table["label"], kind, text)
        for table in tables
        for kind in ("disqualified", "reasons", "notes")
        for text in table[kind]
    ]
    return workbook_bytes(
        {
            "results": Table(head, rows),
            "speed points": Table(POINTS, [row for one in measurements for row in _point_rows(one)]),
            "remarks": Table(("record", "kind", "text"), words),
            "about": about(title),
        }
    )


def _point_rows(measurement: Measurement) -> list[list[object]]:
    points, used = measurement.points, measurement.knees[ALL_POINTS].used
    left = np.full(points.speed.size, np.nan)
    left[used] = in_mm(measurement.fits[ALL_POINTS].residual)
    speed, gap, error = in_rpm(points.speed), in_mm(points.gap), in_mm(points.standard_error)
    return [
        [
            measurement.label, str(points.direction[i]), str(points.plane[i]), speed[i], gap[i], error[i],
            int(points.count[i]), bool(points.steady[i]), bool(used[i]), left[i],
        ]
        for i in range(points.speed.size)
    ]  # fmt: skip


def fleet_workbook(found: Fleet) -> bytes:
    """The fleet as a sheet of units, faulty files last, and a sheet of claims and requirements."""
    rows = [fleet_cells(row) for row in (*found.rows, *found.faulty)]
    findings = [finding_cells(row) for row in found.findings]
    counted = {"reviewed": len(found.rows), "faulty": len(found.faulty)}
    return workbook_bytes(
        {
            "fleet": Table(list(COLUMNS.values()), rows),
            "claims and requirements": Table(list(FINDING_COLUMNS.values()), findings),
            "about": about(str(found.folder), **counted),
        }
    )


def write_fleet_workbook(found: Fleet, place: str | Path, *, overwrite: bool = False) -> list[Path]:
    """Write the fleet as a workbook; see `write_files`."""
    return write_files({Path(place): fleet_workbook(found)}, overwrite=overwrite, inputs=fleet_inputs(found))
