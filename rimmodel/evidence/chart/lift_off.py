"""What the errors of the axes of a chart do to the lift-off and the interference that are read off it.

All points of a chart move together when its axes are wrong: no scatter shows it, and no further point lessens it. Each
independent error of the axes moves speeds and gaps of all points; the rotor fitted to the moved points, to first
order, has another lift-off. Squares of these moves add to the square of what noise leaves open.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from rimmodel.arrays import Floats, Interval
from rimmodel.evidence.backfit.fit import OWN_CONDITION, BackFit
from rimmodel.evidence.backfit.gap_model import PARAMETERS, SCALES
from rimmodel.evidence.backfit.least_squares import jacobian
from rimmodel.evidence.backfit.posterior import normal_reach
from rimmodel.evidence.knee.fit import Knee
from rimmodel.evidence.reduction.speed_points import SpeedPoints
from rimmodel.units import rpm


@dataclass(frozen=True)
class AxisReach:
    """Standard uncertainties from the axes alone.

    Attributes
    ----------
    lift_off : float, rad/s
    interference : float, m
    """

    lift_off: float
    interference: float


def moved(points: SpeedPoints, errors: Floats) -> tuple[Floats, Floats]:
    """Return the points as they are where the axes have given errors.

    Parameters
    ----------
    errors : array (row, mode), -
        In standard uncertainties.

    Returns
    -------
    speed : array (row, point), rad/s
    gap : array (row, point), m
    """
    speed = np.maximum(points.speed + errors @ points.axis_speed.T, 0.0)
    return np.asarray(speed), np.asarray(points.gap + errors @ points.axis_gap.T)


def speed_errors(points: SpeedPoints, speed: float) -> Floats:
    """Return what each error of the axes does to a speed, inside or outside of the points.

    Parameters
    ----------
    speed : float, rad/s

    Returns
    -------
    array (mode,), rad/s
    """
    slope, start = np.polyfit(points.speed, points.axis_speed, 1)
    return np.asarray(start + slope * speed)


def axis_reach(fit: BackFit, points: SpeedPoints) -> AxisReach | None:
    """Return how far the axes leave lift-off and interference open; None for points that are not from a chart.

    Parameters
    ----------
    points : SpeedPoints
        Only those that were fitted.
    """
    modes = points.axis_speed.shape[1]
    best = fit.float_speed[OWN_CONDITION]
    if not modes or not np.isfinite(best) or best <= 0.0 or np.isnan(fit.interference):
        return None
    size = len(PARAMETERS)
    row = np.concatenate([fit.unknowns, np.zeros(modes)])
    row[0] = best
    scale = np.concatenate([SCALES, np.ones(modes)])
    scale[0] = 1e-3 * best
    known = [PARAMETERS.index(name) for name in fit.priors]
    sure = np.array(list(fit.priors.values()))

    def residuals(rows: Floats) -> Floats:
        speed, gap = moved(points, rows[:, size:])
        model = replace(fit.model, speed=speed)
        off = (gap - model.gaps(rows[:, :size], model.condition)) @ fit.whitening.T
        return np.concatenate([off, rows[:, known] / sure], axis=1)

    free = [PARAMETERS.index(name) for name in fit.parameters]
    columns = np.array([*free, *range(size, size + modes)])
    slope = jacobian(residuals, row[None], scale, columns)[0] * scale[columns]
    follow = -np.linalg.pinv(slope[:, : len(free)], rcond=1e-8) @ slope[:, len(free) :]
    rows = np.repeat(row[None, :size], modes + 1, axis=0)
    rows[1:, free] += (follow * scale[free][:, None]).T
    left = fit.model.interference(rows, fit.model.condition)
    return AxisReach(float(np.linalg.norm(follow[0]) * scale[0]), float(np.linalg.norm(left[1:] - left[0])))


def with_reach(best: float, interval: Interval, reach: float, confidence: float) -> Interval:
    """Return an interval widened by an independent standard uncertainty, each side by itself.

    Parameters
    ----------
    best : float, SI
    interval : pair of float, SI
        Open sides stay open, and a lower end of 0 stays.
    reach : float, SI
        The standard uncertainty.
    confidence : float, -

    Returns
    -------
    pair of float, SI

    >>> low, high = with_reach(10.0, (7.0, 14.0), 1.5306, 0.95)
    >>> round(low, 3), round(high, 3)
    (5.757, 15.0)
    """
    size = normal_reach(confidence) * reach
    low, high = (float(np.hypot(abs(end - best), size)) for end in interval)
    return (best - low if interval[0] != 0.0 else 0.0), best + high


@dataclass(frozen=True)
class WithAxes:
    """What a run shows by itself, with the axes of the chart that it was read off.

    Attributes
    ----------
    float_speed_interval : pair of float, rad/s
    interference_interval : pair of float, m
    """

    float_speed_interval: Interval
    interference_interval: Interval
    notes: tuple[str, ...]


def with_axes(fit: BackFit, points: SpeedPoints) -> WithAxes:
    """Return the intervals of a fit with the errors of the axes; as they are for points that are not from a chart.

    Where the lift-off is bounded on one side only, the bound moves with the speed axis, and the interference with it.

    Parameters
    ----------
    points : SpeedPoints
        Only those that were fitted.
    """
    speeds, lost = fit.float_speed_interval[OWN_CONDITION], fit.interference_interval
    if not points.axis_speed.shape[1]:
        return WithAxes(speeds, lost, ())
    best, sure = fit.float_speed[OWN_CONDITION], fit.confidence
    reach = axis_reach(fit, points)
    if reach is not None and np.isfinite([best, *speeds]).all() and best > 0.0:
        return WithAxes(
            with_reach(best, speeds, reach.lift_off, sure),
            with_reach(fit.interference, lost, reach.interference, sure),
            (axis_note(reach),),
        )
    ends, size = [], normal_reach(sure)
    for end in speeds:
        known = np.isfinite(end) and end > 0.0
        ends.append(size * float(np.linalg.norm(speed_errors(points, end))) / end if known else 0.0)
    (low, high), (least, most) = speeds, lost
    return WithAxes(
        (low * (1.0 - ends[0]), high * (1.0 + ends[1])),
        (
            least - 2.0 * ends[0] * abs(least) if ends[0] else least,
            most + 2.0 * ends[1] * abs(most) if ends[1] else most,
        ),
        (ONE_SIDED,),
    )


SURE = 3.0
"""Standard uncertainties that a bend must exceed: of many possible bends the largest is found."""

BEND_OF_AXES = (
    "the bend is no larger than the errors of the axes of the chart can make by themselves: mark crossings of its grid "
    "with both values near all four corners, or read a better picture"
)


def axis_doubt(knee: Knee, points: SpeedPoints) -> tuple[str, ...]:
    """Return why a bend may be none: axes that are turned or warped bend a line that is straight in speed squared.

    Parameters
    ----------
    knee : Knee
        In speed squared.
    points : SpeedPoints
        Only those that were fitted.
    """
    bend = knee.slope_after - knee.slope_before
    if not points.axis_speed.shape[1] or knee.verdict != "resolved" or not np.isfinite(bend):
        return ()
    squared = points.speed**2
    beyond = np.maximum(squared - knee.position, 0.0)
    slope = np.where(beyond > 0.0, knee.slope_after, knee.slope_before)
    rise = points.axis_gap - (2.0 * points.speed * slope)[:, None] * points.axis_speed
    size = squared.max()
    columns = np.column_stack([np.ones(len(squared)), squared / size, beyond / size])
    made = np.linalg.lstsq(columns, rise, rcond=None)[0][2] / size
    covariance = knee.covariance
    own = float(covariance[2, 2] + covariance[3, 3] - 2.0 * covariance[2, 3])
    return (BEND_OF_AXES,) if abs(bend) < SURE * float(np.sqrt(max(own, 0.0) + np.sum(made**2))) else ()


ONE_SIDED = "The points were read off a chart; the bound of the lift-off includes the error of its speed axis."


def axis_note(reach: AxisReach) -> str:
    """Return what the axes do, in one sentence."""
    return (
        f"The points were read off a chart; its axes leave the lift-off uncertain by {rpm(reach.lift_off, '.2g')} "
        "(standard uncertainty, shared by all points), which the intervals include."
    )
