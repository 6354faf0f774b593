"""Commands that judge: review, fit."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rimmodel.cli.plain_text import echo
from rimmodel.cli.program import (
    AsJson,
    CasePath,
    ColumnFiles,
    ConditionsOfRecords,
    ConditionsOfThose,
    Force,
    RecordsInstead,
    SheetNames,
    Workbook,
    app,
    case_at,
    print_json,
    records_of,
    refuse_bad_workbook,
    refuse_empty,
)

if TYPE_CHECKING:
    from rimmodel.evidence.measured.measurement import Measurement
    from rimmodel.rotor.case.case import Case
    from rimmodel.rotor.requirements import CaseRecord


@app.command()
def review(
    case: CasePath = None,
    record: RecordsInstead = None,
    condition: ConditionsOfThose = None,
    sheet: SheetNames = None,
    columns: ColumnFiles = None,
    out: Annotated[
        str | None, typer.Option("--out", metavar="DIR", help="Folder for the page, JSON, CSV and figures.")
    ] = None,
    as_json: AsJson = False,
    strict: Annotated[
        bool, typer.Option("--strict", help="Exit 1 when a requirement does not hold or is not shown.")
    ] = False,
    force: Force = False,
) -> None:
    """Judge a case: claims against prediction and test record."""
    from rimmodel.verdict.beside import beside

    refuse_empty("--out", out)
    with beside(drawing=bool(out)) as helper:  # loads while the case is read here
        from rimmodel.verdict.assess import assess

        read, records = case_at(case), records_of(record or [], condition or [], sheet, columns)
        if out:
            from rimmodel.verdict.output import page
            from rimmodel.verdict.output.files import refuse_taken
            from rimmodel.verdict.records import input_files

            refuse_taken(Path(out), page.FILES, overwrite=force, inputs=input_files(read, records))
        result = assess(read, records, helper)
        written = page.write(result, Path(out), overwrite=force, beside=helper) if out else []
    if as_json:
        from rimmodel.verdict.output import details, tables

        print_json(tables.table(result) | details.table(result, details.details(result)))
    else:
        from rimmodel.verdict.output import text as output

        echo(output.text(result))
        if not result.measurements:
            echo("no recording was given: every verdict rests on the drawing alone", err=True)
    for path in written:
        echo(f"wrote {path}", err=True)
    if strict and not result.requirements_hold:
        raise typer.Exit(1)


@app.command()
def fit(
    case: CasePath = None,
    record: Annotated[
        list[str] | None, typer.Argument(metavar="[RECORD]...", help="Recordings. Default: those in the case.")
    ] = None,
    condition: ConditionsOfRecords = None,
    sheet: SheetNames = None,
    columns: ColumnFiles = None,
    out: Annotated[str | None, typer.Option("--out", metavar="DIR", help="Folder for CSV, JSON and figures.")] = None,
    as_json: AsJson = False,
    xlsx: Workbook = None,
    so_far: Annotated[
        bool,
        typer.Option(
            "--so-far", help="The run is in progress: what it shows already, and which speed would tell most."
        ),
    ] = False,
    force: Force = False,
) -> None:
    """Estimate float speed and effective interference from recordings, with confidence intervals."""
    from rimmodel.verdict.beside import beside

    refuse_bad_workbook(xlsx)
    refuse_empty("--out", out)
    if so_far:
        if xlsx or out:
            raise ValueError("--so-far prints one look at a run and writes no file; leave --xlsx and --out out")
        _look(case_at(case), records_of(record or [], condition or [], sheet, columns), as_json)
        return
    written: list[Path] = []
    with beside(drawing=bool(out)) as helper:  # loads while the case is read here
        from rimmodel.evidence.measured.compare import compare_all
        from rimmodel.verdict.output import basis
        from rimmodel.verdict.output import fit as output
        from rimmodel.verdict.records import input_files, measure_records

        read, given = case_at(case), records_of(record or [], condition or [], sheet, columns)
        inputs = input_files(read, given)
        if out:
            from rimmodel.verdict.output import fit_files
            from rimmodel.verdict.output.files import refuse_taken

            refuse_taken(Path(out), fit_files.FILES, overwrite=force, inputs=inputs)
        records, measurements = measure_records(read, given, helper, sensors=True)
        comparisons = compare_all(measurements, [one.expected_change for one in records])
        if out:
            written = fit_files.write(read, given, measurements, comparisons, Path(out), overwrite=force, beside=helper)
    for path in written:
        echo(f"wrote {path}", err=True)
    if xlsx:
        _write_workbook(xlsx, read.title, measurements, force=force, inputs=inputs)
    along_note = basis.along_note(read)
    if as_json:
        print_json(output.table(read.title, measurements, comparisons, along_note))
    else:
        echo(f"{read.title}\n\n{output.text(measurements, comparisons, along_note)}")


def _write_workbook(
    xlsx: str, title: str, measurements: tuple[Measurement, ...], *, force: bool, inputs: tuple[Path, ...]
) -> None:
    from rimmodel.verdict.output import fit_workbook
    from rimmodel.verdict.output.files import write_files

    write_files({Path(xlsx): fit_workbook.workbook(title, measurements)}, overwrite=force, inputs=inputs)
    echo(f"wrote {xlsx}", err=True)


def _look(read: Case, given: list[CaseRecord] | None, as_json: bool) -> None:
    """Print what the part of each run that exists shows already."""
    from rimmodel.verdict.interim import look_so_far
    from rimmodel.verdict.output import interim
    from rimmodel.verdict.records import files_of

    files = files_of(read, given)
    if not files:
        raise ValueError(f"{read.title!r} names no recording; give one: rimmodel fit CASE RECORD --so-far")
    looks = [look_so_far(read, record, path) for record, path in files]
    if as_json:
        print_json({"title": read.title, "so_far": [interim.table(found) for found in looks]})
    else:
        echo(f"{read.title}\n\n{interim.text(looks)}")
