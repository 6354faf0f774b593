"""Numbers in cells of text: their decimal mark, marks between thousands that the file proves, and what is neither.

A number such as 14.742 can be fourteen thousand. It is read only where other numbers, the size of the quantity or a
statement show which it is; else it is refused with both readings.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from rimmodel.evidence.recording.delimited import RecordingError, shown
from rimmodel.evidence.recording.two_readings import both_readings, remedy

if TYPE_CHECKING:
    import polars

_END = r"(?:[eE][+-]?\d+)?$"
_AMBIGUOUS = r"^[+-]?[1-9]\d{0,2}%s\d{3}$"
_DECIMAL = rf"^[+-]?\d*%s\d+{_END}"
_GROUPED_THEN = r"^[+-]?[1-9]\d{0,2}(?:%s\d{3})+%s\d+$"
_GROUPED_TWICE = r"^[+-]?[1-9]\d{0,2}(?:%s\d{3}){2,}$"
_BLANKS = r"[ '\u2019\u00a0\u202f\u2009]"
_BLANK_GROUPED = rf"^[+-]?[1-9]\d{{0,2}}(?:{_BLANKS}\d{{3}})+(?:[.,]\d+)?$"
_WHERE = "in a file for --columns, or in the record of the case"
_STATED = f'state cells.decimal_mark = "." or "," {_WHERE}'


@dataclass(frozen=True)
class NumberColumn:
    """One column of numbers in a table of text.

    Parameters
    ----------
    head : str
        For messages.
    largest : float, unit of value
        As written: a reading in thousands above it cannot be.
    """

    head: str
    largest: float


@dataclass
class _Seen:
    """First cells that show a decimal mark or a mark between thousands: row, column, text."""

    decimal: dict[str, tuple[int, str, str]] = field(default_factory=dict)
    thousands: dict[str, tuple[int, str, str]] = field(default_factory=dict)
    ambiguous: dict[tuple[str, str], tuple[int, str]] = field(default_factory=dict)
    own: set[tuple[str, str]] = field(default_factory=set)
    blanks: bool = False


def read_numbers(
    frame: polars.DataFrame,
    columns: Mapping[str, NumberColumn],
    place: Callable[[int], str],
    missing: tuple[str, ...],
    stated: tuple[str | None, str | None] = (None, None),
) -> tuple[polars.DataFrame, str]:
    """Turn the named columns of a frame of text into numbers.

    Parameters
    ----------
    frame : polars.DataFrame
        Cells as written.
    columns : mapping of str to NumberColumn
        By name in the frame.
    place : callable
        Name of file and line of a row, for messages.
    missing : tuple of str
        Cells in small letters that hold no number.
    stated : pair of str or None
        Decimal mark and mark between thousands, where they are known.

    Returns
    -------
    tuple of (polars.DataFrame, str)
        The frame, and how the numbers were read.

    Raises
    ------
    RecordingError
        With line and column: what is no number, and numbers that have two readings.
    """
    import polars as pl

    names = [name for name in columns if frame.schema[name] == pl.String]
    if not names:
        return frame, ""
    text = frame.with_columns(pl.col(name).str.strip_chars() for name in names)
    text = text.with_columns(
        pl.when(pl.col(name).str.to_lowercase().is_in(list(missing))).then(None).otherwise(pl.col(name)).alias(name)
        for name in names
    )
    seen = _look(text, names)
    mark = _decimal_mark(seen, columns, text, place, stated)
    group = _group_mark(seen, mark, columns, place, stated)
    numbers = []
    for name in names:
        value = pl.col(name)
        if seen.blanks:
            spaced = value.str.contains(_BLANK_GROUPED)
            value = pl.when(spaced).then(value.str.replace_all(_BLANKS, "")).otherwise(value)
        if group:
            one = re.escape(group)
            grouped = value.str.contains(_GROUPED_THEN % (one, re.escape(mark))) | value.str.contains(
                rf"^[+-]?[1-9]\d{{0,2}}(?:{one}\d{{3}})+$"
            )
            value = pl.when(grouped).then(value.str.replace_all(group, "", literal=True)).otherwise(value)
        if mark == ",":  # a point that is left is no decimal here
            pointed = value.str.contains(".", literal=True)
            value = pl.when(pointed).then(pl.lit("?")).otherwise(value.str.replace(",", ".", literal=True))
        numbers.append(value.cast(pl.Float64, strict=False).alias(name))
    result = text.with_columns(numbers)
    for name in names:
        lost = result[name].is_null() & text[name].is_not_null()
        if lost.any():
            row = int(lost.arg_true()[0])
            cell = str(text[name][row])
            raise RecordingError(
                f"{place(row)}, column {columns[name].head!r}: {shown(cell)} is not a number; "
                f"{remedy(cell, mark == ',')}"
            )
    words = f"decimal {'comma' if mark == ',' else 'point'}" if seen.decimal or stated[0] or seen.ambiguous else ""
    between = [f"{group!r}"] if group else []
    between += ["blanks or apostrophes"] if seen.blanks else []
    return result, words + (f"; {' and '.join(between)} between thousands" if between else "")


def _look(text: polars.DataFrame, names: list[str]) -> _Seen:
    """Go through the cells for what shows how numbers are written."""
    seen = _Seen()

    def first(name: str, pattern: str, unless: str = "") -> tuple[int, str] | None:
        hit = text[name].str.contains(pattern)
        if unless:
            hit = hit & ~text[name].str.contains(unless)
        hit = hit.fill_null(False)
        if not hit.any():
            return None
        row = int(hit.arg_max() or 0)
        return row, str(text[name][row])

    for name in names:
        if not text[name].str.contains(r"[.,' \u2019\u00a0\u202f\u2009]").any():
            continue
        if first(name, _BLANK_GROUPED):
            seen.blanks = True
        for mark, other in ((".", ","), (",", ".")):
            one, two = re.escape(mark), re.escape(other)
            after_blanks = rf"^[+-]?[1-9]\d{{0,2}}(?:{_BLANKS}\d{{3}})+{one}\d+$"
            for found in (first(name, _DECIMAL % one, _AMBIGUOUS % one), first(name, _GROUPED_THEN % (two, one)),
                          first(name, after_blanks)):  # fmt: skip
                if found:
                    seen.decimal.setdefault(mark, (found[0], name, found[1]))
                    seen.own.add((name, mark))
            for found in (first(name, _GROUPED_THEN % (one, two)), first(name, _GROUPED_TWICE % one)):
                if found:
                    seen.thousands.setdefault(mark, (found[0], name, found[1]))
            if found := first(name, _AMBIGUOUS % one):
                seen.ambiguous[name, mark] = found
    for mark, cell in seen.thousands.items():
        seen.decimal.setdefault("," if mark == "." else ".", cell)
    return seen


def _decimal_mark(
    seen: _Seen,
    columns: Mapping[str, NumberColumn],
    text: polars.DataFrame,
    place: Callable[[int], str],
    stated: tuple[str | None, str | None],
) -> str:
    """The decimal mark of the file: stated, shown by its numbers, or by the size of what they measure."""
    if len(seen.decimal) == 2:
        (row, name, cell), (row_2, name_2, cell_2) = (seen.decimal[mark] for mark in ".,")
        raise RecordingError(
            f"{place(row)}, column {columns[name].head!r}: {shown(cell)} has a decimal point, but {shown(cell_2)} in "
            f"{place(row_2).rpartition(', ')[2]}, column {columns[name_2].head!r}, a decimal comma; write all numbers "
            "with one decimal mark"
        )
    shown_mark = next(iter(seen.decimal), None)
    if stated[0]:
        if shown_mark and shown_mark != stated[0]:
            row, name, cell = seen.decimal[shown_mark]
            raise RecordingError(
                f"{place(row)}, column {columns[name].head!r}: decimal_mark is {stated[0]!r}, but {shown(cell)} shows "
                f"{shown_mark!r}"
            )
        return stated[0]
    sure = {(name, one) for name, one in seen.ambiguous
            if (name, one) in seen.own or _too_large(text[name], one, columns[name].largest)}  # fmt: skip
    mark = shown_mark or next((one for _, one in sure), None)
    for (name, one), (row, cell) in seen.ambiguous.items():
        if mark is not None and one != mark:
            continue  # judged as a mark between thousands
        if (name, one) in sure or (mark == one and not math.isfinite(columns[name].largest)):
            continue
        raise RecordingError(
            f"{place(row)}, column {columns[name].head!r}: {cell!r} can be read as {both_readings(cell)}, and no other "
            f"number in the column shows which; {_STATED}"
        )
    return mark or "."


def _too_large(cells: polars.Series, mark: str, largest: float) -> bool:
    """Whether the reading in thousands is impossible for what the column measures."""
    import polars as pl

    some = cells.filter(cells.str.contains(_AMBIGUOUS % re.escape(mark)).fill_null(False))
    size = some.str.replace_all("[.,]", "").cast(pl.Float64).abs().max()
    return size is not None and float(size) > largest  # type: ignore[arg-type]


def _group_mark(
    seen: _Seen,
    mark: str,
    columns: Mapping[str, NumberColumn],
    place: Callable[[int], str],
    stated: tuple[str | None, str | None],
) -> str:
    """The point or comma between thousands, empty where there is none; one that is not proven is refused."""
    other = "," if mark == "." else "."
    proven = stated[1] == other or other in seen.thousands
    if stated[1] not in (None, other) and other in seen.thousands:
        row, name, cell = seen.thousands[other]
        raise RecordingError(
            f"{place(row)}, column {columns[name].head!r}: thousands_mark is {stated[1]!r}, but "
            f"{shown(cell)} has {other!r}"
        )
    for (name, one), (row, cell) in seen.ambiguous.items():
        if one == other and not proven:
            raise RecordingError(
                f"{place(row)}, column {columns[name].head!r}: {cell!r} can be read as {both_readings(cell)}, and the "
                f"decimal mark elsewhere is {mark!r}; write all numbers alike, or state cells.thousands_mark = "
                f'"{other}" {_WHERE}'
            )
    return other if proven else ""
