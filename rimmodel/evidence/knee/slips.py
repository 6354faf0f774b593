"""A level that jumps once between two readings, as when segments of the rim slip or a sensor is knocked.

A jump may lie between any two neighbouring readings, and a line with a jump can look like a line with a knee. Each
place is a candidate of its own beside those of `rimmodel.evidence.knee.noise`; places at which no jump makes the data
any likelier are left out, as they would hold next to no probability.
"""

from __future__ import annotations

import math
from dataclasses import fields

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.knee.broken_line import Points, candidate_knees, hinge
from rimmodel.evidence.knee.noise import NoiseModels
from rimmodel.evidence.knee.points import Words

SLIPS = 0.04
"""Prior probability that the level jumps once in the run, beside noise that is white else."""

SIZES_OF_SLIP = (4.0, 16.0)
"""Standard deviation of a jump over that of a point; as likely as each other."""

BEYOND = 2
"""Readings on either side of a jump: one alone would be a stray point."""

FEWEST = 7
"""Readings without which a jump, a knee and noise cannot be distinguished: five unknowns, and something left over."""

MOST_PLACES = 12
"""Places of a jump that are kept."""

CLEAR = 0.95
"""Probability from which a jump is put in words."""

KNEES = 40
"""Knees that are tried beside each jump."""

HOPELESS = math.log(1e-4)
"""Logarithm of the probability of a jump at a place over that of none, at best, below which it is left out."""


def with_slips(models: NoiseModels, points: Points, moment: Floats) -> NoiseModels:
    """Return the models and, beside them, white noise with one jump of the level.

    Parameters
    ----------
    models : NoiseModels
        Plain white noise first.
    points : Points
        In the order of the models.
    moment : array (n,), unit of time

    Returns
    -------
    NoiseModels

    Ten points of a line that jumps by 1 between the fifth and the sixth:

    >>> from rimmodel.evidence.knee.noise import noise_models
    >>> x = np.arange(10.0)
    >>> y = -x + (x > 4.5) + 0.05 * np.cos(x**2)
    >>> found = with_slips(noise_models(x, x), Points(x, y, np.ones(10), False, -1.0), x)
    >>> bool(4.5 in found.slip)
    True
    """
    order = np.argsort(moment, kind="stable")
    ends = np.flatnonzero(np.diff(moment[order]) > 0.0)
    ends = ends[(ends + 1 >= BEYOND) & (ends + 1 <= len(moment) - BEYOND)]
    if len(moment) < FEWEST or not len(ends):
        return models
    scale = np.diag(models.root[0])
    jump = (moment[:, None] > moment[order][ends]).astype(float)
    prior = math.log(SLIPS / len(ends) / len(SIZES_OF_SLIP))
    gain = _gain(points, scale, jump) + prior - models.weight[0]
    worth = np.argsort(-gain)[:MOST_PLACES]
    worth = worth[gain[worth] > HOPELESS]
    if not len(worth):
        return models
    centred = (jump - jump.mean(axis=0))[:, worth].T
    covariance = np.concatenate([size**2 * centred[:, :, None] * centred[:, None, :] for size in SIZES_OF_SLIP])
    factor = np.linalg.cholesky(covariance + np.diag(scale**-2.0))
    count = len(factor)
    middle = 0.5 * (moment[order][ends] + moment[order][ends + 1])[worth]
    changed = {
        "weight": np.full(count, prior),
        "root": np.linalg.inv(factor),
        "log_size": np.log(np.einsum("mii->mi", factor)).sum(axis=1),
        "slip": np.tile(middle, len(SIZES_OF_SLIP)),
    }
    columns = {}
    for one in fields(models):
        own = getattr(models, one.name)
        columns[one.name] = np.concatenate([own, changed.get(one.name, np.repeat(own[:1], count, axis=0))])
    columns["weight"][: len(models.weight)] += math.log1p(-SLIPS)
    return NoiseModels(**columns)


def jump_in_words(points: Points, moment: Floats, models: NoiseModels, weight: Floats, words: Words) -> list[str]:
    """Return the sentence about a level that surely jumps: between which readings; none where it may not.

    Parameters
    ----------
    points : Points
        That the models are about.
    moment : array (n,), unit of time
    weight : array (model,), -
        Probability of each model.
    """
    jumps = np.flatnonzero(~np.isnan(models.slip))
    if not len(jumps) or weight[jumps].sum() <= CLEAR:
        return []
    place = models.slip[jumps[int(np.argmax(weight[jumps]))]]
    before, after = (moment < place), (moment > place)
    last, first = int(np.argmax(np.where(before, moment, -np.inf))), int(np.argmin(np.where(after, moment, np.inf)))
    return [
        f"the level jumps once, between the readings at {words.place(float(points.x[last]))} and "
        f"{words.place(float(points.x[first]))} or close by, as when segments slip or a sensor is knocked: the "
        "interval allows for it"
    ]


def _gain(points: Points, scale: Floats, jump: Floats) -> Floats:
    """Return by how much (J,) a jump raises the logarithm of the likelihood at best, the knee free with and without."""
    x = points.x
    line = np.linalg.qr(np.column_stack([scale, scale * (x - x.mean())]))[0]

    def left(columns: Floats) -> Floats:
        seen = scale[:, None] * columns
        rest: Floats = seen - line @ (line.T @ seen)
        return rest

    rest = left((points.y - points.y.mean())[:, None])[:, 0]
    bends, jumps = (_unit(left(some)) for some in (hinge(x[:, None] - candidate_knees(x, KNEES)), jump))
    bend, own, cosine = points.speaking(rest @ bends), rest @ jumps, jumps.T @ bends
    cosine = cosine * (points.sign or 1.0)
    across = np.maximum(1.0 - cosine**2, 1e-9)
    beside = bend - cosine * own[:, None]  # what is left for the bend once the jump has taken its part
    if not points.sign:
        beside = np.maximum(np.abs(beside), np.abs(bend + cosine * own[:, None]))
    both = (own[:, None] ** 2 + np.maximum(beside, 0.0) ** 2 / across).max(axis=1)
    whole = max(float(rest @ rest), 1e-300)
    alone = max(float(np.maximum(bend, 0.0).max()), 0.0) ** 2
    spare = np.maximum(np.array([whole - alone, *(whole - both)]), 1e-24 * whole)
    gain: Floats = 0.5 * (len(x) - 2) * np.log(spare[0] / spare[1:])
    return gain


def _unit(columns: Floats) -> Floats:
    size = np.sqrt((columns**2).sum(axis=0))
    return columns / np.where(size > 0.0, size, 1.0)
