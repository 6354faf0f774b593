"""What must be known of a chart to read it: marks and units of both axes, and which curve; a small TOML file."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rimmodel.evidence.chart.axes import MARK_ERROR, Mark
from rimmodel.evidence.chart.picture import ChartError
from rimmodel.rotor.regular_file import not_a_file
from rimmodel.units import KINDS, UnitError, conversion, parse_quantity

QUANTITIES = ("gap", "gap_change", "growth")
"""What the axis across the speed axis may show. Growth is radial: the gap falls as the rim grows."""

KEYS = {
    "": ("speed", *QUANTITIES, "crossings", "curve", "mark_error"),
    "axis": ("unit", "of", "marks"),
    "curve": ("colour", "from", "to", "points", "speeds", "direction"),
}
POINTS, FEWEST, MOST = 40, 8, 400
"""Speeds at which a curve is read when nothing is stated, and the fewest and most that can be asked for."""

PER_CENT = ("%", "per cent", "percent")
_BASE = {"speed": ("speed", "150 rpm", "rated speed"), "height": ("small length", "16 mm", "nominal gap")}


@dataclass(frozen=True)
class Description:
    """A chart as somebody has described it.

    Parameters
    ----------
    quantity : str
        Of `QUANTITIES`.
    mark_error : float, -
        Pixels, standard uncertainty of a mark in each direction.
    colour : str
        Of the curve.
    limits : pair of float, rad/s
        Speeds outside of which nothing is read.
    points : int
        Speeds at which the curve is read, evenly.
    speeds : tuple of float, rad/s
        Read at these instead, where there are any.
    direction : str
        "up", "down" or "".
    """

    quantity: str
    marks: tuple[Mark, ...]
    mark_error: float
    colour: str
    limits: tuple[float, float]
    points: int
    speeds: tuple[float, ...]
    direction: str

    @classmethod
    def read(cls, path: Path) -> Description:
        """Read the description of a chart from a TOML file.

        Raises
        ------
        ChartError
            Names the file, the key, the value and the rule.
        """
        import tomllib

        reason = not_a_file(path, "one TOML file that describes the chart")
        if reason:
            raise ChartError(f"{path}: no such file" if reason.endswith("no such file") else f"{path} {reason}")
        try:
            table = tomllib.loads(path.read_bytes().decode("utf-8-sig"))
        except UnicodeDecodeError as error:
            raise ChartError(f"{path} is not UTF-8 text; it must be a TOML file that describes the chart") from error
        except tomllib.TOMLDecodeError as error:
            raise ChartError(f"{path} is not TOML: {error}") from error
        return cls.of(table, str(path))

    @classmethod
    def of(cls, table: Mapping[str, Any], source: str) -> Description:
        """Check the description of a chart.

        Parameters
        ----------
        table : mapping
            Keys as in `KEYS`.
        source : str
            Where it comes from, for messages.

        Raises
        ------
        ChartError
            Names the source, the key, the value and the rule.

        >>> found = Description.of({
        ...     "speed": {"unit": "%", "of": "150 rpm", "marks": [[80, 400, 0], [580, 400, 100]]},
        ...     "gap": {"unit": "mm", "marks": [[80, 400, 14], [80, 50, 16]]},
        ...     "curve": {"colour": "red"}}, "axes.toml")
        >>> found.quantity, len(found.marks), round(found.marks[1].speed, 3)
        ('gap', 4, 15.708)
        """
        _known(table, "", f"{source}")
        named = [name for name in QUANTITIES if name in table]
        if "speed" not in table or len(named) != 1:
            raise ChartError(
                f"{source} has no axis points that can be used: give one table [speed] and one of [gap], [gap_change] "
                f"and [growth], each with a unit and marks (found: {', '.join(sorted(table)) or 'nothing'})"
            )
        speed, height = _axis(table, "speed", "speed", source), _axis(table, named[0], "height", source)
        marks = [
            *_marks(table["speed"].get("marks", []), (speed, None), f"{source}, [speed] marks"),
            *_marks(table[named[0]].get("marks", []), (None, height), f"{source}, [{named[0]}] marks"),
            *_marks(table.get("crossings", []), (speed, height), f"{source}, crossings"),
        ]
        error = table.get("mark_error", MARK_ERROR)
        if not _is_number(error) or not 0.05 <= error <= 50.0:
            raise ChartError(
                f"{source}: mark_error is {error!r}; it is the error of one mark in pixels, from 0.05 to 50"
            )
        curve = table.get("curve", {})
        _known(curve, "curve", f"{source}, [curve]")
        return cls(named[0], tuple(marks), float(error), *_curve(curve, speed, f"{source}, [curve]"))


@dataclass(frozen=True)
class _Axis:
    """Name of a table, and the factor (SI) of its values."""

    name: str
    factor: float
    unit: str


def _known(table: object, kind: str, where: str) -> None:
    if not isinstance(table, Mapping):
        raise ChartError(f"{where} is {table!r}; it must be a table with keys {', '.join(KEYS[kind])}")
    odd = [key for key in table if key not in KEYS[kind]]
    if odd:
        raise ChartError(f"{where}: key {odd[0]!r} is not known; the keys are {', '.join(KEYS[kind])}")


def _axis(table: Mapping[str, Any], name: str, side: str, source: str) -> _Axis:
    """Factor of the values of an axis; per cent only with what it is of."""
    where, given = f"{source}, [{name}]", table[name]
    _known(given, "axis", where)
    kind, example, base = _BASE[side]
    unit, of = given.get("unit"), given.get("of")
    plain = KINDS[kind].example.split(" ", 1)[1]
    if not isinstance(unit, str) or not unit.strip():
        raise ChartError(
            f"{where} has no unit, and a number without one cannot be read; write unit = {plain!r}, or unit = '%' with "
            f"of = {example!r}"
        )
    if unit.strip().lower() in PER_CENT:
        if of is None:
            raise ChartError(f"{where} is in per cent; state the {base} that it is of, such as of = {example!r}")
        try:
            whole = parse_quantity(of, kind)
        except UnitError as error:
            raise ChartError(f"{where} of: {error}") from error
        if not whole > 0.0:
            raise ChartError(f"{where} of is {of!r}; the {base} must be above zero")
        return _Axis(name, whole / 100.0, "%")
    if of is not None:
        raise ChartError(f"{where} has of = {of!r}, which belongs to an axis in per cent, but its unit is {unit!r}")
    try:
        return _Axis(name, conversion(unit, kind)[0], unit)
    except UnitError as error:
        raise ChartError(f"{where} unit: {error}") from error


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _marks(rows: object, axes: tuple[_Axis | None, _Axis | None], where: str) -> list[Mark]:
    count = 2 + sum(axis is not None for axis in axes)
    form = "[pixels from the left, from the top, " + ", ".join(axis.name for axis in axes if axis) + "]"
    if not isinstance(rows, list):
        raise ChartError(f"{where} is {rows!r}; it must be a list of {form}")
    found = []
    for number, row in enumerate(rows, start=1):
        if not isinstance(row, list) or len(row) != count or not all(_is_number(value) for value in row):
            raise ChartError(f"{where}, mark {number} is {row!r}; a mark is {form}, {count} numbers")
        column, line, *values = (float(value) for value in row)
        words = " and ".join(
            f"{value:g} {axis.unit}" for value, axis in zip(values, (axis for axis in axes if axis), strict=True)
        )
        left = iter(values)
        speed, height = (None if axis is None else next(left) * axis.factor for axis in axes)
        found.append(Mark(column, line, speed, height, f"{words} at pixel ({column:g}, {line:g})"))
    return found


def _curve(
    curve: Mapping[str, Any], speed: _Axis, where: str
) -> tuple[str, tuple[float, float], int, tuple[float, ...], str]:
    """Colour, limits, points, speeds and direction of a curve."""
    colour = curve.get("colour", "darkest")
    if not isinstance(colour, str):
        raise ChartError(f"{where}: colour is {colour!r}; write text such as '#d62728', or 'darkest'")
    for key in ("from", "to"):
        if key in curve and not _is_number(curve[key]):
            raise ChartError(f"{where}: {key} is {curve[key]!r}; write a number in the unit of the speed axis")
    low, high = curve.get("from", -math.inf) * speed.factor, curve.get("to", math.inf) * speed.factor
    if not low < high:
        raise ChartError(f"{where}: from is {curve['from']:g} and to is {curve['to']:g}; from must be below to")
    points, speeds = curve.get("points", POINTS), curve.get("speeds", [])
    if not isinstance(points, int) or isinstance(points, bool) or not FEWEST <= points <= MOST:
        raise ChartError(f"{where}: points is {points!r}; it must be a whole number from {FEWEST} to {MOST}")
    if not isinstance(speeds, list) or not all(_is_number(value) for value in speeds):
        raise ChartError(f"{where}: speeds is {speeds!r}; write a list of numbers in the unit of the speed axis")
    direction = curve.get("direction", "")
    if direction not in ("", "up", "down"):
        raise ChartError(f"{where}: direction is {direction!r}; it is 'up' or 'down'")
    return colour, (low, high), points, tuple(sorted({value * speed.factor for value in speeds})), direction
