"""Sectors of rings for CalculiX, a general finite-element program: the deck written, run and read.

A sector is one layer of 20-node bricks, in cylindrical coordinates, held in the hoop direction on both sides and
axially below. So thin a layer is in plane stress, and its bricks are curved along the circle. (The axisymmetric
elements of the program, straight wedges of 2 degrees, move 5e-5 too little: 1 - sin(1 degree)/(1 degree).)
Displacements and forces are read, never contact stresses.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from rimmodel.elastic import Ring
from validation.collect import LibraryMissingError

Floats = NDArray[np.float64]

PROGRAM, LONGEST = "ccx", 120.0
THICKNESS = 1e-3
"""Axial, m: what is left of three dimensions falls with its square, to 2e-7 of a ring of 3.2/3.6 m."""

_CORNERS = [(0, 0, 0), (2, 0, 0), (2, 2, 0), (0, 2, 0), (0, 0, 2), (2, 0, 2), (2, 2, 2), (0, 2, 2)]
_MIDDLES = [(1, 0, 0), (2, 1, 0), (1, 2, 0), (0, 1, 0), (1, 0, 2), (2, 1, 2), (1, 2, 2), (0, 1, 2)]
_UPRIGHTS = [(0, 0, 1), (2, 0, 1), (2, 2, 1), (0, 2, 1)]
_BRICK = np.array(_CORNERS + _MIDDLES + _UPRIGHTS)
"""Nodes of a brick in the order of the program, as steps of half an element in radius, angle and height."""


@dataclass(frozen=True)
class Sector:
    """Bricks between the given radii (m) and angles (rad), numbered from `first`.

    The deck calls all of them `name`, and those along an edge `name` with BORE or OUTSIDE, whose faces are 6 and 4.
    """

    name: str
    first: int
    radii: Floats
    angles: Floats

    @cached_property
    def radius(self) -> Floats:
        """Radius of every row of nodes, m."""
        return _with_middles(self.radii)

    @cached_property
    def angle(self) -> Floats:
        """Angle of every row of nodes, rad."""
        return _with_middles(self.angles)

    def node(self, i: int, j: int, k: int = 0) -> int:
        """Number of the node in row `i` of radius (-1 is the outside), `j` of angle and `k` of height."""
        columns, rows = self.radius.size, self.angle.size
        return self.first + i % columns + columns * (j % rows + rows * k)

    def places(self) -> list[tuple[int, int, int]]:
        """Rows of all nodes: corners and the middles of sides, none in the middle of a face."""
        grid = np.ndindex(self.radius.size, self.angle.size, 3)
        return [(i, j, k) for i, j, k in grid if i % 2 + j % 2 + k % 2 <= 1]

    def deck(self, ring: Ring) -> list[str]:
        """Nodes, bricks, sets, holds and the material, which is that of the ring."""
        last, places = self.angle.size - 1, self.places()
        sides = [self.node(*place) for place in places if place[1] in (0, last)]
        start = [self.node(*place) for place in places if place[1] == 0]
        below = [self.node(*place) for place in places if place[2] == 0]
        name = self.name
        return [
            *(f"*NODE, NSET={name}", *self.node_lines()),
            *(f"*ELEMENT, TYPE=C3D20, ELSET={name}", *self.brick_lines()),
            *collection("ELSET", f"{name}BORE", (self.brick(0, j) for j in range(self.angles.size - 1))),
            *collection("ELSET", f"{name}OUTSIDE", (self.brick(-1, j) for j in range(self.angles.size - 1))),
            *collection("NSET", f"{name}SIDES", sides),
            *collection("NSET", f"{name}START", start),
            *collection("NSET", f"{name}BELOW", below),
            *(f"*TRANSFORM, NSET={name}, TYPE=C", "0, 0, 0, 0, 0, 1"),
            *("*BOUNDARY", f"{name}SIDES, 2, 2", f"{name}BELOW, 3, 3"),
            *_material(name, ring),
        ]

    def brick(self, i: int, j: int) -> int:
        """Number of the brick in row `i` of radius (-1 is the outermost) and `j` of angle."""
        return self.first + i % (self.radii.size - 1) + (self.radii.size - 1) * j

    def node_lines(self) -> list[str]:
        """Nodes as lines of a deck."""
        return [self._node_line(*place) for place in self.places()]

    def _node_line(self, i: int, j: int, k: int) -> str:
        r, angle = self.radius[i], self.angle[j]
        return f"{self.node(i, j, k)}, {r * np.cos(angle):.14g}, {r * np.sin(angle):.14g}, {k * THICKNESS / 2:.6g}"

    def brick_lines(self) -> Iterable[str]:
        """Bricks of 20 nodes as lines of a deck."""
        for i, j in np.ndindex(self.radii.size - 1, self.angles.size - 1):
            numbers = [str(self.node(*place)) for place in np.add(_BRICK, (2 * i, 2 * j, 0)).tolist()]
            yield f"{self.brick(i, j)}, {', '.join(numbers[:15])},"
            yield ", ".join(numbers[15:])


def _with_middles(edges: Floats) -> Floats:
    return np.interp(np.arange(2 * edges.size - 1) / 2, np.arange(edges.size), edges)


def collection(kind: str, name: str, numbers: Iterable[int]) -> list[str]:
    """A set of nodes or elements."""
    return [f"*{kind}, {kind}={name}", *(f"{number}," for number in numbers)]


def _material(name: str, ring: Ring) -> list[str]:
    """The law of the ring; the axial direction, without stress, is given the modulus of the radial one."""
    radial, factor, ratio = (float(x) for x in (ring.young_modulus, ring.hoop_stiffness_factor, ring.poisson_ratio))
    shear = radial / (2 * (1 + ratio))
    law = ["*ELASTIC", f"{radial:.14g}, {ratio:.14g}"]
    if factor != 1:
        moduli = f"{radial:.14g}, {radial * factor:.14g}, {radial:.14g}"
        ratios = f"{ratio:.14g}, {ratio:.14g}, {ratio * factor:.14g}"  # radial-hoop, radial-axial, hoop-axial
        law = [
            "*ELASTIC, TYPE=ENGINEERING CONSTANTS",
            f"{moduli}, {ratios}, {shear:.14g}, {shear:.14g},",
            f"{shear:.14g},",
        ]
    return [
        *(f"*MATERIAL, NAME={name}STEEL", *law),
        *("*DENSITY", f"{float(ring.density):.14g}", "*EXPANSION", f"{float(ring.thermal_expansion):.14g}"),
        *(f"*ORIENTATION, NAME={name}AXES, SYSTEM=CYLINDRICAL", "0, 0, 0, 0, 0, 1"),
        f"*SOLID SECTION, ELSET={name}, MATERIAL={name}STEEL, ORIENTATION={name}AXES",
        *("*INITIAL CONDITIONS, TYPE=TEMPERATURE", f"{name}, 0"),
    ]


@dataclass(frozen=True)
class Step:
    """One state: radial displacement (m) of every node, and hoop force (N) on the side of each sector at angle 0."""

    radial: dict[int, float] = field(default_factory=dict)
    side_force: dict[str, float] = field(default_factory=dict)


def require_program(group: str) -> None:
    """Refuse a group of checks, with `LibraryMissingError`, where the program is not installed."""
    if shutil.which(PROGRAM) is None:
        raise LibraryMissingError(
            f"{group}: left out, because the program {PROGRAM} (CalculiX) is not on the PATH; "
            "install the Debian package calculix-ccx"
        )


def one_thread() -> dict[str, str]:
    """The environment in which the program runs: on one thread."""
    return os.environ | {"OMP_NUM_THREADS": "1"}


def solve(deck: Sequence[str], sectors: Sequence[Sector], steps: Sequence[Sequence[str]]) -> list[Step]:
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
        told = _run(directory)
        printed = Path(directory, "ring.dat")
        found = _read(printed.read_text() if printed.exists() else "")
    if len(found) != len(steps):
        raise RuntimeError(f"{PROGRAM} ended after {len(found)} of {len(steps)} steps; its last lines:\n{told}")
    return found


def _run(directory: str) -> str:
    """The end of what the program says, on one thread."""
    try:
        run = subprocess.run(
            [PROGRAM, "ring"], cwd=directory, env=one_thread(), capture_output=True, text=True, timeout=LONGEST
        )
    except subprocess.TimeoutExpired as error:
        raise RuntimeError(f"{PROGRAM} did not end within {LONGEST:g} s; try again on a machine at rest") from error
    told = "\n".join((run.stdout + run.stderr).strip().splitlines()[-15:])
    if run.returncode:
        raise RuntimeError(f"{PROGRAM} failed with code {run.returncode}; its last lines:\n{told}")
    return told


def _read(printed: str) -> list[Step]:
    """The states in a file of printed results, one per time at the head of its tables."""
    steps: dict[str, Step] = {}
    tables = re.split(r"^ *(displacements|total force) \(.*\) for set (\w+) and time +(\S+)$", printed, flags=re.M)
    for kind, name, time, rows in zip(tables[1::4], tables[2::4], tables[3::4], tables[4::4], strict=True):
        step = steps.setdefault(time, Step())
        for row in filter(None, map(str.split, rows.splitlines())):
            if kind == "displacements":
                step.radial[int(row[0])] = float(row[1])
            else:
                step.side_force[name.removesuffix("START")] = float(row[1])
    return list(steps.values())
