"""What a run says of lift-off and stiffnesses together, over all noise and all roundings that it leaves open.

The modelled rotor is fitted at each of many float speeds, sharp and rounded; about each fit everything but the float
speed is linear. Stiffnesses with their priors, level and noise level are then integrated out under every noise model
that the knee left open (`rimmodel.evidence.knee.noise`), so that both rest on the same view of the noise.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats
from rimmodel.evidence.backfit.fitter import Fitter
from rimmodel.evidence.backfit.gap_model import SCALES
from rimmodel.evidence.backfit.least_squares import jacobian
from rimmodel.evidence.backfit.positive_definite import inverse_and_size
from rimmodel.evidence.knee.cumulative import cumulative_of, interval_of
from rimmodel.evidence.knee.known_slopes import LEVELS
from rimmodel.evidence.knee.noise import NoiseModels
from rimmodel.evidence.knee.posterior import ABOVE, BELOW

EVEN, FINER = 36, 40
"""Float speeds tried at even steps of speed squared, and where the probability lies."""

BEYOND = 1.5
"""Float speed, over the highest tested, that stands for all beyond."""

UNSEEN = 1e4
"""Standard uncertainty, in units of `SCALES`, of an unknown of which nothing is known beforehand."""

WORTH = 1e-3
"""Share of the likeliest noise model's probability from which another is asked."""

STEPS = 240
"""Places at which a distribution is added up between the float speeds tried."""


@dataclass(frozen=True)
class FitPosterior:
    """Probability of the float speed in the run, and what the other unknowns are at each.

    Attributes
    ----------
    squared : array (K,), rad2/s2
        Float speeds tried, squared; the last lies beyond the tested range.
    likelihood : array (K,), -
        Relative probability per unit of `squared`; that of all beyond in the last.
    above : float, -
        Probability of a float speed beyond the tested range.
    below : float, -
        Probability that the rim floats from standstill, all but.
    unknowns : array (K, parameter), SI
        Means; the first is the float speed in the run, rad/s.
    covariance : array (K, parameter, parameter), SI
        Of the others at a given float speed.
    noise_covariance : array (n, n), m2
        Mean over all noise models.
    log_evidence : float, -
        Logarithm of the probability of these gaps, all unknowns integrated out over what was known of them beforehand;
        only differences between fits to the same points mean anything.
    """

    squared: Floats
    likelihood: Floats
    above: float
    below: float
    unknowns: Floats
    covariance: Floats
    noise_covariance: Floats
    log_evidence: float = math.nan

    @property
    def cumulative(self) -> Floats:
        """Probability (K - 1,) that the float speed lies below each of those within the tested range."""
        return cumulative_of(self.squared[:-1], self.likelihood[:-1], self.below, self.above)

    def float_speed(self, confidence: float) -> tuple[float, float]:
        """Return the interval of the float speed in the run, rad/s; 0 and infinite on open sides."""
        low, high = interval_of(self.squared[:-1], self.cumulative, confidence)
        return math.sqrt(max(low, 0.0)), math.sqrt(high)

    def interval_of(self, asked: Callable[[Floats], Floats], confidence: float, *, rises: bool) -> tuple[float, float]:
        """Return the interval of any number that follows from the unknowns (row, parameter) to values (row,), SI.

        With `rises` it rises with the float speed, and is open where that is.
        """
        values, spread = self._linear(asked)
        tail = 0.5 * (1.0 - confidence)
        place, weight = self._spread_out()
        middle = np.interp(place, self.squared, values)
        width = np.interp(place, self.squared, spread)
        width = np.maximum(width, 1e-9 * (np.ptp(middle) + np.abs(middle).max()) + 1e-300)
        tried = np.linspace(float((middle - 6.0 * width).min()), float((middle + 6.0 * width).max()), STEPS)
        chance = _chance_below(tried, middle, width, weight)
        inside = np.flatnonzero((chance > 0.1 * tail) & (chance < 1.0 - 0.1 * tail))
        if len(inside):  # a closer look where the probability is
            first, last = max(int(inside[0]) - 1, 0), min(int(inside[-1]) + 1, len(tried) - 1)
            tried = np.linspace(tried[first], tried[last], STEPS)
        chance = _chance_below(tried, middle, width, weight)
        low, high = (float(np.interp(level, chance, tried)) for level in (tail, 1.0 - tail))
        if rises and self.below > tail:
            low = -math.inf
        if rises and self.above > tail:
            high = math.inf
        return low, high

    def middle(self) -> Floats:
        """Return the unknowns (parameter,), in SI, at the median of the float speed within the tested range."""
        cumulative = self.cumulative
        place = float(np.interp(0.5 * (cumulative[0] + cumulative[-1]), cumulative, self.squared[:-1]))
        at = np.array([np.interp(place, self.squared, column) for column in self.unknowns.T])
        at[0] = math.sqrt(place)
        return at

    def profile(self) -> tuple[Floats, Floats]:
        """Return float speeds (K - 1,), rad/s, and the squared normal deviate of the probability beyond each, -."""
        from scipy.special import ndtri

        cumulative = self.cumulative
        beyond = np.clip(np.minimum(cumulative, 1.0 - cumulative), 1e-15, 0.5)
        return np.sqrt(self.squared[:-1]), np.asarray(ndtri(beyond) ** 2)

    def _linear(self, asked: Callable[[Floats], Floats]) -> tuple[Floats, Floats]:
        """Return value (K,) and standard deviation (K,) of a number at each float speed, linearised."""
        size = np.sqrt(np.maximum(np.einsum("kii->ki", self.covariance), 0.0))
        columns = np.flatnonzero(size.max(axis=0) > 0.0)
        steps = 0.1 * np.minimum(size[:, columns], 10.0 * SCALES[columns])
        moved = [self.unknowns]
        for place, column in enumerate(columns):
            one = self.unknowns.copy()
            one[:, column] += steps[:, place]
            moved.append(one)
        found = asked(np.concatenate(moved)).reshape(len(moved), -1)
        if not len(columns):
            return found[0], np.zeros(len(self.squared))
        slope = np.nan_to_num((found[1:] - found[0]) / np.maximum(steps.T, 1e-300))
        known = self.covariance[:, columns[:, None], columns]
        variance = np.einsum("ik,kij,jk->k", slope, known, slope)
        return _filled(found[0]), np.sqrt(np.maximum(variance, 0.0))

    def _spread_out(self) -> tuple[Floats, Floats]:
        """Return places (step,) in speed squared and their probabilities, those outside of the range among them."""
        cumulative = self.cumulative
        levels = np.linspace(0.0, 1.0, STEPS + 1)
        edges = np.interp(cumulative[0] + levels * (cumulative[-1] - cumulative[0]), cumulative, self.squared[:-1])
        place = np.concatenate([[self.squared[0]], 0.5 * (edges[1:] + edges[:-1]), [self.squared[-1]]])
        inside = max(1.0 - self.above - self.below, 0.0)
        weight = np.concatenate([[self.below], np.full(STEPS, inside / STEPS), [self.above]])
        return place, weight


