"""Calibration of reading printed charts: coverage of the float speed from scanned charts whose truth is known.

    python -m tests.benchmarks.chart_calibration [--charts 500] [--processes 1]

Every chart has a machine of its own, that differs from the one on paper in both stiffnesses. Its gap against speed is
drawn beside a second curve over a grid; the page is turned by 3 degrees and seen with 2 % perspective, in either
direction, and kept as JPEG. Marks are clicked with an error in each direction. The curve is read, fitted, and the
interval of the lift-off held against the truth: as it is, and without the errors of the axes. Invented throughout.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from io import BytesIO
from multiprocessing import Pool
from pathlib import Path

import numpy as np
import polars as pl
from numpy.typing import NDArray

from rimmodel.behaviour import float_speed, interference_for_float_speed, sweep
from rimmodel.evidence.chart.axes import Mark
from rimmodel.evidence.chart.description import Description
from rimmodel.evidence.chart.read_off import read_chart
from rimmodel.evidence.measured.measure import measure_points
from rimmodel.evidence.recording.read import read_recording
from rimmodel.evidence.reduction.speed_points import speed_points
from rimmodel.rotor import Condition, Rotor
from rimmodel.units import MILLIMETRE, RPM, in_mm, in_rpm
from rimmodel.verdict.output.chart import chart_columns
from tests.benchmarks.backfit_calibration import as_built, machine

Floats = NDArray[np.float64]
TURN, PERSPECTIVE = np.radians(3.0), 0.02
CLICK = 1.0
"""Pixels: standard deviation of a click in each direction."""

CLICKS = 4
"""Marks on each axis."""

COLOURS = ("#d62728", "#1f77b4", "#2ca02c", "#000000", "#8c564b")
COLD = Condition()


@dataclass(frozen=True)
class Picture:
    """A scanned chart: its file, marks as clicked, colour of the curve, paper and truth."""

    jpeg: bytes
    marks: tuple[Mark, ...]
    colour: str
    paper: Rotor
    lift_off: float
    """rad/s"""
    range: tuple[float, float]
    """Of the curve, rad/s."""


@dataclass(frozen=True)
class Outcome:
    """Whether the interval held the truth with and without the axes; error and both widths over the truth."""

    resolved: bool
    held: bool
    held_without: bool
    error: float
    width: float
    width_without: float
    seconds: float


def picture(seed: int, number: int) -> Picture:
    """Chart `number`, from nothing but that number and the seed."""
    rng = np.random.default_rng([seed, number])
    paper = machine(rng)
    built = as_built(paper, rng)
    highest = float(paper.speeds.rated) * 3.62 / float(paper.rim.inner_radius) * rng.uniform(1.1, 1.6)
    lift = rng.uniform(0.45, 0.85) * highest
    built = built.with_interference(float(interference_for_float_speed(built, COLD, lift)))
    other = built.with_interference(float(interference_for_float_speed(built, COLD, rng.uniform(0.4, 0.9) * highest)))
    speed = np.linspace(0.05, 1.0, 500) * highest
    level = 0.3 * MILLIMETRE * rng.normal()
    curves = [in_mm(sweep(one, COLD, speed).air_gap + level) for one in (built, other)]
    apart = rng.uniform(-0.3, 0.3)
    curves[1] = curves[1] + apart + np.sign(apart) * 0.06  # crossing, but never one on the other: that hides it
    colours = [str(value) for value in rng.choice(COLOURS[:3], 2, replace=False)]
    jpeg, marks = _scan(in_rpm(speed), curves, colours, rng)
    return Picture(jpeg, marks, colours[0], paper, float(float_speed(built, COLD).speed), (speed[0], speed[-1]))


def _scan(
    speed: Floats, curves: Sequence[Floats], colours: Sequence[str], rng: np.random.Generator
) -> tuple[bytes, tuple[Mark, ...]]:
    """JPEG of the drawn chart, turned and seen at an angle, and the marks as somebody clicks them."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure
    from matplotlib.ticker import MaxNLocator
    from PIL import Image

    figure = Figure(figsize=(8.0, 5.0), dpi=float(rng.uniform(80, 120)))
    canvas, axes = FigureCanvasAgg(figure), figure.add_subplot()
    for curve, colour in zip(curves, colours, strict=True):
        axes.plot(speed, curve, color=colour, lw=rng.uniform(1.2, 2.2))
    axes.grid(True, color="0.75", lw=0.8)
    across = MaxNLocator(6).tick_values(0.0, speed[-1])
    up = MaxNLocator(6).tick_values(min(curve.min() for curve in curves), max(curve.max() for curve in curves))
    left, right, bottom, top = across[0], across[-1], up[0], up[-1]
    axes.set(xlabel="speed, rpm", ylabel="gap, mm", xlim=(left, right), ylim=(bottom, top), xticks=across, yticks=up)
    canvas.draw()
    colour = np.asarray(canvas.buffer_rgba())[..., :3]
    rows, columns = colour.shape[:2]
    middle = np.array([columns - 1.0, rows - 1.0]) / 2.0
    turn, towards = TURN * rng.choice([-1.0, 1.0]), rng.uniform(0.0, 2.0 * np.pi)
    centred, back = np.eye(3), np.eye(3)
    centred[:2, 2], back[:2, 2] = -middle, middle
    turned = np.array([[np.cos(turn), -np.sin(turn), 0.0], [np.sin(turn), np.cos(turn), 0.0], [0.0, 0.0, 1.0]])
    tilted = np.eye(3)
    tilted[2, :2] = PERSPECTIVE * np.array([np.cos(towards), np.sin(towards)]) / middle[0]
    whole = back @ tilted @ turned @ centred
    half = np.eye(3)
    half[:2, 2] = 0.5  # the imaging library counts pixels from their corner
    reverse = half @ np.linalg.inv(whole) @ np.linalg.inv(half)
    scanned = Image.fromarray(colour).transform(
        (columns, rows), Image.Transform.PERSPECTIVE, tuple((reverse / reverse[2, 2]).ravel()[:8]),
        Image.Resampling.BICUBIC, fillcolor=(255, 255, 255),
    )  # fmt: skip
    kept = BytesIO()
    scanned.save(kept, "JPEG", quality=int(rng.integers(60, 90)))

    def clicked(x: float, y: float) -> tuple[float, float]:
        place = axes.transData.transform((x, y))
        seen = whole @ np.array([place[0] - 0.5, rows - place[1] - 0.5, 1.0])
        column, row = seen[:2] / seen[2] + CLICK * rng.normal(size=2)
        return float(column), float(row)

    marks = [Mark(*clicked(x, bottom), x * RPM, None) for x in _some(across)]
    marks += [Mark(*clicked(left, y), None, y * MILLIMETRE) for y in _some(up)]
    return kept.getvalue(), tuple(marks)


