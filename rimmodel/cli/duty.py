"""Commands that follow the machine through time: duty."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from rimmodel.cli.plain_text import echo
from rimmodel.cli.program import AsJson, CasePath, Force, app, case_at, print_json, refuse_empty

FEWEST, MOST = 40, 20_000


@app.command()
def duty(
    case: CasePath = None,
    history: Annotated[
        str | None, typer.Option("--history", metavar="NAME", help="History of the case. Default: the first.")
    ] = None,
    draws: Annotated[int, typer.Option("--draws", metavar="N", help="Number of samples of the heat transfer.")] = 400,
    as_json: AsJson = False,
    out: Annotated[str | None, typer.Option("--out", metavar="DIR", help="Write text, JSON and figures here.")] = None,
    force: Force = False,
) -> None:
    """Follow a history from start to stop: float speed, gap and stress against time, and when it may start again."""
    from rimmodel.planning.duty import find_history, run_duty
    from rimmodel.verdict.output import duty as output
    from rimmodel.verdict.records import last_measurement

    refuse_empty("--out", out)
    if not FEWEST <= draws <= MOST:
        raise ValueError(f"--draws is {draws}; it must be from {FEWEST} to {MOST}")
    read = case_at(case)
    find_history(read, history)
    if out:
        from rimmodel.verdict.output.files import refuse_taken
        from rimmodel.verdict.records import input_files

        names = ("duty.txt", "duty.json", "duty.svg", "restart.svg")
        refuse_taken(Path(out), names, overwrite=force, inputs=input_files(read))
    last = last_measurement(read)
    found = run_duty(read, history, last, draws)
    table, text = output.table(found), output.text(found)
    if out:
        from rimmodel.plotting.style import to_svg
        from rimmodel.verdict.output.files import write_files

        place = Path(out)
        files = {
            place / "duty.txt": text + "\n",
            place / "duty.json": json.dumps(table, indent=2, ensure_ascii=False, allow_nan=False) + "\n",
            **{place / f"{name}.svg": to_svg(draw()) for name, draw in output.drawings(found).items()},
        }
        for path in write_files(files, overwrite=force, inputs=input_files(read)):
            echo(f"wrote {path}", err=True)
    if as_json:
        print_json(table)
    else:
        echo(text)
