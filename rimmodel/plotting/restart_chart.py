"""How fast a machine may be started again after it has stood."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.style import COLOURS, DASHES, FAINT, INK, legend, panels, plain

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def draw(
    time: ArrayLike, low: ArrayLike, high: ArrayLike, marks: dict[str, float], ratio: float, shown_until: float
) -> Figure:
    """Speed to which a machine may be started again against the time that it has stood.

    Parameters
    ----------
    time : array (rest,), h
    low, high : array (rest,), rpm
        Lowest float speed of the restart over the ratio that is asked for: over all that is possible.
    marks : dict of str to float, rpm
        Named speeds.
    ratio : float, -
    shown_until : float, h

    Returns
    -------
    matplotlib Figure
    """
    figure, (panel,) = panels((1.0,), height=4.0)
    stood, lower, upper = (np.asarray(values, dtype=float) for values in (time, low, high))
    inside = stood <= shown_until
    panel.fill_between(
        stood[inside], lower[inside], upper[inside], facecolor="none", edgecolor=FAINT, hatch="////", linewidth=0,
        label="not shown",
    )  # fmt: skip
    over = f"float speed / {ratio:g}" if ratio != 1 else "float speed"
    panel.plot(
        stood[inside],
        upper[inside],
        color=COLOURS[1],
        linestyle=DASHES[1],
        label=f"highest possible {over}: does not hold above",
    )
    panel.plot(
        stood[inside],
        lower[inside],
        color=COLOURS[0],
        linewidth=1.6,
        label=f"lowest possible {over}: holds below",
    )
    base, top = 0.8 * float(np.nanmin(lower[inside])), 1.12 * float(np.nanmax(upper[inside]))
    for name, value in marks.items():
        if value < top:
            base = min(base, 0.9 * value)
            panel.axhline(value, color=INK, linewidth=0.8, linestyle=(0, (1, 2)))
            panel.annotate(
                f"{plain(name)} {value:.4g}", (1.0, value), xycoords=("axes fraction", "data"), ha="right", va="bottom",
                fontsize=7.5,
            )  # fmt: skip
    panel.set_ylim(base, top)
    panel.set_xlim(0.0, float(stood[inside][-1]))
    panel.set_xlabel("time at standstill before the restart  [h]")
    panel.set_ylabel("speed of the restart  [rpm]")
    legend(panel, loc="lower right")
    return figure
