"""The letter to the maker: what was claimed, what the evidence shows of it, and what to answer; HTML or Word."""

from __future__ import annotations

import io
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from rimmodel.behaviour.quantities import interval_text, plain_name, quantity_text
from rimmodel.evidence.measured.measurement import Measurement, describe
from rimmodel.verdict.cautions import CAUTIONS
from rimmodel.verdict.judge import Finding
from rimmodel.verdict.output.files import PAGE_POLICY, OutputError, write_files
from rimmodel.verdict.questions import questions
from rimmodel.verdict.result import Review
from rimmodel.version import VERSION

TEMPLATES = Path(__file__).parent / "templates"

ENDINGS = (".html", ".docx")

COLUMNS = ("quantity, condition", "stated", "on the drawing", "by test", "finding")
QUESTION_COLUMNS = ("no.", "question", "share of variance", "effect of an answer")

GREETING = "Dear Sir or Madam,"
OPENING = (
    "We have compared the values stated for this machine with its drawing data and with the recordings available to "
    "us. The findings are set out below, with the evidence for each, followed by the questions that we ask you to "
    "answer. We would be grateful for your reply and for any supporting documents."
)
MEANING = (
    "“Holds” and “does not hold” mean that the whole interval lies on one side of what is stated; “not shown” means "
    "that the limit lies within the interval: the evidence is inconclusive. Claims concern the rotor as delivered, "
    "requirements the rotor as it is now."
)
SHARES = (
    "The share is the largest contribution of the subject to the variance of any number by which a finding is judged. "
    "An answer that changes a best value changes the finding with it; the effects given here assume that the best "
    "value stays the same."
)
CLOSING = "We thank you for your attention and remain at your disposal for any question.\n\nYours faithfully,"
SIGNED = ("Prepared by", "Checked by")


@dataclass(frozen=True)
class Letter:
    """Everything that the letter says, as text: page and Word file are set from the same.

    Attributes
    ----------
    rows : tuple of tuple of str
        Claims and requirements in the order of `COLUMNS`.
    questions : tuple of tuple of str
        In the order of `QUESTION_COLUMNS`.
    made_from : tuple of str
        Case file, digests and version.
    """

    title: str
    dated: str
    rows: tuple[tuple[str, ...], ...]
    reasons: tuple[str, ...]
    evidence: tuple[str, ...]
    questions: tuple[tuple[str, ...], ...]
    made_from: tuple[str, ...]


def letter(review: Review, dated: date | None = None) -> Letter:
    """The letter to the maker about a review.

    Parameters
    ----------
    dated : date, optional
        Today when left out.
    """
    case = review.case
    asked = questions(review)
    return Letter(
        title=case.title,
        dated=_written(dated or date.today()),
        rows=tuple(_row(row) for row in review.findings),
        reasons=tuple(f"{row.reason}." for row in review.findings),
        evidence=tuple(_evidence(row) for row in review.measurements)
        or ("No recording is available to us: every finding rests on the drawing alone.",),
        questions=tuple(
            (
                str(place),
                row.question,
                "" if row.share_of_variance is None else f"{100 * row.share_of_variance:.0f} %",
                row.effect,
            )
            for place, row in enumerate(asked, 1)
        ),
        made_from=(
            f"case file: {'built in' if case.path is None else case.path.name}, SHA-256 {case.digest}",
            f"input digest (case and recordings): {review.input_digest}",
            f"rimmodel {VERSION}",
        ),
    )


def write(review: Review, path: Path, *, overwrite: bool = False, dated: date | None = None) -> list[Path]:
    """Write the letter as a page or as a Word file, by the ending of the path.

    Parameters
    ----------
    path : Path
        Ends in .html or .docx.
    dated : date, optional
        Today when left out.

    Raises
    ------
    OutputError
        Another ending, python-docx is missing, the file exists and `overwrite` is not set, or it cannot be written.
    """
    check_ending(path)
    draft = letter(review, dated)
    content = html(draft) if path.suffix.lower() == ".html" else word(draft)
    return write_files({path: content}, overwrite=overwrite, inputs=review.inputs)


def check_ending(path: Path) -> None:
    """Refuse a path that is neither a page nor a Word file, or a Word file that cannot be made here.

    Raises
    ------
    OutputError
    """
    if path.suffix.lower() not in ENDINGS:
        raise OutputError(f"{path} ends in {path.suffix or 'nothing'!r}; a letter ends in .html or .docx")
    if path.suffix.lower() == ".docx":
        _docx()


