"""How plausible a bend, and each position of its knee, is: tests that know the knee was searched for.

A bend found by looking everywhere looks more significant than it is, and the misfit of a broken line has
kinks at the points, so neither the textbook F distribution nor the usual chi-squared drop holds. Both are
replaced here by the distribution of the largest bend score itself.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.knee.broken_line import Scan

Verdict = Literal["resolved", "above tested range", "already floating", "not resolvable"]

DRAWS = 999
"""Simulated scans behind each plausibility: 999 leave an error of 0.007 at a plausibility of 0.05."""

BLOCK = 4096
"""Points whose noise is simulated at a time, to keep memory small."""


@dataclass(frozen=True)
class Answer:
    """Where the knee may be, and plausibility over the knees tried.

    Attributes
    ----------
    interval : pair of float, unit of x
        Infinite where unbounded.
    level : float, -
        1 - confidence.
    p_value : float, -
    candidates : array (K,), unit of x
    plausibility : array (K,), -
    """

    verdict: Verdict
    interval: tuple[float, float]
    level: float
    p_value: float
    candidates: Floats
    plausibility: Floats


def path_length(directions: Floats) -> float:
    """Return the length of the curve that the unit vectors q(t) draw on the sphere.

    Parameters
    ----------
    directions : array (K, n), -

    Returns
    -------
    float, rad

    Along two sides of an octant, a quarter turn each:

    >>> round(path_length(np.eye(3)), 6)
    3.141593
    """
    chords = np.linalg.norm(np.diff(directions, axis=0), axis=1)
    return float(np.sum(2.0 * np.arcsin(np.minimum(chords / 2.0, 1.0))))


def one_line_probability(
    largest_score: float, length: float, degrees_of_freedom: int, noise_known: bool, sides: int = 1
) -> float:
    """Return the probability that one straight line would show so large a bend somewhere along the scan.

    ``P <= P(score at one place) + length/(2 pi) exp(-c**2/2)`` for known noise, and with
    ``(1 - c**2)**((m - 2)/2)`` for noise from the residuals, m = degrees_of_freedom and c the cosine of the
    angle between residuals and q(t). An upper bound, close when small: adjacent candidates enter by the
    probability of crossing between them (Davies, Biometrika 64, 1977, p. 247, and 74, 1987, p. 33; Naiman,
    Annals of Statistics 14, 1986, p. 896; from memory).

    Parameters
    ----------
    largest_score : float, unit of noise
        The cosine c where the noise is not known.
    length : float, rad
        Of the path of q(t).

    Returns
    -------
    float, -

    >>> round(one_line_probability(1.96, 0.0, 20, True), 3)          # no search: one tail of the normal
    0.025
    """
    from scipy.special import betainc, ndtr

    c = largest_score
    if c <= 0.0:
        return 1.0
    if noise_known:
        single, crossing = float(ndtr(-c)), math.exp(-0.5 * c**2)
    else:
        half, sine_squared = 0.5 * (degrees_of_freedom - 1), max(1.0 - c**2, 0.0)
        single, crossing = 0.5 * float(betainc(half, 0.5, sine_squared)), sine_squared ** (half - 0.5)
    return min(1.0, sides * (single + length / (2.0 * math.pi) * crossing))


def p_value_of(found: Scan) -> float:
    """Return `one_line_probability` of the largest bend score that a scan found.

    Returns
    -------
    float, -
    """
    points = found.points
    largest = found.largest
    if not points.noise_known:
        largest /= math.sqrt(found.line_misfit) or 1.0
    freedom, sides = len(points.x) - 2, 1 if points.sign else 2
    return one_line_probability(largest, path_length(found.directions), freedom, points.noise_known, sides)


class KneePlausibility:
    """At each candidate knee, the probability of a scan that speaks as loudly against it as the measured scan.

    If the knee is at t, the data are a broken line bent at t plus noise. Given the fitted line and (noise
    unknown) the length of the residuals, which together are sufficient, the direction of the residuals is
    uniform and free of every unknown: the distribution of the largest score is then known exactly and is
    simulated. Its test has exactly the stated level for normal noise, for any design, number of points and
    size of bend (Knowles, Siegmund & Zhang, Biometrika 78, 1991, p. 15; from memory). All candidates share
    one set of simulated scans: with G = Q g for normal g, a scan of noise at right angles to q(t0) is ``G -
    (Q q0) (q0 . g)``. Fixed seed, drawn in the order of x: the same points in any order, or
    upside down, give the same answer.
    """

    def __init__(self, found: Scan, draws: int = DRAWS, seed: int = 20) -> None:
        self.found = found
        generator = np.random.default_rng(seed)
        order = np.argsort(found.points.x, kind="stable")
        self.scores, in_line = np.zeros((len(found.candidates), draws)), np.zeros((2, draws))
        self.length = np.zeros(draws)
        for start in range(0, len(order), BLOCK):
            block = order[start : start + BLOCK]
            normal = (found.points.sign or 1.0) * generator.standard_normal((len(block), draws))
            self.scores += found.directions[:, block] @ normal
            in_line += found.line[block].T @ normal
            self.length += (normal**2).sum(axis=0)
        self.length -= (in_line**2).sum(axis=0)
        self.cosines = found.directions @ found.directions.T
        self.work = np.empty_like(self.scores)  # one for all: fresh megabytes cost more than the sums

    def at(self, index: int) -> float:
        """Return the plausibility, dimensionless, of the candidate knee with this index."""
        own, along, work = self.scores[index], self.cosines[index], self.work
        noise: Floats | float = 1.0
        if not self.found.points.noise_known:
            misfit = max(self.found.line_misfit - self.found.score[index] ** 2, 0.0)
            noise = np.sqrt(misfit / np.maximum(self.length - own**2, 1e-300))
        np.multiply(along[:, None], own, out=work)
        np.subtract(self.scores, work, out=work)
        work *= noise
        work += (along * self.found.score[index])[:, None]
        largest = self.found.largest
        highest = self.found.points.highest(work)
        return float((1 + np.sum(highest >= largest - 1e-12 * abs(largest))) / (1 + len(highest)))

    def profile(self, level: float, stride: int = 4) -> tuple[Floats, Floats]:
        """Return candidate knees tried (unit of x) and their plausibility, dense only where it crosses ``level``."""
        count = len(self.found.candidates)
        tried = {index: self.at(index) for index in {*range(0, count, stride), self.found.best, count - 1}}
        for _ in range(stride.bit_length()):
            known = sorted(tried)
            for low, high in pairwise(known):
                if high - low > 1 and (tried[low] > level) != (tried[high] > level):
                    middle = (low + high) // 2
                    tried[middle] = self.at(middle)
        known = sorted(tried)
        return self.found.candidates[known], np.array([tried[index] for index in known])


def plausible_range(knees: Floats, plausibility: Floats, level: float) -> tuple[float, float]:
    """Return the outermost knees of plausibility above ``level``, infinite where the last is still above.

    Between two knees tried the plausibility is taken as straight.

    Parameters
    ----------
    knees : array (K,), unit of x
    plausibility : array (K,), -
    level : float, -

    Returns
    -------
    pair of float, unit of x

    >>> plausible_range(np.array([0., 1., 2., 3.]), np.array([0.0, 0.1, 0.5, 0.2]), 0.05)
    (0.5, inf)
    """
    above = np.flatnonzero(plausibility > level)
    first, last = above[0], above[-1]
    low, high = -math.inf, math.inf
    if first > 0:
        low = float(np.interp(level, plausibility[first - 1 : first + 1], knees[first - 1 : first + 1]))
    if last < len(knees) - 1:
        high = float(np.interp(-level, -plausibility[last : last + 2], knees[last : last + 2]))
    return low, high


def range_by_drop(
    knees: Floats, misfit: Floats, confidence: float, degrees_of_freedom: int | None
) -> tuple[float, float]:
    """Return the knees whose misfit is within the chi-squared (noise estimated: F) drop; infinite at an end
    reached.

    For one parameter; exact only where the misfit is parabolic, so not for a knee from data alone
    (`KneePlausibility`).

    Parameters
    ----------
    knees : array (K,), unit of x
    misfit : array (K,), unit of noise squared
    confidence : float, -
    degrees_of_freedom : int or None
        None where the noise is known.

    Returns
    -------
    pair of float, unit of x

    >>> low, high = range_by_drop(np.linspace(-4.0, 4.0, 801), np.linspace(-4.0, 4.0, 801) ** 2, 0.95, None)
    >>> round(low, 2), round(high, 2)
    (-1.96, 1.96)
    """
    from scipy.special import ndtri, stdtrit

    upper = 0.5 + 0.5 * confidence
    bound = ndtri(upper) if degrees_of_freedom is None else stdtrit(degrees_of_freedom, upper)
    return plausible_range(knees, misfit.min() - misfit, -(float(bound) ** 2))


def bootstrap_range(found: Scan, confidence: float, draws: int = 499, seed: int = 21) -> tuple[float, float]:
    """Return the range of the knee over data rebuilt from the best broken line and its resampled residuals.

    Residuals are centred and scaled up by sqrt(n/(n - 4)); the range is that of percentiles. It stays within
    the candidates and leans on the size of the bend as found, so it is a second opinion and no more.

    Parameters
    ----------
    confidence : float, -

    Returns
    -------
    pair of float, unit of x
    """
    best, points = found.best, found.points
    residual = found.residual - found.score[best] * found.directions[best]
    residual = (residual - residual.mean()) * math.sqrt(len(residual) / max(len(residual) - 4, 1))
    picks = np.random.default_rng(seed).integers(len(residual), size=(len(residual), draws))
    scores = found.directions @ residual[picks]
    scores += (found.directions @ found.directions[best] * found.score[best])[:, None]
    knees = found.candidates[points.speaking(scores).argmax(axis=0)]
    low, high = np.quantile(knees, [0.5 - confidence / 2.0, 0.5 + confidence / 2.0])
    return float(low), float(high)


def detectable_score(length: float, level: float, chance: float = 0.9) -> float:
    """Return the bend, in standard deviations, that the test finds at ``level`` with the given chance.

    The critical score of `one_line_probability` for known noise plus the normal quantile of ``chance``.

    Parameters
    ----------
    length : float, rad
        Of the path of q(t).
    level, chance : float, -

    Returns
    -------
    float, unit of noise

    No search, one tail of 2.5 %, found every other time:

    >>> round(detectable_score(0.0, 0.025, 0.5), 2)
    1.96
    """
    from scipy.special import ndtri

    low, high = 0.0, 10.0
    while high - low > 1e-3:
        middle = 0.5 * (low + high)
        if one_line_probability(middle, length, 0, True) > level:
            low = middle
        else:
            high = middle
    return high + float(ndtri(chance))
