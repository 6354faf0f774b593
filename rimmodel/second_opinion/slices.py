"""Axisymmetric slices of a deck: elements of eight nodes from the inside out, in text."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.second_opinion.bricks import THICKNESS, collection, with_middles

INSIDE_FACE, OUTSIDE_FACE = 4, 2
"""Of an axisymmetric element, as the program counts them."""

WEDGE = np.radians(2.0)
"""Angle over which the program expands axisymmetric elements; forces are printed for so much of the circle."""

_CORNERS_AND_MIDDLES = ((0, 0), (2, 0), (2, 2), (0, 2), (1, 0), (2, 1), (1, 2), (0, 1))
"""Nodes of an element in the order of the program, as steps of half an element in radius and height."""


@dataclass(frozen=True)
class Slice:
    """A row of axisymmetric elements, one upon the other in radius; the axis is that of y.

    Parameters
    ----------
    first : int
        Number of the first node and of the first element.
    radii : array (n,), m
    """

    name: str
    first: int
    radii: Floats

    @cached_property
    def radius(self) -> Floats:
        """Radius of every row of nodes, m."""
        return with_middles(self.radii)

    def node(self, i: int, k: int = 0) -> int:
        """Number of the node in row `i` of radius (-1 is the outside) and `k` of height (0, 1, 2)."""
        return self.first + 3 * (i % self.radius.size) + k

    def element(self, i: int) -> int:
        """Number of the element in row `i` (-1 is the outermost)."""
        return self.first + i % (self.radii.size - 1)

    def mesh(self) -> list[str]:
        """Nodes, elements and sets; held axially below."""
        last = self.radius.size
        nodes = [
            f"{self.node(i, k)}, {self.radius[i]:.14g}, {k * THICKNESS / 2:.6g}"
            for i in range(last)
            for k in ((0, 2) if i % 2 else (0, 1, 2))
        ]
        elements = []
        for row in range(self.radii.size - 1):
            numbers = (str(self.node(2 * row + i, k)) for i, k in _CORNERS_AND_MIDDLES)
            elements.append(f"{self.element(row)}, {', '.join(numbers)}")
        return [
            *(f"*NODE, NSET={self.name}", *nodes),
            *(f"*ELEMENT, TYPE=CAX8, ELSET={self.name}", *elements),
            *collection("NSET", f"{self.name}BELOW", (self.node(i) for i in range(last))),
            *("*BOUNDARY", f"{self.name}BELOW, 2, 2"),
        ]
