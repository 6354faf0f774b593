"""Commands on case files: check, new."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from rimmodel.cli.plain_text import echo
from rimmodel.cli.program import (
    AsJson,
    CasePath,
    ColumnFiles,
    ConditionsOfRecords,
    Force,
    SheetNames,
    app,
    case_at,
    print_json,
    records_of,
    refuse_empty,
)
from rimmodel.version import VERSION

if TYPE_CHECKING:
    from rimmodel.rotor.case.case import Case
    from rimmodel.rotor.requirements import CaseRecord


@app.command()
def check(
    case: CasePath = None,
    record: Annotated[
        list[str] | None,
        typer.Argument(metavar="[RECORD]...", help="Recordings, to see what is understood of them."),
    ] = None,
    condition: ConditionsOfRecords = None,
    sheet: SheetNames = None,
    columns: ColumnFiles = None,
    as_json: AsJson = False,
    schema: Annotated[
        bool, typer.Option("--schema", help="Print the JSON Schema of case files (draft 2020-12).")
    ] = False,
    older: Annotated[
        bool, typer.Option("--draft-07", help="With --schema: in the form that TOML language servers read.")
    ] = False,
) -> None:
    """Check a case file and its recordings, and list every fault; or show what is understood of a recording."""
    if schema or older:
        _print_schema(case, schema, older)
        return
    read, given = case_at(case), records_of(record or [], condition or [], sheet, columns)
    if given is not None or as_json:
        _print_understood(read, given, as_json)
        return
    from rimmodel.rotor.case.doubts import case_doubts
    from rimmodel.verdict.drawing_echo import doubts_text, drawing_text
    from rimmodel.verdict.left_out import left_out
    from rimmodel.verdict.records import check_records

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
    for one, found in records:
        echo(f"record {found.label} ({one.file}):")
        for note in found.notes:
            echo(f"  {note}")


def _print_understood(case: Case, records: list[CaseRecord] | None, as_json: bool) -> None:
    """Show what is understood of recordings, and then refuse them where a review could not use them."""
    from rimmodel.verdict.output import check as output

    tables, faults = output.understood(case, records)
    if as_json:
        print_json({"title": case.title, "records": tables, "refused": faults})
    else:
        echo("\n\n".join(map(output.text, tables)))
    if faults:
        raise ValueError("\n".join(faults))


def _print_schema(case: str | None, schema: bool, older: bool) -> None:
    from rimmodel.rotor.case.format import case_schema
    from rimmodel.rotor.case.schema_draft_07 import draft_07

    if not schema:
        raise ValueError("--draft-07 is a form of the schema; write --schema --draft-07")
    if case is not None:
        raise ValueError(f"--schema is the same for every case; leave {case} out, or leave --schema out to check it")
    print_json(draft_07(case_schema()) if older else case_schema())


@app.command()
def new(
    file: Annotated[str, typer.Argument(metavar="FILE", help="Case file to write.")],
    force: Force = False,
) -> None:
    """Write a commented case file to fill in, and beside it the schema by which an editor checks and completes it."""
    from rimmodel.rotor.case.new_case import new_case
    from rimmodel.verdict.output.files import write_files

    refuse_empty("FILE", file)
    case, schema = new_case(file, VERSION, over_own=force)
    write_files(case, overwrite=force)
    write_files(schema, overwrite=True)
    echo(f"wrote {file}; put your machine's numbers in, then run: rimmodel check {file}", err=True)
    for path in schema:
        echo(f"wrote {path}, by which editors with a language server for TOML complete and check it", err=True)
