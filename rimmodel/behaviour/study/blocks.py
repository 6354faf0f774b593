"""A model under uncertain inputs: run in fixed blocks, reduced as it goes, the same bits whoever does the work.

Every block of 8192 samples is drawn, evaluated and summed by itself, and the sums are added in the order of the
blocks. Neither the number of workers nor the size of a task can therefore change a result, and memory stays flat.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats, Interval
from rimmodel.behaviour.study.distribution import BINS, Distribution, wilson
from rimmodel.behaviour.study.inputs import Inputs, Model
from rimmodel.behaviour.study.sampling import Method, Sampler, sampler
from rimmodel.behaviour.study.workers import Workers, task_map
from rimmodel.rotor.blocks import BLOCK

TASK = 16 * BLOCK
"""Samples that one task takes by default."""

Progress = Callable[[int, int], None]
"""Called with the samples done and their whole number."""


@dataclass(frozen=True)
class Bound:
    """A bound that an output must keep; what has no state (NaN) does not keep it.

    Attributes
    ----------
    at_least, at_most : float, SI
        None for no bound on that side.
    """

    name: str
    output: str
    at_least: float | None = None
    at_most: float | None = None

    def met(self, value: Floats) -> NDArray[np.bool_]:
        """Whether each value keeps the bound."""
        with np.errstate(invalid="ignore"):
            above = np.ones(value.shape, bool) if self.at_least is None else value >= self.at_least
            below = np.ones(value.shape, bool) if self.at_most is None else value <= self.at_most
            return above & below & ~np.isnan(value)


@dataclass(frozen=True)
class Plan:
    """All that a task needs: model, inputs, points, bounds, and the frame in which outputs are counted.

    Attributes
    ----------
    centre, low, high : array (output,), SI
        From the first block.
    """

    model: Model
    inputs: Inputs
    points: Sampler
    outputs: tuple[str, ...]
    bounds: tuple[Bound, ...]
    centre: Floats
    low: Floats
    high: Floats


@dataclass(frozen=True)
class Part:
    """What one or more blocks add to a study.

    Attributes
    ----------
    counts : int array (block, output, 3)
        Finite, never (+inf) and none (NaN).
    sums : array (block, output, 4), SI
        Deviations from the centre, their squares, least and largest value.
    met : int array (block, bound)
    histogram : int array (output, bin)
    """

    counts: NDArray[np.int64]
    sums: Floats
    met: NDArray[np.int64]
    histogram: NDArray[np.int64]

    @property
    def blocks(self) -> int:
        """Number of blocks."""
        return len(self.sums)

    def joined(self, other: Part) -> Part:
        """All blocks of one part and the other, which follows it."""
        return Part(
            np.concatenate([self.counts, other.counts]),
            np.concatenate([self.sums, other.sums]),
            np.concatenate([self.met, other.met]),
            self.histogram + other.histogram,
        )


@dataclass(frozen=True)
class Chance:
    """Chance that a bound is kept, with its own sampling interval (Wilson, 95 %).

    Attributes
    ----------
    probability : float, -
    interval : pair of float, -
    """

    bound: Bound
    met: int
    samples: int
    probability: float
    interval: Interval


@dataclass(frozen=True)
class Convergence:
    """Mean, standard deviation and chances after each power of two of blocks.

    Attributes
    ----------
    samples : int array (step,)
    mean, standard_deviation : array (step, output), SI
    probability : array (step, bound), -
    """

    samples: NDArray[np.int64]
    mean: Floats
    standard_deviation: Floats
    probability: Floats


@dataclass(frozen=True)
class Study:
    """Distributions of the outputs, chances of the bounds, and how they settled with the number of samples."""

    distributions: dict[str, Distribution]
    chances: tuple[Chance, ...]
    convergence: Convergence
    samples: int
    planned: int
    method: Method
    seed: int

    @property
    def complete(self) -> bool:
        """Whether all planned samples were run."""
        return self.samples == self.planned


def study(
    model: Model,
    inputs: Inputs,
    samples: int,
    *,
    bounds: Sequence[Bound] = (),
    method: Method = "sobol",
    seed: int = 0,
    workers: Workers = 1,
    chunk: int = TASK,
    progress: Progress | None = None,
) -> Study:
    """Run a model over its uncertain inputs and reduce its outputs.

    Parameters
    ----------
    model : callable
        Outputs (sample,) by name for inputs (sample,) by name; picklable where others do the work.
    samples : int
        Rounded up to a power of two for scrambled Sobol points.
    method : "sobol", "random" or "latin hypercube"
    workers : int, str or map-like callable
        See `task_map`. The results are the same to the last bit for all of them.
    chunk : int
        Samples of one task, rounded up to whole blocks of 8192.

    Raises
    ------
    ValueError
        Nothing varies, a number out of its rule, a bound on an unknown output.

    The sum of two uniform numbers has a standard deviation of sqrt(1/6) = 0.4082 and exceeds 1.5 one time in 8:

    >>> from rimmodel.rotor.tolerance import Tolerance
    >>> pair = Inputs(tuple(Tolerance(name, 0.5, "uniform", 12**-0.5, 0.5) for name in "ab"))
    >>> done = study(lambda t: {"sum": t["a"] + t["b"]}, pair, 2**14, bounds=[Bound("b", "sum", at_least=1.5)])
    >>> f"{done.distributions['sum'].standard_deviation:.3f} {done.chances[0].probability:.3f}"
    '0.408 0.125'
    """
    plan = plan_study(model, inputs, samples, bounds=bounds, method=method, seed=seed)
    part = None
    for part in parts(plan, workers=workers, chunk=chunk):
        if progress is not None:
            progress(min(part.blocks * BLOCK, plan.points.count), plan.points.count)
    if part is None:
        raise ValueError("a study without samples")
    return summarise(plan, part)


def plan_study(
    model: Model,
    inputs: Inputs,
    samples: int,
    *,
    bounds: Sequence[Bound] = (),
    method: Method = "sobol",
    seed: int = 0,
) -> Plan:
    """Draw the points and evaluate the first block, which frames the counts of each output; see `study`.

    Raises `ValueError` for a bound on what the model does not put out.
    """
    points = sampler(method, inputs.dimensions, samples, seed)
    first = model(inputs.values(points.block(0)))
    for bound in bounds:
        if bound.output not in first:
            raise ValueError(f"bound {bound.name!r} is on {bound.output!r}; the outputs are {', '.join(first)}")
    frames = np.array([_frame(np.asarray(values)) for values in first.values()])
    return Plan(model, inputs, points, tuple(first), tuple(bounds), *frames.T)


def _frame(values: Floats) -> tuple[float, float, float]:
    """Centre and both ends of the histogram: three times as wide as what the first block shows."""
    finite = values[np.isfinite(values)]
    if not finite.size:
        return 0.0, 0.0, 1.0
    low, high = float(finite.min()), float(finite.max())
    width = max(high - low, 1e-9 * max(abs(low), abs(high)), 1e-300)
    return float(finite.mean()), low - width, high + width


def parts(plan: Plan, *, workers: Workers = 1, chunk: int = TASK, done: Part | None = None) -> Generator[Part]:
    """Run the blocks in tasks of `chunk` samples; after each, all that is done so far, `done` included.

    Raises `ValueError` for a chunk below 1.
    """
    if chunk < 1:
        raise ValueError(f"chunk is {chunk} samples; it must be 1 or more")
    step = -(-chunk // BLOCK)
    first = 0 if done is None else done.blocks
    if done is not None and first >= plan.points.blocks:
        yield done
        return
    tasks = [range(start, min(start + step, plan.points.blocks)) for start in range(first, plan.points.blocks, step)]
    with task_map(workers) as run:
        for part in run(partial(run_blocks, plan), tasks):
            done = part if done is None else done.joined(part)
            yield done


def run_blocks(plan: Plan, numbers: range) -> Part:
    """Draw, evaluate and sum one or more blocks."""
    histogram = np.zeros((len(plan.outputs), BINS + 2), np.int64)
    rows = [_block(plan, number, histogram) for number in numbers]
    counts, sums, met = zip(*rows, strict=True)
    return Part(np.array(counts), np.array(sums), np.array(met), histogram)


_Row = tuple[NDArray[np.int64], Floats, NDArray[np.int64]]


def _block(plan: Plan, number: int, histogram: NDArray[np.int64]) -> _Row:
    """Counts, sums and met bounds of a block; its values are added to the histogram."""
    table = plan.inputs.values(plan.points.block(number))
    size = len(next(iter(table.values())))
    outputs = {name: np.broadcast_to(values, (size,)) for name, values in plan.model(table).items()}
    counts = np.zeros((len(plan.outputs), 3), np.int64)
    sums = np.zeros((len(plan.outputs), 4))
    for row, name in enumerate(plan.outputs):
        values = outputs[name]
        usable = np.isfinite(values)
        kept = values if usable.all() else values[usable]
        never = int(np.count_nonzero(values == np.inf))
        counts[row] = kept.size, never, size - kept.size - never
        sums[row] = _sums(kept, plan.centre[row])
        place = (kept - plan.low[row]) * (BINS / (plan.high[row] - plan.low[row])) + 1.0
        # what lies outside the frame is counted in the first and the last bin
        np.add.at(histogram[row], np.clip(place, 0.0, BINS + 1.0, out=place).astype(np.intp), 1)
    met = np.array([np.count_nonzero(bound.met(outputs[bound.output])) for bound in plan.bounds], np.int64)
    return counts, sums, met


def _sums(kept: Floats, centre: float) -> tuple[float, float, float, float]:
    if not kept.size:
        return 0.0, 0.0, np.inf, -np.inf
    deviation = kept - centre
    return float(deviation.sum()), float((deviation * deviation).sum()), float(kept.min()), float(kept.max())


def summarise(plan: Plan, part: Part) -> Study:
    """Distributions, chances and convergence of all blocks of a part."""
    samples = min(part.blocks * BLOCK, plan.points.count)
    finite = np.cumsum(part.counts[:, :, 0], axis=0)
    moments = np.cumsum(part.sums[:, :, :2], axis=0)  # adds block by block, in order
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = moments[:, :, 0] / finite
        variance = np.maximum(moments[:, :, 1] / finite - mean**2, 0.0) * finite / np.maximum(finite - 1, 1)
    mean, spread = plan.centre + mean, np.sqrt(variance)
    totals = part.counts.sum(axis=0)
    distributions = {}
    for row, name in enumerate(plan.outputs):
        least, most = part.sums[:, row, 2].min(), part.sums[:, row, 3].max()
        inner = np.linspace(plan.low[row], plan.high[row], BINS + 1)
        edges = np.concatenate([[min(least, inner[0])], inner, [max(most, inner[-1])]])
        distributions[name] = Distribution(
            name, float(mean[-1, row]), float(spread[-1, row]), float(least), float(most), edges,
            part.histogram[row], int(totals[row, 1]), int(totals[row, 2]),
        )  # fmt: skip
    met = np.cumsum(part.met, axis=0)
    chances = tuple(
        Chance(bound, int(count), samples, int(count) / samples, wilson(int(count), samples))
        for bound, count in zip(plan.bounds, met[-1], strict=True)
    )
    steps = sorted({*(2**k for k in range(part.blocks.bit_length())), part.blocks})
    at = np.array(steps) - 1
    run = np.minimum(np.array(steps) * BLOCK, samples)
    settled = Convergence(run, mean[at], spread[at], met[at] / run[:, None])
    return Study(distributions, chances, settled, samples, plan.points.count, plan.points.method, plan.points.seed)
