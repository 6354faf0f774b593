"""Who does the work: this process, several, any map-like callable, or a cluster. None of them changes a result."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import Any

Map = Callable[[Callable[[Any], Any], Iterable[Any]], Iterable[Any]]
Workers = int | str | Map
"""A number of processes; the address of a dask scheduler; or what is called as map(function, tasks), in order."""

MOST_PROCESSES = 256
"""More processes than that are a slip: each is a whole Python of its own."""


@contextmanager
def task_map(workers: Workers) -> Iterator[Map]:
    """The map to run tasks with.

    Parameters
    ----------
    workers : int, str or map-like callable
        1 runs in this process, more start as many; the address of a dask scheduler ("tcp://127.0.0.1:8786") sends the
        tasks there (extra `cluster`); a callable is used as it is.

    Raises
    ------
    ValueError
        Less than one worker or more than `MOST_PROCESSES`, an address without the extra, or one where no scheduler
        answers.

    >>> with task_map(1) as run:
    ...     list(run(abs, [-1, 2]))
    [1, 2]
    """
    if isinstance(workers, str):
        with _cluster(workers) as run:
            yield run
    elif not isinstance(workers, int):
        yield workers
    elif isinstance(workers, bool) or not 1 <= workers <= MOST_PROCESSES:
        raise ValueError(
            f"workers is {workers}; it must be 1 to {MOST_PROCESSES} processes, a map-like callable or an address"
        )
    elif workers == 1:
        yield map
    else:
        with _processes(workers) as run:
            yield run


@contextmanager
def _processes(count: int) -> Iterator[Map]:
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    # a forked child of a program with threads may wait for a lock for ever; a fresh one cannot
    pool = ProcessPoolExecutor(count, get_context("spawn"), initializer=_leave_interrupts_to_the_parent)

    def run(function: Callable[[Any], Any], tasks: Iterable[Any]) -> Iterator[Any]:
        with _interrupts_held_back():  # the processes start here, and inherit it
            return pool.map(function, tasks)

    try:
        yield run
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


@contextmanager
def _interrupts_held_back() -> Iterator[None]:
    """Hold Ctrl-C back while processes start, and answer it when they have.

    The mask is inherited, so that the parent alone answers to Ctrl-C; but it covers this thread alone, and the signal
    may reach another: the handler waits too, so that no process is left half started.
    """
    import signal
    import threading
    from multiprocessing import resource_tracker

    if not hasattr(signal, "pthread_sigmask") or threading.current_thread() is not threading.main_thread():
        yield
        return
    held: list[int] = []
    resource_tracker.ensure_running()  # unblocks Ctrl-C when it starts
    handler = signal.signal(signal.SIGINT, lambda number, _: held.append(number))
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
        signal.signal(signal.SIGINT, handler)
        if held:
            signal.raise_signal(signal.SIGINT)


def _leave_interrupts_to_the_parent() -> None:
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)


@contextmanager
def _cluster(address: str) -> Iterator[Map]:
    try:
        from distributed import Client
    except ModuleNotFoundError:
        raise ValueError(
            f"workers is {address!r}, an address: this needs dask and distributed, the extra 'cluster' of rimmodel"
        ) from None
    try:
        client = Client(address, timeout="4s", set_as_default=False)
    except (OSError, ValueError) as error:
        raise ValueError(f"workers is {address!r}: no dask scheduler answers there ({error})") from error

    def run(function: Callable[[Any], Any], tasks: Iterable[Any]) -> Iterator[Any]:
        # one by one and in order, so that the results of a long study need not be held all at once
        for future in client.map(function, list(tasks), pure=False):
            yield future.result()

    with client:
        yield run
