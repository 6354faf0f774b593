"""Where the rows of a recording come from, what its column headers mean, and the same rows in SI units."""

from __future__ import annotations

import difflib
import hashlib
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rimmodel.evidence.chart.shared_columns import AXIS_GAPS, AXIS_SPEEDS, lone_column
from rimmodel.evidence.recording import delimited
from rimmodel.evidence.recording.delimited import Layout, RecordingError, shown
from rimmodel.evidence.recording.file_kind import check_file, is_parquet, is_workbook
from rimmodel.evidence.recording.two_readings import remedy
from rimmodel.evidence.recording.understood import UnderstoodColumn
from rimmodel.evidence.recording.workbook import read_sheet
from rimmodel.units import KINDS, UnitError, conversion

if TYPE_CHECKING:
    import polars

NUMBERS = {
    "speed": "speed",
    "gap": "small length",
    "gap_change": "small length",
    "gap_error": "small length",
    "time": "time",
    "angle": "angle",
    "rim_temperature": "temperature",
    "spider_temperature": "temperature",
    "pole_temperature": "temperature",
    "stator_temperature": "temperature",
    **dict.fromkeys(AXIS_SPEEDS, "speed"),
    **dict.fromkeys(AXIS_GAPS, "small length"),
}
"""Columns with a unit, and what they measure."""

WORDS = ("sensor", "plane", "direction", "excitation")
COUNTS = ("pole", "turn")
"""Columns of whole numbers."""

_ALL = (*NUMBERS, *WORDS, *COUNTS)
_HEADER = re.compile(r"\s*(?P<name>[^\[\]]*?)\s*(?:\[\s*(?P<unit>[^\[\]]*?)\s*\])?\s*")


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


@dataclass(frozen=True)
class Column:
    """One column that is understood: its position and header, and value * scale + offset in SI.

    Attributes
    ----------
    scale : float, SI
        Of one unit of the header.
    offset : float, SI
    """

    position: int
    header: str
    scale: float = 1.0
    offset: float = 0.0


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
        raise RecordingError(f"{name} has no usable row: it holds columns ({_listed(header)}) and no row")
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


def column_name(header: str) -> str | None:
    """Name of the column that a header stands for, None where a recording has no such column.

    >>> column_name("Rim temperature [degC]"), column_name("remark")
    ('rim_temperature', None)
    """
    match = _HEADER.fullmatch(header)
    name = re.sub(r"[\s_-]+", "_", match["name"].lower()) if match else ""
    return name if name in _ALL else None


def unreadable(name: str) -> RecordingError:
    """The fault of a binary table or a frame that breaks while it is read."""
    if name == "data frame":
        return RecordingError(
            "data frame cannot be read as a table: working it out failed; collect it first to see why"
        )
    return RecordingError(
        f"{name} cannot be read as a table: the Parquet file is damaged, cut off or encrypted; copy or export it again"
    )


def _listed(header: tuple[str, ...]) -> str:
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


def understand(source: Source) -> tuple[dict[str, Column], tuple[str, ...]]:
    """Match headers such as ``gap [mm]`` with the columns that a recording may have.

    Parameters
    ----------
    source : Source
        With its header.

    Returns
    -------
    tuple of (dict of str to Column, tuple of str)
        The columns by name, "gap" standing for a change of gap too, and the headers that are not used.

    Raises
    ------
    RecordingError
        A column twice, a unit missing or wrong, speed or gap missing.
    """
    columns, unused = _known_columns(source)
    if "gap" in columns and "gap_change" in columns:
        unused.append(columns.pop("gap_change").header)
    for name in ("speed", "gap"):
        if name not in columns and not (name == "gap" and "gap_change" in columns):
            raise RecordingError(_no_column(source, name, unused))
    if lone := lone_column(tuple(columns)):
        raise RecordingError(
            f"{source.name}: column {columns[lone].header!r} has no partner; the errors of the axes of a chart come in "
            "pairs, axis_speed_1 and axis_gap_1: read the chart again, or restore the column"
        )
    return columns, tuple(unused)


