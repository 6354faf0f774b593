"""The checks against limits and the load rejection as figures, tables for JSON, and text."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from rimmodel.behaviour.contact.aftermath import after_overspeed
from rimmodel.behaviour.contact.load_rejection import FloatingTime, floating_time, rejection_speed
from rimmodel.behaviour.limits.check import Check, listed_once
from rimmodel.plotting import limits_chart, rejection_chart
from rimmodel.rotor.case.case import Case
from rimmodel.units import in_mm, in_rpm, number
from rimmodel.verdict.limits import print_unit, words_of

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def use_of(row: Check) -> float:
    """Share of the limit that is used: value over limit for a ceiling, limit over value for a floor.

    Returns
    -------
    float, -

    >>> from rimmodel.behaviour.limits.check import About, at_least
    >>> print(f"{use_of(at_least('x', About('', '', '', ''), 4.0, 3.0)):.2f}")
    0.75
    """
    value, limit = float(row.value), float(row.limit)
    if math.isnan(value):
        return math.inf  # no such state: the pull has closed the gap
    if row.at_most:
        return value / limit
    return limit / value if value else math.inf


def limits_table(rows: Sequence[Check]) -> list[dict[str, Any]]:
    """The checks for JSON, in units of print; those that lack an input once each."""
    return [
        {
            "name": row.name,
            "at": row.at,
            "condition": row.condition,
            "unit": "-" if unit is None else unit.name,
            "value": number(float(row.value) if unit is None else unit.of(float(row.value))),
            "limit": number(float(row.limit) if unit is None else unit.of(float(row.limit))),
            "bound": "at most" if row.at_most else "at least",
            "margin": number(float(row.margin)),
            "status": row.status,
            "missing": row.missing or None,
            "source": row.source,
            "replaced_by": row.key,
            "note": row.note,
        }
        for row in listed_once(rows)
        for unit in (print_unit(row),)
    ]


def limits_figure(rows: Sequence[Check]) -> Figure:
    """Use of every limit that could be checked, most used first; beyond all where the pull has closed the gap."""
    known = sorted((row for row in rows if not row.missing), key=lambda row: (not row.binding, -use_of(row)))
    return limits_chart.draw(
        [words_of(row) for row in known], [use_of(row) for row in known], [row.binding for row in known]
    )


def after_highest_speed(case: Case) -> dict[str, str]:
    """What the highest speed that the case names leaves of interference and float speed, in words by condition.

    Empty where the rim has no yield strength.
    """
    if case.rotor.rim.material.yield_strength is None:
        return {}
    name, speed = case.rotor.speeds.highest_name, case.rotor.speeds.highest
    said = {}
    for state, condition in case.conditions.items():
        try:
            left = after_overspeed(case.rotor, condition, float(speed))
        except ValueError as refused:
            said[state] = f"after {name}: no answer, {refused}"
            continue
        lost = in_mm(left.bore_growth)
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
        "peak_speed_rpm": in_rpm(first.peak_speed),
        "peak_time_s": first.peak_time,
        "conditions": {
            name: {
                "float_speed_rpm": number(state.float_speed, "speed"),
                "lifts_at_s": number(state.lifts_at),
                "seats_at_s": number(state.seats_at),
                "afloat_s": number(state.duration),
                "note": state.note,
            }
            for name, state in found.items()
        },
    }


def rejection_figure(case: Case) -> Figure:
    """Speed against time with the float speeds.

    Raises
    ------
    ValueError
        The case gives no load rejection.
    """
    rejection, found = case.load_rejection, rejection_times(case)
    if rejection is None:
        raise ValueError("no [load_rejection] in the case: there is nothing to draw against time")
    decay = float(rejection.decay_time)
    ends = [state.seats_at for state in found.values() if np.isfinite(state.seats_at)]
    time = np.linspace(0.0, max([2 * decay, *(1.1 * end for end in ends)]), 601)
    states = [
        rejection_chart.Span(name, in_rpm(state.float_speed), state.lifts_at, state.seats_at)
        for name, state in found.items()
    ]
    marks = {name: in_rpm(float(speed)) for name, speed in case.rotor.speeds.named.items()}
    return rejection_chart.draw(time, in_rpm(rejection_speed(case.rotor.speeds.rated, rejection, time)), states, marks)
