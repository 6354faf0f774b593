"""The echo of the drawing: what the case makes of the machine, and the doubts about it, as text, rows and JSON."""

from __future__ import annotations

import textwrap
from typing import Any

from rimmodel.rotor.case.case import Case
from rimmodel.rotor.case.doubts import Doubt, case_doubts
from rimmodel.rotor.case.drawing import DrawingLine, drawing
from rimmodel.units import number

WIDTH = 100
BLOCKED = "no claim or requirement that depends on it is judged"


def drawing_lines(case: Case) -> tuple[DrawingLine, ...]:
    """The derived numbers of a case."""
    return drawing(case.rotor, case.stated, "interference_on_diameter" in case.as_read.get("fit", {}))


def drawing_text(case: Case) -> str:
    """One line for each derived number, its usual band beside it, and a mark where it lies outside."""
    lines = drawing_lines(case)
    width = max(len(line.name) for line in lines)
    right = max(len(line.text) for line in lines)
    rows = ["drawing data derived from the case (compare with drawing and rating plate):"]
    for line in lines:
        band = f"  {line.band} [{line.source}]" if line.band else ""
        rows.append(f"  {'?' if line.remark else ' '} {line.name:{width}}  {line.text:>{right}}{band}".rstrip())
    return "\n".join(rows)


def doubts_text(doubts: tuple[Doubt, ...]) -> str:
    """The doubts, one paragraph each; empty when there are none."""
    return "\n".join(
        textwrap.fill(
            doubt_words(doubt), WIDTH, initial_indent="  - ", subsequent_indent="    ", break_on_hyphens=False
        )
        for doubt in doubts
    )


def doubt_words(doubt: Doubt) -> str:
    """A doubt with what it stops."""
    return f"{doubt.text}; {BLOCKED}" if doubt.blocks else doubt.text


def drawing_rows(case: Case) -> list[dict[str, str]]:
    """The derived numbers for the page."""
    return [
        {"name": line.name, "value": line.text, "band": line.band, "source": line.source, "remark": line.remark}
        for line in drawing_lines(case)
    ]


def drawing_table(case: Case) -> dict[str, Any]:
    """Derived numbers and doubts for JSON, in units of print."""
    return {
        "drawing": [
            {
                "name": line.name,
                "value": number(line.value / line.size),
                "unit": line.unit,
                "usual": [number(bound / line.size) for bound in line.usual],
                "source": line.source,
                "remark": line.remark,
            }
            for line in drawing_lines(case)
        ],
        "doubts": [
            {
                "name": doubt.name,
                "text": doubt.text,
                "blocks": doubt.blocks,
                "condition": doubt.condition,
                "item": doubt.item,
            }
            for doubt in case_doubts(case)
        ],
    }
