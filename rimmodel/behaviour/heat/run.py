"""One history of a case from end to end: temperatures, fit, events and restart, for every draw of heat exchange."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.heat.course import HeatModel, StepModes, even_start, heat_course, heat_model
from rimmodel.behaviour.heat.draws import places, spread
from rimmodel.behaviour.heat.events import Event, events
from rimmodel.behaviour.heat.fit_course import FitCourse, fit_course
from rimmodel.behaviour.heat.restart import Restart, restart
from rimmodel.behaviour.heat.schedule import Step, schedule
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.history import History

BoolArray = NDArray[np.bool_]

DRAWS = 400
"""Of the heat exchange, where nothing else is asked for."""


@dataclass(frozen=True)
class HistoryRun:
    """A history of a case, worked out for every possible draw of its heat exchange.

    Attributes
    ----------
    restart : Restart or None
        None where the machine does not come to rest after it has turned.
    """

    history: History
    steps: tuple[Step, ...]
    model: HeatModel
    course: FitCourse
    events: tuple[Event, ...]
    restart: Restart | None


def history_steps(case: Case, history: History) -> tuple[Step, ...]:
    """The steps of a history of a case, with its turning masses, and the times at which temperatures were read.

    Raises `ValueError` where the case has no [thermal] or lacks turning masses.
    """
    if case.thermal is None:
        raise ValueError("the case has no [thermal]: heat transfer as ranges; 'rimmodel new FILE' shows it, commented")
    rated = float(np.asarray(case.rotor.speeds.rated))
    read_at = [float(np.asarray(reading.time)) for reading in history.readings]
    return schedule(history, case.thermal, rated, case.load_rejection, case.stated.any_inertia, looked_at=read_at)


def start_state(case: Case, history: History, model: HeatModel) -> Floats:
    """Coordinates of the temperatures with which a history starts: of a condition, or of the air; by definition.

    Returns
    -------
    array (coordinate,), SI

    >>> import rimmodel as rm
    >>> from rimmodel.behaviour.heat.draws import middle_first
    >>> case = rm.example_case()
    >>> model = heat_model(case.rotor, case.thermal, case.conditions["hot"], middle_first(case.thermal, 21))
    >>> found = model.network.means @ model.network.basis @ start_state(case, case.histories[0], model)
    >>> (found - 273.15).round(6).tolist()
    [20.0, 20.0, 20.0, 20.0]
    """
    if history.start is not None:
        return even_start(model.network, case.conditions[history.start])
    first = history.segments[0].air
    air = float(np.asarray(model.thermal.air if first is None else first))
    return even_start(model.network, Condition(air, air, air, air))


def run_history(
    case: Case, history: History, draws: int = DRAWS, values: Mapping[str, Floats] | None = None,
    rotor: Rotor | None = None,
) -> HistoryRun:  # fmt: skip
    """Work out a history of a case for every draw of its heat exchange.

    The draws are the middle of all ranges, each range at its two ends, a corner that a first look finds to be the worst
    for the float speed and its opposite, and more corners and points between. Source: `rimmodel.elastic.heat_steps`.

    Parameters
    ----------
    values : mapping of str to array (draw,), SI, optional
        Heat exchange by range, in place of those draws.
    rotor : Rotor, optional
        Whose fit it is, in place of that of the case; the heat, and what carries the rim, stay those of the case. See
        `fit_course` for several of them at once.

    Returns
    -------
    HistoryRun

    Raises
    ------
    ValueError
        The case has no [thermal], or its steady state is impossible with every draw.

    A machine that rests at the temperature of its air stays as it is:

    >>> import rimmodel as rm
    >>> from rimmodel.rotor.history import Segment
    >>> case = rm.example_case()
    >>> found = run_history(case, History("rest", (Segment("rest", 3600.0, 0.0, air=293.15),), "cold"), 40)
    >>> cold = rm.float_speed(case.rotor, case.conditions["cold"]).speed
    >>> bool(np.allclose(found.course.float_speed, cold, rtol=1e-12))
    True
    """
    steps = history_steps(case, history)
    thermal = case.thermal
    if thermal is None:
        raise ValueError("the case has no [thermal]")
    steady = case.conditions[thermal.steady_state]
    fit = case.rotor if rotor is None else rotor
    ratio = history.float_speed_ratio or float(np.asarray(case.limits.float_speed_ratio))
    if values is None:
        worst = _worst_corners(case, history, steps, steady, fit, ratio)
        values = spread(thermal.spans, places(len(thermal.spans), draws, worst))
    model = heat_model(case.rotor, thermal, steady, values)
    modes = StepModes(model)
    heat = heat_course(model, steps, start_state(case, history, model), modes)
    course = fit_course(fit, model, steady, heat, case.rotor)
    again = restart(fit, model, steady, history, heat, ratio, modes)
    return HistoryRun(history, steps, model, course, events(course), again)


def _worst_corners(
    case: Case, history: History, steps: tuple[Step, ...], steady: Condition, rotor: Rotor, ratio: float
) -> BoolArray:
    """Corners (corner, span): which end of each range, one range at a time, brings the float speed lowest.

    In the history itself, and in a restart after every time at rest.
    """
    thermal = case.thermal
    if thermal is None:
        raise ValueError("the case has no [thermal]")
    count = len(thermal.spans)
    model = heat_model(case.rotor, thermal, steady, spread(thermal.spans, places(count, 1 + 2 * count)))
    modes = StepModes(model)
    heat = heat_course(model, steps, start_state(case, history, model), modes)
    course = fit_course(rotor, model, steady, heat, case.rotor)
    drawn = len(model.possible)
    lowest = [lowest_float_speed(course)[:drawn, np.newaxis]]
    again = restart(rotor, model, steady, history, heat, ratio, modes)
    lowest += [] if again is None else [again.lowest[:drawn]]
    least = np.full((1 + 2 * count, sum(part.shape[1] for part in lowest)), np.nan)
    least[model.possible] = np.concatenate(lowest, axis=1)
    low, high = least[1::2], least[2::2]
    upper = np.where(np.isnan(high), False, np.where(np.isnan(low), True, high < low)).T
    first = np.unique(upper, axis=0, return_index=True)[1]
    return np.asarray(upper[np.sort(first)])


def lowest_float_speed(course: FitCourse) -> Floats:
    """The least float speed in each draw, at rest or turning; finite even where it never floats; by definition.

    Returns
    -------
    array (draw,), rad/s

    A machine that has only stood in the cold has that of the cold:

    >>> import rimmodel as rm
    >>> from rimmodel.rotor.history import Segment
    >>> case = rm.example_case()
    >>> rest = History("rest", (Segment("rest", 3600.0, 0.0, air=293.15),), "cold")
    >>> found = lowest_float_speed(run_history(case, rest, 21).course)
    >>> bool(np.allclose(found, rm.float_speed(case.rotor, case.conditions["cold"]).speed))
    True
    """
    return floats(np.min(np.nan_to_num(course.float_speed, nan=0.0, posinf=1e6), axis=1))
