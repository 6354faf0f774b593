"""The one place that turns any table into the long form of a recording, with a record of all that was guessed."""

from __future__ import annotations

import datetime
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rimmodel.evidence.recording import delimited
from rimmodel.evidence.recording.body import check_body
from rimmodel.evidence.recording.delimited import RecordingError
from rimmodel.evidence.recording.file_kind import check_file, is_parquet, is_workbook
from rimmodel.evidence.recording.number_marks import refuse_beside
from rimmodel.evidence.recording.source import Source, frame_of, unreadable
from rimmodel.evidence.recording.source_columns import Column as SourceColumn
from rimmodel.evidence.recording.understood import UnderstoodColumn
from rimmodel.evidence.recording.workbook import sheet_rows
from rimmodel.evidence.tables.calibration import Machine
from rimmodel.evidence.tables.columns import (
    NOT_USED,
    TEXTS,
    Column,
    heads_have,
    heads_serve,
    no_column,
    plan_columns,
    refuse_unknown,
    to_state,
)
from rimmodel.evidence.tables.heads import Head, read_head
from rimmodel.evidence.tables.long_form import LongForm, long_form
from rimmodel.evidence.tables.raw_rows import read_rows
from rimmodel.evidence.tables.text_table import TextTable, find_table, is_utf_16, text_of
from rimmodel.evidence.tables.unit_words import is_date_form
from rimmodel.rotor.record_columns import ColumnMap
from rimmodel.rotor.regular_file import not_a_file
from rimmodel.units import in_print

if TYPE_CHECKING:
    import polars

_MOST_TOLD = 24


class NoTableError(RecordingError):
    """No line of a file heads a table that could be a recording; `remedy` is the line that would state a column."""

    def __init__(self, text: str, remedy: str = "") -> None:
        super().__init__(text)
        self.remedy = remedy


def open_table(
    source: Any, sheet: str | None, stated: ColumnMap, machine: Machine
) -> tuple[Source, dict[str, SourceColumn], tuple[str, ...]]:
    """Open a table of any usual make as a recording in the long form.

    Parameters
    ----------
    source : path, polars frame or pandas frame
        As `read_recording` takes it.
    sheet : str, optional
        Of a workbook.
    stated : ColumnMap
        What is stated of its columns and cells.
    machine : Machine
        What is known of the machine.

    Returns
    -------
    tuple of (Source, dict of str to Column, tuple of str)
        The rows with what was understood, their columns in SI, and the heads that are not used.

    Raises
    ------
    RecordingError
        `NoTableError` where no line heads a recording; else naming line, column and value.
    """
    if isinstance(source, (str, Path)):
        path = Path(source)
        try:
            check_file(path)
        except RecordingError:
            if not_a_file(path, "") or not is_utf_16(path):
                raise
        if is_workbook(path):
            return _from_sheet(path, str(source), sheet, stated, machine)
        if sheet is not None:
            raise RecordingError(f"{source} is no workbook (.xlsx), so it has no sheet {sheet!r}; leave the sheet out")
        if not is_parquet(path):
            return _from_text(path, str(source), stated, machine)
    return _from_frame(source, stated, machine)


def _from_text(
    path: Path, name: str, stated: ColumnMap, machine: Machine
) -> tuple[Source, dict[str, SourceColumn], tuple[str, ...]]:
    """A text file in any usual encoding."""
    content, encoding = text_of(path)
    table = _found(path, name, content, stated)
    columns = plan_columns(f"{name}, line {table.line}", table.heads, stated)
    body = _checked_body(table, columns)
    words = [*table.words, *body]
    if encoding != "UTF-8":
        words.insert(0, f"The text is {encoding}.")

    def place(row: int) -> str:
        return f"{name}, line {delimited.line_of_row(table.layout, row)}"

    rows = read_rows(table.layout, None, columns, place, stated)
    long = long_form(name, columns, rows, machine)
    base = Source(name, long.names, 0, None, long.frame, origin=table.layout, first_lines=table.first_lines)
    return _described(base, columns, long, rows.count, (*words, *rows.words))


def _found(path: Path, name: str, content: bytes | None, stated: ColumnMap) -> TextTable:
    """The table of a text; refuses where there is none, or where what is stated stands in no line."""
    line = stated.cells.header_line
    found = find_table(path, content, serves=lambda heads: heads_serve(heads, stated), stated_line=line)
    if found is not None:
        return found
    best = find_table(path, content, serves=_names_something, stated_line=line)
    if best is None:
        raise NoTableError(f"{name}: no line heads a speed and a gap; write 'speed [rpm]' and 'gap [mm]', or the like")
    refuse_unknown(name, best.heads, stated)
    lacking = "gap" if heads_have(best.heads, stated, "speed") else "speed"
    raise NoTableError(no_column(name, lacking, best.heads), to_state(best.heads, lacking))


def _names_something(heads: Any) -> bool:
    """Whether a line can at all be the header of a table: two of its fields are known, or one of three."""
    known = sum(head.meaning != NOT_USED or bool(head.unit) for head in heads)
    return bool(known >= (2 if len(heads) < 3 else 1))


def _checked_body(table: TextTable, columns: tuple[Column, ...]) -> tuple[str, ...]:
    """Refuse rows that do not part into the columns of the header; remarks on short rows and comments."""
    places = {column.meaning: column.position for column in reversed(columns) if column.meaning in ("speed", "gap")}
    remarks = check_body(table.layout, places)
    if table.layout.separator == ",":
        numbers = {c.position for c in columns if c.meaning not in (NOT_USED, *TEXTS)}
        refuse_beside(table.layout, numbers, lambda row: delimited.line_of_row(table.layout, row))
    return remarks


