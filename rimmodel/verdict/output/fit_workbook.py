"""A fit as a workbook: results, speed points with what the fit leaves, remarks."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from rimmodel.evidence.backfit.fit import ALL_POINTS
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.units import in_mm, in_rpm
from rimmodel.verdict.output.fit import fit_table
from rimmodel.verdict.output.workbook import Table, about, workbook_bytes

RESULTS = (
    "label", "file", "condition", "verdict", "float_speed_rpm", "float_speed_interval_rpm", "interference_mm",
    "interference_interval_mm", "hoop_stiffness_factor", "hoop_stiffness_factor_interval", "lift_off_in_run_rpm",
    "lift_off_in_run_interval_rpm", "confidence", "noise_mm", "speed_points",
)  # fmt: skip
"""Results of a fit that stand in the workbook; an interval has a column for each of its ends."""

POINTS = (
    "record", "direction", "plane", "speed_rpm", "gap_mm", "standard_error_mm", "readings", "steady", "used in fit",
    "measured_less_fitted_gap_mm",
)  # fmt: skip


def workbook(title: str, measurements: Sequence[Measurement]) -> bytes:
    """What recordings show, the speed points that it was found from with what the fit leaves, and the reasons."""
    tables = [fit_table(one) for one in measurements]
    head: list[str] = []
    for name in RESULTS:
        head += [f"{name}_low", f"{name}_high"] if "_interval" in name else [name]
    rows = []
    for table in tables:
        row: list[object] = []
        for name in RESULTS:
            row += list(table[name]) if "_interval" in name else [table[name]]
        rows.append(row)
    words = [
        (table["label"], kind, text)
        for table in tables
        for kind in ("disqualified", "reasons", "notes")
        for text in table[kind]
    ]
    return workbook_bytes(
        {
            "results": Table(head, rows),
            "speed points": Table(POINTS, [row for one in measurements for row in _point_rows(one)]),
            "remarks": Table(("record", "kind", "text"), words),
            "about": about(title),
        }
    )


def _point_rows(measurement: Measurement) -> list[list[object]]:
    points, used = measurement.points, measurement.knees[ALL_POINTS].used
    left = np.full(points.speed.size, np.nan)
    left[used] = in_mm(measurement.fits[ALL_POINTS].residual)
    speed, gap, error = in_rpm(points.speed), in_mm(points.gap), in_mm(points.standard_error)
    return [
        [
            measurement.label, str(points.direction[i]), str(points.plane[i]), speed[i], gap[i], error[i],
            int(points.count[i]), bool(points.steady[i]), bool(used[i]), left[i],
        ]
        for i in range(points.speed.size)
    ]  # fmt: skip
