"""Temperatures that a recording holds against those of its condition: what departs, what drifts, and what that does."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Set
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.behaviour import float_speed, sweep
from rimmodel.evidence.reduction.speed_points import SpeedPoints
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.requirements import CaseRecord
from rimmodel.units import celsius, mm, rpm

ALLOWED = 5.0
"""K by which a mean temperature may differ from the condition, or drift in the run, before it is remarked: what a few
sensors on a body that is not quite warmed through leave open (common practice, no source)."""

ALLOWED_RIM_OVER_SPIDER = 3.0
"""K for the difference of rim and spider, which moves the float speed by itself."""

DECIDES = 0.05
"""Share of the float speed, or of the cold gap, from which the effect keeps a recording from deciding anything."""

BODIES = {"rim": "rim_temperature", "spider": "spider_temperature", "pole": "pole_temperature",
          "stator": "stator_temperature"}  # fmt: skip


@dataclass(frozen=True)
class TemperatureDoubts:
    """What the recorded temperatures say against the recording.

    Attributes
    ----------
    remarks, disqualified : tuple of str
        Plain sentences; those of the second keep the recording from deciding anything.
    """

    remarks: tuple[str, ...] = ()
    disqualified: tuple[str, ...] = ()


def temperature_doubts(
    rotor: Rotor,
    condition: Condition,
    points: SpeedPoints,
    counted: Mapping[str, Floats] | None = None,
    gain: float = CaseRecord.temperature_gain,
) -> TemperatureDoubts:
    """Compare recorded temperatures with those of the condition, and the first point with the last.

    Parameters
    ----------
    rotor : Rotor
        As it is in the run: its interference sets the float speed that the effect is stated for.
    condition : Condition
        That the case states for the recording.
    points : SpeedPoints
        With the temperatures that were recorded; those that were not are nan and nothing is reported of them.
    counted : mapping of str to array (point,), K, optional
        Above the condition, by body, of those that are part of the model of the gaps: they speak against nothing.
    gain : float, -
        Standard uncertainty of how far the mean temperatures move with those.
    """
    taken = counted or {}
    recorded = {
        body: getattr(points, name)
        for body, name in BODIES.items()
        if body not in taken and np.isfinite(getattr(points, name)).any()
    }
    if taken:
        ends = ", ".join(
            f"{body} {kelvin.min():+.1f} to {kelvin.max():+.1f} K" for body, kelvin in sorted(taken.items())
        )
        remark = (
            f"recorded temperatures are part of the fit, against the condition: {ends}; the mean of each body is taken "
            f"to move with them to {100 * gain:g} % (temperature_gain of the record)"
        )
        more = temperature_doubts(rotor, condition, points_without(points, taken)) if recorded else TemperatureDoubts()
        return TemperatureDoubts((remark, *more.remarks), more.disqualified)
    found: list[tuple[str, bool]] = []
    if recorded:
        weight = points.count.astype(float)
        means = {body: _mean(values, weight) for body, values in recorded.items()}
        found += _departing(rotor, condition, means)
        found += _drifting(rotor, condition, points, recorded)
    return TemperatureDoubts(
        tuple(sentence for sentence, decides in found if not decides),
        tuple(sentence for sentence, decides in found if decides),
    )


def points_without(points: SpeedPoints, bodies: Collection[str]) -> SpeedPoints:
    """The points as if nothing had been recorded of these bodies."""
    nothing = np.full(points.speed.shape, np.nan)
    gone: dict[str, Any] = {BODIES[body]: nothing for body in bodies}
    return replace(points, **gone)


def _mean(values: np.ndarray, weight: np.ndarray) -> float:
    known = np.isfinite(values)
    return float(np.average(values[known], weights=weight[known]))


def _in_condition(condition: Condition, temperatures: dict[str, float]) -> Condition:
    changed: dict[str, Any] = {BODIES[body]: value for body, value in temperatures.items()}
    return replace(condition, **changed)


def _stated(condition: Condition) -> dict[str, float]:
    pole = condition.rim_temperature if condition.pole_temperature is None else condition.pole_temperature
    return {
        "rim": float(np.mean(condition.rim_temperature)),
        "spider": float(np.mean(condition.spider_temperature)),
        "pole": float(np.mean(pole)),
        "stator": float(np.mean(condition.stator_temperature)),
    }


def _beyond(before: dict[str, float], after: dict[str, float]) -> list[str]:
    """Bodies whose temperature moves further than allowed, and rim over spider where both are known."""
    moved = {body: after[body] - before[body] for body in after}
    named = [body for body, by in moved.items() if abs(by) > ALLOWED]
    if {"rim", "spider"} <= moved.keys() and abs(moved["rim"] - moved["spider"]) > ALLOWED_RIM_OVER_SPIDER:
        named.append("rim over spider")
    return named


def _effect(rotor: Rotor, before: Condition, after: Condition, recorded: Set[str]) -> tuple[str, bool]:
    """What the step from one condition to another does to float speed and gap, in words, and whether it is grave.

    The float speed depends on rim over spider: where not both were recorded it may have moved by anything.
    """
    first, second = (float(float_speed(rotor, state).speed) for state in (before, after))
    gaps = [float(sweep(rotor, state, 0.0).air_gap) for state in (before, after)]
    step = gaps[1] - gaps[0]
    grave = not abs(step) <= DECIDES * float(np.mean(rotor.air_gap.cold))
    carrying = {"rim", "spider"} & recorded
    if len(carrying) < 2:
        words = f"{mm(step, '+.2f')} of gap at standstill"
        lacking = "; rim over spider, which moves the float speed, is not known" if carrying else ""
        return words + lacking, bool(carrying) or grave
    if not (np.isfinite(first) and np.isfinite(second)):
        return f"{mm(step, '+.2f')} of gap, and only one of the two has a float speed", True
    grave |= abs(second - first) > DECIDES * max(first, second)
    return f"{rpm((second - first), '+.1f')} of float speed, {mm(step, '+.2f')} of gap at standstill", grave


def _degrees(temperature: float) -> str:
    return celsius(temperature, ".1f")


def _list(named: list[str], before: dict[str, float], after: dict[str, float]) -> str:
    parts = []
    for name in named:
        if name in after:
            parts.append(f"{name} {_degrees(after[name])} against {_degrees(before[name])}")
        else:
            one, other = (state["rim"] - state["spider"] for state in (after, before))
            parts.append(f"{name} {one:+.1f} K against {other:+.1f} K")
    return ", ".join(parts)


def _departing(rotor: Rotor, condition: Condition, means: dict[str, float]) -> list[tuple[str, bool]]:
    stated = _stated(condition)
    named = _beyond(stated, means)
    if not named:
        return []
    words, grave = _effect(rotor, condition, _in_condition(condition, means), means.keys())
    return [
        (
            f"recorded temperatures differ from the condition: {_list(named, stated, means)} ({words}); name a "
            "condition with the temperatures of the run in the record",
            grave,
        )
    ]


def _drifting(
    rotor: Rotor, condition: Condition, points: SpeedPoints, recorded: dict[str, np.ndarray]
) -> list[tuple[str, bool]]:
    if not np.isfinite(points.time).all() or points.time.size < 2:
        return []
    order = np.argsort(points.time)
    ends: tuple[dict[str, float], dict[str, float]] = ({}, {})
    for body, values in recorded.items():
        known = values[order][np.isfinite(values[order])]
        if known.size > 1:
            ends[0][body], ends[1][body] = float(known[0]), float(known[-1])
    named = _beyond(*ends)
    if not named:
        return []
    before, after = (_in_condition(condition, end) for end in ends)
    words, grave = _effect(rotor, before, after, ends[0].keys())
    return [
        (
            f"temperatures drift from the first to the last point of the run: at the end {_list(named, *ends)} at its "
            f"start ({words}); let temperatures settle before the run, or use a part of it at steady temperature",
            grave,
        )
    ]
