"""Temperatures that were logged apart from the gaps: a table against time, brought to the moments of a recording."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.recording.column_names import column_name
from rimmodel.evidence.recording.delimited import MISSING, RecordingError
from rimmodel.evidence.recording.recording import Recording
from rimmodel.evidence.recording.source import open_source
from rimmodel.evidence.recording.source_columns import in_si, refuse_text, understand_columns
from rimmodel.evidence.recording.survey import COLDEST, TEMPERATURES, WARMEST
from rimmodel.units import celsius

BEYOND = 0.02
"""Share of the run by which it may reach over either end of the table: the nearest reading stands there."""


@dataclass(frozen=True)
class TemperatureTable:
    """Temperatures against time.

    Attributes
    ----------
    time : array (row,), s
        Rising, by the clock of the recording.
    temperatures : dict of str to array (row,), K
        By column of a recording, such as "rim_temperature"; NaN where nothing was read.
    """

    source: str
    time: Floats
    temperatures: dict[str, Floats]


def read_temperatures(source: Any) -> TemperatureTable:
    """Read a table with ``time [s]`` and any of the temperature columns of a recording.

    Parameters
    ----------
    source : path or frame
        As `read_recording` takes it.

    Raises
    ------
    RecordingError
        Naming file, line or column, value and rule.
    """
    import polars as pl

    given = open_source(source)
    named = [name for header in given.header if (name := column_name(header)) in TEMPERATURES]
    if not named:
        raise RecordingError(
            f"{given.name} has no temperature column; write for example 'rim_temperature [degC]' beside 'time [s]'"
        )
    kept = understand_columns(given, ("time", *dict.fromkeys(named)), "time [s]")
    refuse_text(given, kept, MISSING)
    try:
        frame = in_si(given, kept, MISSING, as_text=given.layout is not None).collect()
    except pl.exceptions.PolarsError as error:
        raise RecordingError(f"{given.name} cannot be read as a table; save it again as 'CSV UTF-8'") from error
    table = {name: frame[name].cast(pl.Float64).fill_null(float("nan")).to_numpy() for name in kept}
    time = table.pop("time")
    row = _first(~np.isfinite(time))
    if row is not None:
        raise RecordingError(f"{given.place(row)}: time is missing; every row of a table of temperatures needs one")
    if len(time) < 2:
        raise RecordingError(f"{given.name} has {len(time)} usable row; temperatures against time need at least 2")
    row = _first(np.diff(time) <= 0.0)
    if row is not None:
        raise RecordingError(
            f"{given.place(row + 1)}: time is {time[row + 1]:g} s after {time[row]:g} s; it must rise from row to row"
        )
    for name, values in table.items():
        row = _first((values < COLDEST) | (values > WARMEST))
        if row is not None:
            raise RecordingError(
                f"{given.place(row)}: {name} is {celsius(values[row], '.4g')}; it must be from "
                f"{celsius(COLDEST, '.4g')} to {celsius(WARMEST, '.4g')}: check the unit"
            )
    return TemperatureTable(given.name, time, table)


def with_temperatures(recording: Recording, source: Any) -> Recording:
    """The recording with the temperatures of a table, straight between the moments that it holds.

    Parameters
    ----------
    source : TemperatureTable, or path or frame
        As `read_temperatures` takes it.

    Raises
    ------
    RecordingError
        The recording has no time or holds one of the columns itself, or the table does not cover its time.
    """
    import polars as pl

    table = source if isinstance(source, TemperatureTable) else read_temperatures(source)
    if "time" not in recording.columns:
        raise RecordingError(
            f"{recording.source} has no time column, so the temperatures of {table.source} cannot be brought to it; "
            "record 'time [s]' by the same clock"
        )
    twice = [name for name in table.temperatures if name in recording.columns]
    if twice:
        raise RecordingError(f"{twice[0]} stands in {recording.source} and in {table.source}; keep one of them")
    ends = recording.table.select(low=pl.col("time").min(), high=pl.col("time").max()).collect().row(0)
    slack = BEYOND * (ends[1] - ends[0])
    if table.time[0] > ends[0] + slack or table.time[-1] < ends[1] - slack:
        raise RecordingError(
            f"{table.source} holds temperatures from {table.time[0]:g} to {table.time[-1]:g} s, and {recording.source} "
            f"runs from {ends[0]:g} to {ends[1]:g} s; bring both to one clock"
        )
    added = [_at_moments(table.time, values).alias(name) for name, values in table.temperatures.items()]
    note = f"{', '.join(sorted(table.temperatures))} from {Path(table.source).name}."
    return replace(
        recording,
        table=recording.table.with_columns(added),
        sample=recording.sample.with_columns(added),
        notes=(*recording.notes, note[0].upper() + note[1:].replace("_", " ")),
    )


def _at_moments(time: Floats, values: Floats) -> Any:
    """The column of a frame that holds the values at its times, straight between those that were read."""
    import polars as pl

    known = np.isfinite(values)
    if not known.any():
        return pl.lit(None, dtype=pl.Float64)

    def between(moments: pl.Series) -> pl.Series:
        return pl.Series(np.interp(moments.to_numpy(), time[known], values[known]))

    return pl.col("time").map_batches(between, return_dtype=pl.Float64)


def _first(wrong: np.ndarray[Any, Any]) -> int | None:
    places = np.flatnonzero(wrong)
    return int(places[0]) if len(places) else None
