"""Which inputs move a quantity most."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rimmodel.plotting.style import COLOURS, INK, legend, panels, plain

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def draw(names: Sequence[str], low: Sequence[float], high: Sequence[float], centre: float, quantity: str) -> Figure:
    """A quantity with one input after the other a standard uncertainty lower and higher, in the order given.

    Parameters
    ----------
    low, high : sequence of float, unit of the axis
        The quantity with that input lower and higher.
    centre : float, unit of the axis
        The quantity with all inputs as stated.
    quantity : str
        Label of the axis, with its unit.

    Returns
    -------
    matplotlib Figure
    """
    figure, (panel,) = panels((1.0,), height=1.3 + 0.32 * len(names))
    places = range(len(names))
    ends = (
        (low, "standard uncertainty lower", COLOURS[0], ""),
        (high, "standard uncertainty higher", COLOURS[1], "////"),
    )
    for values, label, colour, hatch in ends:
        widths = [value - centre for value in values]
        panel.barh(
            places,
            widths,
            left=centre,
            height=0.6,
            color=colour,
            edgecolor=INK,
            linewidth=0.6,
            hatch=hatch,
            label=label,
        )
    panel.set_yticks(list(places), [plain(name) for name in names])
    panel.invert_yaxis()
    panel.axvline(centre, color=INK, linewidth=0.8)
    panel.margins(x=0.06)
    panel.set_xlabel(plain(quantity))
    panel.grid(axis="y", visible=False)
    legend(panel, loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=2)
    return figure
