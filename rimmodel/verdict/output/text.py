"""The review as text for a terminal."""

from __future__ import annotations

import textwrap

from rimmodel.behaviour.quantities import interval_text, plain_name, quantity_text
from rimmodel.rotor.case.doubts import case_doubts
from rimmodel.verdict.diametral import diametral_remarks
from rimmodel.verdict.drawing_echo import doubts_text
from rimmodel.verdict.histories import finding_span, margin_value
from rimmodel.verdict.judge import Finding
from rimmodel.verdict.output.pooled import pooled_text
from rimmodel.verdict.result import Review
from rimmodel.verdict.shims import shim_paragraph

WIDTH = 100


def text(review: Review) -> str:
    """Title, headline, one block per claim and requirement, float speeds by condition, cautions."""
    blocks = [review.case.title, "", *textwrap.wrap(review.headline, WIDTH), ""]
    for row in review.findings:
        head = f"{row.role} {row.name}" if row.role == "requirement" else "claim"
        bound = "" if row.role == "claim" else ("at least " if row.at_least else "at most ")
        blocks.append(f"{head}: {plain_name(row.quantity)}, {row.condition}: {row.verdict.upper()}")
        blocks.append(f"    stated     {bound}{quantity_text(row.quantity, row.stated)}{_margin_text(row)}")
        blocks.append(
            f"    predicted  {quantity_text(row.quantity, row.predicted)} "
            f"({interval_text(row.quantity, row.predicted_interval)} at {100 * row.confidence:g} %, tolerances of the "
            "case alone)"
        )
        if row.interval is not None:
            best = "" if row.measured is None else f"{quantity_text(row.quantity, row.measured)} "
            blocks.append(f"    by test    {best}({interval_text(row.quantity, row.interval)}), {row.measured_how}")
        if row.verdict == "not shown":
            blocks += textwrap.wrap(row.reason, WIDTH, initial_indent="    because    ", subsequent_indent=" " * 15)
    blocks += _over_histories(review)
    doubts = [doubt for doubt in case_doubts(review.case) if doubt.blocks]
    if doubts:
        blocks += ["", "doubts about the case ('rimmodel check' lists all):", doubts_text(tuple(doubts))]
    for remark in diametral_remarks(review.case, review.measurements):
        blocks += ["", *textwrap.wrap(remark, WIDTH)]
    blocks += ["", *textwrap.wrap(shim_paragraph(review.shims), WIDTH)]
    for measurement in review.measurements:
        if measurement.reasons:
            blocks += ["", f"notes on '{measurement.label}':"]
        for reason in measurement.reasons:
            blocks += textwrap.wrap(f"- {reason}", WIDTH, initial_indent="    ", subsequent_indent="      ")
    if review.pooled is not None:
        blocks += ["", pooled_text(review.pooled)]
    blocks += ["", "predicted float speed with the drawing's interference:"]
    width = max(len(name) for name in review.predictions)
    blocks += [f"    {name:{width}}  {found.float_speed.note}" for name, found in review.predictions.items()]
    blocks += [
        "",
        "An overspeed test can kill, and a prediction does not clear a machine to run: protection, codes and licensed",
    ]
    blocks += ["engineers decide. '--out DIR' writes the page with assumptions, inputs and all cautions."]
    return "\n".join(blocks)


def _over_histories(review: Review) -> list[str]:
    """A block for each requirement over a whole history."""
    found = review.histories.findings
    lines = ["", "required over whole histories ('rimmodel duty' follows them):"] if found else []
    for over in found:
        margin, span = over.margin, finding_span(over)
        asked = f"{margin.name} at least {margin_value(margin, margin.least)}"
        lines.append(f"    {over.history}: {asked}: {over.verdict.upper()}")
        words = [f"least {span}, {margin.when}, {over.basis}"] if span else []
        words += [margin.reason] if over.verdict != "holds" else []
        lines += textwrap.wrap("; ".join(words), WIDTH, initial_indent=" " * 8, subsequent_indent=" " * 8)
    return lines


def _margin_text(row: Finding) -> str:
    """The margin against what is stated, and against what counts as met where that is another value."""
    said = "" if row.margin is None else f"; margin {100 * row.margin:+.1f} %"
    if row.acceptance_margin is not None:
        met = quantity_text(row.quantity, row.threshold)
        said += f", against {met} with its tolerance {100 * row.acceptance_margin:+.1f} %"
    return said
