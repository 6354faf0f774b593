"""What warms the machine: losses and air that hold it at the temperatures of its steady condition, solved for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.heat.network import HeatNetwork, Values, exchange
from rimmodel.elastic.heat_steps import steady
from rimmodel.rotor import Condition
from rimmodel.rotor.thermal import Thermal


@dataclass(frozen=True)
class Losses:
    """What warms the machine at rated load.

    Attributes
    ----------
    rim_loss, pole_loss, stator_loss : array (draw,), W
    spider_air_rise : array (draw,), K
        Of the air at the spider over the air that enters.
    steady : array (draw, coordinate), SI
        Coordinates of the temperatures in which it comes to rest.
    """

    rim_loss: Floats
    pole_loss: Floats
    stator_loss: Floats
    spider_air_rise: Floats
    steady: Floats

    def source(self, network: HeatNetwork, level: float | Floats) -> Floats:
        """Heat put into the nodes (draw, node) at a share of the rated losses, W."""
        put = self.rim_loss[..., np.newaxis] * network.node(network.rim_outside)
        put = put + self.stator_loss[..., np.newaxis] * network.node(network.stator)
        if network.pole is not None:
            put = put + self.pole_loss[..., np.newaxis] * network.node(network.pole)
        return floats(put * floats(level)[..., np.newaxis])


def steady_losses(
    network: HeatNetwork, matrix: Floats, films: Values, values: Values, thermal: Thermal, condition: Condition
) -> Losses:
    """Losses and air that hold the rated machine at the mean temperatures of its steady condition.

    The temperatures are linear in the losses and in the rise of the air at the spider; as many means are asked for as
    there are unknowns, so one small linear system per draw gives them. Derived here.

    Parameters
    ----------
    matrix : array (draw, coordinate, coordinate), SI
        Conduction and exchange at rated speed, 1/s.
    films, values : mapping of str to array (draw,), SI

    Returns
    -------
    Losses
    """
    rows, targets = [0, 1, 2], [condition.rim_temperature, condition.spider_temperature, condition.stator_temperature]
    spider = floats(films["spider"])[..., np.newaxis] * network.spider_surface
    drives = [network.node(network.rim_outside), spider, network.node(network.stator)]
    if network.pole is not None and condition.pole_temperature is not None:
        rows, targets = [*rows, 3], [*targets, condition.pole_temperature]
        drives.append(network.node(network.pole))
    bore, outer = (floats(films[name])[..., np.newaxis] for name in ("bore", "outer"))
    rise = floats(values["air_rise"])[..., np.newaxis]
    at_rim = rise * (bore * network.bore_surface + outer * network.outer_surface)
    entering = exchange(network, films) * float(thermal.air) + at_rim
    rest = steady(matrix, entering @ network.basis)
    answers = np.stack(
        [steady(matrix, np.broadcast_to(one @ network.basis, rest.shape)) for one in drives], axis=-1
    )  # (draw, coordinate, unknown)
    means = network.means[rows] @ network.basis
    lacking = floats([float(np.asarray(target)) for target in targets]) - rest @ means.T
    found = np.linalg.solve(means @ answers, lacking[..., np.newaxis])[..., 0]
    pole = found[..., 3] if len(rows) > 3 else np.zeros_like(found[..., 0])
    settled = rest + (answers @ found[..., np.newaxis])[..., 0]
    return Losses(*(floats(part) for part in (found[..., 0], pole, found[..., 2], found[..., 1], settled)))


def impossible(network: HeatNetwork, found: Losses, condition: Condition, air: float) -> dict[str, NDArray[np.bool_]]:
    """Which draws cannot be, by the reason: a loss below zero, or air at the spider that comes from nowhere.

    By definition of `Losses`; a millionth of a kelvin is rounding.

    Parameters
    ----------
    condition : Condition
        The steady condition.
    air : float, K
        That enters.

    Returns
    -------
    dict of str to bool array (draw,)
    """
    hottest = (found.steady @ network.basis.T).max(axis=-1)
    reasons = {
        "the rim would have to be a sink of heat": found.rim_loss < 0,
        "the stator core would have to be a sink of heat": found.stator_loss < 0,
        "the air at the spider would have to be cooler than what enters": found.spider_air_rise < -1e-6,
        "the air at the spider would have to be hotter than every part": air + found.spider_air_rise > hottest + 1e-6,
    }
    if condition.pole_temperature is not None:
        reasons["the poles would have to be a sink of heat"] = found.pole_loss < 0
    return reasons