def normal_reach(confidence: float) -> float:
    """Return how many standard deviations to either side of a normal number hold it with a probability.

    Parameters
    ----------
    confidence : float, -

    Returns
    -------
    float, -

    >>> round(normal_reach(0.95), 3)
    1.96
    """
    from scipy.special import ndtri

    return float(ndtri(0.5 * (1.0 + confidence)))


def _filled(values: Floats) -> Floats:
    """Return values (K,) with the nearest known one where there is none: beyond, the pull closes the gap."""
    known = np.flatnonzero(np.isfinite(values))
    if len(known) in (0, len(values)):
        return values
    return np.asarray(values[known[np.abs(known[:, None] - np.arange(len(values))).argmin(axis=0)]])


def _chance_below(tried: Floats, middle: Floats, width: Floats, weight: Floats) -> Floats:
    from scipy.special import ndtr

    found: Floats = ndtr((tried[:, None] - middle) / width) @ weight
    return found


@dataclass(frozen=True)
class _At:
    """Fits at K float speeds with one width: logarithm of the evidence, other unknowns, their covariance, noise."""

    evidence: Floats
    unknowns: Floats
    covariance: Floats
    level: Floats
    model: Floats


def fit_posterior(
    fitter: Fitter,
    models: NoiseModels,
    weight: Floats,
    widths: Sequence[tuple[float, float]],
    extra: Callable[[Floats, float], Floats] | None = None,
    *,
    known: bool,
) -> FitPosterior:
    """Return what a run says of the float speed and of all other unknowns.

    Parameters
    ----------
    fitter : Fitter
        Of the points that the noise models are about.
    weight : array (model,), -
        Probability of each by the knee: those next to nothing are left out.
    widths : sequence of pair of float, rad2/s2
        Width of the knee, and prior weight (-).
    extra : callable, optional
        From knees (K,) and a width to the logarithm of the evidence (K,) of other series that share the knee.
    known : bool
        Whether the noise level is known: the models are then in metres.

    Returns
    -------
    FitPosterior
    """
    few = models.keep(np.flatnonzero(weight > WORTH * weight.max()))
    highest = float(fitter.model.speed.max())
    even = np.linspace((0.02 * highest) ** 2, highest**2, EVEN)
    first = _fits(fitter, few, np.append(even, (BEYOND * highest) ** 2), None, known=known)
    log = first.evidence + (0.0 if extra is None else extra(np.append(even, even[-1]), 0.0))
    chance = np.exp(log - log.max())
    squared = np.append(np.union1d(even, _likely(even, chance[:-1])), (BEYOND * highest) ** 2)
    sharp = fitter.scan(fitter.condition, np.sqrt(squared), first.unknowns[int(chance.argmax())]).parameters
    found = []
    for width, likely in widths:
        one = _fits(fitter.rounded(width), few, squared, sharp, known=known)
        more = 0.0 if extra is None else extra(np.minimum(squared, highest**2), width)
        found.append((math.log(likely) + one.evidence + more, one))
    logs = np.array([log for log, _ in found])
    share = np.exp(logs - logs.max())
    density = share.sum(axis=0)
    part = share / np.maximum(density, 1e-300)
    unknowns = np.einsum("wk,wkp->kp", part, np.array([one.unknowns for _, one in found]))
    apart = np.array([one.unknowns for _, one in found]) - unknowns
    covariance = np.einsum("wk,wkpq->kpq", part, np.array([one.covariance for _, one in found]))
    covariance = covariance + np.einsum("wk,wkp,wkq->kpq", part, apart, apart)
    inside, below, above = _parts(squared, density)
    total = inside + below + above
    noise = _noise_covariance(few, np.array([one.model for _, one in found]), [one.level for _, one in found], share)
    evidence = np.array([math.log(likely) + one.evidence for (_, one), (_, likely) in zip(found, widths, strict=True)])
    whole = _log_evidence(fitter, squared, evidence)
    return FitPosterior(squared, density, above / total, below / total, unknowns, covariance, noise, whole)


