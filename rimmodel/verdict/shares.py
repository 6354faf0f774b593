"""What share of the variance of a number each cause has, and what would be left if that cause were known exactly."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from rimmodel.arrays import Interval
from rimmodel.behaviour.study.propagation import propagate
from rimmodel.behaviour.study.rotor_model import Asked, case_inputs, rotor_model
from rimmodel.planning.predicted import predicted_interval
from rimmodel.rotor.case.case import Case
from rimmodel.verdict.judge import Finding, Verdict, verdict_of_interval

INTERFERENCE = "fit.interference"


def deciding_side(finding: Finding) -> int:
    """Which end of the interval faces the limit: 0 the lower, 1 the upper."""
    best = finding.predicted if finding.measured is None else finding.measured
    return 0 if best >= finding.threshold else 1


def shares(case: Case, finding: Finding) -> dict[str, float]:
    """Share of each cause in the variance of the number that decides, largest first; they sum to 1.

    By test, the causes add to each side of the interval in quadrature, and the side that faces the limit counts. On
    the drawing alone, the tolerances of the case are propagated to first order; those that are correlated, and the
    keys, count as one cause.

    Returns
    -------
    dict of float, -
        Empty where there is nothing to share out: no best value, no tolerance, or no finite number.
    """
    if finding.interval is None:
        return _of_drawing(case, finding)
    side = deciding_side(finding)
    sizes = {cause: ends[side] for cause, ends in finding.parts.items()}
    endless = [cause for cause, size in sizes.items() if not np.isfinite(size)]
    if endless:  # a side that they leave open is theirs alone
        return {cause: 1.0 / len(endless) for cause in endless}
    return _in_order({cause: size**2 for cause, size in sizes.items()})


def _of_drawing(case: Case, finding: Finding) -> dict[str, float]:
    inputs = case_inputs(case)
    if not inputs.names or not np.isfinite(finding.predicted_interval).all():
        return {}
    asked = Asked(finding.quantity, finding.condition)
    linear = propagate(rotor_model(case, [asked]), inputs)
    if not np.isfinite(linear.standard_uncertainty).all():  # the interval is that of the interference, see there
        return {INTERFERENCE: 1.0} if INTERFERENCE in inputs.names else {}
    row = linear.contribution[0]
    return _in_order(
        {
            name: float(row[list(at)] @ linear.correlation[np.ix_(at, at)] @ row[list(at)])
            for name, at in inputs.groups().items()
        }
    )


def _in_order(variances: dict[str, float]) -> dict[str, float]:
    total = sum(variances.values())
    if not total > 0:
        return {}
    ordered = sorted(variances.items(), key=lambda item: -item[1])
    return {cause: variance / total for cause, variance in ordered}


def interval_if_known(case: Case, finding: Finding, cause: str, left: float = 0.0) -> Interval:
    """The interval that decides, were one cause known better and the best value to stand.

    Parameters
    ----------
    cause : str
        As in `shares`.
    left : float, -
        Share of its uncertainty that is left: 0 for a cause that is known exactly.

    Returns
    -------
    pair of float, SI
    """
    if finding.interval is None:
        better = _case_with(case, tuple(cause.split(" + ")), left)
        return predicted_interval(better, finding.quantity, finding.condition, finding.confidence)
    low, high = finding.interval
    best = low if finding.measured is None else finding.measured
    now, then = _reach(finding, cause, 1.0), _reach(finding, cause, left)
    # what the other reading of the lost interference adds beyond these stays as it is
    ends = [
        end + sign * (after - before) if np.isfinite(end) else (best + sign * after)
        for end, sign, before, after in zip((low, high), (-1, 1), now, then, strict=True)
    ]
    return ends[0], ends[1]


def _reach(finding: Finding, cause: str, left: float) -> Interval:
    """Lower and upper side of the interval by test, with a share `left` of one cause."""
    known = [(ends[0] * part, ends[1] * part) for name, ends in finding.parts.items()
             for part in (left if name == cause else 1.0,) if part > 0]  # fmt: skip
    return float(np.hypot.reduce([low for low, _ in known])), float(np.hypot.reduce([high for _, high in known]))


def verdict_if_known(case: Case, finding: Finding, cause: str, left: float = 0.0) -> Verdict:
    """The finding, were one cause known better and the best value to stand.

    Parameters
    ----------
    left : float, -
        As of `interval_if_known`.

    Returns
    -------
    "holds", "does not hold" or "not shown"
    """
    return verdict_of_interval(interval_if_known(case, finding, cause, left), finding.threshold, finding.at_least)


def verdict_at_worst(case: Case, finding: Finding, cause: str) -> Verdict:
    """The finding, were one cause known exactly and the answer to lie at the end of its range that is nearer the limit.

    Returns
    -------
    "holds", "does not hold" or "not shown"
    """
    side = deciding_side(finding)
    sign = (-1.0, 1.0)[side]
    low, high = interval_if_known(case, finding, cause)
    if finding.interval is not None:
        reach = finding.parts[cause][side]
    else:  # of independent causes, sides add in quadrature
        wide = finding.predicted_interval
        reach = float(np.sqrt(max(((wide[1] - wide[0]) / 2) ** 2 - ((high - low) / 2) ** 2, 0.0)))
    return verdict_of_interval((low + sign * reach, high + sign * reach), finding.threshold, finding.at_least)


def _case_with(case: Case, names: tuple[str, ...], left: float) -> Case:
    """The case with several tolerances narrowed to a share of themselves, or taken out at 0."""
    fit = case.rotor.fit
    if INTERFERENCE in names:
        fit = replace(fit, interference_tolerance=left * float(fit.interference_tolerance))
    kept = tuple(
        replace(row, standard=row.standard * left, half_width=row.half_width * left) if row.name in names else row
        for row in case.tolerances
        if left > 0 or row.name not in names
    )
    known = {row.name for row in kept}
    tied = tuple(pair for pair in case.correlations if set(pair.between) <= known)
    return replace(case, rotor=replace(case.rotor, fit=fit), tolerances=kept, correlations=tied)
