"""The review on paper: one self-contained page, its data as JSON, the sweeps as CSV, the figures as SVG."""

from __future__ import annotations

import json
from math import isfinite
from pathlib import Path
from typing import Any

from rimmodel.behaviour.limits.check import listed_once
from rimmodel.evidence.measured.measurement import describe
from rimmodel.rotor.case.doubts import case_doubts
from rimmodel.units import in_mm, in_print, in_rpm
from rimmodel.verdict.assumptions import assumptions
from rimmodel.verdict.beside import Beside
from rimmodel.verdict.cautions import CAUTIONS, LEFT_OUT
from rimmodel.verdict.deciding import by_interval
from rimmodel.verdict.diametral import diametral_remarks
from rimmodel.verdict.drawing_echo import doubt_words, drawing_rows
from rimmodel.verdict.limits import check_text, limits_sentences
from rimmodel.verdict.output import details as details_output
from rimmodel.verdict.output import tables
from rimmodel.verdict.output.along import plane_rows
from rimmodel.verdict.output.annexes import annexes
from rimmodel.verdict.output.deciding_words import deciding_words
from rimmodel.verdict.output.details import Details, details, review_planes
from rimmodel.verdict.output.drawer import Drawer
from rimmodel.verdict.output.duty import assumption_lines, cases_of, event_words, lock_out_rows
from rimmodel.verdict.output.duty import sentences as duty_sentences
from rimmodel.verdict.output.figures import review_drawings
from rimmodel.verdict.output.files import csv_text, write_files
from rimmodel.verdict.output.first_page import (
    deciding_rows,
    finding_row,
    history_row,
    record_lines,
    rotor_line,
    verdict_basis,
)
from rimmodel.verdict.output.fit import comparison_text, found_rows, run_rows
from rimmodel.verdict.output.keys import smeared_is_enough, speed_rows
from rimmodel.verdict.output.least_gap import acceptance_rows, named_rows, statements, taken_rows
from rimmodel.verdict.output.made import made_on
from rimmodel.verdict.output.plan import stop_reasons
from rimmodel.verdict.output.pooled import COLUMNS as POOLED_COLUMNS
from rimmodel.verdict.output.pooled import DECIDES_NOTHING, pooled_rows, pooled_sentences
from rimmodel.verdict.output.spread import spread_sentences
from rimmodel.verdict.output.tables import sweep_table
from rimmodel.verdict.output.what_if import POLICY, SCRIPT, script_data, what_if
from rimmodel.verdict.output.window import half_width_words
from rimmodel.verdict.result import Review
from rimmodel.verdict.shift_table import SHIFTS, shift_rows
from rimmodel.verdict.shims import shim_paragraph
from rimmodel.version import VERSION

FILES = ("review.html", "review.json", "sweep.csv")
"""What a review writes into its folder beside the figures."""

TEMPLATES = Path(__file__).parent / "templates"


def write(review: Review, directory: Path, *, overwrite: bool = False, beside: Beside | None = None) -> list[Path]:
    """Write ``review.html``, ``review.json``, ``sweep.csv`` and ``figures/*.svg`` under a directory.

    Raises
    ------
    OutputError
        Any of them exists and `overwrite` is not set, or the place cannot be written; nothing is written then.
    """
    drawn = Drawer(beside)
    drawn.add(review_drawings(review))
    found = details(review)
    drawn.add(details_output.drawings(review, found))
    figures = drawn.figures()
    table = tables.table(review) | details_output.table(review, found)
    files = {
        directory / "review.html": page(review, figures, found),
        directory / "review.json": json.dumps(table, indent=2, ensure_ascii=False, allow_nan=False) + "\n",
        directory / "sweep.csv": sweep_csv(review),
        **{directory / "figures" / f"{name}.svg": svg for name, svg in figures.items()},
    }
    return write_files(files, overwrite=overwrite, inputs=review.inputs)


def sweep_csv(review: Review) -> str:
    """Every predicted sweep under its condition."""
    rows, columns = [], {}
    for name, prediction in review.predictions.items():
        columns = sweep_table(prediction.curve)
        for values in zip(*columns.values(), strict=True):
            rows.append([name, *("" if value is None else float(f"{value:.6g}") for value in values)])
    return csv_text(["condition", *columns], rows)


