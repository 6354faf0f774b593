"""The second opinion as text and JSON: ours, finite elements, difference, reason."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any

import numpy as np

from rimmodel.behaviour import float_speed
from rimmodel.rotor.case.case import Case
from rimmodel.second_opinion.compare import Comparison
from rimmodel.units import in_print, rpm

WIDTH = 100

UNITS = {"stress": ("MPa", "stress"), "force": ("kN", "force"), "growth": ("mm", "length"), "speed": ("rpm", "speed")}
"""By kind of a row: how its unit is written, and the kind of quantity that it is."""

SHARED = (
    "Both opinions share what the case says and what a plane model leaves out: thin sheets that slide on each other, "
    "an elastic and even stack, a round rim, slots as teeth side by side, poles as a load at their seats, no friction. "
    "Agreement shows that the mechanics are worked out rightly, not that the case is true."
)


def table(case: Case, name: str, found: Comparison) -> dict[str, Any]:
    """Comparison in a condition of a case, for JSON, in units of print; null where there is no difference."""
    return {
        "title": case.title,
        "input_digest": case.digest,
        "condition": name,
        "rows": [_entry(row) for row in found.rows],
        "largest_difference_percent": _number(found.largest),
        "not_explained": [row.what for row in found.findings],
        "float_speed_found_twice_rpm": {
            deck: [_speed(lifted.by_pressure), _speed(lifted.by_clearance)] for deck, lifted in found.lifted.items()
        },
        "remarks": list(found.remarks),
        "shared": SHARED,
    }


def text(case: Case, name: str, found: Comparison) -> str:
    """The table, the reasons under it, and what both opinions share."""
    lines = [case.title, f"second opinion by finite elements (CalculiX), condition {name}", ""]
    for deck, rows in found.by_deck().items():
        lines += [*_block(rows, deck), ""]
    odd = f"; NOT EXPLAINED: {len(found.findings)} of {len(found.rows)} rows" if found.findings else ""
    lines += textwrap.wrap(f"largest difference {found.largest:.2g} %{odd}", WIDTH)
    lines += textwrap.wrap(f"float speed found twice: {_twice(found)}", WIDTH)
    for remark in found.remarks:
        lines += textwrap.wrap(remark, WIDTH)
    condition = case.conditions[name]
    if np.any(condition.flux_density) and condition.excitation == "constant current":
        lines += textwrap.wrap(
            "field: in this table it pulls as at the cold gap, in both columns; with a pull that grows as the gap "
            f"closes (constant current) ours is: {float_speed(case.rotor, condition).note}",
            WIDTH,
        )
    return "\n".join([*lines, "", *textwrap.wrap(SHARED, WIDTH)])


def _block(rows: Sequence[Any], deck: str) -> list[str]:
    """One deck: aligned columns, and below them the reasons by number."""
    head = (f"{deck}.inp", "ours", "finite elements", "difference", "reason")
    reasons: list[str] = []
    cells = [head]
    for row in rows:
        if row.reason and row.reason not in reasons:
            reasons.append(row.reason)
        unit, kind = UNITS[row.kind]
        ours, theirs = (f"{in_print(value, kind):.5g} {unit}" for value in (row.ours, row.theirs))
        gone = "-" if row.difference is None else f"{row.difference:+.2f} %"
        mark = f"({reasons.index(row.reason) + 1})" if row.reason else ""
        cells.append((f"{row.what}{' *' if row.of else ''}", ours, theirs, gone, mark))
    widths = [max(len(line[column]) for line in cells) for column in range(5)]
    lines = [
        f"{line[0]:{widths[0]}}  " + "  ".join(f"{line[i]:>{widths[i]}}" for i in range(1, 5)).rstrip()
        for line in cells
    ]
    shares = {row.of: None for row in rows if row.of}
    lines += [f"* difference {share}" for share in shares]
    for number, reason in enumerate(reasons, start=1):
        lines += textwrap.wrap(f"({number}) {reason}", WIDTH, subsequent_indent="    ")
    return lines


def _twice(found: Comparison) -> str:
    parts = []
    for deck, lifted in found.lifted.items():
        both = (lifted.by_pressure, lifted.by_clearance)
        seated, loose = (rpm(speed, ".2f") if speed is not None else "no speed it shows" for speed in both)
        parts.append(f"{deck}: pressure falls to zero at {seated}, clearance opens from {loose}")
    return "; ".join(parts)


def _entry(row: Any) -> dict[str, Any]:
    unit, kind = UNITS[row.kind]
    return {
        "deck": row.deck,
        "quantity": row.what,
        "unit": unit,
        "ours": _number(float(in_print(row.ours, kind))),
        "finite_elements": _number(float(in_print(row.theirs, kind))),
        "difference_percent": None if row.difference is None else _number(row.difference),
        "difference_of": row.of or "the finite elements",
        "reason": row.reason,
        "explained": row.explained,
    }


def _number(value: float) -> float | None:
    return float(f"{value:.7g}") if np.isfinite(value) else None


def _speed(value: float | None) -> float | None:
    return None if value is None else _number(float(in_print(value, "speed")))
