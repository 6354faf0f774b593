"""Read a recording of air gap against speed, check it, and say what was found and what was left out.

A recording is a long table, one reading per row, units in the header; the least is ``speed [rpm], gap [mm]``.
"""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rimmodel.evidence.recording.column_names import COUNTS
from rimmodel.evidence.recording.delimited import MISSING, RecordingError
from rimmodel.evidence.recording.labels import check_names, same_labels
from rimmodel.evidence.recording.number_marks import refuse_thousands
from rimmodel.evidence.recording.opened import Opened, Request, open_rows
from rimmodel.evidence.recording.recording import Recording
from rimmodel.evidence.recording.slips import likely_length
from rimmodel.evidence.recording.source import Source
from rimmodel.evidence.recording.survey import IMPOSSIBLE_TEMPERATURE, Survey, usable
from rimmodel.evidence.recording.temperature_table import with_temperatures
from rimmodel.evidence.tables.calibration import Machine
from rimmodel.rotor.record_columns import ColumnMap
from rimmodel.units import KINDS, in_mm, in_rpm, mm, rpm

if TYPE_CHECKING:
    from collections.abc import Iterable

    import polars

__all__ = ["Recording", "RecordingError", "read_recording"]
STRAYS = 0.01
"""Share of impossible readings up to which they are taken for strays and left out, not for a wrong column."""

_STANDSTILL = 0.005
SHORTEST_RUN = 2.0
"""s; no rotor of this size changes its speed by much in less."""

WIDEST = 1.5
"""Times a usual gap that the largest possible one is taken to be, to name the factor of a wrong unit."""

_CHANGED = 0.2
_UNIT_SLIPS = (10.0, 25.4, 39.37, 100.0, 1000.0)


def read_recording(
    source: Any,
    *,
    label: str = "",
    direction: str | None = None,
    largest_gap: float | None = None,
    pole_count: int | None = None,
    missing: tuple[str, ...] = MISSING,
    sheet: str | None = None,
    temperatures: Any = None,
    columns: ColumnMap | str | Path | None = None,
    rated_speed: float | None = None,
    first_pole_angle: float = 0.0,
    numbering: str = "with rotation",
) -> Recording:
    """Read and check a recording; nothing is lost without a word.

    Parameters
    ----------
    source : path, polars frame (eager or lazy) or pandas frame
        Text, Parquet, a workbook (.xlsx), or a frame; one reading per row with headers such as ``speed [rpm]``,
        ``gap [mm]``, or one column for each sensor, as loggers write it.
    label : str
        Name for reports; the file's stem when empty.
    direction : str, optional
        "up" or "down" for a recording that has no direction column.
    largest_gap : float, m, optional
        A larger reading cannot be a gap (the bore does not allow it). Up to one reading in a hundred is left
        out and counted; more is an error. 0.5 m when not given.
    pole_count : int, optional
        Poles on the rotor; a pole number outside 1 to this is an error.
    missing : tuple of str
        Texts in small letters that stand for "no reading" in a number column; other text there is an error.
    sheet : str, optional
        Name of the sheet of a workbook; not needed where only one holds anything.
    temperatures : path or frame, optional
        A table of temperatures against time that were logged apart; see `temperature_table.with_temperatures`.
    columns : ColumnMap or path, optional
        What the columns hold, where their heads do not say it: a TOML file with a line for each, such as
        ``columns."AI 01" = { sensor = "G1", unit = "V", gain = "2.5 mm/V" }``.
    rated_speed : float, rad/s, optional
        For speeds in per cent or hertz.
    first_pole_angle : float, rad
        Of pole 1 in the turning frame, for poles that are given by their angle.
    numbering : str
        "with rotation" or "against rotation", for the same.

    Returns
    -------
    Recording
        The usable rows, lazily, with what was found and dropped.

    Raises
    ------
    RecordingError
        Naming file, line or column, value and rule.

    >>> import polars
    >>> frame = polars.DataFrame({"speed [rpm]": [10.0, 60.0, 120.0], "gap [mm]": [15.0, 14.8, None]})
    >>> recording = read_recording(frame)
    >>> recording.rows, recording.dropped
    (3, (('gap is missing or not a finite number', 1, 3),))
    """
    import polars as pl

    if direction not in (None, "up", "down"):
        raise RecordingError(f"direction {direction!r} is neither 'up' nor 'down'")
    highest = KINDS["small length"].highest if largest_gap is None else largest_gap
    machine = Machine(rated_speed, pole_count, first_pole_angle, numbering)
    table = open_rows(Request(source, sheet, missing, highest, machine, _stated(columns)))
    given, frame, found = table.given, table.frame, table.found
    if direction and "direction" in table.columns:
        raise RecordingError(f"{given.name} has a direction column; leave out direction={direction!r}")
    check_names(given.name, found.words)
    frame, labels = same_labels(frame, found)
    sample = pl.concat(found.sample) if found.sample else frame.head(0).collect()
    refuse_thousands(given, table.columns, sample, missing)
    _refuse_wrong(table, sample, pole_count, highest)
    finish = [pl.col(name).cast(pl.Int32 if name == "pole" else pl.Int64) for name in COUNTS if name in table.columns]
    if direction:
        finish.append(pl.lit(direction).cast(pl.Categorical).alias("direction"))
        found.words["direction"] = {direction}
    if found.usable_rows:
        rows = pl.concat(found.usable_rows).lazy()
    else:  # a filter costs time, so a clean recording goes without
        rows = frame.filter(usable(table.rules, found.faults)) if found.faults or found.blank_rows else frame
    recording = Recording(
        source=given.name,
        label=label or given.label or Path(given.name).stem,
        table=rows.with_columns(finish),
        is_change=table.is_change,
        rows=found.rows,
        dropped=tuple((text, f.count, given.line(f.first_row)) for text, f in found.faults.items()),
        sensors=_natural(found.words["sensor"]),
        planes=_natural(found.words["plane"]),
        poles=(int(found.lowest["pole"]), int(found.highest["pole"])) if "pole" in found.lowest else (),
        directions=tuple(word for word in ("up", "down") if word in found.words["direction"]),
        speed_range=(found.lowest["speed"], found.highest["speed"]),
        notes=(*given.remarks, *_notes(table), *table.remarks, *labels),
        sample=sample.with_columns(finish),
        understood=given.understood,
        first_lines=given.first_lines,
    )
    return recording if temperatures is None else with_temperatures(recording, temperatures)


