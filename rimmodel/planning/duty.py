"""A history of the machine as it is now: margins over the whole of it, and when it may be started again after a stop.

What is not known is the heat exchange, given as ranges, and the fit. The interval of the float speed in the steady
condition, by the last recording or by the tolerances of the drawing, is carried through the history as the
interference that belongs to each of its ends; every draw of the heat exchange then stands once for each. A margin holds
when it holds for all of them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.behaviour.contact.speeds import float_speed, interference_for_float_speed
from rimmodel.behaviour.heat.agreed import AgreedHeat, agreed_heat
from rimmodel.behaviour.heat.restart import first_rest
from rimmodel.behaviour.heat.run import DRAWS, HistoryRun, run_history
from rimmodel.behaviour.heat.thermometers import Thermometers, deciding_thermometers
from rimmodel.behaviour.quantities import evaluate
from rimmodel.evidence.measured.machine import by_test
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.planning.predicted import predicted_interval
from rimmodel.planning.present import AS_DRAWN, is_measured, present_case
from rimmodel.rotor import Rotor
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.case.doubts import case_doubts
from rimmodel.rotor.history import History
from rimmodel.rotor.near import near

HOLDS, FAILS, OPEN = "holds", "does not hold", "not shown"
ASKED = {"float_speed_ratio": ("float speed over running speed", ""), "minimum_gap": ("mean air gap", "small length")}
"""What a history can ask for, by its key: in words, and the kind of its unit ("" is a plain ratio)."""

CONFIDENCE = 0.95


@dataclass(frozen=True)
class DutyMargin:
    """Something asked of the machine over a whole history.

    Attributes
    ----------
    key : str
        Of the history in the case; one of `ASKED`.
    least : float, SI
        What is asked for, at least.
    best, low, high : float, SI
        The least value over the history: in the middle of all ranges, and over all that is possible; NaN where the
        history could not be followed.
    when : str
        In which segment the least value of the middle lies; empty where the history could not be followed.
    """

    key: str
    least: float
    best: float
    low: float
    high: float
    verdict: str
    reason: str
    when: str = ""

    @property
    def name(self) -> str:
        """What is asked for, in words."""
        return ASKED[self.key][0]

    @property
    def open(self) -> bool:
        """Whether it is neither kept nor missed by all that is possible."""
        return self.verdict == OPEN

    @property
    def kind(self) -> str:
        """Of `units.KINDS`; "" is a plain ratio."""
        return ASKED[self.key][1]


@dataclass(frozen=True)
class Duty:
    """What a history does to the machine.

    Attributes
    ----------
    basis : str
        On what the fit rests.
    steady_interval : pair of float, rad/s
        Float speed in the steady condition, as taken.
    thermometers : Thermometers or None
        Which two would decide; None where nothing is open.
    agreed : AgreedHeat or None
        What temperatures that were read leave of the ranges; None where none were.
    refusal : str
        Why nothing is shown; empty where the results may decide.
    """

    case: Case
    run: HistoryRun
    basis: str
    steady_interval: tuple[float, float]
    margins: tuple[DutyMargin, ...]
    thermometers: Thermometers | None
    agreed: AgreedHeat | None
    refusal: str


def find_history(case: Case, name: str | None = None) -> History:
    """A history of a case by name, the first when no name is given.

    Raises
    ------
    ValueError
        The case has none.
    KeyError
        It has none of that name; the text names those that there are.
    """
    if not case.histories:
        raise ValueError(
            "the case has no [histories.NAME]: a course of segments to follow; 'rimmodel new FILE' shows one, commented"
        )
    found = {history.name: history for history in case.histories}
    if name is None:
        return case.histories[0]
    if name not in found:
        raise KeyError(f"no history {name!r}{near(name, found)}; there are: {', '.join(found)}")
    return found[name]


def run_duty(case: Case, name: str | None = None, measurement: Measurement | None = None, draws: int = DRAWS) -> Duty:
    """Follow a history with all that is possible of heat exchange and fit.

    Parameters
    ----------
    name : str, optional
        Of the history; the first when None.
    measurement : Measurement, optional
        Of the last recording: the fit is then that of the measured machine.
    draws : int
        Of the heat exchange.

    Returns
    -------
    Duty

    Raises
    ------
    ValueError
        No history, no [thermal], or a steady state that is impossible with every value of the ranges.
    KeyError
        No history of that name.
    """
    history = find_history(case, name)
    if case.thermal is None:
        raise ValueError("the case has no [thermal]: heat exchange as ranges; 'rimmodel new FILE' shows it, commented")
    rotor, interval, basis, refusal = _fits(case, measurement)
    agreed = agreed_heat(case, history, draws) if history.readings else None
    if agreed is not None and agreed.contradiction:
        refusal = agreed.contradiction
    values = None if agreed is None or agreed.contradiction else agreed.values
    run = run_history(case, history, draws, values, rotor)
    concerned = (None, case.thermal.steady_state, history.start)
    doubts = [row.text for row in case_doubts(case) if row.blocks and row.item is None and row.condition in concerned]
    refusal = f"the case is in doubt: {doubts[0]}" if doubts else refusal
    of_mean = tuple(_margins(case, run, refusal))
    margins = tuple(_along_the_rim(case, row) for row in of_mean)
    return Duty(case, run, basis, interval, margins, _thermometers(run, of_mean), agreed, refusal)


def _fits(case: Case, measurement: Measurement | None) -> tuple[Rotor, tuple[float, float], str, str]:
    """The rotor as it is now with its interference at three values (rotor, 1, 1), what that rests on, and a refusal."""
    present, basis = present_case(case, measurement)
    rotor, steady_name = present.rotor, case.thermal.steady_state if case.thermal else ""
    _, steady = case.condition(steady_name)
    best = float(float_speed(rotor, steady).speed)
    if measurement is not None and is_measured(measurement):
        low, high = by_test(measurement.machines, "float_speed", steady_name).interval
    else:
        low, high = predicted_interval(case, "float_speed", steady_name, CONFIDENCE)
    if measurement is not None and measurement.disqualified:
        basis = f"{AS_DRAWN}: '{measurement.label}' is not used for any verdict"
    if not (np.isfinite([low, high]).all() and low > 0):
        why = (
            f"the float speed in condition '{steady_name}' has no finite interval {basis}; margins that rest on it are "
            "not shown"
        )
        return rotor, (low, high), basis, why
    speeds = np.array([min(max(best, low), high), low, high])
    needed = interference_for_float_speed(rotor, steady, speeds)[:, np.newaxis, np.newaxis]
    if measurement is None or not is_measured(measurement):
        return rotor.with_interference(needed), (low, high), basis, ""
    lost = replace(rotor.fit, settlement=np.asarray(rotor.fit.settlement) + np.asarray(rotor.fit.interference) - needed)
    return replace(rotor, fit=lost), (low, high), basis, ""


def _margins(case: Case, run: HistoryRun, refusal: str) -> list[DutyMargin]:
    rows = []
    history = run.history
    if history.float_speed_ratio is not None:
        ratio = np.nan_to_num(run.course.float_speed_ratio, nan=0.0)
        least = history.float_speed_ratio
        rows.append(_margin("float_speed_ratio", least, ratio.min(axis=1), refusal, _when(run, ratio[0])))
    if history.minimum_gap is not None:
        course = np.nan_to_num(run.course.air_gap, nan=0.0)
        gap = course.min(axis=1)
        shift = _gap_doubt(case)
        spread = np.concatenate([gap[:1], gap[1:] - shift, gap[1:] + shift])
        rows.append(_margin("minimum_gap", history.minimum_gap, spread, refusal, _when(run, course[0])))
    return rows


def _along_the_rim(case: Case, margin: DutyMargin) -> DutyMargin:
    """The margin without a "holds" of the float speed that the mean over the length of the rim alone keeps."""
    alike = not any(map(case.rotor.differs_along, case.conditions.values()))
    if alike or margin.key != "float_speed_ratio" or margin.verdict != HOLDS:
        return margin
    reason = (
        "the mean over the length of the rim keeps it, but in this case shims, heat or poles differ along it, and one "
        "end lifts off before"
    )
    return replace(margin, verdict=OPEN, reason=reason)


def _when(run: HistoryRun, middle: Floats) -> str:
    """In which segment a course is least, and when."""
    place = int(np.argmin(middle))
    segment = int(run.course.heat.segment[place])
    hours = float(run.course.heat.time[place]) / 3600.0
    return f"in segment {segment + 1} ({run.history.segments[segment].kind}), {hours:.2f} h after the start"


def _gap_doubt(case: Case) -> float:
    """Half of the interval of the gap at rated speed in the steady condition by the tolerances of the case, m."""
    name = case.thermal.steady_state if case.thermal else ""
    low, high = predicted_interval(case, "gap_at_rated", name, CONFIDENCE)
    best = float(evaluate("gap_at_rated", case.rotor, case.conditions[name]))
    found = max(best - low, high - best)
    return found if np.isfinite(found) else 0.0


def _margin(key: str, least: float, values: Floats, refusal: str, when: str) -> DutyMargin:
    low, high = float(values.min()), float(values.max())
    if refusal:
        return DutyMargin(key, least, float(values[0]), low, high, OPEN, refusal, when)
    verdict = HOLDS if low >= least else FAILS if high < least else OPEN
    reason = {
        HOLDS: "it is kept over the whole range of heat transfer and fit",
        FAILS: "it is missed over the whole range of heat transfer and fit",
        OPEN: "it is kept over a part of the range of heat transfer and fit only",
    }[verdict]
    return DutyMargin(key, least, float(values[0]), low, high, verdict, reason, when)


def margins_not_followed(history: History, reason: str) -> tuple[DutyMargin, ...]:
    """What a history asks for, not shown, because it cannot be followed for the reason that is given."""
    unknown = float("nan")
    return tuple(
        DutyMargin(key, least, unknown, unknown, unknown, OPEN, reason) for key, least in history.asked.items()
    )


def _thermometers(run: HistoryRun, margins: tuple[DutyMargin, ...]) -> Thermometers | None:
    """The pair that tells most of the restart from the rest of the history, or else of the least float speed."""
    draws = len(run.model.possible)
    course, found = run.course, run.restart
    asked = None
    if found is not None and OPEN in found.verdicts(found.speed, found.ratio):
        segment = first_rest(run.history, course.heat) or 0
        resting = np.flatnonzero(course.heat.segment == segment)
        length = course.heat.time[resting[-1]] - found.stopped_at
        inside = np.flatnonzero(found.time <= length)
        place = int(inside[np.argmin(found.lowest[0, inside])])
        quantity, asked = found.lowest[:, place], found.ratio * found.speed
        moment = int(resting[np.argmin(np.abs(course.heat.time[resting] - found.stopped_at - found.time[place]))])
    elif any(row.open for row in margins):
        moment = int(np.argmin(np.nan_to_num(course.float_speed_ratio[0], nan=np.inf)))
        quantity = course.float_speed[:, moment]
        asked = next((row.least * course.heat.speed[moment] for row in margins if row.key == "float_speed_ratio"), None)
    else:
        return None
    state = course.heat.state[:, moment]
    return deciding_thermometers(quantity.reshape(-1, draws), state, run.model.network, asked)
