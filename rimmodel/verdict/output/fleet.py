"""A folder of cases reviewed one by one: one table, the thinnest margin first, faulty files with their reason."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, fields
from html import escape
from math import inf, isfinite
from pathlib import Path
from typing import Any

from rimmodel.behaviour.quantities import interval_text, plain_name, text
from rimmodel.behaviour.study.workers import Workers, task_map
from rimmodel.evidence.measured.measure import float_speed_found
from rimmodel.rotor.case.case import CaseError, read_case
from rimmodel.verdict.assess import assess
from rimmodel.verdict.family import FleetFamily, Unit, fleet_family, unit_of
from rimmodel.verdict.histories import HistoryFinding
from rimmodel.verdict.judge import Finding
from rimmodel.verdict.output.family import family_html, family_table, family_text
from rimmodel.verdict.output.files import PAGE_POLICY, csv_text, write_files
from rimmodel.verdict.result import Review

Progress = Callable[[int, int], None]

VERDICTS = ("does not hold", "not shown", "holds")
"""The worst first."""


@dataclass(frozen=True)
class FleetRow:
    """One case of a fleet: its thinnest margin and what that belongs to, or the fault that kept it from review.

    Attributes
    ----------
    margin : float or None, -
        A share of the bound, below zero where it is missed; None where nothing is claimed or required.
    """

    file: str
    title: str = ""
    verdict: str = ""
    margin: float | None = None
    decisive: str = ""
    reason: str = ""
    claims: str = ""
    float_speed: str = ""
    measured: str = ""
    records: int = 0
    fault: str = ""
    as_sister: Unit | None = None


@dataclass(frozen=True)
class Fleet:
    """All cases of a folder: `rows` those reviewed, the thinnest margin first, then `faulty` ones by file.

    `family` holds what units of one design say together; None where fewer than two have a run that can speak.
    """

    folder: Path
    rows: tuple[FleetRow, ...]
    faulty: tuple[FleetRow, ...]
    family: FleetFamily | None = None


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


def _order(row: FleetRow) -> tuple[float, str]:
    return (inf if row.margin is None else row.margin), row.file


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
    decisive = _thinnest(review.findings)
    told: dict[str, Any] = {}
    over = min(review.histories.findings, key=_badness_over, default=None)
    required = any(row.role == "requirement" for row in review.findings)
    if over is not None and (decisive is None or not required or _badness_over(over) < _badness(decisive)):
        told = {
            "verdict": over.verdict,
            "margin": over.share,
            "decisive": f"requirement over history '{over.history}': {over.margin.name}",
            "reason": over.margin.reason,
        }
    elif decisive is not None:
        what = f"{decisive.role} {decisive.name}" if decisive.role == "requirement" else "claim"
        told = {
            "verdict": decisive.verdict,
            "margin": decisive.margin if decisive.margin is not None and isfinite(decisive.margin) else None,
            "decisive": f"{what}: {plain_name(decisive.quantity)}, {decisive.condition}",
            "reason": decisive.reason,
        }
    measured = ""
    if last is not None:
        measured = f"{interval_text('float_speed', float_speed_found(last)[1])} ({last.verdict})"
    return FleetRow(
        name, case.title, float_speed=f"{text('float_speed', float(prediction.float_speed.speed))} ({first})",
        measured=measured, records=len(review.measurements), claims=_claims(review.findings),
        as_sister=unit_of(name, review), **told,
    )  # fmt: skip


def _thinnest(findings: Sequence[Finding]) -> Finding | None:
    """What decides about a case: the worst verdict among its requirements, or its claims where it has none."""
    required = [row for row in findings if row.role == "requirement"]
    return min(required or findings, key=_badness, default=None)


def _badness(row: Finding) -> tuple[int, float]:
    """The worst verdict first, then the thinnest margin."""
    margin = inf if row.margin is None or not isfinite(row.margin) else row.margin
    return VERDICTS.index(row.verdict), margin


def _badness_over(row: HistoryFinding) -> tuple[int, float]:
    """That of a requirement over a history."""
    return VERDICTS.index(row.verdict), inf if row.share is None else row.share


def _claims(findings: Sequence[Finding]) -> str:
    """The worst of the claims in words: they stand beside requirements, never behind them."""
    worst = min((row for row in findings if row.role == "claim"), key=_badness, default=None)
    if worst is None:
        return ""
    margin = "" if worst.margin is None else f" ({100 * worst.margin:+.1f} %)"
    return f"{worst.quantity.replace('_', ' ')} {worst.verdict}{margin}"


COLUMNS = {
    "file": "file",
    "title": "unit",
    "verdict": "verdict",
    "margin": "margin [%]",
    "decisive": "decided by",
    "claims": "worst claim",
    "float_speed": "predicted float speed",
    "measured": "measured float speed",
    "records": "records",
    "reason": "reason",
    "fault": "fault",
}
"""Field of a row and head of its column."""


_IN_JSON = tuple(field.name for field in fields(FleetRow) if field.name != "as_sister")


def fleet_cells(row: FleetRow) -> list[object]:
    """What stands in the columns of a row."""
    values: dict[str, object] = dict(vars(row))
    values["margin"] = "" if row.margin is None else round(100 * row.margin, 2)
    return [values[name] for name in COLUMNS]


def fleet_table(found: Fleet) -> dict[str, Any]:
    """The fleet for JSON."""
    return {
        "folder": str(found.folder),
        "cases": [{name: getattr(row, name) for name in _IN_JSON} for row in found.rows],
        "faulty": [{"file": row.file, "fault": row.fault} for row in found.faulty],
        "family": family_table(found.family),
    }


def fleet_csv(found: Fleet) -> str:
    """The fleet as CSV, faulty files last."""
    return csv_text(list(COLUMNS.values()), [fleet_cells(row) for row in (*found.rows, *found.faulty)])


def fleet_text(found: Fleet) -> str:
    """The fleet for the terminal."""
    wide = max([len(row.file) for row in (*found.rows, *found.faulty)])
    claims = max([len(row.claims) for row in found.rows] + [len("worst claim")])
    lines = [f"{'file':{wide}}  {'margin':>8}  {'verdict':14}  {'worst claim':{claims}}  decided by"]
    for row in found.rows:
        margin = "" if row.margin is None else f"{100 * row.margin:+.1f} %"
        cells = f"{row.file:{wide}}  {margin:>8}  {row.verdict:14}  {row.claims:{claims}}  {row.decisive}"
        lines.append(cells.rstrip())
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
td.number { text-align: right; white-space: nowrap; }
pre { white-space: pre-wrap; margin: 0; font: inherit; }
"""


