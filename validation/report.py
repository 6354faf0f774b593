"""The table of all checks: on the screen, as Markdown, as JSON, and as a figure of all differences."""

from __future__ import annotations

import json
import math
import tempfile
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from rich import box
from rich.console import Console
from rich.table import Table

from rimmodel.plotting.style import to_svg
from validation.check import Group, Outcome
from validation.figure import differences_figure
from validation.front_page import group_table

COLUMNS = (
    "check",
    "what",
    "source",
    "their value",
    "ours",
    "difference",
    "allowed",
    "why so much",
    "provenance",
    "verdict",
    "note",
)
FILES = ("validation.md", "validation.json", "validation.svg")
VIRTUAL_RUNS = Path(__file__).parents[1] / "tests" / "benchmarks"
"""Where tables of virtual runs stand that take an hour to compute: as measured, the command in their first line."""


@dataclass(frozen=True)
class Results:
    """Outcomes under the heading of their file; files left out because a library is missing; files that broke down."""

    files: Mapping[str, Sequence[Outcome]]
    left_out: Sequence[str] = field(default_factory=list)
    broken: Sequence[str] = field(default_factory=list)

    @property
    def outcomes(self) -> list[Outcome]:
        """All of them."""
        return [outcome for rows in self.files.values() for outcome in rows]

    @property
    def groups(self) -> dict[Group, list[Outcome]]:
        """The same by what they are held against; groups that have none are left out."""
        rows = {group: [row for row in self.outcomes if row.check.group is group] for group in Group}
        return {group: outcomes for group, outcomes in rows.items() if outcomes}

    def sections(self) -> Iterator[tuple[Group, str, list[Outcome]]]:
        """Group, heading of a file, and what of that file belongs to the group."""
        for group in self.groups:
            for heading, outcomes in self.files.items():
                if rows := [row for row in outcomes if row.check.group is group]:
                    yield group, heading, rows

    @property
    def hold(self) -> bool:
        """Whether every check ran and holds."""
        return not self.broken and all(outcome.holds for outcome in self.outcomes)

    def summary(self) -> str:
        """Return one sentence: how many checks, of which provenance, which missed."""
        kinds = Counter(str(outcome.check.provenance) for outcome in self.outcomes)
        told = ", ".join(f"{count} {kind}" for kind, count in sorted(kinds.items()))
        missed = [outcome.check.id for outcome in self.outcomes if not outcome.holds] + list(self.broken)
        return f"{len(self.outcomes)} checks ({told}): " + (f"MISSED: {', '.join(missed)}" if missed else "all hold")


def cells(outcome: Outcome) -> tuple[str, ...]:
    """Return one line of the table as texts, in the order of `COLUMNS`."""
    check = outcome.check
    printed = check.printed if isinstance(check.printed, str) else f"{check.printed:.7g}"
    unit = "" if check.unit == "-" else f" {check.unit}"
    return (
        check.id,
        check.what,
        check.source,
        f"{printed}{unit}",
        outcome.error or f"{outcome.ours:.7g}{unit}",
        "" if outcome.error else f"{outcome.difference:+.1e}",
        f"{check.allowed:.1e}",
        check.reason,
        str(check.provenance),
        "holds" if outcome.holds else "MISS",
        check.note,
    )


def print_table(results: Results, console: Console) -> None:
    """Print a table per file, then what was left out and the summary. Text under text saves width."""
    for group, heading, outcomes in results.sections():
        table = Table(title=f"{group} · {heading}", title_justify="left", box=box.SIMPLE, pad_edge=False)
        table.add_column("check", no_wrap=True)
        table.add_column("what / source", ratio=5)
        table.add_column("their value / ours", ratio=2)
        table.add_column("difference / allowed", min_width=10)
        table.add_column("why so much / note", ratio=5)
        table.add_column("provenance / verdict", min_width=18)
        for outcome in outcomes:
            text = dict(zip(COLUMNS, (cell.replace("[", r"\[") for cell in cells(outcome)), strict=True))
            table.add_row(
                text["check"],
                f"{text['what']}\n[dim]{text['source']}[/dim]",
                f"{text['their value']}\n{text['ours']}",
                f"{text['difference']}\n{text['allowed']}",
                f"{text['why so much']}\n[dim]{text['note']}[/dim]".rstrip(),
                f"{text['provenance']}\n{text['verdict']}",
            )
        console.print(table)
    for line in (*results.left_out, *results.broken):
        console.print(line, markup=False)
    console.print(results.summary(), markup=False)


def as_markdown(results: Results) -> str:
    """Return the table as Markdown."""
    lines = ["# Validation", "", results.summary() + "."]
    lines += [f"\n{line}." for line in (*results.left_out, *results.broken)]
    lines += ["", "Differences are relative to the source's value (to the largest of its set where so noted).", ""]
    lines += [group_table(results.groups), "![all differences](validation.svg)", ""]
    last = None
    for group, heading, outcomes in results.sections():
        lines += [f"## {str(group).capitalize()}", ""] if group is not last else []
        lines += [f"### {heading}", "", _line(COLUMNS), _line(["---"] * len(COLUMNS))]
        lines += [_line(cells(outcome)) for outcome in outcomes] + [""]
        last = group
    return "\n".join([*lines, *_virtual_runs()])


def _virtual_runs() -> Iterator[str]:
    """Yield the tables of virtual runs whose truth is known, which are too long to be computed with the checks."""
    tables = sorted(VIRTUAL_RUNS.glob("*_table.txt"))
    if tables:
        yield "## Virtual runs whose truth is known"
        yield "\nAs measured; not computed again with the checks above. The command stands in the first line of each."
    for path in tables:
        yield f"\n### {path.stem.replace('_', ' ').capitalize()}\n\n```text\n{path.read_text(encoding='utf-8')}```"


def as_json(results: Results) -> str:
    """Return everything as JSON; numbers that do not exist are null."""
    rows = [{"group": group, "file": file, **_record(row)} for group, file, some in results.sections() for row in some]
    head = {"summary": results.summary(), "left_out": list(results.left_out), "broken": list(results.broken)}
    return json.dumps({**head, "checks": rows}, indent=1) + "\n"


def write(results: Results, folder: Path) -> None:
    """Write all files, each complete or not at all, over what is there."""
    folder.mkdir(parents=True, exist_ok=True)
    texts = (as_markdown(results), as_json(results), to_svg(differences_figure(results.groups)))
    for name, text in zip(FILES, texts, strict=True):
        with tempfile.TemporaryDirectory(dir=folder, prefix=".part") as part:
            temporary = Path(part) / name
            temporary.write_text(text, encoding="utf-8")
            temporary.replace(folder / name)


def _line(texts: Sequence[str]) -> str:
    return "| " + " | ".join(text.replace("|", r"\|").replace("\n", " ") for text in texts) + " |"


def _record(outcome: Outcome) -> dict[str, object]:
    check = outcome.check
    return {
        "id": check.id,
        "what": check.what,
        "source": check.source,
        "printed": check.printed if isinstance(check.printed, str) else None,
        "value": check.number,
        "unit": check.unit,
        "ours": _number(outcome.ours),
        "relative_difference": _number(outcome.difference),
        "allowed": check.allowed,
        "reason": check.reason,
        "provenance": str(check.provenance),
        "note": check.note,
        "holds": outcome.holds,
        "error": outcome.error,
    }


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None
