"""Seek the prior weights of noise and rounding together: ``python -m tests.benchmarks.noise_weights``.

What a run says of each candidate noise, knee and width does not depend on how likely these are beforehand. It is worked
out once for every virtual run (a fifth of a second each, about 0.2 MB) and kept; other weights are then tried on all
runs in seconds. Printed are coverage and length with the weights of the code and with the best found: the shortest
intervals of white noise for which no group of families is held less often than asked.

Develop on one seed and measure on another, with `noise_calibration`: weights found here fit the runs they were sought
on. Families with steps and stray points are left out: jumps and what is stray are found by the run.
"""

from __future__ import annotations

import argparse
import time
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any
from unittest import mock

import numpy as np
from numpy.typing import NDArray

from rimmodel.evidence.knee import noise, posterior
from rimmodel.evidence.knee.broken_line import Points, candidate_knees
from rimmodel.evidence.knee.cumulative import cell_sizes, cumulative_of, interval_of
from rimmodel.evidence.knee.fit import FEWEST_TO_RESOLVE
from rimmodel.evidence.knee.groups import grouped
from rimmodel.evidence.knee.inference import one_line_probability, path_length
from rimmodel.evidence.knee.points import FEWEST_BY_SCATTER, checked_points, checked_sign
from tests.benchmarks.noise_calibration import CROSSED, FAMILIES, HIGHEST, POSSIBLE_DRIFT, Family, invented, lines

Floats = NDArray[np.float64]
HELD = 0.945
"""Least share of a group of families to be held, of all runs and of those closed; weaker groups are punished."""

FALSE = 0.03
"""Largest share of runs without a knee to be given one."""


@dataclass(frozen=True)
class Weights:
    """Prior weights, in the order of the tables of `noise` and `posterior`."""

    correlation: Floats
    growth: Floats
    drifting: Floats
    width: Floats
    width_of_few: Floats

    @classmethod
    def present(cls) -> Weights:
        """Those of the code."""
        return cls(
            np.array([weight for *_, weight in noise.CORRELATIONS]),
            np.array([weight for _, weight in noise.GROWTHS]),
            np.array(list(noise.DRIFTING.values())),
            np.array([weight for _, weight in posterior.WIDTHS]),
            np.array([weight for _, weight in posterior.WIDTHS_OF_FEW]),
        )

    def moved(self, random: np.random.Generator) -> Weights:
        """One or two of them changed."""
        changed = self
        for _ in range(random.integers(1, 3)):
            name = random.choice(["correlation", "correlation", "width", "width_of_few", "growth", "drifting"])
            values = getattr(changed, name).copy()
            place = random.integers(len(values))
            values[place] *= np.exp(random.normal(0.0, 0.5))
            values = np.minimum(values, 0.9) if name == "drifting" else values / values.sum()
            changed = replace(changed, **{name: values})
        return changed

    def of_widths(self, count: int) -> NDArray[np.float32]:
        """Weight of each width (W,) for a run of so many points."""
        return (self.width if count >= posterior.FEW else self.width_of_few).astype(np.float32)

    def of_models(self) -> Floats:
        """Logarithm of the weight of each candidate noise (model,)."""
        shares: dict[str, Any] = {
            "CORRELATIONS": tuple((*own[:2], w) for own, w in zip(noise.CORRELATIONS, self.correlation, strict=True)),
            "GROWTHS": tuple((own[0], w) for own, w in zip(noise.GROWTHS, self.growth, strict=True)),
            "DRIFTING": dict(zip(noise.DRIFTING, self.drifting, strict=True)),
        }
        with mock.patch.multiple(noise, **shares):
            return noise.noise_models(np.arange(5.0), np.arange(5.0), drift=1.0, directed=True).weight


@dataclass(frozen=True)
class Kept:
    """What one run says of each candidate, before any weights.

    Attributes
    ----------
    knee : float
        The truth, in the unit of x.
    count : int
        Of points.
    knees : array (K,)
    bent : array (model, K, W)
        Likelihood, over the highest.
    line : array (model,)
        The same of one straight line.
    chance : array (model,)
        That one straight line would show so large a bend.
    inner, outer : pair of float
        Range of `knees`, and of x.
    """

    knee: float
    count: int
    knees: Floats
    bent: NDArray[np.float32]
    line: Floats
    chance: Floats
    inner: tuple[float, float]
    outer: tuple[float, float]


def kept(family: Family, number: int, seed: int) -> Kept:
    """Work out what run `number` of a family says."""
    x, gap, knee = lines(family, invented(family, number, seed))
    points, _ = checked_points(x, gap, None, None, checked_sign(0.95, "down", 0.16))
    groups = grouped(points, np.arange(float(len(x))), None)
    points = groups.points
    models = noise.noise_models(points.x, groups.moment, None, groups.readings, POSSIBLE_DRIFT, directed=True)
    found = posterior.knee_posterior(points, models)
    seen = posterior.Whitened(points, models)
    bent = seen.bent_likelihood(found.knees, found.widths) - models.weight[:, None, None]
    line = seen.line_likelihood() - models.weight
    most = max(bent.max(), line.max())
    distinct = np.unique(points.x)
    return Kept(
        knee,
        len(points.x),
        found.knees,
        np.exp(bent - most).astype(np.float32),
        np.exp(line - most),
        _chances(points, seen),
        (float(distinct[1]), float(distinct[-2])),
        (float(distinct[0]), float(distinct[-1])),
    )


