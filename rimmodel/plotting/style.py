"""How every figure looks, and how it becomes a reproducible SVG.

Lines differ by dash and points by marker as well as by colour, so that a grey print reads the same. The colours
are those of Okabe & Ito (2008), made for colour-blind readers.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9")
DASHES: tuple[Any, ...] = ("-", (0, (6, 2)), (0, (2, 1.5)), (0, (6, 2, 1.5, 2)), (0, (1, 1)), (0, (8, 3)))
MARKERS = {"up": "^", "down": "v", "": "o"}
DIRECTIONS = {"up": "speed rising", "down": "speed falling", "": "direction unknown"}
INK = "#222222"
FAINT = "#777777"

_SETTINGS: Any = {
    "svg.hashsalt": "rimmodel",
    "svg.fonttype": "path",
    "font.family": "DejaVu Sans",
    "font.size": 9.0,
    "axes.grid": True,
    "grid.color": "#DDDDDD",
    "grid.linewidth": 0.6,
    "axes.axisbelow": True,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
}


def panels(heights: tuple[float, ...], width: float = 7.2, height: float = 5.6) -> tuple[Figure, list[Axes]]:
    """A figure with panels one above the other on one x axis.

    Parameters
    ----------
    heights : tuple of float, -
        Shares of the height.
    width, height : float, inch
    """
    import matplotlib as mpl
    from matplotlib.figure import Figure

    with mpl.rc_context(_SETTINGS):
        figure = Figure(figsize=(width, height), layout="constrained")
        axes = figure.subplots(len(heights), 1, sharex=True, height_ratios=heights, squeeze=False)
    return figure, list(axes[:, 0])


def square(*, polar: bool = False, size: float = 3.7, beside: float = 1.6) -> tuple[Figure, Any]:
    """A square panel with room for a legend beside it.

    Parameters
    ----------
    size, beside : float, inch
        Of the panel, and of the room for the legend.
    """
    import matplotlib as mpl
    from matplotlib.figure import Figure

    with mpl.rc_context(_SETTINGS):
        figure = Figure(figsize=(size + beside, size), layout="constrained")
        return figure, figure.add_subplot(projection="polar" if polar else None)


def legend(owner: Axes | Figure, **place: Any) -> None:
    """A legend of panel or figure in the size and without the frame of the house; `place` as matplotlib takes it."""
    owner.legend(frameon=False, fontsize=8.0, **place)


def plain(text: str) -> str:
    r"""The text as it is: a dollar sign starts no formula, a leading underscore hides no legend entry.

    >>> print(plain("cost $5$"))
    cost \$5\$
    """
    shown = "".join(letter if letter.isprintable() else " " for letter in text).replace("$", r"\$")
    return f" {shown}" if shown.startswith("_") else shown


def to_svg(figure: Figure) -> str:
    """The figure as SVG text, the same bytes for the same figure."""
    import matplotlib as mpl
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    stream = io.StringIO()
    with mpl.rc_context(_SETTINGS):
        # savefig would lay the figure out in a drawing of its own, which the SVG does not need
        FigureCanvasSVG(figure).print_svg(stream, metadata={"Date": None, "Creator": None})  # type: ignore[no-untyped-call]
    return stream.getvalue()


def mark_speeds(axes: list[Axes], marks: dict[str, float], *, y: float = 1.0) -> None:
    """Vertical lines at named speeds through all panels, named above the first.

    Parameters
    ----------
    marks : dict of str to float, unit of the axis
    y : float, -
        Where the names stand, as a share of the height.
    """
    for name, speed in marks.items():
        for panel in axes:
            panel.axvline(speed, color=FAINT, linewidth=0.8, linestyle=(0, (1, 2)), zorder=1)
        axes[0].annotate(
            f"{plain(name)}\n{speed:.4g}",
            (speed, y),
            xycoords=("data", "axes fraction"),
            ha="center",
            va="bottom",
            fontsize=7.5,
            color=INK,
        )
