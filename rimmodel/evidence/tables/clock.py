"""Dates and clock times of a column as seconds: written to ISO 8601, by European or American custom, or as a clock.

Whether 12/11/2026 is in November or in December is decided by the file where a number above 12 shows it, or by who
knows; otherwise it is refused with both readings.
"""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.recording.delimited import RecordingError, shown

if TYPE_CHECKING:
    from collections.abc import Callable

    import polars

DAY = 86400.0
HALF_DAY = 43200.0
SERIAL_DAYS = (20_000.0, 80_000.0)
"""Days since the end of 1899 of the years 1954 to 2119, as spreadsheets count them."""

SINCE_1970 = (3e8, 5e9)
"""Seconds since 1970 of the years 1979 to 2128."""

_CLOCK = r"(?P<h>\d{1,2}):(?P<m>\d{2})(?::(?P<s>\d{2}(?:[.,]\d+)?))?(?:\s*(?P<half>[AaPp])\.?[Mm]\.?)?"
_ZONE = r"\s*(?P<zone>Z|z|UTC|[+-]\d{2}:?\d{2})?"
_DATES = (
    r"(?P<y>\d{4})(?P<mark>[-/.])(?P<a>\d{1,2})[-/.](?P<b>\d{1,2})",
    r"(?P<a>\d{1,2})(?P<mark>[-/.])(?P<b>\d{1,2})[-/.](?P<y>\d{4}|\d{2})",
    r"(?P<a>\d{1,2})(?P<mark>[-/. ])(?P<b>[A-Za-z]{3})[-/. ](?P<y>\d{4}|\d{2})",
    r"(?P<y>\d{4})(?P<a>\d{2})(?P<b>\d{2})",
)
_COMPACT_CLOCK = r"(?P<h>\d{2})(?P<m>\d{2})(?P<s>\d{2}(?:[.,]\d+)?)"
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")


class ClockError(RecordingError):
    """Times that are none, or that have two readings."""


@dataclass(frozen=True)
class Clock:
    """A column of times understood.

    Parameters
    ----------
    seconds : float array (row,), s
        From the first time; nan where there is none.
    words : str
        How it was read.
    start : float, s
        Of the day at the first time, for a clock.
    """

    seconds: Floats
    words: str
    start: float = 0.0


def patterns() -> list[str]:
    """Regular expressions of whole cells that hold a date, a clock time, or both."""
    joined = [rf"{date}(?:[T ,;_]+{_CLOCK}{_ZONE})?" for date in _DATES]
    return [rf"^{_CLOCK}$", *(f"^{one}$" for one in joined), rf"^{_DATES[3]}[T _-]?{_COMPACT_CLOCK}{_ZONE}$"]


def looks_like_time(text: str) -> bool:
    """Whether a cell holds a date or clock time.

    >>> looks_like_time("12.11.2026 10:15:00,5"), looks_like_time("14.8"), looks_like_time("14,970")
    (True, False, False)
    """
    text = text.strip()
    return any(re.fullmatch(pattern, text) for pattern in patterns()[:-2]) or bool(
        re.fullmatch(patterns()[-1], text) and len(text) >= 14
    )


def read_clock(
    values: polars.Series, place: Callable[[int], str], order: str | None, missing: tuple[str, ...]
) -> Clock:
    """Read a column of text as times.

    Parameters
    ----------
    values : polars.Series of str
        One cell per row.
    place : callable
        Name of file and line of a row, for messages.
    order : str or None
        "day first" or "month first", where that is known.
    missing : tuple of str
        Cells in small letters that hold no time.

    Raises
    ------
    ClockError
        A cell that holds no time, or times that have two readings.
    """
    import polars as pl

    text = values.str.strip_chars()
    empty = text.is_null() | text.str.to_lowercase().is_in(list(missing))
    pattern = next((p for p in patterns() if not (text.filter(~empty).str.contains(p) == False).any()), None)  # noqa: E712
    if pattern is None:
        first = text.filter(~empty)[0] if (~empty).any() else ""
        odd = next((p for p in patterns() if re.match(p, first)), None)
        bad = int((~empty & ~text.str.contains(odd)).arg_true()[0]) if odd else int((~empty).arg_true()[0])
        raise ClockError(
            f"{place(bad)}: {shown(str(text[bad]))} is not a time"
            + (f" written like {shown(first)} further up" if odd else "")
            + "; write seconds from the start, 2026-11-12 10:15:00, 12.11.2026 10:15:00 or 10:15:00"
        )
    cells = text.str.extract_groups(pattern).struct.unnest()
    cells = cells.select(pl.when(pl.Series(empty)).then(None).otherwise(pl.all()).name.keep())
    clock, has_seconds = _of_day(cells)
    if "y" not in cells.columns:
        if not has_seconds:
            _refuse_two_parts(text, ~empty, place)
        return _over_midnight(clock)
    if "h" in cells.columns and cells["h"].null_count() == cells.height:
        clock = np.where(empty.to_numpy(), np.nan, 0.0)
    days, words = _days(cells, text, place, order)
    known = np.flatnonzero(np.isfinite(days + clock))
    if not known.size:
        return Clock(days, words)
    first_day, first_clock = days[known[0]], clock[known[0]]
    when = datetime.datetime(1970, 1, 1) + datetime.timedelta(days=float(first_day), seconds=float(first_clock))
    seconds = (days - first_day) * DAY + (clock - first_clock)  # exact, where seconds since 1970 lose digits
    return Clock(seconds, f"{words}; seconds from {when.isoformat(sep=' ', timespec='seconds')}")


