"""Every notebook runs from first cell to last, ends in asserted numbers, is kept without output and marks answers."""

import re
import sys
from dataclasses import replace
from pathlib import Path

import nbformat
import numpy as np
import pytest
from jupyter_client.kernelspec import KernelSpec
from jupyter_client.manager import AsyncKernelManager
from nbclient import NotebookClient
from sympy import Rational, Symbol

from notebooks.exercises import Exercise, check, misjudged, verdict
from notebooks.printed import lesson_page

FOLDER = Path(__file__).parent.parent / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))
LESSONS = [path for path in NOTEBOOKS if path.name[:2].isdigit()]
CAPSTONE = "13_capstone"
LONGEST = 120
"""Seconds that one cell may take before it is given up; a lesson takes about ten as a whole."""

each_notebook = pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
each_lesson = pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)

GROWTH = Exercise(
    "growth", 0.8e-3, "m", ("radius or diameter?", "a alpha T"), slips={"the growth of the outside": 0.9e-3}
)
FLOAT_SPEED = Exercise("float speed", 180.0, "rpm", ("the root of it", "of delta over growth"))
SHARE = Exercise("share", 0.125, "a share, 0 to 1", ("of what?", "of all twelve"), tolerance=0.03)
JUMP = Exercise("jump", -0.0125, "mm", ("up or down?", "eleven are left"))


class ThisPython(AsyncKernelManager):
    """Starts kernels of the interpreter that runs the tests, whatever kernels are installed beside it."""

    @property
    def kernel_spec(self):
        command = [sys.executable, "-m", "ipykernel_launcher", "-f", "{connection_file}"]
        return KernelSpec(argv=command, display_name="tests", language="python")


def code_cells(path):
    return [cell for cell in nbformat.read(path, as_version=4).cells if cell.cell_type == "code"]


def test_there_are_lessons():
    assert LESSONS, f"no lesson in {FOLDER}"


@pytest.mark.long
@each_notebook
def test_runs(path):
    notebook = nbformat.read(path, as_version=4)
    client = NotebookClient(
        notebook, timeout=LONGEST, kernel_manager_class=ThisPython, resources={"metadata": {"path": str(FOLDER)}}
    )
    # the client's stand-in for sliders writes to the socket on which it waits, and may so miss the end of a cell
    client.widget_registry.clear()
    client.execute()
    page = lesson_page(notebook, path.stem)  # as printed: nothing from elsewhere, no formula left as it is written
    assert not re.search(r"(?:src|href)=[\"'](?!data:)|<script", page)
    assert "$" not in re.sub(r"<pre.*?</pre>|<[^>]*>", "", page, flags=re.DOTALL)
    assert all(cell.execution_count for cell in notebook.cells if cell.cell_type == "code" and cell.source.strip())


@each_notebook
def test_is_stored_without_output(path):
    nbformat.validate(nbformat.read(path, as_version=4))
    for cell in code_cells(path):
        assert not cell.outputs, f"{path.name} holds output; clear it"
        assert cell.execution_count is None, f"{path.name} holds execution counts; clear them"


@each_lesson
def test_lesson_ends_in_asserted_numbers(path):
    assert "assert" in code_cells(path)[-1].source


@each_notebook
def test_asks_questions_and_leaves_the_answers_to_the_reader(path):
    cells = [cell for cell in code_cells(path) if "check(EXERCISES" in cell.source]
    if path.stem == CAPSTONE:  # marked by the truth of a machine, see test_course.py
        assert not cells
        return
    [cell] = cells
    handed_in = {}
    exec(cell.source, {"EXERCISES": None, "check": lambda _, **answers: handed_in.update(answers)})
    assert len(handed_in) >= 2
    assert set(handed_in.values()) == {None}, f"{path.name} is stored with answers filled in; put None"


@each_notebook
def test_right_answers_are_folded_away(path):
    worked = [cell for cell in code_cells(path) if re.search(r"EXERCISES = |def worked_|worked = ", cell.source)]
    assert len(worked) >= 1
    for cell in worked:
        assert cell.metadata.get("jupyter", {}).get("source_hidden"), f"{path.name} shows its answers; fold {cell.id}"


