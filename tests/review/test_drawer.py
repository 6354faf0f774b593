"""Figures drawn beside: the same bytes as drawn here, whatever becomes of the other process."""

from __future__ import annotations

import subprocess
import sys
from functools import partial

import pytest

from rimmodel.plotting.study import driver_chart
from rimmodel.plotting.style import to_svg
from rimmodel.verdict.output import drawer as drawing
from rimmodel.verdict.output.drawer import PROCESSES, Drawer, drawer, processors

DRAWINGS = {name: partial(driver_chart, [name], [share]) for name, share in (("one", 1.0), ("two", -2.0), ("six", 6.0))}
HERE = {name: to_svg(draw()) for name, draw in DRAWINGS.items()}


@pytest.fixture
def two_processors(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(drawing, "processors", lambda: 2)


def test_the_process_beside_draws_the_same_bytes(two_processors: None, monkeypatch: pytest.MonkeyPatch) -> None:
    with drawer() as figures:
        assert figures._beside is not None
        # this process draws nothing: all that comes out was drawn beside
        monkeypatch.setattr(Drawer, "_draw_waiting", lambda self: None)
        figures.add(DRAWINGS)
        found = figures.figures()
    assert found == HERE
    assert list(found) == list(DRAWINGS)


def test_what_fails_beside_says_why_here(two_processors: None) -> None:
    with drawer() as figures:
        figures.add({**DRAWINGS, "wrong": partial(driver_chart, ["a"], ["no number"])})
        with pytest.raises((TypeError, ValueError)):
            figures.figures()


def test_what_cannot_be_sent_is_drawn_here(two_processors: None) -> None:
    with drawer() as figures:
        figures.add({**DRAWINGS, "local": lambda: driver_chart(["local"], [3.0])})
        assert list(figures.figures()) == [*DRAWINGS, "local"]


def test_a_process_that_ended_is_done_without() -> None:
    gone = subprocess.Popen([sys.executable, "-c", ""], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    gone.wait(timeout=60)
    figures = Drawer(gone)
    figures.add(DRAWINGS)
    assert figures.figures() == HERE
    gone.communicate()


def test_one_process_where_no_more_are_allowed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(PROCESSES, "1")
    assert processors() == 1
    with drawer() as figures:
        assert figures._beside is None
        figures.add(DRAWINGS)
        assert figures.figures() == HERE