def _stated(columns: ColumnMap | str | Path | None) -> ColumnMap:
    """What is stated of the columns, read where it is a file."""
    if columns is None:
        return ColumnMap()
    if isinstance(columns, ColumnMap):
        return columns
    from rimmodel.rotor.case.column_map import read_column_map  # loads what checks tables

    return read_column_map(columns)


def _refuse_wrong(table: Opened, sample: polars.DataFrame, pole_count: int | None, largest_gap: float) -> None:
    """Refuse what cannot be right as a whole: rows, times, units of sensors."""
    _judge(table.given, table.found, pole_count, largest_gap)
    _refuse_one_time(table.given, table.found)
    _refuse_short_time(table.given, table.found)
    _refuse_mixed_units(table.given, sample, is_change=table.is_change)


def _judge(given: Source, found: Survey, pole_count: int | None, largest_gap: float) -> None:
    """Refuse a recording that as a whole cannot be right."""
    for text, fault in found.faults.items():
        where = f"{given.place(fault.first_row)}: {text} ({fault.value})"
        if text.startswith("pole"):
            rule = f"poles are numbered from 1 to {pole_count}" if pole_count else "poles are numbered from 1"
            raise RecordingError(f"{where}; {rule}")
        if text == "speed is negative" and fault.least < -_STANDSTILL * found.highest.get("speed", 0.0):
            raise RecordingError(f"{where}; write speeds without sign, and give the direction in a direction column")
        if text.endswith(IMPOSSIBLE_TEMPERATURE):
            raise RecordingError(f"{where}; correct it, or leave the field empty where nothing was read")
        if "is larger than" in text and fault.count > STRAYS * found.rows:
            raise RecordingError(
                f"{where}, as in {fault.count} of {found.rows} rows; this is impossible on the machine: check the unit"
                f"{likely_length(fault.least / largest_gap * WIDEST) if text.startswith('gap') else ''}"
            )
    if not found.kept:
        reasons = "; ".join(f"{text} in {f.count} rows" for text, f in found.faults.items())
        raise RecordingError(f"{given.name} has no usable row" + (f": {reasons}" if reasons else ""))
    odd = sorted(found.words["direction"] - {"up", "down"})
    if odd:
        raise RecordingError(f"{given.name}, column direction: {odd[0]!r} is neither 'up' nor 'down'")
    low, high = found.lowest["speed"], found.highest["speed"]
    if high - low <= 1e-6 * high:
        raise RecordingError(
            f"{given.name}: all {found.kept} usable rows are at one speed, {rpm(high, '.6g')} (is the speed signal "
            "stuck?); gap against speed needs at least two"
        )


