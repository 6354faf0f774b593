"""The speed at which each height of a rim lifts off."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.style import COLOURS, DASHES, FAINT, INK, legend, panels, plain

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def draw(height: ArrayLike, earliest: ArrayLike, latest: ArrayLike, mean: float, speeds: dict[str, float]) -> Figure:
    """Speed at which each height of the rim lifts off in run-up, with its band and the float speed of the mean.

    Parameters
    ----------
    height : array (slice,), m
        Above the lower end of the rim.
    earliest, latest : array (slice,), rpm
        Infinite where it does not lift off.
    mean : float, rpm
        Float speed of the mean.
    speeds : dict of str to float, rpm
        Named speeds.

    Returns
    -------
    matplotlib Figure
    """
    figure, (panel,) = panels((1.0,), height=4.4)
    at = np.asarray(height, dtype=float)
    low, high = (
        np.where(np.isfinite(ends), ends, np.nan) for ends in (np.asarray(earliest, float), np.asarray(latest, float))
    )
    panel.fill_between(
        at, low, high, facecolor="#E4E4E4", edgecolor=FAINT, linewidth=0.6, label="stack and spider not known"
    )
    panel.plot(at, low, color=INK, linewidth=1.8, label="lifts off, earliest")
    panel.plot(at, high, color=INK, linewidth=1.2, linestyle=DASHES[1], label="lifts off, latest")
    if np.isfinite(mean):
        panel.axhline(mean, color=COLOURS[0], linewidth=1.4, linestyle=DASHES[3], label="float speed of the mean")
    for name, speed in speeds.items():
        panel.axhline(speed, color=FAINT, linewidth=0.8, linestyle=(0, (1, 2)), zorder=1)
        panel.annotate(
            plain(name), (0.005, speed), (0, 2), ("axes fraction", "data"), "offset points", fontsize=7.5, color=INK
        )
    panel.set_xlabel("height above the lower end of the rim  [m]")
    panel.set_ylabel("speed  [rpm]")
    panel.margins(x=0.01)
    legend(figure, loc="outside upper center", ncols=2)
    return figure
