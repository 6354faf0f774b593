"""Figures of a fit: speed points with their errors, what the fit leaves, planes and sensors beside each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.evidence import FittedGap
from rimmodel.plotting.speed import Curve, Span
from rimmodel.plotting.style import COLOURS, DASHES, DIRECTIONS, FAINT, INK, MARKERS, legend, panels, plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

BARS = 2.0
"""Standard errors that a bar reaches to either side."""

FEW = 4
"""Parts up to which curves share a panel and can still be followed."""

SHAPES = ("o", "s", "D", "^", "v", "P", "X", "<", ">", "*")


@dataclass(frozen=True)
class ErrorPoints:
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


def points_chart(points: Sequence[ErrorPoints], fitted: FittedGap | None, drawing: Curve | None, what: str) -> Figure:
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


def _draw_bars(panel: Axes, some: ErrorPoints) -> None:
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


Against = Literal["speed", "time"]


def residual_chart(points: Sequence[ErrorPoints], noise: float, against: Against = "speed") -> Figure:
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


@dataclass(frozen=True)
class PartCurve:
    """Gap of one plane or sensor.

    Parameters
    ----------
    speed : array (point,), rpm
    change : array (point,), mm
        Of its gap from the slowest speed.
    apart : array (point,), mm
        Its gap less the mean of all, from the slowest speed.
    left_out : bool
        Does not enter the mean.
    """

    name: str
    speed: ArrayLike
    change: ArrayLike
    apart: ArrayLike
    left_out: bool = False


def parts_chart(curves: Sequence[PartCurve], knee: float) -> Figure:
    """Change of gap of a few planes and how each goes apart from the mean of all; of many sensors the second alone.

    Parameters
    ----------
    knee : float, rpm
        Lift-off in the mean; not finite where there is none.

    Returns
    -------
    matplotlib Figure
    """
    if len(curves) > FEW:
        return _stacked(curves, knee)
    figure, (whole, apart) = panels((1.6, 1.6), height=5.0)
    for number, curve in enumerate(curves):
        style: dict[str, Any] = {
            "marker": SHAPES[number % len(SHAPES)],
            "markersize": 4.0,
            "linestyle": DASHES[number % len(DASHES)],
            "linewidth": 1.1,
            "color": COLOURS[number % len(COLOURS)],
            "label": f"{plain(curve.name)}{', left out' if curve.left_out else ''}",
        }
        whole.plot(curve.speed, curve.change, **style)
        apart.plot(curve.speed, curve.apart, **style)
    apart.axhline(0.0, color=INK, linewidth=0.8)
    whole.set_ylabel("change of gap from\nthe slowest speed  [mm]")
    apart.set_ylabel("that less the mean\nof all  [mm]")
    _mark_knee([whole, apart], knee)
    legend(whole, loc="lower left")
    return figure


def _stacked(curves: Sequence[PartCurve], knee: float) -> Figure:
    """One part above the other."""
    figure, (panel,) = panels((1.0,), height=1.6 + 0.3 * len(curves))
    sizes = [np.nanstd(np.asarray(curve.apart, dtype=float)) for curve in curves if not curve.left_out]
    step = float(f"{max(4.0 * float(np.median(sizes)), 1e-3):.0e}") if sizes else 1.0
    for row, curve in enumerate(curves):
        drawn = np.clip(np.asarray(curve.apart, dtype=float) / step, -1.5, 1.5)
        grey = curve.left_out
        panel.axhline(-row, color=FAINT, linewidth=0.4, alpha=0.6)
        panel.plot(
            curve.speed, drawn - row, marker="x" if grey else "o", markersize=3.5, linewidth=0.9,
            linestyle=DASHES[1] if grey else "-", color=FAINT if grey else COLOURS[0],
        )  # fmt: skip
    names = [f"{plain(curve.name)}{chr(10) + 'left out' if curve.left_out else ''}" for curve in curves]
    panel.set_yticks([-row for row in range(len(curves))], names)
    panel.set_ylim(-len(curves) + 0.1, 0.9)
    panel.set_ylabel(f"gap less the mean of all, from the slowest speed\n(rows are {step:g} mm apart)")
    _mark_knee([panel], knee)
    return figure


def _mark_knee(axes: Sequence[Axes], knee: float) -> None:
    known = np.isfinite(knee)
    for panel in axes:
        if known:
            panel.axvline(knee, color=INK, linewidth=0.8)
        panel.set_xlim(0.0, None)
    axes[-1].set_xlabel(f"speed  [rpm];   line: lift-off in the mean, {knee:.1f} rpm" if known else "speed  [rpm]")


def spread_chart(rows: Sequence[Span], common: float, confidence: float) -> Figure:
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
