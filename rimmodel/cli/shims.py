"""The command shims."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from rimmodel.cli.plain_text import echo
from rimmodel.cli.program import (
    AsJson,
    CasePath,
    ConditionName,
    Force,
    app,
    case_at,
    print_json,
    refuse_empty,
)

if TYPE_CHECKING:
    from rimmodel.evidence.shims.readings import KeyReadings
    from rimmodel.rotor.case.case import Case


@app.command()
def shims(
    case: CasePath = None,
    goal: Annotated[
        str, typer.Option("--goal", metavar="GOAL", help="'round': least deviation of the rim; or 'lift-off': highest.")
    ] = "round",
    condition: ConditionName = None,
    readings: Annotated[
        str | None,
        typer.Option("--readings", metavar="FILE", help="Readings of the keys (CSV): key, interference [mm]."),
    ] = None,
    shape: Annotated[
        str | None,
        typer.Option("--shape", metavar="FILE", help="Recording pole by pole in that condition, in place of readings."),
    ] = None,
    as_json: AsJson = False,
    out: Annotated[
        str | None,
        typer.Option("--out", metavar="DIR", help="Folder for text, JSON, CSV, figure and the page to print."),
    ] = None,
    force: Force = False,
) -> None:
    """Choose the shims behind each key from the stock: the pieces, what they reach, and the readings that accept it."""
    from rimmodel.planning.shim_sheet.sheet import shim_sheet
    from rimmodel.verdict.output import shim_sheet as output
    from rimmodel.verdict.output.files import refuse_taken, write_files
    from rimmodel.verdict.records import input_files, last_measurement

    for option, name in (("--out", out), ("--readings", readings), ("--shape", shape)):
        refuse_empty(option, name)
    if goal not in ("round", "lift-off"):
        raise ValueError(f"--goal is {goal!r}; it must be 'round' or 'lift-off'")
    if readings is not None and shape is not None:
        raise ValueError("--readings and --shape both say what the keys have; give one of them")
    read = case_at(case)
    inputs: list[str | Path] = [*input_files(read), *(name for name in (readings, shape) if name is not None)]
    if out:
        refuse_taken(Path(out), output.FILES, overwrite=force, inputs=inputs)
    of_keys = _readings(read, condition, readings, shape)
    last = last_measurement(read)
    found = shim_sheet(read, last, of_keys, goal, condition)
    table, text = output.table(read, found), output.text(read, found)
    if out:
        files = {Path(out) / name: content for name, content in output.files(read, found, table, text).items()}
        for path in write_files(files, overwrite=force, inputs=inputs):
            echo(f"wrote {path}", err=True)
    if as_json:
        print_json(table)
    else:
        echo(text)


def _readings(case: Case, condition: str | None, readings: str | None, shape: str | None) -> KeyReadings | None:
    """What the keys have, by the file that says so; None where the case itself does."""
    if readings is not None:
        from rimmodel.evidence.shims.readings import read_key_readings

        if case.rotor.key_count is None:
            raise ValueError("the number of keys is not known; give fit.key_count in the case")
        return read_key_readings(readings, int(case.rotor.key_count))
    if shape is not None:
        from rimmodel.rotor.requirements import CaseRecord
        from rimmodel.verdict.records import keys_of_run

        return keys_of_run(case, CaseRecord(shape, case.condition(condition)[0]))
    return None
