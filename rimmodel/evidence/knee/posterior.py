"""Where the knee of a bent line may be, with everything uncertain that a run leaves open.

The line is bent at a knee, sharply or over a width; its level, slopes and the size of the bend are unknown, and so is
what the noise is like (`rimmodel.evidence.knee.noise`). All of it is integrated out: level, slopes and noise
level in closed form, knee, width and noise on grids. What is left is the probability that the knee lies here or there,
or outside the range of the data, where one straight line is all there is to see.

With the straight line taken out of the whitened data the bend is one number, the score, in standard deviations of the
noise; its prior is a mixture of half-normals from 3 to 100 standard deviations (Zellner's form: free of scale, origin
and shear of the data; Zellner 1986 and Liang and others, JASA 103, 2008, p. 410, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats
from rimmodel.evidence.knee.broken_line import Points, candidate_knees, hinge
from rimmodel.evidence.knee.cumulative import cell_sizes, crossing, cumulative_of, interval_of
from rimmodel.evidence.knee.noise import NoiseModels

WIDTHS = ((0.0, 0.61), (0.1, 0.235), (0.2, 0.04), (0.3, 0.03), (0.4, 0.012), (0.5, 0.073))
"""Width of a rounded knee as a share of the range of x, and prior weight. Steps of 0.15 were too coarse: 100 points up
and down tell a width of 0.4 from 0.3 and from 0.45, and held a knee of that width in 87 % of virtual runs."""

FEW, WIDTHS_OF_FEW = 20, ((0.0, 0.4), (0.1, 0.15), (0.2, 0.1), (0.3, 0.1), (0.4, 0.1), (0.5, 0.15))
"""The same for fewer points than this, which say next to nothing of a width: wide knees are not to be thought rare."""

SIZES = (3.0, 10.0, 30.0, 100.0)
"""Scales of the bend, in standard deviations of its score, equally likely."""

BELOW, ABOVE = 0.065, 0.095
"""Prior probability that the knee lies below, or above, all places at which it would show."""

COARSE, FINE = 40, 45
"""Knees tried first, and added where the probability lies."""

NEGLIGIBLE = 1e-3
"""Share of the probability that the noise models left out may hold together."""

WORTH = 0.02
"""Share of the likeliest noise model's weight from which another is asked for a chance."""

ROUNDED_OFF = 38.0
"""Minus the logarithm of what is lost in rounding beside 1."""

NOTHING = 70.0
"""By how much the logarithm of a likelihood may lie below the highest until it counts no more, and is not worked out:
what all such add up to is less than 1e-25 of the probability."""

TINY = 1e-24
"""Least rest, over the sum of squares about one straight line, so that data without noise have a likelihood too."""


@dataclass(frozen=True)
class KneePosterior:
    """Probability of the knee over a grid.

    Attributes
    ----------
    knees : array (K,), unit of x
    widths : array (W,), unit of x
    mass : array (model, K, W), -
        Probability of each noise model, knee and width; with `below` and `above` it adds up to 1.
    below, above : float, -
        Probability that the knee lies below, above the range where it would show.
    models : NoiseModels
        Those that are not negligible.
    line_weight : array (model,), -
        Probability of each noise model if the data are one straight line.
    """

    knees: Floats
    widths: Floats
    mass: Floats
    below: float
    above: float
    models: NoiseModels
    line_weight: Floats

    @property
    def cumulative(self) -> Floats:
        """Probability (K,) that the knee lies below each of `knees`."""
        density = self.mass.sum(axis=(0, 2)) / cell_sizes(self.knees)
        return cumulative_of(self.knees, density, self.below, self.above)

    def interval(self, confidence: float) -> tuple[float, float]:
        """Return the knees (unit of x) with equal probability beyond either; infinite on an open side."""
        return interval_of(self.knees, self.cumulative, confidence)

    def tail(self) -> Floats:
        """Return twice the smaller probability to either side of each knee (K,), -: low where it is implausible."""
        cumulative = self.cumulative
        twice: Floats = 2.0 * np.minimum(cumulative, 1.0 - cumulative)
        return twice

    def among(self, chosen: NDArray[np.bool_]) -> KneePosterior | None:
        """Return the posterior with a part of the noise models (model,) alone; None where that is next to nothing."""
        factor = chosen.astype(float)
        mass, line = self.mass * factor[:, None, None], float(self.line_weight @ factor)
        total = float(mass.sum()) + (self.below + self.above) * line
        if total < 1e-9:
            return None
        part = line / total
        return replace(
            self,
            mass=mass / total,
            below=self.below * part,
            above=self.above * part,
            line_weight=self.line_weight * factor / max(line, 1e-300),
        )

    @property
    def middle(self) -> float:
        """Median of the knee among those inside, unit of x."""
        cumulative = self.cumulative
        return crossing(0.5 * (cumulative[0] + cumulative[-1]), cumulative, self.knees)

    @property
    def all_weight(self) -> Floats:
        """Probability (model,), dimensionless, of each noise model, the knee inside or not."""
        weight: Floats = self.mass.sum(axis=(1, 2)) + (self.below + self.above) * self.line_weight
        return weight

    @property
    def width_weight(self) -> Floats:
        """Probability (W,), dimensionless, of each width with the knee inside."""
        weight = self.mass.sum(axis=(0, 1))
        share: Floats = weight / weight.sum()
        return share


