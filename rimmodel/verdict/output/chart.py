"""A chart that was read off, as a recording, as JSON and in words."""

from __future__ import annotations

from typing import Any

import numpy as np

from rimmodel.evidence.chart.read_off import ChartReading
from rimmodel.units import in_mm, in_rpm, mm, rpm
from rimmodel.version import VERSION


def chart_columns(found: ChartReading) -> dict[str, list[Any]]:
    """Columns of the recording with their headers: points, own error, and what each error of the axes does to them."""
    columns: dict[str, list[Any]] = {
        "speed [rpm]": _digits(in_rpm(found.speed)),
        f"{found.quantity} [mm]": _digits(in_mm(found.gap)),
        "gap_error [mm]": _digits(in_mm(found.gap_error), 3),
    }
    if found.direction:
        columns["direction"] = [found.direction] * len(found.speed)
    for of_speed, speed_errors, of_gap, gap_errors in found.axis_columns:
        columns[f"{of_speed} [rpm]"] = _digits(in_rpm(speed_errors), 4)
        columns[f"{of_gap} [mm]"] = _digits(in_mm(gap_errors), 4)
    return columns


def _digits(values: np.ndarray[Any, np.dtype[np.float64]], digits: int = 7) -> list[float]:
    return [float(f"{value:.{digits}g}") for value in values]


def csv(found: ChartReading) -> str:
    """The recording as CSV, with comment lines that say where it comes from."""
    from rimmodel.verdict.output.files import csv_text

    columns = chart_columns(found)
    said = [f"read off {found.source}, curve {found.colour}, by rimmodel {VERSION}", *found.notes, AXES]
    head = "".join(f"# {' '.join(line.split())}\n" for line in said)
    return head + csv_text(list(columns), [list(row) for row in zip(*columns.values(), strict=True)])


AXES = (
    "axis_speed and axis_gap: what one standard uncertainty of each independent error of the axes does to a point; all "
    "points share them, so keep the columns"
)


def table(found: ChartReading) -> dict[str, Any]:
    """The same for JSON."""
    return {
        "file": found.source,
        "quantity": found.quantity,
        "colour": found.colour,
        "mark_error_pixels": found.axes.mark_error,
        "points": chart_columns(found),
        "notes": list(found.notes),
    }


def text(found: ChartReading) -> str:
    """The errors in words, for the terminal."""
    speed, gap = (np.sqrt(np.sum(errors**2, axis=1)) for errors in (found.axis_speed, found.axis_gap))
    lines = [
        *found.notes,
        f"standard uncertainty of one point: own {mm(float(np.median(found.gap_error)), '.2g')}; from the axes, shared "
        f"by all, up to {rpm(float(speed.max()), '.2g')} and {mm(float(gap.max()), '.2g')}",
    ]
    return "\n".join(lines)
