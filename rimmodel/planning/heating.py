"""Heating of the rim for its keys: what to reach, with which power, how long it lasts, what is left at the last key.

The growth to reach is that of the tightest key with all that may take from it, at the end of the work: nothing is
shown unless every possible machine reaches it and keeps it until its last key is in.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from rimmodel.arrays import Mask, floats
from rimmodel.behaviour.heat.heated_rim import HeatedRim, heated_rim
from rimmodel.elastic.wall_heating import Wall
from rimmodel.planning.heating_after import Cooling, KeyTime, Work, cooling, key_times, short_of
from rimmodel.planning.heating_course import STEP, Bounds, HeatingCourse, heat_up
from rimmodel.planning.heating_needs import (
    CONFIDENCE,
    Part,
    SpreadLimit,
    allowances,
    key_interferences,
    needed_inputs,
    outside_growth,
    spread_limits,
)
from rimmodel.planning.key_order import across
from rimmodel.planning.predicted import standard_errors
from rimmodel.rotor import REFERENCE_TEMPERATURE
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.case.doubts import case_doubts
from rimmodel.rotor.heating import RimHeating
from rimmodel.rotor.thermal import Thermal
from rimmodel.units import celsius, in_print, mm, mpa, with_unit

REACHED, NOT_SHOWN, CANNOT = "reached", "not shown", "cannot be reached"

WHOLE = 0.5
"""Kelvin to which the difference to reach is rounded up: what is read and set on site."""

EVENED = 3.0
"""Hold in times of the slowest mode through the depth: 5 % of an uneven temperature is left."""

ROUNDS, CLOSE = 40, 1e-7
"""Most rounds in which the growth to reach is raised by what is short at a key, and metres that end them."""

TOO_MUCH = 2.0
"""Times the growth that the keys need at which raising it is given up: the work takes longer than the rim stays hot."""

POWER_STEP = 5e3
"""Watt to which a power that would do is rounded up."""


@dataclass(frozen=True)
class HeatingPlan:
    """What the heating must do, whether it can, and what follows.

    Attributes
    ----------
    parts : tuple of Part
        Of the growth to reach at power off.
    growth : float, m
        To reach: rim bore over spider, radial, each free of the other.
    hold : float, s
        In whole steps of the course.
    course, ideal : HeatingCourse
        With heaters and temperatures of the case, and with any of both.
    keys : tuple of KeyTime
        In their order; no clearance where the plan is not reached.
    cooling : Cooling or None
        None where the plan is not reached.
    hottest, mean : float, K
        Highest at any place, spreads and error of reading included, and highest mean of the rim.
    stress : float, Pa
        Largest hoop stress by T(r) while heated.
    outside_growth : tuple of float, m
        Of the rim outside by the fit, cold and at rest: expected, and the ends of its tolerance at 95 %.
    kept : bool array (draw,)
        Which possible machines reach the growth and keep it until the last key is in.
    verdict : str
        `REACHED`, `NOT_SHOWN` or `CANNOT`.
    remedies : tuple of str
        What would do it.
    """

    case: Case
    heating: RimHeating
    model: HeatedRim
    work: Work
    parts: tuple[Part, ...]
    growth: float
    hold: float
    course: HeatingCourse
    ideal: HeatingCourse
    keys: tuple[KeyTime, ...]
    limits: tuple[SpreadLimit, ...]
    cooling: Cooling | None
    hottest: float
    mean: float
    stress: float
    outside_growth: tuple[float, float, float]
    kept: Mask
    verdict: str = NOT_SHOWN
    reason: str = ""
    remedies: tuple[str, ...] = ()

    @property
    def confidence(self) -> float:
        """Of all that is allowed for by tolerance, dimensionless."""
        return CONFIDENCE

    @property
    def per_kelvin(self) -> float:
        """Growth of the rim bore by one kelvin, m."""
        return self.model.growth_per_kelvin[0]

    @property
    def power_needed(self) -> float:
        """Power of the heaters with which they limit no possible machine, W."""
        return float(self.ideal.power.max())

    @property
    def allowed_mean(self) -> float:
        """Highest mean of the rim at power off with which neither it nor the hottest place passes its limit, K."""
        state = self.course.at_off[self.kept] if self.kept.any() else self.course.at_off
        over = float(((state @ self.model.stations.T).max(axis=1) - self.model.mean(state)).max())
        hottest = float(self.heating.surface_limit) - _beside_mean(self.heating) - over
        return min(float(self.case.limits.shrinking_rim_temperature), hottest)

    @property
    def hottest_spider(self) -> float:
        """Spider temperature over which the rim would have to be hotter than is allowed, K; infinite where none is."""
        rim, beneath = self.model.growth_per_kelvin
        spare = rim * (self.allowed_mean - REFERENCE_TEMPERATURE) - self.growth
        if beneath > 0:
            return REFERENCE_TEMPERATURE + spare / beneath
        return float(np.inf if spare >= 0 else -np.inf)

    def rim_temperature(self, spider: float) -> float:
        """Mean rim temperature (K) to reach over a mean spider temperature.

        Parameters
        ----------
        spider : float, K
        """
        rim, beneath = self.model.growth_per_kelvin
        return REFERENCE_TEMPERATURE + (self.growth + beneath * (spider - REFERENCE_TEMPERATURE)) / rim


def heating_plan(case: Case) -> HeatingPlan:
    """Work out the heating of a case.

    Returns
    -------
    HeatingPlan

    Raises
    ------
    ValueError
        What it needs is not given; the text names the key.
    """
    heating, thermal, clearance, count = needed_inputs(case)
    model = heated_rim(case.rotor, thermal, heating)
    interference = key_interferences(case.rotor, heating, count)
    margins = allowances(case.rotor, heating, count, clearance)
    order = across(count, int(np.argmax(interference)))
    ends = floats(1 + np.arange(count) // int(heating.keys_at_once)) * float(heating.time_per_key)
    beside = sum(part.amount for part in margins) - clearance
    work = Work(order, interference[list(order)], ends, float(heating.time_per_key), beside, clearance)
    bounds = _bounds(case, heating, thermal)
    free = replace(bounds, power=np.inf, highest=np.inf, mean=np.inf)
    start, first = float(heating.air), _rounded(model, float(work.needed.max()))
    ideal, least = _raised(model, start, replace(free, growth=first), work)
    course, growth = _raised(model, start, replace(bounds, growth=least), work)
    if growth > least:
        ideal = heat_up(model, start, replace(free, growth=growth))
    kept = course.reached & (short_of(model, course, work).max(axis=1) <= 2 * CLOSE)
    parts = (
        Part("interference of the tightest key", float(interference.max()), "as assembled, radial"),
        *margins,
        Part(
            "lost until the last key is in",
            growth - float(work.needed.max()),
            f"rim cools, spider warms; rounded up to {WHOLE:g} K",
        ),
    )
    plan = HeatingPlan(
        case, heating, model, work, parts, growth, bounds.hold, course, ideal, key_times(model, course, kept, work),
        spread_limits(case, heating), cooling(model, course, kept, work) if kept.all() else None,
        float((course.state @ model.stations.T).max()) + _beside_mean(heating),
        float(model.mean(course.state).max()), float(model.stress(course.state).max()),
        outside_growth(case, float(interference.mean())), kept,
    )  # fmt: skip
    judged = _judged(plan, replace(bounds, growth=growth))
    if judged.verdict == REACHED:
        return judged
    # no key goes in by a plan that is not reached: nothing of the time after power off is promised
    unknown = tuple(replace(row, expected=np.nan, least=np.nan) for row in judged.keys)
    return replace(judged, keys=unknown, cooling=None)


def _bounds(case: Case, heating: RimHeating, thermal: Thermal) -> Bounds:
    """What the power keeps to; spreads over height and around, and the error of reading, are taken off the highest."""
    rim = case.rotor.rim
    stored = float(np.asarray(rim.material.density)) * float(thermal.specific_heat)
    depth = float(np.asarray(rim.slot_bottom_radius)) - float(np.asarray(rim.inner_radius))
    evened = EVENED * Wall(depth, float(thermal.thermal_conductivity), stored).evening_time
    return Bounds(
        0.0,
        float(heating.heater_power),
        float(heating.rate_limit),
        float(heating.depth_spread),
        float(heating.surface_limit) - _beside_mean(heating),
        float(case.limits.shrinking_rim_temperature),
        STEP * max(1.0, float(np.ceil((evened if heating.hold is None else float(heating.hold)) / STEP - 1e-9))),
        float(heating.longest),
    )


def _beside_mean(heating: RimHeating) -> float:
    """By how much a place may be hotter than the model has it, K: over height, around, and by error of reading."""
    reading = standard_errors(CONFIDENCE) * float(heating.temperature_uncertainty)
    return (float(heating.height_spread) + float(heating.around_spread)) / 2 + reading


def _rounded(model: HeatedRim, growth: float) -> float:
    """A growth rounded up to whole steps of the rim temperature."""
    step = WHOLE * model.growth_per_kelvin[0]
    return float(np.ceil(growth / step - 1e-9)) * step


def _raised(model: HeatedRim, start: float, bounds: Bounds, work: Work) -> tuple[HeatingCourse, float]:
    """The course to a growth that is raised until no machine that reaches it is short at a key, and that growth."""
    growth = bounds.growth
    course = heat_up(model, start, bounds)
    for _ in range(ROUNDS):
        missing = float(short_of(model, course, work).max(axis=1)[course.reached].max(initial=0.0))
        if missing <= CLOSE or growth > TOO_MUCH * float(work.needed.max()):
            break
        growth = _rounded(model, growth + missing)
        course = heat_up(model, start, replace(bounds, growth=growth))
    return course, growth


def _judged(plan: HeatingPlan, bounds: Bounds) -> HeatingPlan:
    """The plan with its verdict, the reason, and what would do it."""
    keyed = replace(plan.case, rotor=plan.case.rotor.with_interference(float(plan.work.interference.mean())))
    doubts = [row.text for row in case_doubts(keyed) if row.blocks and row.item is None and row.condition is None]
    if doubts:
        return replace(plan, reason=f"the case is in doubt: {doubts[0]}")
    for row in plan.limits:
        if row.stress > row.allowed:
            why = f"the limit of spread {row.name}, {row.spread:g} K, stands for {mpa(row.stress, '.0f')}"
            return replace(plan, reason=f"{why}, above the {mpa(row.allowed, '.0f')} allowed at standstill: lower it")
    cases, count = len(plan.kept), int(plan.kept.sum())
    if count == cases:
        why = f"all {cases} combinations of the ranges reach it and keep it until the last key is in"
        return replace(plan, verdict=REACHED, reason=why)
    why, remedies = _remedies(plan, bounds)
    if count == 0:
        return replace(plan, verdict=CANNOT, reason=why, remedies=remedies)
    part = f"{cases - count} of {cases} combinations of the ranges do not reach it: {why}"
    return replace(plan, reason=part, remedies=remedies)


def _remedies(plan: HeatingPlan, bounds: Bounds) -> tuple[str, tuple[str, ...]]:
    """Why the growth is not reached, and what would do it."""
    heating, start = plan.heating, float(plan.heating.air)
    lost = plan.parts[-1].amount
    faster = (
        f"less than {float(heating.time_per_key) / 60:.0f} min for each key or more than {heating.keys_at_once:g} at a "
        f"time: {mm(lost)} are lost until the last key is in"
    )
    quicker = (faster,) if _work_matters(plan, bounds) else ()
    if plan.growth > TOO_MUCH * float(plan.work.needed.max()):
        return "the rim cools faster than all keys go in", (faster, "covers that stay on while keys are fitted")
    if not plan.ideal.reached.all():
        slow = f"within {float(heating.longest) / 3600:.0f} h, at the rate and the spread allowed"
        return f"not {slow}", (
            "a longer heating (heating.longest)", "heaters at bore and outside, which spread less", *quicker
        )  # fmt: skip
    strong = heat_up(plan.model, start, replace(bounds, power=np.inf))
    if strong.reached.all() and not plan.course.reached.all():
        enough = _enough_power(plan, bounds)
        have = with_unit(heating.heater_power, "power")
        return f"the heaters have {have}", (
            f"{with_unit(enough, 'power')} of heaters",
            "covers that hold more heat (heating.covered_heat_transfer)",
            *quicker,
        )
    if strong.reached.all():
        return "the clearance is not kept until the last key is in", (faster,)
    return _too_hot(plan, bounds, quicker)


def _work_matters(plan: HeatingPlan, bounds: Bounds) -> bool:
    """Whether every possible machine would reach the growth if the rim lost nothing while the keys go in."""
    least = _rounded(plan.model, float(plan.work.needed.max()))
    return bool(heat_up(plan.model, float(plan.heating.air), replace(bounds, growth=least)).reached.all())


def _too_hot(plan: HeatingPlan, bounds: Bounds, quicker: tuple[str, ...]) -> tuple[str, tuple[str, ...]]:
    """Why the growth is not reached, and what would do it, where a temperature is in its path."""
    start, model = float(plan.heating.air), plan.model
    limit = float(plan.case.limits.shrinking_rim_temperature)
    allowed = f"{celsius(limit)} mean (limits.shrinking_rim_temperature)"
    allowed += f" or {celsius(plan.heating.surface_limit)} at the hottest place (heating.surface_limit)"
    warm = heat_up(model, start, replace(bounds, highest=np.inf, mean=np.inf))
    power = ""
    if not warm.reached.all():
        warm, power = (
            plan.ideal,
            f", with {with_unit(POWER_STEP * np.ceil(plan.power_needed / POWER_STEP), 'power')} of heaters",
        )
    hot, mean = (
        float((warm.state @ model.stations.T).max()) + _beside_mean(plan.heating),
        model.mean(warm.state).max(),
    )
    lacking = plan.growth - _most_growth(plan, bounds)
    return f"the rim may not be hotter than {allowed}", (
        f"a mean of {_up(float(mean))} and "
        f"{_up(hot)} at the hottest place{power}, if those who answer for "
        "varnish and insulation allow it",
        f"an interference or clearance that is {mm(np.ceil(lacking * 1e5) / 1e5)} less",
        f"a spider that is kept about {np.ceil(lacking / model.growth_per_kelvin[1]):.0f} K cooler until the last key "
        "is in: a hall that is cooler by a little more than that (heating.air)",
        *quicker,
    )


def _up(temperature: float) -> str:
    """A temperature in words, rounded up."""
    return f"{np.ceil(in_print(temperature, 'temperature')):.0f} degC"


def _most_growth(plan: HeatingPlan, bounds: Bounds) -> float:
    """Largest growth, in whole steps, that every possible machine reaches and holds; 0 where there is none."""
    step = WHOLE * plan.per_kelvin
    low, high = 0, round(plan.growth / step)
    while high - low > 1:
        middle = (low + high) // 2
        found = heat_up(plan.model, float(plan.heating.air), replace(bounds, growth=middle * step))
        low, high = (middle, high) if found.reached.all() else (low, middle)
    return low * step


def _enough_power(plan: HeatingPlan, bounds: Bounds) -> float:
    """Least power of heaters (W), in whole steps, with which every possible machine reaches the growth."""
    low, high = bounds.power, POWER_STEP * np.ceil(max(plan.power_needed, bounds.power) / POWER_STEP)
    start = float(plan.heating.air)
    while high - low > POWER_STEP:
        middle = POWER_STEP * np.ceil((low + high) / 2 / POWER_STEP)
        if middle >= high:
            break
        reached = heat_up(plan.model, start, replace(bounds, power=float(middle))).reached.all()
        low, high = (low, middle) if reached else (middle, high)
    return float(high)
