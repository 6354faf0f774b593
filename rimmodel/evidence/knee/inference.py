"""How plausible a bend is: a test that knows the knee was searched for.

A bend found by looking everywhere looks more significant than it is, so the textbook F distribution does not hold. It
is replaced here by the distribution of the largest bend score itself.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.knee.broken_line import Scan

Verdict = Literal["resolved", "above tested range", "already floating", "not resolvable"]


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