def html(draft: Letter) -> str:
    """The letter as one page of HTML that loads nothing; every text is escaped."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("letter.html").render(
        letter=draft,
        policy=PAGE_POLICY,
        columns=COLUMNS,
        question_columns=QUESTION_COLUMNS,
        greeting=GREETING,
        opening=OPENING,
        meaning=MEANING,
        shares=SHARES,
        closing=CLOSING.split("\n\n"),
        signed=SIGNED,
        cautions=CAUTIONS,
    )


def word(draft: Letter) -> bytes:
    """The letter as a Word file, A4.

    Raises
    ------
    OutputError
        python-docx is missing.
    """
    docx = _docx()
    from docx.shared import Mm, Pt

    document = docx.Document()
    page = document.sections[0]
    page.page_width, page.page_height = Mm(210), Mm(297)
    page.left_margin = page.right_margin = page.top_margin = page.bottom_margin = Mm(18)
    document.styles["Normal"].font.size = Pt(10)
    about = document.core_properties
    about.author, about.title, about.comments = "", _printable(f"To the maker: {draft.title}"), ""
    document.add_paragraph("To the maker")
    document.add_paragraph(draft.dated)
    document.add_heading(_printable(draft.title), 1)
    for words in (GREETING, OPENING):
        document.add_paragraph(words)
    document.add_heading("1  Findings", 2)
    _table(document, COLUMNS, draft.rows, (46, 34, 34, 36, 24))
    _bullets(document, draft.reasons)
    document.add_paragraph(MEANING)
    document.add_heading("2  Evidence", 2)
    _bullets(document, draft.evidence)
    document.add_heading("3  Questions", 2)
    document.add_paragraph(SHARES)
    _table(document, QUESTION_COLUMNS, draft.questions, (11, 73, 19, 71))
    document.add_heading("4  Cautions", 2)
    _bullets(document, CAUTIONS)
    for words in CLOSING.split("\n\n"):
        document.add_paragraph(words)
    for words in SIGNED:
        document.add_paragraph(f"{words}: {'_' * 32}    Date: {'_' * 16}")
    for words in draft.made_from:
        document.add_paragraph(_printable(words)).runs[0].font.size = Pt(7.5)
    stream = io.BytesIO()
    document.save(stream)
    return stream.getvalue()


def _docx() -> Any:
    try:
        import docx
    except ImportError:
        raise OutputError(
            "a letter in .docx needs python-docx, which is not installed; install it with: pip install "
            "'rimmodel[letter]', or name a file that ends in .html"
        ) from None
    return docx


def _table(document: Any, columns: tuple[str, ...], rows: tuple[tuple[str, ...], ...], widths: tuple[int, ...]) -> None:
    from docx.shared import Mm, Pt

    table = document.add_table(rows=1, cols=len(columns), style="Table Grid")
    table.autofit = False
    for values in (columns, *rows):
        cells = table.rows[0].cells if values is columns else table.add_row().cells
        for cell, value, width in zip(cells, values, widths, strict=True):
            cell.width = Mm(width)
            run = cell.paragraphs[0].add_run(_printable(value))
            run.font.size, run.bold = Pt(8.5), values is columns


def _bullets(document: Any, lines: tuple[str, ...]) -> None:
    for words in lines:
        document.add_paragraph(_printable(words), style="List Bullet")


def _printable(words: str) -> str:
    """Text without what XML cannot hold."""
    return "".join(
        one if one in "\t\n" or (ord(one) >= 32 and ord(one) not in (0xFFFE, 0xFFFF)) else "?" for one in words
    )


def _row(finding: Finding) -> tuple[str, ...]:
    quantity = finding.quantity
    role = "claim" if finding.role == "claim" else f"requirement: {finding.name}"
    bound = "" if finding.role == "claim" else ("at least " if finding.at_least else "at most ")
    predicted = f"{quantity_text(quantity, finding.predicted)} ({interval_text(quantity, finding.predicted_interval)})"
    tested = "no recording covers it"
    if finding.interval is not None:
        best = "" if finding.measured is None else f"{quantity_text(quantity, finding.measured)} "
        tested = f"{best}({interval_text(quantity, finding.interval)} at {100 * finding.confidence:g} %)"
    return (
        f"{plain_name(quantity)}, {finding.condition} ({role})",
        f"{bound}{quantity_text(quantity, finding.stated)}",
        predicted,
        tested,
        finding.verdict,
    )


def _evidence(measurement: Measurement) -> str:
    words = (
        f"“{measurement.label}” ({Path(measurement.source).name}), condition {measurement.condition}: "
        f"the rim {describe(measurement)}."
    )
    if measurement.disqualified:
        words += f" It is not used for any verdict: {'; '.join(measurement.disqualified)}."
    return words


def _written(day: date) -> str:
    """A date in words that no reader takes for another: the day first, the month by name, in English."""
    months = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
              "November", "December")  # fmt: skip
    return f"{day.day} {months[day.month - 1]} {day.year}"
