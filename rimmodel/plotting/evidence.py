"""Mean gap against speed squared: measured points, the fitted lines with their band, the interval of the knee."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.speed import Points
from rimmodel.plotting.style import COLOURS, DASHES, DIRECTIONS, FAINT, INK, MARKERS, legend, panels, plain, square

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


def knee_chart(points: Sequence[Points], fitted: FittedGap, rated: float, *, residual_panel: bool = True) -> Figure:
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


def likelihood_chart(
    speed: ArrayLike, rise: ArrayLike, allowed: float, interval: tuple[float, float], confidence: float
) -> Figure:
    """Relative likelihood of each float speed, all other unknowns adjusted to suit it best.

    Parameters
    ----------
    speed : array, rpm
    rise : array, -
        Rise of the sum of squares (in units of the noise) over the best fit.
    allowed : float, -
        Rise within which a speed belongs to the interval.
    interval : pair of float, rpm
        Open sides are infinite.
    confidence : float, -

    Returns
    -------
    matplotlib Figure
    """
    figure, (panel,) = panels((1.0,), height=2.8)
    x, likelihood = np.asarray(speed, dtype=float), np.exp(-np.asarray(rise, dtype=float) / 2)
    shown = likelihood > 1e-4
    low, high = x[shown].min(), x[shown].max()
    margin = 0.15 * (high - low) + 1.0
    panel.plot(x, likelihood, ".-", color=COLOURS[0], linewidth=1.6, markersize=4)
    panel.axhline(np.exp(-allowed / 2), color=INK, linewidth=0.9, linestyle=(0, (4, 2)))
    panel.annotate(
        f"{100 * confidence:.0f} % interval: where the curve lies above this line",
        (0.01, np.exp(-allowed / 2)),
        xycoords=("axes fraction", "data"),
        va="bottom",
        fontsize=7.5,
    )
    left, right = max(low - margin, 0.0), high + margin
    panel.axvspan(max(interval[0], left), min(interval[1], right), color=FAINT, alpha=0.18, linewidth=0)
    panel.set_xlim(left, right)
    panel.set_ylim(0.0, 1.05)
    panel.set_xlabel("lift-off in this run  [rpm]")
    panel.set_ylabel("likelihood over that\nof the best fit  [-]")
    return figure


@dataclass(frozen=True)
class OutlineCurve:
    """Deviation of the pole-face radius from its mean by angle.

    Parameters
    ----------
    name : str
        Such as a speed.
    angle : array (angle,), rad
    deviation : array (angle,), mm
        + outward.
    """

    name: str
    angle: ArrayLike
    deviation: ArrayLike


@dataclass(frozen=True)
class RoundnessCurve:
    """Measures of the rotor's shape against speed.

    Parameters
    ----------
    direction : str
        "up", "down" or "".
    speed : array (speed,), rpm
    eccentricity, ovality, circularity : array (speed,), mm
    """

    direction: str
    speed: ArrayLike
    eccentricity: ArrayLike
    ovality: ArrayLike
    circularity: ArrayLike


def shape_chart(curves: Sequence[OutlineCurve], radius: float) -> Figure:
    """Outlines of the rotor about the axis of rotation, deviations exaggerated by a factor that the figure states.

    Parameters
    ----------
    curves : sequence of OutlineCurve
        One per speed; angles in the turning frame, in the direction of rotation.
    radius : float, m
        Mean radius of the pole faces.

    Returns
    -------
    matplotlib Figure
    """
    largest = max(float(np.nanmax(np.abs(np.asarray(curve.deviation, dtype=float)))) for curve in curves)
    # the largest deviation takes a quarter of the drawn radius; the factor is rounded to one digit
    factor = 0.25 * 1e3 * radius / max(largest, 1e-9)
    factor = float(f"{factor:.0e}")
    figure, panel = square(polar=True)
    for number, curve in enumerate(curves):
        angle, deviation = np.asarray(curve.angle, dtype=float), np.asarray(curve.deviation, dtype=float)
        order = np.argsort(angle)
        closed = np.append(order, order[0])
        panel.plot(
            np.append(angle[order], angle[order[0]] + 2 * np.pi),
            radius + factor * deviation[closed] / 1e3,
            color=COLOURS[number % len(COLOURS)],
            linestyle=DASHES[number % len(DASHES)],
            linewidth=1.6,
            label=plain(curve.name),
        )
    turn = np.linspace(0.0, 2 * np.pi, 361)
    panel.plot(turn, np.full_like(turn, radius), color=INK, linewidth=0.7, label="mean radius")
    panel.set_ylim(0.0, 1.35 * radius)
    panel.set_yticks([])
    panel.set_xlabel(f"deviations drawn {factor:,.0f} times as large;\nangle in the turning frame, with rotation")
    legend(panel, loc="upper left", bbox_to_anchor=(1.04, 1.0))
    return figure


def roundness_chart(curves: Sequence[RoundnessCurve], knee: float = float("nan")) -> Figure:
    """Eccentricity, ovality and circularity of the rotor against speed.

    Parameters
    ----------
    knee : float, rpm
        A float speed, marked where given.
    """
    figure, axes = panels((1.0, 1.0, 1.0), height=5.4)
    rows = (
        ("eccentricity", "eccentricity\n(first harmonic)  [mm]"),
        ("ovality", "ovality (second\nharmonic)  [mm]"),
        ("circularity", "circularity, ISO 12181\nleast squares  [mm]"),
    )
    for panel, (name, label) in zip(axes, rows, strict=True):
        for curve in curves:
            panel.plot(
                curve.speed,
                getattr(curve, name),
                MARKERS[curve.direction],
                color=INK,
                markerfacecolor="white" if curve.direction == "down" else INK,
                markersize=5,
                label=DIRECTIONS[curve.direction],
            )
        if np.isfinite(knee):
            panel.axvline(knee, color=INK, linewidth=0.8, label="float speed from the mean gap")
        panel.set_ylabel(label)
        panel.set_ylim(0.0, None)
    axes[-1].set_xlabel("speed  [rpm]")
    axes[-1].set_xlim(0.0, None)
    legend(axes[0], loc="upper left")
    return figure


SHAPES = ("o", "s", "D", "^", "v", "P")


@dataclass(frozen=True)
class RecordCurve:
    """One recording: its gap, its float speed, and the interval of that.

    Parameters
    ----------
    speed : array (point,), rpm
    gap_change : array (point,), mm
        Of the mean gap from its slowest point.
    float_speed, low, high : float, rpm
    """

    name: str
    speed: ArrayLike
    gap_change: ArrayLike
    float_speed: float
    low: float
    high: float


def change_chart(curves: Sequence[RecordCurve], rated: float) -> Figure:
    """Change of mean gap against (n / n_rated)^2 for each recording, and below it the float speeds with intervals.

    Parameters
    ----------
    rated : float, rpm
    """
    figure, (gap, speeds) = panels((3.0, 0.5 + 0.35 * len(curves)), height=4.6)
    right = max(float(np.max(np.asarray(curve.speed))) for curve in curves)
    for number, curve in enumerate(curves):
        colour, mark = COLOURS[number % len(COLOURS)], SHAPES[number % len(SHAPES)]
        order = np.argsort(np.asarray(curve.speed), kind="stable")
        gap.plot(
            (np.asarray(curve.speed)[order] / rated) ** 2,
            np.asarray(curve.gap_change)[order],
            marker=mark,
            linestyle=DASHES[number % len(DASHES)],
            linewidth=0.9,
            markersize=4.5,
            color=colour,
            label=plain(curve.name),
        )
        low, high = max(curve.low, 0.0), min(curve.high, 1.05 * right)
        speeds.plot([(low / rated) ** 2, (high / rated) ** 2], [number, number], color=colour, linewidth=5, alpha=0.6)
        if np.isfinite(curve.float_speed):
            speeds.plot([(curve.float_speed / rated) ** 2], [number], mark, color=INK, markersize=6)
            speeds.annotate(
                f"{curve.float_speed:.1f} rpm",
                ((curve.float_speed / rated) ** 2, number),
                textcoords="offset points",
                xytext=(0, 6),
                ha="center",
                fontsize=8,
            )
    gap.set_ylabel("change of mean gap\nfrom slowest speed  [mm]")
    legend(gap, loc="lower left")
    speeds.set_yticks(range(len(curves)), [plain(curve.name) for curve in curves])
    speeds.set_ylim(len(curves) - 0.4, -0.7)
    speeds.set_xlabel("(speed / rated speed)²  [-];   bars: interval of the float speed")
    return figure
