"""Amplitude of a harmonic from its two noisy parts: an interval that is right even where the amplitude is small.

The squared amplitude over the squared standard error of a part is non-central chi-squared with two degrees of
freedom; its non-centrality, the true ratio squared, is bounded by turning the distribution round (Neyman). A plain
amplitude plus and minus its error would never hold zero.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats, floats

_FAR = 25.0
"""Standard errors from which an amplitude is as good as normal."""


@dataclass(frozen=True)
class Amplitude:
    """Amplitude of a harmonic with its interval; NaN where it cannot be determined, never zero for that.

    Attributes
    ----------
    size, low, high : array (point,), m
        `low` is zero where no waves at all would do as well.
    crest : array (point,), rad
        Angle of a crest, 0 to 2 pi over the harmonic.
    standard_error : array (point,), m
        Of each of its two parts, the larger.
    """

    size: Floats
    low: Floats
    high: Floats
    crest: Floats
    standard_error: Floats


def amplitude_interval(size: ArrayLike, standard_error: ArrayLike, confidence: float) -> tuple[Floats, Floats]:
    """Two-sided interval of an amplitude; method of the module.

    Parameters
    ----------
    size, standard_error : float or array (...), unit of size
    confidence : float, -

    Returns
    -------
    low, high : array (...), unit of size
        `low` is zero where noise alone makes as much often enough, `high` then too if it hardly ever makes so little.

    No waves at all are exceeded by ``1 - exp(-(size/error)^2/2)``: 2.5 % of the time it is above 2.716 errors.

    >>> low, high = amplitude_interval([2.70, 2.73], 1.0, 0.95)
    >>> print(low > 0)
    [False  True]
    """
    from scipy.special import chndtrinc, ndtri

    amplitude, error = np.broadcast_arrays(floats(size), floats(standard_error))
    z = float(ndtri((1.0 + confidence) / 2.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = amplitude / error
        near = np.where(ratio < _FAR, ratio, 1.0)
        ends = []
        for probability in ((1.0 + confidence) / 2.0, (1.0 - confidence) / 2.0):
            reached = -np.expm1(-0.5 * near**2)  # with no waves at all
            inside = reached > probability
            found = chndtrinc(np.where(inside, near**2, 9.0), 2.0, probability)
            ends.append(np.where(inside, np.sqrt(np.maximum(found, 0.0)), 0.0))
        far = (np.maximum(ratio - z, 0.0), ratio + z)
        low, high = (
            np.where(ratio < _FAR, near_end, far_end) * error for near_end, far_end in zip(ends, far, strict=True)
        )
        exact = error == 0.0
        unknown = ~(np.isfinite(amplitude) & np.isfinite(error))
    low, high = np.where(exact, amplitude, low), np.where(exact, amplitude, high)
    return np.where(unknown, np.nan, low), np.where(unknown, np.nan, high)


def amplitude_of(
    cosine: ArrayLike, sine: ArrayLike, standard_error: ArrayLike, harmonic: int, confidence: float
) -> Amplitude:
    """Amplitude from the parts of cos(n theta) and sin(n theta).

    Parameters
    ----------
    cosine, sine, standard_error : array (point,), m
    confidence : float, -

    >>> found = amplitude_of([3e-3], [4e-3], [0.0], 1, 0.95)
    >>> print(found.size, found.low, found.high)
    [0.005] [0.005] [0.005]
    """
    c, s, error = floats(cosine), floats(sine), floats(standard_error)
    size = np.hypot(c, s)
    low, high = amplitude_interval(size, error, confidence)
    crest = np.arctan2(s, c) / harmonic % (2.0 * np.pi / harmonic)
    return Amplitude(size, low, high, crest, error)
