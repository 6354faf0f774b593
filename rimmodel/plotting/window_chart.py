"""The range of interference that each criterion allows, and the window that all leave."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rimmodel.plotting.style import COLOURS, FAINT, INK, legend, panels, plain

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Span:
    """Range of interference that one criterion allows; infinite ends are open, low above high is nowhere.

    Parameters
    ----------
    low, high : float, mm
    half_width : float, mm
        The tolerance at its confidence, taken off at each closed end.
    """

    name: str
    low: float
    high: float
    half_width: float


def draw(
    rows: Sequence[Span],
    window: tuple[float, float] | None,
    present: float,
    recommended: float | None,
    end: float,
) -> Figure:
    """One bar for each criterion from 0 to `end` (mm), the window as a band, present and recommended as lines.

    Parameters
    ----------
    rows : sequence of Span
        Top first.
    window : pair of float, mm, optional
        Sure edges; None where no window exists.
    present : float, mm
    recommended : float, mm, optional
    end : float, mm

    Returns
    -------
    matplotlib Figure
    """
    figure, (panel,) = panels((1.0,), height=1.4 + 0.36 * len(rows))
    for place, row in enumerate(rows):
        low, high = max(row.low, 0.0), min(row.high, end)
        if row.low > row.high:
            panel.annotate("not met anywhere", (0.01 * end, place), va="center", fontsize=8)
            continue
        sure_low = low + (row.half_width if np.isfinite(row.low) else 0.0)
        sure_high = high - (row.half_width if np.isfinite(row.high) and row.high <= end else 0.0)
        panel.barh(place, high - low, left=low, height=0.62, color="white", edgecolor=INK, linewidth=0.6, hatch="////")
        if sure_high > sure_low:
            panel.barh(
                place, sure_high - sure_low, left=sure_low, height=0.62, color=COLOURS[5], edgecolor=INK, linewidth=0.6
            )
        for edge, side in ((row.low, -1), (row.high, 1)):
            if 0 < edge < end:
                panel.annotate(
                    f"{edge:.2f}",
                    (edge, place),
                    (4 * side, 0),
                    textcoords="offset points",
                    ha="left" if side > 0 else "right",
                    va="center",
                    fontsize=7.5,
                    bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6, "alpha": 0.85},
                )
    if window is not None:
        low, high = max(window[0], 0.0), min(window[1], end)
        panel.axvspan(
            low,
            high,
            color=FAINT,
            alpha=0.22,
            linewidth=0,
            zorder=0,
            label="window with uncertainty deducted (hatched)",
        )
    panel.axvline(present, color=INK, linewidth=1.2, linestyle=(0, (2, 1.5)), label=f"present {present:.2f} mm")
    if recommended is not None:
        panel.axvline(recommended, color=COLOURS[1], linewidth=2.0, label=f"recommended {recommended:.2f} mm")
    panel.set_yticks(range(len(rows)), [plain(row.name) for row in rows])
    panel.set_ylim(len(rows) - 0.4, -0.6)
    panel.set_xlim(0.0, end)
    panel.set_xlabel("interference, radial, as assembled  [mm]")
    panel.grid(axis="y", visible=False)
    legend(figure, loc="outside upper center", ncols=3)
    return figure
