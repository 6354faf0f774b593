"""Where a knee may be when both slopes are expected, over all noise models that a run leaves open."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.knee.broken_line import Points
from rimmodel.evidence.knee.cumulative import cumulative_of, interval_of
from rimmodel.evidence.knee.noise import NoiseModels
from rimmodel.evidence.knee.posterior import ABOVE, BELOW

KNEES = 161
"""Knees tried, from the lowest to the highest x."""

LEVELS = np.linspace(-2.5, 3.5, 7)
"""Noise levels tried, in standard deviations of the logarithm of an estimate, about the least that fits."""


@dataclass(frozen=True)
class SlopesPosterior:
    """Probability of the knee over the range of the data and beyond both of its ends.

    Attributes
    ----------
    knees : array (K,), unit of x
        From the lowest to the highest x.
    cumulative : array (K,), -
        Probability that the knee lies below each; the first and the last stand for all beyond.
    """

    knees: Floats
    cumulative: Floats

    def interval(self, confidence: float) -> tuple[float, float]:
        """Return the knees (unit of x) with equal probability beyond either; infinite on an open side."""
        return interval_of(self.knees, self.cumulative, confidence)


def slopes_posterior(
    points: Points, models: NoiseModels, slopes: tuple[float, float], uncertainty: float
) -> SlopesPosterior:
    """Return where the knee may be with slopes expected; it may also lie below or above all data.

    Each slope is normal about what is expected; level, slopes and noise level are integrated out. A knee below all
    points leaves all of them after it, one above all before it: the expected slopes tell which.

    Parameters
    ----------
    points : Points
        In the order of the noise models.
    slopes : pair of float, unit of y per unit of x
        Before and after the knee.
    uncertainty : float, -
        Relative standard uncertainty of each slope.

    Returns
    -------
    SlopesPosterior
    """
    span = float(np.ptp(points.x))
    place = (points.x - points.x.min()) / span
    knees = np.linspace(0.0, 1.0, KNEES)
    gram, right, power = _normal_equations(place, points.y - points.y.mean(), knees, models)
    expected = np.array(slopes) * span
    known = (uncertainty * np.abs(expected)) ** -2.0
    # unknowns are level, slope before, bend: the slope after is the sum of the last two
    prior = np.zeros((3, 3))
    prior[1, 1], prior[1, 2], prior[2, 1], prior[2, 2] = known.sum(), known[1], known[1], known[1]
    towards = np.array([0.0, known @ expected, known[1] * expected[1]])
    logs = []
    for level in _noise_levels(points, gram, right, power, models):
        squared = level[:, None] ** 2
        normal = gram / squared[:, :, None, None] + prior
        side = right / squared[:, :, None] + towards
        solved = np.linalg.solve(normal, side[..., None])[..., 0]
        misfit = power[:, None] / squared - np.einsum("mki,mki->mk", side, solved)
        size = 0.5 * np.linalg.slogdet(normal)[1]
        likely = models.chance_of_size(level**2) - len(place) * np.log(level)
        logs.append(-0.5 * misfit - size + likely[:, None])
    together = np.logaddexp.reduce(np.array(logs), axis=0) + (models.weight - models.log_size)[:, None]
    density = np.exp(together - together.max()).sum(axis=0)
    inside = (1.0 - BELOW - ABOVE) * float(np.sum(0.5 * (density[1:] + density[:-1]) * np.diff(knees)))
    below, above = BELOW * float(density[0]), ABOVE * float(density[-1])
    total = inside + below + above
    cumulative = cumulative_of(knees, density, below / total, above / total)
    return SlopesPosterior(points.x.min() + span * knees, cumulative)


def _normal_equations(place: Floats, y: Floats, knees: Floats, models: NoiseModels) -> tuple[Floats, Floats, Floats]:
    """Return X'X (model, K, 3, 3), X'y (model, K, 3) and y'y (model,) of whitened level, slope and bend."""
    hinges = np.maximum(place[:, None] - knees, 0.0)
    fixed = models.root @ np.stack([np.ones_like(place), place, y], axis=1)
    bent = models.root @ hinges
    of_fixed = np.swapaxes(fixed, 1, 2) @ fixed
    crossed = np.swapaxes(bent, 1, 2) @ fixed
    gram = np.empty((len(bent), len(knees), 3, 3))
    gram[:, :, :2, :2] = of_fixed[:, None, :2, :2]
    gram[:, :, :2, 2] = gram[:, :, 2, :2] = crossed[:, :, :2]
    gram[:, :, 2, 2] = np.einsum("mnk,mnk->mk", bent, bent)
    right = np.empty((len(bent), len(knees), 3))
    right[:, :, :2], right[:, :, 2] = of_fixed[:, None, :2, 2], crossed[:, :, 2]
    return gram, right, of_fixed[:, 2, 2]


def _noise_levels(points: Points, gram: Floats, right: Floats, power: Floats, models: NoiseModels) -> list[Floats]:
    """Return noise levels (model,) to integrate over, evenly in their logarithm; that given where it is known."""
    if points.noise_known:
        return [np.ones(len(power))]
    freedom = max(len(points.x) - 4, 1)
    ridge = 1e-12 * np.einsum("mkii->mk", gram)[..., None, None] * np.eye(3)
    solved = np.linalg.solve(gram + ridge, right[..., None])[..., 0]
    least = np.maximum(power - np.einsum("mki,mki->mk", right, solved).max(axis=1), 1e-18 * power + 1e-300)
    best = np.sqrt(least / freedom)
    levels = [best * math.exp(step / math.sqrt(2.0 * freedom)) for step in LEVELS]
    return [np.maximum(level, models.least) for level in levels]
