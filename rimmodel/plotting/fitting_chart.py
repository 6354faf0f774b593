"""The time to fit the keys after the power is off."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.bands import Band, draw_band, draw_level
from rimmodel.plotting.style import FAINT, INK, legend, panels

if TYPE_CHECKING:
    from matplotlib.figure import Figure


LEGEND_ROOM = 0.35
"""Share of the height that is added above the clearances for their legend: no line runs through it."""


def draw(
    time: ArrayLike, clearance: Band, keys: ArrayLike, own: ArrayLike, wanted: float, temperatures: Sequence[Band]
) -> Figure:
    """Clearance over the tightest key from power off, with each key as it goes in, and temperatures.

    Parameters
    ----------
    time : array (moment,), unit of time
        In minutes.
    clearance : Band
        In mm, over the tightest key; allowances are taken off its lower edge.
    keys : array (key,), unit of time
        When each is in, in minutes.
    own : array (key,), mm
        Its own least clearance then.
    wanted : float, mm
    temperatures : sequence of Band
        In degC.

    Returns
    -------
    matplotlib Figure
    """
    figure, (play, warm) = panels((1.2, 0.8), height=5.4)
    moment = np.asarray(time, dtype=float)
    draw_band(play, moment, clearance, 0)
    draw_level(play, wanted, "wanted while a key goes in", 1)
    play.axhline(0.0, color=INK, linewidth=0.9)
    play.plot(
        keys, own, linestyle="none", marker="v", markersize=5, color=INK, markerfacecolor="white",
        label="least clearance of each key, when it is in",
    )  # fmt: skip
    last = float(np.max(np.asarray(keys, dtype=float)))
    play.axvline(last, color=FAINT, linewidth=0.9, linestyle=(0, (1, 2)))
    play.annotate(
        "last key in", (last, 1.0), xycoords=("data", "axes fraction"), ha="center", va="bottom", fontsize=7.5
    )
    play.set_ylabel("clearance  [mm]")
    low, high = play.get_ylim()
    play.set_ylim(low, high + LEGEND_ROOM * (high - low))
    legend(play, loc="upper right")
    for number, band in enumerate(temperatures):
        draw_band(warm, moment, band, number)
    warm.set_ylabel("mean temperature  [degC]")
    warm.set_xlabel("time from power off  [min]")
    warm.set_xlim(moment[0], moment[-1])
    legend(warm, loc="best")
    return figure
