"""Rows of a table, of one reading or of many sensors side by side, as the long form: one reading per row, in SI.

The long form of a wide table is made in pieces as it is read, so that memory holds the table and not its long form.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.recording.delimited import RecordingError, shown
from rimmodel.evidence.tables.calibration import Machine, in_si
from rimmodel.evidence.tables.columns import GAPS, TEXTS, Column
from rimmodel.evidence.tables.raw_rows import Rows

if TYPE_CHECKING:
    import polars

_BETWEEN_POLES = 0.25
_STRAYS = 0.01


@dataclass(frozen=True)
class LongForm:
    """Readings one below the other.

    Parameters
    ----------
    frame : polars.LazyFrame
        speed (rad/s), gap (m), and what else is there, under the names of the house.
    names : tuple of str
        Of its columns.
    per_row : int
        Readings of each row of the table.
    is_change : bool
        Gaps are changes of gap.
    words : tuple of str
        How units, calibrations and poles were understood.
    """

    frame: polars.LazyFrame
    names: tuple[str, ...]
    per_row: int
    is_change: bool
    words: tuple[str, ...]
    guesses: dict[int, str] = field(default_factory=dict)


def long_form(source: str, columns: tuple[Column, ...], rows: Rows, machine: Machine) -> LongForm:
    """Bring the rows of a table into the long form.

    Parameters
    ----------
    source : str
        Name of the recording, for messages.
    columns : tuple of Column
        All of the table.
    rows : Rows
        Their cells.
    machine : Machine
        What helps to understand units and poles.

    Raises
    ------
    RecordingError
        A unit that is missing or of another kind, or poles that cannot be distinguished.
    """
    import polars as pl

    words, guesses = [], {}
    shared: dict[str, Any] = {}
    for column in columns:
        if column.meaning in TEXTS:
            shared[column.meaning] = rows.texts[column.position].cast(pl.String).cast(pl.Categorical)
        elif column.position in rows.numbers and column.meaning not in GAPS:
            values, said = in_si(source, column, rows.numbers[column.position], machine)
            shared[column.meaning] = _shared(values)
            if said:
                guesses[column.position] = said
                words.append(f"Column {shown(column.head)}: {said}.")
    time = _time_of(columns, rows)
    if time is not None:
        shared["time"] = _shared(time)
    if "rotor_angle" in shared:
        shared["pole"] = _shared(_pole_at(source, shared.pop("rotor_angle").to_numpy(), machine))
        words.append(f"Poles are numbered by the angle of the rotor, {machine.pole_count} of them.")
    gaps = [column for column in columns if column.meaning in GAPS]
    readings = {}
    for column in gaps:
        readings[column.position], said = in_si(source, column, rows.numbers[column.position], machine)
        if said:
            guesses[column.position] = said
            words.append(f"Column {shown(column.head)}: {said}.")
    _refuse_both(source, gaps, shared)
    table = pl.DataFrame(shared | {f"gap {c.position}": _shared(readings.pop(c.position)) for c in gaps})
    names, schema = _schema(shared, gaps)
    long = table.lazy().map_batches(
        lambda batch: _unfolded(batch, gaps, names),
        streamable=True,
        schema=schema,
        predicate_pushdown=False,
        projection_pushdown=False,
        slice_pushdown=False,
    )
    if len(gaps) > 1:
        words.append(f"Wide table: each row holds {len(gaps)} readings, which are counted one by one.")
    return LongForm(long, names, len(gaps), gaps[0].meaning == "gap_change", tuple(words), guesses)


def _shared(values: Floats) -> Any:
    import polars as pl

    return pl.Series(values, dtype=pl.Float64, nan_to_null=bool(np.isnan(values).any()))


def _time_of(columns: tuple[Column, ...], rows: Rows) -> Floats | None:
    """Seconds of each row: of the column of times, of dates beside clock times, or none."""
    times = [rows.times[c.position] for c in columns if c.meaning == "time"]
    dates = [rows.times[c.position] for c in columns if c.meaning == "date"]
    if times and dates and times[0].words.startswith("clock time"):
        # whole days come from the dates, so the clock must not count its midnights once more
        of_day = np.mod(times[0].seconds + times[0].start, 86400.0)
        seconds = dates[0].seconds + of_day
        known = seconds[np.isfinite(seconds)]
        return seconds - (known[0] if known.size else 0.0)
    return times[0].seconds if times else dates[0].seconds if dates and np.ptp(dates[0].seconds) > 0 else None


def _pole_at(source: str, angle: Floats, machine: Machine) -> Floats:
    """Number of the pole at an angle of the turning frame."""
    if machine.pole_count is None:
        raise RecordingError(
            f"{source}: poles are given by their angle; give pole_count too, or number the poles from 1"
        )
    pitch = 2.0 * np.pi / machine.pole_count
    turn = 1.0 if machine.numbering == "with rotation" else -1.0
    place = turn * (angle - machine.first_pole_angle) / pitch
    nearest = np.round(place)
    off = np.abs(place - nearest)
    known = np.isfinite(place)
    if np.count_nonzero(off[known] > _BETWEEN_POLES) > _STRAYS * np.count_nonzero(known):
        row = int(np.flatnonzero(known & (off > _BETWEEN_POLES))[0])
        raise RecordingError(
            f"{source}: the angle {np.degrees(angle[row]):.6g} deg lies between two of {machine.pole_count} poles; "
            "write the angle of the middle of each pole, or number the poles from 1"
        )
    numbers: Floats = np.where(known & (off <= _BETWEEN_POLES), np.mod(nearest, machine.pole_count) + 1.0, np.nan)
    return numbers


def _refuse_both(source: str, gaps: list[Column], shared: dict[str, Any]) -> None:
    """Refuse what is stated both by rows and by columns."""
    for name, by_column in (
        ("sensor", any(column.sensor for column in gaps)),
        ("plane", any(column.plane for column in gaps)),
        ("angle", any(column.angle is not None for column in gaps)),
        ("pole", any(column.pole is not None for column in gaps)),
    ):
        if by_column and name in shared and len(gaps) > 1:
            raise RecordingError(
                f"{source}: the {name} of a gap stands both in a column of its own and in the heads of the gaps, such "
                f'as {shown(gaps[0].head)}; state columns."..." = {{ meaning = "not used" }} in a file for --columns'
            )


def _schema(shared: dict[str, Any], gaps: list[Column]) -> tuple[tuple[str, ...], dict[str, Any]]:
    import polars as pl

    schema: dict[str, Any] = {name: values.dtype for name, values in shared.items()}
    schema["gap"] = pl.Float64
    if any(column.sensor for column in gaps):
        schema.setdefault("sensor", pl.Categorical)
    if any(column.plane for column in gaps):
        schema.setdefault("plane", pl.Categorical)
    if any(column.angle is not None for column in gaps):
        schema.setdefault("angle", pl.Float64)
    if any(column.pole is not None for column in gaps):
        schema.setdefault("pole", pl.Float64)
    return tuple(schema), schema


def _unfolded(batch: polars.DataFrame, gaps: list[Column], names: tuple[str, ...]) -> polars.DataFrame:
    """Readings of a batch of rows, row by row and within each row in the order of the columns."""
    import polars as pl

    rows, many = batch.height, len(gaps)
    columns = [batch[f"gap {column.position}"] for column in gaps]
    blank = _blank(batch) if any(values.null_count() for values in columns) else None
    of_row = np.repeat(np.arange(rows, dtype=np.uint32), many) if many > 1 else None
    found = {}
    for name in names:
        if name == "gap":
            readings = np.empty((rows, many))
            for place, values in enumerate(columns):
                readings[:, place] = values.to_numpy()
            holes = any(values.null_count() for values in columns)
            found[name] = pl.Series(readings.ravel(), nan_to_null=holes)
        elif name in batch.columns:
            values = batch[name]
            if of_row is None:
                found[name] = values
            elif values.dtype == pl.Float64 and not values.null_count():
                found[name] = pl.Series(np.repeat(values.to_numpy(), many))
            else:
                found[name] = values.gather(of_row)
        else:
            found[name] = _of_columns(name, gaps, rows, blank)
    return pl.DataFrame(found)


def _blank(batch: polars.DataFrame) -> Any:
    """True for rows without a single cell, which are blank lines; None where there is none."""
    import polars as pl

    mask = batch.select(pl.all_horizontal(pl.all().is_null()).alias("blank"))["blank"].to_numpy()
    return mask if mask.any() else None


def _of_columns(name: str, gaps: list[Column], rows: int, blank: Any) -> polars.Series:
    """What the columns themselves say of their readings, once for every row; nothing in blank rows."""
    import polars as pl

    each: list[Any] = [getattr(column, name) for column in gaps]
    if name in TEXTS:
        values = pl.Series([value or None for value in each], dtype=pl.String).cast(pl.Categorical)
    else:
        values = pl.Series([None if value is None else float(value) for value in each], dtype=pl.Float64)
    if blank is None and name not in TEXTS:
        return pl.Series(np.tile(values.to_numpy(), rows), nan_to_null=bool(values.null_count()))
    index = pl.Series(np.tile(np.arange(len(gaps), dtype=np.uint32), rows))
    if blank is not None:
        index = pl.select(pl.when(pl.Series(np.repeat(blank, len(gaps)))).then(None).otherwise(index)).to_series()
    return values.gather(index)
