"""A recording on a sheet of a workbook (.xlsx): found, looked through cell by cell, and handed on as a table.

A cell can hold what no line of text can: a date that was a number once, a formula whose result was never stored, a
value that spans several columns. Each is refused with the address of the cell.
"""

from __future__ import annotations

import datetime
import warnings
import zipfile
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from rimmodel.evidence.recording.delimited import RecordingError, shown

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from pathlib import Path

    import polars

    NameOf = Callable[[str], str | None]
    Rows = tuple[tuple[object, ...], ...]

LARGEST = 60_000_000
"""Bytes of all sheets unpacked, about 400,000 rows of four columns: beyond it reading takes minutes and gigabytes."""

MOST_ABOVE = 50
"""Rows that may stand above the header: a title, the place, the date."""

NEEDED = "openpyxl"
_ERRORS = ("#N/A", "#REF!", "#VALUE!", "#DIV/0!", "#NAME?", "#NUM!", "#NULL!", "#GETTING_DATA", "#SPILL!", "#CALC!")
_DATES = (datetime.date, datetime.time, datetime.timedelta)


@dataclass(frozen=True)
class Sheet:
    """A table on a sheet.

    Attributes
    ----------
    name : str
        Of the sheet.
    header : tuple of str
        By position from the first column of the sheet.
    first_row : int
        Row of the sheet below the header, from 1.
    frame : polars.DataFrame
        The columns that a recording may have, under their headers.
    remarks : tuple of str
        What was passed over, in plain sentences.
    """

    name: str
    header: tuple[str, ...]
    first_row: int
    frame: polars.DataFrame
    remarks: tuple[str, ...]


def read_sheet(path: Path, wanted: str | None, name_of: NameOf, words: tuple[str, ...]) -> Sheet:
    """Read the table of one sheet.

    Parameters
    ----------
    path : Path
        A workbook (see `file_kind.is_workbook`).
    wanted : str, optional
        Name of the sheet; not needed where one sheet alone holds anything.
    name_of : callable
        Name of the column that a header stands for, None where a recording has no such column.
    words : tuple of str
        Columns that hold names and not numbers.

    Raises
    ------
    RecordingError
        Naming sheet and cell: no such sheet, an empty sheet, several to choose from, merged cells, dates, errors or
        formulas without a stored result where numbers are read.
    """
    state = path.stat()
    return _read(path, wanted, name_of, words, (state.st_mtime_ns, state.st_size, state.st_ino))


def sheet_rows(path: Path, wanted: str | None) -> tuple[str, Rows, Callable[[int, dict[int, str]], None]]:
    """Cells of one sheet as stored, and a check of merged cells and formulas that are used.

    Parameters
    ----------
    path : Path
        A workbook.
    wanted : str, optional
        Name of the sheet.

    Returns
    -------
    tuple of (str, Rows, callable)
        Name of the sheet, its cells from the first row and column, and what to call with the last row above the
        readings and the columns that are used, by position.

    Raises
    ------
    RecordingError
        As `read_sheet`.
    """
    sheet = _chosen(path, _opened(path, values=True), wanted)
    where = f"{path}, sheet {sheet.title!r}"
    rows: Rows = tuple(sheet.iter_rows(min_row=1, min_col=1, values_only=True))

    def check(top: int, used: dict[int, str]) -> None:
        _refuse_merged(where, sheet, top, used)
        if any(row[place] is None for row in rows[top:] for place in used):
            _refuse_unworked(where, _opened(path, values=False)[sheet.title], sheet, top, used)

    return sheet.title, rows, check


