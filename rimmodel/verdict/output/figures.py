"""The figures of a review, from its results to plain arrays in units of print."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from rimmodel.behaviour import CharacteristicSpeed, Sweep
from rimmodel.evidence.backfit.fit import ALL_POINTS, gap_band
from rimmodel.evidence.measured.measurement import Measurement, float_speed_found
from rimmodel.evidence.reduction.rotor_shape import RotorShape
from rimmodel.plotting import (
    change_chart,
    driver_chart,
    gap_chart,
    knee_chart,
    likelihood_chart,
    roundness_chart,
    shape_chart,
    speed_chart,
)
from rimmodel.plotting.knee_chart import FittedGap
from rimmodel.plotting.speed_curves import Curve, Points, Span
from rimmodel.units import in_mm, in_rpm, rpm
from rimmodel.verdict.output import keys
from rimmodel.verdict.output.drawer import Drawing, drawing
from rimmodel.verdict.result import Review

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def review_drawings(review: Review) -> dict[str, Drawing]:
    """Drawings by file stem: the charts against speed, one knee chart per recording, the drivers."""
    rotor = review.case.rotor
    figures: dict[str, Drawing] = {
        "gap_chart": drawing(review_chart, review, gap_chart.draw),
        "speed_chart": drawing(review_chart, review),
    }
    for number, measurement in enumerate(review.measurements, 1):
        of_record = knee_drawings(measurement, in_rpm(float(rotor.speeds.rated)))
        figures |= {f"{name}_{number}": one for name, one in of_record.items()}
        for plane_number, shape in enumerate(review.shapes[number - 1].values(), 1):
            figures |= {
                f"{name}_{number}_{plane_number}": outline
                for name, outline in shape_drawings(shape, measurement, float(rotor.poles.face_radius)).items()
            }
    if len(review.measurements) > 1:
        figures["change"] = drawing(_change, review)
    if review.keys is not None:
        figures |= keys.drawings(review.case, review.keys)
    known = [row for row in review.drivers if row.float_speed_change is not None]
    if known:
        names = [f"{row.input} {row.change}" for row in known]
        figures["drivers"] = drawing(
            driver_chart.draw, names, [100.0 * (row.float_speed_change or 0.0) for row in known]
        )
    return figures


def knee_drawings(measurement: Measurement, rated: float) -> dict[str, Drawing]:
    """Drawings of the knee of one recording and of its likelihood.

    Parameters
    ----------
    rated : float, rpm
    """
    return {"knee": drawing(_knee, measurement, rated), "likelihood": drawing(_likelihood, measurement)}


def review_chart(review: Review, chart: Callable[..., Figure] = speed_chart.draw) -> Figure:
    """Gap against speed, predicted and measured, by either of the charts of `plotting.speed`."""
    rotor = review.case.rotor
    curves = [_curve(name, found.curve, found.float_speed) for name, found in review.predictions.items()]
    measured = [
        _curve(name, found.as_measured.curve, found.as_measured.float_speed)
        for name, found in review.predictions.items()
        if found.as_measured is not None
    ]
    points = [some for measurement in review.measurements for some in measured_points(review, measurement)]
    found = [(row.label, *float_speed_found(row)) for row in review.measurements if np.isfinite(row.float_speed)]
    spans = [
        Span(label, in_rpm(best), in_rpm(low), in_rpm(high)) for label, best, (low, high) in found if np.isfinite(best)
    ]
    least = rotor.air_gap.minimum_allowed
    return chart(
        curves,
        points,
        measured_curves=measured,
        marks={name: in_rpm(float(speed)) for name, speed in rotor.speeds.named.items()},
        spans=spans,
        least_gap=None if least is None else in_mm(float(least)),
    )


def _change(review: Review) -> Figure:
    curves = []
    for row in review.measurements:
        points = row.points
        slowest = points.gap[points.speed <= points.speed.min() * (1 + 1e-6)].mean()
        best, (low, high) = float_speed_found(row)
        curves.append(
            change_chart.Curve(
                row.label,
                in_rpm(points.speed),
                in_mm(points.gap - slowest),
                in_rpm(best),
                in_rpm(low),
                in_rpm(high),
            )
        )
    return change_chart.draw(curves, in_rpm(float(review.case.rotor.speeds.rated)))


def shape_drawings(shape: RotorShape, measurement: Measurement, radius: float) -> dict[str, Drawing]:
    """Outlines of the rotor at the slowest, a middle and the highest speed, and its roundness against speed.

    Parameters
    ----------
    radius : float, m
        Of the pole faces.
    """
    order = np.argsort(shape.speed)
    places = [order[0], order[len(order) // 2], order[-1]]
    outlines = [
        shape_chart.Curve(rpm(shape.speed[at], ".0f"), shape.rotor.angle, in_mm(shape.rotor.deviation[at]))
        for at in places
    ]
    curves = [
        roundness_chart.Curve(
            direction,
            in_rpm(shape.speed[chosen]),
            in_mm(shape.rotor.eccentricity.amplitude[chosen]),
            in_mm(shape.rotor.ovality.amplitude[chosen]),
            in_mm(shape.rotor.circles.least_squares.zone[chosen]),
        )
        for direction in ("up", "down", "")
        if (chosen := shape.direction == direction).any()
    ]
    return {
        "shape": drawing(shape_chart.draw, outlines, radius),
        "roundness": drawing(roundness_chart.draw, curves, in_rpm(measurement.float_speed)),
    }


def _curve(name: str, states: Sweep, lift_off: CharacteristicSpeed) -> Curve:
    return Curve(
        name,
        in_rpm(states.speed),
        in_mm(states.air_gap),
        in_mm(states.residual_interference),
        in_rpm(float(lift_off.speed)),
    )


def measured_points(review: Review, measurement: Measurement) -> list[Points]:
    """Measured mean gaps by direction; recorded changes of gap are set on the predicted gap of their slowest point."""
    level = 0.0
    if measurement.points.is_change:
        curve = review.predictions[measurement.condition].curve
        level = float(np.interp(measurement.points.speed.min(), curve.speed, curve.air_gap))
    return _own_points(measurement, level)


def _own_points(measurement: Measurement, level: float = 0.0) -> list[Points]:
    points = measurement.points
    return [
        Points(
            measurement.label,
            direction,
            in_rpm(points.speed[chosen]),
            in_mm(points.gap[chosen] + level),
        )
        for direction in ("up", "down", "")
        if (chosen := points.direction == direction).any()
    ]


def fitted_gap(measurement: Measurement) -> FittedGap:
    """The gap that a fit shows over the speeds of its run, with its band and the lift-off from noise alone."""
    points, fit = measurement.points, measurement.fits[ALL_POINTS]
    knee = measurement.float_speed
    steps = np.linspace(float(points.speed.min()), float(points.speed.max()), 200)
    band = gap_band(fit, np.unique(np.append(steps, knee) if np.isfinite(knee) else steps))
    low, high = measurement.float_speed_interval
    return FittedGap(
        in_rpm(band.speed),
        in_mm(band.gap),
        in_mm(band.half_width),
        in_rpm(knee),
        in_rpm(low),
        in_rpm(high),
    )


def _knee(measurement: Measurement, rated: float) -> Figure:
    return knee_chart.draw(_own_points(in_condition(measurement)), fitted_gap(measurement), rated)


def in_condition(measurement: Measurement) -> Measurement:
    """The measurement with the gaps that its fitted line is about: without what recorded temperatures did."""
    fit = measurement.fits[ALL_POINTS]
    if fit.model.heat is None:
        return measurement
    gap = measurement.points.gap.copy()
    gap[measurement.knees[ALL_POINTS].used] = fit.gaps_in_condition
    return replace(measurement, points=replace(measurement.points, gap=gap))


def _likelihood(measurement: Measurement) -> Figure:
    fit = measurement.fits[ALL_POINTS]
    low, high = measurement.float_speed_interval
    return likelihood_chart.draw(
        in_rpm(fit.profile_speed),
        fit.profile_rise,
        fit.profile_allowed,
        (in_rpm(low), in_rpm(high)),
        measurement.confidence,
    )
