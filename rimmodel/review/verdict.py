"""A claim or a requirement against prediction and evidence: holds, does not hold, or not shown."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from rimmodel.elastic.ring import Floats
from rimmodel.evidence.backfit import BackFit
from rimmodel.evidence.derived import derived, fitted_rotor
from rimmodel.evidence.expected import float_speed_elsewhere
from rimmodel.evidence.measure import Measurement
from rimmodel.review.predicted import predicted_interval, span, standard_errors
from rimmodel.review.quantities import evaluate, evaluate_all, interval_text, less_is_better, plain_name, text
from rimmodel.rotor.case import Case
from rimmodel.rotor.requirements import Claim, Requirement
from rimmodel.rotor.rotor import settled_to

Verdict = Literal["holds", "does not hold", "not shown"]
Interval = tuple[float, float]

CLAIM_CONFIDENCE = 0.95
"""Of the interval against which a claim is held; a requirement states its own."""

ON_SPEED = 0.01
"""A recorded speed within this share of a named one speaks for it: 1 % of speed is 2 % of growth."""


@dataclass(frozen=True)
class Finding:
    """One claim or requirement with everything that speaks for or against it.

    Attributes
    ----------
    name : str
    role : "claim" or "requirement"
    quantity, condition : str
    stated, threshold : float, SI
    at_least : bool
    confidence : float, -
    predicted : float, SI
    predicted_interval : pair of float, SI
    measured : float or None, SI
    interval : pair of float or None, SI
    measured_how : str
    verdict : "holds", "does not hold" or "not shown"
    margin : float or None, -
        Share of the threshold.
    reason : str
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
    reason: str


def item_confidence(item: Claim | Requirement) -> float:
    """Confidence of the interval that decides about a claim or a requirement.

    Parameters
    ----------
    item : Claim or Requirement

    Returns
    -------
    float, -
    """
    return CLAIM_CONFIDENCE if isinstance(item, Claim) else item.confidence


