"""The course as a whole: predictions, hints, builds, one meaning for each symbol, the capstone, and pages to print."""

import re
import subprocess
import sys
from collections import Counter
from pathlib import Path

import nbformat
import numpy as np
import pytest
from matplotlib.mathtext import MathTextParser

from notebooks import capstone, exercises, printed
from notebooks.exercises import Build, Exercise, check, compare, disagreements, hold, predict

FOLDER = Path(__file__).parent.parent / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))
TAUGHT = [path for path in NOTEBOOKS if path.name[:2].isdigit() and path.stem != "13_capstone"]
TEXTS = [*NOTEBOOKS, FOLDER / "glossary.md"]

each_lesson = pytest.mark.parametrize("path", TAUGHT, ids=lambda path: path.stem)
each_text = pytest.mark.parametrize("path", TEXTS, ids=lambda path: path.stem)

SYMBOL = re.compile(
    r"(?:\\(?:bar|mathbf|ddot|Delta)\s*)?(?:\\[A-Za-z]+|[A-Za-z])(?:_(?:\{[^{}]*\}|\\[A-Za-z]+|[A-Za-z0-9]))?"
)
OPERATORS = {
    r"\Big",
    r"\approx",
    r"\big",
    r"\cdot",
    r"\cos",
    r"\cosh",
    r"\dfrac",
    r"\dots",
    r"\frac",
    r"\ge",
    r"\gg",
    r"\int",
    r"\le",
    r"\left",
    r"\ll",
    r"\ln",
    r"\max",
    r"\partial",
    r"\pi",
    r"\pm",
    r"\propto",
    r"\qquad",
    r"\quad",
    r"\right",
    r"\sim",
    r"\sin",
    r"\sqrt",
    r"\sum",
    r"\tfrac",
    r"\to",
    r"\Delta",
    r"\displaystyle",
}
INDICES_AND_SIGNS = {"e", "j", "d"}
"""Euler's number, the index of a sum, the sign of a differential."""


def markdown(path):
    if path.suffix == ".md":
        return path.read_text(encoding="utf-8")
    cells = nbformat.read(path, as_version=4).cells
    return "\n\n".join(cell.source for cell in cells if cell.cell_type == "markdown")


def code(path):
    return [cell.source for cell in nbformat.read(path, as_version=4).cells if cell.cell_type == "code"]


def symbols(source):
    """Every symbol of the formulas of a text, operators and words left out."""
    found = []
    for latex, _ in printed.formulas(source):
        bare = re.sub(r"\\(text|mathrm)\{[^{}]*\}", "", latex)
        bare = re.sub(r"\\(sum|int)_(\{[^{}]*\}|.)", " ", bare)
        found += [name for name in SYMBOL.findall(bare) if re.sub(r"_.*", "", name) not in OPERATORS or "_" in name]
    return found


def row_of(line):
    """The cells of a line of a table."""
    return [cell.strip() for cell in line.strip().strip("|").split("|")]


def glossary_rows():
    table = (FOLDER / "glossary.md").read_text(encoding="utf-8").split("## Symbols")[1]
    rows = [row_of(line) for line in table.splitlines() if line.startswith("| $")]
    return [(symbols(row[0]), *row[1:3]) for row in rows]


# --- predictions, hints and builds ---


@each_lesson
def test_a_prediction_is_asked_for_before_its_answer_is_computed(path):
    cells = code(path)
    asked = {
        name: (place, answer)
        for place, source in enumerate(cells)
        for name, answer in re.findall(r'predict\(\s*"([^"]+)",\s*(\w+)', source)
    }
    assert asked, f"{path.name} asks for no prediction"
    for name, (place, answer) in asked.items():
        assert answer == "None", f"{path.name} is stored with a prediction filled in: {name}"
        later = "\n".join(cells[place + 1 :])
        first = name.split(", ")[0]
        assert f'"{name}"' in later or f'f"{first}, {{name}}"' in later or f'("{name}"' in later, name


@pytest.mark.parametrize("stem", ["07_reading_a_run_up", "08_back_fit", "10_key_by_key"])
def test_what_the_reader_builds_is_stored_unbuilt(stem):
    [source] = [source for source in code(FOLDER / f"{stem}.ipynb") if re.search(r"^def my_", source, re.M)]
    assert "return None  # your lines" in source
    assert source.rstrip().splitlines()[-1].startswith("hold(")


