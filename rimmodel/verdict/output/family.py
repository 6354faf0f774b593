"""Sister units of a fleet as a table for JSON, as text and as part of the page."""

from __future__ import annotations

import textwrap
from html import escape
from typing import Any

import numpy as np

from rimmodel.arrays import Interval
from rimmodel.units import in_print, number
from rimmodel.verdict.family import INTERFERENCE, WHO_IS_HURT, FleetFamily, PooledNumber

WIDTH = 100
COLUMNS = ("unit", "alone", "with its family", "predicted by the others", "chance")
NOT_POOLED = "not pooled: stands apart"


def family_table(found: FleetFamily | None) -> dict[str, Any] | None:
    """The family for JSON; None where there is none."""
    if found is None:
        return None
    return {
        "members": list(found.members),
        "refused": dict(found.refused),
        "numbers": [_number_table(row) for row in found.numbers],
        "not_pooled": dict(found.not_pooled),
        "verdicts": [vars(row) for row in found.verdicts],
        "caution": WHO_IS_HURT,
    }


def _kind(row: PooledNumber) -> str:
    return "length" if row.name == INTERFERENCE else "speed"


def _unit(row: PooledNumber) -> str:
    return "mm" if row.name == INTERFERENCE else "rpm"


def _number_table(row: PooledNumber) -> dict[str, Any]:
    kind = _kind(row)

    def ends(interval: Interval) -> list[float | None]:
        return [number(end, kind) for end in interval]

    units = [
        {
            "file": file,
            "alone": number(alone.best, kind),
            "alone_interval": ends(alone.interval),
            "with_family": number(row.best[place], kind),
            "with_family_interval": ends(row.intervals[place]),
            "predicted_by_others_interval": ends(row.predicted[place]),
            "chance_percent": 100.0 * row.chance[place],
            "stands_apart": row.apart[place],
        }
        for place, (file, alone) in enumerate(zip(row.files, row.alone, strict=True))
    ]
    return {
        "name": row.name,
        "unit": _unit(row),
        "spread": number(row.spread, kind),
        "spread_interval": ends(row.spread_interval),
        "outside_predicted": sum(
            not low <= alone.best <= high for alone, (low, high) in zip(row.alone, row.predicted, strict=True)
        ),
        "units": units,
    }


def family_lines(found: FleetFamily) -> list[tuple[str, list[list[str]]]]:
    """Each pooled number as a heading, and its rows as words in the order of `COLUMNS`."""
    blocks = []
    for row in found.numbers:
        kind = _kind(row)
        heading = f"{row.name} [{_unit(row)}], {_units(len(row.files))}"
        if np.isfinite(row.spread):
            heading += f"; true values spread by {_digits(row.spread, kind)} "
            heading += f"({_digits(row.spread_interval[0], kind)} to {_digits(row.spread_interval[1], kind)})"
        lines = []
        for place, (file, alone) in enumerate(zip(row.files, row.alone, strict=True)):
            pooled = NOT_POOLED if row.apart[place] else _words(row.best[place], row.intervals[place], kind)
            low, high = row.predicted[place]
            chance = f"{100.0 * row.chance[place]:.1f} %"
            span = f"{_digits(low, kind)} to {_digits(high, kind)}"
            lines.append([file, _words(alone.best, alone.interval, kind), pooled, span, chance])
        blocks.append((heading, lines))
    return blocks


def _units(count: int) -> str:
    return "1 unit" if count == 1 else f"{count} units"


def _digits(value: float, kind: str) -> str:
    return f"{in_print(value, kind):.{3 if kind == 'length' else 1}f}"


def _words(best: float, interval: Interval, kind: str) -> str:
    return f"{_digits(best, kind)} ({_digits(interval[0], kind)} to {_digits(interval[1], kind)})"


def _remarks(found: FleetFamily) -> list[str]:
    return [
        *(f"{file} is no member: {reason}" for file, reason in found.refused.items()),
        *(f"{name} is not pooled: {reason}" for name, reason in found.not_pooled.items()),
    ]


def _verdict_lines(found: FleetFamily) -> list[str]:
    return [
        f"{row.file}, requirement {row.requirement}, {row.condition}: {row.alone} alone, {row.pooled} with its family"
        + (f" ({row.reason})" if row.reason else "")
        for row in found.verdicts
    ]


def family_text(found: FleetFamily) -> str:
    """The family for the terminal."""
    lines = [f"Sister units, {len(found.members)} of one design; the verdicts above rest on each unit alone."]
    for heading, rows in family_lines(found):
        table = [list(COLUMNS), *rows]
        widths = [max(len(row[place]) for row in table) for place in range(len(COLUMNS))]
        lines += ["", heading]
        lines += [
            "    " + "  ".join(f"{cell:{wide}}" for cell, wide in zip(row, widths, strict=True)).rstrip()
            for row in table
        ]
    for words in (*_verdict_lines(found), *_remarks(found)):
        lines += textwrap.wrap(f"- {words}", WIDTH, subsequent_indent="  ")
    return "\n".join([*lines, "", *textwrap.wrap(WHO_IS_HURT, WIDTH)])


def family_html(found: FleetFamily) -> str:
    """The family as part of a page; every text from a case is escaped."""
    head = "".join(f"<th>{escape(name)}</th>" for name in COLUMNS)
    parts = ["<h2>Sister units</h2>", f"<p>{escape(WHO_IS_HURT)}</p>"]
    for heading, rows in family_lines(found):
        body = "\n".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in rows)
        parts.append(f"<h3>{escape(heading)}</h3>\n<table><tr>{head}</tr>\n{body}</table>")
    listed = "\n".join(f"<li>{escape(words)}</li>" for words in (*_verdict_lines(found), *_remarks(found)))
    return "\n".join([*parts, f"<ul>{listed}</ul>" if listed else ""])
