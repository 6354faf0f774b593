"""A continuous broken line through weighted points, with every possible knee scanned at once.

The line is ``y = level + slope_before * min(x - knee, 0) + slope_after * max(x - knee, 0)``. For a given knee
it is linear in the rest, so the whole problem is a search along one axis. Its residual sum of squares has a
kink at every point and often several minima; it is therefore searched everywhere and never followed downhill
from a start value.

With the straight line taken out, a knee at t is one more direction in the space of residuals: the unit vector
q(t) of the hinge ``max(x - t, 0)`` made orthogonal to 1 and x. Its product with the data, the *bend score*,
is the bend in standard deviations, and ``RSS(t) = RSS(one line) - score(t)**2``. All inference of
`rimmodel.evidence.knee.fit` rests on these scores.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats

CANDIDATES = 160
"""About how many knees are tried: the cost of a fit goes with its square."""


def hinge(distance: Floats, width: float | Floats = 0.0) -> Floats:
    """Return max(distance, 0), rounded by a parabola over ``width`` (in x) when that is above zero.

    The parabola ``(distance + width/2)**2 / (2 width)`` joins both straight parts with their slopes (derived
    here): what a bend looks like that is spread evenly over ``width``, as when keys lift off one by one.

    Parameters
    ----------
    distance : array, unit of x
    width : float or array, unit of x

    Returns
    -------
    array, unit of x

    >>> float(hinge(np.float64(0.0), width=2.0))      # (0 + 1)^2 / 4
    0.25
    """
    sharp = np.maximum(distance, 0.0)
    half = np.asarray(width) / 2.0
    inside = np.abs(distance) < half
    rounded = (distance + half) ** 2 / np.where(inside, 4.0 * half, 1.0)
    return np.where(inside, rounded, sharp)


def candidate_knees(x: Floats, count: int = CANDIDATES) -> Floats:
    """Return positions at which a knee is tried: every distinct inner x, and even steps between them.

    In the first and the last gap between points a knee does not change the fit (one point alone can be met by
    any slope), so the second and the last but one distinct x stand for them. With more than ``count``
    distinct points the positions are thinned evenly by rank.

    Parameters
    ----------
    x : array (n,), unit of x

    Returns
    -------
    array (K,), unit of x
    """
    distinct = np.unique(x)
    gaps = len(distinct) - 3
    steps = gaps * max(1, count // gaps) if 0 < gaps <= count else min(max(gaps, 0), count)
    rank = np.linspace(1.0, len(distinct) - 2.0, steps + 1)
    return np.asarray(np.interp(rank, np.arange(len(distinct)), distinct))


@dataclass(frozen=True)
class Points:
    """Points (n) to fit, with what is known of their noise and of the bend.

    Attributes
    ----------
    x : array (n,), unit of x
    y : array (n,), unit of y
    weight : array (n,), unit of 1/y
        1/sigma where the noise is known, else 1 (or relative weights).
    sign : float, -
        Of the bend (slope after less slope before): -1, +1, or 0 for either.
    """

    x: Floats
    y: Floats
    weight: Floats
    noise_known: bool
    sign: float

    def keep(self, kept: NDArray[np.bool_]) -> Points:
        """Return the points where ``kept`` (n) is True."""
        return replace(self, x=self.x[kept], y=self.y[kept], weight=self.weight[kept])

    def speaking(self, score: Floats) -> Floats:
        """Return bend scores, in the unit given, so that a larger one speaks more for a bend of the sign looked for."""
        return self.sign * score if self.sign else np.abs(score)

    def highest(self, scores: Floats) -> Floats:
        """Return the largest of ``speaking`` along the first axis of scores (K, ...), without a copy."""
        if self.sign:
            return np.asarray(scores.max(axis=0) if self.sign > 0.0 else -scores.min(axis=0))
        return np.asarray(np.maximum(scores.max(axis=0), -scores.min(axis=0)))


@dataclass(frozen=True)
class Scan:
    """The bend scores of points for K candidate knees, in units of the noise where that is known.

    Attributes
    ----------
    width : float, unit of x
    candidates : array (K,), unit of x
    directions : array (K, n), -
        Unit vectors q(t).
    line : array (n, 2), -
        Orthonormal base of the weighted straight lines.
    residual : array (n,), unit of noise
        Weighted residuals from the straight line.
    score : array (K,), unit of noise
        Bend in standard deviations, negative where the slope falls.
    strength : array (K,), unit of score per bend
        Length of the hinge at right angles to the line: score per unit of bend.
    """

    points: Points
    width: float
    candidates: Floats
    directions: Floats
    line: Floats
    residual: Floats
    score: Floats
    strength: Floats

    @property
    def line_misfit(self) -> float:
        """Weighted residual sum of squares of one straight line, in units of noise squared."""
        return float(self.residual @ self.residual)

    @property
    def best(self) -> int:
        """Index of the candidate that speaks loudest for a knee of the sign looked for."""
        return int(self.points.speaking(self.score).argmax())

    @property
    def largest(self) -> float:
        """Its score in units of the noise, counted positive; below zero if all candidates bend in the other sense."""
        return float(self.points.speaking(self.score).max())

    @property
    def misfit(self) -> float:
        """Weighted residual sum of squares of the best broken line of the right sign, unit of noise squared."""
        return max(self.line_misfit - max(self.largest, 0.0) ** 2, 0.0)

    @property
    def variance(self) -> float:
        """Noise variance of a point of weight 1, unit of noise squared: estimated, or no less than 1 where given."""
        estimate = self.misfit / max(len(self.points.x) - 4, 1)
        return max(estimate, 1.0) if self.points.noise_known else estimate


def scan(points: Points, candidates: Floats, width: float = 0.0) -> Scan:
    """Return the bend score of every candidate knee of the given width by closed-form least squares.

    Parameters
    ----------
    candidates : array (K,), unit of x
    width : float, unit of x
    """
    x, weight = points.x, points.weight
    line, _ = np.linalg.qr(np.stack([weight, weight * (x - np.average(x, weights=weight**2))], axis=1))
    rows = hinge(x - candidates[:, None], width) * weight
    rows = rows - (rows @ line) @ line.T
    strength = np.linalg.norm(rows, axis=1)
    directions = rows / strength[:, None]
    residual = weight * (points.y - np.average(points.y, weights=weight**2))
    size = np.linalg.norm(residual)
    residual = residual - line @ (line.T @ residual)
    if np.linalg.norm(residual) < 1e-12 * size:  # a straight line to rounding: its rounding is no bend
        residual = np.zeros_like(residual)
    return Scan(points, width, candidates, directions, line, residual, directions @ residual, strength)


def sharp_optima(points: Points) -> tuple[Floats, Floats]:
    """Return knees among which the best sharp one is, three for each gap between distinct points, and their scores.

    Between two points the score is ``(a - b t) / sqrt(c - 2 d t + e t**2)`` with a ... e sums over the points
    beyond, so that all gaps together cost a few cumulative sums. It is stationary at
    ``t = (b c - a d)/(b d - a e)`` (derived here), once; that knee, held inside its gap, and both ends are
    returned. O(n) after sorting.

    Returns
    -------
    knees : array (k,), unit of x
    scores : array (k,), unit of noise
    """
    order = np.argsort(points.x, kind="stable")
    x, y, weight = points.x[order], points.y[order], points.weight[order] ** 2
    total, middle = weight.sum(), np.average(x, weights=weight)
    from_middle = x - middle
    spread = weight @ from_middle**2
    y = y - np.average(y, weights=weight)
    y = y - from_middle * ((weight * from_middle) @ y) / spread

    ends = np.flatnonzero(np.diff(x) > 0.0)  # last point of each group of equal x
    low, high = x[ends][1:-1], x[ends + 1][1:-1]

    def beyond(values: Floats) -> Floats:
        sums: Floats = np.cumsum(values[::-1])[::-1]
        return sums[ends[1:-1] + 1]

    count, first, second = beyond(weight), beyond(weight * from_middle), beyond(weight * from_middle**2)
    a, b = beyond(weight * from_middle * y), beyond(weight * y)
    # hinge = from_middle - t beyond the knee, less its projections on 1 and on from_middle
    c = second - first**2 / total - second**2 / spread
    d = first - first * count / total - second * first / spread
    e = count - count**2 / total - first**2 / spread
    with np.errstate(divide="ignore", invalid="ignore"):
        inside = (b * c - a * d) / (b * d - a * e)
        knees = np.stack([np.clip(np.nan_to_num(inside), low - middle, high - middle), low - middle, high - middle])
        scores = (a - b * knees) / np.sqrt(c - 2.0 * d * knees + e * knees**2)
    return knees.ravel() + middle, scores.ravel()


def full_scan(points: Points, width: float = 0.0) -> Scan:
    """Return the scan of the whole range, denser where the knee may well be.

    Two in three of the candidates go where the misfit is within 16 noise variances of the least, four
    standard deviations of a regular estimate, so that a sharp knee is not seen through a coarse grid.

    Parameters
    ----------
    width : float, unit of x
    """
    if width:
        half = width / 2.0
        candidates = np.linspace(points.x.min() + half, points.x.max() - half, CANDIDATES)
    else:
        candidates = candidate_knees(points.x)
    coarse = scan(points, candidates, width)
    likely = np.flatnonzero(
        points.speaking(coarse.score) > math.sqrt(max(coarse.largest**2 - 16.0 * coarse.variance, 0.0))
    )
    if len(likely) == 0:
        return coarse
    low, high = candidates[max(likely[0] - 1, 0)], candidates[min(likely[-1] + 1, len(candidates) - 1)]
    thinned = candidates[np.unique(np.linspace(0, len(candidates) - 1, CANDIDATES // 3).round().astype(int))]
    dense = np.linspace(low, high, 2 * CANDIDATES // 3)
    return scan(points, np.union1d(thinned, dense), width)


def best_knee(found: Scan) -> float:
    """Return the knee of least misfit whose bend has the sign looked for.

    The scan finds the basin, whatever the start; a sharp knee is then exact by `sharp_optima`, a rounded knee by
    narrowing the scan until it stands to 1e-9 of the range.

    Returns
    -------
    float, unit of x
    """
    points = found.points
    if found.width == 0.0:
        knees, scores = sharp_optima(points)
        return float(knees[points.speaking(scores).argmax()])
    while True:
        near = [max(found.best - 1, 0), min(found.best + 1, len(found.candidates) - 1)]
        low, high = found.candidates[near]
        if high - low < 1e-9 * np.ptp(points.x):
            return float(found.candidates[found.best])
        found = scan(points, np.linspace(low, high, 21), found.width)
