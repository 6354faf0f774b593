"""Time and memory of a wide table of five million readings, against reading that file alone with polars; and of turns.

Run it by itself: ``python -m tests.benchmarks.wide_speed``. Both recordings are invented: 16 sensors side by side in
312,500 rows, with time and speed; and 48 poles at 12 sensors over 2,000 turns, row by row. Each measurement is a
process of its own; what counts is the ratio of the best times and the peak memory, both in one run.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

SENSORS, READINGS = 16, 5_000_000
LEVELS = np.array([20.0, 60.0, 100.0, 120.0, 140.0, 160.0, 180.0, 160.0, 140.0, 120.0, 100.0, 60.0, 20.0])
POLES, TURNS, AT = 48, 2_000, 12
REPEATS = 5
LARGEST_RATIO, LARGEST_MEMORY, LONGEST = 3.0, 500.0, 10.0

_MEASURE = """
import resource, sys, time
import polars, numpy
from rimmodel.evidence.recording.read import read_recording
from rimmodel.evidence.reduction.speed_points import speed_points
from rimmodel.evidence.reduction.turns import turns
from rimmodel.units import conversion
conversion("mm", "length")
start = time.perf_counter()
if sys.argv[1] == "polars":
    polars.read_csv(sys.argv[2])
elif sys.argv[1] == "turns":
    found = turns(read_recording(sys.argv[2]))
    assert found.gap.shape == (2000, 12) and found.whole.all() and not found.notes, found
else:
    recording = read_recording(sys.argv[2])
    assert recording.rows == 5_000_000 and len(recording.sensors) == 16
    if sys.argv[1] == "points":
        assert len(speed_points(recording).gap) == 13
print(time.perf_counter() - start, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0)
"""


def write_wide(path: Path) -> None:
    """Write the run with its sensors side by side."""
    import polars as pl

    random = np.random.default_rng(1)
    rows = READINGS // SENSORS
    clock = np.arange(rows) * 0.05
    corners = np.linspace(0.0, clock[-1], 2 * LEVELS.size)
    corners[1:-1:2] += 0.35 * corners[1]
    corners[2:-1:2] -= 0.35 * corners[1]
    speed = np.interp(clock, corners, np.repeat(LEVELS, 2)) + 0.02 * random.standard_normal(rows)
    level = 15.0 - 1e-5 * speed**2
    columns = {"Time (s)": clock.round(3), "Speed (rpm)": speed.round(3)}
    for i in range(SENSORS):
        columns[f"Gap {i + 1} {45 * (i % 8)}\u00b0 (mm)"] = (level + 0.05 * random.standard_normal(rows)).round(4)
    pl.DataFrame(columns).write_csv(path)


def write_turns(path: Path) -> None:
    """Write the turns, one reading in each row."""
    import polars as pl

    random = np.random.default_rng(2)
    speed = np.linspace(20.0, 180.0, TURNS)
    start = np.cumsum(60.0 / speed)
    turn, sensor, pole = (index.ravel() for index in np.indices((TURNS, AT, POLES), dtype=np.int32))
    gap = 15.0 - 1e-5 * speed[turn] ** 2 + 0.2 * np.cos(2.0 * np.pi * pole / POLES) + 0.1 * sensor
    names = np.array([f"G{i + 1}" for i in range(AT)])
    pl.DataFrame(
        {
            "time [s]": start[turn].round(4),
            "speed [rpm]": speed[turn].round(3),
            "gap [mm]": (gap + 0.01 * random.standard_normal(gap.size)).round(4),
            "sensor": names[sensor],
            "pole": pole + 1,
            "turn": turn + 1,
        }
    ).write_csv(path)


def measure(what: str, path: Path) -> tuple[float, float]:
    """Seconds and peak megabytes of one process."""
    done = subprocess.run([sys.executable, "-c", _MEASURE, what, str(path)], check=True, capture_output=True, text=True)
    seconds, megabytes = done.stdout.split()
    return float(seconds), float(megabytes)


def main() -> int:
    """Print times, ratios and peak memory; 1 when a bound is broken."""
    with tempfile.TemporaryDirectory() as folder:
        wide, turn = Path(folder) / "wide.csv", Path(folder) / "turns.csv"
        # in a process of its own: a child starts with the peak memory of its parent on the books
        subprocess.run([sys.executable, "-m", "tests.benchmarks.wide_speed", str(wide), str(turn)], check=True)
        runs = {what: [] for what in ("polars", "read", "points")}
        for _ in range(REPEATS):
            for what, found in runs.items():
                found.append(measure(what, wide))
        best = {what: min(seconds for seconds, _ in found) for what, found in runs.items()}
        memory = {what: max(size for _, size in found) for what, found in runs.items()}
        turned, size = measure("turns", turn)
    for what in ("read", "points"):
        print(
            f"{what}: {best[what]:.2f} s, {best[what] / best['polars']:.2f} times a bare read of {best['polars']:.2f} "
            f"s, {memory[what]:.0f} MB"
        )
    print(f"ratio of reading <= {LARGEST_RATIO}, memory <= {LARGEST_MEMORY:.0f} MB")
    print(f"turns of {POLES} poles, {AT} sensors, {TURNS} turns: {turned:.2f} s (<= {LONGEST:.0f}), {size:.0f} MB")
    return int(
        best["read"] / best["polars"] > LARGEST_RATIO or max(memory.values()) > LARGEST_MEMORY or turned > LONGEST
    )


if __name__ == "__main__":
    if sys.argv[1:]:
        write_wide(Path(sys.argv[1]))
        write_turns(Path(sys.argv[2]))
        sys.exit(0)
    sys.exit(main())
