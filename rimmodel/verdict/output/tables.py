"""The review and its sweeps as plain tables for JSON and CSV: units in the names, null where there is no number."""

from __future__ import annotations

from typing import Any

import numpy as np

from rimmodel.behaviour import CharacteristicSpeed, Sweep
from rimmodel.behaviour.quantities import in_print, print_unit
from rimmodel.units import in_mm, number
from rimmodel.verdict.cautions import CAUTIONS
from rimmodel.verdict.deciding import causes_table
from rimmodel.verdict.drawing_echo import drawing_table
from rimmodel.verdict.histories import HistoryFinding
from rimmodel.verdict.judge import Finding
from rimmodel.verdict.output import keys
from rimmodel.verdict.output.duty import margin_entry
from rimmodel.verdict.output.fit import comparison_table, fit_table
from rimmodel.verdict.output.pooled import pooled_table
from rimmodel.verdict.questions import questions, questions_table
from rimmodel.verdict.result import Review
from rimmodel.verdict.shims import shims_table
from rimmodel.version import VERSION


def sweep_table(states: Sweep) -> dict[str, Any]:
    """The columns of a sweep in units of print, as lists (or numbers for a single speed)."""

    def listed(values: Any) -> Any:
        return [number(value) for value in values] if np.ndim(values) else number(float(values))

    return {name: listed(values) for name, values in states.columns().items()}


def float_speed_entry(found: CharacteristicSpeed) -> dict[str, Any]:
    """Float speed in rpm, null when there is none, and the words."""
    return {"float_speed_rpm": number(found.speed, "speed"), "float_note": found.note}


def table(review: Review) -> dict[str, Any]:
    """The whole review for review.json."""
    least, confident = review.shims.least, review.shims.confident
    return {
        "title": review.case.title,
        "headline": review.headline,
        "input_digest": review.input_digest,
        "version": VERSION,
        "conditions": {
            name: {
                **float_speed_entry(prediction.float_speed),
                "landmarks": {
                    mark: {"speed_rpm": number(found.speed, "speed"), "note": found.note}
                    for mark, found in prediction.event_speeds.items()
                },
                "at": {at: sweep_table(states) for at, states in prediction.at.items()},
            }
            for name, prediction in review.predictions.items()
        },
        "claims": [_judged(review, row) for row in review.findings if row.role == "claim"],
        "requirements": [_judged(review, row) for row in review.findings if row.role == "requirement"],
        "requirements_over_histories": [history_entry(row) for row in review.histories.findings],
        "measurements": [fit_table(row) for row in review.measurements],
        "comparisons": [comparison_table(row) for row in review.comparisons],
        "pooled_runs": pooled_table(review.pooled),
        "basis": review.basis,
        "sensitivities": [
            {
                "input": row.input,
                "change": row.change,
                "condition": review.drivers_in,
                "float_speed_change_percent": None
                if row.float_speed_change is None
                else 100.0 * row.float_speed_change,
            }
            for row in review.drivers
        ],
        "shims": shims_table(review.shims),
        "interference_needed_mm": round(in_mm(least.interference), 2) if least else None,
        "shim_change_mm": number(round(in_mm(least.change), 2)) if least else None,
        "shim_change_with_confidence_mm": number(round(in_mm(confident.change), 2)) if confident else None,
        "keys": None if review.keys is None else {"condition": review.drivers_in, **keys.table(review.keys)},
        **drawing_table(review.case),
        "questions": questions_table(questions(review)),
        "cautions": list(CAUTIONS),
    }


def history_entry(finding: HistoryFinding) -> dict[str, Any]:
    """A requirement over a history."""
    return {"history": finding.history, **margin_entry(finding.margin), "basis": finding.basis or None}


def _judged(review: Review, row: Finding) -> dict[str, Any]:
    return finding_table(row) | {"what_decides": causes_table(review.case, row)}


def finding_table(row: Finding) -> dict[str, Any]:
    """One claim or requirement; values in the unit of print of its quantity."""

    def printed(value: float | None) -> float | None:
        return in_print(row.quantity, value)

    interval = row.interval
    return {
        "name": row.name,
        "quantity": row.quantity,
        "condition": row.condition,
        "unit": print_unit(row.quantity).name,
        "stated": printed(row.stated),
        "bound": "at least" if row.at_least else "at most",
        "predicted": printed(row.predicted),
        "predicted_interval": [printed(bound) for bound in row.predicted_interval],
        "confidence": row.confidence,
        "measured": printed(row.measured),
        "interval": None if interval is None else [printed(bound) for bound in interval],
        "verdict": row.verdict,
        "margin": number(row.margin),
        "acceptance_value": printed(row.threshold),
        "acceptance_margin": number(row.acceptance_margin),
        "uncertainty_by_cause": {cause: [printed(end) for end in ends] for cause, ends in row.parts.items()},
        "reason": row.reason,
    }
