"""The annexes of a review: which there are, in which order, and under which number."""

from __future__ import annotations

from dataclasses import dataclass

from rimmodel.verdict.output.details import Details
from rimmodel.verdict.result import Review


@dataclass(frozen=True)
class Annex:
    """A numbered annex; `name` is that of its block in the template."""

    number: int
    name: str
    title: str
    record: int = 0
    """Of an annex on a recording: which one, from 1."""


def annexes(review: Review, found: Details) -> tuple[Annex, ...]:
    """The annexes of a review in the order in which they stand."""
    rows = [("doubts", "Doubts, reasons and remarks", 0)]
    for number, measurement in enumerate(review.measurements, 1):
        rows.append(("record", f"Evidence of run {number}: {measurement.label}", number))
    if review.comparisons:
        rows.append(("change", "Before and after", 0))
    rows += [
        ("predictions", "Predictions", 0),
        ("limits", "Limits", 0),
        ("shims", "Shims and shrink window", 0),
        ("plan", "Plan of a proving run", 0),
        ("keys", "Key by key", 0),
        ("least_gap", "Least gap", 0),
    ]
    if found.rejection:
        rows.append(("rejection", "Load rejection", 0))
    if found.duty or found.no_duty:
        rows.append(("duty", "Warming up, stopping and starting again", 0))
    rows += [
        ("drawing", "Drawing data derived from the case", 0),
        ("inputs", "Inputs as read", 0),
        ("assumptions", "Assumptions", 0),
        ("left_out", "What the model leaves out", 0),
        ("what_if", "What if: moved inputs, no verdict", 0),
    ]
    return tuple(Annex(number, *row) for number, row in enumerate(rows, 1))