def judge(case: Case, item: Claim | Requirement, measurement: Measurement | None) -> Finding:
    """Weigh a claim or a requirement.

    The evidence decides where there is a recording, else the prediction with the tolerances of the case. What
    decides is an interval at the stated confidence (two-sided), at which `measurement` was made:
    wholly on the good side of the threshold it holds, wholly on the other it does not, astride it is not shown.

    A claim is met within its tolerance, so its threshold is the stated value less that share.
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
    measured, interval, how = _evidence(case, quantity, name, measurement)
    decisive = interval if interval is not None else drawn
    verdict = _verdict(decisive, threshold, at_least)
    best = measured if measured is not None else (predicted if interval is None else None)
    role: Literal["claim", "requirement"] = "claim" if isinstance(item, Claim) else "requirement"
    finding = Finding(
        label, role, quantity, name, stated, threshold, at_least, confidence, predicted, drawn,
        measured, interval, how, verdict, _margin(best, decisive, threshold, at_least), "",
    )  # fmt: skip
    return Finding(**{**vars(finding), "reason": _reason(finding)})


def _evidence(
    case: Case, quantity: str, condition: str, measurement: Measurement | None
) -> tuple[float | None, Interval | None, str]:
    """Measured value, interval and how it was come by; (None, None, "") without a recording."""
    if measurement is None:
        return None, None, ""
    if quantity == "first_yield_speed":
        return None, None, ""  # a gap record says nothing of strength
    direct = _read_off(case, quantity, condition, measurement)
    if direct is not None:
        return direct
    fit = measurement.fits.get("")
    if quantity == "float_speed":
        return _inferred_float_speed(case, condition, measurement, fit)
    if not np.isfinite(measurement.interference_interval).all():
        return None, (-np.inf, np.inf), f"'{measurement.label}' gives no bounded interference"
    how = f"model fitted to '{measurement.label}'"
    state = case.conditions[condition]
    if fit is not None and not quantity.startswith("spider_stress"):  # the fit knows of the spider what a gap shows
        known = fit

        def fitted(unknowns: Floats) -> Floats:
            values = evaluate_all(quantity, fitted_rotor(known, case.rotor, unknowns), state)
            return np.broadcast_to(values, (len(unknowns), 1))[:, 0]

        return *derived(fit, fitted), how
    best = None if np.isnan(measurement.interference) else measurement.interference

    def settled(interference: float) -> float:
        return evaluate(quantity, settled_to(case.rotor, interference), state)

    return None if best is None else settled(best), span(settled, *measurement.interference_interval), how


def _inferred_float_speed(
    case: Case, condition: str, measurement: Measurement, fit: BackFit | None
) -> tuple[float | None, Interval, str]:
    """Float speed in the condition of the recording, or carried from there to another one."""
    known = not np.isnan(measurement.interference)
    if condition == measurement.condition:
        found = None if np.isnan(measurement.float_speed) else measurement.float_speed
        return found, measurement.float_speed_interval, f"knee of '{measurement.label}'"
    how = f"effective interference of '{measurement.label}'"
    if fit is not None and condition in fit.float_speed:
        return fit.float_speed[condition] if known else None, fit.float_speed_interval[condition], how
    state = case.conditions[condition]
    low, high = (float_speed_elsewhere(case.rotor, state, bound) for bound in measurement.interference_interval)
    best = float_speed_elsewhere(case.rotor, state, measurement.interference) if known else None
    return best, (low, high), how


def _read_off(
    case: Case, quantity: str, condition: str, measurement: Measurement
) -> tuple[float, Interval, str] | None:
    """A mean gap that the run reached itself: the mean of the points at that speed."""
    base, _, name = quantity.rpartition("_at_")
    points = measurement.points
    if base != "gap" or condition != measurement.condition or points.is_change or name == "standstill":
        return None
    speed = float(case.rotor.speeds.named[name])
    near = np.abs(points.speed - speed) <= ON_SPEED * speed
    if not near.any():
        return None
    gap = float(points.gap[near].mean())
    # the points' own error; where single readings give none, the scatter about the fitted line
    errors = points.standard_error[near]
    error = float(np.nanmean(errors)) if np.isfinite(errors).any() else measurement.knees[""].sigma
    half = standard_errors(measurement.confidence) * error
    return gap, (gap - half, gap + half), f"read at that speed in '{measurement.label}'; sensor offsets not counted"


def _verdict(interval: Interval, threshold: float, at_least: bool) -> Verdict:
    low, high = interval if at_least else (-interval[1], -interval[0])
    bound = threshold if at_least else -threshold
    if np.isnan(low) or np.isnan(high):
        return "not shown"
    if low >= bound:
        return "holds"
    return "does not hold" if high < bound else "not shown"


def _margin(best: float | None, interval: Interval, threshold: float, at_least: bool) -> float | None:
    """Share by which the best value, or else the bound that is known, is better than the threshold."""
    low, high = interval
    known = best if best is not None else (low if np.isfinite(low) and low > 0 else high)
    if not np.isfinite(known) or threshold == 0:
        return None
    share = (known - threshold) / abs(threshold)
    return share if at_least else -share


def _reason(finding: Finding) -> str:
    quantity = finding.quantity
    bound = f"{'at least' if finding.at_least else 'at most'} {text(quantity, finding.threshold)}"
    met = f"{bound} ({text(quantity, finding.stated)} claimed, less what counts as met)"
    aim = met if finding.role == "claim" and finding.threshold != finding.stated else bound
    if finding.interval is None:
        what = (
            f"no recording: the prediction alone, {text(quantity, finding.predicted)} "
            f"({interval_text(quantity, finding.predicted_interval)} with the tolerances of the case)"
        )
    else:
        value = "" if finding.measured is None else f"{text(quantity, finding.measured)}, "
        known = f"{interval_text(quantity, finding.interval)} at {100 * finding.confidence:g} %"
        what = f"{value}{known} by {finding.measured_how}"
    ends = {
        "holds": "is on the good side of",
        "does not hold": "misses",
        "not shown": "does not decide about",
    }
    return f"{plain_name(quantity)}: {what} {ends[finding.verdict]} {aim}"
