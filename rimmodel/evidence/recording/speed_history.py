"""A course of speed against time as an operator's log holds it: no gaps needed, for counting starts and cycles."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.recording.delimited import MISSING, RecordingError, shown
from rimmodel.evidence.recording.source import Source, open_source
from rimmodel.evidence.recording.source_columns import in_si, refuse_text, understand_columns
from rimmodel.units import rpm

SHORTEST = 3600.0
"""s; what is shorter says nothing about a year."""


@dataclass(frozen=True)
class SpeedHistory:
    """Speed against time.

    Attributes
    ----------
    time : array (sample,), s
        Not falling.
    speed : array (sample,), rad/s
    left_out : int
        Rows without a number for time or speed.
    """

    source: str
    time: Floats
    speed: Floats
    left_out: int

    @property
    def duration(self) -> float:
        """From the first reading to the last, s."""
        return float(self.time[-1] - self.time[0])


def read_speed_history(source: Any, highest: float, *, sheet: str | None = None) -> SpeedHistory:
    """Read columns ``time`` and ``speed`` of a table; others are not looked at.

    Parameters
    ----------
    source : path, polars or pandas frame
        As `read_recording` takes it.
    highest : float, rad/s
        That the machine can reach; a reading above 1.5 times this is refused, as its unit is likely wrong.
    sheet : str, optional
        Of a workbook.

    Returns
    -------
    SpeedHistory

    Raises
    ------
    RecordingError
        No such column, no usable row, time that goes backwards, a speed that is impossible, less than an hour.
    """
    import polars as pl

    table = open_source(source, sheet)
    columns = understand_columns(table, ("time", "speed"), "speed [rpm]")
    try:
        rows = in_si(table, columns, MISSING).collect()
    except pl.exceptions.PolarsError:
        refuse_text(table, columns, MISSING)
        rows = in_si(table, columns, MISSING, as_text=True).collect()
    time, speed = (rows[name].cast(pl.Float64).fill_null(np.nan).to_numpy() for name in ("time", "speed"))
    good = np.flatnonzero(np.isfinite(time) & np.isfinite(speed))
    _check(table, time, speed, good, highest)
    return SpeedHistory(table.name, time[good], np.abs(speed[good]), len(time) - len(good))


def _check(
    table: Source, time: Floats, speed: Floats, good: np.ndarray[Any, np.dtype[np.intp]], highest: float
) -> None:
    if len(good) < 2:
        raise RecordingError(f"{shown(table.name)} has fewer than two rows with a number for time and speed")
    back = np.flatnonzero(np.diff(time[good]) < 0)
    if len(back):
        row = int(good[back[0] + 1])
        raise RecordingError(
            f"{table.place(row)}: time goes back by {time[good[back[0]]] - time[row]:.6g} s; sort the rows, or split "
            "the file where the clock was set"
        )
    fast = good[np.abs(speed[good]) > 1.5 * highest]
    if len(fast):
        row = int(fast[0])
        raise RecordingError(
            f"{table.place(row)}: speed is {rpm(float(speed[row]), '.6g')}, more than 1.5 times the highest speed of "
            f"the case, {rpm(highest, '.4g')}; check the unit of the column, or leave out what the sensor misread"
        )
    span = float(time[good[-1]] - time[good[0]])
    if span < SHORTEST:
        raise RecordingError(
            f"{table.name} covers {span:.4g} s; at least an hour is needed, and weeks to speak of a year; check the "
            "unit of the time column"
        )
