"""The cells of a table as numbers, texts and times: read at once where nothing is in doubt, else cell by cell."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.recording.delimited import MISSING, Layout, RecordingError, explain, scan, shown
from rimmodel.evidence.recording.number_marks import is_decimal
from rimmodel.evidence.tables.cell_numbers import NumberColumn, read_numbers
from rimmodel.evidence.tables.clock import Clock, looks_like_time, numeric_time, read_clock, read_temporal
from rimmodel.evidence.tables.columns import NOT_USED, TEXTS, Column, is_form_of_time
from rimmodel.evidence.tables.unit_words import SIZE, unit_named
from rimmodel.rotor.record_columns import ColumnMap
from rimmodel.units import UnitError, conversion

if TYPE_CHECKING:
    import polars

_LARGEST = {"speed": 300.0, "gap": 0.1, "gap_change": 0.1}
"""What a reading in thousands may be at most to be believed, SI, as `number_marks` has it."""

_LARGEST_SIGNAL = 100.0
_ENOUGH = 1000


@dataclass(frozen=True)
class Rows:
    """Cells of the columns that are used, one row per row of the table.

    Attributes
    ----------
    numbers : dict of float array (row,), unit of value
        As written, by position of the column; nan where there is none.
    texts : dict of polars.Series
        By position.
    times : dict of Clock
        By position.
    words : tuple of str
        How the cells were read.
    """

    count: int
    numbers: dict[int, Floats]
    texts: dict[int, polars.Series]
    times: dict[int, Clock]
    words: tuple[str, ...] = field(default=())


def read_rows(
    layout: Layout | None,
    frame: polars.LazyFrame | None,
    columns: tuple[Column, ...],
    place: Callable[[int], str],
    stated: ColumnMap,
    *,
    proven_point: bool = False,
) -> Rows:
    """Read the cells of a table.

    Parameters
    ----------
    layout : Layout, optional
        Of a text file.
    frame : polars.LazyFrame, optional
        Rows of another table, its columns named "0", "1", ... by position.
    columns : tuple of Column
        Those that are not used are not read.
    place : callable
        Name of file and line of a row, for messages.
    stated : ColumnMap
        Of which that of the cells is used.
    proven_point : bool
        Numbers were stored as numbers and have been written here with decimal points.

    Raises
    ------
    RecordingError
        With file, line and column: what is no number or time, and what has two readings.
    """
    import polars as pl

    used = [column for column in columns if column.meaning != NOT_USED]
    try:
        raw = None
        if layout is not None:
            direct = (
                None
                if proven_point or stated.cells.thousands_mark not in (None, "none")
                else _direct(layout, used, stated)
            )
            raw = direct if direct is not None else scan(layout, {}).select(_names(used)).collect()
        elif frame is not None:
            raw = frame.select(_names(used)).collect()
    except (pl.exceptions.PolarsError, pl.exceptions.PanicException, OSError) as error:
        if layout is not None:
            raise explain(layout) from error
        raise
    assert raw is not None
    mark = stated.cells.decimal_mark or ("." if proven_point else None)
    numeric = {str(c.position): NumberColumn(c.head, _largest(c)) for c in used if not _is_text(c, raw)}
    raw, words = read_numbers(raw, numeric, place, MISSING, (mark, stated.cells.thousands_mark))
    if words == "" and layout is not None and layout.decimal_comma:
        words = "decimal comma"
    numbers, texts, times, said = {}, {}, {}, [f"Numbers: {words}."] if words else []
    for column in used:
        values = raw[str(column.position)]
        if values.dtype.is_nested():
            raise RecordingError(f"{place(0).rpartition(', ')[0]}: column {column.head!r} holds lists or records")
        if column.meaning in TEXTS:
            texts[column.position] = values
        elif column.meaning in ("time", "date"):
            clock = _time(column, values, place, stated)
            times[column.position] = clock
            said += [f"Column {shown(column.head)}: {clock.words}."] if clock.words else []
        else:
            _refuse_kind(column, values, place)
            numbers[column.position] = values.cast(pl.Float64).to_numpy()
    return Rows(raw.height, numbers, texts, times, tuple(said))


def _names(used: list[Column]) -> list[str]:
    return [str(column.position) for column in used]


def _direct(layout: Layout, used: list[Column], stated: ColumnMap) -> polars.DataFrame | None:
    """Numbers read at once by the scanner; None where a cell is no plain number or a mark is in doubt."""
    import polars as pl

    if layout.decimal_comma:
        with layout.open() as file:
            for _ in range(layout.header_line):
                file.readline()
            if any(b"." in chunk for chunk in iter(lambda: file.read(1 << 22), b"")):
                return None
    if stated.cells.decimal_mark is not None and (stated.cells.decimal_mark == ",") != layout.decimal_comma:
        return None
    first = scan(layout, {}).select(_names(used)).head(50).collect()
    types: dict[int, type[polars.DataType]] = {c.position: pl.Float64 for c in used if not _is_text(c, first)}
    try:
        raw = scan(layout, types).select(_names(used)).collect()
    except (pl.exceptions.PolarsError, pl.exceptions.PanicException):
        return None
    if stated.cells.decimal_mark is None:
        for column in used:
            values, largest = raw[str(column.position)], _largest(column)
            if column.meaning not in _LARGEST or is_decimal(values.head(_ENOUGH).to_numpy(), largest):
                continue  # what the first numbers show, all of them show
            if not is_decimal(values.to_numpy(), largest):
                return None
    return raw


def _largest(column: Column) -> float:
    """Largest number as written that a reading in thousands may give."""
    unit = unit_named(column.unit)
    if column.meaning not in _LARGEST:
        return np.inf
    if unit is None or unit.kind not in ("speed", "length"):
        return 3000.0 if column.meaning == "speed" else _LARGEST_SIGNAL
    try:
        kind = "speed" if column.meaning == "speed" else "small length"
        scale = SIZE.get(unit.name) or conversion(unit.name, kind)[0]
    except UnitError:
        return np.inf
    return _LARGEST[column.meaning] / scale


def _is_text(column: Column, rows: polars.DataFrame) -> bool:
    """Whether a column is read as text: names, and times that are no plain numbers."""
    import polars as pl

    if column.meaning in TEXTS:
        return True
    if column.meaning not in ("time", "date"):
        return False
    values = rows[str(column.position)]
    if values.dtype != pl.String:
        return values.dtype.is_temporal()
    first = values.str.strip_chars().filter(~values.str.strip_chars().str.to_lowercase().is_in(list(MISSING)))
    return is_form_of_time(column) or column.meaning == "date" or (first.len() > 0 and looks_like_time(str(first[0])))


def _time(column: Column, values: polars.Series, place: Callable[[int], str], stated: ColumnMap) -> Clock:
    """One column of times as seconds from its first."""
    import polars as pl

    if values.dtype.is_temporal():
        return read_temporal(values)
    if values.dtype == pl.String:
        order = stated.cells.date_order or _order_of_form(column.unit)
        return read_clock(values, place, order, MISSING)
    _refuse_kind(column, values, place)
    numbers = values.cast(pl.Float64).to_numpy()
    unit = unit_named(column.unit)
    if unit is not None and unit.kind == "time":
        size = SIZE.get(unit.name) or conversion(unit.name, "time")[0]
        known = numbers[np.isfinite(numbers)]
        if (
            unit.name == "d" and known.size and known[0] > 20_000.0
        ):  # the digits of a day are better kept from its start
            return Clock((numbers - known[0]) * size, "days; seconds from the first")
        return Clock(numbers * size, "")
    if column.unit and not is_form_of_time(column):
        raise RecordingError(f"{place(0)}: column {shown(column.head)}: unit {column.unit!r} does not measure a time")
    return numeric_time(numbers, column.head, place(0).rpartition(", ")[0])


def _order_of_form(form: str) -> str | None:
    """Order of day and month in a form such as dd/mm/yyyy; None where it shows none."""
    letters = form.lower()
    day, month = max(letters.find("dd"), letters.find("tt"), letters.find("jj")), letters.find("mm")
    if min(day, month) < 0 or letters.startswith(("hh", "yy")) or ("yy" not in letters and "aa" not in letters):
        return None
    return "day first" if day < month else "month first"


def _refuse_kind(column: Column, values: polars.Series, place: Callable[[int], str]) -> None:
    import polars as pl

    if values.dtype.is_numeric() or values.dtype in (pl.Null,):
        return
    raise RecordingError(
        f"{place(0).rpartition(', ')[0]}: column {shown(column.head)} holds {values.dtype}, not numbers; write numbers "
        "in the unit of the header"
    )
