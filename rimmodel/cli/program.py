"""The program itself: its options, how it ends, and how its commands find a case and its recordings."""

from __future__ import annotations

import contextlib
import gc
import os
import sys
from concurrent.futures import BrokenExecutor
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

from rimmodel.cli.plain_text import echo, holds, plain_where_needed, shown
from rimmodel.version import VERSION

if TYPE_CHECKING:
    from rimmodel.rotor.case.case import Case
    from rimmodel.rotor.requirements import CaseRecord

app = typer.Typer(
    help="Float speed, shrink fit and air gap of hydro-generator rotor rims: prediction, test evidence, verdict.",
    pretty_exceptions_enable=False,
)

CasePath = Annotated[
    str | None, typer.Argument(metavar="[CASE]", help="Case file (TOML). Default: the built-in example.")
]
ConditionName = Annotated[
    str | None,
    typer.Option("--condition", metavar="NAME", help="Condition of the case. Default: the first in the case."),
]
RecordsInstead = Annotated[
    list[str] | None,
    typer.Option("--record", metavar="FILE", help="Recording to use instead of those in the case."),
]
ConditionsOfThose = Annotated[
    list[str] | None,
    typer.Option("--condition", metavar="NAME", help="Condition of each --record, in the same order."),
]
ConditionsOfRecords = Annotated[
    list[str] | None,
    typer.Option("--condition", metavar="NAME", help="Condition of each recording, in the same order."),
]
SheetNames = Annotated[
    list[str] | None,
    typer.Option("--sheet", metavar="NAME", help="Sheet of each recording that is a workbook (.xlsx), in order."),
]
ColumnFiles = Annotated[
    list[str] | None,
    typer.Option(
        "--columns",
        metavar="FILE",
        help="What the columns of a recording hold (TOML); one for all recordings, or one for each in order.",
    ),
]
Workbook = Annotated[str | None, typer.Option("--xlsx", metavar="FILE", help="Workbook to write.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON instead of text.")]
Force = Annotated[bool, typer.Option("--force", help="Overwrite existing results.")]


BAD_INPUT, INTERNAL_ERROR, INTERRUPTED, PIPE_CLOSED = 2, 3, 130, 141
"""How the program ends when it does not end well; the last two as shells count signals."""

COLLECTED = (200_000, 20, 100)
"""Thresholds of the garbage collector: with those of Python a tenth of the time of a page goes into collecting."""

THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
"""Environment variables by which libraries of linear algebra learn how many threads to use."""

COMPLETION = "_RIMMODEL_COMPLETE"
"""Environment variable by which the completion script of a shell asks."""

NO_SUCH_SHELL = (
    "completion is there for bash, zsh, fish and PowerShell; run the command in the shell that is to complete"
)

LONGEST_USAGE = 300
"""Characters of a usage error that are shown."""

TRACE = "RIMMODEL_TRACE"
"""Environment variable: when it is set, an error shows where it occurred."""


def _print_version(asked: bool) -> None:
    if asked:
        echo(f"rimmodel {VERSION}")
        raise typer.Exit


@app.callback()
def program(
    version: Annotated[
        bool, typer.Option("--version", help="Print the version and exit.", is_eager=True, callback=_print_version)
    ] = False,
) -> None:
    """Float speed, shrink fit and air gap of hydro-generator rotor rims: prediction, test evidence, verdict."""


def main() -> None:
    """Run the command line: whatever goes wrong ends in one message and an exit code, never in a traceback."""
    plain_where_needed(sys.stdout)
    plain_where_needed(sys.stderr)
    gc.set_threshold(*COLLECTED)
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")  # to look for them takes longer than to read a case
    try:
        _run()
        sys.stdout.flush()
    except typer.Exit as end:
        _end(end.exit_code)
    except SystemExit:
        raise
    except BaseException as error:
        if os.environ.get(TRACE):
            import traceback

            traceback.print_exception(error)
        code, message = explained(error)
        _end(code, message)