@lru_cache(maxsize=4)  # one command opens a recording several times, and a workbook is slow to open
def _read(path: Path, wanted: str | None, name_of: NameOf, words: tuple[str, ...], state: tuple[int, ...]) -> Sheet:
    book = _opened(path, values=True)
    sheet = _chosen(path, book, wanted)
    where = f"{path}, sheet {sheet.title!r}"
    rows: Rows = tuple(sheet.iter_rows(min_row=1, min_col=1, values_only=True))
    top = _header_row(rows, name_of)
    header = tuple("" if value is None else " ".join(str(value).split()) for value in rows[top])
    header = header[: max((place + 1 for place, text in enumerate(header) if text), default=0)]
    last = max((place for place, row in enumerate(rows) if any(value is not None for value in row)), default=top)
    body = rows[top + 1 : last + 1]
    used = {place: name for place, text in enumerate(header) if (name := name_of(text)) is not None}
    _refuse_merged(where, sheet, top + 1, used)
    _refuse_twins(where, header, used)
    if not body or None in rows[top] or any(row[place] is None for row in body for place in used):
        _refuse_unworked(where, _opened(path, values=False)[sheet.title], sheet, top + 1, used)
    if not body:
        raise RecordingError(f"{where} holds a header only, in row {top + 1}; no usable row stands below it")
    columns = {
        header[place]: _column(where, place, top + 2, [row[place] for row in body], name in words)
        for place, name in used.items()
    }
    import polars as pl

    return Sheet(sheet.title, header, top + 2, pl.DataFrame(columns), tuple(_remarks(sheet, rows[:top], top)))


def _opened(path: Path, *, values: bool) -> Any:
    """The workbook with its stored values, or with its formulas."""
    try:
        import openpyxl
    except ImportError:
        raise RecordingError(
            f"{path} is a workbook (.xlsx), and {NEEDED}, which reads it, is not installed: pip install '.[excel]', or "
            "save its table as 'CSV UTF-8'"
        ) from None
    try:
        with zipfile.ZipFile(path) as parts:
            size = sum(part.file_size for part in parts.infolist() if part.filename.startswith("xl/"))
        if size > LARGEST:
            raise RecordingError(
                f"{path} holds {size // 10**6} MB unpacked, more than the {LARGEST // 10**6} MB up to which "
                "workbooks are read; save its table as 'CSV UTF-8' or Parquet, which are read in pieces"
            )
        with path.open("rb") as file, warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of parts that hold no values, such as drop-down lists
            return openpyxl.load_workbook(file, data_only=values, keep_links=False)
    except RecordingError:
        raise
    except OSError as error:
        raise RecordingError(f"{path} cannot be opened: {error.strerror or error}") from error
    except Exception as error:  # a damaged file breaks the reader in as many ways as it has parts
        raise RecordingError(
            f"{path} cannot be read as a workbook: it is damaged, cut off or of another kind; open it where it was "
            "made and save it again as .xlsx, or its table as 'CSV UTF-8'"
        ) from error


def _chosen(path: Path, book: Any, wanted: str | None) -> Any:
    """The named sheet, or the only sheet that holds anything."""
    sheets = {sheet.title: sheet for sheet in book.worksheets}
    filled = [title for title, sheet in sheets.items() if not _is_empty(sheet)]
    listed = ", ".join(repr(title) for title in filled)
    if wanted is not None:
        if wanted not in sheets:
            near = next((title for title in sheets if title.casefold().split() == wanted.casefold().split()), None)
            hint = f"; is {near!r} meant?" if near else ""
            raise RecordingError(
                f"{path} has no sheet {wanted!r}{hint} (sheets that hold something: {listed or 'none'})"
            )
        if wanted not in filled:
            raise RecordingError(f"{path}, sheet {wanted!r} is empty (sheets that hold something: {listed or 'none'})")
        return sheets[wanted]
    shown_ones = [title for title in filled if sheets[title].sheet_state == "visible"]
    if not filled:
        raise RecordingError(f"{path} holds no table: all its sheets are empty")
    if len(shown_ones) == 1:
        return sheets[shown_ones[0]]
    raise RecordingError(
        f"{path} has {len(filled)} sheets that hold something ({listed}); name the one to read: --sheet NAME, or "
        'sheet = "NAME" in its [[records]] table'
    )


def _is_empty(sheet: Any) -> bool:
    return all(value is None for row in sheet.iter_rows(values_only=True) for value in row)


def _header_row(rows: Rows, name_of: NameOf) -> int:
    """Place of the row that heads speed and gap; the first row that holds anything where none does."""
    first = next(place for place, row in enumerate(rows) if any(value is not None for value in row))
    for place, row in enumerate(rows[: first + MOST_ABOVE]):
        names = {name_of(" ".join(value.split())) for value in row if isinstance(value, str)}
        if "speed" in names and names & {"gap", "gap_change"}:
            return place
    return first


