"""What the noise of a run may be like: a grid of candidate covariances of its points, the likelier ones first known.

Scatter of neighbouring points may be correlated in time (an Ornstein-Uhlenbeck process, beside readings that scatter
for themselves), it may grow with speed, follow the number of readings behind each point, and the level may drift
smoothly while rotor and stator warm. None of this is known beforehand, and a run of 30 points does not settle it.
So nothing is chosen: every candidate keeps the weight that the run gives it, and what follows is averaged over all.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from itertools import pairwise, product

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats

CORRELATIONS = ((0.0, 1.0, 0.43), (0.3, 0.98, 0.03), (0.6, 0.98, 0.05), (0.7, 0.98, 0.02), (0.8, 0.98, 0.01),
                (0.9, 0.98, 0.36), (0.95, 0.98, 0.09), (0.9, 0.6, 0.01))  # fmt: skip
"""Correlation from one point to the next, share of the variance that is so correlated, prior weight.

What costs coverage is a run of 30 points that looks white and is correlated by 0.6 to 0.8. Weight at 0.9 buys most for
its length: a run of white noise soon denies so strong a correlation, one of 0.8 does not, and what it then adds to the
interval makes up for the correlation that so few points show too low. All prior weights of noise and of the width of a
knee were sought together on 16,000 virtual runs of 145 families (`tests/benchmarks/noise_weights.py`)."""

GROWTHS = ((1.0, 0.98), (2.0, 0.012), (4.0, 0.006), (7.0, 0.002))
"""Standard deviation at the highest over that at the lowest speed, linear in speed squared, and prior weight."""

DRIFTING = {0.0: 0.5, 0.7: 0.5}
"""Prior probability of a level that drifts beside each correlation, nearly all of the variance so correlated. Most runs
last long enough for rim and stator to warm; but a drift beside independent noise also explains correlated noise, in too
short an interval."""

SMOOTH = 0.3
"""Length, as a share of the run, over which a drift of no known shape may change its slope."""

DRIFTS = (("straight", 0.0, 0.10), ("settling", 0.1, 0.05), ("settling", 0.2, 0.11), ("settling", 0.4, 0.11),
          ("settling", 1.0, 0.11), ("heated", 0.3, 0.15), ("heated", 2.0, 0.25), ("smooth", SMOOTH, 0.12))  # fmt: skip
"""Kind of drift, its time constant as a share of the run, and prior weight among drifts. Each shape is a candidate of
its own: a knee would else be the simpler reading of what a plain warming does. Settling is what is left of an earlier
state; heated is what windage, as the cube of speed, warms against a loss to the air; smooth is any curve. Heated looks
most like a knee and has the most weight: with 0.3 of that 10 % of 200 warming rims that never float were found to
float, with these weights 2.5 %."""

UNLIKE = 0.1
"""Size of such a drift that goes with each known shape, over that of the shape: no machine warms by one exponential."""

SIZES_OF_DRIFT = (3.0, 8.0, 25.0)
"""Change of level over the run, its standard deviation over that of a point: as likely as each other, as long as they
stay within what the machine can do."""

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
    most : array (model,), unit of y
        Standard deviation of a point at which the drift of each model, a multiple of it, is one standard uncertainty of
        what the machine can do; infinite without drift, or where nothing is known of that.
    correlation, increase, drift : array (model,), -
    by_readings : bool array (model,)
        True where the scatter follows the readings behind each point.
    slip : array (model,), unit of time
        Moment at which the level jumps; nan where it does not.
    """

    weight: Floats
    root: Floats
    log_size: Floats
    least: Floats
    most: Floats
    correlation: Floats
    increase: Floats
    drift: Floats
    by_readings: NDArray[np.bool_]
    slip: Floats

    @property
    def plain(self) -> NDArray[np.bool_]:
        """True (model,) for independent noise of one size."""
        return np.asarray(self.independent & (self.increase == 1.0) & ~self.by_readings, dtype=np.bool_)

    @property
    def independent(self) -> NDArray[np.bool_]:
        """True (model,) where no point knows of another: no correlation, no drift, no jump."""
        alone = (self.correlation == 0.0) & (self.drift == 0.0) & np.isnan(self.slip)
        return np.asarray(alone, dtype=np.bool_)

    def keep(self, kept: NDArray[np.intp]) -> NoiseModels:
        """Return the models with the given numbers."""
        return replace(self, **{one.name: getattr(self, one.name)[kept] for one in fields(self)})

    def chance_of_size(self, variance: Floats) -> Floats:
        """Return the logarithm (model, ...), dimensionless, of the prior of a drift beside a variance of points."""
        limit = self.most.reshape(-1, *(1,) * (variance.ndim - 1))
        return -0.5 * variance / limit**2


