"""Mean gap against speed squared: measured points, the fitted lines with their band, the interval of the knee."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.speed_curves import Points
from rimmodel.plotting.style import COLOURS, DIRECTIONS, FAINT, INK, MARKERS, legend, panels, plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class FittedGap:
    """Fitted gap with the half-width of its band, and the knee with its interval; NaN: no knee found.

    Parameters
    ----------
    speed : array (speed,), rpm
    gap, half_width : array (speed,), mm
    knee, low, high : float, rpm
    """

    speed: ArrayLike
    gap: ArrayLike
    half_width: ArrayLike
    knee: float
    low: float
    high: float


def draw(points: Sequence[Points], fitted: FittedGap, rated: float, *, residual_panel: bool = True) -> Figure:
    """Mean gap against (n / n_rated)^2, in which the gap of a seated and of a floating rim is a straight line.

    Parameters
    ----------
    points : sequence of Points
        Measured, one per direction; speeds in rpm, gaps in mm.
    rated : float, rpm
        Rated speed.
    residual_panel : bool
        Add a panel with what is left between points and fit, which shows what no line explains.

    Returns
    -------
    matplotlib Figure
    """
    figure, axes = panels((3.0, 1.0), height=4.8) if residual_panel else panels((1.0,), height=3.6)
    speed, gap, half = (np.asarray(values, dtype=float) for values in (fitted.speed, fitted.gap, fitted.half_width))
    for some in points:
        place = (np.asarray(some.speed, dtype=float) / rated) ** 2
        fill = "white" if some.direction == "down" else INK
        style: dict[str, Any] = {"color": INK, "markerfacecolor": fill, "markersize": 5}
        axes[0].plot(
            place,
            some.gap,
            MARKERS[some.direction],
            label=f"{plain(some.name)}, {DIRECTIONS[some.direction]}",
            zorder=4,
            **style,
        )
        if residual_panel:
            left = np.asarray(some.gap, dtype=float) - np.interp(np.asarray(some.speed, dtype=float), speed, gap)
            axes[1].plot(place, left, MARKERS[some.direction], zorder=4, **style)
    _draw_fit(axes, fitted, (speed / rated) ** 2, gap, half, rated)
    if residual_panel:
        axes[1].axhline(0.0, color=INK, linewidth=0.8)
        axes[1].set_ylabel("point less fit\n[mm]")
    axes[-1].set_xlabel("(speed / rated speed)²  [-]")
    axes[0].set_ylabel("mean air gap  [mm]")
    legend(axes[0], loc="lower left")
    return figure


def _draw_fit(
    axes: list[Axes], fitted: FittedGap, place: np.ndarray, gap: np.ndarray, half: np.ndarray, rated: float
) -> None:
    panel, knee = axes[0], (fitted.knee / rated) ** 2
    panel.fill_between(
        place, gap - half, gap + half, color=COLOURS[5], alpha=0.45, linewidth=0, label="band of the fit"
    )
    if not np.isfinite(knee):
        panel.plot(place, gap, color=COLOURS[0], linewidth=1.8, label="fit, no knee found")
        return
    for chosen, name, colour, dash in (
        (place <= knee, "fit, seated", COLOURS[0], "-"),
        (place >= knee, "fit, floating", COLOURS[1], (0, (6, 2))),
    ):
        panel.plot(place[chosen], gap[chosen], color=colour, linestyle=dash, linewidth=1.8, label=name)
    high = min((fitted.high / rated) ** 2, float(place.max()))
    for each in axes:
        each.axvspan((fitted.low / rated) ** 2, high, color=FAINT, alpha=0.18, linewidth=0)
        each.axvline(knee, color=INK, linewidth=0.8)
    panel.annotate(
        f" {fitted.knee:.1f} rpm\n ({fitted.low:.1f} to {fitted.high:.1f},\n noise of the run alone)",
        (knee, 0.99),
        xycoords=("data", "axes fraction"),
        va="top",
        fontsize=8,
    )
