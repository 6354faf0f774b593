"""Which uncertain input drives the scatter of an output: first and total Sobol indices."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.behaviour.study.blocks import TASK, Progress
from rimmodel.behaviour.study.inputs import Inputs, Model
from rimmodel.behaviour.study.sampling import Method, Sampler, sampler
from rimmodel.behaviour.study.workers import Workers, task_map
from rimmodel.rotor.blocks import BLOCK


@dataclass(frozen=True)
class SobolIndices:
    """Shares of the variance, NaN where an output has values that are not finite.

    Attributes
    ----------
    first : array (output, group), -
        What a group does by itself.
    total : array (output, group), -
        All that it has a part in.
    first_error, total_error : array (output, group), -
        Standard errors, as of independent samples (scrambled Sobol points do better).
    """

    outputs: tuple[str, ...]
    groups: tuple[str, ...]
    first: Floats
    total: Floats
    first_error: Floats
    total_error: Floats
    samples: int
    evaluations: int


@dataclass(frozen=True)
class _Task:
    model: Model
    inputs: Inputs
    points: Sampler
    groups: tuple[tuple[int, ...], ...]
    outputs: tuple[str, ...]
    centre: Floats


def sobol_indices(
    model: Model,
    inputs: Inputs,
    samples: int,
    *,
    method: Method = "sobol",
    seed: int = 0,
    workers: Workers = 1,
    chunk: int = TASK,
    progress: Progress | None = None,
) -> SobolIndices:
    """First and total Sobol indices of every output for every independent group of inputs.

    Parameters
    ----------
    model : callable
        As of `study`.
    inputs : Inputs
        Correlated inputs, the keys of a fit and the columns of a drawn table each count as one group, because the
        indices split a variance only among what is independent.
    samples : int
        Of each of the two tables that are crossed; the model is evaluated samples x (groups + 2) times.
    method, workers, chunk : as in `study`
        Results do not depend on workers or chunk.

    Notes
    -----
    First: ``mean(f_B (f_ABi - f_A))`` (Saltelli et al. 2010, Comput. Phys. Commun. 181, p. 262, table 2); total:
    ``mean((f_A - f_ABi)^2)/2`` (Jansen 1999). Both from memory, and held against a closed form in the tests.

    A sum of independent inputs has no interactions; one with twice the spread carries four fifths:

    >>> from rimmodel.rotor.tolerance import Tolerance
    >>> pair = Inputs((Tolerance("a", 0.0, "normal", 1.0), Tolerance("b", 0.0, "normal", 2.0)))
    >>> found = sobol_indices(lambda t: {"sum": t["a"] + t["b"]}, pair, 2**14)
    >>> print(np.round(found.first, 2), np.round(found.total, 2))
    [[0.2 0.8]] [[0.2 0.8]]
    """
    groups = inputs.groups()
    points = sampler(method, 2 * inputs.dimensions, samples, seed)
    first = model(inputs.values(points.block(0)[: inputs.dimensions]))
    centre = np.array([np.mean(values) for values in first.values()])
    centre = np.where(np.isfinite(centre), centre, 0.0)
    task = _Task(model, inputs, points, tuple(groups.values()), tuple(first), centre)
    step = max(1, -(-chunk // BLOCK))
    pieces = [range(start, min(start + step, points.blocks)) for start in range(0, points.blocks, step)]
    rows: list[Floats] = []
    with task_map(workers) as run:
        for piece in run(partial(_blocks, task), pieces):
            rows.extend(piece)
            if progress is not None:
                progress(min(len(rows) * BLOCK, points.count), points.count)
    sums = np.cumsum(rows, axis=0)[-1]  # in the order of the blocks
    return _indices(task, tuple(groups), sums / points.count)


def _blocks(task: _Task, numbers: range) -> list[Floats]:
    return [_block(task, number) for number in numbers]


def _block(task: _Task, number: int) -> Floats:
    """Sums of a block (output, 4 + 4 groups): means and squares, then both terms of each group and their squares."""
    cube = task.points.block(number)
    half = len(cube) // 2
    one, two = cube[:half], cube[half:]
    size = cube.shape[1]

    def outputs(coordinates: Floats) -> Floats:
        found = task.model(task.inputs.values(coordinates))
        values = np.stack([np.broadcast_to(found[name], (size,)) for name in task.outputs])
        with np.errstate(invalid="ignore"):
            return values - task.centre[:, None]

    with np.errstate(invalid="ignore"):
        a, b = outputs(one), outputs(two)
        columns = [a, b, a * a, b * b]
        for group in task.groups:
            crossed = one.copy()
            crossed[list(group)] = two[list(group)]
            mixed = outputs(crossed)
            alone, whole = b * (mixed - a), 0.5 * (a - mixed) ** 2
            columns += [alone, whole, alone * alone, whole * whole]
        return np.array([column.sum(axis=1) for column in columns]).T


def _indices(task: _Task, names: tuple[str, ...], means: Floats) -> SobolIndices:
    centre = 0.5 * (means[:, 0] + means[:, 1])
    variance = 0.5 * (means[:, 2] + means[:, 3]) - centre**2
    count = task.points.count
    terms = means[:, 4:].reshape(len(means), len(names), 4)
    with np.errstate(divide="ignore", invalid="ignore"):
        shares = terms[:, :, :2] / variance[:, None, None]
        errors = np.sqrt(np.maximum(terms[:, :, 2:] - terms[:, :, :2] ** 2, 0.0) / count) / variance[:, None, None]
    return SobolIndices(
        task.outputs, names, shares[:, :, 0], shares[:, :, 1], errors[:, :, 0], errors[:, :, 1],
        count, count * (len(names) + 2),
    )  # fmt: skip
