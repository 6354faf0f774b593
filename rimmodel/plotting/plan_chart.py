"""The steps of a proving run: expected gap, stop line, hold line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.style import COLOURS, FAINT, INK, legend, mark_speeds, panels

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Curve:
    """Steps of a plan; expected gap, its bounds, the stop line and the hold line at each.

    Parameters
    ----------
    speed : array (step,), rpm
    gap, low, high, stop, hold : array (step,), mm
    """

    speed: ArrayLike
    gap: ArrayLike
    low: ArrayLike
    high: ArrayLike
    stop: ArrayLike
    hold: ArrayLike


def draw(planned: Curve, least_gap: float, lift_off: tuple[float, float, float], marks: dict[str, float]) -> Figure:
    """Mean gap against speed for the steps of a plan.

    Parameters
    ----------
    least_gap : float, mm
        Span minimum of the mean gap.
    lift_off : triple of float, rpm
        Low, expected, high float speed.
    marks : dict of str to float, rpm
        Named speeds.

    Returns
    -------
    matplotlib Figure
    """
    figure, (panel,) = panels((1.0,), height=4.6)
    speed = np.asarray(planned.speed, dtype=float)
    panel.fill_between(
        speed, planned.low, planned.high, color=COLOURS[5], alpha=0.35, linewidth=0, label="95 % of such rotors"
    )
    panel.plot(speed, planned.gap, "-o", color=COLOURS[0], linewidth=1.6, markersize=4, label="expected mean gap")
    panel.step(
        speed,
        planned.stop,
        where="post",
        color=COLOURS[1],
        linewidth=1.8,
        linestyle=(0, (6, 2)),
        label="stop line: below it go no faster",
    )
    panel.plot(
        speed, planned.hold, color=COLOURS[2], linewidth=1.2, linestyle=(0, (1.5, 1.5)), label="hold line: find out why"
    )
    panel.axhline(least_gap, color=INK, linewidth=1.2)
    panel.annotate(
        f"least mean gap allowed: {least_gap:g} mm", (0.01, least_gap), (0, -3), ("axes fraction", "data"),
        "offset points", va="top", fontsize=8,
    )  # fmt: skip
    low, best, high = lift_off
    right = float(speed[-1])
    if low < right:
        panel.axvspan(max(low, 0.0), min(high, right), color=FAINT, alpha=0.15, linewidth=0, label="lift-off, 95 %")
    if 0 < best < right:
        panel.axvline(
            best, color=INK, linewidth=0.9, linestyle=(0, (2, 1.5)), label=f"lift-off expected {best:.0f} rpm"
        )
    mark_speeds([panel], {name: value for name, value in marks.items() if value <= right})
    panel.set_xlim(0.0, 1.02 * right)
    bottom, top = panel.get_ylim()
    panel.set_ylim(bottom - 0.08 * (top - bottom), top)
    panel.set_xlabel("speed  [rpm]")
    panel.set_ylabel("mean air gap  [mm]")
    legend(panel, loc="center left")
    return figure