class Whitened:
    """Points seen through each noise model, with one straight line taken out.

    Parameters
    ----------
    points : Points
        In the order of the noise models.
    """

    def __init__(self, points: Points, models: NoiseModels) -> None:
        self.points, self.models = points, models
        x, y = points.x, points.y
        columns = models.root @ np.stack([np.ones(len(x)), x - x.mean()], axis=1)
        line, triangle = np.linalg.qr(columns)
        across = np.swapaxes(line, 1, 2)
        self.clear = models.root - line @ (across @ models.root)  # whitens, and takes the straight line out
        size = np.log(np.abs(np.einsum("mii->mi", triangle))).sum(axis=1)
        whole = models.root @ (y - y.mean())
        rest = whole - np.einsum("mni,mi->mn", line, np.einsum("mni,mn->mi", line, whole))
        misfit = np.einsum("mn,mn->m", rest, rest)
        straight = misfit < 1e-20 * np.einsum("mn,mn->m", whole, whole)  # to rounding: its rounding is no bend
        self.rest = np.where(straight[:, None], 0.0, rest)
        self.misfit = np.where(straight, 1e-20 * np.einsum("mn,mn->m", whole, whole) + 1e-300, misfit)
        self.evidence = models.weight - models.log_size - size
        self.freedom = len(x) - 2

    def directions(self, knees: Floats, widths: Floats) -> tuple[Floats, Floats]:
        """Return hinges (model, n, K W) without their part in the straight line, and their lengths (model, K W)."""
        rows = hinge(self.points.x[:, None, None] - knees[:, None], widths).reshape(len(self.points.x), -1)
        seen = self.clear @ rows
        return seen, np.sqrt(np.einsum("mnk,mnk->mk", seen, seen))

    def scores(self, knees: Floats, widths: Floats) -> Floats:
        """Return the bend (model, K W) in units of the noise, counted positive in the direction looked for."""
        seen, length = self.directions(knees, widths)
        found: Floats = (self.rest[:, None, :] @ seen)[:, 0] / length
        return np.asarray(found * self.points.sign if self.points.sign else np.abs(found))

    def line_likelihood(self) -> Floats:
        """Return the logarithm (model,), dimensionless, of the likelihood of one straight line, weights included."""
        total: Floats = self.evidence + self._of_rest(self.misfit, np.arange(len(self.misfit)))
        return total

    def bent_likelihood(self, knees: Floats, widths: Floats) -> Floats:
        """Return the logarithm of the likelihood (model, K, W) of a bent line, noise model weights included."""
        score = self.scores(knees, widths)
        models, bends = score.shape
        row, score = np.repeat(np.arange(models), bends), score.ravel()
        least = self._left_by(score, row, SIZES[-1] ** 2 / (1.0 + SIZES[-1] ** 2))
        total = self.evidence[row] + self._at_most(least, row) + (math.log(2.0) - 0.5 * math.log1p(SIZES[0] ** 2))
        likeliest = total.argmax(keepdims=True)
        asked = total > self._bent(score[likeliest], row[likeliest]) - NOTHING
        total[asked] = self._bent(score[asked], row[asked])
        return np.asarray(total.reshape(models, len(knees), len(widths)))

    def _bent(self, score: Floats, row: NDArray[np.intp]) -> Floats:
        """Return the logarithm of the likelihood of bends (bend,) under the noise models at places `row` (bend,)."""
        parts = []
        for size in SIZES:
            share = size**2 / (1.0 + size**2)
            rest = self._left_by(score, row, share)
            parts.append(self._of_rest(rest, row) - 0.5 * math.log1p(size**2) + self._one_side(score, share, rest))
        total: Floats = self.evidence[row] + np.logaddexp.reduce(np.array(parts), axis=0) - math.log(len(SIZES))
        return total

    def _left_by(self, score: Floats, row: NDArray[np.intp], share: float) -> Floats:
        """Return the sum of squares (bend,) that bends leave of those about one straight line."""
        misfit = self.misfit[row]
        rest: Floats = np.maximum(misfit - share * score**2, TINY * misfit)
        return rest

    def _of_rest(self, rest: Floats, row: NDArray[np.intp]) -> Floats:
        """Return the logarithm of the likelihood of a sum of squares, the noise level integrated out or known."""
        known, least = self._at_most(rest, row), self.models.least[row]
        if self.points.noise_known or not (least > 0.0).any():
            return known
        # the noise level lies above that which the readings of each point show
        return known + _log_lower_gamma(0.5 * self.freedom, 0.5 * rest / least**2)

    def _at_most(self, rest: Floats, row: NDArray[np.intp]) -> Floats:
        """Return the same where nothing is known of the least noise level: not less, and the less is left the more."""
        if self.points.noise_known:
            return -0.5 * rest
        chance: Floats = -0.5 * self.freedom * np.log(rest) - 0.5 * (rest / self.freedom) / self.models.most[row] ** 2
        return chance

    def _one_side(self, score: Floats, share: float, rest: Floats) -> Floats:
        """Return the logarithm of twice the probability that the bend has the sign looked for; 0 for either sign."""
        from scipy.special import log_ndtr

        if not self.points.sign:
            return np.zeros_like(score)
        if self.points.noise_known:
            return np.asarray(math.log(2.0) + log_ndtr(score * math.sqrt(share)))
        # Student's t by the normal: Wallace, Annals of Mathematical Statistics 30 (1959) 1124, from memory
        freedom = self.freedom
        squared = np.log1p(score**2 * share / rest) * freedom
        normal = np.sign(score) * np.sqrt(squared) * (8.0 * freedom + 1.0) / (8.0 * freedom + 3.0)
        return np.asarray(math.log(2.0) + log_ndtr(normal))


