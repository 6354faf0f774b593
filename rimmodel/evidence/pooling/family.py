"""A family of sister units: one number of each, before and after what the others say of it.

The number of a unit scatters about the mean of the family, and its measurement about the number: normal within normal.
How far units really differ is not known from a few of them, so their spread is never set to a best value: it is
integrated over with a half-t prior, as Gelman, Bayesian Analysis 1 (2006) 515 recommends for few groups; in his
example of eight schools the prior is flat, here it is `SPREAD_SCALE` times the errors wide.

Shrinkage helps most units and hurts the worst: a unit that really is bad is drawn towards its good sisters, and the
interval that follows from the family alone misses the worst of eight units in one case in eight where spread and
errors are alike. So an interval after pooling never lies inside `KEPT` of the unit's own (a limit on translation, after
Efron & Morris, Journal of the American Statistical Association 66 (1971) 807; from memory), and a unit whose own value
the others do not predict is not pooled at all.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rimmodel.arrays import Floats, floats, require

FEWEST = 3
"""Units from which a family says something of its spread."""

DEGREES = 4.0
"""Degrees of freedom of the half-t prior of the spread."""

SPREAD_SCALE = 3.0
"""Scale of that prior, in root mean squares of the errors: wide, and bounded for few units."""

KEPT = 0.75
"""Share of a unit's own interval, about its own value, that its interval after pooling always holds."""

APART = 0.05
"""Chance, for a whole family of normal units, that any of them is taken to stand apart."""

NODES = 64
"""Spreads at which the integral over the spread is taken."""


@dataclass(frozen=True)
class Shrunk:
    """What a family says of its mean, its spread, and each of its units.

    Attributes
    ----------
    mean : float, unit of value
    mean_interval : pair of float, unit of value
    spread : float, unit of value
        Median of the standard deviation of true values between units.
    spread_interval : pair of float, unit of value
    best, low, high : array (unit,), unit of value
        Mean and interval of each unit's true value, before any limit on translation.
    """

    mean: float
    mean_interval: tuple[float, float]
    spread: float
    spread_interval: tuple[float, float]
    best: Floats
    low: Floats
    high: Floats


@dataclass(frozen=True)
class PredictedByOthers:
    """Each unit's own value as all others predict it.

    Attributes
    ----------
    best, low, high : array (unit,), unit of value
        Of what would be measured on the unit, with its own error.
    chance : array (unit,), -
        That a value lies at least as far out as the unit's own, to either side.
    """

    best: Floats
    low: Floats
    high: Floats
    chance: Floats


@dataclass(frozen=True)
class Family:
    """A family with each unit before and after pooling.

    Attributes
    ----------
    value, error : array (unit,), unit of value
        Own value and its standard error, as given.
    apart : bool array (unit,)
        True where the others do not predict the unit: it is not pooled, and says nothing of the others.
    shrunk : Shrunk or None
        Of the units that do not stand apart, in their order; None where fewer than `FEWEST` are left.
    best, low, high : array (unit,), unit of value
        After pooling; own value and interval of a unit that is not pooled.
    """

    value: Floats
    error: Floats
    predicted: PredictedByOthers
    apart: NDArray[np.bool_]
    shrunk: Shrunk | None
    best: Floats
    low: Floats
    high: Floats


def pooled_family(value: ArrayLike, error: ArrayLike, confidence: float = 0.95) -> Family:
    """Pool one number of several sister units, each with the limits that keep a bad unit from being hidden.

    Parameters
    ----------
    value : array (unit,), unit of value
    error : array (unit,), unit of value
        Standard errors of what is the unit's own; errors that all units share are no part of them, as no number of
        units averages those.
    confidence : float, -

    Raises
    ------
    ValueError
        Fewer than three units, or an error that is not above zero and finite.

    Units that measure alike within their errors support one another:

    >>> family = pooled_family([1.0, 1.1, 0.9, 1.0], [0.1, 0.1, 0.1, 0.1])
    >>> bool(family.apart.any()), bool(np.all(family.high - family.low < 2 * 1.96 * 0.1))
    (False, True)
    """
    own, own_error = floats(value), floats(error)
    predicted = predicted_by_others(own, own_error, confidence)
    apart = predicted.chance < APART / len(own)
    reach = _reach(confidence) * own_error
    best, low, high = own.copy(), own - reach, own + reach
    kept = ~apart
    shrunk = None
    if kept.sum() >= FEWEST:
        shrunk = shrunk_to_family(own[kept], own_error[kept], confidence)
        best[kept] = shrunk.best
        low[kept] = np.minimum(shrunk.low, own[kept] - KEPT * reach[kept])
        high[kept] = np.maximum(shrunk.high, own[kept] + KEPT * reach[kept])
    return Family(own, own_error, predicted, apart, shrunk, best, low, high)


