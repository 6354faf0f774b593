"""Alternatives of one machine side by side, as table for JSON and as text for a terminal or on paper."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from itertools import zip_longest
from typing import Any

import numpy as np

from rimmodel.behaviour.quantities import bare_text, in_print, interval_text, plain_name, print_unit, quantity_text
from rimmodel.planning.alternatives import SideBySide, inputs_that_differ, side_by_side
from rimmodel.planning.present import case_checks
from rimmodel.rotor.case.case import Case
from rimmodel.verdict.cautions import CAUTIONS
from rimmodel.verdict.judge import Finding, judge

WIDTH = 100
LETTERS = "ABCDEF"
MOST_CASES = len(LETTERS)


def table(cases: Sequence[Case], names: Sequence[str]) -> dict[str, Any]:
    """All alternatives for JSON.

    Parameters
    ----------
    names : sequence of str
        Of the case files.

    Raises
    ------
    ValueError
        As `side_by_side`, or more than six cases.
    """
    return _table(cases, names, _compared(cases))


def _compared(cases: Sequence[Case]) -> list[SideBySide]:
    if len(cases) > MOST_CASES:
        raise ValueError(f"{len(cases)} cases are given; at most {MOST_CASES} stand side by side")
    return side_by_side(cases)


def _table(cases: Sequence[Case], names: Sequence[str], rows: Sequence[SideBySide]) -> dict[str, Any]:
    shared = {row.asked.condition for row in rows}
    return {
        "confidence": SideBySide.confidence,
        "alternatives": [
            {
                "letter": letter,
                "file": name,
                "title": case.title,
                "conditions_not_compared": [state for state in case.conditions if state not in shared],
                "limits_exceeded": _exceeded(case),
            }
            for letter, name, case in zip(LETTERS, names, cases, strict=False)
        ],
        "inputs_that_differ": [
            {"key": key, "values": [_stated(value) for value in values]}
            for key, values in inputs_that_differ(cases).items()
        ],
        "quantities": [_quantity(row) for row in rows],
        "verdicts": _verdicts(cases),
    }


def _stated(value: Any) -> str | None:
    """What a case file states, as it is written there."""
    if isinstance(value, list):
        return ", ".join(str(part) for part in value)
    return None if value is None else str(value)


def _exceeded(case: Case) -> list[str]:
    rows = [row for row in case_checks(case) if row.binding and not row.missing and np.any(np.asarray(row.margin) < 0)]
    return list(
        dict.fromkeys(f"{row.name} ({', '.join(part for part in (row.at, row.condition) if part)})" for row in rows)
    )


def _quantity(row: SideBySide) -> dict[str, Any]:
    quantity = row.asked.quantity

    def printed(value: float) -> float | None:
        return in_print(quantity, value)

    return {
        "quantity": quantity,
        "condition": row.asked.condition,
        "unit": print_unit(quantity).name,
        "values": [printed(value) for value in row.values],
        "intervals": [[printed(end) for end in pair] for pair in row.intervals],
        "differences": [printed(value) for value, _ in row.differences],
        "difference_intervals": [[printed(end) for end in pair] for _, pair in row.differences],
    }


def _verdicts(cases: Sequence[Case]) -> list[dict[str, Any]]:
    """Claims and requirements on the drawing of each case, by role and name."""
    found = [
        {(row.role, row.name, row.condition): row for row in (judge(case, item, None) for item in _items(case))}
        for case in cases
    ]
    keys = dict.fromkeys(key for table in found for key in table)
    return [
        {"role": role, "name": name, "condition": condition, "verdicts": [_verdict(table.get(key)) for table in found]}
        for key in keys
        for role, name, condition in [key]
    ]


def _items(case: Case) -> list[Any]:
    return [*case.claims, *case.requirements]


def _verdict(row: Finding | None) -> dict[str, Any] | None:
    if row is None:
        return None
    margin = None if row.margin is None or not np.isfinite(row.margin) else float(f"{row.margin:.6g}")
    return {"stated": in_print(row.quantity, row.stated), "verdict": row.verdict, "margin": margin}


def text(cases: Sequence[Case], names: Sequence[str]) -> str:
    """The same for a terminal or on paper."""
    rows = _compared(cases)
    table = _table(cases, names, rows)
    lines = []
    for row in table["alternatives"]:
        lines += textwrap.wrap(f"{row['letter']}: {row['title']} ({row['file']})", WIDTH, subsequent_indent="   ")
        if row["conditions_not_compared"]:
            lines.append(f"   not compared, as not every case has it: {', '.join(row['conditions_not_compared'])}")
    lines += ["", *_inputs(table), "", *_predictions(rows), "", *_verdict_lines(table)]
    lines += ["", *textwrap.wrap(_BASIS, WIDTH), *textwrap.wrap(" ".join(CAUTIONS), WIDTH)]
    return "\n".join(lines)


_BASIS = (
    "Predictions and verdicts rest on the drawing of each case with its tolerances; recordings are not used. A "
    "tolerance that is the same in two cases belongs to the same part, so it cancels in their difference as far as it "
    "acts alike; what has no tolerance in a case is treated as exact."
)


def _inputs(table: dict[str, Any]) -> list[str]:
    rows = table["inputs_that_differ"]
    if not rows:
        return ["The case files state the same."]
    lines = ["inputs that differ:"]
    for row in rows:
        values = (
            f"{letter} {'not stated' if value is None else value}"
            for letter, value in zip(LETTERS, row["values"], strict=False)
        )
        lines += textwrap.wrap(
            f"{row['key']}: {'; '.join(values)}", WIDTH, initial_indent="    ", subsequent_indent=8 * " "
        )
    return lines


def _predictions(rows: Sequence[SideBySide]) -> list[str]:
    lines = [f"predicted, differences from A at {100 * SideBySide.confidence:g} % confidence:"]
    for row in rows:
        letters = LETTERS[: len(row.values)]
        quantity = row.asked.quantity
        lines.append(f"    {plain_name(quantity)}, {row.asked.condition} [{print_unit(quantity).name}]")
        for letter, value, pair, change in zip_longest(letters, row.values, row.intervals, [None, *row.differences]):
            shown = f"        {letter} {quantity_text(quantity, value):>12}  ({interval_text(quantity, pair)})"
            if change is not None and np.isfinite(change[0]):
                ends = " to ".join(_signed(quantity, end) for end in change[1])
                shown += f"   {letter} - A: {_signed(quantity, change[0])} ({ends})"
            lines.append(shown)
    return lines


def _signed(quantity: str, value: float) -> str:
    shown = bare_text(quantity, value)
    if not any(digit in shown for digit in "123456789"):
        return shown.removeprefix("-")  # no sign before a zero
    return shown if shown.startswith("-") else f"+{shown}"


def _verdict_lines(table: dict[str, Any]) -> list[str]:
    rows = table["verdicts"]
    lines = (
        ["claims and requirements by the drawing alone (a recording may show otherwise: 'rimmodel review'):"]
        if rows
        else ["Nothing is claimed or required."]
    )
    for row in rows:
        words = (
            f"{letter} {'not asked' if found is None else _verdict_words(found)}"
            for letter, found in zip(LETTERS, row["verdicts"], strict=False)
        )
        name = f"{row['role']} {row['name']} ({row['condition']})"
        lines += textwrap.wrap(f"{name}: {'; '.join(words)}", WIDTH, initial_indent="    ", subsequent_indent=8 * " ")
    for one in table["alternatives"]:
        if one["limits_exceeded"]:
            exceeded = f"limits exceeded, {one['letter']}: {'; '.join(one['limits_exceeded'])}"
            lines += textwrap.wrap(exceeded, WIDTH, initial_indent="    ", subsequent_indent=8 * " ")
    return lines


def _verdict_words(found: dict[str, Any]) -> str:
    verdict: str = found["verdict"]
    return f"{verdict} by the drawing" + (
        "" if found["margin"] is None else f" ({round(100 * found['margin'], 1) + 0.0:+.1f} %)"
    )
