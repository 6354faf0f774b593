"""The finite-element program: where it is, how it is run, and how its failures are put in words."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

PROGRAM = "ccx"
LONGEST = 600.0
"""Seconds that one deck may take."""

TOLD_LINES = 15
"""Of the end of its log that are shown."""


class ProgramError(ValueError):
    """The program is not there, failed, took too long, or left no results; the text says which and what to do."""


class StoppedError(ProgramError):
    """The program took longer than it may; what it has printed may end in the middle of a number."""


def require_program() -> None:
    """Refuse to run what is not there.

    Raises
    ------
    ProgramError
        The program is not on the PATH.
    """
    if shutil.which(PROGRAM) is None:
        raise ProgramError(
            f"the program {PROGRAM} (CalculiX) is not on the PATH; install it (Debian: calculix-ccx), or leave "
            f"out --run, run '{PROGRAM} NAME' on each deck where it is installed, and read the .dat files with --read"
        )


def one_thread() -> dict[str, str]:
    """The environment in which the program runs: on one thread."""
    return os.environ | {"OMP_NUM_THREADS": "1"}


def run_program(folder: Path, name: str, longest: float = LONGEST) -> str:
    """Run the program on ``folder/name.inp``, its words kept in ``name.log`` beside it, and return its printed results.

    Parameters
    ----------
    longest : float, s
        It is stopped after that.

    Raises
    ------
    ProgramError
        It is not there or failed.
    StoppedError
        It took too long.
    """
    require_program()
    printed, log = folder / f"{name}.dat", folder / f"{name}.log"
    printed.unlink(missing_ok=True)  # results of an earlier run are never read as those of this one
    with log.open("w", encoding="utf-8") as words:
        try:
            code = subprocess.run(
                [PROGRAM, name], cwd=folder, env=one_thread(), stdout=words, stderr=subprocess.STDOUT, timeout=longest
            ).returncode
        except subprocess.TimeoutExpired:
            raise StoppedError(
                f"{PROGRAM} did not end within {longest:g} s on {name}.inp and was stopped; its words are in {log}; "
                "raise --time-limit and run it again"
            ) from None
    if code or not printed.exists():
        raise ProgramError(f"{PROGRAM} ended with {code} on {name}.inp: {_complaint(log)}; its words are in {log}")
    return printed.read_text(encoding="utf-8", errors="replace")


def _complaint(log: Path) -> str:
    """The line in which the program says what is wrong, or its last one."""
    lines = [line.strip() for line in log.read_text(encoding="utf-8", errors="replace").splitlines() if line.strip()]
    wrong = [number for number, line in enumerate(lines) if "*ERROR" in line]
    return " ".join(lines[wrong[0] : wrong[0] + 2]) if wrong else (lines[-1] if lines else "without a word")
