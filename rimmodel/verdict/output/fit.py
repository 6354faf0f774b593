"""What recordings show, as plain tables for JSON and as text: units in the names, null where there is no number."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from typing import Any

import numpy as np

from rimmodel.arrays import Interval
from rimmodel.behaviour.quantities import interval_text, quantity_text
from rimmodel.evidence.backfit.fit import ALL_POINTS, OWN_CONDITION
from rimmodel.evidence.knee.fit import Knee
from rimmodel.evidence.measured.compare import Comparison
from rimmodel.evidence.measured.left_out import left_out
from rimmodel.evidence.measured.level import level_text
from rimmodel.evidence.measured.lost_since import lost_words
from rimmodel.evidence.measured.machine import ByTest, Level
from rimmodel.evidence.measured.measurement import (
    Measurement,
    best_or_none,
    describe,
    float_speed_found,
    turning_difference,
)
from rimmodel.evidence.pooling.runs import pooled_runs
from rimmodel.units import in_mm, in_rpm, mm, number
from rimmodel.verdict.output.pooled import pooled_table, pooled_text
from rimmodel.verdict.output.spread import BY_ITSELF, spread_rows, spread_sentences, spreads_table
from rimmodel.verdict.shift_table import SHIFTS, shift_rows, shift_table

WIDTH = 100
LEFT_OUT = "left out"
"""What sentences on something that does not enter the result have in common, and their heading."""

_LENGTH, _SPEED = "residual_interference_at_standstill", "float_speed"


def interval_table(interval: tuple[float, float], kind: str | None = None) -> list[float | None]:
    """Both ends of an interval in units of print, None on an open side.

    Parameters
    ----------
    interval : pair of float, SI
    kind : str or None
        A key of ``units.PRINT``.

    Returns
    -------
    list of float or None, unit of print
    """
    return [number(bound, kind) for bound in interval]


def fit_table(measurement: Measurement) -> dict[str, Any]:
    """Float speed, interference and stiffness with intervals, of all points and of each direction.

    `float_speed_*` and `interference_*` hold everything that is uncertain; `lift_off_in_run_*` and what stands under
    `directions` and `planes` hold the noise of the recording alone.
    """
    fit = measurement.fits[ALL_POINTS]
    best, interval = float_speed_found(measurement)
    turn = turning_difference(measurement)
    return {
        "label": measurement.label,
        "file": measurement.source,
        "condition": measurement.condition,
        "verdict": measurement.verdict,
        "float_speed_rpm": number(best, "speed"),
        "float_speed_interval_rpm": _speed_interval(interval),
        "interference_mm": number(measurement.interference, "length"),
        "interference_interval_mm": interval_table(measurement.interference_interval, "length"),
        "hoop_stiffness_factor": number(fit.hoop_stiffness_factor),
        "hoop_stiffness_factor_interval": interval_table(fit.hoop_stiffness_factor_interval),
        "lift_off_in_run_rpm": number(measurement.float_speed, "speed"),
        "lift_off_in_run_interval_rpm": _speed_interval(measurement.float_speed_interval),
        "confidence": measurement.confidence,
        "noise_mm": number(fit.sigma, "length"),
        "speed_points": int(measurement.knees[ALL_POINTS].used.sum()),
        "apparent_shifts": shift_table(measurement),
        "disqualified": list(measurement.disqualified),
        "reasons": list(measurement.reasons),
        "notes": list(measurement.notes),
        "gap_level": _level_table(measurement.level),
        "directions": {
            direction: _result(measurement, direction) for direction in ("up", "down") if direction in measurement.fits
        },
        "down_less_up_rpm": None if turn is None else number(turn[0], "speed"),
        "down_less_up_interval_rpm": None if turn is None else interval_table(turn[1], "speed"),
        "planes": {plane: _knee_table(knee) | {"how": BY_ITSELF} for plane, knee in measurement.planes.items()},
        **spreads_table(measurement),
        "left_out": [
            {"what": one.what, "name": one.name, "count": one.count, "reason": one.reason}
            for one in left_out(measurement)
        ],
        "float_speed_by_condition": {
            name: {
                "float_speed_rpm": number(found.best, "speed"),
                "float_speed_interval_rpm": _speed_interval((max(found.interval[0], 0.0), found.interval[1])),
            }
            for name, found in measurement.float_speeds.items()
        },
        "parameters": list(fit.parameters),
        "correlation": [[float(value) for value in row] for row in np.nan_to_num(fit.correlation)],
    }


def _level_table(level: Level | None) -> dict[str, Any] | None:
    if level is None or not level.difference:
        return None
    return {
        "difference_mm": {cause: number(value, "length") for cause, value in level.difference.items()},
        "standard_uncertainty_mm": number(level.standard_uncertainty, "length"),
        "interference_lost_by": list(level.possible),
    }


def _speed_interval(interval: tuple[float, float]) -> list[float | None]:
    low, high = interval
    return [None if low == 0 else number(low, "speed"), number(high, "speed")]


def _knee_table(knee: Knee) -> dict[str, Any]:
    low, high = np.sqrt(np.maximum(knee.interval, 0.0))
    resolved = knee.verdict == "resolved"
    return {
        "verdict": knee.verdict,
        "float_speed_rpm": number(math.sqrt(knee.position), "speed") if resolved else None,
        "float_speed_interval_rpm": _speed_interval((float(low), float(high))),
    }


def _result(measurement: Measurement, direction: str) -> dict[str, Any]:
    knee, fit = measurement.knees[direction], measurement.fits[direction]
    speed, interval = fit.float_speed[OWN_CONDITION], fit.float_speed_interval[OWN_CONDITION]
    return {
        "verdict": knee.verdict,
        "float_speed_rpm": number(best_or_none(knee, speed, interval), "speed"),
        "float_speed_interval_rpm": _speed_interval(interval),
        "interference_mm": number(best_or_none(knee, fit.interference, fit.interference_interval), "length"),
        "interference_interval_mm": interval_table(fit.interference_interval, "length"),
    }


def comparison_table(row: Comparison) -> dict[str, Any]:
    """Change from one recording to the next."""
    gaps = row.gaps
    return {
        "before": row.before,
        "after": row.after,
        "float_speed_change_rpm": number(row.float_speed_change, "speed"),
        "float_speed_change_interval_rpm": interval_table(row.float_speed_change_interval, "speed"),
        "interference_change_mm": number(row.interference_change, "length"),
        "interference_change_interval_mm": interval_table(row.interference_change_interval, "length"),
        "expected_change_mm": number(row.expected, "length"),
        "verdict": row.verdict,
        "note": row.note,
        "lost_by": row.lost.verdict,
        "level_change_left_mm": {cause: number(value, "length") for cause, value in row.lost.level_change.items()},
        "speed_rpm": [float(in_rpm(value)) for value in gaps.speed],
        "mean_gap_before_mm": [number(value, "length") for value in gaps.mean_before],
        "mean_gap_after_mm": [number(value, "length") for value in gaps.mean_after],
        "least_gap_before_mm": [number(value, "length") for value in gaps.least_before],
        "least_gap_after_mm": [number(value, "length") for value in gaps.least_after],
    }


def table(
    title: str, measurements: Sequence[Measurement], comparisons: Sequence[Comparison], along_note: str = ""
) -> dict[str, Any]:
    """What all recordings of a case show, that of the last at the top, with what changed and what they say together.

    Parameters
    ----------
    along_note : str
        What is left out of the length of the rim, by `basis.along_note`; empty where nothing differs along it.
    """
    tables = [fit_table(one) for one in measurements]
    return {
        "title": title,
        "along_the_rim_note": along_note or None,
        **tables[-1],
        "records": tables,
        "comparisons": [comparison_table(row) for row in comparisons],
        "pooled_runs": pooled_table(pooled_runs(measurements)),
    }


def text(measurements: Sequence[Measurement], comparisons: Sequence[Comparison], along_note: str = "") -> str:
    """The same for a terminal."""
    blocks = [textwrap.wrap(along_note, WIDTH, break_on_hyphens=False)] if along_note else []
    blocks += [_measurement_text(measurement) for measurement in measurements]
    blocks += [textwrap.wrap(comparison_text(row), WIDTH) for row in comparisons]
    pooled = pooled_runs(measurements)
    together = [] if pooled is None else [pooled_text(pooled)]
    return "\n\n".join([*("\n".join(lines) for lines in blocks), *together])


def _measurement_text(measurement: Measurement) -> list[str]:
    lines = [f"{measurement.label} ({measurement.condition}): {measurement.verdict.upper()}"]
    lines += _indented(f"The rim {describe(measurement)}.")
    rows = [*found_rows(measurement), ("noise of the run alone:", "")]
    rows += [(f"  {name}", words) for name, words in run_rows(measurement)]
    lines += [f"    {name:26}{words}".rstrip() for name, words in rows]
    for words in spread_sentences(measurement):
        lines += _indented(words)
    shifts = shift_rows(measurement)
    if shifts:
        lines += _indented(SHIFTS)
        widths = [max(len(row[column]) for row in shifts) for column in range(4)]
        lines += [
            f"      {cause:{widths[0]}}  {assumed:{widths[1]}}  {speed:>{widths[2]}}  {size:>{widths[3]}}".rstrip()
            for cause, assumed, speed, size in shifts
        ]
    remarks = (*measurement.reasons, *measurement.notes)
    gone = [words for words in remarks if LEFT_OUT in words]
    lines += [f"    {LEFT_OUT}:" if gone else f"    {LEFT_OUT}: nothing", *_bullets(gone)]
    return lines + _bullets([words for words in remarks if LEFT_OUT not in words])


def _bullets(sentences: Sequence[str]) -> list[str]:
    lines: list[str] = []
    for words in sentences:
        lines += textwrap.wrap(f"- {words}", WIDTH, initial_indent="    ", subsequent_indent="      ")
    return lines


def turning_words(best: float, interval: Interval) -> str:
    """The difference of `turning_difference` in words, or that none is shown.

    Parameters
    ----------
    best : float, rad/s
    interval : pair of float, rad/s

    >>> turning_words(float("nan"), (-1.0, 1.0))
    'not shown to differ (-9.5 to +9.5 rpm)'
    """
    low, high = (in_rpm(end) for end in interval)
    ends = f"{low:+.1f} to {high:+.1f} rpm"
    if np.isfinite(best):
        return f"difference {round(in_rpm(best), 1) + 0.0:+.1f} rpm ({ends})"  # no minus before a zero
    return f"not shown to differ ({ends})" if low <= 0.0 <= high else f"difference {ends}"


def found_rows(measurement: Measurement) -> list[tuple[str, str]]:
    """What the run shows with everything that is uncertain, name and words: float speeds, interference, level."""
    fit = measurement.fits[ALL_POINTS]
    rows = [(f"float speed, {name}", _found_text(found)) for name, found in measurement.float_speeds.items()]
    best = quantity_text(_LENGTH, measurement.interference)
    rows.append(("effective interference", f"{best} ({interval_text(_LENGTH, measurement.interference_interval)})"))
    low, high = fit.hoop_stiffness_factor_interval
    rows.append(("hoop stiffness factor", f"{fit.hoop_stiffness_factor:.3f} ({low:.3f} to {high:.3f})"))
    if measurement.level is not None and (level := level_text(measurement.level)):
        rows.append(("gap level less expected", f"{level} (at this interference)"))
    return rows


def run_rows(measurement: Measurement) -> list[tuple[str, str]]:
    """What the run shows by itself, name and words: lift-off of all points, of each direction and of each plane."""
    rows = [("lift-off, all points", _run_text(measurement, ""))]
    rows += [
        ("run-up" if direction == "up" else "run-down", _run_text(measurement, direction))
        for direction in ("up", "down")
        if direction in measurement.fits
    ]
    if (turn := turning_difference(measurement)) is not None:
        rows.append(("run-down minus run-up", turning_words(*turn).removeprefix("difference ")))
    for plane, knee in measurement.planes.items():
        which = f", {BY_ITSELF}" if knee.verdict == "resolved" else ""
        rows.append((f"plane {plane}", f"{knee_text(knee)}{which}"))
    return rows + spread_rows(measurement)


def _run_text(measurement: Measurement, direction: str) -> str:
    verdict = measurement.knees[direction].verdict if direction else measurement.verdict
    own = measurement.knees[direction or ALL_POINTS].verdict
    if verdict != "resolved" and not (measurement.disqualified and own == "resolved"):
        return verdict
    fit = measurement.fits[direction]
    return f"{quantity_text(_SPEED, fit.float_speed[''])} ({interval_text(_SPEED, fit.float_speed_interval[''])})"


def _found_text(found: ByTest) -> str:
    low, high = found.interval
    return f"{quantity_text(_SPEED, found.best)} ({interval_text(_SPEED, (max(low, 0.0), high))})"


def _indented(words: str) -> list[str]:
    return textwrap.wrap(words, WIDTH, initial_indent="    ", subsequent_indent="    ")


def knee_text(knee: Knee) -> str:
    """Verdict of one direction with its knee."""
    if knee.verdict != "resolved":
        return knee.verdict
    low, high = np.sqrt(np.maximum(knee.interval, 0.0))
    return (
        f"{quantity_text(_SPEED, float(np.sqrt(knee.position)))} ({interval_text(_SPEED, (float(low), float(high)))})"
    )


def comparison_text(row: Comparison) -> str:
    """One sentence on a change; lengths to a micrometre, so that the sum is seen to be right."""
    said = f"From '{row.before}' to '{row.after}' the interference changed by "
    said += f"{_fine(row.interference_change)} ({_fine_interval(row.interference_change_interval)})"
    if np.isfinite(row.float_speed_change):
        said += f", the float speed by {quantity_text(_SPEED, row.float_speed_change)} "
        said += f"({interval_text(_SPEED, row.float_speed_change_interval)})"
    if row.expected is not None:
        ends = {
            "as expected": "consistent with the expected shim change",
            "not as expected": "not the expected shim change",
            "not shown": "too uncertain to show any change",
            "no expectation": "",
        }[row.verdict]
        said += f"; expected {_fine(row.expected)}: {ends}"
    said += f". {row.note[:1].upper()}{row.note[1:]}." if row.note else "."
    lost = lost_words(row.lost)
    return f"{said} {lost}" if lost else said


def _fine(metres: float) -> str:
    return "an unknown amount" if not np.isfinite(metres) else mm(metres, ".3f")


def _fine_interval(interval: tuple[float, float]) -> str:
    low, high = (in_mm(end) for end in interval)
    if np.isfinite([low, high]).all():
        return f"{low:.3f} to {high:.3f} mm"
    return f"above {low:.3f} mm" if np.isfinite(low) else f"below {high:.3f} mm" if np.isfinite(high) else "no bound"
