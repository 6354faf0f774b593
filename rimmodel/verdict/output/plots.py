"""The usual figure of a result that is a table: what its ``plot()`` draws."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from rimmodel.behaviour import Sweep
from rimmodel.evidence.backfit.fit import OWN_CONDITION, BackFit, gap_band
from rimmodel.evidence.knee.of_points import FoundKnee
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.evidence.reduction.speed_points import SpeedPoints
from rimmodel.plotting import points_chart, speed_chart
from rimmodel.plotting.knee_chart import FittedGap
from rimmodel.plotting.speed_curves import Curve
from rimmodel.tabular import Tabular
from rimmodel.units import in_mm, in_rpm
from rimmodel.verdict.output.figures import fitted_gap, in_condition, review_chart
from rimmodel.verdict.output.fit_figures import SPEEDS, error_points, points_by_direction
from rimmodel.verdict.result import Review

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def figure(result: Tabular) -> Figure:
    """The usual figure of a sweep, of speed points, a knee, a back-fit, a measurement or a review.

    Raises
    ------
    TypeError
        There is no figure of such a result.
    """
    for kind, chart in CHARTS.items():
        if isinstance(result, kind):
            return chart(result)
    raise TypeError(f"there is no figure of a {type(result).__name__}; to_frame() has its numbers")


def _of_sweep(states: Sweep) -> Figure:
    if np.ndim(states.speed) != 1:
        raise TypeError("plot() draws a sweep over one row of speeds; sweep a single rotor over several speeds")
    curve = Curve("", in_rpm(states.speed), in_mm(states.air_gap), in_mm(states.residual_interference), np.nan)
    figure = speed_chart.draw([curve])
    named = figure.axes[0].get_legend()
    if named is not None:  # one line needs no name
        named.remove()
    return figure


def _what(points: SpeedPoints) -> str:
    return "change of mean gap" if points.is_change else "mean air gap"


def _of_points(points: SpeedPoints) -> Figure:
    everything = np.ones(points.speed.shape, dtype=bool)
    nothing = np.full(points.speed.shape, np.nan)
    return points_chart.draw(points_by_direction(points, everything, nothing), None, None, _what(points))


def _of_knee(found: FoundKnee) -> Figure:
    """The points with the broken line."""
    knee, points = found.knee, found.points
    line = None
    if np.isfinite(found.float_speed):
        speed = np.linspace(float(points.speed.min()), float(points.speed.max()), SPEEDS)
        low, high = found.interval
        line = FittedGap(
            in_rpm(speed), in_mm(found.gap(speed)), np.zeros_like(speed), in_rpm(found.float_speed), in_rpm(low),
            in_rpm(high),
        )  # fmt: skip
    left = np.full(points.speed.shape, np.nan)
    return points_chart.draw(points_by_direction(points, knee.used, left), line, None, _what(points))


def _of_back_fit(fit: BackFit) -> Figure:
    columns = fit.columns()
    direction = fit.model.direction
    points = [
        points_chart.Points(
            name,
            columns["speed_rpm"][chosen],
            in_mm(fit.gaps_in_condition)[chosen],
            np.full(int(chosen.sum()), np.nan),
            columns["measured_less_fitted_mm"][chosen],
            np.full(int(chosen.sum()), np.nan),
            np.ones(int(chosen.sum()), dtype=bool),
        )
        for name, sign in (("up", 1.0), ("down", -1.0), ("", 0.0))
        if (chosen := direction == sign).any()
    ]
    band = gap_band(fit, np.linspace(float(fit.model.speed.min()), float(fit.model.speed.max()), SPEEDS))
    low, high = fit.float_speed_interval[OWN_CONDITION]
    line = FittedGap(
        in_rpm(band.speed), in_mm(band.gap), in_mm(band.half_width), in_rpm(fit.float_speed[OWN_CONDITION]),
        in_rpm(low), in_rpm(high),
    )  # fmt: skip
    return points_chart.draw(points, line, None, "mean air gap")


def _of_measurement(measurement: Measurement) -> Figure:
    return points_chart.draw(
        error_points(in_condition(measurement)), fitted_gap(measurement), None, _what(measurement.points)
    )


CHARTS: dict[type[Tabular], Callable[[Any], Figure]] = {
    Sweep: _of_sweep,
    SpeedPoints: _of_points,
    FoundKnee: _of_knee,
    BackFit: _of_back_fit,
    Measurement: _of_measurement,
    Review: review_chart,
}
