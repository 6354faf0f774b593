"""Sister units of a fleet: which are alike, what their runs say together, and what that may not be used for.

Every verdict of a review rests on its own unit. What sister units say stands beside it, and is not used for any verdict
unless that is asked for by name; even then the verdict of the unit alone stays in its place.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from rimmodel.arrays import Interval
from rimmodel.evidence.measured.machine import GAIN, LEVEL, NOISE, TEMPERATURE, ByTest
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.evidence.pooling.family import pooled_family
from rimmodel.rotor.alike import Design
from rimmodel.rotor.case.doubts import blocking_doubt
from rimmodel.verdict.judge import CLAIM_CONFIDENCE, Finding, Verdict, verdict_of_interval
from rimmodel.verdict.result import Review

INTERFERENCE = "effective interference"

OWN = (NOISE, TEMPERATURE, GAIN, LEVEL)
"""Causes that differ from unit to unit; all others are of the common drawing, and no number of units averages them."""

WHO_IS_HURT = (
    "Pooling draws every unit towards its sisters. It helps most units and flatters the worst: a unit that has lost "
    "more of its shrink than the others looks better pooled than it is, and whoever stands beside it relies on that "
    "number. So no verdict rests on a pooled figure: a unit is judged by its own run."
)


@dataclass(frozen=True)
class Measured:
    """One number of a unit by test.

    Attributes
    ----------
    best, own_error : float, SI
        Its standard error from causes that are the unit's own.
    common_error : float, SI
        That from causes which all units of a drawing share.
    interval : pair of float, SI
        With all causes.
    """

    best: float
    own_error: float
    common_error: float
    interval: Interval


@dataclass(frozen=True)
class Bound:
    """A requirement on the float speed of a unit, and its verdict by the unit alone.

    Attributes
    ----------
    threshold : float, rad/s
    confidence : float, -
    """

    name: str
    condition: str
    threshold: float
    at_least: bool
    confidence: float
    verdict: Verdict
    doubted: bool


@dataclass(frozen=True)
class Unit:
    """What a family asks of a reviewed case; `unfit` says why its run is no evidence for a family.

    Attributes
    ----------
    drawn : float, m
        Interference of the drawing.
    """

    file: str
    design: Design
    drawn: float
    numbers: dict[str, Measured] = field(default_factory=dict)
    bounds: tuple[Bound, ...] = ()
    unfit: str = ""


@dataclass(frozen=True)
class PooledNumber:
    """One number of all units of a family; arrays in the order of `files`.

    Attributes
    ----------
    spread : float, SI
        Median of the standard deviation of true values between units; NaN where too few are left to pool. That of the
        interference is of what is left over the drawn interference, so that units may differ in their shims.
    spread_interval : pair of float, SI
    chance : tuple of float, -
        That a value lies at least as far from what the others predict as that of each unit.
    best : tuple of float, SI
    intervals : tuple of pair of float, SI
        After pooling, with all causes.
    predicted : tuple of pair of float, SI
        Interval of what would be measured on each, by the others.
    """

    name: str
    files: tuple[str, ...]
    alone: tuple[Measured, ...]
    spread: float
    spread_interval: Interval
    apart: tuple[bool, ...]
    chance: tuple[float, ...]
    best: tuple[float, ...]
    intervals: tuple[Interval, ...]
    predicted: tuple[Interval, ...]


@dataclass(frozen=True)
class PooledVerdict:
    """A requirement of a unit alone and with its family."""

    file: str
    requirement: str
    condition: str
    alone: Verdict
    pooled: Verdict
    reason: str


@dataclass(frozen=True)
class FleetFamily:
    """The sister units of a fleet.

    Attributes
    ----------
    refused : dict of str
        Why each of the other units is no member, by file.
    not_pooled : dict of str
        Why a number is not pooled, by name.
    verdicts : tuple of PooledVerdict
        Only where they were asked for.
    """

    members: tuple[str, ...]
    refused: dict[str, str]
    numbers: tuple[PooledNumber, ...]
    not_pooled: dict[str, str]
    verdicts: tuple[PooledVerdict, ...] = ()


def unit_of(file: str, review: Review) -> Unit:
    """What a family asks of a review, small enough to be handed from one process to another."""
    case = review.case
    last = review.measurements[-1] if review.measurements else None
    numbers, unfit = _numbers_of(last)
    bounds = tuple(
        Bound(row.name, row.condition, row.threshold, row.at_least, row.confidence, row.verdict, _doubted(review, row))
        for row in review.findings
        if row.role == "requirement" and row.quantity == "float_speed"
    )
    drawn = float(np.mean(case.rotor.fit.interference))
    return Unit(file, Design.of(case.rotor, case.conditions), drawn, numbers, bounds, unfit)


def _doubted(review: Review, row: Finding) -> bool:
    return any(
        item.name == row.name and blocking_doubt(review.case, item) is not None for item in review.case.requirements
    )


def _numbers_of(last: Measurement | None) -> tuple[dict[str, Measured], str]:
    if last is None:
        return {}, "it has no recording"
    if last.disqualified:
        return {}, f"'{last.label}' is not used for any verdict: {last.disqualified[0]}"
    if not last.sets_interference or not last.machines:
        return {}, f"'{last.label}' bounds its interference on one side at most ({last.verdict})"
    found = {INTERFERENCE: last.interference_left}
    found |= {f"float speed, {name}": one for name, one in last.float_speeds.items()}
    rows = {name: _measured(one, last.confidence) for name, one in found.items()}
    return {name: row for name, row in rows.items() if row is not None}, ""


def _measured(found: ByTest, confidence: float) -> Measured | None:
    """None where it has no value, or an open side."""
    from scipy.special import ndtri

    reach = 2.0 * float(ndtri(0.5 * (1.0 + confidence)))
    low, high = found.interval
    own = float(np.hypot.reduce([sum(found.parts.get(cause, (0.0, 0.0))) for cause in OWN])) / reach
    whole = (high - low) / reach
    if not np.isfinite([found.best, own, whole]).all() or own <= 0.0:
        return None
    return Measured(found.best, own, float(np.sqrt(max(whole**2 - own**2, 0.0))), found.interval)


def fleet_family(units: Sequence[Unit], *, verdicts: bool = False) -> FleetFamily | None:
    """Pool the units of a fleet that are alike and have a run each; None where no two cases have one.

    Parameters
    ----------
    units : sequence of Unit
        In any order.
    verdicts : bool
        Also say what each requirement on the float speed would be with the family.
    """
    with_run = [unit for unit in units if not unit.unfit]
    if len(with_run) < 2:
        return None
    refused = {unit.file: unit.unfit for unit in units if unit.unfit}
    alike = [[unit.design.unlike(other.design) for other in with_run] for unit in with_run]
    first = max(range(len(with_run)), key=lambda place: (alike[place].count(""), -place))
    members = []
    for place, unit in enumerate(with_run):
        if apart := alike[place][first]:
            refused[unit.file] = f"its case differs from {with_run[first].file}, with which most units agree: {apart}"
        else:
            members.append(unit)
    pooled, not_pooled = [], {}
    for name in dict.fromkeys(name for unit in members for name in unit.numbers):
        found, reason = _pooled_number(name, members)
        if found is None:
            not_pooled[name] = reason
        else:
            pooled.append(found)
    files = tuple(unit.file for unit in members)
    family = FleetFamily(files, refused, tuple(pooled), not_pooled)
    if not verdicts:
        return family
    return FleetFamily(files, refused, tuple(pooled), not_pooled, tuple(_verdicts(members, family.numbers)))


def _pooled_number(name: str, members: Sequence[Unit]) -> tuple[PooledNumber | None, str]:
    units = [unit for unit in members if name in unit.numbers]
    if name != INTERFERENCE:
        condition = name.removeprefix("float speed, ")
        for unit in units[1:]:
            if apart := unit.design.unlike(units[0].design, condition):
                return None, f"the case of {unit.file} differs from that of {units[0].file}: {apart}"
    alone = tuple(unit.numbers[name] for unit in units)
    base = np.array([unit.drawn if name == INTERFERENCE else 0.0 for unit in units])
    own, error = (np.array([getattr(row, field) for row in alone]) for field in ("best", "own_error"))
    try:
        family = pooled_family(own - base, error, CLAIM_CONFIDENCE)
    except ValueError as too_few:
        return None, str(too_few)
    best = tuple(float(value) for value in family.best + base)
    intervals = tuple(
        row.interval if apart or family.shrunk is None else _with_common(float(low + at), centre, float(high + at), row)
        for row, apart, low, centre, high, at in zip(
            alone, family.apart, family.low, best, family.high, base, strict=True
        )
    )
    predicted = tuple(
        (float(low + at), float(high + at))
        for low, high, at in zip(family.predicted.low, family.predicted.high, base, strict=True)
    )
    shrunk = family.shrunk
    return PooledNumber(
        name, tuple(unit.file for unit in units), alone,
        float("nan") if shrunk is None else shrunk.spread,
        (float("nan"), float("nan")) if shrunk is None else shrunk.spread_interval,
        tuple(bool(one) for one in family.apart), tuple(float(one) for one in family.predicted.chance),
        best, intervals, predicted,
    ), ""  # fmt: skip


def _with_common(low: float, best: float, high: float, row: Measured) -> Interval:
    """The interval with what all units share, side by side in quadrature."""
    from scipy.special import ndtri

    common = float(ndtri(0.5 * (1.0 + CLAIM_CONFIDENCE))) * row.common_error
    return best - float(np.hypot(best - low, common)), best + float(np.hypot(high - best, common))


def _verdicts(members: Sequence[Unit], numbers: Sequence[PooledNumber]) -> list[PooledVerdict]:
    found = []
    for unit in members:
        for bound in unit.bounds:
            pooled, reason = _verdict(unit, bound, numbers)
            found.append(PooledVerdict(unit.file, bound.name, bound.condition, bound.verdict, pooled, reason))
    return found


def _verdict(unit: Unit, bound: Bound, numbers: Sequence[PooledNumber]) -> tuple[Verdict, str]:
    """With the family; that of the unit alone, with the reason, where pooling may not touch it."""
    if bound.doubted:
        return bound.verdict, "the case is in doubt, and sisters do not settle that"
    if bound.confidence != CLAIM_CONFIDENCE:
        return bound.verdict, f"asked at {100 * bound.confidence:g} %, pooled at {100 * CLAIM_CONFIDENCE:g} %"
    for number in numbers:
        if number.name == f"float speed, {bound.condition}" and unit.file in number.files:
            place = number.files.index(unit.file)
            if number.apart[place]:
                return bound.verdict, "the unit stands apart from its sisters and is not pooled"
            pooled = verdict_of_interval(number.intervals[place], bound.threshold, bound.at_least)
            if bound.verdict == "does not hold":
                return bound.verdict, "sisters do not lift what the unit's own run shows"
            return pooled, ""
    return bound.verdict, "not pooled in this condition"
