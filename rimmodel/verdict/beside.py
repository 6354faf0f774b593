"""A process beside that of a command: it takes half of the work where there is a second processor.

A task is a function of plain data; which process runs it does not change a byte of what comes out. The process beside
is a convenience: whatever keeps it from working, that of the command does the task itself, and finds the same fault
where the task is at fault.
"""

from __future__ import annotations

import gc
import os
import pickle
import select
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from threading import Lock, Thread
from typing import IO, TypeVar

PROCESSES = "RIMMODEL_PROCESSES"
"""Environment variable: how many processes a command may use; 1 keeps all work in one."""

MOMENT = 0.02
"""Seconds without a task after which the process beside does what it will need later."""

Result = TypeVar("Result")


class NotDoneError(Exception):
    """The process beside has no result of a task."""


class Beside:
    """The process beside, or none."""

    def __init__(self, process: subprocess.Popen[bytes] | None = None) -> None:
        self._process = process
        self._one_at_a_time = Lock()
        self._in_turn = Lock()

    def __bool__(self) -> bool:
        return self._process is not None

    def run(self, task: Callable[[], Result]) -> Result:
        """The result of a task that can be pickled, from the process beside; waits for it.

        Raises
        ------
        NotDoneError
            There is no such process, it ended, or the task cannot be sent or fails.
        """
        with self._one_at_a_time:
            process = self._process
            if process is None or process.stdin is None or process.stdout is None:
                raise NotDoneError
            try:
                text = pickle.dumps(task)
            except Exception as unable:  # pickle raises whatever it meets
                raise NotDoneError from unable
            try:
                _send(process.stdin, text)
                done, result = pickle.load(process.stdout)
            except Exception as lost:
                self._process = None
                raise NotDoneError from lost
        if not done:
            raise NotDoneError
        found: Result = result
        return found

    def start(self, task: Callable[[], Result]) -> Callable[[], Result]:
        """Begin a task beside, and return the function that waits for its result.

        Tasks are begun one after the other. One that has not begun when its result is wanted is done here, and so is
        one that fails there.
        """
        found: list[Result] = []
        begun = Lock()  # whoever takes it does the task

        def work() -> None:
            with self._in_turn:
                if begun.acquire(blocking=False):
                    with suppress(NotDoneError):
                        found.append(self.run(task))

        thread = Thread(target=work, daemon=True)
        if self:
            thread.start()

        def result() -> Result:
            if not found:
                if not begun.acquire(blocking=False) and thread.ident is not None:
                    thread.join()
                if not found:
                    found.append(task())
            return found[0]

        return result


@contextmanager
def beside(*, wanted: bool = True, drawing: bool = False) -> Iterator[Beside]:
    """A process beside for as long as it is used, where there is a second processor and one is `wanted`.

    Parameters
    ----------
    drawing : bool
        Whether it will draw figures: it loads what that needs while it has no task.
    """
    process = _started(drawing) if wanted and processors() > 1 else None
    try:
        yield Beside(process)
    finally:
        if process is not None:
            process.kill()
            process.communicate()


def processors() -> int:
    """Processors that this process may use, and no more than `PROCESSES` allows."""
    own = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    most = os.environ.get(PROCESSES, "")
    return min(own, int(most)) if most.isdecimal() else own


def _started(drawing: bool) -> subprocess.Popen[bytes] | None:
    """In a session of its own, so that Ctrl-C reaches the command alone; None where it cannot start."""
    asked = f"serve(drawing={drawing}, collecting={gc.get_threshold()})"
    try:
        return subprocess.Popen(
            [sys.executable, "-c", f"from rimmodel.verdict.beside import serve; {asked}"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env={**os.environ, "PYTHONPATH": os.pathsep.join(path for path in sys.path if path)},
            start_new_session=True,
        )
    except OSError:
        return None


def serve(*, drawing: bool, collecting: tuple[int, int, int]) -> None:
    """Do the tasks that come in on standard input until it ends: the main loop of the process beside.

    Parameters
    ----------
    drawing : bool
        As in `beside`.
    collecting : tuple of int
        Thresholds of the garbage collector, those of the command.
    """
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # nothing printed gets between the answers
    gc.set_threshold(*collecting)
    # loaded before it is asked for, as the case is still being read there
    import polars  # noqa: F401
    import scipy.special  # noqa: F401

    import rimmodel.verdict.assess  # noqa: F401

    ready = not drawing
    while True:
        if not ready and _idle(sys.stdin.buffer):
            _load_what_drawing_needs()
            ready = True
        try:
            task = pickle.load(sys.stdin.buffer)
        except EOFError:
            return
        try:
            answer = pickle.dumps((True, task()))
        except Exception:  # done again where it was wanted, it says what is wrong
            answer = pickle.dumps((False, None))
        _send(answers, answer)


def _idle(tasks: IO[bytes]) -> bool:
    """Whether no task comes for a moment, as far as the system can say that of a pipe."""
    try:
        return not select.select([tasks], [], [], MOMENT)[0]
    except (OSError, ValueError):
        return True


def _load_what_drawing_needs() -> None:
    """A first figure loads fonts and a good deal else."""
    import rimmodel.verdict.output.details
    import rimmodel.verdict.output.figures  # noqa: F401
    from rimmodel.arrays import floats
    from rimmodel.plotting import gap_chart
    from rimmodel.plotting.speed_curves import Curve
    from rimmodel.plotting.style import to_svg

    line = floats([0.0, 1.0])
    to_svg(gap_chart.draw([Curve("", line, line, line, 0.5)], []))


def _send(stream: IO[bytes], text: bytes) -> None:
    stream.write(text)
    stream.flush()
