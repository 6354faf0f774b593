"""Standard error of a mean over time, when readings that follow each other are alike."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from rimmodel.arrays import Floats

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from rimmodel.evidence.reduction.cells import Cells
    from rimmodel.evidence.reduction.dwells import Points


_LEAST_BLOCKS = 16


def mean_error(values: Floats) -> float:
    """Standard error of the mean of a stationary series.

    Parameters
    ----------
    values : float array (n,), unit of value
        In order of time; at least two.

    Returns
    -------
    float, unit of value
        sqrt(variance/n * tau). tau = 1 + 2 (sum of autocorrelations), the sum cut at
        the first pair of lags whose sum is not positive (initial positive sequence: Geyer, Practical Markov chain
        Monte Carlo, Statistical Science 7 (1992) 473-483, section 3.3, from memory), and never below 1.

    Neighbours of opposite sign make no mean worse, so tau is 1: sqrt((9 - 9/81)/8/9).

    >>> mean_error(np.array([1.0, -1.0, 1.0, -1.0, 1.0, -1.0, 1.0, -1.0, 1.0])).__round__(6)
    0.351364

    """
    n = values.size
    centred = values - values.mean()
    spectrum = np.fft.rfft(centred, 2 * n)
    covariance = np.fft.irfft(np.abs(spectrum) ** 2)[:n] / n
    if covariance[0] <= 0.0:
        return 0.0
    pairs = (covariance[: n // 2 * 2].reshape(-1, 2) / covariance[0]).sum(axis=1)
    end = int(np.argmax(pairs <= 0.0)) if (pairs <= 0.0).any() else pairs.size
    tau = max(1.0, 2.0 * float(pairs[:end].sum()) - 1.0)
    return float(np.sqrt(covariance[0] * n / (n - 1) * tau / n))


def block_error(cells: Cells, good: NDArray[np.bool_], points: Points, gap: Floats, pooled: float) -> Floats:
    """Standard error of the mean gap over sensors at each point.

    Parameters
    ----------
    cells : Cells
        Block means of all units.
    good : bool array (unit,)
        Units that are averaged.
    points : Points
        Point of each block.
    gap : float array (point, good unit), m
        Mean of each unit at each point; nan where missing.
    pooled : float, m
        Standard deviation of one unit's mean after level and sensor are taken out; nan when not known.

    Returns
    -------
    float array (point,), m
        With sixteen blocks or more: from the series of block means over sensors, whose common movement is kept
        (along a ramp the change with speed squared is taken out first). With fewer: from the scatter of readings of
        one sensor at one point, of this point or, below sixteen degrees of freedom, of all points; with single
        readings of several sensors: from what sensors leave unexplained; else nan.

    """
    count, mean, variance = cells.count[:, good], cells.gap[:, good], cells.variance[:, good]
    error = np.full(points.steady.size, np.nan)
    squares, freedom, spread = np.zeros_like(error), np.zeros_like(error), np.zeros_like(error)
    order = np.argsort(points.of_block, kind="stable")
    edges = np.searchsorted(points.of_block[order], np.arange(error.size + 1))
    for number, (first, end) in enumerate(pairwise(edges)):
        blocks = order[first:end]
        blocks = blocks[count[blocks].sum(axis=1) > 0]
        weight = count[blocks] > 0
        if blocks.size >= _LEAST_BLOCKS:
            deviation = np.where(weight, mean[blocks] - gap[number], 0.0).sum(axis=1) / weight.sum(axis=1)
            if not points.steady[number]:
                deviation = _without_trend(deviation, cells.speed[blocks] ** 2)
            error[number] = mean_error(deviation)
        elif blocks.size:
            squares[number], freedom[number], spread[number] = _scatter(
                count[blocks], mean[blocks], variance[blocks], gap[number]
            )
    few = spread > 0.0
    own = few & (freedom >= _LEAST_BLOCKS)
    error[own] = np.sqrt(squares[own] / freedom[own] * spread[own])
    sigma = float(np.sqrt(squares.sum() / freedom.sum())) if freedom.sum() >= 1.0 else pooled
    error[few & ~own] = sigma * np.sqrt(spread[few & ~own])
    return error


def _without_trend(values: Floats, x: Floats) -> Floats:
    x = x - x.mean()
    spread = float(x @ x)
    return values - x * float(x @ values) / spread if spread > 0.0 else values


def _scatter(count: Floats, mean: Floats, variance: Floats, gap: Floats) -> tuple[float, float, float]:
    """Sum of squares of readings about each unit's mean, degrees of freedom, variance of the mean per variance."""
    inner = np.where(count > 1, variance * (count - 1.0), 0.0)
    between = np.where(count > 0, count * (mean - gap) ** 2, 0.0)
    readings = count.sum(axis=0)
    present = readings[readings > 0]
    return float((inner + between).sum()), float((present - 1.0).sum()), float((1.0 / present).sum()) / present.size**2
