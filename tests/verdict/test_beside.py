"""Work in a process beside: the same results as here, whatever becomes of the other process."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from functools import partial

import pytest

import rimmodel as rm
from rimmodel.plotting import driver_chart
from rimmodel.verdict import beside as helping
from rimmodel.verdict.assess import assess
from rimmodel.verdict.beside import PROCESSES, Beside, NotDoneError, beside, processors
from rimmodel.verdict.output.drawer import Drawer, drawn
from rimmodel.verdict.output.fit import fit_table
from rimmodel.verdict.output.tables import table as review_table
from rimmodel.verdict.records import measure_records
from tests.built_in import example_measured, example_review

DRAWINGS = {
    name: partial(driver_chart.draw, [name], [share]) for name, share in (("one", 1.0), ("two", -2.0), ("six", 6.0))
}
HERE = {name: drawn(draw) for name, draw in DRAWINGS.items()}


@pytest.fixture
def _two_processors(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(helping, "processors", lambda: 2)


@pytest.mark.usefixtures("_two_processors")
def test_figures_are_the_same_bytes_wherever_they_are_drawn(monkeypatch: pytest.MonkeyPatch) -> None:
    with beside(drawing=True) as helper:
        figures = Drawer(helper)
        # this process draws nothing: all that comes out was drawn beside
        monkeypatch.setattr(Drawer, "_draw_waiting", lambda self: None)
        figures.add(DRAWINGS)
        found = figures.figures()
    assert found == HERE
    assert list(found) == list(DRAWINGS)


@pytest.mark.usefixtures("_two_processors")
def test_a_recording_shows_the_same_wherever_it_is_measured() -> None:
    case = rm.example_case()
    asked = []
    with beside() as helper:
        run = helper.run
        helper.run = lambda task: asked.append(run(task)) or asked[-1]  # type: ignore[method-assign,func-returns-value]
        _, together = measure_records(case, beside=helper)
    _, alone = example_measured()
    assert len(asked) == 1
    assert [fit_table(one) for one in together] == [fit_table(one) for one in alone]


@pytest.mark.usefixtures("_two_processors")
def test_what_fails_beside_says_why_here() -> None:
    with beside() as helper:
        assert helper.run(os.getpid) != os.getpid()
        with pytest.raises(NotDoneError):
            helper.run(partial(int, "x"))
        with pytest.raises(ValueError, match="invalid literal"):
            helper.start(partial(int, "x"))()
        figures = Drawer(helper)
        figures.add({**DRAWINGS, "wrong": partial(driver_chart.draw, ["a"], ["no number"])})
        with pytest.raises((TypeError, ValueError)):
            figures.figures()


@pytest.mark.usefixtures("_two_processors")
def test_a_task_that_has_not_begun_is_done_by_whoever_wants_its_result() -> None:
    with beside() as helper:
        first, second = helper.start(partial(time.sleep, 0.5)), helper.start(os.getpid)
        assert second() == second() == os.getpid()  # the process beside still sleeps
        assert first() is None


@pytest.mark.usefixtures("_two_processors")
def test_a_review_is_the_same_by_two_processes() -> None:
    case = rm.example_case()
    with beside() as helper:
        together = review_table(assess(case, beside=helper))
    assert together == review_table(example_review())


@pytest.mark.usefixtures("_two_processors")
def test_what_cannot_be_sent_is_done_here() -> None:
    with beside() as helper:
        assert helper.start(lambda: 3)() == 3
        figures = Drawer(helper)
        figures.add({**DRAWINGS, "local": lambda: driver_chart.draw(["local"], [3.0])})
        assert list(figures.figures()) == [*DRAWINGS, "local"]


def test_a_process_that_ended_is_done_without() -> None:
    gone = subprocess.Popen([sys.executable, "-c", ""], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    gone.wait(timeout=60)
    helper = Beside(gone)
    assert helper.start(partial(abs, -2))() == 2
    assert not helper
    figures = Drawer(Beside(gone))
    figures.add(DRAWINGS)
    assert figures.figures() == HERE
    gone.communicate()


def test_one_process_where_no_more_are_allowed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(PROCESSES, "1")
    assert processors() == 1
    with beside() as helper:
        assert not helper
        assert helper.start(os.getpid)() == os.getpid()
