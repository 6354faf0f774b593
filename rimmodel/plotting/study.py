"""How far each uncertain input moves a quantity."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.style import COLOURS, FAINT, INK, legend, panels, plain

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def tornado_chart(
    names: Sequence[str], low: Sequence[float], high: Sequence[float], centre: float, quantity: str
) -> Figure:
    """A quantity with one input after the other a standard uncertainty lower and higher, in the order given.

    Parameters
    ----------
    low, high : sequence of float, unit of the axis
        The quantity with that input lower and higher.
    centre : float, unit of the axis
        The quantity with all inputs as stated.
    quantity : str
        Label of the axis, with its unit.

    Returns
    -------
    matplotlib Figure
    """
    figure, (panel,) = panels((1.0,), height=1.3 + 0.32 * len(names))
    places = range(len(names))
    ends = (
        (low, "standard uncertainty lower", COLOURS[0], ""),
        (high, "standard uncertainty higher", COLOURS[1], "////"),
    )
    for values, label, colour, hatch in ends:
        widths = [value - centre for value in values]
        panel.barh(
            places,
            widths,
            left=centre,
            height=0.6,
            color=colour,
            edgecolor=INK,
            linewidth=0.6,
            hatch=hatch,
            label=label,
        )
    panel.set_yticks(list(places), [plain(name) for name in names])
    panel.invert_yaxis()
    panel.axvline(centre, color=INK, linewidth=0.8)
    panel.margins(x=0.06)
    panel.set_xlabel(plain(quantity))
    panel.grid(axis="y", visible=False)
    legend(panel, loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=2)
    return figure


MOST_BARS = 80


def distribution_chart(
    edges: ArrayLike,
    counts: ArrayLike,
    interval: tuple[float, float],
    quantity: str,
    *,
    normal: tuple[float, float] | None = None,
    marks: Mapping[str, float] | None = None,
) -> Figure:
    """Histogram of a quantity with its coverage interval, the linear estimate, and the bounds asked of it.

    Parameters
    ----------
    edges : array (bin + 1,), unit of the axis
    counts : array (bin,), -
    interval : pair of float, unit of the axis
        Coverage interval, shaded.
    quantity : str
        Label of the axis, with its unit.
    normal : pair of float, unit of the axis, optional
        Value and standard uncertainty of the linear estimate, drawn as its normal curve.
    marks : mapping of str to float, unit of the axis, optional
        Named values, such as the bound of a requirement.

    Returns
    -------
    matplotlib Figure
    """
    borders, heights = _density(np.asarray(edges, dtype=float), np.asarray(counts, dtype=float))
    figure, (panel,) = panels((1.0,), height=3.2)
    panel.stairs(heights, borders, fill=True, color=COLOURS[5], alpha=0.55)
    panel.stairs(heights, borders, color=COLOURS[0], linewidth=1.0, label="sampled")
    if normal is not None:
        value, spread = normal
        x = np.linspace(borders[0], borders[-1], 400)
        curve = np.exp(-0.5 * ((x - value) / spread) ** 2) / (spread * np.sqrt(2 * np.pi))
        panel.plot(x, curve, color=COLOURS[1], linestyle=(0, (6, 2)), linewidth=1.4, label="linear estimate, normal")
    if np.isfinite(interval).all():
        panel.axvspan(*interval, color=FAINT, alpha=0.14, linewidth=0, label="95 % of all", zorder=0)
    panel.set_ylim(0.0, 1.12 * float(heights.max()))
    for name, value in (marks or {}).items():
        panel.axvline(value, color=FAINT, linewidth=0.9, linestyle=(0, (1, 2)))
        words = f"{plain(name)}\n{value:.4g}"
        panel.annotate(words, (value, 1.0), xycoords=("data", "axes fraction"), ha="center", va="bottom", fontsize=7.5)
    panel.set_xlabel(plain(quantity))
    panel.set_ylabel("share per unit of the axis", color=INK)
    legend(panel, loc="best")
    return figure


def _density(edges: np.ndarray, counts: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Borders and heights of at most about eighty bars over where all but a ten-thousandth lie."""
    below = np.concatenate([[0.0], np.cumsum(counts)])
    if not below[-1] > 0:
        raise ValueError("distribution_chart: there is no finite value to draw")
    low, high = (np.interp(share * below[-1], below, edges) for share in (5e-5, 1 - 5e-5))
    if not high > low:
        low, high = low - 0.5 * abs(low) - 1e-9, high + 0.5 * abs(high) + 1e-9
    borders = np.linspace(low, high, MOST_BARS + 1)
    share = np.interp(borders, edges, below) / below[-1]
    return borders, np.diff(share) / np.diff(borders)


