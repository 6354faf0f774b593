"""Temperatures that were read in a history: which values of the heat exchange agree with them.

Of the ranges those values are kept whose temperatures agree with all readings together: the sum of squared misfits,
each over its standard uncertainty, within its 95 % bound. Where few of the first draws agree, better ones are bred from
the best: a draw is moved along the difference of two others (differential evolution; Storn & Price, Journal of Global
Optimization 11 (1997), from memory). Where none agrees, readings and model contradict each other, and nothing may
rest on either.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.heat.course import heat_course, heat_model
from rimmodel.behaviour.heat.draws import places, spread
from rimmodel.behaviour.heat.network import HeatNetwork
from rimmodel.behaviour.heat.run import history_steps, start_state
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.history import History, Reading
from rimmodel.units import celsius

AGREEING = 0.95
"""Probability of the bound on the sum of squared misfits of true readings."""

GENERATIONS = 8
ENOUGH = 1 / 3
"""Share of the draws that must agree before no more are bred."""

_SEED = 21


@dataclass(frozen=True)
class AgreedHeat:
    """What the readings leave of the ranges.

    Attributes
    ----------
    values : dict of str to array (draw,), SI
        Heat exchange that agrees, that of the least misfit first; empty where none does.
    misfit : float, -
        Least sum of squared misfits.
    allowed : float, -
        Up to which readings and model agree.
    contradiction : str
        What disagrees; empty where something agrees.
    """

    values: dict[str, Floats]
    misfit: float
    allowed: float
    contradiction: str


def agreed_heat(case: Case, history: History, draws: int) -> AgreedHeat:
    """The heat exchange that agrees with the readings of a history.

    Returns
    -------
    AgreedHeat

    Raises
    ------
    ValueError
        The case has no [thermal], or its steady state is impossible with every draw.
    """
    from scipy.special import chdtri

    thermal = case.thermal
    if thermal is None:
        raise ValueError("the case has no [thermal]")
    allowed = float(chdtri(len(history.readings), 1 - AGREEING))
    count = len(thermal.spans)
    table = places(count, max(draws, 1 + 2 * count))
    misfits, shown = _misfits(case, history, table)
    random = np.random.default_rng(_SEED)
    for _ in range(GENERATIONS):
        agreeing = misfits <= allowed
        if np.count_nonzero(agreeing) >= ENOUGH * len(table):
            break
        order = np.argsort(misfits)
        parents = table[order[: max(4 * count, np.count_nonzero(agreeing))]]
        bred = _bred(parents, len(table), random)
        more, seen = _misfits(case, history, bred)
        table, misfits = np.vstack([table, bred]), np.concatenate([misfits, more])
        shown = np.vstack([shown, seen])
        kept = np.argsort(np.where(misfits <= allowed, 0.0, misfits), kind="stable")[: max(draws, 4 * count)]
        table, misfits, shown = table[kept], misfits[kept], shown[kept]
    left = np.flatnonzero(misfits <= allowed)
    best = int(np.argmin(misfits))
    if not left.size:
        return AgreedHeat({}, float(misfits[best]), allowed, _contradiction(history, shown, best))
    first = left[np.argsort(misfits[left], kind="stable")]
    return AgreedHeat(spread(thermal.spans, table[first]), float(misfits[best]), allowed, "")


def _bred(parents: Floats, count: int, random: np.random.Generator) -> Floats:
    """Draws (count, span) from parents, moved along differences of two others, within the ranges."""
    own, one, other = (random.integers(len(parents), size=count) for _ in range(3))
    step = random.uniform(0.2, 1.0, size=(count, 1))
    moved = parents[own] + step * (parents[one] - parents[other]) + random.normal(0.0, 0.01, (count, parents.shape[1]))
    return floats(np.clip(moved, 0.0, 1.0))


def _misfits(case: Case, history: History, table: Floats) -> tuple[Floats, Floats]:
    """Sum of squared misfits (draw,), infinite for an impossible draw, and what would be read (draw, reading), K."""
    thermal = case.thermal
    if thermal is None:
        raise ValueError("the case has no [thermal]")
    model = heat_model(case.rotor, thermal, case.conditions[thermal.steady_state], spread(thermal.spans, table))
    course = heat_course(model, history_steps(case, history), start_state(case, history, model))
    shown = np.full((len(table), len(history.readings)), np.nan)
    for number, reading in enumerate(history.readings):
        moment = int(np.argmin(np.abs(course.time - float(np.asarray(reading.time)))))
        shown[model.possible, number] = course.state[:, moment] @ reading_weights(model.network, reading)
    read, error = (
        floats([float(np.asarray(getattr(reading, name))) for reading in history.readings])
        for name in ("temperature", "uncertainty")
    )
    misfit = np.sum(((shown - read) / error) ** 2, axis=1)
    return floats(np.where(np.isnan(misfit), np.inf, misfit)), shown


def reading_weights(network: HeatNetwork, reading: Reading) -> Floats:
    """Weights that make the temperature at the place of a reading out of the coordinates of a network; by definition.

    Returns
    -------
    array (coordinate,), SI

    A machine of one temperature throughout reads that at every place:

    >>> import rimmodel as rm
    >>> from rimmodel.behaviour.heat.course import even_start
    >>> from rimmodel.behaviour.heat.draws import middle_first
    >>> from rimmodel.rotor import Condition
    >>> case = rm.example_case()
    >>> model = heat_model(case.rotor, case.thermal, case.conditions["hot"], middle_first(case.thermal, 21))
    >>> even = even_start(model.network, Condition(300.0, 300.0, 300.0, 300.0))
    >>> places = ("rim_bore", "hub", "stator")
    >>> print([f"{reading_weights(model.network, Reading(0.0, place, 290.0)) @ even:.6f} K" for place in places])
    ['300.000000 K', '300.000000 K', '300.000000 K']
    """
    places_of = {
        "rim": network.means[0],
        "spider": network.means[1],
        "stator": network.means[2],
        "rim_bore": network.node(network.rim.start),
        "rim_outer": network.node(network.rim_outside),
        "hub": network.node(network.spider.start),
    }
    return floats(places_of[reading.place] @ network.basis)


def _contradiction(history: History, shown: Floats, best: int) -> str:
    """The reading that the best draw misses most, with what the model can make of it."""
    misses = [
        abs(shown[best, number] - float(np.asarray(reading.temperature))) / float(np.asarray(reading.uncertainty))
        for number, reading in enumerate(history.readings)
    ]
    number = int(np.nanargmax(misses))
    reading = history.readings[number]
    known = shown[np.isfinite(shown[:, number]), number]
    at, low, high = float(np.asarray(reading.time)) / 3600, celsius(known.min(), ".1f"), celsius(known.max(), ".1f")
    return (
        f"the temperatures that were read contradict the model: {reading.place.replace('_', ' ')} at {at:.4g} h reads "
        f"{celsius(reading.temperature, '.4g')}, and the values that come nearest make {low} to {high} there; check "
        "the reading, the ranges and the segments"
    )
