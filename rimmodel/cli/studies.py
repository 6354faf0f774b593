"""Commands on many rotors: study, fleet."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer

from rimmodel.behaviour.study.workers import MOST_PROCESSES
from rimmodel.cli.plain_text import echo, shown
from rimmodel.cli.program import (
    BAD_INPUT,
    INTERRUPTED,
    AsJson,
    CasePath,
    Force,
    Workbook,
    app,
    case_at,
    print_json,
    refuse_bad_workbook,
    refuse_empty,
)

Workers = Annotated[
    str, typer.Option("--workers", metavar="W", help="Number of worker processes, or the address of a dask scheduler.")
]  # fmt: skip


@app.command()
def study(
    case: CasePath = None,
    samples: Annotated[int, typer.Option("--samples", metavar="N", help="Number of samples.")] = 100_000,
    workers: Workers = "1",
    seed: Annotated[
        int, typer.Option("--seed", metavar="S", help="Random seed; the same seed gives the same results.")
    ] = 1,
    as_json: AsJson = False,
    out: Annotated[
        str | None,
        typer.Option("--out", metavar="DIR", help="Folder for JSON and figures, or a .json file for the JSON alone."),
    ] = None,
    resume: Annotated[bool, typer.Option("--resume", help="Resume an interrupted study.")] = False,
    force: Force = False,
) -> None:
    """Propagate tolerances: distributions, probability of meeting each requirement, main contributors."""
    from rimmodel.verdict.output import study as output
    from rimmodel.verdict.output.study_store import study_place
    from rimmodel.verdict.tolerance_study import run_study

    refuse_empty("--out", out)
    read = case_at(case)
    file, figures = study_place(out)
    with progress_bar("samples") as progress:
        result = run_study(
            read,
            samples,
            workers=_workers(workers),
            seed=seed,
            out=file,
            resume=resume,
            overwrite=force,
            progress=progress,
            by_run=True,
        )
    if as_json:
        print_json(output.table(result))
    else:
        echo(output.text(result))
    if result.written:
        echo(f"wrote {result.written}", err=True)
    if result.interrupted:
        raise typer.Exit(INTERRUPTED)
    if figures:
        from rimmodel.verdict.output import study_figures

        written = study_figures.write(result, figures, overwrite=force)
        echo(f"wrote {', '.join(path.name for path in written)} in {figures}", err=True)


@app.command()
def fleet(
    folder: Annotated[str, typer.Argument(metavar="FOLDER", help="Folder with case files and their recordings.")],
    workers: Workers = "1",
    as_json: AsJson = False,
    out: Annotated[str | None, typer.Option("--out", metavar="DIR", help="Folder for CSV and HTML.")] = None,
    xlsx: Workbook = None,
    force: Force = False,
    pooled_verdicts: Annotated[
        bool,
        typer.Option(
            "--pooled-verdicts", help="Also say what requirements on the float speed would be with sister units."
        ),
    ] = False,
) -> None:
    """Review every case in a folder: claims and requirements alike, the worst first."""
    from rimmodel.verdict.output import fleet as output
    from rimmodel.verdict.output.fleet import fleet as review_fleet

    refuse_empty("--out", out)
    refuse_bad_workbook(xlsx)
    with progress_bar("cases") as progress:
        found = review_fleet(folder, workers=_workers(workers), progress=progress, pooled_verdicts=pooled_verdicts)
    if out:
        for path in output.write(found, out, overwrite=force):
            echo(f"wrote {path}", err=True)
    if xlsx:
        from rimmodel.verdict.output.files import write_files

        write_files({Path(xlsx): output.workbook(found)}, overwrite=force, inputs=output.fleet_inputs(found))
        echo(f"wrote {xlsx}", err=True)
    if as_json:
        print_json(output.table(found))
    else:
        echo(output.text(found))
    if found.faulty:
        names = ", ".join(row.file for row in found.faulty)
        count = len(found.rows) + len(found.faulty)
        echo(f"rimmodel: {len(found.faulty)} of {count} case files could not be reviewed: {shown(names)}", err=True)
        raise typer.Exit(BAD_INPUT)


def _workers(text: str) -> int | str:
    """A number of processes, or the address of a scheduler."""
    if re.fullmatch(r"[0-9]{1,4}", text) and 1 <= int(text) <= MOST_PROCESSES:
        return int(text)
    if re.fullmatch(r"[a-z]+://\S+", text):
        return text
    raise ValueError(
        f"--workers is {text[:40]}; give a number of processes from 1 to {MOST_PROCESSES}, or the address of a dask "
        "scheduler such as tcp://127.0.0.1:8786"
    )


@contextmanager
def progress_bar(what: str) -> Iterator[Callable[[int, int], None]]:
    """A bar on stderr; nothing where stderr is no terminal."""
    from rich.console import Console
    from rich.progress import Progress as Bar

    with Bar(console=Console(stderr=True), transient=True, disable=not Console(stderr=True).is_terminal) as bar:
        task = bar.add_task(what, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)
