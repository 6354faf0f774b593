"""How mean and standard deviation settle with the number of samples."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.style import COLOURS, INK, legend, panels, plain

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def draw(samples: ArrayLike, mean: ArrayLike, standard_deviation: ArrayLike, quantity: str) -> Figure:
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
