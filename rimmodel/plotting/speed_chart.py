"""The main figure: air gap against speed, predicted and measured, and below it the interference that is left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.style import COLOURS, DASHES, FAINT, INK, MARKERS, WAYS, mark_speeds, panels, plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Curve:
    """Predicted lines of one condition: speeds in rpm, lengths in mm; no float speed is NaN or infinite."""

    name: str
    speed: ArrayLike
    gap: ArrayLike
    interference: ArrayLike
    float_speed: float


@dataclass(frozen=True)
class Points:
    """Measured mean gaps of one recording and way ("up", "down", "")."""

    name: str
    way: str
    speed: ArrayLike
    gap: ArrayLike


@dataclass(frozen=True)
class Span:
    """A measured float speed with its interval, rpm."""

    name: str
    best: float
    low: float
    high: float


def speed_chart(
    curves: Sequence[Curve],
    points: Sequence[Points] = (),
    *,
    marks: dict[str, float] | None = None,
    spans: Sequence[Span] = (),
    least_gap: float | None = None,
) -> Figure:
    """Air gap (upper panel) and interference left (lower panel) against speed.

    Parameters
    ----------
    curves : sequence of Curve
        One per condition.
    points : sequence of Points
        Drawn over the curves, by way.
    marks : dict
        Named speeds, rpm.
    spans : sequence of Span
        Measured float speeds, drawn as bands.
    least_gap : float, optional
        mm, drawn as a limit where it lies near the data.

    Returns
    -------
    matplotlib Figure
    """
    figure, (gap, left) = panels((3.0, 2.0), height=6.4)
    for number, curve in enumerate(curves):
        style: dict[str, Any] = {"color": COLOURS[number % len(COLOURS)], "linestyle": DASHES[number % len(DASHES)]}
        gap.plot(curve.speed, curve.gap, label=f"predicted, {plain(curve.name)}", linewidth=1.8, **style)
        left.plot(curve.speed, curve.interference, label=plain(curve.name), linewidth=1.8, **style)
        if np.isfinite(curve.float_speed) and 0 < curve.float_speed <= np.max(curve.speed):
            _mark_lift_off(left, curve.float_speed, style["color"])
    for number, some in enumerate(points):
        filled = some.way != "down"
        gap.plot(
            some.speed,
            some.gap,
            MARKERS[some.way],
            color=INK,
            markersize=5,
            markerfacecolor=INK if filled and number < 3 else "white",
            markeredgewidth=0.9,
            label=f"{plain(some.name)}, {WAYS[some.way]}",
            zorder=4,
        )
    for span in spans:
        high = min(span.high, float(np.max(curves[0].speed))) if curves else span.high
        for panel in (gap, left):
            panel.axvspan(span.low, high, color=FAINT, alpha=0.18, linewidth=0, zorder=0)
        gap.axvline(span.best, color=INK, linewidth=0.8)
        left.axvline(
            span.best, color=INK, linewidth=0.8, label=f"measured lift-off, {plain(span.name)} (band: interval)"
        )
    if least_gap is not None:
        gap.axhline(least_gap, color=INK, linewidth=1.0, linestyle=(0, (4, 2)))
        gap.annotate(
            f"least mean gap allowed {least_gap:g} mm",
            (0.01, least_gap),
            xycoords=("axes fraction", "data"),
            va="bottom",
            fontsize=7.5,
        )
    mark_speeds([gap, left], marks or {})
    left.axhline(0.0, color=INK, linewidth=0.8)
    left.annotate("floating below this line", (0.01, 0.0), xycoords=("axes fraction", "data"), va="top", fontsize=7.5)
    gap.set_ylabel("mean air gap  [mm]")
    left.set_ylabel("interference left, radial  [mm]")
    left.set_xlabel("speed  [rpm]")
    left.set_xlim(0, None)
    gap.legend(loc="lower left", bbox_to_anchor=(0.0, 0.08))
    left.legend(loc="lower left")
    return figure


def _mark_lift_off(panel: Axes, speed: float, colour: str) -> None:
    panel.plot([speed], [0.0], "o", color=colour, markersize=6, markeredgecolor=INK, markeredgewidth=0.6, zorder=5)
    panel.annotate(f"{speed:.0f} rpm", (speed, 0.0), textcoords="offset points", xytext=(6, 6), fontsize=7.5, color=INK)
