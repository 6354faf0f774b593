"""A recording opened: in the form of the house where it is in that form, else as any other table, never as both.

The form of the house is read first and strictly. A file that is not in it, or breaks with it, goes through
`open_table`; where that finds no table either, the message is that of the form of the house.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from rimmodel.evidence.recording import delimited
from rimmodel.evidence.recording.body import check_body
from rimmodel.evidence.recording.delimited import RecordingError
from rimmodel.evidence.recording.number_marks import refuse_nameless, refuse_two_marks
from rimmodel.evidence.recording.source import Source, open_source, unreadable
from rimmodel.evidence.recording.source_columns import Column, as_understood, in_si, refuse_text, understand
from rimmodel.evidence.recording.survey import Rule, Survey, rules_for, survey
from rimmodel.evidence.tables.calibration import Machine
from rimmodel.evidence.tables.clock import ClockError
from rimmodel.evidence.tables.columns import GAPS, NOT_USED, WHERE
from rimmodel.evidence.tables.heads import read_head
from rimmodel.evidence.tables.open_table import NoTableError, open_table
from rimmodel.rotor.record_columns import ColumnMap

if TYPE_CHECKING:
    import polars

NEEDED = ("speed", "gap", "gap_change")
"""Columns of which a row needs a number."""

KEEP_BYTES = 450_000_000
"""File and rows together up to which rows stay in memory; a longer recording is read again when it is reduced."""

_CELL_BYTES = 6.5
_FIRST_LINES = 4


@dataclass(frozen=True)
class Request:
    """What is asked of `open_rows`.

    Parameters
    ----------
    missing : tuple of str
        Texts that stand for no number.
    largest_gap : float, m
    stated : ColumnMap
        With it the table is read by it, whatever its form.
    """

    source: Any
    sheet: str | None
    missing: tuple[str, ...]
    largest_gap: float
    machine: Machine
    stated: ColumnMap


@dataclass(frozen=True)
class Opened:
    """Rows in SI units with what a first pass has found in them.

    Attributes
    ----------
    unused : tuple of str
        Heads of columns.
    remarks : tuple of str
        On rows that are short or commented out.
    """

    given: Source
    columns: dict[str, Column]
    unused: tuple[str, ...]
    remarks: tuple[str, ...]
    rules: list[Rule]
    frame: polars.LazyFrame
    found: Survey

    @property
    def is_change(self) -> bool:
        """Whether the gaps are changes of gap."""
        return "gap" not in self.columns


def open_rows(request: Request) -> Opened:
    """Open a recording and go through its rows once.

    Raises
    ------
    RecordingError
        It is no recording in any form that is known; with file, line, value and rule.
    """
    if request.stated:
        return _foreign(request)
    is_house = False
    try:
        given = open_source(request.source, request.sheet)
        columns, unused = understand(given)
        is_house = True
        if lost := _understood_elsewhere(unused, columns):
            try:
                return _foreign(request)
            except RecordingError:
                if not lost <= {"time", "date"}:
                    raise
        return _house(request, given, columns, unused)
    except RecordingError as fault:
        # a date under the sensors of a sheet; a table read off a chart that has lost a column of its axes
        if "not a name" in str(fault) or "has no partner" in str(fault):
            raise
        try:
            return _foreign(request)
        except NoTableError as other:
            if other.remedy and "is missing" in str(fault):
                raise RecordingError(f"{fault}; or state {other.remedy} {WHERE}") from None
            raise fault from None
        except ClockError:
            raise
        except RecordingError:
            if is_house or "cell " in str(fault):  # of a sheet, by its address
                raise fault from None
            raise


def _understood_elsewhere(unused: tuple[str, ...], columns: dict[str, Column]) -> set[str]:
    """What heads that are not in the form of the house stand for, where it would be lost."""
    found = {read_head(head).meaning for head in unused}
    return found - {NOT_USED, *GAPS, *columns}


def _house(request: Request, given: Source, columns: dict[str, Column], unused: tuple[str, ...]) -> Opened:
    """A table in the form of the house."""
    remarks: tuple[str, ...] = ()
    if given.layout:
        remarks = check_body(given.layout, {name: c.position for name, c in columns.items() if name in NEEDED})
        refuse_two_marks(given, columns)
        refuse_nameless(given, columns)
        given = replace(given, first_lines=_first_lines(given))
    given = replace(given, understood=as_understood(given, columns))
    return _surveyed(request, given, columns, unused, remarks)


def _foreign(request: Request) -> Opened:
    """Any other table."""
    given, columns, unused = open_table(request.source, request.sheet, request.stated, request.machine)
    return _surveyed(request, given, columns, unused, ())


def _first_lines(given: Source) -> tuple[str, ...]:
    assert given.layout is not None
    with given.layout.open() as file:
        lines = [file.readline(1 << 12) for _ in range(given.layout.header_line + _FIRST_LINES - 1)]
    return tuple(
        line.decode("utf-8", "replace").rstrip("\r\n") for line in lines[given.layout.header_line - 1 :] if line
    )


def _surveyed(
    request: Request, given: Source, columns: dict[str, Column], unused: tuple[str, ...], remarks: tuple[str, ...]
) -> Opened:
    names = ["gap" if name == "gap_change" else name for name in columns]
    rules = rules_for(
        names, is_change="gap" not in columns, largest_gap=request.largest_gap, pole_count=request.machine.pole_count
    )
    frame, found = _gone_through(given, columns, request.missing, rules)
    return Opened(given, columns, unused, remarks, rules, frame, found)


def _gone_through(
    given: Source, columns: dict[str, Column], missing: tuple[str, ...], rules: list[Rule]
) -> tuple[polars.LazyFrame, Survey]:
    """Go through the rows quickly, and carefully through text with blanks and the like."""
    import polars as pl

    # a file is mapped while it is read, so both it and the rows count
    size = given.file_size + _CELL_BYTES * len(columns) * given.rows_expected
    keep = given.file_size > 0 and size <= KEEP_BYTES
    if given.layout is None:
        try:
            refuse_text(given, columns, missing)
        except (pl.exceptions.PolarsError, pl.exceptions.PanicException, OSError) as error:
            raise unreadable(given.name) from error
    try:
        frame = in_si(given, columns, missing)
        return frame, survey(frame, rules, given.rows_expected, keep=keep)
    except (pl.exceptions.PolarsError, pl.exceptions.PanicException, OSError) as error:
        if given.layout is None:
            raise unreadable(given.name) from error
    try:
        refuse_text(given, columns, missing)
        frame = in_si(given, columns, missing, as_text=True)
        return frame, survey(frame, rules, given.rows_expected, keep=keep)
    except pl.exceptions.PolarsError as error:
        if given.layout is None:
            raise
        raise delimited.explain(given.layout) from error
