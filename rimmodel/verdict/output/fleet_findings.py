"""Claims and requirements of a fleet in one table, the worst first, whoever asks for them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from math import isfinite

from rimmodel.behaviour.quantities import interval_text, plain_name, quantity_text
from rimmodel.verdict.histories import HistoryFinding, finding_span, margin_value
from rimmodel.verdict.judge import Finding
from rimmodel.verdict.result import Review

VERDICTS = ("does not hold", "not shown", "", "holds")
"""The worst first; where nothing is claimed or required nothing is shown either."""


@dataclass(frozen=True)
class FleetFinding:
    """A claim or a requirement of a case, in words.

    Attributes
    ----------
    margin : float or None, -
        A share of the bound, below zero where it is missed; None where no best value is known.
    """

    file: str
    title: str
    role: str
    name: str
    what: str
    stated: str
    predicted: str
    by_test: str
    margin: float | None
    verdict: str
    reason: str

    @property
    def decisive(self) -> str:
        """What it is, as it stands behind the verdict of a case."""
        return f"{self.role}{' ' if self.name else ''}{self.name}: {self.what}"


def fleet_findings(file: str, review: Review) -> tuple[FleetFinding, ...]:
    """All claims and requirements of a case, those over histories too, the worst first."""
    title = review.case.title
    found = [_of_case(file, title, row) for row in review.findings]
    found += [_of_history(file, title, row) for row in review.histories.findings]
    return worst_first(found)


def worst_first(rows: Iterable[FleetFinding]) -> tuple[FleetFinding, ...]:
    """Findings in the order of `badness`, then by file."""
    return tuple(sorted(rows, key=lambda row: (*badness(row.verdict, row.margin), row.file)))


def badness(verdict: str, margin: float | None) -> tuple[int, float]:
    """What is broken comes first, then what is not shown, then what holds; each by its margin.

    Parameters
    ----------
    margin : float or None, -
        One that is not known counts as none left.

    Returns
    -------
    int and float, -
        To sort by.

    >>> sorted([("holds", 0.01), ("not shown", None), ("does not hold", -0.1)], key=lambda row: badness(*row))
    [('does not hold', -0.1), ('not shown', None), ('holds', 0.01)]
    """
    return VERDICTS.index(verdict), 0.0 if margin is None else margin


def counted(rows: Iterable[FleetFinding]) -> dict[str, int]:
    """How many findings have each verdict, the worst first."""
    count = Counter(row.verdict for row in rows)
    return {verdict: count[verdict] for verdict in VERDICTS if verdict}


def counted_words(rows: Iterable[FleetFinding]) -> str:
    """The same in a sentence without its stop."""
    count = counted(rows)
    broken, held = count["does not hold"], count["holds"]
    return (
        f"{broken} {'does' if broken == 1 else 'do'} not hold, {count['not shown']} not shown, "
        f"{held} {'holds' if held == 1 else 'hold'}"
    )


def _of_case(file: str, title: str, row: Finding) -> FleetFinding:
    bound = "at least" if row.at_least else "at most"
    by_test = "" if row.interval is None else interval_text(row.quantity, row.interval)
    return FleetFinding(
        file,
        title,
        row.role,
        row.name if row.role == "requirement" else "",
        f"{plain_name(row.quantity)}, {row.condition}",
        f"{bound} {quantity_text(row.quantity, row.threshold)}",
        quantity_text(row.quantity, row.predicted),
        by_test,
        row.margin if row.margin is not None and isfinite(row.margin) else None,
        row.verdict,
        row.reason,
    )


def _of_history(file: str, title: str, row: HistoryFinding) -> FleetFinding:
    stated = f"at least {margin_value(row.margin, row.margin.least)}"
    return FleetFinding(
        file,
        title,
        "requirement",
        f"over history '{row.history}'",
        row.margin.name,
        stated,
        finding_span(row),
        "",
        row.share if row.share is not None and isfinite(row.share) else None,
        row.verdict,
        row.margin.reason,
    )


COLUMNS = {
    "file": "file",
    "title": "unit",
    "verdict": "verdict",
    "margin": "margin [%]",
    "role": "role",
    "name": "name",
    "what": "claim or requirement",
    "stated": "limit",
    "predicted": "predicted",
    "by_test": "by test",
    "reason": "reason",
}
"""Field of a finding and head of its column."""


def finding_cells(row: FleetFinding) -> list[object]:
    """What stands in the columns of a finding."""
    values: dict[str, object] = dict(vars(row))
    values["margin"] = "" if row.margin is None else round(100 * row.margin, 2)
    return [values[name] for name in COLUMNS]
