"""The first page of a review, which is signed: what was judged, by which evidence, and what decides."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from rimmodel.behaviour.quantities import interval_text, plain_name, quantity_text
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.rotor import ArmSpider, DiscSpider, Rotor
from rimmodel.rotor.case.case import Case
from rimmodel.units import in_mm, in_rpm, mm, rpm, with_unit
from rimmodel.verdict.deciding import causes, deciding, main_causes
from rimmodel.verdict.histories import HistoryFinding, finding_span, margin_value
from rimmodel.verdict.judge import Finding
from rimmodel.verdict.result import Review

MOST_DECIDING = 3
"""Findings whose causes stand on the first page; those of all stand in the first annex."""

WORTH_LISTING = 0.01
"""Share of the variance below which a cause stands in no table."""

BRIEF = 260
"""Characters of a reason on the first page; it stands whole in the first annex."""


def rotor_line(rotor: Rotor) -> str:
    """The machine in one line."""
    rim, poles, spider, fit, gap = rotor.rim, rotor.poles, rotor.spider, rotor.fit, rotor.air_gap
    if isinstance(spider, ArmSpider):
        carried = f"{float(spider.count):.0f} spider arms"
    else:
        carried = "disc spider" if isinstance(spider, DiscSpider) else "spider known by its stiffness"
    keys = "" if rotor.key_count is None else f", {float(rotor.key_count):.0f} keys"
    speeds = ", ".join(f"{name} {rpm(speed)}" for name, speed in rotor.speeds.named.items())
    return (
        f"Rim {float(rim.inner_radius):.3f} to {float(rim.outer_radius):.3f} m radius, {float(rim.length):.2f} m long; "
        f"{float(poles.count):.0f} poles of {with_unit(poles.mass, 'mass', '.2f')}; {carried}{keys}; interference "
        f"{mm(fit.interference)} radial (+-{in_mm(float(fit.interference_tolerance)):.2f}"
        f" mm), cold air gap {mm(gap.cold)}; {speeds}."
    )


def record_lines(review: Review) -> list[str]:
    """One line for each recording: label, condition, file, speeds, points, and what it decides about."""
    return [_record_line(review, number, row) for number, row in enumerate(review.measurements)]


def _record_line(review: Review, number: int, measurement: Measurement) -> str:
    points = measurement.points
    words = {"up": "rising", "down": "falling"}
    directions = " and ".join(words[direction] for direction in ("up", "down") if (points.direction == direction).any())
    about = [
        name
        for name, place in (("claims", 0), ("requirements", len(review.measurements) - 1))
        if place == number and any(f"{row.role}s" == name for row in review.findings)
    ]
    decides = f"used for {' and '.join(about)}" if about else "not used for verdicts, shown for comparison"
    if measurement.disqualified:
        decides = "not used for any verdict, see Annex 1"
    speeds = f"{in_rpm(points.speed.min()):.0f} to {rpm(points.speed.max(), '.0f')}"
    return (
        f"{measurement.label}: condition {measurement.condition}, file {Path(measurement.source).name}, {speeds}"
        f"{', ' if directions else ''}{directions}, {len(points.speed)} speed points; {decides}."
    )


def finding_row(finding: Finding, review: Review) -> dict[str, str]:
    """One claim or requirement as cells of the verdict table."""
    run = 1 if finding.role == "claim" else len(review.measurements)
    bound = "at least" if finding.at_least else "at most"
    stated = quantity_text(finding.quantity, finding.stated)
    return {
        "what": f"{plain_name(finding.quantity)}, {finding.condition}",
        "role": finding.role,
        "name": finding.name if finding.role == "requirement" else "",
        "stated": stated if finding.role == "claim" else f"{bound} {stated}",
        "predicted": quantity_text(finding.quantity, finding.predicted),
        "drawn": interval_text(finding.quantity, finding.predicted_interval),
        "measured": "no recording" if finding.interval is None else quantity_text(finding.quantity, finding.measured),
        "interval": "" if finding.interval is None else interval_text(finding.quantity, finding.interval),
        "run": "" if finding.interval is None else f"{100 * finding.confidence:g} %, run {run}",
        "verdict": finding.verdict,
        "margin": percent(finding.margin),
        "acceptance": "" if finding.acceptance_margin is None else
        f"{percent(finding.acceptance_margin)} of {quantity_text(finding.quantity, finding.threshold)}",
        "reason": finding.reason,
        "brief": finding.reason if len(finding.reason) <= BRIEF else
        f"{finding.reason[:BRIEF].rsplit(' ', 1)[0]} ... (in full in Annex 1)",
    }  # fmt: skip


def history_row(finding: HistoryFinding) -> dict[str, str]:
    """A requirement over a history as cells of the verdict table, and of its own table in the annex."""
    margin = finding.margin
    best = f"{margin_value(margin, margin.best)} {margin.when}" if margin.when else margin.reason
    return {
        "what": margin.name,
        "history": finding.history,
        "stated": f"at least {margin_value(margin, margin.least)}",
        "span": finding_span(finding) or "not known",
        "when": best,
        "basis": finding.basis or "not followed",
        "margin": percent(finding.share),
        "verdict": finding.verdict,
    }


def percent(share: float | None) -> str:
    """A margin with its sign; empty where there is none.

    Parameters
    ----------
    share : float or None, -

    >>> percent(0.0521), percent(None)
    ('+5.2 %', '')
    """
    return "" if share is None else f"{100 * share:+.1f} %"


@dataclass(frozen=True)
class DecidingRow:
    """A cause in words: share of the variance, and interval and verdict if it were known exactly."""

    finding: str
    cause: str
    share: str
    known: str
    verdict: str


def deciding_rows(review: Review, *, whole: bool = False) -> list[DecidingRow]:
    """Causes that widen intervals most, of the findings that are not shown or else nearest to their limit.

    Parameters
    ----------
    whole : bool
        Every cause of a hundredth or more of every finding, for an annex.
    """
    chosen = review.findings if whole else deciding(review.case, review.findings)[:MOST_DECIDING]
    return [row for finding in chosen for row in _cause_rows(review.case, finding, whole)]


def _cause_rows(case: Case, finding: Finding, whole: bool) -> Iterator[DecidingRow]:
    name = f"{plain_name(finding.quantity)}, {finding.condition}"
    if finding.role == "requirement":
        name = f"{finding.name} ({name})"
    worth = [row for row in causes(case, finding) if row.share is None or row.share >= WORTH_LISTING]
    for cause in worth if whole else main_causes(case, finding):
        same = cause.verdict == finding.verdict
        yield DecidingRow(
            name,
            cause_words(cause.name),
            "beside these" if cause.share is None else f"{100 * cause.share:.0f} %",
            interval_text(finding.quantity, cause.known),
            f"still {cause.verdict}" if same else cause.verdict,
        )


def cause_words(name: str) -> str:
    """A cause in words: a key of the case by its name, the others as they are.

    >>> cause_words("poles.mass"), cause_words("recording")
    ('tolerance of poles.mass', 'noise and number of points of the recording')
    """
    if name == "recording":
        return "noise and number of points of the recording"
    return f"tolerance of {name}" if "." in name else name


def verdict_basis(review: Review) -> str:
    """What the verdict table rests on, in sentences."""
    if not review.findings:
        return "Basis: the prediction from the drawing."
    words = (
        "Basis: “holds” means that the whole interval lies on the safe side of the limit, “does not hold” that it "
        "lies wholly on the other side, “not shown” that it includes the limit or that case or recording is in doubt. "
        "Margins are relative to the limit, positive on the safe side, for the value by test"
    )
    words += ", or else for the prediction." if not review.measurements else "."
    if any(row.acceptance_margin is not None for row in review.findings):
        words += " The acceptance value is the claim with the tolerance that the case states, and decides."
    if len(review.measurements) > 1:
        words += (
            " The first run represents the rotor as delivered and is used for claims; the last represents the rotor "
            "as it is now and is used for requirements."
        )
    return words
