"""Numbers of a column in SI: signals of sensors by their calibration, speeds in hertz or per cent by the machine."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.recording.delimited import RecordingError, shown
from rimmodel.evidence.tables.columns import GAPS, WHERE, Column, line_to_state, no_unit, scale_of
from rimmodel.evidence.tables.unit_words import SIZE, Unit, unit_named
from rimmodel.units import UnitError, conversion, mm, rpm

_GAIN = re.compile(r"\s*([+-]?\d+(?:\.\d*)?(?:[eE][+-]?\d+)?)\s*(.*?)\s*(?:/\s*([A-Za-z]+)\s*)?")
_SIGNALS = ("voltage", "current")
SLOWEST, FASTEST = 0.2, 2.5
"""Shares of rated speed between which the highest speed of a run lies: runaway is below 2.5, and nothing is seen
below 0.2."""


@dataclass(frozen=True)
class Machine:
    """What is known of the machine that helps to understand a table.

    Parameters
    ----------
    rated_speed : float or None, rad/s
    first_pole_angle : float, rad
        Of pole 1 in the turning frame.
    numbering : str
        "with rotation" or "against rotation".
    """

    rated_speed: float | None = None
    pole_count: int | None = None
    first_pole_angle: float = 0.0
    numbering: str = "with rotation"


def in_si(source: str, column: Column, values: Floats, machine: Machine) -> tuple[Floats, str]:
    """Numbers of one column in SI, and what was guessed.

    Parameters
    ----------
    source : str
        Name of the recording, for messages.
    column : Column
        With its unit.
    values : float array (row,), unit of value
        As written; nan where there is none.

    Returns
    -------
    tuple of (float array (row,), str), SI

    Raises
    ------
    RecordingError
        No unit, a signal without calibration, or a unit that needs what is not known of the machine.
    """
    unit = unit_named(column.unit)
    if column.meaning == "speed" and unit is not None and unit.kind in ("share", "frequency") and unit.name != "1/s":
        return _speed(source, column, values, unit, machine)
    if not column.unit and column.meaning in ("speed", *GAPS):
        kind = "speed" if column.meaning == "speed" else "small length"
        known = values[np.isfinite(values)]
        low, high = (float(known.min()), float(known.max())) if known.size else (None, None)
        raise RecordingError(no_unit(source, column, kind, low, high))
    scale, offset = scale_of(source, column)
    calibrated = column.gain is not None or column.offset is not None or column.table is not None
    if unit is not None and unit.kind in _SIGNALS and not calibrated:
        raise RecordingError(
            f"{source}: column {shown(column.head)} is a signal in {unit.name}; state how it becomes a gap: "
            f"{line_to_state(column.head, unit=unit.name, gain=f'2.5 mm/{unit.name}', offset='0 mm')}, or "
            f'table = [["4 {unit.name}", "5 mm"], ["20 {unit.name}", "25 mm"]], {WHERE}'
        )
    if calibrated and column.meaning not in GAPS:
        raise RecordingError(f"{source}: column {shown(column.head)} is no gap, so it has no gain, offset or table")
    signal = values * scale + offset
    if not calibrated:
        return signal, ""
    if column.table is not None:
        if column.gain is not None or column.offset is not None:
            raise RecordingError(f"{source}: column {shown(column.head)}: state gain and offset, or a table, not both")
        return _by_table(source, column, signal, unit)
    gain, words = _gain(source, column, unit)
    level = 0.0 if column.offset is None else _length(source, column, "offset", column.offset)
    return signal * gain + level, f"gap = {words} x reading + {mm(level, '.6g')}"


def _speed(source: str, column: Column, values: Floats, unit: Unit, machine: Machine) -> tuple[Floats, str]:
    """Speeds in per cent of rated speed, or in hertz."""
    rated = machine.rated_speed
    head = f"{source}: column {shown(column.head)}"
    if unit.kind == "share":
        if rated is None:
            raise RecordingError(
                f"{head} is a share of rated speed, which is not known here; give rated_speed, or write the "
                "speed in rpm"
            )
        return values * rated * (0.01 if unit.name.startswith("%") else 1.0), f"of rated speed, {rpm(rated, '.6g')}"
    turns = 2.0 * np.pi
    grid = None if machine.pole_count is None else 2.0 * turns / machine.pole_count
    if unit.name == "Hz of the grid":
        if grid is None:
            raise RecordingError(f"{head} is the frequency of the grid; give pole_count, or write the speed in rpm")
        return values * grid, f"frequency of the grid with {machine.pole_count} poles"
    known = values[np.isfinite(values)]
    highest = float(known.max()) if known.size else 0.0
    fits = {}
    if rated is not None and grid is not None:
        for name, scale in (("turns per second", turns), ("frequency of the grid", grid)):
            if SLOWEST * rated <= highest * scale <= FASTEST * rated:
                fits[name] = scale
    if len(fits) == 1:
        name, scale = next(iter(fits.items()))
        return values * scale, f"guess: Hz is the {name}, as the other reading is out of the range of the machine"
    other = "" if grid is None else f", or {rpm(highest * grid, '.5g')} as frequency of the grid"
    stated = line_to_state(column.head, meaning="speed", unit="rps")
    raise RecordingError(
        f"{head}: {highest:.5g} Hz is {rpm(highest * turns, '.5g')} as turns per second{other}; write it in 'rpm' or "
        f"'rad/s', or state {stated} or unit = \"Hz of the grid\" {WHERE}"
    )


def _gain(source: str, column: Column, unit: Unit | None) -> tuple[float, str]:
    """Gap (m) for one SI unit of the reading, and the gain in words."""
    text = column.gain
    signal = unit is not None and unit.kind in _SIGNALS
    if text is None:
        if signal:
            raise RecordingError(
                f"{source}: column {shown(column.head)}: an offset alone does not turn {column.unit} into a gap; state "
                f"its gain, such as '2.5 mm/{column.unit}'"
            )
        return 1.0, "1"
    match = _GAIN.fullmatch(text)
    try:
        if match is None:
            raise UnitError("it is no number with a unit")
        number, length, per = float(match[1]), match[2], match[3]
        if number == 0.0:
            raise UnitError("it is zero")
        if not signal:
            if length or per:
                raise UnitError(f"the column is in {column.unit}, so its gain is a bare number in quotes")
            return number, f"{number:g}"
        if not per:
            raise UnitError(f"it must be a length for one {unit.name if unit else ''}")
        assert unit is not None
        return number * conversion(length, "small length")[0] / conversion(per, unit.kind)[0], text.strip()
    except UnitError as error:
        example = f"2.5 mm/{unit.name}" if signal and unit is not None else "1.02"
        raise RecordingError(
            f"{source}: column {shown(column.head)}: gain is stated as {text!r}: {error}; write for example {example!r}"
        ) from error


def _length(source: str, column: Column, key: str, text: str) -> float:
    return _quantity(source, column, key, text, "small length")


def _quantity(source: str, column: Column, key: str, text: str, kind: str) -> float:
    match = _GAIN.fullmatch(text)
    try:
        if match is None or match[3]:
            raise UnitError("it is not one number with one unit")
        if match[2] in SIZE and kind == "small length":
            return float(match[1]) * SIZE[match[2]]
        scale, zero = conversion(match[2], kind)
        return float(match[1]) * scale + zero
    except UnitError as error:
        raise RecordingError(
            f"{source}: column {shown(column.head)}: {key} is stated as {text!r}: {error}; write a number with a unit"
        ) from error


def _by_table(source: str, column: Column, signal: Floats, unit: Unit | None) -> tuple[Floats, str]:
    """Lines between the rows of a table of calibration; nan outside, where nothing is known."""
    rows = column.table or ()
    kind = unit.kind if unit is not None and unit.kind in _SIGNALS else "small length"
    places = np.array([_quantity(source, column, "table", row[0], kind) for row in rows])
    gaps = np.array([_length(source, column, "table", row[1]) for row in rows])
    if places.size < 2 or not (np.all(np.diff(places) > 0.0) or np.all(np.diff(places) < 0.0)):
        raise RecordingError(
            f"{source}: column {shown(column.head)}: its table has readings that do not rise from row to row; write at "
            "least two rows in the order of the readings"
        )
    if places[0] > places[-1]:
        places, gaps = places[::-1], gaps[::-1]
    found: Floats = np.interp(signal, places, gaps, left=np.nan, right=np.nan)
    outside = int(np.count_nonzero(np.isnan(found) & np.isfinite(signal)))
    beyond = f", {outside} readings outside of it count as missing" if outside else ""
    return np.where(np.isfinite(signal), found, np.nan), f"gap from a table of {len(rows)} rows{beyond}"
