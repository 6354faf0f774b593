"""Figures drawn by two processes: this one, and one beside it that starts early and loads what drawing needs.

A drawing is a function of plain data that makes a figure; where it is drawn does not change a byte of the SVG. The
process beside is a convenience: whatever keeps it from working, this one draws.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from collections import deque
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from threading import Thread
from typing import IO, TYPE_CHECKING

from rimmodel.plotting.style import to_svg

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Drawing = Callable[[], "Figure"]
"""Makes a figure; `functools.partial` of a function of a module and its data, so that it can be sent."""


PROCESSES = "RIMMODEL_PROCESSES"
"""Environment variable: how many processes a command may use; 1 keeps all work in one."""


class Drawer:
    """Draws figures in the order in which they are added, from its end in the process beside, where there is one.

    Parameters
    ----------
    beside : Popen or None
    """

    def __init__(self, beside: subprocess.Popen[bytes] | None = None) -> None:
        self._beside = beside
        self._names: list[str] = []
        self._waiting: deque[tuple[str, Drawing]] = deque()
        self._drawn: dict[str, str] = {}
        self._thread: Thread | None = None

    def add(self, drawings: Mapping[str, Drawing]) -> None:
        """Take drawings by name; the process beside begins with the last."""
        self._names += drawings
        self._waiting.extend(drawings.items())
        if self._beside is not None and (self._thread is None or not self._thread.is_alive()):
            self._thread = Thread(target=self._draw_beside, args=(self._beside,), daemon=True)
            self._thread.start()

    def figures(self) -> dict[str, str]:
        """SVG text by name, in the order in which they were added; drawn here as far as they are not yet."""
        self._draw_waiting()
        if self._thread is not None:
            self._thread.join()
            self._draw_waiting()  # what the process beside gave back
        return {name: self._drawn[name] for name in self._names}

    def _draw_waiting(self) -> None:
        while self._waiting:
            with suppress(IndexError):  # the other has just taken the last
                name, drawing = self._waiting.popleft()
                self._drawn[name] = to_svg(drawing())

    def _draw_beside(self, beside: subprocess.Popen[bytes]) -> None:
        assert beside.stdin is not None
        assert beside.stdout is not None
        while self._waiting:
            try:
                name, drawing = self._waiting.pop()
            except IndexError:
                return
            try:
                _send(beside.stdin, drawing)
                svg = pickle.load(beside.stdout)
            except Exception:  # it ended, or this cannot be sent: it is drawn here
                svg = None
            if svg is None:
                self._beside = None
                self._waiting.append((name, drawing))
                return
            self._drawn[name] = svg


@contextmanager
def drawer(*, wanted: bool = True) -> Iterator[Drawer]:
    """A drawer with a process beside it, where there is a second processor; without one if none is `wanted`.

    Parameters
    ----------
    wanted : bool
    """
    beside = _started() if wanted and processors() > 1 else None
    try:
        yield Drawer(beside)
    finally:
        if beside is not None:
            beside.kill()
            beside.communicate()


def processors() -> int:
    """Processors that this process may use, and no more than `PROCESSES` allows."""
    own = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    most = os.environ.get(PROCESSES, "")
    return min(own, int(most)) if most.isdecimal() else own


def _started() -> subprocess.Popen[bytes] | None:
    """The process beside, in a session of its own so that Ctrl-C reaches this one alone; None where it cannot start."""
    try:
        return subprocess.Popen(
            [sys.executable, "-c", "from rimmodel.verdict.output.drawer import serve; serve()"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env={**os.environ, "PYTHONPATH": os.pathsep.join(path for path in sys.path if path)},
            start_new_session=True,
        )
    except OSError:
        return None


def serve() -> None:
    """Draw what comes in on standard input until it ends: the main loop of the process beside."""
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # nothing printed gets between the answers
    # what a first figure loads is loaded before it is asked for, fonts and all
    import rimmodel.verdict.output.details
    import rimmodel.verdict.output.figures  # noqa: F401
    from rimmodel.arrays import floats
    from rimmodel.plotting.speed import Curve, gap_chart

    line = floats([0.0, 1.0])
    to_svg(gap_chart([Curve("", line, line, line, 0.5)], []))
    with suppress(EOFError):
        while True:
            drawing = pickle.load(sys.stdin.buffer)
            try:
                svg = to_svg(drawing())
            except Exception:  # drawn again where it was wanted, it says what is wrong
                svg = None
            _send(answers, svg)


def _send(stream: IO[bytes], thing: object) -> None:
    stream.write(pickle.dumps(thing))
    stream.flush()