def _of_day(cells: polars.DataFrame) -> tuple[Floats, bool]:
    """Seconds of the day with the zone taken off, and whether seconds are written."""
    import polars as pl

    if "h" not in cells.columns:
        return np.zeros(cells.height), True
    hour = cells["h"].cast(pl.Float64).to_numpy()
    if "half" in cells.columns and cells["half"].null_count() < cells.height:
        after = cells["half"].str.to_lowercase().fill_null("").to_numpy()
        hour = np.where(after == "p", hour % 12 + 12, np.where(after == "a", hour % 12, hour))
    second = cells["s"].str.replace(",", ".", literal=True).cast(pl.Float64)
    total = hour * 3600.0 + cells["m"].cast(pl.Float64).to_numpy() * 60.0 + second.fill_null(0.0).to_numpy()
    if "zone" in cells.columns:
        zone = cells["zone"]
        sign = zone.str.slice(0, 1).replace_strict({"+": 1.0, "-": -1.0}, default=0.0, return_dtype=pl.Float64)
        digits = zone.str.replace_all(r"\D", "").str.pad_start(4, "0")
        ahead = digits.str.slice(0, 2).cast(pl.Float64, strict=False) * 3600.0
        ahead = ahead + digits.str.slice(2, 2).cast(pl.Float64, strict=False) * 60.0
        total = total - np.nan_to_num((sign * ahead).to_numpy())
    return total, cells["s"].null_count() < cells.height


def _refuse_two_parts(text: polars.Series, known: polars.Series, place: Callable[[int], str]) -> None:
    row = int(known.arg_true()[0])
    raise ClockError(
        f"{place(row)}: {shown(str(text[row]))} can be read as hours and minutes or as minutes and seconds; write "
        "hours, minutes and seconds (10:15:00), or seconds from the start"
    )


def _over_midnight(clock: Floats) -> Clock:
    """Clock times as seconds from the first, a day later after each jump back by more than half a day."""
    known = np.isfinite(clock)
    values = clock[known]
    days = np.concatenate([[0.0], np.cumsum(np.diff(values) < -HALF_DAY)]) if values.size else values
    seconds = np.full(clock.shape, np.nan)
    seconds[known] = values + DAY * days - (values[0] if values.size else 0.0)
    passed = int(days[-1]) if values.size else 0
    first = f"{values[0] // 3600:02.0f}:{values[0] % 3600 // 60:02.0f}:{values[0] % 60:06.3f}" if values.size else ""
    midnight = f"; midnight is passed {'once' if passed == 1 else f'{passed} times'}" if passed else ""
    return Clock(seconds, f"clock time in hours, minutes and seconds{midnight}; seconds from {first}",
                 float(values[0]) if values.size else 0.0)  # fmt: skip


def _days(
    cells: polars.DataFrame, text: polars.Series, place: Callable[[int], str], order: str | None
) -> tuple[Floats, str]:
    """Days since 1970 of each row, and how the dates were read."""
    import polars as pl

    given = pl.col("y").cast(pl.Int32)
    year = cells.select(pl.when(given < 100).then(given + 2000).otherwise(given).alias("y"))["y"]
    first = cells["a"].cast(pl.Int32)
    named = cells["b"].str.contains("[A-Za-z]").any()
    if named:
        second = cells["b"].str.to_lowercase().replace_strict(
            dict(zip(_MONTHS, range(1, 13), strict=True)), default=None, return_dtype=pl.Int32
        )  # fmt: skip
        day, month, words = first, second, "dates with the month by name"
    else:
        second = cells["b"].cast(pl.Int32)
        whole = cells["y"].str.len_chars().max() == 4 and _starts_with_year(text)
        if whole:
            day, month, words = second, first, "dates as year, month, day"
        else:
            mark = cells["mark"].drop_nulls()[0]
            day_first, words = _day_first(first, second, str(mark), text, place, order)
            day, month = (first, second) if day_first else (second, first)
    date = pl.DataFrame({"y": year, "m": month, "d": day})
    wrong = ~(date["m"].is_between(1, 12) & date["d"].is_between(1, 31)).fill_null(True)
    if wrong.any():
        row = int(wrong.arg_true()[0])
        raise ClockError(f"{place(row)}: {shown(str(text[row]))} is no date, read as {words}; correct it")
    return _epoch_days(date), words


