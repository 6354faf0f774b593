"""The command least-gap."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from rimmodel.cli.plain_text import echo
from rimmodel.cli.program import (
    AsJson,
    CasePath,
    ConditionName,
    Force,
    SheetNames,
    app,
    case_at,
    print_json,
    records_of,
    refuse_empty,
)


@app.command("least-gap")
def least_gap(
    case: CasePath = None,
    condition: ConditionName = None,
    record: Annotated[
        list[str] | None,
        typer.Option(
            "--record", metavar="FILE", help="Recording of that condition to use instead of those in the case."
        ),
    ] = None,
    sheet: SheetNames = None,
    as_json: AsJson = False,
    out: Annotated[str | None, typer.Option("--out", metavar="DIR", help="Folder for the figures (SVG).")] = None,
    force: Force = False,
) -> None:
    """Find the least gap over bore and turn: where, at which speed, and what was taken off unmeasured."""
    from rimmodel.planning.least_gap import least_gap_curve
    from rimmodel.plotting.style import to_svg
    from rimmodel.verdict.output import least_gap as output
    from rimmodel.verdict.output.files import write_files
    from rimmodel.verdict.records import input_files, planes_of_records

    refuse_empty("--out", out)
    read = case_at(case)
    name, state = read.condition(condition)
    named = records_of(record or [], [name] * len(record or []), sheet)
    shown = planes_of_records(read, named)
    curve = least_gap_curve(read, name, state)
    if out:
        figures = {figure: to_svg(draw()) for figure, draw in output.drawings(read, curve, shown).items()}
        files = {Path(out) / f"{figure}.svg": svg for figure, svg in figures.items()}
        write_files(files, overwrite=force, inputs=input_files(read, named))
        echo(f"wrote {', '.join(f'{figure}.svg' for figure in figures)} in {out}", err=True)
    if as_json:
        print_json({"title": read.title, **output.table(read, curve, shown)})
    else:
        echo(f"{read.title}\ncondition {name}\n\n{output.text(read, curve, shown)}")
