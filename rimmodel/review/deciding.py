"""What decides a verdict: the causes that widen an interval by test, and what knowing one of them would change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from rimmodel.review.quantities import in_print
from rimmodel.review.verdict import Finding, Interval, Verdict, verdict_of_interval

WORTH_KNOWING = 0.1
"""Share of the variance from which a cause is named by itself."""

READING = "what has lost the interference, keys and shims or the stack (if it is the likelier of both)"
"""Of two readings, as a cause."""

ROUNDING = 1e-6
"""Share of an interval within which its ends are those of one reading."""


@dataclass(frozen=True)
class Cause:
    """A cause of uncertainty of one finding.

    Attributes
    ----------
    name : str
    share : float, -
        Of the variance on the side of the interval that faces the limit.
    known : pair of float, SI
        The interval about today's best value, were this cause known exactly.
    verdict : "holds", "does not hold" or "not shown"
        By that interval.
    """

    name: str
    share: float
    known: Interval
    verdict: Verdict


def causes(finding: Finding) -> tuple[Cause, ...]:
    """Causes of the interval by test, the largest share first; empty where the interval has no parts to show.

    Sides of causes add in quadrature, each side by itself, as they did when the interval was made. Where the
    interval holds two readings of the lost interference, each of its ends is drawn in by what the cause adds to that
    side of the likelier reading; the reading is then a cause of its own, with the rest of the square of that side,
    and knowing it leaves the interval of the likelier one.

    Parameters
    ----------
    finding : Finding

    Returns
    -------
    tuple of Cause
    """
    interval, best = finding.interval, finding.measured
    if interval is None or best is None or not np.isfinite(interval).all() or not finding.parts:
        return ()
    sides = np.array(list(finding.parts.values()), dtype=float)
    if not np.isfinite(sides).all():
        return ()
    squares = sides**2
    total = squares.sum(axis=0)
    facing = 0 if best >= finding.threshold else 1
    if not total[facing] > 0:
        return ()
    own = float(best - np.sqrt(total[0])), float(best + np.sqrt(total[1]))
    reach = (best - min(interval[0], own[0]), max(interval[1], own[1]) - best)[facing]
    drawn_in = np.sqrt(total) - np.sqrt(np.maximum(total - squares, 0.0))
    found = [
        (name, float(square[facing] / reach**2), (float(interval[0] + below), float(interval[1] - above)))
        for name, square, (below, above) in zip(finding.parts, squares, drawn_in, strict=True)
    ]
    if interval[0] < own[0] - ROUNDING * reach or interval[1] > own[1] + ROUNDING * reach:
        found.append((READING, float(1.0 - total[facing] / reach**2), own))
    rows = []
    for name, share, known in found:
        verdict = (
            verdict_of_interval(known, finding.threshold, finding.at_least) if by_interval(finding) else finding.verdict
        )
        rows.append(Cause(name, share, known, verdict))
    return tuple(sorted(rows, key=lambda row: -row.share))


def by_interval(finding: Finding) -> bool:
    """Whether the interval decided, and not a doubt about case or recording."""
    interval = finding.predicted_interval if finding.interval is None else finding.interval
    return finding.verdict == verdict_of_interval(interval, finding.threshold, finding.at_least)


def deciding(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """The findings whose causes are worth a look first: those not shown, else the one nearest to its limit.

    Parameters
    ----------
    findings : sequence of Finding

    Returns
    -------
    tuple of Finding
    """
    known = [row for row in findings if causes(row)]
    undecided = tuple(row for row in known if row.verdict == "not shown")
    return undecided or tuple(sorted(known, key=_room)[:1])


def _room(finding: Finding) -> float:
    """Distance of the nearer end of the interval from the limit, in widths of the interval."""
    if finding.interval is None:
        return float("inf")
    low, high = finding.interval
    return min(abs(low - finding.threshold), abs(high - finding.threshold)) / (high - low)


def main_causes(finding: Finding) -> tuple[Cause, ...]:
    """The causes above a tenth of the variance; the largest alone where none is."""
    found = causes(finding)
    return tuple(row for row in found if row.share > WORTH_KNOWING) or found[:1]


def causes_table(finding: Finding) -> list[dict[str, Any]]:
    """The causes for JSON; intervals in the unit of print of the quantity."""
    return [
        {
            "cause": row.name,
            "share_of_variance": row.share,
            "interval_if_known": [in_print(finding.quantity, end) for end in row.known],
            "verdict_if_known": row.verdict,
        }
        for row in causes(finding)
    ]
