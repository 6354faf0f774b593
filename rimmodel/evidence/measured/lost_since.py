"""What has taken interference between two runs of one machine: bedding of keys and shims, or growth of the stack.

Bedding of keys and shims leaves the gap of the floating rim as it was. A stack whose laminations have slipped has grown
for good, and its gap is narrower wherever the rim floats. Cold gap, pole mass and whatever else both runs share cancel
in the difference; noise, temperature, gain and offset of the sensors do not, as nobody knows that they stayed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from rimmodel.arrays import Interval, floats
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.evidence.measured.machine import READINGS, RULED_OUT, Level
from rimmodel.evidence.measured.measurement import Measurement

LostBy = Literal["keys", "stack", "not shown", "neither", "nothing lost"]


@dataclass(frozen=True)
class LostSince:
    """What has taken interference between two runs.

    Attributes
    ----------
    verdict : str
        "keys" or "stack" where the level of the gap leaves one of them alone, "neither" where it leaves none, "not
        shown" where it leaves both or is not known, "nothing lost" where the interval of the change leaves that open.
    level_change : dict of float, m
        Change of the level of the gap that is left, by cause: near zero for the cause that acts.
    uncertainty : dict of float, m
        Standard uncertainty of each.
    """

    verdict: LostBy
    level_change: dict[str, float]
    uncertainty: dict[str, float]
    reason: str


def lost_since(before: Measurement, after: Measurement, change: Interval, expected: float | None) -> LostSince:
    """Tell bedding of keys from growth of the stack by the level of the gap in two runs.

    Parameters
    ----------
    change : pair of float, m
        Interval of the change of interference.
    expected : float or None, m
        What shims have added in between.

    Returns
    -------
    LostSince
    """
    added = expected or 0.0
    if not change[1] < added:
        return LostSince("nothing lost", {}, {}, "")
    unknown = _unknown(before, after)
    if unknown:
        return LostSince("not shown", {}, {}, unknown)
    first, second = _level(before), _level(after)
    # shims that were added stand in the keys: only what is lost besides may have grown
    slope = _gap_per_growth(after)
    left = {
        cause: second.difference[cause] - first.difference[cause] + share * slope * added
        for cause, share in READINGS.items()
    }
    spread = {cause: float(np.hypot(first.own_uncertainty[cause], second.own_uncertainty[cause])) for cause in READINGS}
    fits = [cause for cause in READINGS if abs(left[cause]) <= RULED_OUT * spread[cause]]
    verdict: LostBy = "neither" if not fits else "not shown" if len(fits) > 1 else _named(fits[0])
    reason = {
        "not shown": "the level of the gap fits both; a smaller sensor_offset of the records would tell them apart",
        "neither": "the level of the gap fits neither: sensors, stator or cold gap may have changed in between",
    }.get(verdict, "")
    return LostSince(verdict, left, spread, reason)


def _named(cause: str) -> LostBy:
    return "keys" if cause == "keys" else "stack"


def _unknown(before: Measurement, after: Measurement) -> str:
    """Why the level says nothing; empty where it does."""
    if before.condition != after.condition:
        return f"the runs were taken in different conditions ({before.condition}, {after.condition})"
    for run in (before, after):
        if run.disqualified:
            return f"'{run.label}' is not used for any verdict"
        if len(run.machines) != 1 or not run.machines[0].noise:
            return f"'{run.label}' does not show its interference with both bounds"
        if not run.machines[0].level.difference:
            return f"'{run.label}' holds changes of the gap alone, not its level"
    return ""


def _level(run: Measurement) -> Level:
    return run.machines[0].level


def _gap_per_growth(run: Measurement) -> float:
    """Level of the gap by which a loss in the stack lies below the same loss in the keys, over the loss."""
    machine = run.machines[0]
    condition = machine.case.conditions[run.condition]
    rotor, fit, loss = machine.case.rotor, machine.case.rotor.fit, 1e-4
    bedded = replace(fit, settlement=floats(fit.settlement) + loss)
    grown = replace(fit, stack_growth=floats(fit.stack_growth) + loss)
    changed = (replace(rotor, fit=lost) for lost in (bedded, grown))
    keys, stack = (float(coefficients(one, condition).floating.at_rest) for one in changed)
    return (keys - stack) / loss


def lost_words(found: LostSince) -> str:
    """What is found, in a sentence; empty where nothing is shown to be lost."""
    if found.verdict == "nothing lost":
        return ""
    if found.verdict in ("not shown", "neither"):
        return f"Whether keys and shims have bedded in or the stack has grown is not shown: {found.reason}."
    return {
        "keys": "The level of the gap shows that keys and shims have bedded in: a stack that had grown would leave "
        "less gap where the rim floats.",
        "stack": "The level of the gap shows that the stack has grown for good, by slip of its laminations or by "
        "yield: keys and shims that bed in leave the gap of the floating rim.",
    }[found.verdict]