def test_a_second_wrong_answer_brings_a_deeper_hint(capsys):
    question = {"Q": Exercise("depth", 2.0, "m", hints=("look again", "count twice"), slips={"the width": 3.0})}
    for answer in (2.5, 2.5, 3.0, 2.0):
        check(question, Q=answer)
    assert capsys.readouterr().out.splitlines() == [
        "Q, depth: not yet, too large; hint: look again",
        "Q, depth: not yet, too large; hint: look again",
        "Q, depth: not yet, this is the width; hint: count twice",
        "Q, depth: right",
    ]


def test_a_prediction_is_kept_and_comes_before_the_answer(capsys):
    predict("a ratio", None, "-")
    predict("a ratio", 2.0, "-")
    compare("a ratio", 1.5)
    predict("a ratio", 1.5)
    compare("an order", "cos 7")
    predict("an order", "cos 7")
    assert capsys.readouterr().out.splitlines() == [
        "a ratio: no prediction yet; put yours (-) in place of None and run this cell before the next",
        "a ratio: 2 (-) recorded; now compute",
        "a ratio: computed 1.5, predicted 2: off by +0.5",
        "a ratio: the computed answer has been shown; your first prediction, 2, stands",
        "an order: computed cos 7; no prediction was recorded",
        "an order: the computed answer has been shown; restart to begin again",
    ]


def test_a_built_function_is_held_against_the_library(capsys):
    build = Build(
        "a root", ("root [-]",), ((4.0,), (np.array([9.0, 16.0]),)), np.sqrt, 1e-6, ("which power?", "a half")
    )
    hold(build, lambda x: x**0.5)
    hold(build, lambda x: x / 2)
    hold(build, lambda x: 1 / 0)
    assert capsys.readouterr().out.splitlines() == [
        "a root: agrees with the library in 2 trials, within 1e-06",
        "a root: not yet",
        "  trial 2, root [-]: yours 4.5, library 3",
        "  hint: which power?",
        "a root: not yet",
        "  trial 1: the function stopped, ZeroDivisionError: division by zero",
        "  trial 2: the function stopped, ZeroDivisionError: division by zero",
        "  hint: a half",
    ]
    assert disagreements(build, lambda x: None) == ["not built yet: the function returns None"]
    assert disagreements(build, lambda x: np.zeros(3))[0] == "trial 1: return root [-], shaped as the library's"
    assert "yours nan" in disagreements(build, lambda x: x * np.nan)[0]


# --- one symbol, one meaning ---


def test_no_symbol_stands_twice_in_the_glossary():
    counted = Counter(name for names, _, _ in glossary_rows() for name in names)
    assert {name for name, count in counted.items() if count > 1} == set()


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_every_symbol_of_a_lesson_is_in_the_glossary(path):
    known = {name for names, _, _ in glossary_rows() for name in names} | INDICES_AND_SIGNS
    unknown = {name.replace(" ", "") for name in symbols(markdown(path))} - {name.replace(" ", "") for name in known}
    assert unknown == set(), f"{path.name} uses symbols that glossary.md does not hold"


def test_the_glossary_holds_no_symbol_without_a_use():
    used = {name.replace(" ", "") for path in NOTEBOOKS for name in symbols(markdown(path))}
    idle = {name for names, _, _ in glossary_rows() for name in names if name.replace(" ", "") not in used}
    assert idle == set()


@each_lesson
def test_a_symbol_has_the_unit_of_the_glossary_in_the_table_of_a_lesson(path):
    units = {}
    for names, _, unit in glossary_rows():
        many = unit.split(", ")
        units |= dict(zip(names, many if len(many) == len(names) else [unit] * len(names), strict=True))
    table = re.search(r"\| symbol \|.*?(?:\n\n|\Z)", markdown(path), re.DOTALL)
    for line in table[0].splitlines() if table else ():
        cells = row_of(line)
        if not line.startswith("| $"):
            continue
        named = re.sub(r"\(r\)|=[^$]*", "", cells[0])  # a function of radius, and what a symbol stands for
        names, many = symbols(named), cells[2].split(", ")
        if len(many) not in (1, len(names)):
            continue
        for name, unit in zip(names, many * (len(names) if len(many) == 1 else 1), strict=True):
            assert units[name] == unit, f"{path.name}: {name}"


# --- pages to print ---


@each_text
def test_every_formula_can_be_drawn_without_a_network(path):
    parser = MathTextParser("path")
    for latex, _ in printed.formulas(markdown(path)):
        parser.parse(f"${printed._plain(latex)}$")  # raises where a formula cannot be drawn


