"""Air gap against speed alone, small enough for page one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from rimmodel.plotting.speed_curves import CLEAR, Curve, Points, Span, draw_gap, draw_limit, draw_points, draw_span
from rimmodel.plotting.style import mark_speeds, panels, plain

if TYPE_CHECKING:
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
    """The upper panel of `speed_chart.draw` alone, low enough for a first page, with speed and interval at each span.

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
        draw_gap(gap, curve, number, "drawing", 2.2)
    for number, curve in enumerate(measured_curves):
        draw_gap(gap, curve, number, "as measured", 1.0)
    draw_points(gap, points, 4.0)
    gap.set_xlim(0, None)
    for place, span in enumerate(sorted(spans, key=lambda span: span.best)):
        draw_span(gap, span)
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
    if least_gap is not None and not draw_limit(gap, least_gap):
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
