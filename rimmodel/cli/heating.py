"""The command for the heating of a rim: heating."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from rimmodel.cli.plain_text import echo
from rimmodel.cli.program import AsJson, CasePath, Force, app, case_at, print_json, refuse_empty


@app.command()
def heating(
    case: CasePath = None,
    as_json: AsJson = False,
    out: Annotated[
        str | None, typer.Option("--out", metavar="DIR", help="Write text, JSON, tables (CSV) and figures here.")
    ] = None,
    force: Force = False,
) -> None:
    """Plan the heating of the rim for its keys: temperature to reach, power, spread, time to fit, checks after."""
    from rimmodel.planning.heating import heating_plan
    from rimmodel.verdict.output import heating as output
    from rimmodel.verdict.output import heating_figures
    from rimmodel.verdict.records import input_files

    refuse_empty("--out", out)
    read = case_at(case)
    if out:
        from rimmodel.verdict.output.files import refuse_taken

        refuse_taken(Path(out), heating_figures.FILES, overwrite=force, inputs=input_files(read))
    plan = heating_plan(read)
    if out:
        from rimmodel.verdict.output.files import write_files

        files: dict[Path, str | bytes] = {
            Path(out) / name: content for name, content in heating_figures.files(plan).items()
        }
        for path in write_files(files, overwrite=force, inputs=input_files(read)):
            echo(f"wrote {path}", err=True)
        for name in heating_figures.FILES:  # a sheet of keys of an earlier plan would pass for one of this
            stale = Path(out) / name
            if stale not in files and (stale.is_file() or stale.is_symlink()):
                try:
                    stale.unlink()
                except OSError as error:
                    raise ValueError(f"cannot remove {stale}, of an earlier plan: {error.strerror}") from error
                echo(f"removed {stale}: left by an earlier plan; the heating planned now is not reached", err=True)
    if as_json:
        print_json(output.table(plan))
    else:
        echo(output.text(plan))
