"""The heating of a rim against time, and the clearance while its keys go in."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.duty import Band
from rimmodel.plotting.style import COLOURS, DASHES, FAINT, INK, legend, panels, plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LEGEND_ROOM = 0.35
"""Share of the height that is added above the clearances for their legend: no line runs through it."""


def heating_chart(
    time: ArrayLike,
    temperatures: Sequence[Band],
    difference: Band,
    power: Band,
    to_reach: float,
    highest: float,
) -> Figure:
    """Temperatures, rim over spider, and heater power from power on to power off.

    Parameters
    ----------
    time : array (moment,), h
    temperatures : sequence of Band
        In degC.
    difference : Band
        In K.
    power : Band
        In kW, of the step that follows each moment.
    to_reach : float, K
    highest : float, unit of the axis
        Mean rim temperature that is allowed, degC.

    Returns
    -------
    matplotlib Figure
    """
    figure, (warm, over, heaters) = panels((1.2, 1.0, 0.7), height=6.8)
    moment = np.asarray(time, dtype=float)
    for number, band in enumerate(temperatures):
        _draw(warm, moment, band, number)
    _line(warm, highest, "highest mean of the rim", 3)
    warm.set_ylabel("mean temperature  [degC]")
    legend(warm, loc="best")
    _draw(over, moment, difference, 0)
    _line(over, to_reach, "to reach before the power goes off", 1)
    over.set_ylabel("rim over spider  [K]")
    legend(over, loc="best")
    for edge, dash in ((power.low, DASHES[2]), (power.high, DASHES[2]), (power.middle, "-")):
        heaters.step(
            moment, np.asarray(edge, dtype=float), where="post", color=COLOURS[0], linestyle=dash, linewidth=1.2
        )
    heaters.plot([], [], color=COLOURS[0], label=plain(power.name))
    heaters.plot([], [], color=COLOURS[0], linestyle=DASHES[2], label="least and most of all possible")
    heaters.set_ylabel("heaters  [kW]")
    heaters.set_xlabel("time from power on  [h]")
    heaters.set_ylim(bottom=0.0)
    heaters.set_xlim(moment[0], moment[-1])
    legend(heaters, loc="best")
    return figure


def fitting_chart(
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
    _draw(play, moment, clearance, 0)
    _line(play, wanted, "wanted while a key goes in", 1)
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
        _draw(warm, moment, band, number)
    warm.set_ylabel("mean temperature  [degC]")
    warm.set_xlabel("time from power off  [min]")
    warm.set_xlim(moment[0], moment[-1])
    legend(warm, loc="best")
    return figure


def _draw(panel: Axes, moment: ArrayLike, band: Band, number: int) -> None:
    """A line with what is possible around it."""
    colour, dash = COLOURS[number % len(COLOURS)], DASHES[number % len(DASHES)]
    low, high = np.asarray(band.low, dtype=float), np.asarray(band.high, dtype=float)
    panel.fill_between(np.asarray(moment), low, high, color=colour, alpha=0.22, linewidth=0)
    panel.plot(moment, band.middle, color=colour, linestyle=dash, linewidth=1.5, label=plain(band.name))


def _line(panel: Axes, level: float, name: str, number: int) -> None:
    panel.axhline(level, color=INK, linewidth=1.0, linestyle=DASHES[number], label=plain(name))
