"""The share of each limit that is used."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rimmodel.plotting.style import COLOURS, INK, panels, plain

if TYPE_CHECKING:
    from matplotlib.figure import Figure


WIDEST_USE = 2.0
"""Bars end here; what is used more is printed in figures."""


def draw(names: Sequence[str], use: Sequence[float], binding: Sequence[bool]) -> Figure:
    """Use of each limit (1 is all of it), top first; those for information are drawn hollow.

    Parameters
    ----------
    use : sequence of float, -
        Value over limit for a ceiling, limit over value for a floor.

    Returns
    -------
    matplotlib Figure
    """
    figure, (panel,) = panels((1.0,), height=1.3 + 0.24 * len(names))
    for place, (share, decides) in enumerate(zip(use, binding, strict=True)):
        broken = share > 1
        panel.barh(
            place,
            min(share, WIDEST_USE),
            height=0.62,
            color=("white" if not decides else COLOURS[1] if broken else COLOURS[5]),
            edgecolor=INK,
            linewidth=0.6,
            hatch="////" if broken else None,
        )
        panel.annotate(
            f"{share:.2f}",
            (min(share, WIDEST_USE), place),
            (4, 0),
            textcoords="offset points",
            va="center",
            fontsize=7.5,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.4, "alpha": 0.85},
        )
    panel.axvline(1.0, color=INK, linewidth=1.4)
    panel.set_yticks(range(len(names)), [plain(name) for name in names])
    panel.set_ylim(len(names) - 0.4, -0.6)
    panel.set_xlim(0.0, max(1.15, min(1.12 * max(use, default=1.0), 1.1 * WIDEST_USE)))
    panel.set_xlabel("share of the limit used  [-]\n(hatched: exceeds; hollow: for information)")
    panel.grid(axis="y", visible=False)
    return figure