def _some(ticks: Floats) -> Floats:
    """As many of the ticks as are clicked, from end to end."""
    return ticks[np.unique(np.linspace(0, len(ticks) - 1, CLICKS).round().astype(int))]


def run_one(seed: int, number: int) -> Outcome:
    """Read and fit one chart, with the errors of the axes and without."""
    given = picture(seed, number)
    began = time.process_time()
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "chart.jpg"
        file.write_bytes(given.jpeg)
        found = read_chart(file, Description("gap", given.marks, CLICK, given.colour, (-np.inf, np.inf), 40, (), ""))
    table = pl.DataFrame(chart_columns(found))
    points = speed_points(read_recording(table))
    whole = measure_points(given.paper, COLD, points)
    seconds = time.process_time() - began
    without = whole.fits[""].float_speed_interval[""]
    low, high = whole.float_speed_interval
    truth = given.lift_off
    return Outcome(
        whole.verdict == "resolved", low <= truth <= high, without[0] <= truth <= without[1],
        (whole.fits[""].float_speed[""] - truth) / truth, (high - low) / truth, (without[1] - without[0]) / truth,
        seconds,
    )  # fmt: skip


def outcomes(seed: int, charts: int, processes: int = 1) -> list[Outcome]:
    """All charts, in order, whatever the number of processes."""
    if processes == 1:
        return [run_one(seed, number) for number in range(charts)]
    with Pool(processes) as pool:
        return pool.map(partial(run_one, seed), range(charts), chunksize=5)


def table(found: Sequence[Outcome]) -> str:
    """Coverage; its sampling error is 1.0 for 500 charts."""
    held, without = (100 * np.mean([getattr(row, name) for row in found]) for name in ("held", "held_without"))
    widths = [100 * np.median([getattr(row, name) for row in found]) for name in ("width", "width_without")]
    error = np.array([row.error for row in found])
    resolved, seconds = 100 * np.mean([row.resolved for row in found]), np.median([row.seconds for row in found])
    return (
        f"{len(found)} charts, {resolved:.1f} % resolved, {seconds:.2f} s each (median)\n"
        f"interval of the lift-off covers the truth: {held:.1f} %, without the errors of the axes {without:.1f} %\n"
        f"width {widths[0]:.2f} %, without {widths[1]:.2f} %; "
        f"median size of the error {100 * np.median(np.abs(error)):.2f} %"
    )


def main() -> None:
    """Print the coverage."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--charts", type=int, default=500)
    parser.add_argument("--processes", type=int, default=min(2, os.cpu_count() or 1))
    parser.add_argument("--seed", type=int, default=8300)
    asked = parser.parse_args()
    print(table(outcomes(asked.seed, asked.charts, asked.processes)))


if __name__ == "__main__":
    main()
