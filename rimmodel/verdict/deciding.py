"""What decides a verdict: the causes that widen the interval, and what knowing one of them would change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from rimmodel.arrays import Interval
from rimmodel.behaviour.quantities import in_print
from rimmodel.rotor.case.case import Case
from rimmodel.verdict.judge import WORTH_SAYING, Finding, Verdict, verdict_of_interval
from rimmodel.verdict.shares import interval_if_known, shares

WORTH_KNOWING = 0.1
"""Share of the variance from which a cause is named by itself."""

READING = "cause of the lost interference: keys and shims, or growth of the stack (if the more likely cause is known)"
"""Of two readings, as a cause."""


@dataclass(frozen=True)
class Cause:
    """A cause of uncertainty of one finding.

    Attributes
    ----------
    share : float or None, -
        Of the variance on the side of the interval that faces the limit; None of the reading.
    known : pair of float, SI
        The interval about today's best value, were this cause known exactly.
    verdict : "holds", "does not hold" or "not shown"
        By that interval.
    """

    name: str
    share: float | None
    known: Interval
    verdict: Verdict


def causes(case: Case, finding: Finding) -> tuple[Cause, ...]:
    """Causes of the interval that decides, the largest share first; empty where there is nothing to share out.

    Where a second reading of the lost interference widens an interval, the reading is a cause beside the others,
    without a share, and knowing it leaves the interval of the likelier reading.
    """
    if finding.interval is not None and finding.measured is None:
        return ()  # bounds without a best value: nothing to stand the sides on
    found = shares(case, finding)
    rows = [_cause(finding, name, share, interval_if_known(case, finding, name)) for name, share in found.items()]
    interval, best = finding.interval, finding.measured
    if rows and interval is not None and best is not None:
        below, above = (float(np.hypot.reduce([ends[side] for ends in finding.parts.values()])) for side in (0, 1))
        own = best - below, best + above
        slack = WORTH_SAYING * (interval[1] - interval[0])
        if interval[0] < own[0] - slack or interval[1] > own[1] + slack:
            rows.insert(0, _cause(finding, READING, None, own))
    return tuple(row for row in rows if np.isfinite(row.known).all())


def _cause(finding: Finding, name: str, share: float | None, known: Interval) -> Cause:
    verdict = verdict_of_interval(known, finding.threshold, finding.at_least)
    return Cause(name, share, known, verdict if by_interval(finding) else finding.verdict)


def by_interval(finding: Finding) -> bool:
    """Whether the interval decided, and not a doubt about case or recording."""
    interval = finding.predicted_interval if finding.interval is None else finding.interval
    return finding.verdict == verdict_of_interval(interval, finding.threshold, finding.at_least)


def deciding(case: Case, findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """The findings whose causes are worth a look first: those not shown, else the one nearest to its limit."""
    known = [row for row in findings if causes(case, row)]
    undecided = tuple(row for row in known if row.verdict == "not shown")
    return undecided or tuple(sorted(known, key=_room)[:1])


def _room(finding: Finding) -> float:
    """Distance of the nearer end of the interval from the limit, in widths of the interval."""
    low, high = finding.predicted_interval if finding.interval is None else finding.interval
    return min(abs(low - finding.threshold), abs(high - finding.threshold)) / (high - low)


def main_causes(case: Case, finding: Finding) -> tuple[Cause, ...]:
    """The causes above a tenth of the variance, and the reading; the largest alone where none is."""
    found = causes(case, finding)
    return tuple(row for row in found if row.share is None or row.share > WORTH_KNOWING) or found[:1]


def causes_table(case: Case, finding: Finding) -> list[dict[str, Any]]:
    """The causes for JSON; intervals in the unit of print of the quantity."""
    return [
        {
            "cause": row.name,
            "share_of_variance": row.share,
            "interval_if_known": [in_print(finding.quantity, end) for end in row.known],
            "verdict_if_known": row.verdict,
        }
        for row in causes(case, finding)
    ]