def _log_evidence(fitter: Fitter, squared: Floats, logs: Floats) -> float:
    """Integrate the evidence (width, K); priors count with their size, or a wide gain would cost nothing."""
    share = np.exp(logs - logs.max()).sum(axis=0)
    inside, below, above = _parts(squared, share)
    sizes = np.log(fitter.prior_sd / SCALES[fitter.prior_column])
    return float(logs.max() + math.log((inside + below + above) / squared[-2]) - sizes.sum())


def _parts(squared: Floats, density: Floats) -> tuple[float, float, float]:
    """Return relative probabilities within the tested range, below it and beyond it, of a density (K,)."""
    highest = float(squared[-2])
    inside = float(np.sum(0.5 * (density[1:-1] + density[:-2]) * np.diff(squared[:-1]))) * (1.0 - BELOW - ABOVE)
    return inside, BELOW * float(density[0]) * highest, ABOVE * float(density[-1]) * highest


def _likely(places: Floats, density: Floats) -> Floats:
    climbed = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]) * np.diff(places))])
    return np.interp(np.linspace(0.0, 1.0, FINER + 2)[1:-1], climbed / climbed[-1], places)


def _fits(fitter: Fitter, models: NoiseModels, squared: Floats, start: Floats | None, *, known: bool) -> _At:
    """Fit at each float speed, and integrate all other unknowns and the noise level about the fit."""
    others = np.flatnonzero(fitter.free)
    others = others[others > 0]
    if start is None:
        at = fitter.scan(fitter.condition, np.sqrt(squared), np.zeros(len(SCALES))).parameters
    else:
        at = start.copy()
        at[:, others] += _step(fitter, at, others)
    scale = SCALES[others]
    rest = fitter.gap - fitter.model.gaps(at, fitter.condition)
    slope = -jacobian(lambda some: fitter.model.gaps(some, fitter.condition), at, SCALES, others) * scale
    precise, pulled = _priors(fitter, at, others)
    seen = np.concatenate([rest[:, :, None], slope], axis=2)
    count, points, columns = seen.shape
    flat = models.root @ seen.transpose(1, 0, 2).reshape(points, -1)
    rows = flat.reshape(len(flat), points, count, columns).transpose(0, 2, 3, 1)
    gram = rows @ np.swapaxes(rows, 2, 3)
    levels = np.array(_levels(gram, points, models.least, known=known))
    squares = levels[:, :, None] ** 2
    normal = gram[:, :, 1:, 1:] / squares[..., None, None] + np.diag(precise)
    right = -gram[:, :, 1:, 0] / squares[..., None] - pulled * precise
    inverse, size = inverse_and_size(normal)
    move = np.einsum("lmkij,lmkj->lmki", inverse, right)
    misfit = gram[:, :, 0, 0] / squares + pulled**2 @ precise - np.einsum("lmki,lmki->lmk", right, move)
    likely = np.array([models.chance_of_size(level**2) for level in levels]) - points * np.log(levels)
    logs = (likely + models.weight - models.log_size)[:, :, None] - 0.5 * misfit - size
    return _merged(at, others, scale, logs, move, inverse, levels)


