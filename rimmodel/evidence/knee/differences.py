"""Whether several series of one run, such as those of planes or sensors, bend at the same place.

What all series share (speed, heat, the machine itself) drops out of the difference between one and the others, and most
of the noise of a run is shared. A difference of knees is therefore known far better than each knee: if the knees lie
apart by a small step, the difference between the two series jumps at the knee by the bend times that step. Different
slopes alone make the difference bend there, but never jump.

The common knee, its width and its bend come from the mean of all series; the difference then says how far apart the
knees are, with level, slope, difference of bends and noise integrated out. The noise of the difference is its own: the
same candidates as those of the mean (`rimmodel.evidence.knee.noise`), weighted by what the difference shows.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats, Interval
from rimmodel.evidence.knee.broken_line import Points, hinge
from rimmodel.evidence.knee.cumulative import cell_sizes
from rimmodel.evidence.knee.fit import Knee
from rimmodel.evidence.knee.groups import Groups, grouped, mean_by_group
from rimmodel.evidence.knee.noise import NoiseModels, noise_models
from rimmodel.evidence.knee.points import FEWEST_PLACES
from rimmodel.evidence.knee.posterior import KneePosterior, knee_posterior

LEAST_POINTS = 8
"""Points of a difference: level, slope, bend and step take four of them."""

NODES = 8
"""Equally likely places of the common knee that stand for all, at each width."""

UNLIKE_BENDS = 0.3
"""Standard uncertainty of the bend of one series less that of another, as a share of the bend: sensors of other gain,
or poles that do not reach over the whole rim, make that much."""

UNLIKELY = 1e-6
"""Density over the highest at which the grid of differences may end."""

STEPS = 41
"""Differences tried, first over all and then where the probability lies."""

LARGEST = 2_000_000
"""Numbers of an array that are worked on at once."""

NEGLIGIBLE = 5e-3
"""Share of the probability that noise models, or widths, left out may hold together."""


@dataclass(frozen=True)
class KneeDifference:
    """Knee of one series less that of the others.

    Attributes
    ----------
    best : float, unit of x
        Median.
    interval : pair of float, unit of x
        Infinite on a side that the data leave open.
    p_value : float, -
        Chance of so large a difference, either sign, where the knees are the same.
    """

    best: float
    interval: Interval
    p_value: float


@dataclass(frozen=True)
class CommonKnee:
    """What the mean of all series says of the knee, in nodes that stand for all that is possible.

    Attributes
    ----------
    knee, width : array (node,), unit of x
    bend : array (node,), unit of y per unit of x
    weight : array (node,), -
        Probability.
    """

    knee: Floats
    width: Floats
    bend: Floats
    weight: Floats

    @property
    def likeliest(self) -> int:
        """Number of the node nearest to the middle of the knee, of the likeliest width."""
        width = self.width[int(np.argmax(self.weight))]
        of_width = np.flatnonzero(self.width == width)
        return int(of_width[np.argmin(np.abs(self.knee[of_width] - np.average(self.knee, weights=self.weight)))])


def common_knee(x: Floats, mean: Floats, knee: Knee) -> CommonKnee:
    """Return what the mean of all series says of knee, width and bend.

    Parameters
    ----------
    x : array (n,), unit of x
        Of the points that the knee was fitted to, those left out taken away.
    mean : array (n,), unit of y
    knee : Knee
        Fitted to the same points.

    Returns
    -------
    CommonKnee
    """
    noise = knee.noise
    once = np.ones(len(x))
    at, y = (mean_by_group(values, noise.member, once) for values in (x, mean))
    points = Points(at, y, np.ones(len(at)), False, -1.0)
    span = float(np.ptp(at))
    widths = [(width / span, weight) for width, weight in knee.roundings]
    found = knee_posterior(points, noise.models, widths)
    knees, wide, weight = _nodes(found)
    root = noise.models.root[noise.likeliest]
    fixed = np.stack([np.ones_like(at), at - at.mean()], axis=1)
    bend = np.empty(len(knees))
    for node, (place, width) in enumerate(zip(knees, wide, strict=True)):
        columns = root @ np.column_stack([fixed, hinge(at - place, width)])
        bend[node] = np.linalg.lstsq(columns, root @ y, rcond=None)[0][2]
    return CommonKnee(knees, wide, bend, weight)


def _nodes(found: KneePosterior) -> tuple[Floats, Floats, Floats]:
    """Knees, widths and probabilities that stand for a posterior: equally likely knees at each width worth one."""
    mass = found.mass.sum(axis=0)
    share = mass.sum(axis=0) / mass.sum()
    knees, widths, weights = [], [], []
    steps = (np.arange(NODES) + 0.5) / NODES
    for column in np.flatnonzero(share > NEGLIGIBLE):
        density = mass[:, column] / np.maximum(cell_sizes(found.knees), 1e-300)
        climbed = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]) * np.diff(found.knees))])
        knees.append(np.interp(steps * climbed[-1], climbed, found.knees))
        widths.append(np.full(NODES, found.widths[column]))
        weights.append(np.full(NODES, share[column] / NODES))
    weight = np.concatenate(weights)
    return np.concatenate(knees), np.concatenate(widths), weight / weight.sum()


@dataclass(frozen=True)
class Frame:
    """Where the points of a difference lie, gathered to groups, and what their noise may be like.

    Attributes
    ----------
    clear : array (model, n, n), -
        Whitens, and takes level and slope out.
    evidence : array (model,), -
        Logarithm of the weight of each model and of what integrating level and slope leaves.
    """

    groups: Groups
    models: NoiseModels
    clear: Floats
    evidence: Floats

    def keep(self, kept: NDArray[np.intp]) -> Frame:
        """Return the frame with the given noise models."""
        return Frame(self.groups, self.models.keep(kept), self.clear[kept], self.evidence[kept])


def frame_of(x: Floats, moment: Floats) -> Frame | None:
    """Return the frame of points at which a difference is known; several differences may share it.

    Parameters
    ----------
    x : array (n,), unit of x
    moment : array (n,), unit of time
        When each was read.

    Returns
    -------
    Frame or None
        None with fewer points than `LEAST_POINTS`, or at fewer than four places.
    """
    if len(x) < LEAST_POINTS or len(np.unique(x)) < FEWEST_PLACES:
        return None
    groups = grouped(Points(x, np.zeros(len(x)), np.ones(len(x)), False, 0.0), moment, None)
    at = groups.points.x
    models = noise_models(at, groups.moment, None, groups.readings)
    line, triangle = np.linalg.qr(models.root @ np.stack([np.ones(len(at)), at - at.mean()], axis=1))
    size = np.log(np.abs(np.einsum("mii->mi", triangle))).sum(axis=1)
    clear = models.root - line @ (np.swapaxes(line, 1, 2) @ models.root)
    return Frame(groups, models, clear, models.weight - models.log_size - size)


def knee_difference(
    frame: Frame, difference: Floats, common: CommonKnee, series: int, confidence: float = 0.95
) -> KneeDifference:
    """Return how far the knee of one series lies from that of the others.

    Parameters
    ----------
    difference : array (n,), unit of y
        The series less the mean of the others, at the points of the frame.
    series : int
        Number of series of which the common knee is the mean.
    confidence : float, -

    Returns
    -------
    KneeDifference

    Two series without noise whose knees lie at 5.2 and 4.8, in sixteen points from 0 to 10:

    >>> from rimmodel.evidence.knee.fit import fit_knee
    >>> x = np.linspace(0.0, 10.0, 16)
    >>> one, other = (-x - np.maximum(x - at, 0.0) for at in (5.2, 4.8))
    >>> wobble = 1e-3 * np.cos(np.arange(16.0) ** 2)
    >>> mean = (one + other) / 2
    >>> common = common_knee(x, mean, fit_knee(x, mean, robust=False))
    >>> found = knee_difference(frame_of(x, np.arange(16.0)), one - other + wobble, common, 2)
    >>> round(found.best, 1), found.p_value < 0.001
    (0.4, True)
    """
    groups = frame.groups
    means = mean_by_group(difference, groups.member, np.ones(len(difference)))
    step = _Step(replace(groups.points, y=means), frame, series)
    likeliest, inner = common.likeliest, np.unique(groups.points.x)[[1, -2]]
    reach = float(np.abs(inner - common.knee[likeliest]).min()) / (
        1.0 - 1.0 / series
    )  # both knees stay where they show
    shifts = np.linspace(-reach, reach, STEPS)
    first = np.array([likeliest])
    chance = step.likelihood(common, first, shifts)[0]
    share = np.exp(chance - chance.max()).sum(axis=1)
    order = np.argsort(-share)
    enough = 1 + int(np.searchsorted(np.cumsum(share[order]) / share.sum(), 1.0 - NEGLIGIBLE))
    step = step.keep(np.sort(order[:enough]))
    for _ in range(4):  # the grid closes in on where the probability lies
        density = np.exp(step.likelihood(common, first, shifts)[0] - chance.max()).sum(axis=0)
        likely = np.flatnonzero(density > UNLIKELY * density.max())
        low, high = max(int(likely[0]) - 2, 0), min(int(likely[-1]) + 2, STEPS - 1)
        if high - low > STEPS // 2:
            break
        shifts = np.linspace(shifts[low], shifts[high], STEPS)
    density = _density(step, common, shifts)
    return _summed(shifts, density, reach, confidence)


def _density(step: _Step, common: CommonKnee, shifts: Floats) -> Floats:
    """Relative probability of each shift, over nodes of the common knee and noise models."""
    logs = step.likelihood(common, np.arange(len(common.knee)), shifts)
    logs = logs + np.log(common.weight)[:, None, None]
    density: Floats = np.exp(logs - logs.max()).sum(axis=(0, 1))
    return density


def _summed(shifts: Floats, density: Floats, reach: float, confidence: float) -> KneeDifference:
    climbed = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]) * np.diff(shifts))])
    cumulative = climbed / climbed[-1]
    tail = 0.5 * (1.0 - confidence)
    best, low, high = (float(np.interp(level, cumulative, shifts)) for level in (0.5, tail, 1.0 - tail))
    below = float(np.interp(0.0, shifts, cumulative))
    open_low = shifts[0] <= -reach * (1 - 1e-9) and density[0] > 0.01 * density.max()
    open_high = shifts[-1] >= reach * (1 - 1e-9) and density[-1] > 0.01 * density.max()
    return KneeDifference(
        best,
        (-math.inf if open_low else low, math.inf if open_high else high),
        min(1.0, 2.0 * min(below, 1.0 - below)),
    )


class _Step:
    """A difference of two series seen through each noise model, with level and slope taken out."""

    def __init__(self, points: Points, frame: Frame, series: int) -> None:
        self.points, self.frame, self.series = points, frame, series
        whole = frame.models.root @ (points.y - points.y.mean())
        self.floor = 1e-18 * np.einsum("mn,mn->m", whole, whole)[:, None] + 1e-300

    def keep(self, kept: NDArray[np.intp]) -> _Step:
        return _Step(self.points, self.frame.keep(kept), self.series)

    def likelihood(self, common: CommonKnee, nodes: NDArray[np.intp], shifts: Floats) -> Floats:
        """Logarithm (node, model, shift) of the likelihood of each shift, noise level and unlike bends integrated."""
        each = self.frame.clear.size * 2 * len(shifts) // len(self.points.x)
        at_once = max(1, LARGEST // each)
        parts = [nodes[first : first + at_once] for first in range(0, len(nodes), at_once)]
        return np.concatenate([self._of_nodes(common, part, shifts) for part in parts])

    def _of_nodes(self, common: CommonKnee, nodes: NDArray[np.intp], shifts: Floats) -> Floats:
        x, share = self.points.x[:, None, None], 1.0 / self.series
        knee, width, bend = (some[nodes][:, None] for some in (common.knee, common.width, common.bend))
        own = hinge(x - (knee + (1.0 - share) * shifts), width)
        others = hinge(x - (knee - share * shifts), width)
        level = self.points.y[:, None, None] - bend * (own - others)
        left, bent = (self._left(some) for some in (level, (1.0 - share) * own + share * others))
        length, along, whole = (
            np.einsum("mns,mns->ms", one, other).reshape(len(left), len(nodes), len(shifts)).swapaxes(0, 1)
            for one, other in ((bent, bent), (left, bent), (left, left))
        )
        freedom = len(self.points.x) - 3
        noise = (whole - along**2 / np.maximum(length, 1e-300)).min(axis=2, keepdims=True) / freedom
        length = length + np.maximum(noise, self.floor) / (UNLIKE_BENDS * bend[..., None]) ** 2
        rest = whole - along**2 / length
        found: Floats = (
            self.frame.evidence[:, None] - 0.5 * np.log(length) - 0.5 * freedom * np.log(np.maximum(rest, self.floor))
        )
        return found

    def _left(self, columns: Floats) -> Floats:
        """Columns (n, ...) whitened by each model (model, n, column), without level and slope."""
        flat = columns.reshape(len(columns), -1)
        left: Floats = self.frame.clear @ (flat - flat.mean(axis=0))
        return left
