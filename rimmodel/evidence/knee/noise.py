"""What the noise of a run may be like: a grid of candidate covariances of its points, the likelier ones first known.

Scatter of neighbouring points may be correlated in time (an Ornstein-Uhlenbeck process, beside readings that scatter
for themselves), it may grow with speed, follow the number of readings behind each point, and the level may drift
smoothly while rotor and stator warm. None of this is known beforehand, and a run of 30 points does not settle it.
So nothing is chosen: every candidate keeps the weight that the run gives it, and what follows is averaged over all.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats

CORRELATIONS = ((0.0, 1.0, 0.87), (0.3, 0.98, 0.026), (0.5, 0.98, 0.026), (0.7, 0.98, 0.023), (0.85, 0.98, 0.020),
                (0.95, 0.98, 0.016), (0.9, 0.6, 0.019))  # fmt: skip
"""Correlation from one point to the next, share of the variance that is so correlated, prior weight."""

GROWTHS = ((1.0, 0.94), (2.0, 0.025), (4.0, 0.02), (7.0, 0.015))
"""Standard deviation at the highest over that at the lowest speed, linear in speed squared, and prior weight."""

DRIFTS = (("none", 0.0, 0.7), ("straight", 10.0, 0.12), ("curved", 10.0, 0.12), ("smooth", 3.0, 0.06))
"""Kind of drift, its standard deviation over that of a point, and prior weight. A drift of few shapes is its own
candidate: a knee would else be the simpler reading of what a plain warming does."""

FAST = 0.15
"""Time constant, as a share of the run, of the fast part of a curved drift."""

SMOOTH = 0.3
"""Length, as a share of the run, over which a drift may change its slope: rim and stator take hours to warm."""

TOGETHER = 0.85
"""Largest share of the variance that is correlated where points have scatter of their own."""

LEAST = 0.7
"""Noise cannot lie below this share of the own errors of points, which are estimates themselves."""

OWN = 0.4
"""Prior weight of scatter by the number of readings behind each point, where that is known."""


@dataclass(frozen=True)
class NoiseModels:
    """Candidate covariances of the points (n) of one run, each for points of mean variance 1 without drift.

    Attributes
    ----------
    weight : array (model,), -
        Natural logarithm of the prior weight.
    root : array (model, n, n), -
        Inverse of the lower Cholesky factor: makes the noise of a model white.
    log_size : array (model,), -
        Half the logarithm of the determinant of the covariance.
    least : array (model,), unit of y
        Standard deviation of a point below which the noise of each cannot lie, as its independent part would be less
        than what the readings of the points show; 0 where nothing is known of that.
    correlation, increase, drift : array (model,), -
    by_readings : bool array (model,)
        True where the scatter follows the readings behind each point.
    """

    weight: Floats
    root: Floats
    log_size: Floats
    least: Floats
    correlation: Floats
    increase: Floats
    drift: Floats
    by_readings: NDArray[np.bool_]

    @property
    def plain(self) -> NDArray[np.bool_]:
        """True (model,) for independent noise of one size."""
        steady = (self.correlation == 0.0) & (self.increase == 1.0)
        return np.asarray(steady & (self.drift == 0.0) & ~self.by_readings, dtype=np.bool_)

    def keep(self, kept: NDArray[np.intp]) -> NoiseModels:
        """Return the models with the given numbers."""
        arrays = ("weight", "root", "log_size", "least", "correlation", "increase", "drift", "by_readings")
        return replace(self, **{name: getattr(self, name)[kept] for name in arrays})


def noise_models(
    x: Floats, moment: Floats, own_error: Floats | None = None, readings: Floats | None = None
) -> NoiseModels:
    """Return the candidate covariances for points read at given moments.

    Parameters
    ----------
    x : array (n,), unit of x
        Speed squared.
    moment : array (n,), unit of time
        Time, or the place in the file; distances alone count.
    own_error : array (n,), unit of y, optional
        Standard error of each point from its own readings; nan where not known.
    readings : array (n,), -, optional
        Points of the record that each point is the mean of.

    Returns
    -------
    NoiseModels

    The first model is white noise:

    >>> models = noise_models(np.arange(4.0), np.arange(4.0))
    >>> bool(np.allclose(models.root[0], np.eye(4)))
    True
    """
    apart = np.abs(moment[:, None] - moment)
    steps = np.diff(np.unique(moment))
    apart = apart / (float(np.median(steps)) if len(steps) else 1.0)
    drifted = _drifts(moment)
    grown = (x - x.min()) / np.ptp(x)
    size = np.ones(len(x)) if readings is None else readings
    known = None if own_error is None else completed(own_error)
    rms = 0.0 if known is None else float(np.sqrt(np.mean(known**2)))
    correlated = {step: step**apart if step else np.eye(len(x)) for step, _, _ in CORRELATIONS}
    rows, weights, covariances = [], [], []
    for (step, share, likely), (growth, grows), (kind, drifting, drifts) in product(CORRELATIONS, GROWTHS, DRIFTS):
        spread = 1.0 + (growth - 1.0) * grown
        patterns = [(spread / np.sqrt(np.mean(spread**2)), False, 1.0)]
        if known is not None and growth == 1.0:
            patterns = [(*patterns[0][:2], 1.0 - OWN), (known / np.sqrt(np.mean(known**2)), True, OWN)]
        for pattern, by_readings, part in patterns:
            own = (1.0 - (share if known is None else min(share, TOGETHER))) if step else 1.0
            covariance = np.outer(pattern, pattern) * correlated[step] * (1.0 - own)
            covariance = covariance + np.diag(own * pattern**2 * np.mean(size) / size) + drifting**2 * drifted[kind]
            rows.append((LEAST * rms / np.sqrt(own), step, growth, drifting, by_readings))
            weights.append(likely * grows * drifts * part)
            covariances.append(covariance)
    factor = np.linalg.cholesky(np.array(covariances))
    log_size: Floats = np.log(np.einsum("mii->mi", factor)).sum(axis=1)
    columns = [np.array(column) for column in zip(*rows, strict=True)]
    inverse: Floats = np.asarray(np.linalg.inv(factor), dtype=np.float64)
    prior: Floats = np.log(np.array(weights))
    return NoiseModels(prior, inverse, log_size, *columns)


def _drifts(moment: Floats) -> dict[str, Floats]:
    """Covariance (n, n) by kind of drift, of unit variance about its mean, alike from either end of the run.

    Straight in time; curved, a parabola with a fast exponential approach early or late; smooth, half a straight line
    and half a Matérn process of order 3/2.
    """
    span = float(np.ptp(moment)) or 1.0
    place = (moment - moment.min()) / span
    early, late = np.exp(-place / FAST), np.exp((place - 1.0) / FAST)
    centred = [shape - shape.mean() for shape in (place, (2.0 * place - 1.0) ** 2, early, late)]
    straight, bent, *fast = (np.outer(shape, shape) / (float(np.mean(shape**2)) or 1.0) for shape in centred)
    curved = (straight + 0.5 * bent + 0.5 * sum(fast)) / 2.5
    distance = np.sqrt(3.0) * np.abs(place[:, None] - place) / SMOOTH
    curve = (1.0 + distance) * np.exp(-distance)
    centre = np.eye(len(place)) - 1.0 / len(place)
    curve = centre @ curve @ centre
    smooth = 0.5 * straight + 0.5 * curve / (np.mean(np.diag(curve)) or 1.0)
    return {"none": np.zeros_like(straight), "straight": straight, "curved": np.asarray(curved), "smooth": smooth}


def completed(own_error: Floats) -> Floats | None:
    """Return own errors with the median for those not known; None where none is above zero.

    Parameters
    ----------
    own_error : array (n,), unit of y

    Returns
    -------
    array (n,) or None, unit of y

    >>> completed(np.array([2.0, np.nan, 0.0])).tolist()
    [2.0, 2.0, 2.0]
    """
    good = np.isfinite(own_error) & (own_error > 0.0)
    if not good.any():
        return None
    return np.where(good, own_error, np.median(own_error[good]))


def known_noise(weight: Floats) -> NoiseModels:
    """Return the one model of independent noise whose standard deviation is known point by point.

    Parameters
    ----------
    weight : array (n,), unit of 1/y
        One over the standard deviation.

    Returns
    -------
    NoiseModels
    """
    none = np.zeros(1)
    return NoiseModels(
        none, np.diag(weight)[None], -np.log(weight).sum(keepdims=True), none, none, np.ones(1), none, none > 0.0
    )


@dataclass(frozen=True)
class FoundNoise:
    """What a run says of its noise: the models that are not negligible, each with its probability.

    Attributes
    ----------
    member : int array (n,)
        Group that each point used belongs to; the models are those of the groups' means.
    weight : array (model,), -
    known : bool
        Whether the noise level was given.
    """

    member: NDArray[np.intp]
    models: NoiseModels
    weight: Floats
    known: bool

    @property
    def likeliest(self) -> int:
        """Number of the likeliest model."""
        return int(np.argmax(self.weight))

    @property
    def correlated(self) -> float:
        """Probability, dimensionless, that readings are correlated in time, or drift."""
        return float(self.weight[(self.models.correlation > 0.0) | (self.models.drift > 0.0)].sum())

    @property
    def drifting(self) -> float:
        """Probability, dimensionless, that the level drifts."""
        return float(self.weight[self.models.drift > 0.0].sum())

    @property
    def growing(self) -> float:
        """Probability, dimensionless, that the scatter grows with speed."""
        return float(self.weight[self.models.increase > 1.0].sum())

    @property
    def correlation(self) -> float:
        """Mean correlation from one point to the next, -."""
        return float(self.weight @ self.models.correlation)
