"""One sweep as asked for on the command line: its speeds, and its columns in units of print."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.behaviour import float_speed, sweep
from rimmodel.behaviour.contact.asked import BEYOND_NAMED
from rimmodel.rotor import Condition
from rimmodel.rotor.case.case import Case
from rimmodel.units import KINDS, RPM, in_rpm
from rimmodel.verdict.output.files import OutputError, csv_text
from rimmodel.verdict.output.tables import float_speed_entry, sweep_table
from rimmodel.verdict.output.workbook import MOST_ROWS, Table, about, workbook_bytes

MOST_POINTS = 1_000_000

HIGHEST = KINDS["speed"].highest
"""No machine of this kind turns faster, rad/s."""


def speed_range(case: Case, start_rpm: float, end_rpm: float | None, points: int) -> Floats:
    """Evenly spaced speeds, up to the highest speed of the case when no end is given.

    Parameters
    ----------
    start_rpm : float, rpm
    end_rpm : float or None, rpm

    Returns
    -------
    array (points,), rad/s

    Raises
    ------
    ValueError
        A speed below zero, not finite or beyond any machine, an end below the start, or a number of points that
        makes no sweep.
    """
    highest = in_rpm(float(case.rotor.speeds.highest))
    end = highest if end_rpm is None else end_rpm
    most = min(in_rpm(HIGHEST), BEYOND_NAMED * highest)
    for name, speed in (("--from", start_rpm), ("--to", end)):
        if not 0 <= speed <= most:
            raise ValueError(
                f"{name} is {speed:g} rpm; it must be a number from 0 to {most:.5g} rpm, "
                f"{BEYOND_NAMED:g} x the highest named speed"
            )
    if end < start_rpm:
        raise ValueError(f"--to is {end:g} rpm, below --from {start_rpm:g} rpm; give them in rising order")
    if not 1 <= points <= MOST_POINTS:
        raise ValueError(f"--points is {points}; it must be 1 to {MOST_POINTS}")
    return np.linspace(start_rpm, end, points) * RPM


def table(case: Case, name: str, condition: Condition, speed: Floats) -> dict[str, Any]:
    """Condition, float speed in words and number, and the columns of the sweep.

    Parameters
    ----------
    speed : array (speed,), rad/s
    """
    return {
        "condition": name,
        **float_speed_entry(float_speed(case.rotor, condition)),
        **sweep_table(sweep(case.rotor, condition, speed)),
    }


def csv(columns: Mapping[str, Sequence[float | None]]) -> str:
    """Columns as CSV, nine significant digits; an empty cell where there is no number.

    Parameters
    ----------
    columns : mapping of str to sequence of float, unit of the name
    """
    rows = zip(*columns.values(), strict=True)
    return csv_text(list(columns), [["" if value is None else float(f"{value:.9g}") for value in row] for row in rows])


def text(columns: Mapping[str, Sequence[float | None]]) -> str:
    """Columns as aligned text, four significant digits or so; a dash where there is no number.

    Parameters
    ----------
    columns : mapping of str to sequence of float, unit of the name
    """
    cells = {
        name: ["-" if value is None else f"{value:.4g}" if abs(value) < 1000 else f"{value:.1f}" for value in values]
        for name, values in columns.items()
    }
    widths = {name: max(len(name), *(len(value) for value in values)) for name, values in cells.items()}
    lines = ["  ".join(f"{name:>{widths[name]}}" for name in cells)]
    for row in zip(*cells.values(), strict=True):
        lines.append("  ".join(f"{value:>{width}}" for value, width in zip(row, widths.values(), strict=True)))
    return "\n".join(lines)


def workbook(title: str, shown: Mapping[str, Any]) -> bytes:
    """A sweep as the command prints it for JSON: its columns on a sheet, what it is of on another.

    Raises
    ------
    OutputError
        More speeds than a workbook takes.
    """
    columns = {name: values for name, values in shown.items() if isinstance(values, list)}
    points = len(next(iter(columns.values())))
    if points > MOST_ROWS:
        raise OutputError(f"a workbook takes {MOST_ROWS} speeds, not {points}; write them as CSV, or ask for fewer")
    rest = {name: value for name, value in shown.items() if name not in columns}
    rows = zip(*columns.values(), strict=True)
    return workbook_bytes({"sweep": Table(list(columns), rows), "about": about(title, **rest)})
