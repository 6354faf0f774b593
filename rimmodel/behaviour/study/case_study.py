"""The tolerance study of a case: what varies, what is asked, and all samples, block by block."""

from __future__ import annotations

import hashlib
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, fields, is_dataclass, replace
from pathlib import Path
from typing import Any, Literal, Protocol

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Interval
from rimmodel.behaviour.quantities import less_is_better
from rimmodel.behaviour.study.blocks import TASK, Bound, Part, Plan, Progress, Study, parts, plan_study, summarise
from rimmodel.behaviour.study.inputs import Inputs, with_table
from rimmodel.behaviour.study.propagation import Propagation, differences, propagate
from rimmodel.behaviour.study.rotor_model import Asked, RotorModel, case_inputs, check_table, rotor_model
from rimmodel.behaviour.study.sobol_indices import SobolIndices, sobol_indices
from rimmodel.rotor.blocks import BLOCK
from rimmodel.rotor.case.case import Case

SAVE_EVERY = 5.0
"""Seconds between two partial results on disk."""


@dataclass(frozen=True)
class Settings:
    """How the samples of a study are drawn and run.

    Parameters
    ----------
    workers, method : as in `study`
    seed : int
        Of random samples.
    table : mapping of str to array (n,), SI, optional
        Samples of quantities of the case by key, drawn row by row in the place of their tolerances.
    index_samples : int
        Samples of each table of the Sobol indices; 0 for none. By default standard errors are a hundredth or less.
    chunk : as in `study`
    progress : callable, optional
        Called with the samples done and their number.
    """

    workers: int | str | Callable[..., Any] = 1
    method: Literal["sobol", "random", "latin hypercube"] = "sobol"
    seed: int = 1
    table: Mapping[str, ArrayLike] | None = None
    index_samples: int = 2**14
    chunk: int = TASK
    progress: Progress | None = None


class ShownByRun(Protocol):
    """What a measured run shows of something that is claimed or required."""

    @property
    def role(self) -> str:
        """One of "claim" and "requirement"."""

    @property
    def verdict(self) -> str:
        """One of "holds", "does not hold" and "not shown"."""

    @property
    def interval(self) -> Interval | None:
        """By test, SI; None where no run covers it."""

    @property
    def measured_how(self) -> str:
        """By which run, in words."""


@dataclass(frozen=True)
class ToleranceStudy:
    """A study of a case with everything its tables and figures are made from.

    `indices` is None where they were not asked for or the run was interrupted before; `written` is the file that
    holds the result or, of an interrupted run, what is done of it; `by_run` is what measured runs show of every claim
    and requirement in their order, empty where nothing was set beside the study.
    """

    case: Case
    asked: tuple[Asked, ...]
    inputs: Inputs
    study: Study
    linear: Propagation
    warnings: dict[str, str]
    indices: SobolIndices | None
    notes: tuple[str, ...]
    written: Path | None = None
    by_run: tuple[ShownByRun, ...] = ()

    @property
    def interrupted(self) -> bool:
        """Whether the run was stopped before all samples were done."""
        return not self.study.complete


class Store(Protocol):
    """Where a study keeps what is done of it, and its result."""

    @property
    def partial(self) -> Path:
        """Where what is done stands while the study runs."""

    def load(self, resume: bool) -> Part | None:
        """What is done already of the study that is taken up again."""

    def save(self, part: Part, result: ToleranceStudy | None = None) -> None:
        """Keep what is done, and what it shows so far."""

    def finish(self, result: ToleranceStudy) -> Path:
        """Keep the whole result, in the place that is returned."""


def case_study(
    case: Case,
    samples: int,
    settings: Settings | None = None,
    *,
    kept_in: Callable[[str], Store] | None = None,
    resume: bool = False,
    by_run: Sequence[ShownByRun] = (),
    notes: Sequence[str] = (),
) -> ToleranceStudy:
    """Run the tolerance study of a case.

    Parameters
    ----------
    case : Case
        With tolerances.
    samples : as in `study`
    kept_in : callable, optional
        Makes the store from the fingerprint of the study: what makes two studies the same.
    resume : bool
        Go on from the partial result of the same study.
    by_run : sequence of ShownByRun
        What measured runs show of every claim and requirement.
    notes : sequence of str
        To stand with those of the study.

    Returns
    -------
    ToleranceStudy
        Of an interrupted run (Ctrl-C) that of the samples done.

    Raises
    ------
    ValueError
        Nothing varies; a number out of its rule; a partial result of another study.

    The tolerance
    of the drawing alone, 0.1 mm on 2.1 mm as two standard uncertainties, is 2.4 % of the interference and so 1.2 % of
    the float speed of a cold rim, whose square is proportional to it. Derived here.

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> drawing = replace(case, tolerances=case.tolerances[:1], correlations=())
    >>> found = case_study(drawing, 2**13, Settings(index_samples=0))
    >>> speed = found.study.distributions["float_speed, cold"]
    >>> print(f"{100 * speed.standard_deviation / speed.mean:.1f} %")
    1.2 %
    """
    how = Settings() if settings is None else settings
    model, inputs = rotor_model(case), case_inputs(case)
    if how.table is not None:
        check_table(case, how.table)
        inputs = with_table(inputs, how.table)
    if not inputs.names:
        raise ValueError(f"{case.title!r} states no tolerances; add [tolerances] or fit.interference_tolerance")
    plan = plan_study(model, inputs, samples, bounds=case_bounds(case), method=how.method, seed=how.seed)
    notes = list(notes)
    if plan.points.count != samples:
        notes.append(f"{samples} samples rounded up to {plan.points.count} for the Sobol sequence")
    store = None if kept_in is None else kept_in(_fingerprint(case, plan))
    if resume and store is None:
        raise ValueError("resume needs the result file (--out): the partial result is stored beside it")
    done = store.load(resume) if store else None
    if resume:
        found = 0 if done is None else min(done.blocks * BLOCK, plan.points.count)
        notes.append(f"resumed after {found} samples" if found else "no partial result to resume; all samples were run")
    linear = propagate(model, inputs)
    part = _run(plan, store, done, how)
    study = summarise(plan, part)
    indices = _indices(model, inputs, how, notes) if how.index_samples and study.complete else None
    if not study.complete:
        where = (
            "nothing was stored, as no output file was named"
            if store is None
            else f"they are stored in {store.partial}"
        )
        notes.append(f"interrupted after {study.samples} of {study.planned} samples; {where}")
    warnings = differences(linear, study.distributions)
    result = ToleranceStudy(
        case, model.asked, inputs, study, linear, warnings, indices, tuple(notes), by_run=tuple(by_run)
    )
    return result if store is None else _kept(result, part, store)


