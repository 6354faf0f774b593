"""The distribution of a quantity."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.style import COLOURS, FAINT, INK, legend, panels, plain

if TYPE_CHECKING:
    from matplotlib.figure import Figure


MOST_BARS = 80


def draw(
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
        raise ValueError("draw: there is no finite value to draw")
    low, high = (np.interp(share * below[-1], below, edges) for share in (5e-5, 1 - 5e-5))
    if not high > low:
        low, high = low - 0.5 * abs(low) - 1e-9, high + 0.5 * abs(high) + 1e-9
    borders = np.linspace(low, high, MOST_BARS + 1)
    share = np.interp(borders, edges, below) / below[-1]
    return borders, np.diff(share) / np.diff(borders)