def noise_models(
    x: Floats,
    moment: Floats,
    own_error: Floats | None = None,
    readings: Floats | None = None,
    drift: float = np.inf,
    *,
    directed: bool = False,
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
    drift : float, unit of y
        Standard uncertainty of a change of level over the run.
    directed : bool
        Whether a later moment is known to be later: what settles, settles from the first moment on, or else from either
        end.

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
    grown = (x - x.min()) / np.ptp(x)
    drifted = _drifts(grown, moment)
    if not directed:
        drifted = [0.5 * (one + other) for one, other in zip(drifted, _drifts(grown, -moment), strict=True)]
    size = np.ones(len(x)) if readings is None else readings
    known = None if own_error is None else completed(own_error)
    rms = 0.0 if known is None else float(np.sqrt(np.mean(known**2)))
    correlated = {step: step**apart if step else np.eye(len(x)) for step, _, _ in CORRELATIONS}
    rows, weights, covariances = [], [], []
    for (step, share, likely), growth, kind, drifting, part in _candidates():
        spread = 1.0 + (growth - 1.0) * grown
        patterns = [(spread / np.sqrt(np.mean(spread**2)), False, 1.0)]
        if known is not None and growth == 1.0:
            patterns = [(*patterns[0][:2], 1.0 - OWN), (known / np.sqrt(np.mean(known**2)), True, OWN)]
        for pattern, by_readings, of_these in patterns:
            own = (1.0 - (share if known is None else min(share, TOGETHER))) if step else 1.0
            covariance = np.outer(pattern, pattern) * correlated[step] * (1.0 - own)
            covariance = covariance + np.diag(own * pattern**2 * np.mean(size) / size)
            most = drift / drifting if drifting else np.inf
            rows.append((LEAST * rms / np.sqrt(own), most, step, growth, drifting, by_readings))
            weights.append(likely * part * of_these)
            covariances.append(covariance + drifting**2 * drifted[kind] if drifting else covariance)
    factor = np.linalg.cholesky(np.array(covariances))
    log_size: Floats = np.log(np.einsum("mii->mi", factor)).sum(axis=1)
    columns = [*(np.array(column) for column in zip(*rows, strict=True)), np.full(len(rows), np.nan)]
    inverse: Floats = np.asarray(np.linalg.inv(factor), dtype=np.float64)
    prior: Floats = np.log(np.array(weights) / np.sum(weights))
    return NoiseModels(prior, inverse, log_size, *columns)


def _candidates() -> Iterator[tuple[tuple[float, float, float], float, int, float, float]]:
    """Yield correlation, growth, number and size of the drift, and the prior weight of the last three together."""
    for correlation in CORRELATIONS:
        drifts = DRIFTING.get(correlation[0], 0.0)
        for growth, grows in GROWTHS:
            yield correlation, growth, 0, 0.0, (1.0 - drifts) * grows
        if drifts:
            for (kind, (*_, likely)), size in product(enumerate(DRIFTS), SIZES_OF_DRIFT):
                yield correlation, 1.0, kind, size, drifts * GROWTHS[0][1] * likely / len(SIZES_OF_DRIFT)


def _drifts(share: Floats, moment: Floats) -> list[Floats]:
    """Covariance (n, n) of each of `DRIFTS` about its mean; each changes by 1 over the run.

    Parameters
    ----------
    share : array (n,), -
        Speed squared, 0 at the lowest and 1 at the highest.
    moment : array (n,), unit of time
    """
    span = float(np.ptp(moment)) or 1.0
    place = (moment - moment.min()) / span
    straight = _outer(place)
    # a Matérn process of order 3/2 about its mean, its variance that of the straight drift
    distance = np.sqrt(3.0) * np.abs(place[:, None] - place) / SMOOTH
    centre = np.eye(len(place)) - 1.0 / len(place)
    curve = centre @ ((1.0 + distance) * np.exp(-distance)) @ centre
    curve = curve * np.trace(straight) / (np.trace(curve) or 1.0)
    found: list[Floats] = []
    for kind, lag, _ in DRIFTS:
        if kind == "smooth":
            found.append(0.5 * straight + 0.5 * curve)
            continue
        course = place
        if kind == "settling":
            course = np.exp(-place / lag)
        elif kind == "heated":
            course = heated(share**1.5, place, lag)
        found.append(_outer(course) + UNLIKE**2 * curve)
    return found


def _outer(shape: Floats) -> Floats:
    """Covariance (n, n) of a shape whose size, from its least to its largest value, has variance 1."""
    centred = shape - shape.mean()
    centred = centred / (float(np.ptp(centred)) or 1.0)
    return np.outer(centred, centred)


def heated(power: Floats, place: Floats, lag: float) -> Floats:
    """Return the temperature (n,) of a body that power warms, against a loss to the air, from the first moment on.

    Parameters
    ----------
    power : array (n,), -
        Straight from moment to moment.
    place : array (n,), -
        Moments, in any order.
    lag : float, -
        Time constant of the loss.

    Returns
    -------
    array (n,), -
        1 is what power 1 would hold for good.

    Power 1 from the start, one time constant later: 1 - 1/e.

    >>> heated(np.ones(2), np.array([0.0, 0.5]), 0.5).round(4).tolist()
    [0.0, 0.6321]
    """
    order = np.argsort(place, kind="stable")
    warm = np.zeros(len(place))
    for before, now in pairwise(order):
        left = np.exp(-(place[now] - place[before]) / lag)
        warm[now] = left * warm[before] + (1.0 - left) * 0.5 * (power[now] + power[before])
    return warm


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
        none, np.diag(weight)[None], -np.log(weight).sum(keepdims=True), none, none + np.inf, none, np.ones(1), none,
        none > 0.0, none + np.nan,
    )  # fmt: skip


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
        """Probability, dimensionless, that readings are correlated in time, drift or jump."""
        return float(self.weight[~self.models.independent].sum())

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
