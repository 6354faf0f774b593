"""Marks of single keys that lift off or seat again, and how many keys can be named."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rimmodel.plotting.style import COLOURS, INK

if TYPE_CHECKING:
    from matplotlib.axes import Axes


MOST_NAMED, MOST_AROUND = 20, 24
"""Keys that are named on an axis, and around a rim, before the names run into each other."""


EVENT_MARKS = {"lift-off": "o", "re-seating": "s"}


@dataclass(frozen=True)
class Mark:
    """A key that lifts off or re-seats at a speed.

    Parameters
    ----------
    speed : float, rpm
    key : int
        From 1.
    """

    speed: float
    key: int
    kind: str


def every_so_many(rows: list[tuple[int, float]], most: int) -> list[tuple[int, float]]:
    """The first row and every second, third, ... one after it, so that there are no more than `most`.

    Parameters
    ----------
    rows : list of (int, float), -
        Number of a key, and its place.

    Returns
    -------
    list of (int, float), -
    """
    return rows[:: -(-len(rows) // most)]


def draw_marks(panel: Axes, places: Sequence[tuple[Mark, float]]) -> None:
    """Each kind of event with its marker.

    Parameters
    ----------
    places : sequence of (Mark, float), unit of the axis
        With the place of each on the other axis.
    """
    for kind, marker in EVENT_MARKS.items():
        some = [(mark.speed, y) for mark, y in places if mark.kind == kind]
        if some:
            x, y = zip(*some, strict=True)
            panel.plot(
                x, y, marker, color=COLOURS[1], markeredgecolor=INK, markersize=6, linestyle="none", label=kind,
                clip_on=False, zorder=5,
            )  # fmt: skip
