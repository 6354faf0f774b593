"""Laminations that may slip in the first overspeed, in sentences and for JSON; not stated without [clamping]."""

from __future__ import annotations

from typing import Any

import numpy as np

from rimmodel.behaviour.contact.stack_slip import StackSlip, stack_slip
from rimmodel.rotor.case.case import Case
from rimmodel.units import in_mm, in_rpm, number, rpm

NOT_STATED = (
    "Slip of the laminations: not stated; [clamping] of the case (stud force, friction, segment overlap) would show "
    "from which speed they slip and what the first overspeed leaves."
)
BASIS = (
    "the rim as drawn, new, run up without field; ranges hold all clamping that is possible; play of the studs in "
    "their holes, which would end a large slip, is not in it"
)


def slip_table(case: Case) -> dict[str, Any]:
    """From where the laminations slip and what the first overspeed and runaway leave, by condition; for JSON."""
    if case.clamping is None:
        return {"stated": False, "basis": None, "runs": [], "sentences": [NOT_STATED]}
    speeds = case.rotor.speeds
    named = {name: float(speed) for name, speed in speeds.named.items() if name in ("overspeed", "runaway")}
    runs, sentences = [], []
    for state, condition in case.conditions.items():
        for name, speed in (named or {"rated": float(speeds.rated)}).items():
            found = stack_slip(case.rotor, condition, case.clamping, speed)
            runs.append(_entry(state, name, found))
            sentences.append(_sentence(state, name, found))
    return {"stated": True, "basis": BASIS, "runs": runs, "sentences": [*sentences, f"Basis: {BASIS}."]}


def _entry(condition: str, name: str, found: StackSlip) -> dict[str, Any]:
    return {
        "condition": condition,
        "run_to": name,
        "run_to_rpm": number(found.highest, "speed"),
        "slips": _verdict(found),
        "slips_from_rpm": [number(end, "speed") for end in found.slips_from],
        "growth_left_mm": [in_mm(end) for end in found.growth],
        "interference_before_mm": in_mm(found.interference_before),
        "interference_left_mm": [in_mm(end) for end in found.interference],
        "float_speed_after_rpm": [number(end, "speed") for end in found.float_speed],
        "slips_anew_beyond_rpm": number(found.highest, "speed") if np.isfinite(found.slips_from[0]) else None,
    }


def _verdict(found: StackSlip) -> str:
    """Whether the laminations slip in the run: with all clamping that is possible, with none, or not shown."""
    least, most = found.slips_from
    return "slips" if np.isfinite(most) else "not shown" if np.isfinite(least) else "holds"


def _sentence(condition: str, name: str, found: StackSlip) -> str:
    head = f"Laminations in the first {name} ({condition}, {rpm(found.highest)})"
    verdict = _verdict(found)
    if verdict == "holds":
        return f"{head}: they hold with all clamping that is possible, and nothing is left of it."
    least, most = found.slips_from
    begins = "the shrink alone makes them slip" if least == 0 else f"they slip from {rpm(least)}"
    if most == 0:
        begins = "the shrink alone makes them slip with all clamping that is possible"
    elif verdict == "slips":
        begins += f" with the weakest clamping and from {rpm(most)} with the strongest"
    else:
        begins = f"whether they slip is not shown: {begins} with the weakest clamping, and hold with the strongest"
    grown, left = (tuple(in_mm(end) for end in pair) for pair in (found.growth, found.interference))
    return (
        f"{head}: {begins}. Left at standstill: {grown[0]:.3f} to {grown[1]:.3f} mm of growth, {left[0]:.2f} to "
        f"{left[1]:.2f} mm of {in_mm(found.interference_before):.2f} mm of interference; {_after(found)}."
    )


def _after(found: StackSlip) -> str:
    """The float speed after the run in words, which holds up to the speed of the run alone."""
    low, high = found.float_speed
    if not np.isfinite([low, high]).all():
        return "the float speed after it is not known"
    if low == 0:
        return f"float speed after it at most {rpm(high)}, and the rim may be loose at standstill"
    beyond = ", where it lies beyond that speed no more than an upper bound" if high > found.highest else ""
    return f"float speed after it {in_rpm(low):.1f} to {rpm(high)}{beyond}"
