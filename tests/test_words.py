"""The English of everything a user sees: sources, documents, help, and the results of every command."""

import json
import re
import sys
import tomllib
from pathlib import Path

import pytest

from rimmodel.cli import main
from tests.built_in import example_review, write_example
from tests.words import sentences, unwanted

ROOT = Path(__file__).parents[1]
SOURCES = sorted((ROOT / "rimmodel").rglob("*.py"))


def layer_of(file):
    """Folder of the package, or module at its top, in which a source stands."""
    return file.relative_to(ROOT / "rimmodel").parts[0]


LAYERS = sorted({layer_of(file) for file in SOURCES})
DOCUMENTS = [
    *(ROOT / name for name in ("README.md", "DEVELOPERS.md", "rimmodel/CHANGES.md", "pyproject.toml")),
    *sorted((ROOT / "rimmodel").rglob("*.html")),
    *sorted((ROOT / "rimmodel").rglob("*.toml")),
]
COMMANDS = (
    "review",
    "fit",
    "keys",
    "window",
    "plan",
    "heating",
    "study",
    "sweep",
    "fleet",
    "check",
    "letter",
    "new",
    "life",
    "compare",
    "shims",
)


def texts_of(table):
    """Every string that is a value of a JSON table, and every key, but for those that are agreed."""
    if isinstance(table, dict):
        return [text for key, value in table.items() for text in (key.replace("landmarks", ""), *texts_of(value))]
    if isinstance(table, list):
        return [text for value in table for text in texts_of(value)]
    return [table] if isinstance(table, str) else []


def seen_on(page):
    """What a browser shows of a page: no tags, no style, no picture data."""
    return " ".join(re.sub(r"(?s)<style.*?</style>|<[^>]+>", " ", page).split())


@pytest.fixture
def rim(monkeypatch, capsys):
    def run(*words):
        monkeypatch.setattr(sys, "argv", ["rimmodel", *map(str, words)])
        code = 0
        try:
            main()
        except SystemExit as stopped:
            code = stopped.code
        assert not code
        printed = capsys.readouterr()
        return printed.out + printed.err

    return run


@pytest.fixture(scope="module")
def reviewed():
    return example_review()


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("told", 1), ("retold is a word of its own", 0), ("the run went both ways", 1), ("a two-way table", 0),
        ("the other one", 1), ("one of the two, one key", 0), ("some keys", 1), ("something else", 0),
        ("falls to nil", 1), ("vanilla", 0), ("it lies astride the bound", 1), ("give the number of keys", 0),
        ("the give of the stack", 1), ("for want of an input", 1), ("Landmarks", 1), ("what friction feigns", 1),
    ],
)  # fmt: skip
def test_the_list_finds_words_and_leaves_others(text, found):
    assert len(unwanted(text)) == found


@pytest.mark.parametrize("layer", LAYERS)
def test_docstrings_and_messages_of_a_layer(layer):
    files = [file for file in SOURCES if layer_of(file) == layer]
    faults = [
        f"{file.relative_to(ROOT)}, line {line}: {fault}"
        for file in files
        for line, text in sentences(file)
        for fault in unwanted(" ".join(text.split()))
    ]
    assert files
    assert not faults, "\n".join(faults)


@pytest.mark.parametrize("file", DOCUMENTS, ids=lambda file: str(file.relative_to(ROOT)))
def test_a_document(file):
    text = re.sub(r"(?s)<style.*?</style>|\{[%{].*?[%}]\}", " ", file.read_text(encoding="utf-8"))
    assert not unwanted(" ".join(text.split()))


@pytest.mark.parametrize(
    "command", [(), *((name,) for name in COMMANDS)], ids=lambda words: " ".join(words) or "rimmodel"
)
def test_help(rim, command):
    assert not unwanted(" ".join(rim(*command, "--help").split()))


def test_what_the_quick_commands_print(rim, tmp_path):
    new = tmp_path / "new.toml"
    printed = [
        rim("check"), rim("keys"), rim("sweep", "--points", 3), rim("study", "--samples", 64), rim("new", new),
        rim("check", new), rim("fleet", tmp_path),
    ]  # fmt: skip
    assert not unwanted(" ".join(" ".join(printed).split()))
    tables = [rim("check", "--schema"), rim("keys", "--json"), rim("study", "--samples", 64, "--json")]
    faults = [fault for table in tables for text in texts_of(json.loads(table)) for fault in unwanted(text)]
    assert not faults
    assert tomllib.loads(new.read_text(encoding="utf-8"))


def test_text_page_and_json_of_a_review_and_its_letter(reviewed, tmp_path):
    from rimmodel.planning.shrink_window import shrink_window
    from rimmodel.verdict.output.details import details
    from rimmodel.verdict.output.fit import text as fit_text
    from rimmodel.verdict.output.letter import html, letter
    from rimmodel.verdict.output.plan import text as plan_text
    from rimmodel.verdict.output.text import text as review_text
    from rimmodel.verdict.output.window import text as window_text

    case, measured = reviewed.case, reviewed.measurements
    write_example(tmp_path)
    page, table = ((tmp_path / f"review.{kind}").read_text(encoding="utf-8") for kind in ("html", "json"))
    assert "Claims and requirements" in seen_on(page)
    texts = [
        review_text(reviewed), fit_text(measured, reviewed.comparisons), plan_text(case, details(reviewed).plan),
        window_text(case, shrink_window(case, measured[-1])), seen_on(page), seen_on(html(letter(reviewed))),
        *texts_of(json.loads(table)),
    ]  # fmt: skip
    faults = [fault for text in texts for fault in unwanted(" ".join(text.split()))]
    assert not faults, "\n".join(faults)
