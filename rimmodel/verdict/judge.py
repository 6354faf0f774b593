"""A claim or a requirement against prediction and evidence: holds, does not hold, or not shown."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from rimmodel.arrays import Interval
from rimmodel.behaviour.quantities import evaluate, interval_text, less_is_better, plain_name, quantity_text
from rimmodel.evidence.measured.machine import ByTest, by_test
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.evidence.reduction.bore_split import PlaneGap
from rimmodel.planning.predicted import predicted_interval
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.case.doubts import blocking_doubt
from rimmodel.rotor.registry import quantity_at
from rimmodel.rotor.requirements import Claim, Requirement
from rimmodel.verdict.along import along_the_rim
from rimmodel.verdict.single_poles import usable_planes, with_poles

Verdict = Literal["holds", "does not hold", "not shown"]

CLAIM_CONFIDENCE = 0.95
"""Of the interval against which a claim is held; a requirement states its own."""

NO_BOUND = (-np.inf, np.inf)

WORTH_SAYING = 0.05
"""Share of an interval by which the readings of the lost interference must differ to be named."""

LOST_BY = {"keys": "if keys and shims have bedded in", "stack": "if the stack has grown"}


@dataclass(frozen=True)
class Finding:
    """One claim or requirement with everything that speaks for or against it.

    Attributes
    ----------
    role : "claim" or "requirement"
    stated, threshold : float, SI
        What is claimed or required, and the value from which it counts as met: the same unless a claim has a
        tolerance.
    confidence : float, -
    predicted : float, SI
    predicted_interval : pair of float, SI
    measured : float or None, SI
    interval : pair of float or None, SI
    verdict : "holds", "does not hold" or "not shown"
    margin, acceptance_margin : float or None, -
        Share of the stated value, and of the threshold, by which the best value is better; the second is None where
        both values are the same.
    parts : dict of pair of float, SI
        What each cause adds to the lower and upper side of the interval by test.
    """

    name: str
    role: Literal["claim", "requirement"]
    quantity: str
    condition: str
    stated: float
    threshold: float
    at_least: bool
    confidence: float
    predicted: float
    predicted_interval: Interval
    measured: float | None
    interval: Interval | None
    measured_how: str
    verdict: Verdict
    margin: float | None
    acceptance_margin: float | None
    reason: str
    parts: dict[str, Interval] = field(default_factory=dict)


def item_confidence(item: Claim | Requirement) -> float:
    """Confidence of the interval that decides about a claim or a requirement.

    Returns
    -------
    float, -
    """
    return CLAIM_CONFIDENCE if isinstance(item, Claim) else item.confidence


def judge(
    case: Case,
    item: Claim | Requirement,
    measurement: Measurement | None,
    planes: Mapping[str, PlaneGap] | None = None,
) -> Finding:
    """Weigh a claim or a requirement.

    The evidence decides where there is a recording, else the prediction with the tolerances of the case. What
    decides is an interval at the stated confidence (two-sided), at which `measurement` was made: wholly on the good
    side of the threshold it holds, wholly on the other it does not; when the limit lies within it, it is not shown.
    A recording that is disqualified is not used for any verdict, and where a blocking doubt about the case concerns
    the item, nothing does. Where the rim differs along its length, the mean alone shows no floor (see `along`).

    Parameters
    ----------
    planes : mapping of str to PlaneGap, optional
        Sensor planes of the same recording, for what single poles show by themselves.
    """
    name, condition = case.condition(item.condition)
    quantity, confidence = item.quantity, item_confidence(item)
    if isinstance(item, Claim):
        at_least = not less_is_better(quantity)
        stated = item.value
        threshold = stated + (-1 if at_least else 1) * item.tolerance * abs(stated)
        label = quantity
    else:
        at_least = item.at_least is not None
        stated = threshold = float(item.at_least if item.at_least is not None else item.at_most or 0.0)
        label = item.name
    predicted = evaluate(quantity, case.rotor, condition)
    drawn = predicted_interval(case, quantity, name, confidence)
    found, how = _evidence(quantity, name, measurement)
    if quantity_at(quantity).quantity.by_single_poles:
        found, how = with_poles(case, quantity, name, ((found, how), drawn), usable_planes(measurement, name, planes))
    measured = None if found is None or not np.isfinite(found.best) else found.best
    interval = None if found is None else found.interval
    decisive = drawn if interval is None else interval
    best = measured if measured is not None else (predicted if interval is None else None)
    role: Literal["claim", "requirement"] = "claim" if isinstance(item, Claim) else "requirement"
    finding = Finding(
        label, role, quantity, name, stated, threshold, at_least, confidence, predicted, drawn,
        measured, interval, how, verdict_of_interval(decisive, threshold, at_least),
        _margin(best, decisive, stated, at_least),
        None if threshold == stated else _margin(best, decisive, threshold, at_least),
        "", {} if found is None else found.parts,
    )  # fmt: skip
    doubt = blocking_doubt(case, item)
    if doubt is not None:
        return replace(finding, verdict="not shown", reason=f"the case is in doubt: {doubt.text}")
    return along_the_rim(case, replace(finding, reason=_reason(finding, found, measurement)))


def _evidence(quantity: str, condition: str, measurement: Measurement | None) -> tuple[ByTest | None, str]:
    """The number by test and how it was obtained; (None, "") where no recording covers it."""
    if measurement is None or not quantity_at(quantity).quantity.by_gap:
        return None, ""
    if measurement.disqualified:
        nothing = ByTest(float("nan"), NO_BOUND, {}, {})
        return nothing, f"'{measurement.label}', which is not used for any verdict"
    found = by_test(measurement.machines, quantity, condition)
    if not np.isfinite(found.interval).any():
        return found, f"'{measurement.label}', which sets no bound on it"
    return found, f"the machine fitted to '{measurement.label}'"


def verdict_of_interval(interval: Interval, threshold: float, at_least: bool) -> Verdict:
    """Where an interval lies against a limit; no number and an open side towards the limit show nothing.

    Parameters
    ----------
    interval : pair of float, SI
    threshold : float, SI

    Returns
    -------
    "holds", "does not hold" or "not shown"

    >>> verdict_of_interval((10.0, 12.0), 10.0, True), verdict_of_interval((9.9, 12.0), 10.0, True)
    ('holds', 'not shown')
    """
    low, high = interval if at_least else (-interval[1], -interval[0])
    bound = threshold if at_least else -threshold
    if np.isnan(low) or np.isnan(high):
        return "not shown"
    if low >= bound:
        return "holds"
    return "does not hold" if high < bound else "not shown"


def _margin(best: float | None, interval: Interval, limit: float, at_least: bool) -> float | None:
    """Share of a limit by which the best value is better than it, or else the bound that lies wholly on one side."""
    low, high = interval
    if best is None:
        best = low if low >= limit else high if high < limit else None
    if best is None or not np.isfinite(best) or limit == 0:
        return None
    share = (best - limit) / abs(limit)
    return share if at_least else -share


def _reason(finding: Finding, found: ByTest | None, measurement: Measurement | None) -> str:
    quantity = finding.quantity
    if measurement is not None and measurement.disqualified and found is not None:
        return (
            f"{plain_name(quantity)}: '{measurement.label}' is not used for any verdict: {measurement.disqualified[0]}"
        )
    bound = f"{'at least' if finding.at_least else 'at most'} {quantity_text(quantity, finding.threshold)}"
    if finding.threshold != finding.stated:
        share = abs(finding.threshold / finding.stated - 1.0)
        claimed = quantity_text(quantity, finding.stated)
        bound += f" ({claimed} as claimed with the tolerance of {100 * share:g} % of the claim)"
    if found is not None and not np.isfinite(found.interval).any() and measurement is not None:
        return f"{plain_name(quantity)}: '{measurement.label}' sets no bound on it, so nothing is shown against {bound}"
    if found is None:
        what = (
            f"no recording: the prediction alone, {quantity_text(quantity, finding.predicted)} "
            f"({interval_text(quantity, finding.predicted_interval)} with the tolerances of the case)"
        )
    else:
        known = f"{interval_text(quantity, finding.interval)} at {100 * finding.confidence:g} %"
        what = known if finding.measured is None else f"{quantity_text(quantity, finding.measured)} ({known})"
        what += f" from {finding.measured_how}"
    ends = {"holds": "meets", "does not hold": "does not meet", "not shown": "includes the limit,"}
    return f"{plain_name(quantity)}: {what} {ends[finding.verdict]} {bound}{_causes(finding, found)}"


def _causes(finding: Finding, found: ByTest | None) -> str:
    """Both readings of the lost interference where they move the interval."""
    if found is None or len(found.by_cause) < 2:
        return ""
    best = [value for value, _ in found.by_cause.values()]
    if not max(best) - min(best) > WORTH_SAYING * (found.interval[1] - found.interval[0]):
        return ""
    both = (
        f"{quantity_text(finding.quantity, value)} {LOST_BY[cause]}" for cause, (value, _) in found.by_cause.items()
    )
    return f"; {', '.join(both)}: the interval covers both"
