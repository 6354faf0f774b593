"""What the drawing alone says of a quantity, with the tolerances that the case states."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from rimmodel.arrays import Interval
from rimmodel.behaviour.quantities import evaluate
from rimmodel.evidence.measured import scatter
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.rotor import Rotor


def predicted_interval(case: Case, quantity: str, condition: str, confidence: float) -> Interval:
    """Two-sided interval of a predicted quantity from every tolerance of the case.

    Where only the interference has a tolerance, the quantity is evaluated at the ends of its interval, which is exact
    for one input. Else all tolerances are propagated to first order, with their correlations (`propagate`); where that
    has no finite answer, as for a rim that never floats, the interference speaks alone. Where the case states a
    settlement and not what has settled, the interval holds both readings.

    Parameters
    ----------
    condition : str
        Its name in the case.
    confidence : float, -

    Returns
    -------
    pair of float, SI
        NaN where the quantity has no value.
    """
    other = _grown_instead(case)
    cases = (case,) if other is None else (case, other)
    ends = [_scattered(one, quantity, condition, confidence) for one in cases]
    return min(low for low, _ in ends), max(high for _, high in ends)


def _scattered(case: Case, quantity: str, condition: str, confidence: float) -> Interval:
    """Interval from the tolerances, with the scatter of single shims where the quantity depends on them."""
    fit = case.rotor.fit

    def changed(change: float) -> float:
        return evaluate(quantity, case.rotor.with_interference(fit.interference + change), case.conditions[condition])

    drawn = _interval(case, quantity, condition, confidence)
    worth = scatter.scatter_worth(case, quantity, condition, confidence)
    return scatter.with_scatter(drawn, evaluate(quantity, case.rotor, case.conditions[condition]), worth, changed)[0]


def _grown_instead(case: Case) -> Case | None:
    """The case with its settlement as growth of the stack, where it does not say what has settled."""
    fit = case.rotor.fit
    if fit.settlement_of != "unknown" or not float(fit.settlement) > 0:
        return None
    grown = replace(fit, settlement=0.0, stack_growth=float(fit.stack_growth) + float(fit.settlement))
    return replace(case, rotor=replace(case.rotor, fit=grown))


def _interval(case: Case, quantity: str, condition: str, confidence: float) -> Interval:
    from rimmodel.behaviour.study.propagation import propagate
    from rimmodel.behaviour.study.rotor_model import Asked, case_inputs, rotor_model

    if has_other_tolerances(case):
        asked = Asked(quantity, condition)
        ends = propagate(rotor_model(case, [asked]), case_inputs(case)).interval(asked.name, confidence)
        if np.isfinite(ends).all():
            return ends

    def drawn(interference: float) -> float:
        return evaluate(quantity, case.rotor.with_interference(interference), case.conditions[condition])

    return span(drawn, *drawing_interval(case.rotor, confidence))


def has_other_tolerances(case: Case) -> bool:
    """Whether a case states a tolerance of more than its interference."""
    return any(row.name != "fit.interference" for row in case.tolerances)


def drawing_interval(rotor: Rotor, confidence: float) -> Interval:
    """Interference of the drawing with its tolerance, whose half-width is two standard uncertainties.

    Parameters
    ----------
    confidence : float, -

    Returns
    -------
    pair of float, m
    """
    half = standard_errors(confidence) * float(rotor.fit.interference_tolerance) / 2
    return float(rotor.fit.interference) - half, float(rotor.fit.interference) + half


def standard_errors(confidence: float) -> float:
    """Half-width of a two-sided normal interval, in standard errors.

    Parameters
    ----------
    confidence : float, -

    Returns
    -------
    float, -

    >>> round(standard_errors(0.95), 2)
    1.96
    """
    from scipy.special import ndtri

    return float(ndtri((1 + confidence) / 2))


def span(value: Callable[[float], float], low: float, high: float) -> Interval:
    """Values of a monotonic function at two ends, the lower first; NaN where one has none.

    Parameters
    ----------
    low, high : float, SI

    Returns
    -------
    pair of float, SI
    """
    ends = [value(end) for end in (low, high)]
    return (min(ends), max(ends)) if not np.isnan(ends).any() else (float("nan"), float("nan"))
