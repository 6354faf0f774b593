"""Which two thermometers would decide what the ranges of heat transfer leave open.

Each draw of the heat exchange is a machine that reads its own temperatures. Over the draws the least float speed is set
against what thermometers would read at one moment; the two that leave least of its spread unexplained are named.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.behaviour.heat.network import HeatNetwork

READING = 1.0
"""Standard uncertainty of a thermometer on a rotor, K (common practice, no source)."""


@dataclass(frozen=True)
class Thermometers:
    """Two places and what is left of a spread once they are read.

    Attributes
    ----------
    before, after : float, SI
        Standard deviation of the quantity over the draws, and what the two readings leave of it.
    """

    places: tuple[str, ...]
    before: float
    after: float


def thermometer_places(network: HeatNetwork) -> dict[str, int]:
    """Node by the words for its place."""
    rim, spider = network.rim, network.spider
    found = {"rim bore": rim.start, "rim outside": rim.stop - 1, "stator core": network.stator}
    size = spider.stop - spider.start
    if size > 1:
        found |= {
            "spider at the hub": spider.start,
            "spider at half its radial length": spider.start + size // 2,
            "spider at the rim": spider.stop - 1,
        }
    else:
        found |= {"spider": spider.start}
    return found


def deciding_pair(quantity: Floats, state: Floats, network: HeatNetwork) -> Thermometers | None:
    """The two places whose readings leave least of the spread of a quantity, by least squares over the draws.

    A reading has a standard uncertainty of `READING`, which keeps two places of nearly one temperature from being
    taken for two pieces of knowledge (ridge regression; Hastie, Tibshirani & Friedman, The Elements of Statistical
    Learning, ch. 3, from memory).

    Parameters
    ----------
    quantity : array (draw,), SI
    state : array (draw, coordinate), SI
        At the moment of the reading.

    Returns
    -------
    Thermometers or None
        None where the quantity does not vary, or is not finite.
    """
    if len(quantity) < 8 or not np.isfinite(quantity).all() or np.ptp(quantity) == 0:
        return None
    centred = quantity - quantity.mean()
    before = float(np.sqrt(np.mean(centred**2)))
    best: Thermometers | None = None
    for pair in combinations(thermometer_places(network).items(), 2):
        read = np.stack([state @ network.basis[node] for _, node in pair], axis=1)
        read = read - read.mean(axis=0)
        spread = read.T @ read / len(read)
        slope = np.linalg.solve(spread + READING**2 * np.eye(2), read.T @ centred / len(read))
        left = centred - read @ slope
        after = float(np.sqrt(np.mean(left**2) + READING**2 * np.sum(slope**2)))
        if best is None or after < best.after:
            best = Thermometers(tuple(name for name, _ in pair), before, after)
    return best
