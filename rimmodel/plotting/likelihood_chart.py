"""How likely each float speed is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.style import COLOURS, FAINT, INK, panels

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def draw(speed: ArrayLike, rise: ArrayLike, allowed: float, interval: tuple[float, float], confidence: float) -> Figure:
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
    words = f"dashed line: the {100 * confidence:.0f} % interval is where the curve lies above it"
    panel.set_title(words, loc="left", fontsize=8.0)  # within the panel a curve may cross the words
    left, right = max(low - margin, 0.0), high + margin
    panel.axvspan(max(interval[0], left), min(interval[1], right), color=FAINT, alpha=0.18, linewidth=0)
    panel.set_xlim(left, right)
    panel.set_ylim(0.0, 1.05)
    panel.set_xlabel("lift-off in this run  [rpm]")
    panel.set_ylabel("likelihood over that\nof the best fit  [-]")
    return figure