@pytest.mark.derived
@pytest.mark.parametrize(
    ("short", "plain"),
    [
        (r"\frac12", r"\frac{1}{2}"),
        (r"\tfrac a{E_s}x", r"\frac{a}{E_s}x"),
        (r"\dfrac{1}{\sqrt2}", r"\dfrac{1}{\sqrt{2}}"),
        (r"\sqrt\delta", r"\sqrt{\delta}"),
        (r"\Big(\frac ab\Big)", r"\left(\frac{a}{b}\right)"),
        (r"\mathbf t\cdot\mathbf e_i", r"\mathbf{t}\cdot\mathbf{e}_i"),
        (r"a\le b\left(c\right)", r"a\leq b\left(c\right)"),
    ],
)
def test_abbreviations_of_formulas_are_written_out(short, plain):
    assert printed._plain(short) == plain


def test_a_printed_page_stands_alone():
    cells = [
        nbformat.v4.new_markdown_cell("# Growth\n\nIt is $u=R\\,\\varepsilon_t$, and `$` is code.\n\n$$x=\\frac12$$"),
        nbformat.v4.new_code_cell("1 < 2", outputs=[nbformat.v4.new_output("stream", text="5 < 6\n")]),
        nbformat.v4.new_code_cell("folded = 1", metadata={"jupyter": {"source_hidden": True}}),
        nbformat.v4.new_markdown_cell("<details><summary>Answer 1</summary>\n\nTwo.\n</details>"),
    ]
    notebook = nbformat.v4.new_notebook(cells=cells)
    page = printed.lesson_page(notebook, "growth")
    assert page.count("<svg") == 2
    assert 'aria-label="u=R\\,\\varepsilon_t"' in page
    assert "1 &lt; 2" in page
    assert "5 &lt; 6" in page
    assert "folded" not in page
    assert not re.search(r"(?:src|href)=[\"'](?!data:)", page)  # nothing from elsewhere, no script
    assert "<script" not in page
    assert "<details open>" not in page
    assert "<details open>" in printed.lesson_page(notebook, "growth", answers=True)


def test_a_lesson_that_does_not_exist_cannot_be_printed():
    ended = subprocess.run(
        [sys.executable, "printed.py", "14_nothing"], cwd=FOLDER, capture_output=True, text=True, check=False
    )
    assert ended.returncode == 2
    assert "no lesson 14_nothing" in ended.stderr


# --- the capstone ---


def worked(student_number):
    """What an able student hands in: the answers of the library, made once for each number."""
    wanted = capstone._reference(student_number)
    return {
        "drawn_float_speed": wanted["drawn"],
        "float_speed": wanted["float_speed"] and wanted["float_speed"][1:],
        "interference": wanted["interference"] and wanted["interference"][1:],
        "verdict": wanted["verdict"],
        "shim_change": wanted["shim_change"],
    }


@pytest.mark.parametrize(("student_number", "verdict"), [(3, "holds"), (6, "does not hold"), (11, "not shown")])
def test_the_capstone_marks_by_the_hidden_truth(student_number, verdict, capsys):
    task = capstone.machine_of(student_number)
    answers = worked(student_number)
    full = capstone.asked(task)
    assert full == (2 if verdict == "not shown" else 5)
    assert answers["verdict"] == verdict
    assert capstone.mark(task, **answers) == full
    for other in set(capstone.VERDICTS) - {verdict}:
        assert capstone.mark(task, **{**answers, "verdict": other}) == full - 1
    assert capstone.mark(task, None, None, None, None, None) == 0
    truth = task._truth
    lift_off = float(exercises.TURN * capstone.rm.float_speed(truth, task.drawn.conditions["cold"]).speed)
    printed_marks = capsys.readouterr().out
    assert f"{lift_off:.1f}" not in printed_marks  # marks, not numbers
    assert f"{truth.fit.interference * 1e3:.2f}" not in repr(task)