def driver_chart(names: Sequence[str], changes: Sequence[float]) -> Figure:
    """Change of float speed in percent for each named change of an input, in the order given (top first).

    Parameters
    ----------
    changes : sequence of float, %
    """
    figure, (panel,) = panels((1.0,), height=0.9 + 0.32 * len(names))
    places = list(range(len(names)))
    bars = panel.barh(places, changes, height=0.62, color=COLOURS[0], edgecolor=INK, linewidth=0.6)
    for bar, change in zip(bars, changes, strict=True):
        panel.annotate(
            f"{change:+.1f} %",
            (change, bar.get_y() + bar.get_height() / 2),
            textcoords="offset points",
            xytext=(4 if change >= 0 else -4, 0),
            ha="left" if change >= 0 else "right",
            va="center",
            fontsize=8,
        )
    panel.set_yticks(places, [plain(name) for name in names])
    panel.invert_yaxis()
    panel.axvline(0.0, color=INK, linewidth=0.8)
    panel.margins(x=0.18)
    panel.set_xlabel("change of float speed  [%]")
    panel.grid(axis="y", visible=False)
    return figure


def convergence_chart(samples: ArrayLike, mean: ArrayLike, standard_deviation: ArrayLike, quantity: str) -> Figure:
    """Mean and standard deviation over the number of samples, with the 95 % band of independent samples.

    Parameters
    ----------
    samples : array (step,), -
    mean, standard_deviation : array (step,), unit of the axis
    quantity : str
        Label of the axis, with its unit.

    Returns
    -------
    matplotlib Figure
    """
    count, centre, spread = (np.asarray(values, dtype=float) for values in (samples, mean, standard_deviation))
    figure, (upper, lower) = panels((1.0, 1.0), height=4.2)
    rows = (
        (upper, centre, 1.96 * spread / np.sqrt(count), f"mean\n{plain(quantity)}", COLOURS[0], "o"),
        (lower, spread, 1.96 * spread / np.sqrt(2 * count), f"standard deviation\n{plain(quantity)}", COLOURS[1], "s"),
    )
    for panel, values, half, label, colour, marker in rows:
        panel.fill_between(
            count, values[-1] - half, values[-1] + half, color=colour, alpha=0.18, linewidth=0,
            label="95 % of independent samples, about the last",
        )  # fmt: skip
        if len(count) == 1:  # one step is no course: show how far the estimate is sure instead
            panel.errorbar(count, values, yerr=half, fmt="none", ecolor=colour, capsize=5, elinewidth=1.3)
        panel.plot(count, values, color=colour, marker=marker, markersize=4, linewidth=1.3)
        panel.axhline(values[-1], color=INK, linewidth=0.7, linestyle=(0, (2, 2)))
        panel.set_ylabel(label)
        panel.ticklabel_format(axis="y", useOffset=False)
    lower.set_xscale("log")
    lower.set_xlabel("samples  [-]")
    if len(count) == 1:
        lower.set_xticks([float(count[0])], [f"{count[0]:,.0f}"])
        lower.set_xticks([], minor=True)
        lower.set_xlim(0.5 * float(count[0]), 2.0 * float(count[0]))
        lower.set_xlabel("samples  [-];   one block, so nothing is seen to settle: run more to see it")
    legend(upper, loc="upper right")
    return figure
