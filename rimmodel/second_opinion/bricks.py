"""Sectors of rings as bricks of a finite-element deck: nodes, elements and sets, in text.

A sector is one layer of 20-node bricks in cylindrical coordinates, held axially below. So thin a layer is in plane
stress, and its bricks are curved along the circle. A sector may close to a whole ring; bricks may be left out of it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats
from rimmodel.second_opinion.steel import Steel

THICKNESS = 1e-3
"""Axial, m: what is left of three dimensions falls with its square, to 2e-7 of a ring of 3.2/3.6 m."""

BORE_FACE, OUTSIDE_FACE = 6, 4
"""Of a brick, as the program counts them."""

_CORNERS = [(0, 0, 0), (2, 0, 0), (2, 2, 0), (0, 2, 0), (0, 0, 2), (2, 0, 2), (2, 2, 2), (0, 2, 2)]
_MIDDLES = [(1, 0, 0), (2, 1, 0), (1, 2, 0), (0, 1, 0), (1, 0, 2), (2, 1, 2), (1, 2, 2), (0, 1, 2)]
_UPRIGHTS = [(0, 0, 1), (2, 0, 1), (2, 2, 1), (0, 2, 1)]
_BRICK = np.array(_CORNERS + _MIDDLES + _UPRIGHTS)
"""Nodes of a brick in the order of the program, as steps of half an element in radius, angle and height."""


@dataclass(frozen=True)
class Sector:
    """Bricks between radii and angles, numbered from `first`.

    The deck calls all of them `name`, and those along an edge `name` with BORE or OUTSIDE.

    Parameters
    ----------
    first : int
        Number of the first node and of the first brick.
    radii : array (n,), m
    angles : array (m,), rad
    closed : bool
        Whether the last angle is the first one again, a turn further on.
    solid : bool array (n - 1, m - 1), optional
        Which bricks are there; all when absent.
    raised : array (rows of nodes in angle,), m, optional
        By how much a node stands further out than its row, in full where `share` is 1.
    share : array (rows of nodes in radius,), -, optional
        Of `raised`.
    """

    name: str
    first: int
    radii: Floats
    angles: Floats
    closed: bool = False
    solid: NDArray[np.bool_] | None = None
    raised: Floats | None = None
    share: Floats | None = None

    @cached_property
    def radius(self) -> Floats:
        """Radius of every row of nodes, m."""
        return with_middles(self.radii)

    @cached_property
    def angle(self) -> Floats:
        """Angle of every row of nodes, rad; that of the seam of a closed ring once."""
        return with_middles(self.angles)[: -1 if self.closed else None]

    def node(self, i: int, j: int, k: int = 0) -> int:
        """Number of the node in row `i` of radius (-1 is the outside), `j` of angle and `k` of height."""
        columns, rows = self.radius.size, self.angle.size
        return self.first + i % columns + columns * (j % rows + rows * k)

    @property
    def last(self) -> int:
        """Number of the last node that may be there; the program keeps room for every number below its highest."""
        return self.first + 3 * self.radius.size * self.angle.size - 1

    @cached_property
    def places(self) -> list[tuple[int, int, int]]:
        """Rows of all nodes: corners and the middles of sides, none in the middle of a face."""
        grid = (self.radius.size, self.angle.size)
        there = np.zeros(grid, dtype=bool)
        for i, j in self.bricks:
            there[2 * i : 2 * i + 3, np.arange(2 * j, 2 * j + 3) % grid[1]] = True
        odd = (place for place in np.ndindex(*grid, 3) if place[0] % 2 + place[1] % 2 + place[2] % 2 <= 1)
        return [(i, j, k) for i, j, k in odd if there[i, j]]

    @cached_property
    def bricks(self) -> list[tuple[int, int]]:
        """Rows of radius and angle of all bricks that are there."""
        grid = np.ndindex(self.radii.size - 1, self.angles.size - 1)
        return [(i, j) for i, j in grid if self.solid is None or self.solid[i, j]]

    def brick(self, i: int, j: int) -> int:
        """Number of the brick in row `i` of radius (-1 is the outermost) and `j` of angle."""
        return self.first + i % (self.radii.size - 1) + (self.radii.size - 1) * j

    def mesh(self) -> list[str]:
        """Nodes, bricks, sets and cylindrical directions; bricks are held axially below, sides of a sector in hoop."""
        name, last = self.name, self.angle.size - 1
        at_sides = [] if self.closed else [place for place in self.places if place[1] in (0, last)]
        edges = {"BORE": 0, "OUTSIDE": self.radii.size - 2}
        lines = [
            *(f"*NODE, NSET={name}", *self.node_lines()),
            *(f"*ELEMENT, TYPE=C3D20, ELSET={name}", *self.brick_lines()),
        ]
        for edge, row in edges.items():
            lines += collection("ELSET", f"{name}{edge}", (self.brick(row, j) for i, j in self.bricks if i == row))
        if at_sides:
            lines += collection("NSET", f"{name}SIDES", (self.node(*place) for place in at_sides))
            start = (self.node(*place) for place in at_sides if place[1] == 0)
            lines += collection("NSET", f"{name}START", start)
        below = (self.node(*place) for place in self.places if place[2] == 0)
        return [
            *(*lines, *collection("NSET", f"{name}BELOW", below)),
            *(f"*TRANSFORM, NSET={name}, TYPE=C", "0, 0, 0, 0, 0, 1"),
            *("*BOUNDARY", *([f"{name}SIDES, 2, 2"] if at_sides else []), f"{name}BELOW, 3, 3"),
            *(f"*ORIENTATION, NAME={name}AXES, SYSTEM=CYLINDRICAL", "0, 0, 0, 0, 0, 1"),
        ]

    def deck(self, steel: Steel) -> list[str]:
        """The mesh, all of one material and at zero temperature."""
        return [
            *self.mesh(),
            *steel.section(self.name, self.name, f"{self.name}AXES"),
            *("*INITIAL CONDITIONS, TYPE=TEMPERATURE", f"{self.name}, 0"),
        ]

    def node_lines(self) -> list[str]:
        """Nodes as lines of a deck."""
        return [self._node_line(*place) for place in self.places]

    def _node_line(self, i: int, j: int, k: int) -> str:
        r, angle = self.radius[i], self.angle[j]
        if self.raised is not None and self.share is not None:
            r += self.raised[j] * self.share[i]
        return f"{self.node(i, j, k)}, {r * np.cos(angle):.14g}, {r * np.sin(angle):.14g}, {k * THICKNESS / 2:.6g}"

    def brick_lines(self) -> Iterable[str]:
        """Bricks of 20 nodes as lines of a deck."""
        for i, j in self.bricks:
            numbers = [str(self.node(*place)) for place in np.add(_BRICK, (2 * i, 2 * j, 0)).tolist()]
            yield f"{self.brick(i, j)}, {', '.join(numbers[:15])},"
            yield ", ".join(numbers[15:])


def with_middles(edges: Floats) -> Floats:
    """Edges of elements with their middles, m or rad.

    Parameters
    ----------
    edges : array (n,), m

    Returns
    -------
    array (2 n - 1,), m

    >>> print(with_middles(np.array([1.0, 2.0])))
    [1.  1.5 2. ]
    """
    return np.interp(np.arange(2 * edges.size - 1) / 2, np.arange(edges.size), edges)


def collection(kind: str, name: str, numbers: Iterable[int]) -> list[str]:
    """A set of nodes or elements."""
    return [f"*{kind}, {kind}={name}", *(f"{number}," for number in numbers)]
