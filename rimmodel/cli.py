"""The command line: parse, call, print. Results go to stdout, messages to stderr."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

if TYPE_CHECKING:
    from rimmodel.rotor.case import Case
    from rimmodel.rotor.requirements import Record

app = typer.Typer(
    help="Float speed, shrink fit and air gap of hydro-generator rotor rims: prediction, test evidence, verdict.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)

CasePath = Annotated[
    str | None, typer.Argument(metavar="[CASE]", help="Case file (TOML); the built-in one when left out.")
]
ConditionName = Annotated[
    str | None, typer.Option("--condition", metavar="NAME", help="Condition of the case; the first.")
]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON instead of text.")]
Force = Annotated[bool, typer.Option("--force", help="Overwrite what exists.")]


def main() -> None:
    """Run the command line; a fault of the input ends in one message and exit code 2, never in a traceback."""
    try:
        app()
    except (ValueError, KeyError) as error:
        stop(error.args[0] if isinstance(error, KeyError) else str(error))
    except BrokenPipeError:
        sys.stderr.close()  # the reader of our output has gone; nothing is left to say
        sys.exit(2)
    except OSError as error:
        stop(f"{error.strerror or error}{f': {error.filename}' if error.filename else ''}")


def stop(message: str) -> NoReturn:
    """End with exit code 2 and the message."""
    typer.echo(f"rimmodel: {message}", err=True)
    sys.exit(2)


@app.command()
def review(
    case: CasePath = None,
    record: Annotated[
        list[str] | None, typer.Option("--record", metavar="FILE", help="Recording, instead of those of the case.")
    ] = None,
    condition: Annotated[
        list[str] | None, typer.Option("--condition", metavar="NAME", help="Condition of each --record, in order.")
    ] = None,
    out: Annotated[
        str | None, typer.Option("--out", metavar="DIR", help="Write page, JSON, CSV and figures here.")
    ] = None,
    as_json: AsJson = False,
    strict: Annotated[
        bool, typer.Option("--strict", help="Exit 1 when a requirement does not hold or is not shown.")
    ] = False,
    force: Force = False,
) -> None:
    """Judge a case: claim against prediction against test record."""
    from rimmodel.review import review as run_review

    _refuse_empty("--out", out)
    result = run_review(_case(case), _records(record or [], condition or []))
    written = result.write(out, overwrite=force) if out else []
    if as_json:
        from rimmodel.review.tables import review_table

        _print_json(review_table(result))
    else:
        from rimmodel.review.summary import review_text

        typer.echo(review_text(result))
        if not result.measurements:
            typer.echo("no recording was given: every verdict rests on the drawing alone", err=True)
    for path in written:
        typer.echo(f"wrote {path}", err=True)
    if strict and not result.requirements_hold:
        raise typer.Exit(1)


@app.command()
def sweep(
    case: CasePath = None,
    condition: ConditionName = None,
    start: Annotated[float, typer.Option("--from", metavar="RPM", help="Lowest speed.")] = 0.0,
    end: Annotated[
        float | None, typer.Option("--to", metavar="RPM", help="Highest speed; the highest of the case.")
    ] = None,
    points: Annotated[int, typer.Option("--points", metavar="N", help="Number of speeds.")] = 101,
    as_json: AsJson = False,
    csv: Annotated[str | None, typer.Option("--csv", metavar="FILE", help="Write CSV here.")] = None,
    force: Force = False,
) -> None:
    """Predict contact, stresses, growth and gap over a range of speeds."""
    from rimmodel.review.output import csv_text, write_files
    from rimmodel.review.summary import columns_text
    from rimmodel.review.sweeps import speed_range, sweep_columns

    _refuse_empty("--csv", csv)
    read = _case(case)
    name, state = read.condition(condition)
    table = sweep_columns(read, name, state, speed_range(read, start, end, points))
    columns = {key: value for key, value in table.items() if isinstance(value, list)}
    if csv:
        rows = list(zip(*columns.values(), strict=True))
        text = csv_text(
            list(columns), [["" if value is None else float(f"{value:.9g}") for value in row] for row in rows]
        )
        write_files({Path(csv): text}, overwrite=force)
        typer.echo(f"wrote {csv}", err=True)
    if as_json:
        _print_json(table)
    elif not csv:
        typer.echo(f"{read.title}\ncondition {name}: {table['float_note']}\n")
        typer.echo(columns_text(columns))


@app.command()
def fit(
    case: CasePath = None,
    record: Annotated[
        list[str] | None, typer.Argument(metavar="[RECORD]...", help="Recordings; those of the case.")
    ] = None,
    condition: Annotated[
        list[str] | None, typer.Option("--condition", metavar="NAME", help="Condition of each recording, in order.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Find float speed and effective interference in recordings, with intervals."""
    from rimmodel.evidence.compare import compare_all
    from rimmodel.review.assess import measure_records
    from rimmodel.review.fit_table import comparison_table, fit_table, fit_text

    read = _case(case)
    records, measurements = measure_records(read, _records(record or [], condition or []))
    comparisons = compare_all(measurements, [one.expected_change for one in records])
    if as_json:
        tables = [fit_table(one) for one in measurements]
        changes = [comparison_table(one) for one in comparisons]
        _print_json({"title": read.title, **tables[-1], "records": tables, "comparisons": changes})
    else:
        typer.echo(f"{read.title}\n\n{fit_text(measurements, comparisons)}")


@app.command()
def check(
    case: CasePath = None,
    schema: Annotated[bool, typer.Option("--schema", help="Print the JSON Schema of a case file.")] = False,
) -> None:
    """Check a case file and the recordings it names, and report every fault."""
    if schema:
        from rimmodel.rotor.case_format import case_schema

        _print_json(case_schema())
        return
    from rimmodel.review.assess import check_records

    read = _case(case)
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


def _refuse_empty(option: str, name: str | None) -> None:
    if name == "":
        raise ValueError(f"{option} is given without a name; name a place to write to, or leave {option} out")


def _case(path: str | None) -> Case:
    from rimmodel.rotor.case import example_case, read_case

    return example_case() if path is None else read_case(path)


def _records(files: list[str], conditions: list[str]) -> list[Record] | None:
    from rimmodel.rotor.requirements import Record

    if not files:
        if conditions:
            raise ValueError("--condition names the condition of a --record; give the recording too")
        return None
    if conditions and len(conditions) != len(files):
        raise ValueError(
            f"{len(files)} --record and {len(conditions)} --condition; give one condition for each recording, or none"
        )
    names: list[str | None] = [*conditions] or [None] * len(files)
    return [Record(file, name) for file, name in zip(files, names, strict=True)]


def _print_json(table: dict[str, Any]) -> None:
    import json

    typer.echo(json.dumps(table, indent=2, ensure_ascii=False, allow_nan=False))


if __name__ == "__main__":
    main()
