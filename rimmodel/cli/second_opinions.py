"""Commands that ask a finite-element program: deck."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from rimmodel.cli.plain_text import echo
from rimmodel.cli.program import AsJson, CasePath, ConditionName, Force, app, case_at, print_json, refuse_empty

if TYPE_CHECKING:
    from rimmodel.rotor.case.case import Case
    from rimmodel.second_opinion.decks import Decks

SHORTEST, LONGEST = 1.0, 86_400.0
TABLES = ("deck.txt", "deck.json")


@app.command()
def deck(
    case: CasePath = None,
    condition: ConditionName = None,
    out: Annotated[
        str | None, typer.Option("--out", metavar="DIR", help="Folder for the decks (.inp), and with --run the table.")
    ] = None,
    run: Annotated[bool, typer.Option("--run", help="Run CalculiX (ccx) on them and compare.")] = False,
    read: Annotated[
        str | None,
        typer.Option(
            "--read", metavar="DIR", help="Compare with results that ccx has left beside decks written before."
        ),
    ] = None,
    time_limit: Annotated[
        float, typer.Option("--time-limit", metavar="SECONDS", help="Longest run of one deck.")
    ] = 600.0,
    as_json: AsJson = False,
    force: Force = False,
) -> None:
    """Ask for a second opinion: finite-element decks of the case, and a table of ours against theirs."""
    from rimmodel.second_opinion.compare import compare
    from rimmodel.second_opinion.decks import Decks
    from rimmodel.verdict.output import second_opinion as output

    _refuse_muddle(out, run, read, as_json, time_limit)
    case_read = case_at(case)
    name, state = case_read.condition(condition)
    decks = Decks(case_read.rotor, state, f"{case_read.title}, condition {name}")
    place = Path(str(out if read is None else read))
    if read is None:
        _write(case_read, decks, place, force, run)
        if not run:
            return
    results = decks.run(place, time_limit) if run else decks.read(place)
    found = compare(decks, results)
    table, text = output.table(case_read, name, found), output.text(case_read, name, found)
    if run:
        _keep(case_read, table, text, place)
    if as_json:
        print_json(table)
    else:
        echo(text)
    if results.missing:
        raise ValueError("; ".join(results.missing))


def _refuse_muddle(out: str | None, run: bool, read: str | None, as_json: bool, time_limit: float) -> None:
    refuse_empty("--out", out)
    refuse_empty("--read", read)
    if (out is None) == (read is None):
        raise ValueError("give --out DIR to write decks, or --read DIR to compare with results that are there")
    if read is not None and run:
        raise ValueError("--run writes and runs decks, --read reads what was run before; give one of them")
    if as_json and not run and read is None:
        raise ValueError("--json prints the comparison; give --run or --read with it")
    if not SHORTEST <= time_limit <= LONGEST:
        raise ValueError(f"--time-limit is {time_limit:g} s; it must be from {SHORTEST:g} to {LONGEST:g} s")


def _write(case: Case, decks: Decks, place: Path, force: bool, run: bool) -> None:
    """Write the decks, where they can be run if that is asked for."""
    from rimmodel.verdict.output.files import refuse_taken, write_files
    from rimmodel.verdict.records import input_files

    inputs = input_files(case)
    left = [f"{name}.{ending}" for name in decks.by_name for ending in ("dat", "log", "frd", "sta", "cvg", "12d")]
    refuse_taken(place, [*decks.texts, *TABLES, *left], overwrite=force, inputs=inputs)
    if run:
        decks.refuse_without_program()
    for path in write_files({place / file: text for file, text in decks.texts.items()}, overwrite=force, inputs=inputs):
        echo(f"wrote {path}", err=True)
    if not run:
        named = " and ".join(f"'ccx {name}'" for name in decks.by_name)
        echo(
            f"run {named} in {place}, and then 'rimmodel deck CASE --read {place}' with the same --condition", err=True
        )


def _keep(case: Case, table: dict[str, Any], text: str, place: Path) -> None:
    """Write the comparison beside its decks, over one that was there with them."""
    from rimmodel.verdict.output.files import write_files
    from rimmodel.verdict.records import input_files

    as_text = json.dumps(table, indent=2, ensure_ascii=False, allow_nan=False)
    files: dict[Path, str | bytes] = {place / TABLES[0]: text + "\n", place / TABLES[1]: as_text + "\n"}
    for path in write_files(files, overwrite=True, inputs=input_files(case)):
        echo(f"wrote {path}", err=True)
