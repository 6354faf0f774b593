"""The figures of a fit, from its results to plain arrays in units of print."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from rimmodel.arrays import Floats, Mask, Places
from rimmodel.behaviour import sweep
from rimmodel.evidence.backfit.fit import ALL_POINTS
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.evidence.measured.spread import KneeSpread
from rimmodel.evidence.reduction.rotor_shape import RotorShape
from rimmodel.evidence.reduction.sensor_gaps import SensorGaps
from rimmodel.evidence.reduction.speed_points import SpeedPoints
from rimmodel.plotting import parts_chart, points_chart, residual_chart, spread_chart
from rimmodel.plotting.speed_curves import Curve, Span
from rimmodel.rotor.case.case import Case
from rimmodel.units import in_mm, in_rpm
from rimmodel.verdict.output.drawer import Drawing, drawing
from rimmodel.verdict.output.figures import fitted_gap, in_condition, knee_drawings, shape_drawings

HOUR = 3600.0
SPEEDS = 160
"""Speeds of a drawn line."""

SAME_SPEED = 0.005
"""Share of the highest speed within which points of run-up and run-down are drawn as one."""


def fit_drawings(
    case: Case, measurements: Sequence[Measurement], shapes: Sequence[Mapping[str, RotorShape]]
) -> dict[str, Drawing]:
    """Drawings by file stem; figures of record 2 end in _2.

    Parameters
    ----------
    shapes : sequence of mapping of str to RotorShape
        Of each record by plane, empty where single poles were not recorded.
    """
    figures: dict[str, Drawing] = {}
    for number, (measurement, planes) in enumerate(zip(measurements, shapes, strict=True), 1):
        figures |= {f"{name}_{number}": one for name, one in _of_record(case, measurement).items()}
        for plane_number, shape in enumerate(planes.values(), 1):
            outlines = shape_drawings(shape, measurement, float(case.rotor.poles.face_radius))
            figures |= {f"{name}_{number}_{plane_number}": one for name, one in outlines.items()}
    return figures


def _of_record(case: Case, measurement: Measurement) -> dict[str, Drawing]:
    points = error_points(in_condition(measurement))
    knee = in_rpm(measurement.float_speed)
    what = "change of mean gap" if measurement.points.is_change else "mean air gap"
    noise = float(in_mm(measurement.fits[ALL_POINTS].sigma))
    figures = {
        "points": drawing(points_chart.draw, points, fitted_gap(measurement), _predicted(case, measurement), what),
        "residuals_speed": drawing(residual_chart.draw, points, noise),
    }
    if any(np.isfinite(np.asarray(some.time)).any() for some in points):
        figures["residuals_time"] = drawing(residual_chart.draw, points, noise, "time")
    figures |= knee_drawings(measurement, in_rpm(float(case.rotor.speeds.rated)))
    sensors = measurement.sensors
    if sensors is not None and len(set(sensors.plane)) > 1:
        figures["planes"] = drawing(parts_chart.draw, _planes(measurement, sensors), knee)
    if sensors is not None and len(sensors.sensor) > 1:
        figures["sensors"] = drawing(parts_chart.draw, _sensors(measurement, sensors), knee)
    rows = [row for spread in measurement.spreads for row in _spans(spread)]
    if rows:
        common = in_rpm(measurement.spreads[0].common)
        figures["spread"] = drawing(spread_chart.draw, rows, common, measurement.confidence)
    return figures


def error_points(measurement: Measurement) -> list[points_chart.Points]:
    """Speed points of a recording by direction, with their errors and what the fit leaves of them."""
    points, used = measurement.points, measurement.knees[ALL_POINTS].used
    residual = np.full(points.speed.size, np.nan)
    residual[used] = measurement.fits[ALL_POINTS].residual
    return points_by_direction(points, used, residual)


def points_by_direction(points: SpeedPoints, used: Mask, residual: Floats) -> list[points_chart.Points]:
    """Speed points by direction in units of print.

    Parameters
    ----------
    residual : array (point,), m
        What a fit leaves; NaN where there is none.
    """
    start = np.nanmin(points.time) if np.isfinite(points.time).any() else 0.0
    return [
        points_chart.Points(
            direction,
            in_rpm(points.speed[chosen]),
            in_mm(points.gap[chosen]),
            in_mm(points.standard_error[chosen]),
            in_mm(residual[chosen]),
            (points.time[chosen] - start) / HOUR,
            used[chosen],
        )
        for direction in ("up", "down", "")
        if (chosen := points.direction == direction).any()
    ]


def _predicted(case: Case, measurement: Measurement) -> Curve:
    """Gap that the drawing predicts in the condition of the run, or its change where that was recorded."""
    points = measurement.points
    speed = np.linspace(float(points.speed.min()), float(points.speed.max()), SPEEDS)
    states = sweep(case.rotor, case.conditions[measurement.condition], speed)
    gap = states.air_gap
    if points.is_change:
        gap = gap - gap[0] + points.gap[np.argmin(points.speed)]
    return Curve("drawing", in_rpm(speed), in_mm(gap), in_mm(states.residual_interference), float("nan"))


def _planes(measurement: Measurement, sensors: SensorGaps) -> list[parts_chart.Curve]:
    curves = []
    for plane in dict.fromkeys(sensors.plane):
        chosen = np.array([name == plane for name in sensors.plane]) & sensors.usable
        if chosen.any():
            curves.append(_part(measurement, sensors, f"plane {plane}", sensors.level(chosen)))
    return curves


def _sensors(measurement: Measurement, sensors: SensorGaps) -> list[parts_chart.Curve]:
    return [
        _part(measurement, sensors, name, sensors.gap[:, unit], left_out=not sensors.usable[unit])
        for unit, name in enumerate(sensors.names)
    ]


def _part(
    measurement: Measurement, sensors: SensorGaps, name: str, gap: Floats, *, left_out: bool = False
) -> parts_chart.Curve:
    """One plane or sensor against the mean of all, both from their slowest speed."""
    speed = measurement.points.speed
    places = np.unique(np.round(speed / (SAME_SPEED * speed.max())), return_inverse=True)[1]
    speed, gap, whole = (_means(values, places) for values in (speed, gap, sensors.level(sensors.usable)))
    known = np.flatnonzero(np.isfinite(gap))
    start = known[0] if known.size else 0
    change = gap - gap[start]
    return parts_chart.Curve(name, in_rpm(speed), in_mm(change), in_mm(change - whole + whole[start]), left_out)


def _means(values: Floats, places: Places) -> Floats:
    """Mean of the values known at each place; NaN where there is none."""
    known = np.isfinite(values)
    with np.errstate(invalid="ignore"):
        means: Floats = np.bincount(places[known], values[known], places.max() + 1) / np.bincount(
            places[known], minlength=places.max() + 1
        )
    return means


def _spans(spread: KneeSpread) -> list[Span]:
    return [
        Span(
            f"plane {one.name}" if spread.of == "plane" else one.name,
            in_rpm(one.difference),
            in_rpm(one.interval[0]),
            in_rpm(one.interval[1]),
        )
        for one in spread.knees
    ]
