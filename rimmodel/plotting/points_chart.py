"""Speed points with their bars over what the drawing predicts and what the fit shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.knee_chart import FittedGap
from rimmodel.plotting.speed_curves import Curve
from rimmodel.plotting.style import COLOURS, DASHES, DIRECTIONS, FAINT, INK, MARKERS, legend, panels

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


BARS = 2.0
"""Standard errors that a bar reaches to either side."""


@dataclass(frozen=True)
class Points:
    """Speed points of one direction with their errors.

    Parameters
    ----------
    direction : str
        "up", "down" or "".
    speed : array (point,), rpm
    gap : array (point,), mm
    error : array (point,), mm
        Standard error; NaN where not known.
    residual : array (point,), mm
        Measured less fitted gap; NaN for points left out.
    time : array (point,), h
        NaN where not recorded.
    used : bool array (point,)
        False for points left out of the fit.
    """

    direction: str
    speed: ArrayLike
    gap: ArrayLike
    error: ArrayLike
    residual: ArrayLike
    time: ArrayLike
    used: ArrayLike


def draw(points: Sequence[Points], fitted: FittedGap | None, drawing: Curve | None, what: str) -> Figure:
    """Speed points with bars over what the drawing predicts and what the fit shows; points left out are crossed.

    Parameters
    ----------
    fitted : FittedGap or None
        With its band and the lift-off, none where the knee is NaN.
    drawing : Curve or None
        Predicted with the interference of the drawing.
    what : str
        Label of the gap, such as "mean air gap".

    Returns
    -------
    matplotlib Figure
    """
    figure, (panel,) = panels((1.0,), height=4.2)
    if drawing is not None:
        panel.plot(
            drawing.speed, drawing.gap, color=COLOURS[1], linestyle=DASHES[1], linewidth=1.6,
            label="prediction with the interference of the drawing",
        )  # fmt: skip
    if fitted is not None:
        x, gap, half = (np.asarray(values, dtype=float) for values in (fitted.speed, fitted.gap, fitted.half_width))
        if np.any(half > 0.0):
            panel.fill_between(
                x, gap - half, gap + half, color=COLOURS[5], alpha=0.4, linewidth=0, label="band of the fit"
            )
        panel.plot(x, gap, color=COLOURS[0], linewidth=1.6, label="fit")
        if np.isfinite(fitted.knee):
            panel.axvspan(
                max(fitted.low, 0.0), min(fitted.high, float(x.max())), color=FAINT, alpha=0.18, linewidth=0, zorder=0
            )
            panel.axvline(fitted.knee, color=INK, linewidth=0.8, zorder=0)
    for some in points:
        _draw_bars(panel, some)
    panel.set_xlabel("speed  [rpm]")
    panel.set_ylabel(f"{what}  [mm]")
    panel.set_xlim(0.0, None)
    legend(panel, loc="lower left")
    return figure


def _draw_bars(panel: Axes, some: Points) -> None:
    speed, gap, error = (np.asarray(values, dtype=float) for values in (some.speed, some.gap, some.error))
    used = np.asarray(some.used, dtype=bool)
    style: dict[str, Any] = {"color": INK, "markerfacecolor": "white" if some.direction == "down" else INK}
    name = DIRECTIONS[some.direction]
    label = f"{name} (bars: {BARS:g} standard errors)" if np.isfinite(error[used]).any() else name
    panel.errorbar(
        speed[used], gap[used], yerr=BARS * np.nan_to_num(error[used]), fmt=MARKERS[some.direction], markersize=4.5,
        elinewidth=0.9, capsize=2.0, label=label, zorder=4, **style,
    )  # fmt: skip
    if not used.all():
        panel.plot(
            speed[~used], gap[~used], "x", color=INK, markersize=7, markeredgewidth=1.4, zorder=5,
            label=f"{name}, left out",
        )  # fmt: skip
