"""Where the rows of a recording come from: a text file, Parquet, a sheet of a workbook, or a frame."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rimmodel.evidence.recording import delimited
from rimmodel.evidence.recording.column_names import WORDS, column_name
from rimmodel.evidence.recording.delimited import Layout, RecordingError, shown
from rimmodel.evidence.recording.file_kind import check_file, is_parquet, is_workbook
from rimmodel.evidence.recording.understood import UnderstoodColumn
from rimmodel.evidence.recording.workbook import read_sheet

if TYPE_CHECKING:
    import polars


@dataclass(frozen=True)
class Source:
    """Rows not yet read: the frame, its headers by position, and how a row is named in messages.

    Attributes
    ----------
    origin : Layout, optional
        Of the text file from which the frame was made, each of its rows `per_row` readings.
    word : str
        What a line of the origin is called.
    understood : tuple of UnderstoodColumn
        What each column was taken for.
    first_lines : tuple of str
        As written.
    """

    name: str
    header: tuple[str, ...]
    rows_expected: int
    layout: Layout | None
    frame: polars.LazyFrame | None
    file_size: int = 0
    first_row: int = 1
    label: str = ""
    remarks: tuple[str, ...] = ()
    origin: Layout | None = None
    per_row: int = 1
    word: str = "line"
    understood: tuple[UnderstoodColumn, ...] = ()
    first_lines: tuple[str, ...] = ()

    def line(self, row: int) -> int:
        """Line in a text file, row of a sheet, else row from 1, of a row counted from 0."""
        layout = self.layout or self.origin
        return delimited.line_of_row(layout, row // self.per_row) if layout else row // self.per_row + self.first_row

    def place(self, row: int) -> str:
        """Name and line or row, for the start of a message."""
        return f"{self.name}, {self.word if self.layout or self.origin else 'row'} {self.line(row)}"


def open_source(source: Any, sheet: str | None = None) -> Source:
    """Distinguish text, Parquet, workbook, polars and pandas, and look at the header only (of a workbook, at all).

    Parameters
    ----------
    source : path, polars.DataFrame, polars.LazyFrame or pandas.DataFrame
        What the caller has.
    sheet : str, optional
        Of a workbook.

    Returns
    -------
    Source
        With a frame whose columns carry their headers, or with the layout of a text file.

    Raises
    ------
    RecordingError
        Not a file, empty, binary, or of another type.
    """
    if isinstance(source, (str, Path)):
        path = Path(source)
        check_file(path)
        if is_workbook(path):
            return _from_workbook(path, str(source), sheet)
        if sheet is not None:
            raise RecordingError(f"{source} is no workbook (.xlsx), so it has no sheet {sheet!r}; leave the sheet out")
        if not is_parquet(path):
            layout = delimited.read_layout(path)
            return Source(str(source), layout.header, layout.rows_expected, layout, None, path.stat().st_size)
    return frame_of(source)


def frame_of(source: Any) -> Source:
    """A Parquet file or a frame with its headers. Raises RecordingError where it is none, or cannot be read."""
    import polars as pl

    if isinstance(source, (str, Path)):
        path = Path(source)
        # an absolute path without globbing or columns from folder names: the file that was named and no other
        frame = pl.scan_parquet(path.absolute(), glob=False, hive_partitioning=False)
        name, size = str(source), path.stat().st_size
    elif isinstance(source, (pl.DataFrame, pl.LazyFrame)):
        name, frame, size = "data frame", source.lazy(), 0
    elif hasattr(source, "columns") and hasattr(source, "to_numpy"):
        name, frame, size = "data frame", _from_pandas(source), 0
    else:
        raise RecordingError(f"a recording is a path or a polars or pandas frame, not {type(source).__name__}")
    try:
        header = tuple(frame.collect_schema().names())
        rows = int(frame.select(pl.len()).collect().item())
    except (pl.exceptions.PolarsError, pl.exceptions.PanicException, OSError) as error:
        raise unreadable(name) from error
    if not rows:
        raise RecordingError(f"{name} has no usable row: it holds columns ({headers_listed(header)}) and no row")
    return Source(name, header, rows, None, frame, size)


def _from_workbook(path: Path, name: str, sheet: str | None) -> Source:
    found = read_sheet(path, sheet, column_name, WORDS)
    return Source(
        f"{name}, sheet {found.name!r}",
        found.header,
        found.frame.height,
        None,
        found.frame.lazy(),
        path.stat().st_size,
        found.first_row,
        path.stem if sheet is None else f"{path.stem}, {found.name}",
        found.remarks,
    )


def content_digest(path: Path, sheet: str | None = None) -> bytes:
    """SHA-256 of what a recording holds: of the bytes of a file, and of the table on a sheet of a workbook.

    Parameters
    ----------
    path : Path
        An existing file.
    sheet : str, optional
        Of a workbook.
    """
    if is_workbook(path):
        try:
            found = read_sheet(path, sheet, column_name, WORDS)
            return hashlib.sha256(repr((found.header, found.frame.rows())).encode()).digest()
        except RecordingError:  # it is refused with its reason where it is read
            pass
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").digest()


def unreadable(name: str) -> RecordingError:
    """The fault of a binary table or a frame that breaks while it is read."""
    if name == "data frame":
        return RecordingError(
            "data frame cannot be read as a table: working it out failed; collect it first to see why"
        )
    return RecordingError(
        f"{name} cannot be read as a table: the Parquet file is damaged, cut off or encrypted; copy or export it again"
    )


def headers_listed(header: tuple[str, ...]) -> str:
    """Headers for a message, the first few of many."""
    more = f" and {len(header) - 12} more" if len(header) > 12 else ""
    return ", ".join(shown(name) for name in header[:12]) + more


def _from_pandas(frame: Any) -> polars.LazyFrame:
    """Take the columns over one by one, which needs no Arrow library."""
    import polars as pl

    twins = sorted({str(name) for name in frame.columns if list(frame.columns).count(name) > 1})
    if twins:
        raise RecordingError(f"data frame: column {twins[0]!r} appears twice; keep only one")
    columns = {str(name): frame[name].to_numpy() for name in frame.columns}
    texts = {
        name: [None if value is None or value != value else value for value in values]
        for name, values in columns.items()
        if values.dtype == object
    }
    return pl.DataFrame(columns | texts, strict=False).lazy()