def _run() -> None:
    if COMPLETION in os.environ:  # a shell asks what could come next
        app(prog_name="rimmodel")
    command = typer.main.get_command(app)
    try:
        started = command.make_context("rimmodel", sys.argv[1:])
    except typer.Exit as end:
        if end.exit_code:  # options that end the program themselves fail only where typer does not know the shell
            raise ValueError(NO_SUCH_SHELL) from None
        raise
    _one_thread()
    with started as context:
        command.invoke(context)


def _one_thread() -> None:
    """Keep linear algebra to one thread: threads on small matrices take more time than they save.

    What the user has set in the environment counts. The processes beside find the variables there.
    """
    if any(name in os.environ for name in THREADS):
        return
    from threadpoolctl import threadpool_limits

    threadpool_limits(1)  # what is loaded already; the rest reads the environment
    os.environ.update(dict.fromkeys(THREADS, "1"))


def _end(code: int, message: str = "") -> NoReturn:
    """End with an exit code; results that can no longer be printed change it and are never complained about twice."""
    try:
        sys.stdout.flush()
    except OSError as error:
        if not message:
            code, message = explained(error)
    if message:
        with contextlib.suppress(OSError):
            print(f"rimmodel: {shown(message)}", file=sys.stderr, flush=True)
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except OSError:  # what is left in the buffer would be tried again, and complained about, after the end
            with contextlib.suppress(OSError, ValueError), open(os.devnull, "w") as nowhere:  # noqa: PTH123
                os.dup2(nowhere.fileno(), stream.fileno())
    sys.exit(code)


def explained(error: BaseException) -> tuple[int, str]:
    """Exit code and message of what went wrong; an empty message where nobody is left to read it, or needs to."""
    if isinstance(error, KeyboardInterrupt):
        return INTERRUPTED, str(error)
    if isinstance(error, BrokenPipeError):
        return PIPE_CLOSED, ""
    if isinstance(error, typer.Abort):
        return INTERRUPTED, ""
    if isinstance(error, typer.BadParameter.__bases__):  # all that the command line itself may be wrong in
        return BAD_INPUT, _usage(error)
    if isinstance(error, MemoryError):
        return BAD_INPUT, "there is not enough memory for this; use fewer points, samples or workers"
    if isinstance(error, RecursionError):
        return BAD_INPUT, "the input is nested too deeply to be read; reduce the nesting"
    if isinstance(error, BrokenExecutor):
        return BAD_INPUT, (
            "a worker process ended before its work was done (it was killed, or it ran out of memory); "
            "run it again with fewer --workers"
        )
    if isinstance(error, OSError):
        return BAD_INPUT, f"{error.strerror or error}{f': {error.filename}' if error.filename else ''}"
    if isinstance(error, ValueError) and _raised_here(error):
        return BAD_INPUT, str(getattr(error, "at_command_line", error))
    if isinstance(error, KeyError) and " " in str(error.args[0]):  # in words
        return BAD_INPUT, str(error.args[0])
    if isinstance(error, ImportError) and "failed to map" in str(error):
        return BAD_INPUT, "there is not enough memory to load the program; raise the limit"
    text = " ".join(str(error).split()) or "no text"
    return INTERNAL_ERROR, (
        f"internal error: {type(error).__name__}: {text}; please report this with the version (rimmodel "
        f"{VERSION}), the command line and the input digest; {TRACE}=1 shows where it occurred"
    )


def _raised_here(error: BaseException) -> bool:
    """Whether an error was raised by this program on purpose, and not by a library that it called."""
    frame = error.__traceback__
    while frame is not None and frame.tb_next is not None:
        frame = frame.tb_next
    name = "" if frame is None else str(frame.tb_frame.f_globals.get("__name__", ""))
    return frame is None or name.partition(".")[0] == "rimmodel" or _remote(error)


def _remote(error: BaseException) -> bool:
    """Whether it comes from a worker process, where only the type and the text are left."""
    return type(error.__cause__).__name__ == "_RemoteTraceback" and "rimmodel" in str(error.__cause__)