def _address(place: int, row: int) -> str:
    """Address of a cell, its column counted from 0 and its row from 1, as a spreadsheet shows it.

    >>> _address(0, 1), _address(27, 12)
    ('A1', 'AB12')
    """
    letters, number = "", place + 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(65 + rest) + letters
    return f"{letters}{row}"


def _refuse_merged(where: str, sheet: Any, top: int, used: dict[int, str]) -> None:
    """Refuse merged cells in the header or in a column that is read: one value would stand for several."""
    for merged in sheet.merged_cells.ranges:
        in_header = merged.min_row <= top <= merged.max_row
        in_body = merged.max_row > top and any(merged.min_col <= place + 1 <= merged.max_col for place in used)
        if in_header or in_body:
            what = "the header" if in_header else "a column that is read"
            raise RecordingError(
                f"{where}: cells {merged.coord} are merged in {what}, so that one value stands for several cells; take "
                "the merge back and write each cell"
            )


def _refuse_twins(where: str, header: tuple[str, ...], used: dict[int, str]) -> None:
    seen: dict[str, int] = {}
    for place, name in used.items():
        if not header[place].isprintable():
            raise RecordingError(f"{where}: header {shown(header[place])} holds a control character; write it again")
        if name in seen:
            raise RecordingError(
                f"{where}: columns {header[seen[name]]!r} and {header[place]!r} are both {name}; keep one"
            )
        seen[name] = place


def _refuse_unworked(where: str, formulas: Any, values: Any, top: int, used: dict[int, str]) -> None:
    """Refuse a formula where no value is stored: the program that wrote the file has never worked it out."""
    for cells in formulas.iter_rows(min_row=top):
        for cell in cells:
            read = cell.row == top or cell.column - 1 in used
            if not read or cell.data_type != "f":
                continue
            stored = values.cell(cell.row, cell.column)
            if stored.value is None and stored.data_type != "str":  # an empty text is a result too
                formula = str(getattr(cell.value, "text", cell.value))
                raise RecordingError(
                    f"{where}: cell {cell.coordinate} holds the formula {shown(formula, 40)} without a stored result; "
                    "open the workbook in a spreadsheet program and save it, or put the values in"
                )


def _column(where: str, place: int, first_row: int, values: list[Any], is_word: bool) -> polars.Series:
    """One column as numbers, or as text where a cell holds text; refuses what is neither."""
    import polars as pl

    for offset, value in enumerate(values):
        if value is None or (isinstance(value, int | float | str) and not isinstance(value, bool)):
            if isinstance(value, str) and value.strip() in _ERRORS:
                raise RecordingError(
                    f"{where}: cell {_address(place, first_row + offset)} holds the error {value.strip()}; mend the "
                    "formula, or empty the cell where nothing was read"
                )
            continue
        cell = f"{where}: cell {_address(place, first_row + offset)} holds "
        wanted = "a name" if is_word else "a number"
        if isinstance(value, _DATES):
            raise RecordingError(
                f"{cell}a date or clock time ({value}), not {wanted}; format the column as "
                f"{'text and write the names again' if is_word else 'numbers'}; times are numbers too, such as seconds "
                "from the start"
            )
        raise RecordingError(f"{cell}{str(value).upper()}, not {wanted}; write {wanted} or leave the cell empty")
    if not is_word and not any(isinstance(value, str) for value in values):
        return pl.Series([None if value is None else float(value) for value in values], dtype=pl.Float64)
    return pl.Series([_as_text(value) for value in values], dtype=pl.String)


def _as_text(value: float | str | None) -> str | None:
    """A cell as text: a whole number without a point, so that sensor 1 is "1"."""
    if value is None or isinstance(value, str):
        return value
    return str(int(value)) if float(value).is_integer() else repr(float(value))


def _remarks(sheet: Any, above: Iterable[tuple[object, ...]], top: int) -> Iterable[str]:
    yield f"Read from sheet {sheet.title!r}."
    if any(value is not None for row in above for value in row):
        yield f"Row{'s 1 to' if top > 1 else ''} {top} of the sheet, above the header, not used."