def fleet_html(found: Fleet) -> str:
    """The fleet as one self-contained page; every text from a case is escaped."""
    shown = [name for name in COLUMNS if name != "fault"]
    head = "".join(f"<th>{escape(COLUMNS[name])}</th>" for name in shown)
    body = "\n".join(f"<tr>{_html_cells(row, shown)}</tr>" for row in found.rows)
    faults = "\n".join(
        f"<tr><td>{escape(row.file)}</td><td><pre>{escape(row.fault)}</pre></td></tr>" for row in found.faulty
    )
    faulty = f"<h2>Faulty files</h2>\n<table><tr><th>file</th><th>fault</th></tr>\n{faults}</table>" if faults else ""
    family = "" if found.family is None else family_html(found.family)
    counted = f"{len(found.rows)} reviewed, {len(found.faulty)} faulty"
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{PAGE_POLICY}">\n'
        "<title>Fleet of rotor rims</title>\n"
        f"<style>{_STYLE}</style></head>\n<body><h1>Fleet of rotor rims</h1>\n"
        f"<p>Folder {escape(str(found.folder))}: {counted}; smallest margin first.</p>\n"
        f"<table><tr>{head}</tr>\n{body}</table>\n{faulty}\n{family}\n</body></html>\n"
    )


def _html_cells(row: FleetRow, names: Iterable[str]) -> str:
    values = dict(zip(COLUMNS, fleet_cells(row), strict=True))
    return "".join(
        f'<td class="number">{values[name]}</td>'
        if name in ("margin", "records")
        else f"<td>{escape(str(values[name]))}</td>"
        for name in names
    )


def write_fleet(found: Fleet, directory: str | Path, *, overwrite: bool = False) -> list[Path]:
    """Write ``fleet.csv``, ``fleet.html`` and ``fleet.json`` under a directory; see `write_files`."""
    place = Path(directory)
    table = json.dumps(fleet_table(found), indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    files = {
        place / "fleet.csv": fleet_csv(found),
        place / "fleet.html": fleet_html(found),
        place / "fleet.json": table,
    }
    return write_files(files, overwrite=overwrite, inputs=fleet_inputs(found))


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
