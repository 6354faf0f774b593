"""Life of the rim by a course of speed, as table for JSON and as text for a terminal or on paper."""

from __future__ import annotations

import textwrap
from typing import Any

import numpy as np

from rimmodel.behaviour.limits.life import YEAR, LifeUse, life_use, starts
from rimmodel.evidence.recording.speed_history import SpeedHistory
from rimmodel.rotor.case.case import Case
from rimmodel.units import in_print, mm, number, rpm
from rimmodel.verdict.cautions import CAUTIONS

WIDTH = 100
DAY = 86400.0
CLASS = 10.0
"""MPa; ends of cycles are listed together in classes of this width. Shares are those of the cycles themselves."""

LISTED = 8
LONG = 1000.0
"""Years beyond which a life is no longer printed as a number: an estimate of order cannot tell."""

SHORT = 28.0
"""Days below which a course is called short for a year."""

NOT_IN_IT = (
    "Not in it: temperatures that change during the course, eddies of field and pull, welds, keys, studs and poles, "
    "fretting, corrosion, and overspeeds that the course does not hold. A share of life is an estimate of order, by "
    "Miner's sum; cracks are found by inspection."
)


def table(case: Case, history: SpeedHistory, used: float = 0.0) -> dict[str, Any]:
    """Starts, cycles and years left by a course of speed, for JSON.

    Parameters
    ----------
    used : float, -
        Share of life used before the course.

    Raises
    ------
    ValueError
        As `life_use`.
    """
    allowed = float(np.max(case.limits.fatigue_damage))
    found = life_use(case.rotor, case.conditions, history.speed, history.duration)
    begun = starts(history.speed, float(case.rotor.speeds.rated))
    per_year = YEAR / history.duration
    return {
        "title": case.title,
        "source": history.source,
        "days": number(history.duration / DAY),
        "rows": len(history.speed),
        "rows_left_out": history.left_out,
        "interference_mm": number(float(case.rotor.fit.interference), "length"),
        "highest_speed_rpm": number(float(history.speed.max()), "speed"),
        "starts": begun,
        "starts_per_year": number(begun * per_year),
        "allowed_share_of_life": allowed,
        "source_of_allowed_share": case.limits.source("fatigue_damage"),
        "share_used_before": used,
        "conditions": [_condition(case, use, allowed, used, per_year) for use in found],
    }


def _condition(case: Case, use: LifeUse, allowed: float, used: float, per_year: float) -> dict[str, Any]:
    steel = case.rotor.rim.material
    years = use.years(allowed, used)
    row: dict[str, Any] = {
        "condition": use.condition,
        "share_per_year": number(use.share_per_year),
        "years_left": number(years) if np.isfinite(years) else None,
        "reaches_ultimate_strength": not np.isfinite(use.share_per_year),
        "ultimate_strength_MPa": number(float(steel.ultimate_strength), "stress"),  # type: ignore[arg-type]
        "goodman_ratio": None,
        "worst_from_MPa": None,
        "worst_to_MPa": None,
        "cycles": _classes(use, per_year),
    }
    if len(use.low):
        ratio, worst = use.worst_cycle(steel)
        row["goodman_ratio"] = number(ratio)
        row["worst_from_MPa"] = number(float(use.low[worst]), "stress")
        row["worst_to_MPa"] = number(float(use.high[worst]), "stress")
    return row


def _classes(use: LifeUse, per_year: float) -> list[dict[str, Any]]:
    """Cycles by classes of their ends, the widest range first."""
    ends = np.stack([np.floor(in_print(use.low, "stress") / CLASS), np.ceil(in_print(use.high, "stress") / CLASS)])
    classes, place = np.unique(ends, axis=1, return_inverse=True)
    count = np.bincount(place.ravel(), use.count, classes.shape[1]) * per_year
    share = np.bincount(place.ravel(), use.share, classes.shape[1]) * per_year
    order = np.lexsort([classes[1], classes[0] - classes[1]])
    return [
        {
            "from_MPa": CLASS * float(classes[0, row]),
            "to_MPa": CLASS * float(classes[1, row]),
            "per_year": number(float(count[row])),
            "share_per_year": number(float(share[row])),
        }
        for row in order
    ]


