"""Which inputs move the float speed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rimmodel.plotting.style import COLOURS, INK, panels, plain

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def draw(names: Sequence[str], changes: Sequence[float]) -> Figure:
    """Change of float speed in percent for each named change of an input, in the order given (top first).

    Parameters
    ----------
    changes : sequence of float, %
    """
    figure, (panel,) = panels((1.0,), height=0.9 + 0.32 * len(names))
    places = list(range(len(names)))
    bars = panel.barh(places, changes, height=0.62, color=COLOURS[0], edgecolor=INK, linewidth=0.6)
    for bar, change in zip(bars, changes, strict=True):
        panel.annotate(
            f"{change:+.1f} %",
            (change, bar.get_y() + bar.get_height() / 2),
            textcoords="offset points",
            xytext=(4 if change >= 0 else -4, 0),
            ha="left" if change >= 0 else "right",
            va="center",
            fontsize=8,
        )
    panel.set_yticks(places, [plain(name) for name in names])
    panel.invert_yaxis()
    panel.axvline(0.0, color=INK, linewidth=0.8)
    panel.margins(x=0.18)
    panel.set_xlabel("change of float speed  [%]")
    panel.grid(axis="y", visible=False)
    return figure
