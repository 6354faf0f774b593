"""Rings for CalculiX, a general finite-element program: decks of the library's sectors run, and their results read.

A sector is one layer of 20-node bricks (`rimmodel.second_opinion.bricks`). Displacements and forces are read, never
contact stresses. (The axisymmetric elements of the program, straight wedges of 2 degrees, move 5e-5 too little:
1 - sin(1 degree)/(1 degree).)
"""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from pathlib import Path

from rimmodel.elastic import Ring
from rimmodel.second_opinion.bricks import Sector
from rimmodel.second_opinion.printed import Printed, read_printed
from rimmodel.second_opinion.program import PROGRAM, ProgramError, run_program
from rimmodel.second_opinion.program import require_program as require_here
from rimmodel.second_opinion.steel import Steel
from validation.collect import LibraryMissingError

LONGEST = 120.0


def steel_of(ring: Ring) -> Steel:
    """The material of a ring."""
    values = (ring.young_modulus, ring.poisson_ratio, ring.density, ring.thermal_expansion, ring.hoop_stiffness_factor)
    return Steel(*(float(value) for value in values))


def require_program(group: str) -> None:
    """Refuse a group of checks, with `LibraryMissingError`, where the program is not installed."""
    try:
        require_here()
    except ProgramError as error:
        raise LibraryMissingError(
            f"{group}: left out, because the program {PROGRAM} (CalculiX) is not on the PATH; "
            "install the Debian package calculix-ccx"
        ) from error


def solve(deck: Sequence[str], sectors: Sequence[Sector], steps: Sequence[Sequence[str]]) -> list[Printed]:
    """Run the program in a directory of its own, a step for each list of cards of loads.

    Raises
    ------
    RuntimeError
        It failed, or did not reach the end of every step.

    """
    wanted = [line for s in sectors for line in (f"*NODE PRINT, NSET={s.name}, GLOBAL=NO", "U")]
    wanted += [line for s in sectors for line in (f"*NODE PRINT, NSET={s.name}START, GLOBAL=NO, TOTALS=ONLY", "RF")]
    lines = [*deck]
    for loads in steps:
        lines += ["*STEP", "*STATIC", "1, 1", *loads, *wanted, "*END STEP"]
    with tempfile.TemporaryDirectory() as directory:
        Path(directory, "ring.inp").write_text("\n".join(lines) + "\n")
        try:
            found = read_printed(run_program(Path(directory), "ring", LONGEST))
        except ProgramError as error:
            raise RuntimeError(str(error)) from error
    if len(found) != len(steps):
        raise RuntimeError(f"{PROGRAM} ended after {len(found)} of {len(steps)} steps")
    return found