def shrunk_to_family(
    value: ArrayLike, error: ArrayLike, confidence: float = 0.95, scale: float | None = None
) -> Shrunk:
    """What follows from normal units about a normal family with half-t spread, and from nothing else.

    Parameters
    ----------
    value, error, confidence : as in `pooled_family`
    scale : float, unit of value, optional
        Of the half-t prior; `SPREAD_SCALE` times the root mean square error when None, infinite for a flat prior.

    Raises
    ------
    ValueError
        Fewer than three units, or an error that is not above zero and finite.

    Notes
    -----
    At a spread t the mean is normal with precision ``W = sum 1/(s_j^2 + t^2)`` about ``sum y_j/(s_j^2 + t^2) / W``
    and each unit is normal about ``(1 - B_j) y_j + B_j mean``, ``B_j = s_j^2/(s_j^2 + t^2)``; the weight of t is
    ``prior(t) W^-1/2 prod (s_j^2 + t^2)^-1/2 exp(-sum (y_j - mean)^2 / 2 (s_j^2 + t^2))``. Gelman et al., Bayesian
    Data Analysis, 3rd ed., eq. 5.20 and 5.21; from memory, derived again here.
    """
    own, own_error = _checked(value, error)
    spread, weight, mean, variance = _spreads(own, own_error, scale)
    share = own_error**2 / (own_error**2 + spread[:, None] ** 2)
    centre = (1.0 - share) * own + share * mean[:, None]
    width = np.sqrt((1.0 - share) * own_error**2 + share**2 * variance[:, None])
    tail = 0.5 * (1.0 - confidence)
    low, high = (_quantile(weight, centre, width, level) for level in (tail, 1.0 - tail))
    of_mean = [_quantile(weight, mean[:, None], np.sqrt(variance)[:, None], level)[0] for level in (tail, 1.0 - tail)]
    climbed = np.cumsum(weight) - 0.5 * weight
    spread_low, middle, spread_high = (float(np.interp(level, climbed, spread)) for level in (tail, 0.5, 1.0 - tail))
    return Shrunk(
        float(weight @ mean), (float(of_mean[0]), float(of_mean[1])), middle, (spread_low, spread_high),
        weight @ centre, low, high,
    )  # fmt: skip


def predicted_by_others(value: ArrayLike, error: ArrayLike, confidence: float = 0.95) -> PredictedByOthers:
    """Each unit left out in turn, and its own value predicted by the family of the others.

    Parameters
    ----------
    value, error, confidence : as in `pooled_family`

    Raises
    ------
    ValueError
        Fewer than three units, or an error that is not above zero and finite.
    """
    from scipy.special import ndtr

    own, own_error = _checked(value, error)
    each = [_spreads(np.delete(own, unit), np.delete(own_error, unit), None) for unit in range(len(own))]
    spread, weight, mean, variance = (np.stack(column, axis=1) for column in zip(*each, strict=True))
    width = np.sqrt(variance + spread**2 + own_error**2)
    below = np.sum(weight * ndtr((own - mean) / width), axis=0)
    tail = 0.5 * (1.0 - confidence)
    low, high = (_quantile(weight, mean, width, level) for level in (tail, 1.0 - tail))
    return PredictedByOthers(np.sum(weight * mean, axis=0), low, high, 2.0 * np.minimum(below, 1.0 - below))


def _checked(value: ArrayLike, error: ArrayLike) -> tuple[Floats, Floats]:
    own, own_error = floats(value), floats(error)
    if own.ndim != 1 or own.shape != own_error.shape:
        raise ValueError(f"value and error must be one number per unit each, got shapes {own.shape}, {own_error.shape}")
    if len(own) < FEWEST:
        raise ValueError(f"{len(own)} units; a family needs at least {FEWEST}: fewer say nothing of how units differ")
    require(np.isfinite(own), "value", own, "", "a finite number for every unit")
    require(np.isfinite(own_error) & (own_error > 0.0), "error", own_error, "", "above zero and finite for every unit")
    return own, own_error


def _spreads(own: Floats, error: Floats, scale: float | None) -> tuple[Floats, Floats, Floats, Floats]:
    """Spreads (node,) with their probabilities, and mean of the family with its variance at each.

    Gauss and Legendre over t/(1 - t): all spreads from zero to infinity.
    """
    size = float(np.sqrt(np.mean(error**2)))
    wide = SPREAD_SCALE * size if scale is None else scale
    place, step = np.polynomial.legendre.leggauss(NODES)
    inside = 0.5 * (place + 1.0)
    unit = max(size, float(np.std(own)))
    spread = unit * inside / (1.0 - inside)
    variance = error**2 + spread[:, None] ** 2
    precision = np.sum(1.0 / variance, axis=1)
    mean = np.sum(own / variance, axis=1) / precision
    log = -0.5 * np.log(precision) - 0.5 * np.sum(np.log(variance), axis=1)
    log -= 0.5 * np.sum((own - mean[:, None]) ** 2 / variance, axis=1)
    log -= 0.5 * (DEGREES + 1.0) * np.log1p((spread / wide) ** 2 / DEGREES)
    weight = np.exp(log - log.max()) * step / (1.0 - inside) ** 2
    return spread, weight / weight.sum(), mean, 1.0 / precision


def _quantile(weight: Floats, centre: Floats, width: Floats, level: float) -> Floats:
    """Value (unit,) below which a mixture of normals (node, unit) has a probability, by bisection."""
    from scipy.special import ndtr

    share = np.broadcast_to(weight if weight.ndim == 2 else weight[:, None], centre.shape)
    worth = (share > 1e-9).any(axis=1)
    share, centre, width = share[worth], centre[worth], width[worth]
    low, high = (centre - 9.0 * width).min(axis=0), (centre + 9.0 * width).max(axis=0)
    for _ in range(46):
        middle = 0.5 * (low + high)
        above = np.sum(share * ndtr((middle - centre) / width), axis=0) > level
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    found: Floats = 0.5 * (low + high)
    return found


def _reach(confidence: float) -> float:
    from scipy.special import ndtri

    return float(ndtri(0.5 * (1.0 + confidence)))