def page(review: Review, figures: dict[str, str], found: Details) -> str:
    """The page as HTML text; every text from the case is escaped, the figures stand inside as SVG."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined
    from markupsafe import Markup

    environment = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    inline = {name: Markup(_inline(svg, name)) for name, svg in figures.items()}
    numbered = annexes(review, found)
    moved = what_if(review, next(row.number for row in numbered if row.name == "shims"))
    return environment.get_template("review.html").render(
        policy=POLICY,
        review=review,
        case=review.case,
        figures=inline,
        details=found,
        annexes=numbered,
        what_if=moved,
        what_if_data=Markup(script_data(moved)),
        what_if_script=Markup(SCRIPT),
        **_first_page(review),
        **_behind(review, found),
    )


def _first_page(review: Review) -> dict[str, Any]:
    """What the first page is written from."""
    case, findings = review.case, review.findings
    doubtful = [not by_interval(row) for row in findings]
    return {
        "rotor_line": rotor_line(case.rotor),
        "record_lines": record_lines(review),
        "rows": [finding_row(row, review) | {"doubtful": doubt} for row, doubt in zip(findings, doubtful, strict=True)],
        "over_histories": [history_row(row) for row in review.histories.findings],
        "has_tolerance": any(row.acceptance_margin is not None for row in findings),
        "verdict_basis": verdict_basis(review),
        "measured_shown": any(row.as_measured is not None for row in review.predictions.values()),
        "deciding": deciding_rows(review),
        "deciding_words": deciding_words(review),
        "cautions": CAUTIONS,
        "doubts": [doubt_words(doubt) for doubt in case_doubts(case)],
        "version": VERSION,
        "made_on": made_on(),
        "case_file": "not named" if case.path is None else case.path.name,
    }


def _cell(value: float, kind: str, digits: int, absent: str = "none") -> str:
    """A number in its unit of print, SI; a word that the table explains where there is none."""
    return f"{in_print(value, kind):.{digits}f}" if isfinite(value) else absent


def _behind(review: Review, found: Details) -> dict[str, Any]:
    """What the annexes are written from."""
    case = review.case
    return {
        "all_causes": deciding_rows(review, whole=True),
        "diametral": diametral_remarks(case, review.measurements),
        "inputs": _inputs(case.as_read),
        "assumptions": assumptions(case),
        "drawing": drawing_rows(case),
        "left_out": LEFT_OUT,
        "describe": describe,
        "found_rows": found_rows,
        "run_rows": run_rows,
        "spread_sentences": spread_sentences,
        "shift_rows": shift_rows,
        "shifts_words": SHIFTS.rstrip(":"),
        "comparison_text": comparison_text,
        "pooled_columns": POOLED_COLUMNS,
        "pooled_rows": pooled_rows,
        "pooled_sentences": pooled_sentences,
        "pooled_caution": DECIDES_NOTHING,
        "in_rpm": in_rpm,
        "cell": _cell,
        "gap_text": lambda metres: f"{in_mm(metres):.2f}" if isfinite(metres) else "shut",
        "checks": listed_once(review.checks),
        "check_text": check_text,
        "limits_sentences": limits_sentences(review.checks, review.basis),
        "shims": shim_paragraph(review.shims),
        "half_width_words": half_width_words(case, review.window),
        "stop_reasons": [] if found.plan is None else stop_reasons(case, found.plan),
        "key_rows": [] if review.keys is None else speed_rows(review.keys),
        "smeared": smeared_is_enough(case),
        "least_gap_rows": named_rows,
        "plane_rows": plane_rows,
        "taken_rows": taken_rows,
        "acceptance_rows": acceptance_rows(case, review_planes(review)),
        "least_gap_lines": lambda curve: statements(case, curve, review_planes(review)),
        "duty_sentences": duty_sentences,
        "duty_assumptions": assumption_lines,
        "event_words": event_words,
        "cases_of": cases_of,
        "lock_out_rows": lock_out_rows,
    }


def _inline(svg: str, name: str) -> str:
    """The SVG element alone, with identifiers that stay apart from those of the other figures on the page."""
    body = svg[svg.index("<svg") :]
    for mark in ('id="', "url(#", 'href="#'):
        body = body.replace(mark, f"{mark}{name}-")
    return body


def _inputs(table: dict[str, Any], prefix: str = "") -> list[tuple[str, str]]:
    """Every key of the case as it was read, flat, in the order of the file."""
    rows: list[tuple[str, str]] = []
    for key, value in table.items():
        name = f"{prefix}{key}"
        if isinstance(value, dict):
            rows += _inputs(value, f"{name}.") or [(name, "(empty)")]
        elif isinstance(value, list) and value and all(isinstance(item, dict) for item in value):
            for number, item in enumerate(value, 1):
                rows += _inputs(item, f"{name}[{number}].")
        else:
            rows.append((name, _as_text(value)))
    return rows


def _as_text(value: Any) -> str:
    """A value of a case file as it would be read out: entries of a list in order, rows of a table behind semicolons."""
    if not isinstance(value, list):
        return {True: "true", False: "false"}[value] if isinstance(value, bool) else str(value)
    nested = any(isinstance(item, list) for item in value)
    return ("; " if nested else ", ").join(_as_text(item) for item in value) or "(empty)"
