"""Points and commas inside numbers: a number that can be read in two scales is refused with both readings.

A file has one decimal mark. A number with the other mark, or a column in which every mark stands before three digits
and the reading in thousands is possible for a machine, could be wrong by a factor of a thousand.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np

from rimmodel.evidence.recording.column_names import NUMBERS, WORDS
from rimmodel.evidence.recording.delimited import Layout, RecordingError, scan, shown
from rimmodel.evidence.recording.source import Source
from rimmodel.evidence.recording.source_columns import Column, raw_frame
from rimmodel.evidence.recording.two_readings import both_readings

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    import polars
    from numpy.typing import NDArray


_LARGEST = {"speed": 300.0, "gap": 0.1, "gap_change": 0.1}
"""What a reading in thousands may be at most to be believed: rad/s and m."""

_GROUPED = r"^[+-]?[1-9]\d{0,2}(?:[.,]\d{3})+$"
_WHOLE = r"^[+-]?\d{1,3}$"


def refuse_two_marks(source: Source, columns: Mapping[str, Column]) -> None:
    """Refuse a file with decimal commas of which a number column has points as well. Raises RecordingError."""
    import polars as pl

    layout = source.layout
    if layout is None or not layout.decimal_comma or not _holds(source, b"."):
        return
    raw = raw_frame(source, dict(columns), as_text=True).with_row_index("row")
    for name, column in columns.items():
        if name in WORDS:
            continue
        odd = pl.col(name).str.strip_chars().str.contains(r"^[+-]?\d*\.\d+")
        first = raw.filter(odd).select("row", name).head(1).collect()
        if first.height:
            row, text = first.row(0)
            grouped = re.fullmatch(_GROUPED, text.strip())
            reading = f"can be read as {both_readings(text.strip())}" if grouped else "has a decimal point"
            raise RecordingError(
                f"{source.place(row)}, column {column.header!r}: {shown(text)} {reading}, and the file has decimal "
                "commas; write all numbers with one decimal mark and no thousands separator"
            )


def refuse_nameless(source: Source, columns: Mapping[str, Column]) -> None:
    """Refuse values without a header right of a number: "14,9" between commas leaves its 9 there.

    Parameters
    ----------
    source, columns : Source, dict of str to Column
        From `open_source` and `understand`; a column without a name elsewhere, such as a row number, is not looked at.

    Raises
    ------
    RecordingError
        Naming line, column and value.
    """
    layout = source.layout
    if layout is None or layout.separator != "," or all(layout.header):
        return
    refuse_beside(layout, {column.position for name, column in columns.items() if name in NUMBERS}, source.line)


def refuse_beside(layout: Layout, numbers: set[int], line: Callable[[int], int]) -> None:
    """Refuse values in a column without a name right of one of the columns of numbers.

    Parameters
    ----------
    layout : Layout
        Of a file with commas between its columns.
    numbers : set of int
        Positions.
    line : callable
        Line of a row.

    Raises
    ------
    RecordingError
        Naming line, column and value.
    """
    import polars as pl

    for position, header in enumerate(layout.header):
        if header or position - 1 not in numbers:
            continue
        text = pl.col(str(position)).str.strip_chars()
        first = scan(layout, {}).with_row_index("row").filter(text.str.len_chars() > 0).select("row", text).head(1)
        for row, value in first.collect().iter_rows():
            raise RecordingError(
                f"{layout.path}, line {line(row)}: {shown(value)} stands in column {position + 1}, which has no name; "
                "name it, or write decimal points if these are the decimals of the number before it"
            )


def refuse_thousands(
    source: Source, columns: Mapping[str, Column], sample: polars.DataFrame, missing: tuple[str, ...]
) -> None:
    """Refuse a column whose marks can part thousands: 14.742 um, which may be 14742 um.

    Parameters
    ----------
    source, columns : Source, dict of str to Column
        From `open_source` and `understand`.
    sample : polars.DataFrame
        Usable rows in SI units; mostly they show at once that the marks are decimal.
    missing : tuple of str
        Texts that stand for no number.

    Raises
    ------
    RecordingError
        Naming line, text and both readings.
    """
    import polars as pl

    raw = None
    for name, column in columns.items():
        if name not in (*_LARGEST, "time"):
            continue
        values = sample["gap" if name == "gap_change" else name].to_numpy()
        largest = _LARGEST.get(name, np.inf) / column.scale
        if is_decimal((values - column.offset) / column.scale, largest):
            continue
        raw = raw_frame(source, dict(columns), as_text=True).with_row_index("row") if raw is None else raw
        if raw.collect_schema()[name] != pl.String:
            continue
        text = pl.col(name).str.strip_chars()
        grouped, whole = text.str.contains(_GROUPED), text.str.contains(_WHOLE)
        absent = text.is_null() | text.str.to_lowercase().is_in(list(missing))
        thousands = text.filter(grouped).str.replace_all("[.,]", "").cast(pl.Float64, strict=False).abs()
        seen = raw.select(
            other=(~(grouped | whole | absent)).any() | (thousands.max() > largest).fill_null(False),
            grouped=grouped.any(),
            hundreds=(whole & text.str.contains(r"[1-9]\d\d$")).any(),
            row=pl.col("row").filter(grouped).first(),
            text=text.filter(grouped).first(),
        ).collect()
        other, any_grouped, hundreds, row, first = seen.row(0)
        # a clock in thousandths looks like thousands of seconds, unless whole hundreds stand beside
        if other or not any_grouped or (name == "time" and not hundreds):
            continue
        raise RecordingError(
            f"{source.place(row)}, column {column.header!r}: {first!r} can be read as {both_readings(first)}, and no "
            f"other number in the column shows which; write thousands without a separator, or decimals with more or "
            f"fewer than three digits"
        )


def is_decimal(values: NDArray[np.float64], largest: float) -> bool:
    """Find from the numbers alone that a mark in their column is decimal, or that there is none to doubt.

    Parameters
    ----------
    values : float array (reading,), unit of value
        As written.
    largest : float, unit of value
        A reading in thousands above it cannot be.
    """
    size = np.abs(values[np.isfinite(values)])
    # 250 rpm in rad/s and back is 250.00000000000003
    broken = np.abs(size - np.round(size)) > 1e-9 * np.maximum(size, 1.0)
    thousandths = size * 1000.0
    return bool(
        np.any((size > 0.0) & (size < 1.0 - 1e-9))
        or np.any(size >= 1000.0)
        or np.any(np.abs(thousandths - np.round(thousandths)) > 1e-6 * np.maximum(thousandths, 1.0))
        or np.any(broken & (thousandths > largest))
    )


def _holds(source: Source, mark: bytes) -> bool:
    assert source.layout is not None
    with source.layout.open() as file:
        for _ in range(source.layout.header_line):
            file.readline()
        return any(mark in chunk for chunk in iter(lambda: file.read(1 << 22), b""))
