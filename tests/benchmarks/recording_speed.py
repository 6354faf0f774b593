"""Time and memory from five million rows of CSV to speed points and to a verdict, against reading that file alone.

Run it by itself: ``python tests/benchmarks/recording_speed.py``. The recording is invented: 16 sensors in two planes,
44 poles, seven holds going up and six coming down with ramps between, one reading in a hundred an outlier. Each
measurement is a process of its own; what counts is the ratio of the best times and the peak memory, both in one run.
The verdict, with every interval of the fitted rotor, is timed as well, its imports included.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

SENSORS, POLES, ROWS = 16, 44, 5_000_000
LEVELS = np.array([20.0, 60.0, 100.0, 120.0, 140.0, 160.0, 180.0, 160.0, 140.0, 120.0, 100.0, 60.0, 20.0])
REPEATS = 5
LARGEST_RATIO, LARGEST_MEMORY = 3.0, 500.0
LONGEST_TO_VERDICT = 10.0
"""s, on a quiet machine with two processors."""

_MEASURE = """
import resource, sys, time
import polars, numpy
from rimmodel.evidence.recording.read import read_recording
from rimmodel.evidence.reduction.speed_points import speed_points
from rimmodel.units import conversion
conversion("mm", "length")
start = time.perf_counter()
if sys.argv[1] == "read":
    polars.read_csv(sys.argv[2])
elif sys.argv[1] == "verdict":
    import rimmodel
    from rimmodel.evidence.measured.measure import measure
    case = rimmodel.example_case()
    measure(case.rotor, case.conditions["cold"], read_recording(sys.argv[2]))
else:
    points = speed_points(read_recording(sys.argv[2]))
    assert len(points.gap) == 13 and points.steady.all(), points
print(time.perf_counter() - start, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0)
"""


def write_recording(path: Path) -> None:
    """Write the invented recording turn by turn and say how many rows it has."""
    import polars as pl

    random = np.random.default_rng(1)
    turns = ROWS // (SENSORS * POLES)
    clock = np.arange(turns) * 0.5
    corners = np.linspace(0.0, clock[-1], 2 * LEVELS.size)
    corners[1:-1:2] += 0.35 * corners[1]
    corners[2:-1:2] -= 0.35 * corners[1]
    speed = np.interp(clock, corners, np.repeat(LEVELS, 2)) + 0.02 * random.standard_normal(turns)
    x = speed**2
    level = 15.0 - 1e-5 * x - 3e-5 * np.maximum(x - 150.0**2, 0.0)
    sensor, pole = np.arange(SENSORS), np.arange(POLES)
    fixed = 0.3 * np.cos(2 * np.pi * sensor / 8)[:, None] + 0.2 * np.cos(2 * np.pi * pole / POLES)
    gap = level[:, None, None] + fixed + 0.05 * random.standard_normal((turns, SENSORS, POLES))
    gap[random.random(gap.shape) < 0.01] -= 3.0
    turn, s, p = (index.ravel() for index in np.indices(gap.shape, dtype=np.int32))
    names = np.array([f"G{i + 1}" for i in sensor])
    pl.DataFrame(
        {
            "time [s]": clock[turn],
            "speed [rpm]": speed.round(3)[turn],
            "gap [mm]": gap.ravel().round(4),
            "sensor": names[s],
            "angle [deg]": (45.0 * (sensor % 8))[s],
            "plane": np.array(["upper", "lower"])[s // 8],
            "pole": p + 1,
        }
    ).write_csv(path)
    print(f"{turn.size:,} rows", end=", ", flush=True)


def measure(what: str, path: Path) -> tuple[float, float]:
    """Seconds and peak megabytes of one process."""
    done = subprocess.run([sys.executable, "-c", _MEASURE, what, str(path)], check=True, capture_output=True, text=True)
    seconds, megabytes = done.stdout.split()
    return float(seconds), float(megabytes)


def main() -> int:
    """Print both times, their ratio and the peak memory; 1 when a bound is broken."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "recording.csv"
        # in a process of its own: a child starts with the peak memory of its parent on the books
        subprocess.run([sys.executable, __file__, str(path)], check=True)
        print(f"{path.stat().st_size / 1e6:.0f} MB")
        runs = [(measure("read", path), measure("reduce", path)) for _ in range(REPEATS)]
        verdict = min(measure("verdict", path) for _ in range(2))
    read = min(seconds for (seconds, _), _ in runs)
    reduce = min(seconds for _, (seconds, _) in runs)
    memory = max(megabytes for _, (_, megabytes) in runs)
    print(f"reading alone {read:.2f} s, to speed points {reduce:.2f} s: ratio {reduce / read:.2f} (<= {LARGEST_RATIO})")
    print(f"peak memory {memory:.0f} MB (<= {LARGEST_MEMORY:.0f}), reading alone {max(m for (_, m), _ in runs):.0f} MB")
    print(f"to a verdict {verdict[0]:.2f} s (<= {LONGEST_TO_VERDICT:g}), peak memory {verdict[1]:.0f} MB")
    return int(reduce / read > LARGEST_RATIO or memory > LARGEST_MEMORY or verdict[0] > LONGEST_TO_VERDICT)


if __name__ == "__main__":
    sys.exit(write_recording(Path(sys.argv[1])) if sys.argv[1:] else main())
