"""Figures drawn by two processes: that of the command, and the one beside it."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Mapping
from contextlib import suppress
from functools import partial
from threading import Thread
from typing import TYPE_CHECKING, Any

from rimmodel.plotting.style import to_svg
from rimmodel.verdict.beside import Beside, NotDoneError

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Drawing = Callable[[], "Figure"]
"""Makes a figure; by `drawing`, so that it can be sent to another process."""


def drawing(chart: Callable[..., Figure], *data: Any) -> Drawing:
    """The drawing of a chart, a function of a module, from its data."""
    return partial(chart, *data)


def drawn(chosen: Drawing) -> str:
    """The SVG text of a drawing."""
    return to_svg(chosen())


class Drawer:
    """Draws figures in the order in which they are added, and from the end of them in the process beside."""

    def __init__(self, beside: Beside | None = None) -> None:
        self._beside = Beside() if beside is None else beside
        self._names: list[str] = []
        self._waiting: deque[tuple[str, Drawing]] = deque()
        self._drawn: dict[str, str] = {}
        self._threads: list[Thread] = []

    def add(self, drawings: Mapping[str, Drawing]) -> None:
        """Take drawings by name; the process beside begins with the last."""
        self._names += drawings
        self._waiting.extend(drawings.items())
        if self._beside and not any(thread.is_alive() for thread in self._threads):
            self._threads.append(Thread(target=self._draw_beside, daemon=True))
            self._threads[-1].start()

    def figures(self) -> dict[str, str]:
        """SVG text by name, in the order in which they were added; drawn here as far as they are not yet."""
        self._draw_waiting()
        for thread in self._threads:
            thread.join()
        self._draw_waiting()  # what the process beside gave back
        return {name: self._drawn[name] for name in self._names}

    def _draw_waiting(self) -> None:
        while self._waiting:
            with suppress(IndexError):  # the other has just taken the last
                name, chosen = self._waiting.popleft()
                self._drawn[name] = drawn(chosen)

    def _draw_beside(self) -> None:
        while self._waiting:
            try:
                name, chosen = self._waiting.pop()
            except IndexError:
                return
            try:
                self._drawn[name] = self._beside.run(partial(drawn, chosen))
            except NotDoneError:
                self._waiting.append((name, chosen))
                return
