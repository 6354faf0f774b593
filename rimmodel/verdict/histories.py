"""Requirements over whole histories: what each [histories.NAME] asks for, with a verdict as those of a condition have.

They stand beside the requirements of the case and count with them: a machine whose rim floats in a rejection does not
meet what is asked of it, however well it stands in each condition.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import isfinite

from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.planning.duty import Duty, DutyMargin, margins_not_followed, run_duty
from rimmodel.rotor.case.case import Case
from rimmodel.units import with_unit


@dataclass(frozen=True)
class HistoryFinding:
    """Something that a history asks for, judged; `basis` is on what it rests, empty where nothing could be followed."""

    history: str
    margin: DutyMargin
    basis: str

    @property
    def verdict(self) -> str:
        """One of "holds", "does not hold" and "not shown"."""
        return self.margin.verdict

    @property
    def share(self) -> float | None:
        """Share of what is asked for by which the middle of all that is possible is better; None where not known."""
        least, best = self.margin.least, self.margin.best
        return best / least - 1.0 if isfinite(best) and least > 0 else None


@dataclass(frozen=True)
class Histories:
    """The histories of a case that ask for something: those followed, and those that could not be with the reason."""

    followed: dict[str, Duty]
    refused: dict[str, str]
    findings: tuple[HistoryFinding, ...]


def judge_histories(case: Case, measurement: Measurement | None) -> Histories:
    """Follow every history of a case that asks for something, and judge it with the machine as it is now.

    Parameters
    ----------
    measurement : Measurement or None
        Of the last recording.

    Returns
    -------
    Histories
        A history that cannot be followed is not shown, with the reason.
    """
    followed: dict[str, Duty] = {}
    refused: dict[str, str] = {}
    findings: list[HistoryFinding] = []
    for history in case.histories:
        if not history.asked:
            continue
        try:
            found = run_duty(case, history.name, measurement)
        except ValueError as reason:  # a steady state that no heat exchange makes
            refused[history.name] = str(reason)
            margins, basis = margins_not_followed(history, str(reason)), ""
        else:
            followed[history.name] = found
            margins, basis = found.margins, found.basis
        findings += [HistoryFinding(history.name, margin, basis) for margin in margins]
    return Histories(followed, refused, tuple(findings))


def margin_value(margin: DutyMargin, value: float) -> str:
    """A value of a margin with its unit of print; a plain ratio to three decimals.

    Parameters
    ----------
    value : float, SI
    """
    if not isfinite(value):
        return "unlimited" if value > 0 else "not known"
    return with_unit(value, margin.kind) if margin.kind else f"{value:.3f}"


def finding_span(finding: HistoryFinding) -> str:
    """Least value over the history: in the middle, and over all that is possible; empty where it is not known."""
    margin = finding.margin
    if not isfinite(margin.low):
        return ""
    return f"{margin_value(margin, margin.low)} to {margin_value(margin, margin.high)}"


def histories_in_brief(findings: Iterable[HistoryFinding]) -> list[str]:
    """A sentence for each requirement over a history: the history, the verdict, and why."""
    return [_sentence(finding) for finding in findings]


def _sentence(finding: HistoryFinding) -> str:
    margin, span = finding.margin, finding_span(finding)
    asked = f"{margin.name} at least {margin_value(margin, margin.least)}"
    head = f"Required over history '{finding.history}', {asked}: {margin.verdict}"
    if not span:
        return f"{head}, because {margin.reason}."
    least = f"{head} (least {span}, {margin.when})"
    return f"{least}: {margin.reason}." if margin.open else f"{least}."
