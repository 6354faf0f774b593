"""Commands that plan: window, plan."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rimmodel.cli.plain_text import echo
from rimmodel.cli.program import AsJson, CasePath, ConditionName, Force, app, case_at, print_json, refuse_empty

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from rimmodel.rotor.case.case import Case

OutDir = Annotated[str | None, typer.Option("--out", metavar="DIR", help="Folder for the text, JSON and figure.")]


@app.command()
def window(case: CasePath = None, as_json: AsJson = False, out: OutDir = None, force: Force = False) -> None:
    """Find the admissible range of interference, the shim to choose and the heating needed for assembly."""
    from rimmodel.planning.shrink_window import shrink_window
    from rimmodel.verdict.output import window as output
    from rimmodel.verdict.records import last_measurement

    refuse_empty("--out", out)
    read = case_at(case)
    _refuse_taken(out, "window", force, read)
    last = last_measurement(read)
    found = shrink_window(read, last)
    table, text = output.table(read, found), output.text(read, found)
    if out:
        _write(out, "window", table, text, output.figure(found), force, read)
    _show(table, text, as_json)


@app.command()
def plan(
    case: CasePath = None,
    condition: ConditionName = None,
    as_json: AsJson = False,
    out: OutDir = None,
    force: Force = False,
) -> None:
    """Plan a proving run: speed steps, expected gap at each step, hold and stop lines."""
    from rimmodel.planning.proving_run import run_plan
    from rimmodel.verdict.output import plan as output
    from rimmodel.verdict.records import last_measurement

    refuse_empty("--out", out)
    read = case_at(case)
    name, _ = read.condition(condition)
    _refuse_taken(out, "plan", force, read)
    last = last_measurement(read)
    found = run_plan(read, name, measurement=last)
    table, text = output.table(read, found), output.text(read, found)
    if out:
        _write(out, "plan", table, text, output.figure(read, found), force, read)
    _show(table, text, as_json)


def _refuse_taken(out: str | None, name: str, force: bool, case: Case) -> None:
    from rimmodel.verdict.output.files import refuse_taken
    from rimmodel.verdict.records import input_files

    if out:
        names = [f"{name}.{ending}" for ending in ("txt", "json", "svg")]
        refuse_taken(Path(out), names, overwrite=force, inputs=input_files(case))


def _show(table: dict[str, object], text: str, as_json: bool) -> None:
    if as_json:
        print_json(table)
    else:
        echo(text)


def _write(out: str, name: str, table: dict[str, object], text: str, figure: Figure, force: bool, case: Case) -> None:
    import json

    from rimmodel.plotting.style import to_svg
    from rimmodel.verdict.output.files import write_files
    from rimmodel.verdict.records import input_files

    place = Path(out)
    files = {
        place / f"{name}.txt": text + "\n",
        place / f"{name}.json": json.dumps(table, indent=2, ensure_ascii=False, allow_nan=False) + "\n",
        place / f"{name}.svg": to_svg(figure),
    }
    for path in write_files(files, overwrite=force, inputs=input_files(case)):
        echo(f"wrote {path}", err=True)


@app.command()
def compare(
    cases: Annotated[list[str], typer.Argument(metavar="CASE CASE...", help="Two to six case files (TOML).")],
    as_json: AsJson = False,
) -> None:
    """Put alternatives side by side: what differs in them, what they predict, and which requirements each meets."""
    from rimmodel.rotor.case.case import read_case
    from rimmodel.verdict.output import alternatives

    if len(cases) < 2:
        raise ValueError(f"only {cases[0]} is given; name at least two case files")
    read = [read_case(name) for name in cases]
    if as_json:
        print_json(alternatives.table(read, cases))
    else:
        echo(alternatives.text(read, cases))
