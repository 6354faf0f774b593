"""What a taper along the rim does to a verdict on the mean: the first place to lift off, or the least pressed, decides.

Float speed, interference left and contact pressure are those of the mean of the rim. Where the case states that shims,
heat or poles differ along it, a floor that the mean meets is not shown unless the worst place meets it as well: the
interval is moved by what the drawn rotor has between the mean and that place, at the safe end of what is not known of
stack and spider.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from rimmodel.behaviour.axial.along import worst_along
from rimmodel.behaviour.quantities import quantity_text
from rimmodel.rotor import Condition
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.registry import quantity_at
from rimmodel.units import mm

if TYPE_CHECKING:
    from rimmodel.verdict.judge import Finding


def worst_place(case: Case, quantity: str, condition: Condition) -> float | None:
    """The least that any place along the drawn rim has of a quantity of the mean, over stack and spider.

    Returns
    -------
    float or None, SI
        None where nothing differs along the rim or the quantity is none of the fit.
    """
    asked = quantity_at(quantity)
    speed = float(case.rotor.speeds.from_standstill[asked.at or "standstill"])
    return worst_along(case.rotor, condition, asked.quantity.name, speed)


def along_the_rim(case: Case, finding: Finding) -> Finding:
    """The finding with the worst place along the rim in its reason, and without a "holds" that only the mean meets."""
    if not finding.at_least:
        return finding
    if not_in_it := _not_in_it(case, finding):
        verdict = "not shown" if finding.verdict == "holds" else finding.verdict
        return replace(finding, verdict=verdict, reason=f"{finding.reason}; {not_in_it}")
    worst = worst_place(case, finding.quantity, case.conditions[finding.condition])
    if worst is None:
        return finding
    decisive = finding.predicted_interval if finding.interval is None else finding.interval
    bound = _moved(finding, decisive[0], worst)
    lifts = finding.quantity == "float_speed"
    says = (
        f"; that is of the mean: as drawn the first place along the rim {'lifts off at' if lifts else 'has'} "
        f"{quantity_text(finding.quantity, worst)}, where the mean {'does at' if lifts else 'has'} "
        f"{quantity_text(finding.quantity, finding.predicted)}"
    )
    if finding.verdict == "holds" and not bound >= finding.threshold:
        says += ", so that the limit is not shown to be met all along the rim"
        return replace(finding, verdict="not shown", reason=finding.reason + says)
    return replace(finding, reason=finding.reason + says)


def _not_in_it(case: Case, finding: Finding) -> str:
    """What a speed of single keys leaves out of the length of the rim, and that of its first place of single keys."""
    asked, keys = quantity_at(finding.quantity).quantity, case.rotor.fit.key_interference
    if asked.of_keys and worst_place(case, "float_speed", case.conditions[finding.condition]) is not None:
        return (
            "keys are followed as alike all along the rim, and this case states that shims, heat or poles differ along "
            "it: one end of a key lifts off before"
        )
    if asked.name == "first_lift_off" and keys is not None and np.ptp(keys) > 0.0:
        return (
            f"it takes the mean of the keys, which lie from {mm(min(keys))} to {mm(max(keys))}: an end of the loosest "
            "key lifts off before"
        )
    return ""


def _moved(finding: Finding, low: float, worst: float) -> float:
    """The safe end of an interval of the mean, moved to the worst place.

    Shims and heat take an interference of their own, whatever is left: a step in speed squared. Poles take in
    proportion to speed squared. The lower of both counts.
    """
    mean = finding.predicted
    if np.isnan(worst) or np.isnan(mean):
        return float("nan")
    if finding.quantity != "float_speed":
        return low + worst - mean
    if not 0.0 < mean < np.inf:
        return worst
    return min(low * worst / mean, float(np.sqrt(max(low**2 - (mean**2 - worst**2), 0.0))))
