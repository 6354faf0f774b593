"""What the headers of a table mean, and its rows in SI units."""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rimmodel.evidence.chart.shared_columns import lone_column
from rimmodel.evidence.recording import delimited
from rimmodel.evidence.recording.column_names import COUNTS, HEADER, NUMBERS, WORDS, column_name
from rimmodel.evidence.recording.delimited import RecordingError, shown
from rimmodel.evidence.recording.source import Source, headers_listed
from rimmodel.evidence.recording.two_readings import remedy
from rimmodel.evidence.recording.understood import UnderstoodColumn
from rimmodel.units import KINDS, UnitError, conversion

if TYPE_CHECKING:
    import polars


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
                f"{headers_listed(source.header)})"
            )
    return {name: columns[name] for name in wanted}


def _known_columns(source: Source) -> tuple[dict[str, Column], list[str]]:
    """Columns by name, and the headers that stand for none."""
    columns: dict[str, Column] = {}
    unused = []
    for position, header in enumerate(source.header):
        match, name = HEADER.fullmatch(header), column_name(header)
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
        f"(columns found: {headers_listed(source.header)})"
    )


def as_understood(source: Source, columns: dict[str, Column]) -> tuple[UnderstoodColumn, ...]:
    """What each column of a table in the form of the house was taken for."""
    taken = {column.position: name for name, column in columns.items()}
    found = []
    for position, header in enumerate(source.header):
        match = HEADER.fullmatch(header)
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
