"""Curves, points and spans of charts against speed, and how they are drawn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from numpy.typing import ArrayLike

from rimmodel.plotting.style import COLOURS, DASHES, DIRECTIONS, FAINT, INK, MARKERS, plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes


CLEAR: Any = {"facecolor": "white", "edgecolor": "none", "pad": 0.8, "alpha": 0.85}
"""Behind words that stand over lines."""


FILLS = (INK, "white", FAINT)
"""Fill of the markers of each recording in turn; the direction is in their shape."""


@dataclass(frozen=True)
class Curve:
    """Predicted lines of one condition; no float speed is NaN or infinite.

    Parameters
    ----------
    speed : array (speed,), rpm
    gap, interference : array (speed,), mm
    float_speed : float, rpm
    """

    name: str
    speed: ArrayLike
    gap: ArrayLike
    interference: ArrayLike
    float_speed: float


@dataclass(frozen=True)
class Points:
    """Measured mean gaps of one recording and direction.

    Parameters
    ----------
    direction : str
        "up", "down" or "".
    speed : array (point,), rpm
    gap : array (point,), mm
    """

    name: str
    direction: str
    speed: ArrayLike
    gap: ArrayLike


@dataclass(frozen=True)
class Span:
    """A measured float speed with its interval.

    Parameters
    ----------
    best, low, high : float, rpm
    """

    name: str
    best: float
    low: float
    high: float


def draw_points(gap: Axes, points: Sequence[Points], size: float) -> None:
    """Measured points, each recording with its own fill, each direction with its own marker.

    Parameters
    ----------
    size : float, -
        In points of print.
    """
    names = list(dict.fromkeys(some.name for some in points))
    for some in points:
        fill = FILLS[names.index(some.name) % len(FILLS)]
        gap.plot(
            some.speed,
            some.gap,
            MARKERS[some.direction],
            color=INK,
            markersize=size,
            markerfacecolor=fill,
            markeredgewidth=0.9,
            label=f"{plain(some.name)}, {DIRECTIONS[some.direction]}",
            zorder=4,
        )


def draw_span(panel: Axes, span: Span) -> None:
    """A measured float speed as a line, its interval as a stripe behind the curves."""
    panel.axvspan(span.low, min(span.high, panel.get_xlim()[1]), color=FAINT, alpha=0.18, linewidth=0, zorder=0)
    panel.axvline(span.best, color=INK, linewidth=0.8)


def style_of(number: int) -> dict[str, Any]:
    """Colour and dash of the curve of that number."""
    return {"color": COLOURS[number % len(COLOURS)], "linestyle": DASHES[number % len(DASHES)]}


def label_of(curve: Curve, source: str) -> str:
    """What the legend calls a curve: its name, and what the interference was taken from."""
    return f"{plain(curve.name)}, {'interference of the drawing' if source == 'drawing' else source}"


def draw_gap(gap: Axes, curve: Curve, number: int, source: str, width: float) -> None:
    """The gap of a curve.

    Parameters
    ----------
    number : int
        Of its colour and dash.
    source : str
        What the interference was taken from.
    width : float, -
        In points of print.
    """
    gap.plot(curve.speed, curve.gap, label=label_of(curve, source), linewidth=width, **style_of(number))


def draw_limit(panel: Axes, least_gap: float) -> bool:
    """Draw the least gap allowed as a line where that does not squeeze the data; whether it was drawn.

    Parameters
    ----------
    least_gap : float, mm
    """
    low, high = panel.get_ylim()
    if least_gap <= low - 0.4 * (high - low):
        return False
    panel.axhline(least_gap, color=INK, linewidth=1.0, linestyle=(0, (4, 2)))
    panel.annotate(
        f"least mean gap allowed: {least_gap:g} mm",
        (0.99, least_gap),
        xycoords=("axes fraction", "data"),
        va="bottom",
        ha="right",
        fontsize=7.5,
        bbox=CLEAR,
    )
    return True
