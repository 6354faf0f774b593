"""The program itself: its options, how it ends, and how its commands find a case and its recordings."""

from __future__ import annotations

import sys
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


def case_at(path: str | None) -> Case:
    """The case at a path, the built-in one without a path."""
    from rimmodel.rotor.case import example_case, read_case

    return example_case() if path is None else read_case(path)


def records_of(files: list[str], conditions: list[str]) -> list[Record] | None:
    """Records named on the command line, or None for those of the case."""
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


def print_json(table: dict[str, Any]) -> None:
    """Print a table as strict JSON."""
    import json

    typer.echo(json.dumps(table, indent=2, ensure_ascii=False, allow_nan=False))


def refuse_empty(option: str, name: str | None) -> None:
    """Refuse an empty text where a place to write to is asked for."""
    if name == "":
        raise ValueError(f"{option} is given without a name; name a place to write to, or leave {option} out")