def text(case: Case, history: SpeedHistory, used: float = 0.0) -> str:
    """The same for a terminal or on paper.

    Parameters
    ----------
    used : float, -
        Share of life used before the course.
    """
    shown = table(case, history, used)
    left_out = f", {shown['rows_left_out']} rows without a number left out" if shown["rows_left_out"] else ""
    lines = [
        case.title,
        "",
        f"Course of speed {shown['source']}: {shown['days']:.4g} days, {shown['rows']} readings{left_out}; up to "
        f"{rpm(float(history.speed.max()))}.",
        f"Starts from rest to rated speed: {shown['starts']}, which is {shown['starts_per_year']:.4g} a year.",
        _fit_words(case),
    ]
    if shown["days"] < SHORT:
        lines.append(
            f"A course of {shown['days']:.3g} days is short: it is taken as if every day of the year were like it."
        )
    wrapped = [part for line in lines[2:] for part in textwrap.wrap(line, WIDTH)]
    body = [part for row in shown["conditions"] for part in _condition_lines(row, shown)]
    return "\n".join(
        [*lines[:2], *wrapped, *body, "", *textwrap.wrap(NOT_IN_IT, WIDTH), *textwrap.wrap(" ".join(CAUTIONS), WIDTH)]
    )


def _condition_lines(row: dict[str, Any], table: dict[str, Any]) -> list[str]:
    if row["worst_to_MPa"] is None:
        return ["", f"condition {row['condition']}: the speed never changes, so there is no cycle"]
    lines = ["", *textwrap.wrap(f"condition {row['condition']}: {_verdict_words(row, table)}", WIDTH)]
    lines.append("    local peak stress of the rim bore      cycles a year   share of life a year")
    for part in row["cycles"][:LISTED]:
        span = f"{part['from_MPa']:6.0f} to {part['to_MPa']:6.0f} MPa"
        lines.append(f"    {span:38} {part['per_year']:14.4g} {_share(part['share_per_year']):>22}")
    more = len(row["cycles"]) - LISTED
    if more > 0:
        lines.append(f"    {more} more classes of smaller range")
    return lines


def _verdict_words(row: dict[str, Any], table: dict[str, Any]) -> str:
    """What the course does to the life in a condition, in a sentence."""
    worst = f"{row['worst_from_MPa']:.1f} to {row['worst_to_MPa']:.1f} MPa"
    if row["reaches_ultimate_strength"]:
        return (
            f"NO LIFE IS LEFT. The worst cycle, {worst}, reaches the ultimate strength of the rim steel, "
            f"{row['ultimate_strength_MPa']:.0f} MPa (elastic, local peak): no share of life and no years can be "
            "stated after it. If this speed was really run, inspect the rim for cracks and yielding before the machine "
            "turns again; if the reading is wrong, correct the log and repeat"
        )
    if row["years_left"] is None:
        return (
            f"no cycle reaches the endurance limit; the worst, {worst}, is {row['goodman_ratio']:.2f} times from the "
            "Goodman line"
        )
    allowed = f"{table['allowed_share_of_life']:g} ({table['source_of_allowed_share']}"
    years = f"over {LONG:,.0f}" if row["years_left"] > LONG else f"{row['years_left']:.3g}"
    return (
        f"{row['share_per_year']:.3g} of the life a year, so the allowed share of {allowed}; "
        f"{table['share_used_before']:g} used before) lasts {years} years; worst cycle {worst}"
    )


def _share(share: float | None) -> str:
    """A share of life; none can be stated of a cycle that reaches the ultimate strength."""
    return "strength reached" if share is None else f"{share:.3g}"


def _fit_words(case: Case) -> str:
    """On which interference the stresses rest, in a sentence."""
    fit = case.rotor.fit
    lost = float(fit.settlement) + float(fit.stack_growth)
    less = f", {'less' if lost > 0 else 'plus'} {mm(abs(lost))} of settlement and stack growth" if lost else ""
    return (
        f"Interference: {mm(fit.interference)} radial, as the case states{less}; a recording, which may show another, "
        "is not used here."
    )
