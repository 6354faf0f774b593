"""The main figure: air gap against speed, predicted and measured, and below it the interference that is left."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from rimmodel.plotting.speed_curves import (
    CLEAR,
    Curve,
    Points,
    Span,
    draw_gap,
    draw_limit,
    draw_points,
    draw_span,
    label_of,
    style_of,
)
from rimmodel.plotting.style import INK, legend, mark_speeds, panels, plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def draw(
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
        draw_gap(gap, curve, number, "drawing", 2.2)
        _draw_left(left, curve, number, "drawing", 2.2)
    for number, curve in enumerate(measured_curves):
        draw_gap(gap, curve, number, "as measured", 1.0)
        _draw_left(left, curve, number, "as measured", 1.0)
    draw_points(gap, points, 5.0)
    for span in spans:
        for panel in (gap, left):
            draw_span(panel, span)
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
    if least_gap is not None and not draw_limit(gap, least_gap):
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


def _draw_left(left: Axes, curve: Curve, number: int, source: str, width: float) -> None:
    style = style_of(number)
    left.plot(curve.speed, curve.interference, label=label_of(curve, source), linewidth=width, **style)
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
