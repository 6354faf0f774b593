"""What could make a knee stand elsewhere, as rows for text, page and JSON."""

from __future__ import annotations

from typing import Any

import numpy as np

from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.units import in_mm, in_rpm, number

SHIFTS = (
    "what could shift this knee if it went unnoticed (apparent change of float speed and interference: + reads too "
    "high, - too low):"
)


def shift_rows(measurement: Measurement) -> list[tuple[str, str, str, str]]:
    """Cause, what is assumed of it, and the apparent shifts of float speed and interference, in words.

    Returns
    -------
    list of tuple of str
        Largest shift of the float speed first, what leaves no knee before all.
    """
    ordered = sorted(
        measurement.apparent_shifts,
        key=lambda row: -abs(row.float_speed) if np.isfinite(row.float_speed) else -np.inf,
    )
    rows = []
    for row in ordered:
        if np.isfinite(row.float_speed):
            shifts = f"{_signed(in_rpm(row.float_speed), 1)} rpm", f"{_signed(in_mm(row.interference), 2)} mm"
        else:
            shifts = "no knee is left", ""
        rows.append((row.cause, row.assumed, *shifts))
    return rows


def _signed(value: float, decimals: int) -> str:
    shown = round(value, decimals)
    return f"{shown:+.{decimals}f}" if shown else f"{0:.{decimals}f}"


def shift_table(measurement: Measurement) -> list[dict[str, Any]]:
    """The same for JSON; null where no knee is left."""
    return [
        {
            "cause": row.cause,
            "assumed": row.assumed,
            "float_speed_shift_rpm": number(row.float_speed, "speed"),
            "interference_shift_mm": number(row.interference, "length"),
        }
        for row in measurement.apparent_shifts
    ]
