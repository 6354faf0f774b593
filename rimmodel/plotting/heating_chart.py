"""The heating of a rim for its keys against time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.bands import Band, draw_band, draw_level
from rimmodel.plotting.style import COLOURS, DASHES, legend, panels, plain

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def draw(
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
        draw_band(warm, moment, band, number)
    draw_level(warm, highest, "highest mean of the rim", 3)
    warm.set_ylabel("mean temperature  [degC]")
    legend(warm, loc="best")
    draw_band(over, moment, difference, 0)
    draw_level(over, to_reach, "to reach before the power goes off", 1)
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
