"""A tolerance study of a case: run it, keep what is done on disk, and take it up again where it stopped."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Literal

from numpy.typing import ArrayLike

from rimmodel.behaviour.study.case_study import Settings, ToleranceStudy, case_study
from rimmodel.rotor.case.case import Case
from rimmodel.verdict.judge import Finding
from rimmodel.verdict.output.study_store import StudyStore
from rimmodel.verdict.records import input_files


def run_study(
    case: Case,
    samples: int = 100_000,
    *,
    workers: int | str | Callable[..., Any] = 1,
    method: Literal["sobol", "random", "latin hypercube"] = "sobol",
    seed: int = 1,
    table: Mapping[str, ArrayLike] | None = None,
    index_samples: int = Settings.index_samples,
    chunk: int = Settings.chunk,
    out: str | Path | None = None,
    resume: bool = False,
    overwrite: bool = False,
    progress: Callable[[int, int], None] | None = None,
    by_run: bool = False,
) -> ToleranceStudy:
    """Run the tolerance study of a case.

    Parameters
    ----------
    case : Case
        With tolerances.
    samples, workers, method : as in `study`
    table : mapping of str to array (n,), SI, optional
        Samples of quantities of the case by key, drawn row by row in the place of their tolerances: the posterior
        of a fit, or measured values.
    index_samples : int
        Samples of each table of the Sobol indices; 0 for none.
    chunk : as in `study`
    out : path, optional
        JSON file for the result. While the study runs, ``<out>.partial`` holds what is done.
    resume : bool
        Go on from the partial result of the same study.
    overwrite : bool
        Replace an existing result, and drop a partial result.
    by_run : bool
        Whether what the recordings of the case show of its claims and requirements is set beside the shares; a note
        says so where they cannot be read.

    Returns
    -------
    ToleranceStudy
        Of an interrupted run (Ctrl-C) that of the samples done; the partial result is on disk where `out` is given.

    Raises
    ------
    ValueError
        Nothing varies; a number out of its rule; a partial result of another study.
    OutputError
        The result exists, or the place cannot be written.

    The tolerance of the drawing alone, 0.1 mm on 2.1 mm as two standard uncertainties, is 2.4 % of the interference
    and so 1.2 % of the float speed of a cold rim, whose square is proportional to it:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> from dataclasses import replace
    >>> drawing = replace(case, tolerances=case.tolerances[:1], correlations=())
    >>> speed = run_study(drawing, 2**13, index_samples=0).study.distributions["float_speed, cold"]
    >>> print(f"{100 * speed.standard_deviation / speed.mean:.1f} %")
    1.2 %
    """
    how = Settings(workers, method, seed, table, index_samples, chunk, progress)
    shown, notes = _shown_by_run(case) if by_run else ((), ())
    if out is None:
        return case_study(case, samples, how, resume=resume, by_run=shown, notes=notes)
    place, inputs = Path(out), input_files(case)

    def kept_in(fingerprint: str) -> StudyStore:
        return StudyStore(place, fingerprint, overwrite, inputs)

    return case_study(case, samples, how, kept_in=kept_in, resume=resume, by_run=shown, notes=notes)


def _shown_by_run(case: Case) -> tuple[tuple[Finding, ...], tuple[str, ...]]:
    """What the recordings of a case show of its claims and requirements; else a note why nothing stands beside."""
    from rimmodel.verdict.assess import findings_by_run

    try:
        return findings_by_run(case), ()
    except (ValueError, OSError) as reason:  # a study needs no recording
        return (), (f"what the recordings of the case show is not set beside the shares: {reason}",)
