"""What the finite-element program prints, read back: displacements, stresses and forces of every step."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

import numpy as np

from rimmodel.arrays import Floats

_TABLE = re.compile(
    r"^ *(displacements|total force|forces|stresses|statistics) (?:\([^\n]*\) )?for (?:set|slave set) (\w+)"
    r"(?:, master set \w+)? and time +(\S+)$",
    re.MULTILINE,
)
_NORMAL_FORCE = re.compile(r"normal force[^\n]*\n\s*\S+\s+(\S+)")


@dataclass(frozen=True)
class Printed:
    """One state.

    Attributes
    ----------
    radial : dict of int to float, m
        Radial displacement of each node.
    side_force : dict of str to float, N
        Hoop force on the side at angle 0 of each sector.
    stress : dict of int to array (points, 6), Pa
        Of each element at its integration points; radial and hoop are the first two.
    contact_force : dict of str to float, N
        Normal force on each surface that is pressed, + pressed together.
    """

    radial: dict[int, float] = field(default_factory=dict)
    side_force: dict[str, float] = field(default_factory=dict)
    stress: dict[int, Floats] = field(default_factory=dict)
    contact_force: dict[str, float] = field(default_factory=dict)


def read_printed(text: str) -> list[Printed]:
    r"""The states in the text of a file of printed results, in the order of their times.

    >>> table = " displacements (vx,vy,vz) for set RIM and time  0.1000000E+01\n\n  7  2.5E-03  0.0  0.0\n"
    >>> read_printed(table)[0].radial
    {7: 0.0025}
    """
    steps: dict[str, Printed] = {}
    pieces = _TABLE.split(text)
    for kind, name, time, rows in zip(pieces[1::4], pieces[2::4], pieces[3::4], pieces[4::4], strict=True):
        step = steps.setdefault(time, Printed())
        if kind == "displacements":
            step.radial.update((int(row[0]), float(row[1])) for row in _rows(rows))
        elif kind == "total force":
            step.side_force[name.removesuffix("START")] = float(next(iter(_rows(rows)))[1])
        elif kind == "stresses":
            step.stress.update(_stresses(rows))
        elif kind == "statistics":
            found = _NORMAL_FORCE.search(rows)
            force = float(found[1]) if found else 0.0
            step.contact_force[name] = -force if np.isfinite(force) else 0.0  # nothing touches: no number is printed
    return list(steps.values())


def _rows(text: str) -> list[list[str]]:
    return [row for row in map(str.split, text.splitlines()) if row]


def _stresses(text: str) -> dict[int, Floats]:
    found: dict[int, list[list[float]]] = {}
    for row in _rows(text):
        found.setdefault(int(row[0]), []).append([float(cell) for cell in row[2:8]])
    return {element: np.array(points) for element, points in found.items()}