def understand_columns(source: Source, wanted: tuple[str, ...], example: str) -> dict[str, Column]:
    """Only the wanted columns of a source; each must be there.

    Parameters
    ----------
    source : Source
        With its header.
    wanted : tuple of str
        Names from `NUMBERS`.
    example : str
        How such a header is written.

    Raises
    ------
    RecordingError
        A column twice, a unit missing or wrong, one of them missing.
    """
    columns, _ = _known_columns(source)
    for name in wanted:
        if name not in columns:
            raise RecordingError(
                f"{source.name}: column {name} is missing; headers are written like {example!r} (columns found: "
                f"{_listed(source.header)})"
            )
    return {name: columns[name] for name in wanted}


def _known_columns(source: Source) -> tuple[dict[str, Column], list[str]]:
    """Columns by name, and the headers that stand for none."""
    columns: dict[str, Column] = {}
    unused = []
    for position, header in enumerate(source.header):
        match, name = _HEADER.fullmatch(header), column_name(header)
        if match is None or name is None:
            unused.append(shown(header)[1:-1] if header else f"column {position + 1}, without a name")
            continue
        if name in columns:
            raise RecordingError(
                f"{source.name}: columns {columns[name].header!r} and {header!r} are both {name}; keep one"
            )
        scale, offset = _unit(source, name, header, match["unit"]) if name in NUMBERS else (1.0, 0.0)
        columns[name] = Column(position, header, scale, offset)
    return columns, unused


def _unit(source: Source, name: str, header: str, unit: str | None) -> tuple[float, float]:
    kind = NUMBERS[name]
    if not unit:
        example = KINDS[kind].example.split(" ", 1)[1]
        raise RecordingError(
            f"{source.name}: column {shown(header)} has no unit; write for example '{name} [{example}]'"
        )
    try:
        scale, offset = conversion(unit, kind)
    except UnitError as error:
        raise RecordingError(f"{source.name}: column {shown(header)}: {error}") from error
    # a change of gap is a difference, for which an offset has no meaning; lengths have none
    return scale, offset


def _no_column(source: Source, name: str, unused: list[str]) -> str:
    bare = {re.sub(r"\s*[\[({<].*", "", header).lower(): header for header in unused}
    near = difflib.get_close_matches(name, list(bare), n=1, cutoff=0.6)
    hint = f"; is {shown(bare[near[0]])} meant?" if near else ""
    if near and near[0] == name:
        hint += " The unit stands in a pair of square brackets"
    if all(re.fullmatch(r"\s*[-+\d.,eE]*\s*", header) for header in source.header):
        hint = "; the header is missing, or hidden in a comment line"
    example = "speed [rpm]" if name == "speed" else "gap [mm]"
    return (
        f"{source.name}: column {name} is missing; it is written like '{example}'{hint} "
        f"(columns found: {_listed(source.header)})"
    )


def as_understood(source: Source, columns: dict[str, Column]) -> tuple[UnderstoodColumn, ...]:
    """What each column of a table in the form of the house was taken for."""
    taken = {column.position: name for name, column in columns.items()}
    found = []
    for position, header in enumerate(source.header):
        match = _HEADER.fullmatch(header)
        unit = (match["unit"] or "") if match else ""
        meaning = taken.get(position, "not used")
        basis = "header" if position in taken else "its name is none of a recording"
        found.append(UnderstoodColumn(header, meaning, unit, basis=basis))
    return tuple(found)


