"""A folder of cases reviewed: claims and requirements alike, the worst first, and faulty files with their reason."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, fields
from html import escape
from pathlib import Path
from typing import Any

from rimmodel.behaviour.quantities import interval_text, quantity_text
from rimmodel.behaviour.study.workers import Workers, task_map
from rimmodel.evidence.measured.measurement import float_speed_found
from rimmodel.rotor.case.case import CaseError, read_case
from rimmodel.verdict.assess import assess
from rimmodel.verdict.family import FleetFamily, Unit, fleet_family, unit_of
from rimmodel.verdict.output.family import family_html, family_table, family_text
from rimmodel.verdict.output.files import PAGE_POLICY, csv_text, write_files
from rimmodel.verdict.output.fleet_findings import COLUMNS as FINDING_COLUMNS
from rimmodel.verdict.output.fleet_findings import (
    FleetFinding,
    badness,
    counted,
    counted_words,
    finding_cells,
    fleet_findings,
    worst_first,
)
from rimmodel.verdict.output.workbook import Table, about, workbook_bytes
from rimmodel.verdict.result import Review

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class FleetRow:
    """One case of a fleet: the worst of its claims and requirements, or the fault that kept it from review.

    Attributes
    ----------
    margin : float or None, -
        A share of the bound, below zero where it is missed; None where nothing is claimed or required, or where no
        best value is known.
    """

    file: str
    title: str = ""
    verdict: str = ""
    margin: float | None = None
    decisive: str = ""
    reason: str = ""
    broken: int = 0
    not_shown: int = 0
    held: int = 0
    float_speed: str = ""
    measured: str = ""
    records: int = 0
    fault: str = ""
    as_sister: Unit | None = None
    findings: tuple[FleetFinding, ...] = ()


@dataclass(frozen=True)
class Fleet:
    """All cases of a folder: `rows` those reviewed, the worst first, then `faulty` ones by file.

    `family` holds what units of one design say together; None where fewer than two have a run that can speak.
    """

    folder: Path
    rows: tuple[FleetRow, ...]
    faulty: tuple[FleetRow, ...]
    family: FleetFamily | None = None

    @property
    def findings(self) -> tuple[FleetFinding, ...]:
        """Claims and requirements of all cases, the worst first."""
        return worst_first(finding for row in self.rows for finding in row.findings)


def fleet(
    folder: str | Path, *, workers: Workers = 1, progress: Progress | None = None, pooled_verdicts: bool = False
) -> Fleet:
    """Review every case file (``*.toml``) in a folder and those below it, with the recordings that each names.

    Parameters
    ----------
    workers : int, str or map-like callable
        See `task_map`.
    progress : callable, optional
        Called with the cases done and their number.
    pooled_verdicts : bool
        Also say what requirements on the float speed would be with the family; the verdict of each unit stays its own.

    Returns
    -------
    Fleet
        A file that cannot be read, or whose recordings cannot, is listed with its reason; the rest goes on.

    Raises
    ------
    ValueError
        No such folder, or no case file in it.
    """
    place = Path(folder)
    if not place.is_dir():
        raise ValueError(f"{place} is not a folder; name the folder that holds the case files")
    files = sorted(path for path in place.rglob("*.toml") if path.is_symlink() or not path.is_dir())
    if not files:
        raise ValueError(f"{place} contains no case file (*.toml)")
    rows = []
    with task_map(workers) as run:
        for row in run(_one, [(str(path), str(path.relative_to(place))) for path in files]):
            rows.append(row)
            if progress is not None:
                progress(len(rows), len(files))
    good = sorted((row for row in rows if not row.fault), key=_order)
    units = sorted((row.as_sister for row in good if row.as_sister is not None), key=lambda unit: unit.file)
    family = fleet_family(units, verdicts=pooled_verdicts)
    return Fleet(place, tuple(good), tuple(row for row in rows if row.fault), family)


def _order(row: FleetRow) -> tuple[int, float, str]:
    return (*badness(row.verdict, row.margin), row.file)


def _one(task: tuple[str, str]) -> FleetRow:
    path, name = task
    try:
        return _row(name, assess(read_case(path)))
    except CaseError as error:
        return FleetRow(name, fault="; ".join(error.faults))
    except (ValueError, KeyError, OSError, ArithmeticError) as error:
        return FleetRow(
            name, fault=str(error.args[0] if isinstance(error, KeyError) else error).removeprefix(f"{path}: ")
        )
    except Exception as error:  # a fault of this program in one case must not hide the others
        return FleetRow(name, fault=f"internal error, please report it: {type(error).__name__}: {error}")


def _row(name: str, review: Review) -> FleetRow:
    case = review.case
    first, prediction = next(iter(review.predictions.items()))
    last = review.measurements[-1] if review.measurements else None
    findings = fleet_findings(name, review)
    count = counted(findings)
    worst: dict[str, Any] = {}
    if findings:
        decides = findings[0]
        worst = {
            "verdict": decides.verdict, "margin": decides.margin, "decisive": decides.decisive,
            "reason": decides.reason,
        }  # fmt: skip
    measured = ""
    if last is not None:
        measured = f"{interval_text('float_speed', float_speed_found(last)[1])} ({last.verdict})"
    return FleetRow(
        name, case.title, float_speed=f"{quantity_text('float_speed', float(prediction.float_speed.speed))} ({first})",
        measured=measured, records=len(review.measurements), broken=count["does not hold"],
        not_shown=count["not shown"], held=count["holds"], as_sister=unit_of(name, review), findings=findings, **worst,
    )  # fmt: skip


COUNTS = "do not hold  not shown  hold"
ORDER = (
    "What does not hold stands first, then what is not shown, then what holds, each by its margin; a margin that is "
    "not known counts as none left."
)
ALIKE = "Claims and requirements alike, the worst first:"

COLUMNS = {
    "file": "file",
    "title": "unit",
    "verdict": "verdict",
    "margin": "margin [%]",
    "decisive": "decided by",
    "broken": "do not hold",
    "not_shown": "not shown",
    "held": "hold",
    "float_speed": "predicted float speed",
    "measured": "measured float speed",
    "records": "records",
    "reason": "reason",
    "fault": "fault",
}
"""Field of a row and head of its column."""


_IN_JSON = tuple(field.name for field in fields(FleetRow) if field.name not in ("as_sister", "findings"))


def fleet_cells(row: FleetRow) -> list[object]:
    """What stands in the columns of a row."""
    values: dict[str, object] = dict(vars(row))
    values["margin"] = "" if row.margin is None else round(100 * row.margin, 2)
    return [values[name] for name in COLUMNS]


def table(found: Fleet) -> dict[str, Any]:
    """The fleet for JSON."""
    return {
        "folder": str(found.folder),
        "cases": [{name: getattr(row, name) for name in _IN_JSON} for row in found.rows],
        "findings": [vars(row) for row in found.findings],
        "faulty": [{"file": row.file, "fault": row.fault} for row in found.faulty],
        "family": family_table(found.family),
    }


def fleet_csv(found: Fleet) -> str:
    """The fleet as CSV, faulty files last."""
    return csv_text(list(COLUMNS.values()), [fleet_cells(row) for row in (*found.rows, *found.faulty)])


def findings_csv(found: Fleet) -> str:
    """Claims and requirements of the fleet as CSV, the worst first."""
    return csv_text(list(FINDING_COLUMNS.values()), [finding_cells(row) for row in found.findings])


def text(found: Fleet) -> str:
    """The fleet for the terminal."""
    wide = max([len(row.file) for row in (*found.rows, *found.faulty)])
    lines = [f"{'file':{wide}}  {'margin':>8}  {'verdict':14}  {COUNTS}  decided by"]
    for row in found.rows:
        margin = "" if row.margin is None else f"{100 * row.margin:+.1f} %"
        counts = f"{row.broken:11}  {row.not_shown:9}  {row.held:4}"
        lines.append(f"{row.file:{wide}}  {margin:>8}  {row.verdict:14}  {counts}  {row.decisive}".rstrip())
    lines += ["", f"{ALIKE} {counted_words(found.findings)}."]
    if found.faulty:
        lines += ["", f"{len(found.faulty)} faulty:"]
        lines += [f"{row.file}: {row.fault}" for row in found.faulty]
    if found.family is not None:
        lines += ["", family_text(found.family)]
    return "\n".join(lines)


_STYLE = """
body { font: 15px/1.45 system-ui, sans-serif; color: #222; max-width: 82rem; margin: 2rem auto; padding: 0 1rem; }
table { border-collapse: collapse; width: 100%; font-size: 14px; }
th, td { text-align: left; vertical-align: top; padding: .35rem .6rem; border-bottom: 1px solid #ddd; }
.wide { overflow-x: auto; }
td.number { text-align: right; } td.number, td.key { white-space: nowrap; }
pre { white-space: pre-wrap; margin: 0; font: inherit; }
"""


def fleet_html(found: Fleet) -> str:
    """The fleet as one self-contained page; every text from a case is escaped."""
    units = _html_table(
        {name: head for name, head in COLUMNS.items() if name != "fault"},
        [dict(zip(COLUMNS, fleet_cells(row), strict=True)) for row in found.rows],
    )
    findings = _html_table(
        FINDING_COLUMNS, [dict(zip(FINDING_COLUMNS, finding_cells(row), strict=True)) for row in found.findings]
    )
    faults = "\n".join(
        f"<tr><td>{escape(row.file)}</td><td><pre>{escape(row.fault)}</pre></td></tr>" for row in found.faulty
    )
    faulty = f"<h2>Faulty files</h2>\n<table><tr><th>file</th><th>fault</th></tr>\n{faults}</table>" if faults else ""
    family = "" if found.family is None else family_html(found.family)
    reviewed = f"{len(found.rows)} reviewed, {len(found.faulty)} faulty"
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{PAGE_POLICY}">\n'
        "<title>Fleet of rotor rims</title>\n"
        f"<style>{_STYLE}</style></head>\n<body><h1>Fleet of rotor rims</h1>\n"
        f"<p>Folder {escape(str(found.folder))}: {reviewed}. {ALIKE} {counted_words(found.findings)}. {ORDER}</p>\n"
        f"<h2>Claims and requirements</h2>\n{findings}\n<h2>Units</h2>\n{units}\n{faulty}\n{family}\n</body></html>\n"
    )


def _html_table(columns: Mapping[str, str], rows: Iterable[Mapping[str, object]]) -> str:
    head = "".join(f"<th>{escape(words)}</th>" for words in columns.values())
    body = "\n".join(f"<tr>{''.join(_html_cell(name, row[name]) for name in columns)}</tr>" for row in rows)
    return f'<div class="wide"><table><tr>{head}</tr>\n{body}</table></div>'


_WHOLE = ("verdict", "stated", "predicted", "by_test")
"""Columns whose cells are not broken into lines."""


def _html_cell(name: str, value: object) -> str:
    number = name in ("margin", "records", "broken", "not_shown", "held")
    kind = ' class="number"' if number else ' class="key"' if name in _WHOLE else ""
    return f"<td{kind}>{escape(str(value))}</td>"


def write(found: Fleet, directory: str | Path, *, overwrite: bool = False) -> list[Path]:
    """Write ``fleet.csv``, ``fleet_findings.csv``, ``fleet.html`` and ``fleet.json``; see `write_files`."""
    place = Path(directory)
    written = json.dumps(table(found), indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    files = {
        place / "fleet.csv": fleet_csv(found),
        place / "fleet_findings.csv": findings_csv(found),
        place / "fleet.html": fleet_html(found),
        place / "fleet.json": written,
    }
    return write_files(files, overwrite=overwrite, inputs=fleet_inputs(found))


def workbook(found: Fleet) -> bytes:
    """The fleet as a sheet of units, faulty files last, and a sheet of claims and requirements."""
    rows = [fleet_cells(row) for row in (*found.rows, *found.faulty)]
    findings = [finding_cells(row) for row in found.findings]
    counted = {"reviewed": len(found.rows), "faulty": len(found.faulty)}
    return workbook_bytes(
        {
            "fleet": Table(list(COLUMNS.values()), rows),
            "claims and requirements": Table(list(FINDING_COLUMNS.values()), findings),
            "about": about(str(found.folder), **counted),
        }
    )


def fleet_inputs(found: Fleet) -> list[Path]:
    """The case files of a fleet and what they name as recordings, also where the case is faulty."""
    inputs = []
    for row in (*found.rows, *found.faulty):
        path = found.folder / row.file
        inputs.append(path)
        if path.is_file():
            with suppress(OSError, ValueError, RecursionError):
                named = tomllib.loads(path.read_bytes().decode("utf-8-sig")).get("records", ())
                files = [record.get("file") for record in named if isinstance(record, dict)]
                inputs += [path.parent / file for file in files if isinstance(file, str) and "\0" not in file]
    return inputs
