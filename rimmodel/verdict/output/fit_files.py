"""A fit as files: speed points, sensors and what was left out as CSV, everything as JSON, the figures as SVG."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from rimmodel.behaviour import sweep
from rimmodel.evidence.backfit.fit import ALL_POINTS, gap_band
from rimmodel.evidence.measured.compare import Comparison
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.evidence.reduction.speed_points import SpeedPoints
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.requirements import CaseRecord
from rimmodel.units import in_print, number
from rimmodel.verdict.beside import Beside
from rimmodel.verdict.output import basis, fit
from rimmodel.verdict.output.drawer import Drawer
from rimmodel.verdict.output.files import csv_text, write_files
from rimmodel.verdict.output.fit_figures import fit_drawings
from rimmodel.verdict.record_checks import open_record
from rimmodel.verdict.records import files_of, input_files, shapes_of

FILES = ("fit.json", "points.csv", "sensors.csv", "left_out.csv")
"""What a fit writes into its folder beside the figures."""

POINTS = (
    "plane", "direction", "speed_rpm", "gap_mm", "standard_error_mm", "least_gap_mm", "readings", "outliers",
    "time_s", "steady", "used_in_fit", "fitted_gap_mm", "measured_less_fitted_mm", "predicted_gap_mm",
)  # fmt: skip
"""Columns of the speed points of a record; a plane without a name is all planes together."""

SENSORS = (
    "sensor", "plane", "angle_deg", "direction", "speed_rpm", "gap_mm", "readings", "outliers", "in_mean",
)  # fmt: skip

FIGURES = 9
"""Digits of a number in the CSV."""

LEFT_OUT = ("what", "name", "count", "reason")


def write(
    case: Case,
    records: Sequence[CaseRecord] | None,
    measurements: Sequence[Measurement],
    comparisons: Sequence[Comparison],
    directory: Path,
    *,
    overwrite: bool = False,
    beside: Beside | None = None,
) -> list[Path]:
    """Write ``fit.json``, ``points.csv``, ``sensors.csv``, ``left_out.csv`` and ``figures/*.svg`` under a directory.

    Parameters
    ----------
    records : sequence of CaseRecord or None
        That the measurements were made from, paths as they are; those of the case when None.
    measurements : sequence of Measurement
        In the order of the records.

    Raises
    ------
    OutputError
        Any of them exists and `overwrite` is not set, or the place cannot be written; nothing is written then.
    """
    shapes = [shapes_of(case, open_record(case, record, path)) for record, path in files_of(case, records)]
    drawn = Drawer(beside)
    drawn.add(fit_drawings(case, measurements, shapes))
    table = full_table(case, measurements, comparisons)
    files: dict[Path, str | bytes] = {
        directory / "fit.json": json.dumps(table, indent=2, ensure_ascii=False, allow_nan=False) + "\n",
        directory / "points.csv": _csv(table, "points", POINTS),
        directory / "sensors.csv": _csv(table, "sensors", SENSORS),
        directory / "left_out.csv": _csv(table, "left_out", LEFT_OUT),
        **{directory / "figures" / f"{name}.svg": svg for name, svg in drawn.figures().items()},
    }
    return write_files(files, overwrite=overwrite, inputs=input_files(case, records))


def full_table(case: Case, measurements: Sequence[Measurement], comparisons: Sequence[Comparison]) -> dict[str, Any]:
    """That with every speed point and sensor, as ``fit.json`` holds it."""
    table = fit.table(case.title, measurements, comparisons, basis.along_note(case))
    for record, measurement in zip(table["records"], measurements, strict=True):
        record["points"] = point_rows(case, measurement)
        record["sensors"] = sensor_rows(measurement)
    return table


def _csv(table: Mapping[str, Any], name: str, columns: Sequence[str]) -> str:
    """The rows of one kind of all records, under their labels; an empty cell where there is no number."""
    rows = [
        [record["label"], *(_cell(row[column]) for column in columns)]
        for record in table["records"]
        for row in record[name]
    ]
    return csv_text(("record", *columns), rows)


def _cell(value: object) -> object:
    if isinstance(value, float):
        return float(f"{value:.{FIGURES}g}")
    return "" if value is None else ("yes" if value else "no") if isinstance(value, bool) else value


def point_rows(case: Case, measurement: Measurement) -> list[dict[str, Any]]:
    """Every speed point of all planes together, then plane by plane, in units of print.

    The prediction is that of the drawing in the condition of the run; for a recording of changes of gap it is the
    change from the slowest point as well.
    """
    points, used = measurement.points, measurement.knees[ALL_POINTS].used
    fit = measurement.fits[ALL_POINTS]
    residual = np.full(points.speed.size, np.nan)
    residual[used] = fit.residual
    fitted = np.where(used, points.gap - residual, gap_band(fit, points.speed).gap)
    rows = _rows(case, measurement.condition, points)
    for at, row in enumerate(rows):
        row["used_in_fit"] = bool(used[at])
        row["fitted_gap_mm"] = number(fitted[at], "length")
        row["measured_less_fitted_mm"] = number(residual[at], "length")
    if measurement.plane_points is not None:
        rows += _rows(case, measurement.condition, measurement.plane_points)
    return rows


def _rows(case: Case, condition: str, points: SpeedPoints) -> list[dict[str, Any]]:
    predicted = sweep(case.rotor, case.conditions[condition], points.speed).air_gap
    if points.is_change:
        slowest = np.argmin(points.speed)
        predicted = predicted - predicted[slowest] + points.gap[slowest]
    return [
        dict.fromkeys(POINTS)
        | {
            "plane": str(points.plane[at]),
            "direction": str(points.direction[at]),
            "speed_rpm": number(points.speed[at], "speed"),
            "gap_mm": number(points.gap[at], "length"),
            "standard_error_mm": number(points.standard_error[at], "length"),
            "least_gap_mm": number(points.minimum[at], "length"),
            "readings": int(points.count[at]),
            "outliers": int(points.outliers[at]),
            "time_s": number(points.time[at]),
            "steady": bool(points.steady[at]),
            "predicted_gap_mm": number(predicted[at], "length"),
        }
        for at in range(points.speed.size)
    ]


def sensor_rows(measurement: Measurement) -> list[dict[str, Any]]:
    """Gap of every sensor at every speed point, those that do not enter the mean included."""
    sensors, points = measurement.sensors, measurement.points
    if sensors is None:
        return []
    return [
        {
            "sensor": sensors.sensor[unit],
            "plane": sensors.plane[unit],
            "angle_deg": number(in_print(sensors.angle[unit], "angle")) if np.isfinite(sensors.angle[unit]) else None,
            "direction": str(points.direction[at]),
            "speed_rpm": number(points.speed[at], "speed"),
            "gap_mm": number(sensors.gap[at, unit], "length"),
            "readings": int(sensors.count[at, unit]),
            "outliers": int(sensors.outliers[at, unit]),
            "in_mean": bool(sensors.usable[unit]),
        }
        for unit in range(len(sensors.sensor))
        for at in range(points.speed.size)
    ]