def _chances(points: Points, seen: posterior.Whitened) -> Floats:
    """Chance (model,) under each candidate noise that one straight line would show so large a bend."""
    knees = candidate_knees(points.x, 2 * posterior.COARSE)
    rows, length = seen.directions(knees, np.zeros(1))
    largest = (np.einsum("mnk,mn->mk", rows, seen.rest) / length * points.sign).max(axis=1) / np.sqrt(seen.misfit)
    paths = [path_length((row / size).T) for row, size in zip(rows, length, strict=True)]
    chances = [
        one_line_probability(float(one), path, seen.freedom, False, 1) for one, path in zip(largest, paths, strict=True)
    ]
    return np.array(chances)


def interval(run: Kept, of_models: Floats, of_widths: NDArray[np.float32]) -> tuple[float, float]:
    """Return the interval of the knee with the given weights, as the fit does; open towards 0 as well."""
    span, outside = run.outer[1] - run.outer[0], (posterior.BELOW, posterior.ABOVE)
    weight = np.exp(of_models)
    by_model = (run.bent @ of_widths).astype(float) * (weight * (1.0 - sum(outside)) / span)[:, None]
    density, line = by_model.sum(axis=0), weight * run.line
    below = density[0] * (run.inner[0] - run.outer[0]) + outside[0] * line.sum()
    above = density[-1] * (run.outer[1] - run.inner[1]) + outside[1] * line.sum()
    total = float((density * cell_sizes(run.knees)).sum() + below + above)
    share = by_model @ cell_sizes(run.knees) + (below + above) * line / line.sum()
    share = np.where(share > posterior.WORTH * share.max(), share, 0.0)
    chance = float(share @ run.chance / share.sum())
    if chance >= 0.05 or run.count < max(FEWEST_TO_RESOLVE, FEWEST_BY_SCATTER):
        return 0.0, np.inf
    low, high = interval_of(run.knees, cumulative_of(run.knees, density, below / total, above / total), 0.95)
    return max(low, 0.0), high


def spoilt_once(family: Family) -> bool:
    """Whether a step or stray points spoil the runs of a family."""
    return family.course == "step" or family.outliers > 0.0


def group(family: Family) -> str:
    """Families that are judged together."""
    direction = "up and down" if family.down else "up"
    if not family.knee:
        return "no knee"
    if family.drift:
        return "drift"
    if family.growth > 1.0:
        return "growth"
    return f"correlation {family.correlation}, rounded {family.rounded}, {direction}"


@dataclass(frozen=True)
class Outcome:
    """Shares of each group of families, and the mean logarithm of the length of sharp knees in white noise."""

    held: dict[str, float]
    closed_held: dict[str, float]
    closed: dict[str, float]
    length: float

    @property
    def cost(self) -> float:
        """What is to be as small as can be: length, and what groups lack of the coverage asked."""
        lacking = 0.0
        for name, held in self.held.items():
            if name == "no knee":
                lacking += max(0.0, self.closed[name] - FALSE) ** 2
            else:
                lacking += max(0.0, HELD - held) ** 2 + max(0.0, HELD - self.closed_held[name]) ** 2
        return self.length + 300.0 * lacking


def outcome(runs: dict[Family, list[Kept]], weights: Weights) -> Outcome:
    """Coverage and length of all runs with the given weights."""
    of_models, rows, lengths = weights.of_models(), defaultdict(list), []
    for family, members in runs.items():
        for run in members:
            low, high = interval(run, of_models, weights.of_widths(run.count))
            rows[group(family)].append((low <= run.knee <= high, low > 0.0 and np.isfinite(high)))
            if not (family.correlation or family.rounded or family.drift) and family.knee:
                lengths.append(np.log((min(high, HIGHEST) - low) / HIGHEST))
    shares = {name: np.array(pairs, dtype=float).T for name, pairs in rows.items()}
    held = {name: float(pair[0].mean()) for name, pair in shares.items()}
    closed = {name: float(pair[1].mean()) for name, pair in shares.items()}
    sure = {name: float(pair[0] @ pair[1] / max(pair[1].sum(), 1.0)) for name, pair in shares.items()}
    return Outcome(held, sure, closed, float(np.mean(lengths)))


def show(name: str, weights: Weights, found: Outcome) -> None:
    """Print weights and what they give."""
    print(f"\n{name}: length of white noise {np.exp(found.length):.4f}, cost {found.cost:.4f}")
    for part in ("correlation", "growth", "drifting", "width", "width_of_few"):
        print(f"  {part}: {', '.join(f'{value:.3g}' for value in getattr(weights, part))}")
    for one, held in found.held.items():
        print(f"  {one:<46}{held:7.1%}{found.closed[one]:8.1%}{found.closed_held[one]:9.1%}")


def seek(runs: dict[Family, list[Kept]], seconds: float, seed: int) -> tuple[Weights, Outcome]:
    """Better weights by changes at random, for a time."""
    random, ends = np.random.default_rng(seed), time.monotonic() + seconds
    best = Weights.present()
    found = outcome(runs, best)
    while time.monotonic() < ends:
        tried = best.moved(random)
        other = outcome(runs, tried)
        if other.cost < found.cost:
            best, found = tried, other
    return best, found


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the weights of the code and those found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=60, help="of each family")
    parser.add_argument("--seed", type=int, default=8202)
    parser.add_argument("--seconds", type=float, default=600.0, help="to seek for")
    parser.add_argument("--only", default="", help="families whose name holds this")
    asked = parser.parse_args(arguments)
    families = [one for one in (*FAMILIES, *CROSSED) if not spoilt_once(one) and asked.only in one.name]
    runs = {one: [kept(one, number, asked.seed) for number in range(asked.runs)] for one in families}
    show("weights of the code", Weights.present(), outcome(runs, Weights.present()))
    show("best found", *seek(runs, asked.seconds, asked.seed))


if __name__ == "__main__":
    main()
