"""The table of groups that stands on the front page, and its place there: generated, never typed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path
from statistics import median

from validation.check import Group, Outcome

BEGIN, END = "<!-- begin: written by python -m validation --readme README.md -->", "<!-- end -->"
ROUND_OFF = 1e-9
"""What is smaller is round-off, whose size is the machine's."""


def group_table(groups: Mapping[Group, Sequence[Outcome]]) -> str:
    """Return one line of Markdown per group: how many numbers, their provenance, middle and worst relative difference.

    Differences are relative to the source's number.
    """
    lines = ["| held against | numbers | where from | half are within | worst | which |", f"|{' --- |' * 6}"]
    for group, outcomes in groups.items():
        worst = max(outcomes, key=lambda outcome: abs(outcome.difference))
        which = f"{worst.check.what} ({worst.check.id}); allowed {worst.check.allowed:.0e}: {worst.check.reason}"
        middle = median(abs(outcome.difference) for outcome in outcomes)
        kinds = Counter(str(outcome.check.provenance) for outcome in outcomes)
        origin = ", ".join(f"{count} {kind}" for kind, count in kinds.most_common())
        numbers = f"{len(outcomes)} | {origin} | {_size(middle)} | {_size(abs(worst.difference))}"
        lines.append(f"| {group} | {numbers} | {which.replace('|', ' ')} |")
    return "\n".join(lines) + "\n"


def replaced(page: str, table: str) -> str:
    """Return the page with the table between its two marks.

    Raises
    ------
    ValueError
        The page does not have both marks, once each and in order.
    """
    head, begin, rest = page.partition(BEGIN)
    _, end, tail = rest.partition(END)
    if not (begin and end) or BEGIN in rest:
        raise ValueError(f"needs one line {BEGIN!r} and one {END!r} after it, between which the table goes")
    return f"{head}{BEGIN}\n{table}{END}{tail}"


def write_table(page: Path, groups: Mapping[Group, Sequence[Outcome]]) -> None:
    """Put the table into a page in place, complete or not at all; raises as `replaced` does."""
    text = replaced(page.read_text(encoding="utf-8"), group_table(groups))
    part = page.with_name(f".{page.name}.part")
    part.write_text(text, encoding="utf-8")
    part.replace(page)


def _size(difference: float) -> str:
    return f"{difference:.0e}" if difference >= ROUND_OFF else "round-off"
