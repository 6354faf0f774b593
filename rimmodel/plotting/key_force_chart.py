"""Forces of single keys against speed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from numpy.typing import ArrayLike

from rimmodel.plotting.key_marks import Mark, draw_marks
from rimmodel.plotting.style import COLOURS, DASHES, legend, mark_speeds, panels, plain

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Curve:
    """Force of one key against speed.

    Parameters
    ----------
    speed : array (speed,), rpm
    force : array (speed,), kN
    """

    name: str
    speed: ArrayLike
    force: ArrayLike


def draw(curves: Sequence[Curve], marks: Sequence[Mark], speeds: dict[str, float]) -> Figure:
    """Force of every key against speed, with a mark where it lifts off or re-seats.

    Parameters
    ----------
    curves : sequence of Curve
        In the order of the keys.
    speeds : dict of str to float, rpm
        Named speeds.

    Returns
    -------
    matplotlib Figure
    """
    figure, (panel,) = panels((1.0,), height=4.4)
    for number, curve in enumerate(curves):
        panel.plot(
            curve.speed,
            curve.force,
            color=COLOURS[number % len(COLOURS)],
            linestyle=DASHES[(number // len(COLOURS)) % len(DASHES)],
            linewidth=1.3,
            label=f"key {plain(curve.name)}",
        )
    draw_marks(panel, [(mark, 0.0) for mark in marks])
    mark_speeds([panel], speeds)
    panel.set_xlabel("speed  [rpm]")
    panel.set_ylabel("force on the key  [kN]")
    panel.set_xlim(0.0, None)
    panel.set_ylim(0.0, None)
    legend(panel, loc="upper right", ncols=2 if len(curves) > 8 else 1)
    return figure
