"""The heating of a rim as rows in units of print: what text, JSON, CSV and figures share."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats, Mask, floats
from rimmodel.planning.heating import HeatingPlan
from rimmodel.units import in_mm, in_print

HOUR, KILOWATT = 3600.0, 1e3

SHEET = 1800.0
"""Seconds between the rows of the schedule."""


@dataclass(frozen=True)
class Middle:
    """The course in the middle of all ranges, with the least and the most of all possible machines beside it.

    Attributes
    ----------
    moments : int array (row,)
        Places in the course.
    time : array (row,), h
    power, rim, spider, difference, spread : array (3, row), unit of print
        Middle, least and most; of machines that are still heated.
    growth : array (row,), mm
    governs : tuple of str
        What set the power that led to the moment.
    phase : tuple of str
        "heat", "hold" or "off".
    """

    moments: Floats
    time: Floats
    power: Floats
    rim: Floats
    spider: Floats
    difference: Floats
    spread: Floats
    growth: Floats
    governs: tuple[str, ...]
    phase: tuple[str, ...]


def counted(plan: HeatingPlan) -> Mask:
    """Machines whose course is shown: those that reach the growth, or all where none does."""
    return plan.kept if plan.kept.any() else np.ones(len(plan.kept), dtype=bool)


def middle_course(plan: HeatingPlan, every: float = SHEET) -> Middle:
    """Rows of the schedule, from power on to power off in the middle of all ranges.

    Parameters
    ----------
    every : float, s
        Between rows; the moments at which the growth is reached and the power goes off have rows of their own.

    Returns
    -------
    Middle
    """
    course, model = plan.course, plan.model
    first, last = int(course.at_growth[0]), int(course.off[0])
    if not course.reached[0]:
        grown = model.growth(course.state[0])
        last = min(len(grown) - 1, int(np.argmax(grown)) + int(4 * HOUR / course.time[1]))
        first = len(course.time)
    stride = max(1, round(every / float(course.time[1])))
    moments = np.unique([*range(0, last + 1, stride), last, *([first] if first <= last else [])]).astype(int)
    on = moments[np.newaxis] <= course.off[:, np.newaxis]
    state = course.state[:, moments]
    rim, spider = model.mean(state), model.spider(state)
    steps = np.minimum(moments, course.power.shape[1] - 1)
    power = course.power[:, steps]
    live = counted(plan)[:, np.newaxis] & on
    return Middle(
        floats(moments),
        course.time[moments] / HOUR,
        _beside(power / KILOWATT, live & (moments < course.off[:, np.newaxis])),
        _beside(in_print(rim, "temperature"), live),
        _beside(in_print(spider, "temperature"), live),
        _beside(rim - spider, live),
        _beside(model.spread(state), live),
        in_mm(model.growth(state[0])),
        tuple(course.set_by(int(moment)) for moment in moments),
        tuple(_phase(plan, int(moment), first, last) for moment in moments),
    )


def _beside(values: Floats, live: Mask) -> Floats:
    """Middle, least and most of the values (draw, row) that count; the middle alone where none does."""
    middle = values[0]
    low = np.where(live, values, middle).min(axis=0)
    high = np.where(live, values, middle).max(axis=0)
    return np.stack([middle, low, high])


def _phase(plan: HeatingPlan, moment: int, first: int, last: int) -> str:
    if moment == last and plan.course.reached[0]:
        return "off"
    return "hold" if moment >= first else "heat"


def spans(plan: HeatingPlan) -> dict[str, Floats]:
    """Single numbers of the heating, each as middle, least and most, in units of print.

    Returns
    -------
    dict of str to array (3,), unit of print
    """
    course, model, chosen = plan.course, plan.model, counted(plan)
    step = float(course.time[1])
    states = course.at_off
    hours = course.time[course.off] / HOUR
    energy = course.power.sum(axis=1) * step / 3.6e9
    reached = course.time[course.at_growth] / HOUR
    hold = np.array([row[max(int(end) - 1, 0)] for row, end in zip(course.power, course.off, strict=True)]) / KILOWATT
    table = {
        "time_to_reach_h": reached,
        "time_to_power_off_h": hours,
        "energy_MWh": energy,
        "peak_power_kW": course.power.max(axis=1) / KILOWATT,
        "hold_power_kW": hold,
        "rim_at_off_degC": in_print(model.mean(states), "temperature"),
        "spider_at_off_degC": in_print(model.spider(states), "temperature"),
        "difference_at_off_K": model.mean(states) - model.spider(states),
        "spread_heating_K": model.spread(course.state).max(axis=1),
        "spread_at_off_K": model.spread(states),
        "stress_heating_MPa": in_print(model.stress(course.state).max(axis=1), "stress"),
    }
    return {
        name: np.array([values[0], min(values[0], values[chosen].min()), max(values[0], values[chosen].max())])
        for name, values in table.items()
    }
