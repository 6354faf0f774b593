"""Commands on case files: check, new."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from rimmodel.cli.plain_text import echo
from rimmodel.cli.program import (
    CasePath,
    Force,
    app,
    case_at,
    print_json,
    refuse_empty,
)


@app.command()
def check(
    case: CasePath = None,
    schema: Annotated[bool, typer.Option("--schema", help="Print the JSON Schema of a case file.")] = False,
) -> None:
    """Check a case file and its recordings, and list every fault."""
    if schema:
        from rimmodel.rotor.case.format import case_schema

        print_json(case_schema())
        return
    from rimmodel.rotor.case.doubts import case_doubts
    from rimmodel.verdict.drawing_echo import doubts_text, drawing_text
    from rimmodel.verdict.left_out import left_out
    from rimmodel.verdict.records import check_records

    read = case_at(case)
    records = check_records(read)
    echo(f"{read.title}: the case is complete")
    echo(f"conditions: {', '.join(read.conditions)}")
    echo(drawing_text(read))
    doubts = case_doubts(read)
    if doubts:
        echo("doubts:")
        echo(doubts_text(doubts))
    lacking = left_out(read)
    if lacking:
        echo("other commands will leave out:")
        for line in lacking:
            echo(f"  - {line}")
    for record, found in records:
        echo(f"record {found.label} ({record.file}):")
        for note in found.notes:
            echo(f"  {note}")


@app.command()
def new(
    file: Annotated[str, typer.Argument(metavar="FILE", help="Case file to write.")],
    force: Force = False,
) -> None:
    """Write a commented case file to fill in."""
    from rimmodel.rotor.case.case import EXAMPLES
    from rimmodel.verdict.output.files import write_files

    place, text = Path(file), (EXAMPLES / "new_case.toml").read_text(encoding="utf-8")
    refuse_empty("FILE", file)
    if force and _is_filled_in(place, text):
        raise ValueError(
            f"{file} is a case with its own numbers; it is never overwritten, not even with --force: choose another "
            f"name, or move the file"
        )
    write_files({place: text}, overwrite=force)
    echo(f"wrote {file}; put your machine's numbers in, then run: rimmodel check {file}", err=True)


def _is_filled_in(place: Path, template: str) -> bool:
    """Whether a file is a case, or the start of one, that somebody has worked on."""
    import tomllib

    if not place.is_file():
        return False
    text = place.read_bytes().decode("utf-8-sig", errors="replace")
    if text == template:
        return False
    try:
        return bool(tomllib.loads(text).keys() & tomllib.loads(template).keys())
    except tomllib.TOMLDecodeError:
        return any(line.strip().startswith(("[rim]", "[fit]", "[poles]", "[conditions.")) for line in text.splitlines())
