"""Commands that predict: sweep, keys, life."""

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
    Workbook,
    app,
    case_at,
    print_json,
    refuse_bad_workbook,
    refuse_empty,
)


@app.command()
def sweep(
    case: CasePath = None,
    condition: ConditionName = None,
    start: Annotated[float, typer.Option("--from", metavar="RPM", help="Lowest speed.")] = 0.0,
    end: Annotated[
        float | None, typer.Option("--to", metavar="RPM", help="Highest speed. Default: the highest in the case.")
    ] = None,
    points: Annotated[int, typer.Option("--points", metavar="N", help="Number of speeds.")] = 101,
    as_json: AsJson = False,
    csv: Annotated[str | None, typer.Option("--csv", metavar="FILE", help="CSV file to write.")] = None,
    xlsx: Workbook = None,
    force: Force = False,
) -> None:
    """Predict contact, stresses, growth and gap over a range of speeds."""
    from rimmodel.verdict.output import sweep as output
    from rimmodel.verdict.output.files import write_files
    from rimmodel.verdict.records import input_files

    refuse_empty("--csv", csv)
    refuse_bad_workbook(xlsx)
    read = case_at(case)
    name, state = read.condition(condition)
    table = output.table(read, name, state, output.speed_range(read, start, end, points))
    columns = {key: value for key, value in table.items() if isinstance(value, list)}
    if csv:
        write_files({Path(csv): output.csv(columns)}, overwrite=force, inputs=input_files(read))
        echo(f"wrote {csv}", err=True)
    if xlsx:
        write_files({Path(xlsx): output.workbook(read.title, table)}, overwrite=force, inputs=input_files(read))
        echo(f"wrote {xlsx}", err=True)
    if as_json:
        print_json(table)
    elif not csv and not xlsx:
        echo(f"{read.title}\ncondition {name}: {table['float_note']}\n")
        echo(output.text(columns))


@app.command()
def keys(
    case: CasePath = None,
    condition: ConditionName = None,
    as_json: AsJson = False,
    course: Annotated[
        str | None,
        typer.Option("--course", metavar="RPM,RPM,...", help="Follow speed up and down, such as 0,250,0."),
    ] = None,
    friction: Annotated[
        float | None,
        typer.Option("--friction", metavar="MM", help="Largest apparent interference from friction, up and down."),
    ] = None,
    out: Annotated[str | None, typer.Option("--out", metavar="DIR", help="Folder for the figures (SVG).")] = None,
    force: Force = False,
) -> None:
    """Follow lift-off key by key: the order in which keys lift off, key forces, centre and shape of the rim."""
    from rimmodel.plotting.style import to_svg
    from rimmodel.units import MILLIMETRE
    from rimmodel.verdict.output import basis, key_history
    from rimmodel.verdict.output import keys as output
    from rimmodel.verdict.output.files import write_files
    from rimmodel.verdict.records import input_files

    refuse_empty("--out", out)
    read = case_at(case)
    name, state = read.condition(condition)
    run = output.run_keys(read, state)
    play = float(read.rotor.fit.tangential_clearance or 0.0)
    both = course is not None or friction is not None
    history = (
        key_history.history_of(read, state, course, None if friction is None else friction * MILLIMETRE)
        if both
        else None
    )
    if out:
        figures = {figure: to_svg(draw()) for figure, draw in output.drawings(read, run).items()}
        files = {Path(out) / f"{figure}.svg": svg for figure, svg in figures.items()}
        write_files(files, overwrite=force, inputs=input_files(read))
        echo(f"wrote {', '.join(f'{figure}.svg' for figure in figures)} in {out}", err=True)
    if as_json:
        table = {"title": read.title, "condition": name, **basis.table(read), **output.table(run)}
        table["notes"] = [*filter(None, [basis.along_note(read, state)]), *table["notes"]]
        print_json(table if history is None else {**table, "history": key_history.table(history, play)})
    else:
        beside = [note for note in (basis.text(read), basis.along_note(read, state)) if note]
        echo(f"{read.title}\ncondition {name}\n{output.text(run, beside)}")
        if history is not None:
            echo(f"\n{key_history.text(history, play)}")


@app.command()
def life(
    case: Annotated[str, typer.Argument(metavar="CASE", help="Case file (TOML).")],
    speeds: Annotated[
        str, typer.Argument(metavar="SPEEDS", help="Table with the columns time and speed (CSV, Parquet or .xlsx).")
    ],
    used: Annotated[
        float, typer.Option("--used", metavar="SHARE", help="Share of life used before the first reading, 0 to 1.")
    ] = 0.0,
    sheet: Annotated[str | None, typer.Option("--sheet", metavar="NAME", help="Sheet of a workbook.")] = None,
    as_json: AsJson = False,
) -> None:
    """Count starts and stress cycles in a course of speed, and say how many years of rim life it leaves."""
    from rimmodel.evidence.recording.speed_history import read_speed_history
    from rimmodel.verdict.output import life as output

    if not 0 <= used <= 1:
        raise ValueError(f"--used is {used:g}; it must be from 0 to 1, a share of the life")
    read = case_at(case)
    history = read_speed_history(speeds, float(read.rotor.speeds.highest), sheet=sheet)
    if as_json:
        print_json(output.table(read, history, used))
    else:
        echo(output.text(read, history, used))
