"""Commands on case files: check, new."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from rimmodel.cli.program import (
    CasePath,
    Force,
    app,
    case_at,
    print_json,
)


@app.command()
def check(
    case: CasePath = None,
    schema: Annotated[bool, typer.Option("--schema", help="Print the JSON Schema of a case file.")] = False,
) -> None:
    """Check a case file and the recordings it names, and report every fault."""
    if schema:
        from rimmodel.rotor.case_format import case_schema

        print_json(case_schema())
        return
    from rimmodel.review.assess import check_records

    read = case_at(case)
    records = check_records(read)
    typer.echo(f"{read.title}: the case is complete")
    typer.echo(f"conditions: {', '.join(read.conditions)}")
    for record, found in records:
        typer.echo(f"record {found.label} ({record.file}):")
        for note in found.notes:
            typer.echo(f"  {note}")


@app.command()
def new(
    file: Annotated[str, typer.Argument(metavar="FILE", help="Case file to write.")],
    force: Force = False,
) -> None:
    """Write a commented case file to fill in."""
    from rimmodel.review.output import write_files
    from rimmodel.rotor.case import EXAMPLES

    write_files({Path(file): (EXAMPLES / "new_case.toml").read_text(encoding="utf-8")}, overwrite=force)
    typer.echo(f"wrote {file}; put your machine's numbers in, then run: rimmodel check {file}", err=True)
