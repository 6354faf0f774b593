"""What recordings show, as plain tables for JSON and as text: units in the names, null where there is no number."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from typing import Any

import numpy as np

from rimmodel.evidence.compare import Comparison
from rimmodel.evidence.knee import Knee
from rimmodel.evidence.measure import Measurement, best_or_none, describe
from rimmodel.review.quantities import interval_text, text
from rimmodel.units import MILLIMETRE, RPM

WIDTH = 100
_LENGTH, _SPEED = "residual_interference_at_standstill", "float_speed"


def number(value: float | None) -> float | None:
    """A float for JSON: None for what is not a finite number.

    Parameters
    ----------
    value : float or None, unit of value

    Returns
    -------
    float or None, unit of value
    """
    return None if value is None or not math.isfinite(value) else float(value)


def interval_table(interval: tuple[float, float], size: float) -> list[float | None]:
    """Both ends of an interval in units of print, None on an open side.

    Parameters
    ----------
    interval : pair of float, SI
    size : float, SI
        Of the unit of print.

    Returns
    -------
    list of float or None, unit of print
    """
    return [number(bound / size) for bound in interval]


def fit_table(measurement: Measurement) -> dict[str, Any]:
    """Float speed, interference and stiffness with intervals, of all points and of each way."""
    fit = measurement.fits[""]
    return {
        "label": measurement.label,
        "file": measurement.source,
        "condition": measurement.condition,
        **_result(measurement, ""),
        "hoop_stiffness_factor": number(fit.hoop_stiffness_factor),
        "hoop_stiffness_factor_interval": interval_table(fit.hoop_stiffness_factor_interval, 1.0),
        "confidence": measurement.confidence,
        "noise_mm": number(fit.sigma / MILLIMETRE),
        "speed_points": int(measurement.knees[""].used.sum()),
        "reasons": list(measurement.reasons),
        "notes": list(measurement.notes),
        "directions": {way: _result(measurement, way) for way in ("up", "down") if way in measurement.fits},
        "planes": {plane: _knee_table(knee) for plane, knee in measurement.planes.items()},
        "float_speed_by_condition": {
            name: {
                "float_speed_rpm": number(
                    best_or_none(measurement.knees[""], speed, fit.float_speed_interval[name]) / RPM
                ),
                "float_speed_interval_rpm": _speed_interval(fit.float_speed_interval[name]),
            }
            for name, speed in fit.float_speed.items()
            if name
        },
        "parameters": list(fit.parameters),
        "correlation": [[float(value) for value in row] for row in np.nan_to_num(fit.correlation)],
    }


def _speed_interval(interval: tuple[float, float]) -> list[float | None]:
    low, high = interval
    return [None if low == 0 else number(low / RPM), number(high / RPM)]


def _knee_table(knee: Knee) -> dict[str, Any]:
    low, high = np.sqrt(np.maximum(knee.interval, 0.0))
    resolved = knee.verdict == "resolved"
    return {
        "verdict": knee.verdict,
        "float_speed_rpm": number(math.sqrt(knee.position) / RPM) if resolved else None,
        "float_speed_interval_rpm": _speed_interval((float(low), float(high))),
    }


def _result(measurement: Measurement, way: str) -> dict[str, Any]:
    knee, fit = measurement.knees[way], measurement.fits[way]
    speed, interval = fit.float_speed[""], fit.float_speed_interval[""]
    return {
        "verdict": knee.verdict,
        "float_speed_rpm": number(best_or_none(knee, speed, interval) / RPM),
        "float_speed_interval_rpm": _speed_interval(interval),
        "interference_mm": number(best_or_none(knee, fit.interference, fit.interference_interval) / MILLIMETRE),
        "interference_interval_mm": interval_table(fit.interference_interval, MILLIMETRE),
    }


def comparison_table(row: Comparison) -> dict[str, Any]:
    """Change from one recording to the next."""
    gaps = row.gaps
    return {
        "before": row.before,
        "after": row.after,
        "float_speed_change_rpm": number(row.float_speed_change / RPM),
        "float_speed_change_interval_rpm": interval_table(row.float_speed_change_interval, RPM),
        "interference_change_mm": number(row.interference_change / MILLIMETRE),
        "interference_change_interval_mm": interval_table(row.interference_change_interval, MILLIMETRE),
        "expected_change_mm": None if row.expected is None else number(row.expected / MILLIMETRE),
        "verdict": row.verdict,
        "note": row.note,
        "speed_rpm": [float(value / RPM) for value in gaps.speed],
        "mean_gap_before_mm": [number(value / MILLIMETRE) for value in gaps.mean_before],
        "mean_gap_after_mm": [number(value / MILLIMETRE) for value in gaps.mean_after],
        "least_gap_before_mm": [number(value / MILLIMETRE) for value in gaps.least_before],
        "least_gap_after_mm": [number(value / MILLIMETRE) for value in gaps.least_after],
    }


def fit_text(measurements: Sequence[Measurement], comparisons: Sequence[Comparison]) -> str:
    """The same for a terminal."""
    lines: list[str] = []
    for measurement in measurements:
        fit = measurement.fits[""]
        lines += [f"{measurement.label} ({measurement.condition}): {measurement.verdict.upper()}"]
        lines += textwrap.wrap(
            f"The rim {describe(measurement)}.", WIDTH, initial_indent="    ", subsequent_indent="    "
        )
        for way in ("up", "down"):
            if way in measurement.knees:
                lines.append(f"    {'run-up' if way == 'up' else 'run-down':24}{knee_text(measurement.knees[way])}")
        lines += [f"    {f'plane {plane}':24}{knee_text(knee)}" for plane, knee in measurement.planes.items()]
        best = text(_LENGTH, measurement.interference)
        lines.append(
            f"    {'effective interference':24}{best} ({interval_text(_LENGTH, measurement.interference_interval)})"
        )
        low, high = fit.hoop_stiffness_factor_interval
        lines.append(f"    {'hoop stiffness factor':24}{fit.hoop_stiffness_factor:.3f} ({low:.3f} to {high:.3f})")
        for name, speed in fit.float_speed.items():
            if name:
                interval = fit.float_speed_interval[name]
                known = best_or_none(measurement.knees[""], speed, interval)
                lines.append(
                    f"    {f'float speed, {name}':24}{text(_SPEED, known)} ({interval_text(_SPEED, interval)})"
                )
        for reason in measurement.reasons:
            lines += textwrap.wrap(f"- {reason}", WIDTH, initial_indent="    ", subsequent_indent="      ")
        lines.append("")
    for row in comparisons:
        lines += [*textwrap.wrap(comparison_text(row), WIDTH), ""]
    return "\n".join(lines).rstrip()


def knee_text(knee: Knee) -> str:
    """Verdict of one way with its knee."""
    if knee.verdict != "resolved":
        return knee.verdict
    low, high = np.sqrt(np.maximum(knee.interval, 0.0))
    return f"{text(_SPEED, float(np.sqrt(knee.position)))} ({interval_text(_SPEED, (float(low), float(high)))})"


def comparison_text(row: Comparison) -> str:
    """One sentence on a change."""
    interval = interval_text(_LENGTH, row.interference_change_interval)
    said = f"From '{row.before}' to '{row.after}' the interference changed by "
    said += f"{text(_LENGTH, row.interference_change)} ({interval})"
    if np.isfinite(row.float_speed_change):
        said += f", the float speed by {text(_SPEED, row.float_speed_change)} "
        said += f"({interval_text(_SPEED, row.float_speed_change_interval)})"
    if row.expected is not None:
        ends = {
            "as expected": "as the shims should have given",
            "not as expected": "not what the shims should have given",
            "not shown": "too uncertain to show any change",
            "no expectation": "",
        }[row.verdict]
        said += f"; expected {text(_LENGTH, row.expected)}: {ends}"
    return said + (f". {row.note[:1].upper()}{row.note[1:]}." if row.note else ".")
