"""The figures of a review, from its results to plain arrays in units of print."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from rimmodel.behaviour import Landmark, Sweep
from rimmodel.evidence.measure import Measurement
from rimmodel.plotting.driver_chart import driver_chart
from rimmodel.plotting.knee_chart import BrokenLine, knee_chart
from rimmodel.plotting.speed_chart import Curve, Points, Span, speed_chart
from rimmodel.plotting.style import to_svg
from rimmodel.review.assess import Review
from rimmodel.units import MILLIMETRE, RPM

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def review_figures(review: Review) -> dict[str, str]:
    """SVG text by file stem: the speed chart, one knee chart per recording, the drivers."""
    rotor = review.case.rotor
    figures = {"speed_chart": to_svg(_speed_chart(review))}
    for number, measurement in enumerate(review.measurements, 1):
        line = _broken_line(measurement)
        chart = knee_chart(measured_points(review, measurement), line, float(rotor.speeds.rated) / RPM)
        figures[f"knee_{number}"] = to_svg(chart)
    known = [row for row in review.drivers if row.float_speed_change is not None]
    if known:
        names = [f"{row.input} {row.change}" for row in known]
        figures["drivers"] = to_svg(driver_chart(names, [100.0 * (row.float_speed_change or 0.0) for row in known]))
    return figures


def _speed_chart(review: Review) -> Figure:
    rotor = review.case.rotor
    curves = [_curve(name, found.curve, found.float_speed) for name, found in review.predictions.items()]
    measured = [
        _curve(name, found.as_measured.curve, found.as_measured.float_speed)
        for name, found in review.predictions.items()
        if found.as_measured is not None
    ]
    points = [some for measurement in review.measurements for some in measured_points(review, measurement)]
    spans = [
        Span(row.label, row.float_speed / RPM, row.float_speed_interval[0] / RPM, row.float_speed_interval[1] / RPM)
        for row in review.measurements
        if np.isfinite(row.float_speed)
    ]
    least = rotor.air_gap.minimum_allowed
    return speed_chart(
        curves,
        points,
        measured_curves=measured,
        marks={name: float(speed) / RPM for name, speed in rotor.speeds.named.items()},
        spans=spans,
        least_gap=None if least is None else float(least) / MILLIMETRE,
    )


def _curve(name: str, states: Sweep, lift_off: Landmark) -> Curve:
    return Curve(
        name,
        states.speed / RPM,
        states.air_gap / MILLIMETRE,
        states.residual_interference / MILLIMETRE,
        float(lift_off.speed) / RPM,
    )


def measured_points(review: Review, measurement: Measurement) -> list[Points]:
    """Measured mean gaps by way; recorded changes of gap are set on the predicted gap of their slowest point."""
    points, prediction = measurement.points, review.predictions[measurement.condition]
    level = 0.0
    if points.is_change:
        level = float(np.interp(points.speed.min(), prediction.curve.speed, prediction.curve.air_gap))
    return [
        Points(
            measurement.label,
            way,
            points.speed[chosen] / RPM,
            (points.gap[chosen] + level) / MILLIMETRE,
        )
        for way in ("up", "down", "")
        if (chosen := points.direction == way).any()
    ]


def _broken_line(measurement: Measurement) -> BrokenLine:
    knee = measurement.knees[""]
    per_rpm = RPM**2 / MILLIMETRE
    low, high = measurement.float_speed_interval
    return BrokenLine(
        measurement.float_speed / RPM,
        low / RPM,
        high / RPM,
        knee.level / MILLIMETRE,
        knee.slope_before * per_rpm,
        knee.slope_after * per_rpm,
    )