def _epoch_days(date: polars.DataFrame) -> Floats:
    import polars as pl

    days = date.select(pl.date(pl.col("y"), pl.col("m"), pl.col("d")).cast(pl.Int32).cast(pl.Float64).alias("days"))
    values: Floats = days["days"].to_numpy()
    return values


def _starts_with_year(text: polars.Series) -> bool:
    return bool(text.drop_nulls().str.contains(r"^\d{4}").all())


def _day_first(
    first: polars.Series,
    second: polars.Series,
    mark: str,
    text: polars.Series,
    place: Callable[[int], str],
    order: str | None,
) -> tuple[bool, str]:
    """Whether the day stands before the month, and how that is known."""
    day_shown, month_shown = bool((first > 12).any()), bool((second > 12).any())
    row = int(first.is_not_null().arg_true()[0])
    if day_shown and month_shown:
        raise ClockError(
            f"{place(row)}: dates here show both the day first and the month first; write all dates as 2026-11-12"
        )
    if order is not None:
        if (order == "day first" and month_shown) or (order == "month first" and day_shown):
            raise ClockError(f"{place(row)}: date_order is {order!r}, but the dates show the other order")
        return order == "day first", f"dates with the {order}, as stated"
    if day_shown or month_shown:
        return day_shown, f"dates with the {'day' if day_shown else 'month'} first, as a number above 12 shows"
    if mark == ".":
        return True, "dates with the day first, as is the custom with points"
    cell = str(text[row])
    a, b = int(first[row]), int(second[row])
    year = re.sub(r"^\d{1,2}[-/]\d{1,2}[-/](\d{4}|\d{2}).*$", r"\1", cell)
    raise ClockError(
        f"{place(row)}: {shown(cell)} can be read as day {a} of month {b} or as day {b} of month {a} of {year}, and "
        'nothing in the file shows which; state cells.date_order = "day first" or "month first" in a file for '
        "--columns, or in the record of the case"
    )


def read_temporal(values: polars.Series) -> Clock:
    """Read a column that is stored as dates, times of day or lengths of time.

    Parameters
    ----------
    values : polars.Series
        Of temporal type.
    """
    import polars as pl

    if values.dtype == pl.Time:
        return _over_midnight(values.cast(pl.Int64).cast(pl.Float64).to_numpy() * 1e-9)
    if values.dtype == pl.Duration:
        seconds = values.cast(pl.Duration("us")).cast(pl.Int64).cast(pl.Float64).to_numpy() * 1e-6
        return Clock(seconds, "lengths of time as stored")
    kind = values.cast(pl.Datetime("ns") if values.dtype != pl.Date else pl.Datetime("us"))
    unit = 1e-9 if values.dtype != pl.Date else 1e-6
    whole = kind.dt.replace_time_zone(None) if getattr(values.dtype, "time_zone", None) is None else kind
    ticks = whole.cast(pl.Int64)
    known = ticks.drop_nulls()
    if not known.len():
        return Clock(np.full(values.len(), np.nan), "dates and times as stored")
    start = int(known[0])
    when = datetime.datetime(1970, 1, 1) + datetime.timedelta(seconds=start * unit)
    seconds = ((ticks - start).cast(pl.Float64) * unit).to_numpy()
    return Clock(seconds, f"dates and times as stored; seconds from {when.isoformat(sep=' ', timespec='seconds')}")


def numeric_time(values: Floats, head: str, place: str) -> Clock:
    """Read numbers without a unit as days of a spreadsheet or as seconds since 1970, where they can be nothing else.

    Parameters
    ----------
    values : float array (row,), unit of value
        As written.
    head : str
        Of the column, for messages.
    place : str
        Of the file.

    Raises
    ------
    ClockError
        Numbers that can be seconds, minutes or hours.

    >>> numeric_time(np.array([46338.5, 46338.50001]), "time", "run.csv").seconds.round(3)
    array([0.   , 0.864])
    """
    known = values[np.isfinite(values)]
    low, high = (float(known.min()), float(known.max())) if known.size else (0.0, 0.0)
    start = float(known[0]) if known.size else 0.0
    if SERIAL_DAYS[0] < low and high < SERIAL_DAYS[1] and high - low < 60.0 and np.any(known != np.floor(known)):
        return Clock(
            (values - start) * DAY, "days as spreadsheets count them from the end of 1899; seconds from the first"
        )
    for scale, words in ((1.0, "seconds"), (1e-3, "milliseconds"), (1e-6, "microseconds")):
        if SINCE_1970[0] < low * scale and high * scale < SINCE_1970[1]:
            return Clock((values - start) * scale, f"{words} since 1970; seconds from the first")
    length = high - low
    raise ClockError(
        f"{place}: column {shown(head)} has no unit: from {low:g} to {high:g} are {length:g} s, or {length:g} min "
        f"({length * 60:g} s), or {length:g} h ({length * 3600:g} s); write the unit in the "
        f'header, or state columns."{head}" = {{ meaning = "time", unit = "s" }} in a file for --columns'
    )
