"""Which two thermometers would decide what the ranges of heat transfer leave open.

Each draw of the heat exchange is a machine that reads its own temperatures. Over the draws the least float speed is set
against what thermometers would read at one moment; the two that leave least of its spread unexplained are named.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.behaviour.heat.network import HeatNetwork

READING = 1.0
"""Standard uncertainty of a thermometer on a rotor, K (common practice, no source)."""

SURE = 2.0
"""Standard uncertainties by which a quantity must lie beside what is asked, for readings to decide."""


@dataclass(frozen=True)
class Thermometers:
    """Two places and what is left of a spread once they are read.

    Attributes
    ----------
    before, after : float, SI
        Standard deviation of the quantity over the draws, and what the two readings leave of it.
    decided : float, -
        Share of the draws in which the two readings would decide; NaN where that was not asked.
    """

    places: tuple[str, ...]
    before: float
    after: float
    decided: float = float("nan")


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
    best: Thermometers | None = None
    for pair in combinations(thermometer_places(network), 2):
        after = _from_readings(quantity, _read(pair, state, network))[1]
        if best is None or after < best.after:
            best = Thermometers(pair, float(quantity.std()), after)
    return best


def _read(pair: tuple[str, ...], state: Floats, network: HeatNetwork) -> Floats:
    """What thermometers would read (draw, place), K."""
    nodes = thermometer_places(network)
    return np.stack([state @ network.basis[nodes[name]] for name in pair], axis=1)


def _from_readings(quantity: Floats, read: Floats) -> tuple[Floats, float]:
    """The quantity (draw,) as expected from readings, and the standard uncertainty that they leave."""
    centred, apart = quantity - quantity.mean(), read - read.mean(axis=0)
    spread = apart.T @ apart / len(read)
    slope = np.linalg.solve(spread + READING**2 * np.eye(read.shape[1]), apart.T @ centred / len(read))
    left = centred - apart @ slope
    return quantity - left, float(np.sqrt(np.mean(left**2) + READING**2 * np.sum(slope**2)))


def decided_share(pair: Thermometers, quantity: Floats, asked: float, state: Floats, network: HeatNetwork) -> float:
    """Share of the draws in which two readings would decide whether a quantity reaches what is asked.

    They decide where, for every fit, the quantity that they leave lies on one side by `SURE` standard uncertainties.

    Parameters
    ----------
    quantity : array (fit, draw), SI
    asked : float, SI
    state : array (draw, coordinate), SI
        At the moment of the reading.

    Returns
    -------
    float, -

    Source: least squares as in `deciding_pair`. What lies above all that is possible is decided in every draw:

    >>> import rimmodel as rm
    >>> from rimmodel.behaviour.heat.run import run_history
    >>> case = rm.example_case()
    >>> found = run_history(case, case.histories[0], 40)
    >>> state, places = found.course.heat.state[:, -1], ("rim bore", "stator core")
    >>> pair, speed = Thermometers(places, 1.0, 0.5), found.course.float_speed[:, -1]
    >>> decided_share(pair, speed[np.newaxis], 100.0, state, found.model.network)
    1.0
    """
    read = _read(pair.places, state, network)
    found = [_from_readings(row, read) for row in quantity]
    low = np.min([expected - SURE * after for expected, after in found], axis=0)
    high = np.max([expected + SURE * after for expected, after in found], axis=0)
    return float(np.mean((low >= asked) | (high < asked)))


def deciding_thermometers(
    quantity: Floats, state: Floats, network: HeatNetwork, asked: float | None
) -> Thermometers | None:
    """`deciding_pair` of the first fit, with its `decided_share` over all fits where something is asked; by definition.

    Parameters
    ----------
    quantity : array (fit, draw), SI
    state : array (draw, coordinate), SI
        At the moment of the reading.
    asked : float or None, SI

    Returns
    -------
    Thermometers or None

    What never varies is decided by no pair:

    >>> import rimmodel as rm
    >>> from rimmodel.behaviour.heat.run import run_history
    >>> case = rm.example_case()
    >>> found = run_history(case, case.histories[0], 40)
    >>> state = found.course.heat.state[:, -1]
    >>> deciding_thermometers(np.ones((1, len(state))), state, found.model.network, 1.0) is None
    True
    """
    pair = deciding_pair(quantity[0], state, network)
    if pair is None or asked is None or not np.isfinite(quantity).all():
        return pair
    return replace(pair, decided=decided_share(pair, quantity, float(asked), state, network))
