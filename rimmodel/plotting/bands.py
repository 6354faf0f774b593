"""Lines against time with what is possible around them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.plotting.style import COLOURS, DASHES, INK, plain

if TYPE_CHECKING:
    from matplotlib.axes import Axes


@dataclass(frozen=True)
class Band:
    """A line against time with what is possible around it.

    Parameters
    ----------
    middle, low, high : array (time,), unit of the axis
    """

    name: str
    middle: ArrayLike
    low: ArrayLike
    high: ArrayLike


def draw_level(panel: Axes, level: float, name: str, number: int) -> None:
    """A level that is not to be passed, across the panel.

    Parameters
    ----------
    level : float, unit of the axis
    number : int
        Of its dash.
    """
    panel.axhline(level, color=INK, linewidth=1.0, linestyle=DASHES[number], label=plain(name))


def draw_band(panel: Axes, moment: ArrayLike, band: Band, number: int) -> None:
    """A line with its band; bands differ by the line that they lie around.

    Parameters
    ----------
    moment : array (time,), unit of the axis
    number : int
        Of its colour and dash.
    """
    colour, dash = COLOURS[number % len(COLOURS)], DASHES[number % len(DASHES)]
    low, high = np.asarray(band.low, dtype=float), np.asarray(band.high, dtype=float)
    panel.fill_between(np.asarray(moment), low, high, color=colour, alpha=0.22, linewidth=0)
    panel.plot(moment, band.middle, color=colour, linestyle=dash, linewidth=1.5, label=plain(band.name))