def _log_lower_gamma(half: float, place: Floats) -> Floats:
    """Return the logarithm of the regularised lower incomplete gamma function, however small it is."""
    from scipy.special import gammainc, gammaln

    log = np.log(np.maximum(place, 1e-300))
    # what is missing from 1 is at most exp(half - z) (z/half)^half above half (Chernoff): next to it, nothing
    whole = (place > half) & (place - half - half * (log - math.log(half)) > ROUNDED_OFF)
    found = np.zeros(place.shape)
    asked = ~whole
    value = gammainc(half, place[asked])
    found[asked] = np.log(np.maximum(value, 1e-300))
    asked[asked] = value <= 1e-200
    if asked.any():  # leading terms of its series: half log z - z - log Gamma(half + 1) + log(1 + z/(half + 1) + ...)
        small = place[asked]
        found[asked] = half * log[asked] - small - gammaln(half + 1.0) + np.log1p(small / (half + 1.0))
    return found


def knee_posterior(
    points: Points, models: NoiseModels, widths: Sequence[tuple[float, float]] = WIDTHS
) -> KneePosterior:
    """Return the probability of the knee of a bent line with unknown slopes.

    Parameters
    ----------
    points : Points
        In the order of the noise models; weights of known noise are in the models' place of 1.
    widths : sequence of pair of float, -
        Share of the range of x, and prior weight.

    Returns
    -------
    KneePosterior
    """
    distinct, span = np.unique(points.x), float(np.ptp(points.x))
    wide = np.array([share for share, _ in widths]) * span
    likely = np.log([weight for _, weight in widths])
    low, high = float(distinct[1]), float(distinct[-2])
    coarse = np.linspace(low, high, COARSE)
    seen = Whitened(points, models)
    first = seen.bent_likelihood(coarse, wide) + likely
    straight = seen.line_likelihood()
    most = max(first.max(), straight.max())
    share = np.exp(first - most).mean(axis=1).sum(axis=1) + np.exp(straight - most)
    order = np.argsort(-share)
    kept = np.sort(order[: 1 + int(np.searchsorted(np.cumsum(share[order]) / share.sum(), 1.0 - NEGLIGIBLE))])
    density = np.exp(first - most).sum(axis=(0, 2))
    knees = np.union1d(coarse, _where_likely(coarse, density))
    knees = np.unique(np.concatenate([knees, distinct[1:-1]])) if len(distinct) < FINE else knees
    few = Whitened(points, models.keep(kept))
    bent = few.bent_likelihood(knees, wide) + likely
    straight = few.line_likelihood()
    most = max(bent.max(), straight.max())
    density = (1.0 - BELOW - ABOVE) / span * np.exp(bent - most)
    inside = density * cell_sizes(knees)[:, None]
    # in the first and the last gap between points a knee fits as well as at the inner end of the gap
    below = float(density[:, 0].sum()) * (low - float(distinct[0]))
    above = float(density[:, -1].sum()) * (float(distinct[-1]) - high)
    line = float(np.exp(straight - most).sum())
    below, above = below + BELOW * line, above + ABOVE * line
    total = float(inside.sum()) + below + above
    chance = np.exp(straight - straight.max())
    return KneePosterior(knees, wide, inside / total, below / total, above / total, few.models, chance / chance.sum())