def _indices(model: RotorModel, inputs: Inputs, how: Settings, notes: list[str]) -> SobolIndices | None:
    """The indices; None, with a note, where the run was interrupted."""
    try:
        return sobol_indices(
            model, inputs, how.index_samples, method=how.method, seed=how.seed, workers=how.workers, chunk=how.chunk
        )
    except KeyboardInterrupt:
        notes.append("interrupted while the Sobol indices were computed; they are left out")
        return None


def _kept(result: ToleranceStudy, part: Part, store: Store) -> ToleranceStudy:
    """The result on disk: in its file when it is complete, else beside it."""
    if result.interrupted:
        store.save(part, result)
        return replace(result, written=store.partial)
    return replace(result, written=store.finish(result))


def case_bounds(case: Case) -> tuple[Bound, ...]:
    """What is required and claimed of a case, as bounds on the outputs of its study."""
    bounds = []
    for row in case.requirements:
        output = Asked(row.quantity, case.condition(row.condition)[0]).name
        bounds.append(Bound(row.name, output, row.at_least, row.at_most))
    for claim in case.claims:
        output = Asked(claim.quantity, case.condition(claim.condition)[0]).name
        width = claim.tolerance * abs(claim.value)
        if less_is_better(claim.quantity):
            bounds.append(Bound(f"claim: {claim.quantity}", output, at_most=claim.value + width))
        else:
            bounds.append(Bound(f"claim: {claim.quantity}", output, at_least=claim.value - width))
    return tuple(bounds)


def _run(plan: Plan, store: Store | None, done: Part | None, how: Settings) -> Part:
    """All blocks, or those done when the run was interrupted."""
    part = done
    if store is not None and part is None:
        store.save(_nothing(plan))  # a place that cannot be written shows now, not after an hour
    saved = time.monotonic()
    running = parts(plan, workers=how.workers, chunk=how.chunk, done=done)
    try:
        with closing(running):
            for part in running:
                if how.progress is not None:
                    how.progress(min(part.blocks * BLOCK, plan.points.count), plan.points.count)
                if store is not None and time.monotonic() - saved > SAVE_EVERY:
                    store.save(part)
                    saved = time.monotonic()
    except KeyboardInterrupt:
        if part is None:
            raise KeyboardInterrupt("interrupted before the first samples were complete: there is no result") from None
    if part is None:
        raise ValueError("a study without samples")
    return part


def _nothing(plan: Plan) -> Part:
    outputs = len(plan.outputs)
    return Part(
        np.zeros((0, outputs, 3), np.int64), np.zeros((0, outputs, 4)), np.zeros((0, len(plan.bounds)), np.int64),
        np.zeros((outputs, 0), np.int64),
    )  # fmt: skip


def _fingerprint(case: Case, plan: Plan) -> str:
    """What makes two studies the same: case, inputs, points, bounds and version."""
    from importlib.metadata import version

    points = (plan.points.method, plan.points.count, plan.points.seed)
    told = (version("rimmodel"), case.digest, plan.model, plan.inputs.marginals, plan.inputs.correlations, points)
    digest = hashlib.sha256(repr(_in_full((*told, plan.outputs, plan.bounds))).encode())
    for name, column in plan.inputs.drawn.items():
        digest.update(name.encode() + np.ascontiguousarray(column).tobytes())
    return digest.hexdigest()


def _in_full(value: object) -> object:
    """A value with everything that it holds: what a rotor shows of itself in one line is not all of it."""
    if is_dataclass(value) and not isinstance(value, type):
        held = {field.name: _in_full(getattr(value, field.name)) for field in fields(value)}
        return type(value).__name__, held
    if isinstance(value, dict):
        return {_in_full(key): _in_full(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return tuple(_in_full(item) for item in value)
    return value