@pytest.mark.parametrize("name", ["float_speed", "interference"])
@pytest.mark.parametrize("student_number", [3, 6])
def test_an_interval_must_hold_the_truth_and_be_as_wide_as_the_run_asks(student_number, name, capsys):
    task, answers = capstone.machine_of(student_number), worked(student_number)
    truth, low, high = capstone._reference(student_number)[name]
    assert low < truth < high
    width = high - low

    def marked(*ends):
        found = capstone.mark(task, **{**answers, name: ends}) == 5
        row = {"float_speed": "float speed by the run: ", "interference": "interference by the run: "}[name]
        return found, next(line for line in capsys.readouterr().out.splitlines() if line.startswith(row))

    assert marked(truth - 0.3 * width, truth + 0.3 * width)[0]
    for spread in (0.0005, 0.24 * width):  # a thousandth of an rpm or mm wide; less than half as wide
        found, words = marked(truth - spread, truth + spread)
        assert not found
        assert "narrower" in words
    found, words = marked(truth - 1.1 * width, truth + 1.1 * width)
    assert not found
    assert "wider" in words
    for ends in ((truth + 0.01 * width, truth + 0.9 * width), (truth - 0.9 * width, truth - 0.01 * width)):
        found, words = marked(*ends)
        assert not found
        assert "outside" in words
    assert "low comes before high" in marked(high, low)[1]
    assert "both sides" in marked(low, None)[1]


def test_where_the_librarys_interval_misses_others_may_miss_by_twice_as_much():
    missed = (9.0, 10.0, 14.0)  # truth, low, high
    assert capstone._interval((10.0, 14.0), missed, "rpm") == "right"
    assert capstone._interval((10.9, 14.0), missed, "rpm") == "right"
    assert capstone._interval((11.1, 14.0), missed, "rpm") == "not yet: the truth lies outside"


NAN = float("nan")


@pytest.mark.parametrize(
    ("name", "answer", "words"),
    [
        (
            "drawn_float_speed",
            "150",
            "float speed of the drawing: give one plain number (rpm), without quotation marks",
        ),
        ("drawn_float_speed", NAN, "float speed of the drawing: give one plain number (rpm), without quotation marks"),
        ("drawn_float_speed", [1.0, 2.0], "float speed of the drawing: give one plain number (rpm)"),
        ("float_speed", 150.0, "float speed by the run: give two numbers in brackets, (low, high) in rpm"),
        ("float_speed", "150", "float speed by the run: give two numbers in brackets, (low, high) in rpm"),
        ("float_speed", ("150", "160"), "float speed by the run: give two plain numbers, (low, high) in rpm"),
        ("float_speed", (NAN, 160.0), "float speed by the run: give two plain numbers, (low, high) in rpm"),
        ("float_speed", (1.0, 2.0, 3.0), "float speed by the run: give two numbers in brackets"),
        ("interference", "about two", "interference by the run: give two numbers in brackets, (low, high) in mm"),
        ("shim_change", "0.2 mm", "change of the shims: give one plain number (mm), without quotation marks"),
        ("shim_change", float("inf"), "change of the shims: give one plain number (mm), without quotation marks"),
        ("shim_change", None, "change of the shims: no answer yet (mm)"),
        ("verdict", "safe", "verdict on the claim: say one of holds, does not hold, not shown, in quotation marks"),
        ("verdict", 1.0, "verdict on the claim: say one of holds, does not hold, not shown, in quotation marks"),
        ("verdict", NAN, "verdict on the claim: say one of holds, does not hold, not shown, in quotation marks"),
    ],
)
def test_an_answer_that_is_no_answer_is_met_with_clear_words(name, answer, words, capsys):
    assert capstone.mark(capstone.machine_of(6), **{**worked(6), name: answer}) == 4
    assert words in capsys.readouterr().out


def test_a_verdict_may_be_written_in_capitals():
    assert capstone.mark(capstone.machine_of(6), **{**worked(6), "verdict": " Does NOT hold "}) == 5


@pytest.mark.parametrize("answer", [None, (100.0, None), (100.0, 200.0), "150", NAN, 5])
def test_a_run_that_cannot_tell_asks_for_the_verdict_alone(answer, capsys):
    answers = {**worked(11), "float_speed": answer, "interference": answer, "shim_change": answer}
    assert capstone.mark(capstone.machine_of(11), **answers) == 2
    lines = capsys.readouterr().out.splitlines()
    assert sum("not marked: this run cannot tell it" in line for line in lines) == 3
    assert lines[-1] == "student number 11: 2 of 2"


def test_a_student_number_stands_for_one_machine():
    one, again, other = (capstone.machine_of(number) for number in (21, 21, 22))
    assert one.recording.equals(again.recording)
    assert not one.recording.equals(other.recording)
    assert one._truth.fit.interference != other._truth.fit.interference


def test_the_capstone_is_stored_without_answers():
    [source] = [source for source in code(FOLDER / "13_capstone.ipynb") if "answer_1 = " in source]
    assert re.findall(r"^answer_\d = (\w+)", source, re.M) == ["None"] * 5