def _where_likely(knees: Floats, density: Floats) -> Floats:
    """Return `FINE` knees at even steps of a probability that is straight between the knees given."""
    parts = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]) * np.diff(knees))])
    parts = parts / parts[-1]
    steps = np.linspace(0.0, 1.0, FINE + 2)[1:-1]
    return np.interp(steps, parts, knees)


def chance_of_bend(points: Points, found: KneePosterior) -> float:
    """Return the chance that one straight line would show so large a bend somewhere, over the noise models.

    Each model answers by `one_line_probability`, weighted by how well it suits the run.

    Returns
    -------
    float, -
    """
    from rimmodel.evidence.knee.inference import one_line_probability, path_length

    weight = found.all_weight
    likely = np.flatnonzero(weight > WORTH * weight.max())
    weight = weight[likely] / weight[likely].sum()
    seen = Whitened(points, found.models.keep(likely))
    knees = candidate_knees(points.x, 2 * COARSE)
    rows, length = seen.directions(knees, np.zeros(1))
    scores = np.einsum("mnk,mn->mk", rows, seen.rest) / length
    largest = (scores * points.sign if points.sign else np.abs(scores)).max(axis=1)
    sides, other = 1 if points.sign else 2, 0.0
    for place, part in enumerate(weight):
        directions = (rows[place] / length[place]).T
        size = 1.0 if points.noise_known else math.sqrt(seen.misfit[place])
        score = float(largest[place]) / size
        chance = one_line_probability(score, path_length(directions), seen.freedom, points.noise_known, sides)
        other += part * (1.0 - chance)
    return 1.0 - float(other)


def best_bend(points: Points, model: NoiseModels, knees: Floats, width: float) -> float:
    """Return the knee of least misfit under one noise model, to 1e-6 of the range.

    Parameters
    ----------
    model : NoiseModels
        One alone.
    knees : array (K,), unit of x
        To begin with.
    width : float, unit of x

    Returns
    -------
    float, unit of x
    """
    seen, wide = Whitened(points, model), np.array([width])
    while True:
        best = int(seen.scores(knees, wide)[0].argmax())
        low, high = knees[max(best - 1, 0)], knees[min(best + 1, len(knees) - 1)]
        if high - low < 1e-6 * np.ptp(points.x):
            return float(knees[best])
        knees = np.linspace(low, high, 21)
