"""The checks against limits and the load rejection as figures, tables for JSON, and text."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.behaviour.aftermath import after_overspeed
from rimmodel.behaviour.criterion import EXCEEDS, NOT_CHECKED, Criterion
from rimmodel.behaviour.limits import checks
from rimmodel.behaviour.load_rejection import FloatingTime, floating_time, rejection_speed
from rimmodel.evidence.measure import Measurement
from rimmodel.plotting.limits_chart import limits_chart
from rimmodel.plotting.rejection_chart import Afloat, rejection_chart
from rimmodel.review.fit_table import number
from rimmodel.review.present import present_case
from rimmodel.rotor.case import Case
from rimmodel.units import KILONEWTON, MEGAPASCAL, MILLIMETRE, RPM

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PRINT = {"stress": ("MPa", MEGAPASCAL), "torque": ("kN m", KILONEWTON), "": ("-", 1.0)}
"""Unit of print and its size in SI, by kind of check."""


def case_checks(case: Case, measurement: Measurement | None = None) -> tuple[Criterion, ...]:
    """Every check of a case in its worst condition, with the rotor as it is now.

    Stresses in spider and keys are those of the drawn parts under the contact pressure of the measured rotor.
    """
    present, _ = present_case(case, measurement)
    carrier = None if present is case else case.rotor
    return checks(present.rotor, case.conditions, case.limits, case.torque, case.duty, carrier)


def words_of(row: Criterion) -> str:
    """Name of a check with the state in which it counts."""
    return f"{row.name}, {row.at}" if row.at else row.name


def listed_once(rows: Sequence[Criterion]) -> list[Criterion]:
    """The checks, those without an input once each instead of once a speed: known ones first, in their order."""
    absent: dict[tuple[str, str], Criterion] = {}
    for row in rows:
        if row.missing:
            absent.setdefault((row.name, row.missing), replace(row, at="", condition=""))
    return [*(row for row in rows if not row.missing), *absent.values()]


def exceeded(rows: Sequence[Criterion], basis: str = "") -> tuple[str, ...]:
    """Sentences on the checks that exceed their limits, and on values beyond a limit that decides nothing.

    Parameters
    ----------
    rows : sequence of Criterion
        Of one machine.
    basis : str
        On what they rest, such as "as drawn".

    Returns
    -------
    tuple of str
        Empty where nothing lies beyond a limit.

    >>> from rimmodel.behaviour.criterion import About, at_most
    >>> exceeded([at_most("arm stress", About("rated", "hot", "", ""), 180e6, 172.5e6)])
    ('1 of 1 check against limits exceeds its limit: arm stress, rated (hot) 180 MPa against at most 172.5 MPa.',)
    """
    resting = f" ({basis})" if basis else ""
    decided = [row for row in rows if row.binding and not row.missing]
    beyond = [row for row in decided if row.status == EXCEEDS]
    informing = [row for row in rows if not row.binding and not row.missing and not bool(row.holds)]
    sentences = []
    if beyond:
        exceed = "exceeds its limit" if len(beyond) == 1 else "exceed their limits"
        names = "; ".join(against_limit(row) for row in beyond)
        checked = f"check{'s' if len(decided) > 1 else ''} against limits"
        sentences.append(f"{len(beyond)} of {len(decided)} {checked} {exceed}{resting}: {names}.")
    if informing:
        lie = "value lies" if len(informing) == 1 else "values lie"
        names = "; ".join(f"{against_limit(row)}: {row.for_information}" for row in informing)
        sentences.append(
            f"For information, {len(informing)} {lie} beyond a limit that does not decide{resting}: {names}."
        )
    return tuple(sentences)


def exceeded_in_brief(rows: Sequence[Criterion], basis: str = "") -> tuple[str, ...]:
    """The same for the headline: what exceeds in full, what lies beyond a limit for information by name alone."""
    informing = [row for row in rows if not row.binding and not row.missing and not bool(row.holds)]
    sentences = exceeded([row for row in rows if row.binding], basis)
    if not informing:
        return sentences
    lie = "value lies" if len(informing) == 1 else "values lie"
    names = "; ".join(row.name for row in informing)
    return (*sentences, f"For information, {len(informing)} {lie} beyond a limit that does not decide: {names}.")


def limits_sentences(rows: Sequence[Criterion], basis: str) -> tuple[str, ...]:
    """What the checks come to, in sentences for a page: how many meet, exceed, inform, and are not checked."""
    decided = [row for row in rows if row.binding and not row.missing]
    absent = [row for row in listed_once(rows) if row.missing]
    meets = f"All {len(decided)} checks that decide meet their limits ({basis})."
    sentences = [] if any(row.status == EXCEEDS for row in decided) else [meets]
    sentences += exceeded(rows, basis)
    if absent:
        sentences.append(
            f"{len(absent)} more {'is' if len(absent) == 1 else 'are'} not checked, as an input is missing."
        )
    return tuple(sentences)


def against_limit(row: Criterion) -> str:
    """A check in words: its name, where and in which condition, and value against limit."""
    bound = "at most" if row.at_most else "at least"
    where = f" ({row.condition})" if row.condition else ""
    return f"{words_of(row)}{where} {value_text(row.value, row.kind)} against {bound} {value_text(row.limit, row.kind)}"


def value_text(value: ArrayLike, kind: str) -> str:
    """A value or a limit with its unit of print: four figures, never in powers of ten.

    Parameters
    ----------
    value : float or array, SI
        Of one number.
    kind : str
        Of the check.

    Returns
    -------
    str

    >>> value_text(21.684e6, "torque"), value_text(1.5, ""), value_text(float("inf"), "")
    ('21,680 kN m', '1.5', 'without bound')
    """
    unit, size = PRINT[kind]
    shown = float(np.asarray(value)) / size
    if not math.isfinite(shown):
        return "without bound" if shown > 0 else "none"
    digits = 3 - math.floor(math.log10(abs(shown))) if shown else 0
    number_text = f"{round(shown, digits):,.{max(digits, 0)}f}"
    number_text = number_text.rstrip("0").rstrip(".") if "." in number_text else number_text
    return f"{number_text} {unit}" if kind else number_text


def use_of(row: Criterion) -> float:
    """Share of the limit that is used: value over limit for a ceiling, limit over value for a floor.

    Parameters
    ----------
    row : Criterion

    Returns
    -------
    float, -

    >>> from rimmodel.behaviour.criterion import About, at_least
    >>> print(f"{use_of(at_least('x', About('', '', '', ''), 4.0, 3.0)):.2f}")
    0.75
    """
    value, limit = float(row.value), float(row.limit)
    if math.isnan(value):
        return math.inf  # no such state: the pull has closed the gap
    if row.at_most:
        return value / limit
    return limit / value if value else math.inf


def limits_table(rows: Sequence[Criterion]) -> list[dict[str, Any]]:
    """The checks for JSON, in units of print; those that lack an input once each."""
    return [
        {
            "name": row.name,
            "at": row.at,
            "condition": row.condition,
            "unit": PRINT[row.kind][0],
            "value": number(float(row.value) / PRINT[row.kind][1]),
            "limit": number(float(row.limit) / PRINT[row.kind][1]),
            "bound": "at most" if row.at_most else "at least",
            "margin": number(float(row.margin)),
            "status": row.status,
            "missing": row.missing or None,
            "source": row.source,
            "replaced_by": row.key,
            "note": row.note,
        }
        for row in listed_once(rows)
    ]


def limits_text(rows: Sequence[Criterion]) -> str:
    """The checks for a terminal or on paper: those that exceed first, then by margin, then what was not checked."""
    known = sorted((row for row in rows if not row.missing), key=_worst_first)
    width = max((len(words_of(row)) for row in known), default=0)
    lines = []
    for row in known:
        sign = "<=" if row.at_most else ">="
        lines.append(
            f"{words_of(row):{width}}  {value_text(row.value, row.kind):>11} {sign} "
            f"{value_text(row.limit, row.kind):13}  {row.status}; {row.condition}; {row.source}"
        )
    absent = [f"    {row.name}: {row.missing}" for row in listed_once(rows) if row.missing]
    return "\n".join([*lines, *(["", f"{NOT_CHECKED}, as an input is missing:", *absent] if absent else [])])


def _worst_first(row: Criterion) -> tuple[bool, float]:
    margin = float(row.margin)
    return not row.binding, -math.inf if math.isnan(margin) else margin


def limits_figure(rows: Sequence[Criterion]) -> Figure:
    """Use of every limit that could be checked, most used first; beyond all where the pull has closed the gap."""
    known = sorted((row for row in rows if not row.missing), key=lambda row: (not row.binding, -use_of(row)))
    return limits_chart(
        [words_of(row) for row in known], [use_of(row) for row in known], [row.binding for row in known]
    )


def after_highest_speed(case: Case) -> dict[str, str]:
    """What the highest speed that the case names leaves of interference and float speed, in words by condition.

    Empty where the rim has no yield strength.
    """
    if case.rotor.rim.material.yield_strength is None:
        return {}
    name, speed = list(case.rotor.speeds.named.items())[-1]
    said = {}
    for state, condition in case.conditions.items():
        try:
            left = after_overspeed(case.rotor, condition, float(speed))
        except ValueError as refused:
            said[state] = f"after {name}: no answer, {refused}"
            continue
        lost = left.bore_growth / MILLIMETRE
        said[state] = f"after {name}: {left.note}; {lost:.3f} mm of interference lost, {left.float_speed.note}"
    return said


def rejection_times(case: Case) -> dict[str, FloatingTime]:
    """How long the rim floats in a load rejection, by condition; empty where the case gives no [load_rejection]."""
    if case.load_rejection is None:
        return {}
    return {name: floating_time(case.rotor, state, case.load_rejection) for name, state in case.conditions.items()}


def rejection_table(case: Case) -> dict[str, Any] | None:
    """The load rejection for JSON; None where the case gives none."""
    found = rejection_times(case)
    if not found:
        return None
    first = next(iter(found.values()))
    return {
        "peak_speed_rpm": first.peak_speed / RPM,
        "peak_time_s": first.peak_time,
        "conditions": {
            name: {
                "float_speed_rpm": number(state.float_speed / RPM),
                "lifts_at_s": number(state.lifts_at),
                "seats_at_s": number(state.seats_at),
                "afloat_s": number(state.duration),
                "note": state.note,
            }
            for name, state in found.items()
        },
    }


def rejection_figure(case: Case) -> Figure | None:
    """Speed against time with the float speeds; None where the case gives no load rejection."""
    rejection, found = case.load_rejection, rejection_times(case)
    if rejection is None:
        return None
    decay = float(rejection.decay_time)
    ends = [state.seats_at for state in found.values() if np.isfinite(state.seats_at)]
    time = np.linspace(0.0, max([2 * decay, *(1.1 * end for end in ends)]), 601)
    states = [Afloat(name, state.float_speed / RPM, state.lifts_at, state.seats_at) for name, state in found.items()]
    marks = {name: float(speed) / RPM for name, speed in case.rotor.speeds.named.items()}
    return rejection_chart(time, rejection_speed(case.rotor.speeds.rated, rejection, time) / RPM, states, marks)
