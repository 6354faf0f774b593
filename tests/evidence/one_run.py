"""One invented run and the many ways in which loggers, spreadsheets and people store it.

Six sensors in two planes, seven speeds with three rows each, gaps in whole hundredths of a millimetre so that every
unit that is used stores them to the last digit. Every format is built by code from the same truth.
"""

from __future__ import annotations

import datetime
import io
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl

RATED, POLES = 125.0, 48
"""rpm, and number of poles, of the invented machine."""

LEVELS = (25.0, 50.0, 75.0, 100.0, 125.0, 150.0, 175.0)
ROWS_EACH, STEP = 4, 30.0
SENSORS = ("G1", "G2", "G3", "G4", "G5", "G6")
PLANES = ("upper", "upper", "upper", "lower", "lower", "lower")
ANGLES = (0.0, 120.0, 240.0, 0.0, 120.0, 240.0)
START = datetime.datetime(2026, 11, 25, 23, 50, 30)
"""The run passes midnight."""


def truth() -> tuple[list[float], list[float], list[list[float]]]:
    """Times in s, speeds in rpm, and gaps in mm by row and sensor."""
    speeds = [level for level in LEVELS for _ in range(ROWS_EACH)]
    times = [STEP * row for row in range(len(speeds))]
    gaps = []
    for row, speed in enumerate(speeds):
        mean = 16.0 - 0.6 * (speed / 125.0) ** 2 - (0.5 if speed > 125.0 else 0.0) * ((speed / 125.0) ** 2 - 1.0)
        gaps.append([round(mean + 0.2 * np.cos(np.radians(a)) + 0.01 * ((row * 7 + 3 * i) % 5 - 2), 2)
                     for i, a in enumerate(ANGLES)])  # fmt: skip
    return times, speeds, gaps


TIMES, SPEEDS, GAPS = truth()


@dataclass(frozen=True)
class Format:
    """One way of storing the run.

    Attributes
    ----------
    make : callable
        Content of the file, or a frame.
    remedy : tuple of str
        Words of the refusal; read where empty.
    columns : str
        Text of the file for --columns, empty where none is needed.
    digits : float
        Largest error of a stored gap, mm.
    time : bool
        Whether times are stored.
    says : tuple of str
        Words that the notes must hold.
    """

    name: str
    make: Callable[[], Any]
    remedy: tuple[str, ...] = ()
    columns: str = ""
    digits: float = 0.0
    time: bool = True
    sensors: bool = True
    says: tuple[str, ...] = ()
    file_name: str = "run.csv"
    machine: bool = True
    angles: bool = False
    options: dict[str, Any] = field(default_factory=dict)


def number(value: float, decimals: int = 2, mark: str = ".", group: str = "") -> str:
    """A number as a logger prints it."""
    text = f"{value:,.{decimals}f}" if group else f"{value:.{decimals}f}"
    return text.replace(",", "\0").replace(".", mark).replace("\0", group)


def stamp(form: str) -> list[str]:
    """Times of the rows as dates and clock times."""
    return [(START + datetime.timedelta(seconds=t)).strftime(form) for t in TIMES]


def seconds(decimals: int = 1, scale: float = 1.0, mark: str = ".") -> list[str]:
    return [number(t * scale, decimals, mark) for t in TIMES]


def wide(
    heads: list[str],
    time: list[str] | None,
    *,
    separator: str = ",",
    mark: str = ".",
    speed: Callable[[float], str] | None = None,
    gap: Callable[[float], str] | None = None,
    above: str = "",
    below: str = "",
    under: str = "",
    end: str = "\n",
    quote: bool = False,
) -> str:
    """A table with one column for each sensor."""
    lines = [separator.join(heads)] + ([under] if under else [])
    for row, level in enumerate(SPEEDS):
        cells = [time[row]] if time else []
        cells.append(speed(level) if speed else number(level, 1, mark))
        cells += [gap(value) if gap else number(value, 2, mark) for value in GAPS[row]]
        lines.append(separator.join(f'"{cell}"' if quote else cell for cell in cells))
    return (above + "\n".join(lines) + "\n" + below).replace("\n", end)


def heads(time: str = "time [s]", speed: str = "speed [rpm]", gap: str = "{} [mm]") -> list[str]:
    """Heads of a wide table; `gap` takes name, plane and angle of the sensor."""
    named = [
        gap.format(name, plane=p, angle=f"{a:.0f}", number=i + 1)
        for i, (name, p, a) in enumerate(zip(SENSORS, PLANES, ANGLES, strict=True))
    ]
    return ([time] if time else []) + [speed, *named]


def long(
    head: str, time: list[str], *, separator: str = ",", gap: Callable[[float], str] = number, angle: bool = False
) -> str:
    """A table with one reading in each row."""
    lines = [head]
    for row, level in enumerate(SPEEDS):
        for i, name in enumerate(SENSORS):
            cells = [time[row], number(level, 1), gap(GAPS[row][i]), name, PLANES[i]]
            lines.append(separator.join(cells + ([f"{ANGLES[i]:.0f}"] if angle else [])))
    return "\n".join(lines) + "\n"


def frame(
    time: Any = None, head: str = "time [s]", gap: str = "{} [mm]", scale: float = 1.0, kind: Any = pl.Float64
) -> pl.DataFrame:
    """The wide table as a frame."""
    columns: dict[str, Any] = {head: TIMES if time is None else time, "speed [rpm]": SPEEDS}
    for i, name in enumerate(SENSORS):
        columns[gap.format(name)] = pl.Series([round(row[i] * scale, 6) for row in GAPS]).cast(kind)
    return pl.DataFrame(columns)


def parquet(table: pl.DataFrame) -> bytes:
    target = io.BytesIO()
    table.write_parquet(target)
    return target.getvalue()


def workbook(rows: list[list[Any]], title: str = "Run") -> bytes:
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = title
    for row in rows:
        sheet.append(row)
    target = io.BytesIO()
    book.save(target)
    return target.getvalue()


def sheet_rows(time: list[Any], head: list[str]) -> list[list[Any]]:
    return [head] + [[time[row], SPEEDS[row], *GAPS[row]] for row in range(len(SPEEDS))]


def write(folder: Path, form: Format) -> Any:
    """The source of a format: a file, or a frame."""
    made = form.make()
    if not isinstance(made, bytes):
        return made
    path = folder / form.file_name
    path.write_bytes(made)
    return path