def in_si(
    source: Source, columns: dict[str, Column], missing: tuple[str, ...], *, as_text: bool = False
) -> polars.LazyFrame:
    """Return the rows of a source lazily with names and units of this library.

    Parameters
    ----------
    source, columns : Source, dict of str to Column
        From `open_source` and `understand`.
    missing : tuple of str
        Texts that stand for no number (small letters).
    as_text : bool
        Read number columns of a text file as text first and take blanks off: slower, and only needed when the
        direct reading has failed.

    Returns
    -------
    polars.LazyFrame
        speed (rad/s), gap (m) and the others that are there; no number is null, as is nan in optional columns.
    """
    import polars as pl

    raw = raw_frame(source, columns, as_text=as_text)
    schema = raw.collect_schema()
    chosen = []
    for name, column in columns.items():
        value = pl.col(name)
        if name in WORDS:
            if as_text or schema[name] not in (pl.Categorical, pl.String):
                value = value.cast(pl.String)
            chosen.append(value.cast(pl.Categorical))
            continue
        if schema[name] == pl.String:
            value = _parsed(value, missing, comma=bool(source.layout and source.layout.decimal_comma))
        if name not in COUNTS or not schema[name].is_integer():
            value = value.cast(pl.Float64)
        if column.scale != 1.0:
            value = value * column.scale
        if column.offset != 0.0:
            value = value + column.offset
        if name == "angle" or name.endswith("_temperature"):
            value = value.fill_nan(None)
        chosen.append(value.alias("gap" if name == "gap_change" else name))
    return raw.select(chosen)


def raw_frame(source: Source, columns: dict[str, Column], *, as_text: bool) -> polars.LazyFrame:
    """Rows as the source has them, under the names of `columns`."""
    import polars as pl

    if source.layout:
        number: type[polars.DataType] = pl.String if as_text else pl.Float64
        word: type[polars.DataType] = pl.String if as_text else pl.Categorical
        types: dict[int, type[polars.DataType]] = {
            c.position: word if name in WORDS else number for name, c in columns.items()
        }
        if "pole" in columns and not as_text:
            types[columns["pole"].position] = pl.Int32
        scan = delimited.scan(source.layout, types)
        return scan.select(pl.col(str(c.position)).alias(name) for name, c in columns.items())
    assert source.frame is not None
    return source.frame.select(pl.col(c.header).alias(name) for name, c in columns.items())


def _parsed(value: polars.Expr, missing: tuple[str, ...], *, comma: bool) -> polars.Expr:
    """Turn text into numbers; `refuse_text` has made sure that nothing but missing values is lost."""
    import polars as pl

    value = value.str.strip_chars()
    value = pl.when(value.str.to_lowercase().is_in(list(missing))).then(None).otherwise(value)
    if comma:
        value = value.str.replace(",", ".", literal=True)
    return value.cast(pl.Float64, strict=False)


def refuse_text(source: Source, columns: dict[str, Column], missing: tuple[str, ...]) -> None:
    """Raise an error that names the first text in a number column; pass when there is none.

    Raises RecordingError with line, column and text.
    """
    import polars as pl

    raw = raw_frame(source, columns, as_text=True)
    schema = raw.collect_schema()
    for name, column in columns.items():
        _refuse_type(source, name, column, schema[name])
        if name in WORDS:
            continue
        if schema[name] != pl.String:
            continue
        comma = bool(source.layout and source.layout.decimal_comma)
        text = pl.col(name).str.strip_chars()
        lost = _parsed(pl.col(name), missing, comma=comma).is_null() & ~text.str.to_lowercase().is_in(list(missing))
        first = raw.with_row_index("row").filter(lost).select("row", text).head(1).collect()
        if first.height:
            row, value = first.row(0)
            raise RecordingError(
                f"{source.place(row)}, column {column.header!r}: {shown(value)} is not a number; {remedy(value, comma)}"
            )


def _refuse_type(source: Source, name: str, column: Column, kind: polars.DataType) -> None:
    """Refuse a column of a frame that holds neither what it should nor text of it. Raises RecordingError."""
    if kind.is_nested():
        holds = "lists or records, one value per row is read"
    elif name in WORDS:
        return
    elif kind.is_temporal():
        holds = "dates or clock times, not numbers; times are numbers too, such as seconds from the start"
    elif kind.is_numeric() or str(kind) in ("String", "Null"):
        return
    else:
        what = {"Boolean": "true and false", "Binary": "bytes"}.get(str(kind), "categories of text")
        holds = f"{what}, not numbers; write numbers in the unit of the header"
    raise RecordingError(f"{source.name}: column {column.header!r} holds {holds}")
