"""The command for the heating of a rim: heating."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from rimmodel.cli.plain_text import echo
from rimmodel.cli.program import AsJson, CasePath, Force, app, case_at, print_json, refuse_empty

NAMES = ("heating.txt", "heating.json", "heating.svg", "fitting.svg", "schedule.csv", "keys.csv")


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
    from rimmodel.verdict.output.heating import heating_table, heating_text
    from rimmodel.verdict.records import input_files

    refuse_empty("--out", out)
    read = case_at(case)
    if out:
        from rimmodel.verdict.output.files import refuse_taken

        refuse_taken(Path(out), NAMES, overwrite=force, inputs=input_files(read))
    plan = heating_plan(read)
    table, text = heating_table(plan), heating_text(plan)
    if out:
        from rimmodel.plotting.style import to_svg
        from rimmodel.verdict.output.files import write_files
        from rimmodel.verdict.output.heating_figures import heating_drawings, keys_csv, schedule_csv

        place = Path(out)
        files = {
            place / "heating.txt": text + "\n",
            place / "heating.json": json.dumps(table, indent=2, ensure_ascii=False, allow_nan=False) + "\n",
            place / "schedule.csv": schedule_csv(plan),
            place / "keys.csv": keys_csv(plan),
            **{place / f"{name}.svg": to_svg(draw()) for name, draw in heating_drawings(plan).items()},
        }
        for path in write_files(files, overwrite=force, inputs=input_files(read)):
            echo(f"wrote {path}", err=True)
    if as_json:
        print_json(table)
    else:
        echo(text)
