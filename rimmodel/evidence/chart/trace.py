"""A curve followed through the pixels of its colour, and read at any speeds with the error of each reading."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.chart.axes import ChartAxes
from rimmodel.evidence.chart.ink import Ink
from rimmodel.evidence.chart.picture import ChartError

STEEPEST = 3.0
"""Pixels down for one across: what climbs faster is not one curve against speed."""

REACH = 60
"""Columns without the curve that are bridged: gaps of a dashed line, another curve across it."""

MISSED = 0.35
"""What a column without the curve costs, in columns with it."""

CLIMB = 0.08
"""What a pixel up or down costs."""

FEWEST = 20
"""Columns with the curve below which it cannot be followed."""

OWN_PIXELS = 0.05
"""Pixels: least error of a reading: lines are drawn and scanned no better."""

BESIDE = 0.1
"""Share of the marked range by which a curve may run beyond the marks."""


@dataclass(frozen=True)
class Trace:
    """A curve in columns one pixel wide along the speed axis.

    Attributes
    ----------
    speed : array (column,), rad/s
    height : array (column,), m
    step : float, rad/s
        Of one pixel along the speed axis.
    rise : float, m
        Of one pixel along the other axis.
    """

    speed: Floats
    height: Floats
    step: float
    rise: float


def follow(axes: ChartAxes, ink: Ink, limits: tuple[float, float]) -> Trace:
    """Follow one curve from the lowest to the highest speed.

    In each column the adjoining pixels are one candidate; of all sequences of candidates that no curve
    against speed is too steep for, the one with the most columns and the least up and down is taken.

    Parameters
    ----------
    limits : pair of float, rad/s
        Speeds outside of which nothing is read.

    Raises
    ------
    ChartError
        No curve, or a curve that runs beyond the marks.
    """
    values = axes.values(np.column_stack([ink.column, ink.row]))
    step, rise = _pixel(axes)
    inside = (values[:, 0] >= limits[0]) & (values[:, 0] <= limits[1])
    column = np.floor((values[inside, 0] - axes.lowest[0]) / step).astype(int)
    found = _clusters(column, values[inside, 1] / rise, ink.amount[inside], values[inside, 0])
    path = _best_path(found[0], found[1]) if len(found[0]) else np.empty(0, dtype=int)
    if len(path) < FEWEST:
        raise ChartError(
            f"no curve of this colour can be followed along the speed axis ({len(path)} columns of pixels, at least "
            f"{FEWEST} are needed); check the colour, or the speeds between which it is read"
        )
    speed, height = found[2][path], found[1][path] * rise
    _refuse_beyond(axes, speed, height)
    return Trace(speed, height, step, rise)


def _pixel(axes: ChartAxes) -> tuple[float, float]:
    """One pixel in the middle of the marked area, along speed (rad/s) and along height (m)."""
    middle = axes.pixels(0.5 * (axes.lowest + axes.highest)[None])[0]
    around = axes.values(middle + np.array([[0.5, 0.0], [-0.5, 0.0], [0.0, 0.5], [0.0, -0.5]]))
    slope = np.stack([around[0] - around[1], around[2] - around[3]])
    size = np.linalg.norm(slope, axis=0)
    return float(size[0]), float(size[1])


def _clusters(column: Floats, height: Floats, amount: Floats, speed: Floats) -> tuple[Floats, Floats, Floats]:
    """Column, mean height (pixels) and mean speed of each group of adjoining pixels in a column."""
    order = np.lexsort((height, column))
    column, height, amount, speed = column[order], height[order], amount[order], speed[order]
    if not len(column):
        return column, height, speed
    new = np.concatenate([[True], (np.diff(column) > 0) | (np.diff(height) > 1.8)])
    group = np.cumsum(new) - 1
    whole = np.bincount(group, amount)
    enough = whole > 0.4
    middle = np.bincount(group, amount * height) / np.maximum(whole, 1e-12)
    at = np.bincount(group, amount * speed) / np.maximum(whole, 1e-12)
    return column[new][enough], middle[enough], at[enough]


def _best_path(column: Floats, height: Floats) -> Floats:
    """Numbers of the candidates, column by column, of the best sequence."""
    worth, before = np.zeros(len(column)), np.full(len(column), -1)
    first = np.searchsorted(column, column - REACH)
    last = np.searchsorted(column, column)
    for place in range(len(column)):
        earlier = slice(first[place], last[place])
        across = column[place] - column[earlier]
        climb = np.abs(height[place] - height[earlier])
        gain = worth[earlier] - MISSED * (across - 1) - CLIMB * climb
        gain = np.where(climb <= STEEPEST * across + 1.5, gain, -np.inf)
        worth[place] = 1.0
        if len(gain) and gain.max() > 0.0:
            best = int(gain.argmax())
            worth[place], before[place] = 1.0 + gain[best], first[place] + best
    path = [int(worth.argmax())]
    while before[path[-1]] >= 0:
        path.append(int(before[path[-1]]))
    return np.array(path[::-1])


def _refuse_beyond(axes: ChartAxes, speed: Floats, height: Floats) -> None:
    from rimmodel.units import mm, rpm

    for values, axis, words, name in ((speed, 0, rpm, "speed"), (height, 1, mm, "gap or growth")):
        beyond = BESIDE * (axes.highest[axis] - axes.lowest[axis])
        low, high = float(values.min()), float(values.max())
        if low < axes.lowest[axis] - beyond or high > axes.highest[axis] + beyond:
            raise ChartError(
                f"the curve leaves the marked part of the {name} axis: it runs from {words(low, '.4g')} to "
                f"{words(high, '.4g')}, the marks from {words(axes.lowest[axis], '.4g')} to "
                f"{words(axes.highest[axis], '.4g')}; mark values beyond both of its ends, or read between two speeds"
            )


@dataclass(frozen=True)
class Reading:
    """A curve at chosen speeds.

    Attributes
    ----------
    speed : array (point,), rad/s
    height, error : array (point,), m
        Value, and the standard uncertainty of reading the line, axes apart.
    """

    speed: Floats
    height: Floats
    error: Floats


def read_at(trace: Trace, speed: Floats, half_width: float) -> Reading:
    """Read a trace at speeds: a straight line through the columns about each, those far off it left out.

    Speeds at which fewer than three columns are left are not among the readings.

    Parameters
    ----------
    speed : array (point,), rad/s
    half_width : float, rad/s
        Of the columns that count for one reading.

    Returns
    -------
    Reading
    """
    half_width = max(half_width, 2.0 * trace.step)
    rows = []
    for at in speed:
        near = np.abs(trace.speed - at) <= half_width
        if (
            near.sum() < 3
            or not trace.speed[near].min() <= at + trace.step >= at >= trace.speed[near].min() - trace.step
        ):
            continue
        along, height = (trace.speed[near] - at) / trace.step, trace.height[near] / trace.rise
        if along.max() < -1.0 or along.min() > 1.0:
            continue
        value, scatter, count = _robust_line(along, height)
        # neighbouring columns share the grid of pixels, so that few of them are independent
        own = max(scatter / np.sqrt(max(count / 4.0, 1.0)), OWN_PIXELS)
        rows.append((at, value * trace.rise, own * trace.rise))
    table = np.array(rows).reshape(-1, 3)
    return Reading(table[:, 0], table[:, 1], table[:, 2])


def _robust_line(along: Floats, height: Floats) -> tuple[float, float, int]:
    """Value at 0, scatter about the line and number of columns used, of a line without columns far off it."""
    kept = np.abs(height - np.median(height)) <= 4.0 * np.abs(along).max() + 2.0
    for _ in range(4):
        centre = along[kept].mean()
        spread = along[kept] - centre
        slope = float(spread @ height[kept] / (spread @ spread)) if spread @ spread > 0 else 0.0
        rest = height - height[kept].mean() - slope * (along - centre)
        size = max(1.4826 * float(np.median(np.abs(rest[kept]))), 0.1)
        new = np.abs(rest) <= 3.5 * size
        if new.sum() < 3 or (new == kept).all():
            break
        kept = new
    scatter = float(np.sqrt(np.sum(rest[kept] ** 2) / max(kept.sum() - 2, 1)))
    return float(height[kept].mean() - slope * centre), scatter, int(kept.sum())
