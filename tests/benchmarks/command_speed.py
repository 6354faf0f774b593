"""Time of the commands on the built-in case, against loading numpy, scipy and matplotlib in the same run.

Run it by itself on a quiet machine with two processors: ``python tests/benchmarks/command_speed.py``. Each measurement
is a process of its own; the best of `REPEATS` rounds counts, and in each round every command runs once, so that a load
that comes and goes meets all alike. Ratios of elapsed time, because commands work in two processes.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from rimmodel.cli.program import THREADS

REPEATS = 5
YARDSTICK = (sys.executable, "-c", "import numpy, scipy, matplotlib")
COMMAND = (sys.executable, "-m", "rimmodel.cli")
LARGEST_RATIO = {"review": 7.5, "page": 15.0, "fit": 4.5, "import": 1.0, "help": 2.0}
"""Elapsed time over that of the yardstick: 2.5 s, 5 s and 1.5 s where the yardstick takes a third of a second."""


def commands(place: Path) -> dict[str, tuple[str, ...]]:
    """What is timed, by name; the page is written to `place`."""
    return {
        "review": (*COMMAND, "review"),
        "page": (*COMMAND, "review", "--out", str(place), "--force"),
        "fit": (*COMMAND, "fit"),
        "import": (sys.executable, "-c", "import rimmodel"),
        "help": (*COMMAND, "--help"),
    }


def best_times(wanted: dict[str, tuple[str, ...]], repeats: int = REPEATS) -> dict[str, float]:
    """Least elapsed time (s) of each command, and of the yardstick under "yardstick"."""
    # as it is for a user: two processes, threads as the libraries choose, compiled modules kept from the first round on
    unusual = ("RIMMODEL_PROCESSES", "PYTHONDONTWRITEBYTECODE", *THREADS)
    environment = {key: value for key, value in os.environ.items() if key not in unusual}
    best: dict[str, float] = {}
    for _ in range(repeats):
        for name, command in {"yardstick": YARDSTICK, **wanted}.items():
            start = time.perf_counter()
            subprocess.run(command, check=True, capture_output=True, env=environment)
            best[name] = min(best.get(name, float("inf")), time.perf_counter() - start)
    return best


def ratios(best: dict[str, float]) -> dict[str, float]:
    """Each best time over that of the yardstick."""
    return {name: value / best["yardstick"] for name, value in best.items() if name != "yardstick"}


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        best = best_times(commands(Path(folder)))
    found = ratios(best)
    print(f"yardstick {best['yardstick']:.2f} s")
    for name, ratio in found.items():
        print(f"{name:8} {best[name]:6.2f} s  {ratio:5.2f} times the yardstick, at most {LARGEST_RATIO[name]}")
    slow = [name for name, ratio in found.items() if ratio > LARGEST_RATIO[name]]
    if slow:
        sys.exit(f"too slow: {', '.join(slow)}")


if __name__ == "__main__":
    main()
