"""The letter to the maker: one text in both forms, every name as text, and refusals in words."""

import io
import re
import sys
from dataclasses import replace
from datetime import date
from html import unescape

import docx
import pytest
from docx.shared import Mm

from rimmodel.behaviour.quantities import interval_text, quantity_text
from rimmodel.rotor.case.case import EXAMPLES, parse_case
from rimmodel.verdict import review
from rimmodel.verdict.output.files import OutputError
from rimmodel.verdict.output.letter import COLUMNS, QUESTION_COLUMNS, html, letter, word
from rimmodel.verdict.output.letter import write as write_letter
from rimmodel.verdict.questions import questions
from tests.built_in import example_review

NEW = (EXAMPLES / "new_case.toml").read_text(encoding="utf-8")
TITLE = "<script>alert(1)</script> & 'x'"
RESULT = review(parse_case(NEW.replace('title = "My unit"', f'title = "{TITLE}"').encode(), "unit.toml"))
DAY = date(2031, 3, 4)


def cells_of_page(page):
    return [unescape(re.sub("<[^>]*>", "", cell)).strip() for cell in re.findall("<td.*?</td>", page, re.S)]


def words_of(content):
    document = docx.Document(io.BytesIO(content))
    return document, [paragraph.text for paragraph in document.paragraphs]


def test_page_and_word_file_say_the_same():
    said = letter(RESULT, DAY)
    document, paragraphs = words_of(word(said))
    page = html(said)
    findings, asked = document.tables
    rows = [[cell.text for cell in row.cells] for table in (findings, asked) for row in table.rows[1:]]
    assert [cell for row in rows for cell in row] == cells_of_page(page)
    assert [cell.text for cell in findings.rows[0].cells] == list(COLUMNS)
    assert [cell.text for cell in asked.rows[0].cells] == list(QUESTION_COLUMNS)
    shown = unescape(re.sub(r"\s+", " ", re.sub("<[^>]*>", " ", page)))
    for line in (*said.reasons, *said.evidence, *said.made_from, said.title, "4 March 2031"):
        assert line in paragraphs
        assert re.sub(r"\s+", " ", line) in shown


def test_the_numbers_are_those_of_the_review():
    said = letter(RESULT, DAY)
    for finding, row in zip(RESULT.findings, said.rows, strict=True):
        assert row[1].endswith(quantity_text(finding.quantity, finding.stated))
        assert interval_text(finding.quantity, finding.predicted_interval) in row[2]
        assert row[4] == finding.verdict
    assert [row[1] for row in said.questions] == [row.question for row in questions(RESULT)]
    assert RESULT.case.digest in " ".join(said.made_from)
    assert RESULT.input_digest in " ".join(said.made_from)


def test_a_recording_that_decides_nothing_is_named_as_such(example):
    bad = replace(example.measurements[0], disqualified=("a sensor contradicts the others",))
    (first, *_) = letter(replace(example, measurements=(bad,))).evidence
    assert first.endswith("It is not used for any verdict: a sensor contradicts the others.")
    assert "at 95 %" in letter(example).rows[0][3]


@pytest.fixture(scope="module")
def example():
    return example_review()


def test_the_page_loads_nothing_and_holds_names_as_text():
    page = html(letter(RESULT, DAY))
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert "Content-Security-Policy" in page
    assert "default-src 'none'" in unescape(page)
    assert not re.search(r"(src|href)=", page)
    assert "@page { size: A4" in page


def test_the_word_file_is_a4_and_names_nobody():
    document, _ = words_of(word(letter(RESULT, DAY)))
    page = document.sections[0]
    assert abs(page.page_width - Mm(210)) < Mm(0.1)  # a file holds twentieths of a point
    assert abs(page.page_height - Mm(297)) < Mm(0.1)
    assert document.core_properties.author == ""


def test_a_control_character_in_a_title_does_not_stop_the_word_file():
    _, paragraphs = words_of(word(replace(letter(RESULT, DAY), title="unit\x07one")))
    assert "unit?one" in paragraphs


@pytest.mark.parametrize("name", ["letter.html", "letter.docx", "LETTER.HTML"])
def test_the_ending_decides(tmp_path, name):
    path = tmp_path / name
    assert write_letter(RESULT, path, dated=DAY) == [path]
    assert path.read_bytes()[:2] == (b"PK" if name.endswith("docx") else b"<!")
    with pytest.raises(OutputError, match="already exists"):
        write_letter(RESULT, path)
    write_letter(RESULT, path, overwrite=True)


@pytest.mark.parametrize("name", ["letter.pdf", "letter"])
def test_another_ending_is_refused(tmp_path, name):
    with pytest.raises(OutputError, match=r"a letter ends in \.html or \.docx"):
        write_letter(RESULT, tmp_path / name)
    assert not list(tmp_path.iterdir())


def test_without_the_word_library_the_message_says_what_to_install(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "docx", None)
    with pytest.raises(OutputError, match=r"pip install 'rimmodel\[letter\]'"):
        write_letter(RESULT, tmp_path / "letter.docx")
    assert write_letter(RESULT, tmp_path / "letter.html")


def test_the_command_writes_the_letter(tmp_path, capsys, monkeypatch):
    from rimmodel.cli import main

    unit, out = tmp_path / "unit.toml", tmp_path / "letter.html"
    unit.write_text(NEW, encoding="utf-8")
    monkeypatch.setattr(sys, "argv", ["rimmodel", "letter", str(unit), "--out", str(out)])
    main()
    assert "wrote" in capsys.readouterr().err
    assert "To the maker" in out.read_text(encoding="utf-8")
    with pytest.raises(SystemExit) as end:
        main()
    assert end.value.code == 2
    assert "--force" in capsys.readouterr().err
