"""A distribution known from counts: mean, spread, quantiles and coverage intervals without keeping a single sample."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, nan, sqrt

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats, Interval

BINS = 16384
"""Bins of a histogram. They span about twenty standard deviations, so one is a thousandth of one wide."""


@dataclass(frozen=True)
class Distribution:
    """What a study shows of one output.

    Attributes
    ----------
    mean, standard_deviation, minimum, maximum : float, SI
        Of the finite values.
    edges : array (bin + 3,), SI
        The first and last bin reach to the least and the largest value.
    counts : int array (bin + 2,)
        All finite values, by bin.
    never, none : int
        Values of +inf (a rim that never floats); those without a state (NaN).

    Four values spread evenly over one bin have their median in its middle:

    >>> edges, counts = np.array([0.0, 0.0, 1.0, 1.0]), np.array([0, 4, 0])
    >>> Distribution("x", 0.5, 0.3, 0.0, 1.0, edges, counts, 0, 0).quantile(0.5)
    0.5
    """

    name: str
    mean: float
    standard_deviation: float
    minimum: float
    maximum: float
    edges: Floats
    counts: NDArray[np.int64]
    never: int
    none: int

    @property
    def finite(self) -> int:
        """Number of finite values."""
        return int(self.counts.sum())

    @property
    def samples(self) -> int:
        """Number of all values."""
        return self.finite + self.never + self.none

    @property
    def standard_error(self) -> float:
        """Standard error of the mean, SI, as of independent samples; scrambled Sobol points do better."""
        return self.standard_deviation / sqrt(self.finite) if self.finite else nan

    def quantile(self, probability: float) -> float:
        """Value (SI) below which a share of those that exist lies; inf among the rims that never float."""
        return float(self.quantiles(np.array([probability]))[0])

    def quantiles(self, probability: Floats) -> Floats:
        """`quantile` (SI) for an array; linear within a bin. Raises ValueError for a probability outside 0 to 1."""
        if not np.all((probability >= 0) & (probability <= 1)):
            raise ValueError(f"probability is {probability}; it must be from 0 to 1")
        if self.finite == 0:
            return np.full(probability.shape, inf if self.never else nan)
        rank = probability * (self.finite + self.never)
        full = np.flatnonzero(self.counts)
        upto = np.cumsum(self.counts[full])
        place = np.minimum(np.searchsorted(upto, rank), len(full) - 1)
        share = (rank - upto[place]) / self.counts[full][place] + 1
        low, high = self.edges[full][place], self.edges[full + 1][place]
        value = np.clip(low + share * (high - low), self.minimum, self.maximum)
        return np.where(rank > self.finite, inf, value)

    def interval(self, confidence: float = 0.95) -> Interval:
        """Coverage interval with equal tails, SI."""
        return self.quantile((1 - confidence) / 2), self.quantile((1 + confidence) / 2)

    def shortest_interval(self, confidence: float = 0.95) -> Interval:
        """Shortest coverage interval, SI (JCGM 101:2008, 5.3.4), lower end searched to 1/2000 of the tail."""
        starts = np.linspace(0, 1 - confidence, 2001)
        low, high = self.quantiles(starts), self.quantiles(np.minimum(starts + confidence, 1.0))
        if not np.isfinite(low).any():
            return float(low[0]), float(high[0])
        best = int(np.argmin(high - low))
        return float(low[best]), float(high[best])


def wilson(met: int, samples: int, confidence: float = 0.95) -> Interval:
    """Interval of a chance of which `met` of `samples` were seen (Wilson 1927, J. Amer. Stat. Assoc. 22, p. 209).

    For independent samples; Sobol points and Latin hypercubes do better than it says.

    Parameters
    ----------
    confidence : float, -

    Returns
    -------
    pair of float, -

    Raises
    ------
    ValueError
        `met` is not from 0 to `samples`, or there is no sample.

    >>> [round(end, 4) for end in wilson(0, 10)]  # no event: z^2/(n + z^2) at most
    [0.0, 0.2775]
    """
    from scipy.special import ndtri

    if not 0 <= met <= samples or samples < 1:
        raise ValueError(f"{met} of {samples} samples is no share")
    z = float(ndtri((1 + confidence) / 2))
    share, width = met / samples, z * z / samples
    middle = (share + width / 2) / (1 + width)
    half = z * sqrt(share * (1 - share) / samples + width / (4 * samples)) / (1 + width)
    return (0.0 if met == 0 else middle - half), (1.0 if met == samples else middle + half)
