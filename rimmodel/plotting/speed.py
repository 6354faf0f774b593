"""The main figure: air gap against speed, predicted and measured, and below it the interference that is left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.style import COLOURS, DASHES, DIRECTIONS, FAINT, INK, MARKERS, legend, mark_speeds, panels, plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


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


def speed_chart(
    curves: Sequence[Curve],
    points: Sequence[Points] = (),
    *,
    measured_curves: Sequence[Curve] = (),
    marks: dict[str, float] | None = None,
    spans: Sequence[Span] = (),
    least_gap: float | None = None,
) -> Figure:
    """Air gap (upper panel) and interference left (lower panel) against speed.

    Parameters
    ----------
    curves : sequence of Curve
        One per condition, predicted with the interference of the drawing.
    points : sequence of Points
        Drawn over the curves, by direction.
    measured_curves : sequence of Curve
        The same conditions, in the same order, with the interference that a test showed: thin, same colour.
    marks : dict of str to float, rpm
        Named speeds.
    spans : sequence of Span
        Measured float speeds, drawn as bands.
    least_gap : float, mm, optional
        Drawn as a limit where it lies near the data, otherwise stated in words.

    Returns
    -------
    matplotlib Figure
    """
    figure, (gap, left) = panels((3.0, 2.4), height=7.0)
    for number, curve in enumerate(curves):
        _draw(gap, curve, number, "drawing", 2.2)
        _draw_left(left, curve, number, "drawing", 2.2)
    for number, curve in enumerate(measured_curves):
        _draw(gap, curve, number, "as measured", 1.0)
        _draw_left(left, curve, number, "as measured", 1.0)
    _draw_points(gap, points, 5.0)
    for span in spans:
        for panel in (gap, left):
            _draw_span(panel, span)
        left.annotate(
            f"{plain(span.name)}: {span.best:.0f}",
            (span.best, 0.03),
            (-2, 0),
            ("data", "axes fraction"),
            "offset points",
            rotation=90,
            ha="right",
            fontsize=7.5,
        )
    axis = "speed  [rpm]"
    if least_gap is not None and not _draw_limit(gap, least_gap):
        axis += f";   least mean gap allowed: {least_gap:g} mm (below the upper axis)"
    mark_speeds([gap, left], marks or {})
    left.axhline(0.0, color=INK, linewidth=0.8)
    left.annotate("seated", (0.995, 0.0), (0, 2), ("axes fraction", "data"), "offset points", ha="right", fontsize=7.5)
    left.annotate(
        "floating",
        (0.995, 0.0),
        (0, -2),
        ("axes fraction", "data"),
        "offset points",
        ha="right",
        va="top",
        fontsize=7.5,
    )
    gap.set_ylabel("mean air gap  [mm]")
    left.set_ylabel("interference left, radial  [mm]")
    left.set_xlabel(axis)
    left.set_xlim(0, None)
    legend(gap, loc="lower left")
    return figure


def gap_chart(
    curves: Sequence[Curve],
    points: Sequence[Points] = (),
    *,
    measured_curves: Sequence[Curve] = (),
    marks: dict[str, float] | None = None,
    spans: Sequence[Span] = (),
    least_gap: float | None = None,
) -> Figure:
    """The upper panel of `speed_chart` alone, low enough for a first page, with speed and interval at each span.

    Parameters
    ----------
    marks : dict of str to float, rpm
    least_gap : float, mm, optional

    Returns
    -------
    matplotlib Figure
    """
    figure, (gap,) = panels((1.0,), height=2.5)
    for number, curve in enumerate(curves):
        _draw(gap, curve, number, "drawing", 2.2)
    for number, curve in enumerate(measured_curves):
        _draw(gap, curve, number, "as measured", 1.0)
    _draw_points(gap, points, 4.0)
    gap.set_xlim(0, None)
    for place, span in enumerate(sorted(spans, key=lambda span: span.best)):
        _draw_span(gap, span)
        right = place == len(spans) - 1  # the last one stands clear of its neighbours
        gap.annotate(
            f"{plain(span.name)}\n{span.best:.1f} rpm\n{_ends(span)}",
            (min(span.high, gap.get_xlim()[1]) if right else span.low, 0.03),
            (4 if right else -4, 0),
            ("data", "axes fraction"),
            "offset points",
            rotation=90,
            ha="left" if right else "right",
            va="bottom",
            fontsize=6.5,
            bbox=CLEAR,
            zorder=6,
        )
    axis = "speed  [rpm]"
    if least_gap is not None and not _draw_limit(gap, least_gap):
        axis += f";   least mean gap allowed: {least_gap:g} mm (below this axis)"
    mark_speeds([gap], marks or {})
    gap.set_ylabel("mean air gap  [mm]")
    gap.set_xlabel(axis)
    gap.legend(frameon=False, fontsize=7.0, loc="lower left", labelspacing=0.3)
    return figure


def _ends(span: Span) -> str:
    """Interval of a span, open sides in words."""
    if not np.isfinite(span.high):
        return f"above {span.low:.1f}" if span.low > 0 else "no bound"
    return f"{span.low:.1f} to {span.high:.1f}" if span.low > 0 else f"below {span.high:.1f}"


def _draw_points(gap: Axes, points: Sequence[Points], size: float) -> None:
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


def _draw_span(panel: Axes, span: Span) -> None:
    panel.axvspan(span.low, min(span.high, panel.get_xlim()[1]), color=FAINT, alpha=0.18, linewidth=0, zorder=0)
    panel.axvline(span.best, color=INK, linewidth=0.8)


def _style(number: int) -> dict[str, Any]:
    return {"color": COLOURS[number % len(COLOURS)], "linestyle": DASHES[number % len(DASHES)]}


def _label(curve: Curve, source: str) -> str:
    return f"{plain(curve.name)}, {'interference of the drawing' if source == 'drawing' else source}"


def _draw(gap: Axes, curve: Curve, number: int, source: str, width: float) -> None:
    gap.plot(curve.speed, curve.gap, label=_label(curve, source), linewidth=width, **_style(number))


def _draw_left(left: Axes, curve: Curve, number: int, source: str, width: float) -> None:
    style = _style(number)
    left.plot(curve.speed, curve.interference, label=_label(curve, source), linewidth=width, **style)
    if not (np.isfinite(curve.float_speed) and 0 < curve.float_speed <= np.max(curve.speed)):
        return
    left.plot(
        [curve.float_speed], [0.0], "o", color=style["color"], markersize=6, markeredgecolor=INK, markeredgewidth=0.6
    )
    # labels of neighbouring conditions stand on different sides of the line
    above = number % 2 == 0
    left.annotate(
        f"{curve.float_speed:.0f}",
        (curve.float_speed, 0.0),
        textcoords="offset points",
        xytext=(0, 7 if above else -7),
        ha="center",
        va="bottom" if above else "top",
        fontsize=8,
        bbox=CLEAR,
        zorder=6,
    )


def _draw_limit(panel: Axes, least_gap: float) -> bool:
    """Draw the least gap allowed as a line where that does not squeeze the data; whether it was drawn."""
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
