"""Knees of planes and sensors side by side."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from rimmodel.plotting.speed_curves import Span
from rimmodel.plotting.style import COLOURS, INK, panels, plain

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def draw(rows: Sequence[Span], common: float, confidence: float) -> Figure:
    """Differences of lift-off between planes and sensors.

    Parameters
    ----------
    rows : sequence of Span
        Lift-off of each less that of the others; open ends are not finite.
    common : float, rpm
        Lift-off in the mean of all.
    confidence : float, -
        Of the bars.

    Returns
    -------
    matplotlib Figure
    """
    figure, (panel,) = panels((1.0,), height=1.5 + 0.24 * len(rows))
    ends = [value for row in rows for value in (row.best, row.low, row.high) if np.isfinite(value)]
    reach = 1.15 * max(abs(value) for value in ends)
    for place, row in enumerate(rows):
        low, high = max(row.low, -reach), min(row.high, reach)
        panel.plot([low, high], [place, place], color=COLOURS[0], linewidth=3.5, alpha=0.55, solid_capstyle="butt")
        panel.plot([row.best], [place], "o", color=INK, markersize=4.5)
        for end, mark, open_side in ((low, "<", row.low < -reach), (high, ">", row.high > reach)):
            if open_side:
                panel.plot([end], [place], mark, color=INK, markersize=5, clip_on=False)
    panel.axvline(0.0, color=INK, linewidth=0.8)
    panel.set_yticks(range(len(rows)), [plain(row.name) for row in rows])
    panel.set_ylim(len(rows) - 0.4, -0.6)
    panel.set_xlim(-reach, reach)
    panel.set_xlabel(
        f"lift-off less that of the others  [rpm];   lift-off in the mean: {common:.1f} rpm\n"
        f"bars: {100 * confidence:.0f} % intervals, open at an arrow"
    )
    return figure
