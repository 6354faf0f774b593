"""The checks against limits and the load rejection as figures, tables for JSON, and text."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from rimmodel.behaviour.aftermath import after_overspeed
from rimmodel.behaviour.criterion import Criterion
from rimmodel.behaviour.limits import checks
from rimmodel.behaviour.load_rejection import FloatingTime, floating_time, rejection_speed
from rimmodel.plotting.limits_chart import limits_chart
from rimmodel.plotting.rejection_chart import Afloat, rejection_chart
from rimmodel.review.fit_table import number
from rimmodel.rotor.case import Case
from rimmodel.units import KILONEWTON, MEGAPASCAL, MILLIMETRE, RPM

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PRINT = {"stress": ("MPa", MEGAPASCAL), "torque": ("kN m", KILONEWTON), "": ("-", 1.0)}
"""Unit of print and its size in SI, by kind of check."""


def case_checks(case: Case) -> tuple[Criterion, ...]:
    """Every check of a case, in its worst condition."""
    return checks(case.rotor, case.conditions, case.limits, case.torque, case.duty)


def words_of(row: Criterion) -> str:
    """Name of a check with the state in which it counts."""
    return f"{row.name}, {row.at}" if row.at else row.name


def verdict_of(row: Criterion) -> str:
    """In a word: holds, does not hold, not checked, or told only."""
    if row.missing:
        return "not checked"
    if not row.binding:
        return "told only"
    return "holds" if bool(row.holds) else "does not hold"


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
    if row.at_most:
        return value / limit
    return limit / value if value else math.inf


def limits_table(rows: Sequence[Criterion]) -> list[dict[str, Any]]:
    """The checks for JSON, in units of print."""
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
            "verdict": verdict_of(row),
            "missing": row.missing or None,
            "source": row.source,
            "replaced_by": row.key,
            "note": row.note,
        }
        for row in rows
    ]


def limits_text(rows: Sequence[Criterion]) -> str:
    """The checks for a terminal or on paper: broken ones first, then by margin, then what was not checked."""
    known = sorted((row for row in rows if not row.missing), key=lambda row: (not row.binding, float(row.margin)))
    width = max((len(words_of(row)) for row in known), default=0)
    lines = []
    for row in known:
        unit, size = PRINT[row.kind]
        sign, limit = ("<=" if row.at_most else ">="), f"{float(row.limit) / size:.4g} {unit if row.kind else ''}"
        lines.append(
            f"{words_of(row):{width}}  {float(row.value) / size:9.4g} {sign} {limit:14}  {verdict_of(row):13}  "
            f"{row.condition}; {row.source}"
        )
    absent = sorted({f"    {row.missing}: {row.name}" for row in rows if row.missing})
    return "\n".join([*lines, *(["", "not checked, for want of:", *absent] if absent else [])])


def limits_figure(rows: Sequence[Criterion]) -> Figure:
    """Use of every limit that could be checked, most used first."""
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