def _refuse_one_time(given: Source, found: Survey) -> None:
    """Refuse a clock that stands still, which would put all speeds into one point."""
    if "time" in found.lowest and found.kept > 1 and found.lowest["time"] == found.highest["time"]:
        raise RecordingError(
            f"{given.name}: time is {found.lowest['time']:.6g} s in all {found.kept} usable rows; "
            "leave the column out if it was not recorded"
        )


def _refuse_short_time(given: Source, found: Survey) -> None:
    """Refuse a run that is over in no time: days or hours headed as seconds."""
    if "time" not in found.lowest:
        return
    length = found.highest["time"] - found.lowest["time"]
    if found.highest["speed"] - found.lowest["speed"] > _CHANGED * found.highest["speed"] and length < SHORTEST_RUN:
        raise RecordingError(
            f"{given.name}: time runs from {found.lowest['time']:.9g} to {found.highest['time']:.9g} s only, while "
            f"the speed changes from {in_rpm(found.lowest['speed']):.4g} to {rpm(found.highest['speed'], '.4g')}; "
            "check the unit of the time column (days or hours?)"
        )


def _refuse_mixed_units(given: Source, sample: polars.DataFrame, *, is_change: bool) -> None:
    """Find a sensor whose gap is that of the others times a factor between units."""
    import polars as pl

    if is_change or "sensor" not in sample.columns:
        return
    typical = sample.group_by("sensor").agg(pl.col("gap").median()).sort("sensor")
    middle = float(typical["gap"].median())  # type: ignore[arg-type]
    for sensor, gap in typical.iter_rows():
        ratio = max(gap / middle, middle / gap)
        if any(abs(math.log(ratio / factor)) < 0.2 for factor in _UNIT_SLIPS):
            raise RecordingError(
                f"{given.name}: sensor {sensor} reads {mm(gap, '.4g')} where the others read "
                f"{mm(middle, '.4g')}; its unit differs from that of the column: convert all sensors to one unit"
            )


def _notes(table: Opened) -> Iterable[str]:
    """Say in sentences what is there and what is not."""
    given, found = table.given, table.found
    low, high = found.lowest, found.highest
    yield (
        f"{found.kept} of {found.rows} rows read; speed {in_rpm(low['speed']):.4g} to {rpm(high['speed'], '.4g')}, "
        f"gap {in_mm(low['gap']):.4g} to {mm(high['gap'], '.4g')}."
    )
    for name in ("sensor", "plane", "excitation"):
        words = _natural(found.words[name])
        if words:
            yield f"{len(words)} {name}{'s' * (len(words) > 1)}: {', '.join(words)}."
    if "pole" in low:
        yield f"Poles {low['pole']:.0f} to {high['pole']:.0f}."
    if "time" in low:
        yield f"Time {low['time']:.6g} to {high['time']:.6g} s."
    for text, fault in found.faults.items():
        rows = "row" if fault.count == 1 else "rows"
        yield (
            f"{fault.count} {rows} left out because {text} (first in {given.place(fault.first_row)}: {fault.value})."
        )
    if found.blank_rows:
        yield f"{found.blank_rows // given.per_row} blank lines ignored."
    if found.times_backwards:
        often = "once" if found.times_backwards == 1 else f"{found.times_backwards} times"
        yield f"Time runs backwards {often} from row to row; rows are sorted by time."
    if table.unused:
        yield f"Columns not used: {', '.join(table.unused)}."
    if "sensor" in table.columns and "angle" not in table.columns:
        yield "No sensor angles: the mean gap can be determined, eccentricity and ovality of the stator cannot."


def _natural(words: Iterable[str]) -> tuple[str, ...]:
    """Sort names so that G2 comes before G10.

    >>> _natural(["G10", "G2"])
    ('G2', 'G10')
    """

    def parts(word: str) -> list[tuple[int, str]]:
        return [(int(p), "") if p.isdigit() else (-1, p) for p in re.findall(r"\d+|\D+", word)]

    return tuple(sorted(words, key=parts))