def _usage(error: BaseException) -> str:
    context = getattr(error, "ctx", None)
    text = str(error.format_message() if hasattr(error, "format_message") else error).strip().rstrip(".")
    text = text.replace("Input should be a valid integer, unable to parse string as an integer", "not a whole number")
    text = text.replace("Input should be a valid number, unable to parse string as a number", "not a number")
    text = text if len(text) < LONGEST_USAGE else f"{text[:LONGEST_USAGE]} ..."
    where = context.command_path if context is not None else "rimmodel"
    return f"{text[:1].lower()}{text[1:]}; see {where} --help"


def case_at(path: str | None) -> Case:
    """The case at a path, the built-in one without a path."""
    from rimmodel.rotor.case.case import example_case, read_case

    return example_case() if path is None else read_case(path)


def records_of(
    files: list[str], conditions: list[str], sheets: list[str] | None = None, columns: list[str] | None = None
) -> list[CaseRecord] | None:
    """Records named on the command line, or None for those of the case."""
    from rimmodel.rotor.record_columns import ColumnMap
    from rimmodel.rotor.requirements import CaseRecord

    if not files:
        if sheets:
            raise ValueError("--sheet names the sheet of a recording that is a workbook; give the recording too")
        if columns:
            raise ValueError(
                "--columns states the columns of a recording that is named too; those of a record of the case stand in "
                "the case, as columns and cells of its [[records]] table"
            )
        if conditions:
            raise ValueError("--condition names the condition of a --record; give the recording too")
        return None
    if conditions and len(conditions) != len(files):
        raise ValueError(
            f"{len(files)} --record and {len(conditions)} --condition; give one condition for each recording, or none"
        )
    names: list[str | None] = [*conditions] or [None] * len(files)
    on_sheets = _sheets_of(files, sheets or [])
    stated: list[tuple[ColumnMap, str | None]] = [(ColumnMap(), None)] * len(files)
    if columns:
        from rimmodel.rotor.case.column_map import read_column_map

        if len(columns) not in (1, len(files)):
            raise ValueError(f"{len(columns)} --columns and {len(files)} recordings; give one for all, or one for each")
        known_columns: list[tuple[ColumnMap, str | None]] = [(read_column_map(one), one) for one in columns]
        stated = known_columns * (len(files) // len(columns))
    return [
        CaseRecord(file, name, sheet=sheet, columns=known, columns_file=place)
        for file, name, sheet, (known, place) in zip(files, names, on_sheets, stated, strict=True)
    ]


def _sheets_of(files: list[str], sheets: list[str]) -> list[str | None]:
    """The sheet of each file: those named go to the workbooks among the files, in order."""
    if not sheets:
        return [None] * len(files)
    from pathlib import Path

    from rimmodel.evidence.recording.file_kind import is_workbook

    workbooks = [is_workbook(Path(file)) for file in files]
    if len(sheets) != sum(workbooks):
        raise ValueError(
            f"{len(sheets)} --sheet and {sum(workbooks)} workbooks (.xlsx) among the recordings; give one sheet for "
            "each workbook, or none"
        )
    left = iter(sheets)
    return [next(left) if workbook else None for workbook in workbooks]


def print_json(table: dict[str, Any]) -> None:
    """Print a table as strict JSON."""
    import json

    text = json.dumps(table, indent=2, ensure_ascii=False, allow_nan=False)
    if not holds(sys.stdout, text):  # escaped, it is the same JSON
        text = json.dumps(table, indent=2, allow_nan=False)
    echo(text)


def refuse_empty(option: str, name: str | None) -> None:
    """Refuse an empty text where a place to write to is asked for."""
    if name == "":
        raise ValueError(f"{option} is given without a name; name a file or folder to write to, or leave out {option}")


def refuse_bad_workbook(name: str | None) -> None:
    """Refuse a place for a workbook that has no name, another ending, or nothing to write it with."""
    refuse_empty("--xlsx", name)
    if name is not None:
        from pathlib import Path

        from rimmodel.verdict.output.workbook import check_ending

        check_ending(Path(name))