@pytest.mark.parametrize(
    ("exercise", "answer", "words"),
    [
        (GROWTH, 0.8e-3, "right"),
        (GROWTH, 0.807e-3, "right"),  # within 1 %
        (GROWTH, 0.809e-3, "not yet, too large; hint: radius or diameter?"),
        (GROWTH, 0.9e-3, "not yet, this is the growth of the outside; hint: radius or diameter?"),
        (GROWTH, 0.7e-3, "not yet, too small; hint: radius or diameter?"),
        (GROWTH, -0.8e-3, "not yet, the sign is wrong; hint: radius or diameter?"),
        (
            GROWTH,
            0.8,
            "not yet, a power of ten off: mind the unit (asked for: m); hint: radius or diameter?",
        ),  # mm for m
        (GROWTH, 1.6e-3, "not yet, twice of it (asked for: m); hint: radius or diameter?"),  # diameter for radius
        (GROWTH, 0.4e-3, "not yet, only half of it (asked for: m); hint: radius or diameter?"),
        (GROWTH, 0, "not yet, too small; hint: radius or diameter?"),
        (GROWTH, Rational(1, 1250), "right"),
        (GROWTH, np.array(0.8e-3), "right"),
        (
            FLOAT_SPEED,
            18.85,
            "not yet, rpm and rad/s are mixed up (asked for: rpm); hint: the root of it",
        ),  # 180 x 2 pi/60 = 18.850
        (
            FLOAT_SPEED,
            1718.9,
            "not yet, rpm and rad/s are mixed up (asked for: rpm); hint: the root of it",
        ),  # 180 x 60/(2 pi) = 1718.9
        (
            FLOAT_SPEED,
            16414,
            "not yet, rpm and rad/s are mixed up (asked for: rpm); hint: the root of it",
        ),  # squared: 180 x 91.19 = 16 414
        (SHARE, 0.128, "right"),  # within 3 %
        (
            SHARE,
            12.5,
            "not yet, a hundred times off: mind the unit, or per cent and share (asked for: a share, 0 to 1); "
            "hint: of what?",
        ),
        (JUMP, -0.0125, "right"),
        (JUMP, 0.0125, "not yet, the sign is wrong; hint: up or down?"),
        (JUMP, -0.02, "not yet, too large; hint: up or down?"),
        (GROWTH, None, "no answer yet, put a number (m) in place of None"),
        (GROWTH, ..., "give one plain number (m)"),
        (GROWTH, "0.8e-3", "give one plain number (m)"),
        (GROWTH, [0.8e-3, 0.8e-3], "give one plain number (m)"),
        (GROWTH, np.array([0.8e-3, 0.8e-3]), "give one plain number (m)"),
        (GROWTH, 0.8e-3j, "give one plain number (m)"),
        (GROWTH, float("nan"), "give one plain number (m)"),
        (GROWTH, float("inf"), "give one plain number (m)"),
        (GROWTH, 10**400, "give one plain number (m)"),
        (GROWTH, Symbol("u"), "give one plain number (m)"),
    ],
)
def test_an_answer_is_judged_in_words(exercise, answer, words):
    assert verdict(exercise, answer) == words


def test_check_prints_one_line_for_each_answer_and_never_the_right_one(capsys):
    check({"Q1": GROWTH, "Q2": JUMP}, Q1=None, Q2=-0.0125, Q7=1.0)
    assert capsys.readouterr().out.splitlines() == [
        "Q1, growth: no answer yet, put a number (m) in place of None",
        "Q2, jump: right",
        "Q7: no such question here; there are Q1, Q2",
    ]
    assert "0.0008" not in repr(GROWTH)


def test_a_lesson_learns_which_of_its_answers_are_misjudged():
    exercises = {"Q1": GROWTH, "Q2": JUMP}
    assert misjudged(exercises, Q1=0.8e-3, Q2=-0.0125) == []
    assert misjudged(exercises, Q1=0.9e-3, Q2=-0.0125) == ["Q1"]  # worked out wrong
    assert misjudged(exercises, Q1=0.8e-3) == ["Q2"]  # not worked out
    assert misjudged(exercises, Q1=0.8e-3, Q2=-0.0125, Q3=1.0) == ["Q3"]  # not asked
    assert misjudged({"Q1": replace(GROWTH, tolerance=0.2)}, Q1=0.8e-3) == ["Q1"]  # lets wrong numbers pass
    assert misjudged({"Q1": replace(GROWTH, slips={"half a per cent": 0.804e-3})}, Q1=0.8e-3) == ["Q1"]  # and a slip
    assert misjudged({"Q1": replace(GROWTH, hints=("again", "again"))}, Q1=0.8e-3) == ["Q1"]  # no deeper hint
    assert misjudged({"Q1": replace(GROWTH, right=float("nan"))}, Q1=0.8e-3) == ["Q1"]