def _merged(
    at: Floats, others: NDArray[np.intp], scale: Floats, logs: Floats, means: Floats, spreads: Floats, levels: Floats
) -> _At:
    """Average over noise levels and models (level, model, K, ...), float speed by float speed."""
    most = logs.max(axis=(0, 1))
    share = np.exp(logs - most)
    whole = share.sum(axis=(0, 1))
    part = share / whole
    mean = np.einsum("lmk,lmki->ki", part, means)
    apart = means - mean
    spread = np.einsum("lmk,lmkij->kij", part, spreads) + np.einsum("lmk,lmki,lmkj->kij", part, apart, apart)
    unknowns = at.copy()
    unknowns[:, others] += mean * scale
    covariance = np.zeros((*at.shape, at.shape[1]))
    covariance[:, others[:, None], others] = spread * np.outer(scale, scale)
    model = part.sum(axis=0)
    level = np.einsum("lmk,lm->mk", part, levels**2) / np.maximum(model, 1e-300)
    return _At(most + np.log(whole), unknowns, covariance, level, model)


def _step(fitter: Fitter, at: Floats, others: NDArray[np.intp]) -> Floats:
    """Return one step (fit, other) of Gauss and Newton towards the best fit with white noise."""
    residuals = fitter.residuals(fitter.condition, with_series=False)
    value, slope = residuals(at), jacobian(residuals, at, SCALES, others) * SCALES[others]
    normal = np.einsum("kia,kib->kab", slope, slope) + 1e-9 * np.eye(len(others))
    step: Floats = np.linalg.solve(normal, -np.einsum("kia,ki->ka", slope, value)[..., None])[..., 0] * SCALES[others]
    return np.clip(step, -5.0 * SCALES[others], 5.0 * SCALES[others])


def _priors(fitter: Fitter, at: Floats, others: NDArray[np.intp]) -> tuple[Floats, Floats]:
    """Return precision (other,) and distance from the prior's centre (fit, other), in units of `SCALES`."""
    precise = np.full(len(others), UNSEEN**-2.0)
    pulled = np.zeros((len(at), len(others)))
    for column, spread in zip(fitter.prior_column, fitter.prior_sd, strict=True):
        place = int(np.flatnonzero(others == column)[0]) if column in others else -1
        if place >= 0:
            precise[place] = (SCALES[column] / spread) ** 2
            pulled[:, place] = at[:, column] / SCALES[column]
    return precise, pulled


def _levels(gram: Floats, points: int, least: Floats, *, known: bool) -> list[Floats]:
    """Return noise levels (model,) to integrate over, evenly in their logarithm."""
    if known:
        return [np.ones(len(gram))]
    freedom = max(points - gram.shape[2], 1)
    normal = gram[:, :, 1:, 1:] + 1e-9 * np.eye(gram.shape[2] - 1) * np.einsum("mkii->mk", gram)[..., None, None]
    solved = np.linalg.solve(normal, gram[:, :, 1:, :1])[..., 0]
    rest = gram[:, :, 0, 0] - np.einsum("mki,mki->mk", gram[:, :, 1:, 0], solved)
    best = np.sqrt(np.maximum(rest.min(axis=1), 1e-14 * gram[:, :, 0, 0].max(axis=1) + 1e-30) / freedom)
    return [np.maximum(best * math.exp(step / math.sqrt(2.0 * freedom)), least) for step in LEVELS]


def _noise_covariance(models: NoiseModels, model: Floats, levels: list[Floats], share: Floats) -> Floats:
    """Return the mean covariance (n, n), m2, over noise models, widths and float speeds."""
    joint = share[:, None, :] * model
    total = joint.sum(axis=(0, 2))
    variance = (joint * np.array(levels)).sum(axis=(0, 2)) / total.sum()
    factor = np.linalg.inv(models.root)
    mean: Floats = np.einsum("m,mij,mkj->ik", variance, factor, factor)
    return mean