def _from_sheet(
    path: Path, name: str, sheet: str | None, stated: ColumnMap, machine: Machine
) -> tuple[Source, dict[str, SourceColumn], tuple[str, ...]]:
    """A sheet of a workbook, as a text in which every cell is written without loss."""
    title, cells, check = sheet_rows(path, sheet)
    lines = ["\t".join(_cell_text(cell) for cell in row) for row in cells]
    named = f"{name}, sheet {title!r}"
    table = _found(path, named, ("\n".join(lines) + "\n").encode(), stated)
    columns = plan_columns(f"{named}, row {table.line}", table.heads, stated)
    if not any(cell is not None for row in cells[table.layout.header_line :] for cell in row):
        raise RecordingError(f"{named} holds a header only, in row {table.line}; no usable row stands below it")
    check(table.layout.header_line, {c.position: c.meaning for c in columns if c.meaning != NOT_USED})
    words = [f"Read from sheet {title!r}.", *table.words[1:], *_checked_body(table, columns)]

    def place(row: int) -> str:
        return f"{named}, row {delimited.line_of_row(table.layout, row)}"

    rows = read_rows(table.layout, None, columns, place, stated, proven_point=True)
    long = long_form(named, columns, rows, machine)
    label = path.stem if sheet is None else f"{path.stem}, {title}"
    base = Source(named, long.names, 0, None, long.frame, label=label, origin=table.layout, word="row")
    base = replace(base, first_lines=table.first_lines)
    return _described(base, columns, long, rows.count, (*words, *rows.words))


def _cell_text(cell: object) -> str:
    """A cell of a sheet as text that reads back to the same."""
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return str(cell).lower()
    if isinstance(cell, float):
        return repr(cell)
    if isinstance(cell, datetime.datetime):
        return cell.isoformat(sep=" ")
    if isinstance(cell, datetime.timedelta):
        return _clock_text(cell)
    return " ".join(str(cell).replace('"', "'").split())


def _clock_text(length: datetime.timedelta) -> str:
    seconds = length.total_seconds()
    return f"{int(seconds // 3600):02d}:{int(seconds % 3600 // 60):02d}:{seconds % 60:09.6f}"


def _from_frame(
    source: Any, stated: ColumnMap, machine: Machine
) -> tuple[Source, dict[str, SourceColumn], tuple[str, ...]]:
    """A Parquet file or a frame, whose heads carry their units."""
    import polars as pl

    given = frame_of(source)
    frame: polars.LazyFrame | None = given.frame
    assert frame is not None
    heads: list[Head] = [read_head(head) for head in given.header]
    refuse_unknown(given.name, heads, stated)
    if not heads_serve(heads, stated):
        raise NoTableError(no_column(given.name, "speed", heads), to_state(heads, "speed"))
    columns = plan_columns(given.name, heads, stated)
    numbered = frame.select(pl.col(head).alias(str(place)) for place, head in enumerate(given.header))
    try:
        rows = read_rows(None, numbered, columns, given.place, stated)
    except (pl.exceptions.PolarsError, pl.exceptions.PanicException, OSError) as error:
        raise unreadable(given.name) from error
    long = long_form(given.name, columns, rows, machine)
    base = replace(given, header=long.names, frame=long.frame, file_size=0, first_lines=())
    return _described(base, columns, long, rows.count, rows.words)


def _described(
    base: Source, columns: tuple[Column, ...], long: LongForm, rows: int, words: tuple[str, ...]
) -> tuple[Source, dict[str, SourceColumn], tuple[str, ...]]:
    """The source with its guesses, the columns as the reader of recordings takes them, and the heads not used."""
    understood = tuple(_entry(column, long.guesses) for column in columns)
    names = {
        ("gap_change" if name == "gap" and long.is_change else name): SourceColumn(place, name)
        for place, name in enumerate(long.names)
    }
    source = replace(
        base,
        rows_expected=max(1, rows * long.per_row),
        per_row=long.per_row,
        remarks=(*words, _taken(understood), *long.words),
        understood=understood,
    )
    unused = tuple(
        delimited.shown(column.head)[1:-1] if column.head else f"column {column.position + 1}, without a name"
        for column in columns
        if column.meaning == NOT_USED
    )
    return source, names, unused


def _taken(understood: tuple[UnderstoodColumn, ...]) -> str:
    """What each column that is used was taken for, in one sentence."""
    used = [entry for entry in understood if entry.meaning != NOT_USED]
    more = (
        f"; and {len(used) - _MOST_TOLD} more, which 'rimmodel check CASE RECORD' lists"
        if len(used) > _MOST_TOLD
        else ""
    )
    return f"Columns taken: {'; '.join(_taken_for(entry) for entry in used[:_MOST_TOLD])}{more}."


def _taken_for(entry: UnderstoodColumn) -> str:
    place = [entry.sensor, f"plane {entry.plane}" if entry.plane else "",
             "" if entry.angle is None else f"at {in_print(entry.angle, 'angle'):g} deg",
             "" if entry.pole is None else f"pole {entry.pole}"]  # fmt: skip
    named = ", ".join(filter(None, place))
    unit = f" in {entry.unit}" if entry.unit and not is_date_form(entry.unit) else ""
    basis = "" if entry.basis == "header" else f" ({entry.basis})"
    return f"{entry.column} = {entry.meaning}{f' of {named}' if named else ''}{unit}{basis}"


def _entry(column: Column, guesses: dict[int, str]) -> UnderstoodColumn:
    basis = "; ".join(filter(None, (column.basis, guesses.get(column.position, ""))))
    return UnderstoodColumn(
        column.head, column.meaning, column.unit, column.sensor, column.plane, column.angle, column.pole, basis
    )
