"""What a fit leaves of the points, against speed or time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

import numpy as np

from rimmodel.plotting.points_chart import BARS, Points
from rimmodel.plotting.style import DIRECTIONS, FAINT, INK, MARKERS, legend, panels

if TYPE_CHECKING:
    from matplotlib.figure import Figure


Against = Literal["speed", "time"]


def draw(points: Sequence[Points], noise: float, against: Against = "speed") -> Figure:
    """What the fit leaves of each speed point, with the noise that the run shows; what warms shows against time.

    Parameters
    ----------
    noise : float, mm
        Standard deviation of one point.

    Returns
    -------
    matplotlib Figure
    """
    figure, (panel,) = panels((1.0,), height=2.8)
    panel.axhspan(
        -BARS * noise, BARS * noise, color=FAINT, alpha=0.16, linewidth=0, zorder=0,
        label=f"{BARS:g} standard deviations of the noise of a point",
    )  # fmt: skip
    panel.axhline(0.0, color=INK, linewidth=0.8)
    for some in points:
        place = some.time if against == "time" else some.speed
        x, left, error = (np.asarray(values, dtype=float) for values in (place, some.residual, some.error))
        known = np.isfinite(left) & np.isfinite(x)
        panel.errorbar(
            x[known], left[known], yerr=BARS * np.nan_to_num(error[known]), fmt=MARKERS[some.direction], color=INK,
            markerfacecolor="white" if some.direction == "down" else INK, markersize=4.5, elinewidth=0.9, capsize=2.0,
            label=DIRECTIONS[some.direction],
        )  # fmt: skip
    panel.set_xlabel("time  [h]" if against == "time" else "speed  [rpm]")
    panel.set_ylabel("point less fit\n[mm]")
    low, high = panel.get_ylim()
    panel.set_ylim(low, high + 0.4 * (high - low))  # room for the legend
    legend(panel, loc="upper left", ncols=3)
    return figure
