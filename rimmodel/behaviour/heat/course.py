"""Temperatures against time through a history, for every draw of the heat exchange at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.heat.losses import Losses, impossible, steady_losses
from rimmodel.behaviour.heat.network import (
    ELEMENTS,
    HeatNetwork,
    Values,
    connected,
    exchange,
    exchange_matrix,
    heat_network,
)
from rimmodel.behaviour.heat.schedule import Step
from rimmodel.elastic.heat_steps import HeatModes, heat_modes
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.thermal import Thermal


@dataclass(frozen=True)
class HeatModel:
    """A machine that warms and cools, with its heat exchange drawn; `possible` draws alone.

    Attributes
    ----------
    values : dict of str to array (draw,), SI
        Of the ranges, by name.
    joined : array (draw, coordinate, coordinate), SI
        Conduction with the contacts, 1/s.
    rated : float, rad/s
    asked : int
        Draws asked for, with those that no machine can have.
    possible : int array (draw,)
        Which of them are left.
    """

    network: HeatNetwork
    thermal: Thermal
    values: Values
    joined: Floats
    losses: Losses
    rated: float
    asked: int
    possible: NDArray[np.intp]

    def films(self, speeds: Floats, weights: Floats) -> dict[str, Floats]:
        """Heat transfer (draw,), a mean over speeds (rad/s): see `film_table`."""
        return film_table(self.network, self.values, speeds / self.rated, weights)

    def level(self, load: float, excited: bool) -> Floats:
        """Losses as a share (draw,) of those at rated load: without field none, else a fixed part and one by load^2."""
        share = floats(self.values["no_load_loss_share"])
        return share + (1 - share) * load**2 if excited else 0 * share

    def drive(self, step: Step, films: Mapping[str, Floats]) -> tuple[Floats, Floats]:
        """Heat put into the nodes, and temperature of the air around them, both (draw, node); W and K."""
        level = self.level(step.load, step.excited)
        put = self.losses.source(self.network, level)
        node = self.network.rim_outside if self.thermal.brake_ring == "rim" else self.network.spider_rim
        put[:, node] += step.braking * floats(self.values["brake_share"])
        shape = put.shape
        air = np.full(shape, step.air)
        at_rim = floats(self.values["air_rise"]) * level
        for surface, rise in (
            (self.network.bore_surface + self.network.outer_surface, at_rim),
            (self.network.spider_surface, self.losses.spider_air_rise * level),
        ):
            air += rise[:, np.newaxis] * (surface > 0)
        return put, air


def film_table(network: HeatNetwork, values: Values, share: Floats, weights: Floats) -> dict[str, Floats]:
    """Heat transfer at shares of rated speed, averaged with weights: ``max(h_still, h_rated share^exponent)``.

    Source: power law of turbulent flow along plates, textbooks of heat transfer (from memory).

    Parameters
    ----------
    values : mapping of str to array (draw,), SI
    share, weights : array (sample,), -

    Returns
    -------
    dict of str to array (draw,), SI
        W/m2/K; of the stator core W/K.

    At rated speed it is what the ranges say:

    >>> import rimmodel as rm
    >>> from rimmodel.behaviour.heat.draws import middle_first
    >>> case = rm.example_case()
    >>> values = middle_first(case.thermal, 40)
    >>> found = film_table(heat_network(case.rotor, case.thermal), values, np.ones(1), np.ones(1))
    >>> bool(np.all(found["spider"] == values["spider_heat_transfer"]))
    True
    """
    factor = share ** floats(values["speed_exponent"])[..., np.newaxis]  # (draw, sample)
    still = floats(values["still_heat_transfer"])[..., np.newaxis]
    found = {
        name: np.maximum(still, floats(values[key])[..., np.newaxis] * factor) @ weights
        for name, key in (
            ("bore", "rim_bore_heat_transfer"),
            ("outer", "rim_outer_heat_transfer"),
            ("spider", "spider_heat_transfer"),
        )
    }
    # the core is cooled by what the rotor blows: as the outside of the rim
    outer = found["outer"] / floats(values["rim_outer_heat_transfer"])
    capacity = network.capacity[network.stator]
    return found | {"stator": floats(capacity / floats(values["stator_time_constant"]) * outer)}


def heat_model(
    rotor: Rotor,
    thermal: Thermal,
    condition: Condition,
    values: Values,
    elements: int = ELEMENTS,
    extra_degree: int = 0,
) -> HeatModel:
    """The machine with every draw of its heat exchange that it can have.

    A draw is impossible when the temperatures of the steady condition ask for a loss below zero, or for air at the
    spider that is cooler than what enters or hotter than all that it passes.

    Parameters
    ----------
    condition : Condition
        The steady condition.
    values : mapping of str to array (draw,), SI
    elements, extra_degree : int
        As in `heat_network`.

    Returns
    -------
    HeatModel

    Raises
    ------
    ValueError
        No draw is possible; the text says which temperature cannot be.

    Notes
    -----
    By definition of `steady_losses`.
    """
    network = heat_network(rotor, thermal, elements, extra_degree)
    films = film_table(network, values, np.ones(1), np.ones(1))
    joined = connected(network, values, thermal, rotor)
    full = joined + exchange_matrix(network, films)
    found = steady_losses(network, full, films, values, thermal, condition)
    reasons = impossible(network, found, condition, float(thermal.air))
    wrong = np.any(list(reasons.values()), axis=0)
    if wrong.all():
        worst = max(reasons, key=lambda words: int(np.count_nonzero(reasons[words])))
        raise ValueError(
            f"thermal: with no value of the ranges can the machine be in its steady condition "
            f"{thermal.steady_state!r}: {worst}; check its temperatures, the air and the ranges"
        )
    kept = np.flatnonzero(~wrong)
    chosen = {name: floats(column)[kept] for name, column in values.items()}
    parts = (getattr(found, name)[kept] for name in Losses.__dataclass_fields__)
    return HeatModel(
        network, thermal, chosen, joined[kept], Losses(*parts), float(np.asarray(rotor.speeds.rated)), len(wrong), kept
    )


@dataclass(frozen=True)
class HeatCourse:
    """Temperatures through a history.

    Attributes
    ----------
    time : array (time,), s
    speed : array (time,), rad/s
    excited : bool array (time,)
    segment : int array (time,)
    state : array (draw, time, coordinate), SI
        Coordinates of the temperatures.
    stored, put_in, carried_off : array (draw,), J
        Heat stored over the whole history, put in by losses and brakes, and carried off by the air.
    """

    time: Floats
    speed: Floats
    excited: NDArray[np.bool_]
    segment: NDArray[np.intp]
    state: Floats
    stored: Floats
    put_in: Floats
    carried_off: Floats

    @property
    def imbalance(self) -> Floats:
        """Share (draw,) of all heat that was moved which is not accounted for."""
        moved = np.abs(self.put_in) + np.abs(self.carried_off) + np.abs(self.stored)
        return floats(np.abs(self.stored - self.put_in + self.carried_off) / np.maximum(moved, 1.0))


class StepModes:
    """Modes of a model at the speeds of steps, each found once."""

    def __init__(self, model: HeatModel) -> None:
        self._model = model
        self._known: dict[bytes, tuple[HeatModes, Floats, dict[str, Floats]]] = {}

    def at(self, step: Step) -> tuple[HeatModes, Floats, dict[str, Floats]]:
        """Modes, exchange (draw, node) in W/K, and films in a step."""
        key = step.speeds.tobytes()
        if key not in self._known:
            model = self._model
            films = model.films(step.speeds, step.weights)
            out = exchange(model.network, films)
            self._known[key] = (
                heat_modes(np.ones(model.joined.shape[-1]), model.joined + exchange_matrix(model.network, films)),
                out,
                films,
            )
        return self._known[key]


def heat_course(model: HeatModel, steps: Sequence[Step], start: Floats, modes: StepModes | None = None) -> HeatCourse:
    """Temperatures of every draw through the steps of a history, exact within each step.

    Parameters
    ----------
    start : array (draw, coordinate) or (coordinate,), SI
        Such as from `even_start`.
    modes : StepModes, optional
        Those that are known already.

    Returns
    -------
    HeatCourse

    Notes
    -----
    Source: `rimmodel.elastic.heat_steps`.
    """
    known = modes or StepModes(model)
    basis = model.network.basis
    even = model.network.coordinates(np.ones(len(basis)))
    now = np.broadcast_to(start, (len(model.possible), basis.shape[1]))
    first, put_in, carried = now, np.zeros(len(now)), np.zeros(len(now))
    pieces = []
    for step in steps:
        acting, out, films = known.at(step)
        put, air = model.drive(step, films)
        driven = (put + out * air) @ basis
        pieces.append(acting.after(now, driven, step.time))
        passed = acting.integral(now, driven, step.time[-1:])[:, 0] @ basis.T
        put_in = put_in + put.sum(axis=-1) * step.duration
        carried = carried + np.sum(out * (passed - air * step.duration), axis=-1)
        now = pieces[-1][:, -1]
    return HeatCourse(
        np.concatenate([step.start + step.time for step in steps]),
        np.concatenate([step.speed for step in steps]),
        np.concatenate([np.full(len(step.time), step.excited) for step in steps]),
        np.concatenate([np.full(len(step.time), step.segment) for step in steps]),
        np.concatenate(pieces, axis=1),
        floats((now - first) @ even),
        put_in,
        carried,
    )


def even_start(network: HeatNetwork, condition: Condition) -> Floats:
    """Coordinates of rim, spider, stator and poles that are each of an even temperature, as a condition has them.

    By definition of `HeatNetwork`.

    Returns
    -------
    array (coordinate,), SI

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> network = heat_network(case.rotor, case.thermal)
    >>> found = network.means @ network.basis @ even_start(network, case.conditions["hot"]) - 273.15
    >>> found.round(6).tolist()
    [58.0, 50.0, 65.0, 58.0]
    """
    means = [condition.rim_temperature, condition.spider_temperature, condition.stator_temperature]
    at = np.full(len(network.capacity), float(np.asarray(means[0])))
    at[network.spider] = float(np.asarray(means[1]))
    at[network.stator] = float(np.asarray(means[2]))
    if network.pole is not None and condition.pole_temperature is not None:
        at[network.pole] = float(np.asarray(condition.pole_temperature))
    return network.coordinates(at)


def course_condition(model: HeatModel, steady: Condition, state: Floats, excited: NDArray[np.bool_]) -> Condition:
    """The condition (draw, time) of a course: its mean temperatures, and where excited the steady field.

    Poles that hang their heat on the rim have its temperature, as those of a condition without a pole temperature.

    Parameters
    ----------
    state : array (..., coordinate), SI
    excited : bool array (...)

    Returns
    -------
    Condition
    """
    means = state @ (model.network.means @ model.network.basis).T
    return mean_condition(model, steady, means, excited)


def mean_condition(model: HeatModel, steady: Condition, means: Floats, excited: NDArray[np.bool_]) -> Condition:
    """As `course_condition`, from the four means themselves.

    Parameters
    ----------
    means : array (..., 4), K
        Of rim, spider, stator and poles.
    excited : bool array (...)

    Returns
    -------
    Condition
    """
    own = model.network.pole is not None
    flux = np.where(excited, float(np.asarray(steady.flux_density)), 0.0)
    return Condition(
        rim_temperature=means[..., 0],
        spider_temperature=means[..., 1],
        pole_temperature=means[..., 3] if own else None,
        stator_temperature=means[..., 2],
        flux_density=flux,
        excitation=steady.excitation,
    )
