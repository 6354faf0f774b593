"""How well calibrated the knee fit is, on virtual run-ups: ``python tests/benchmarks/knee_calibration.py``.

Every run is invented. x is (n/rated)^2 up to 2.1 (the knee fit is free of scale), y a mean air gap in mm that
falls by 1.2 to 3 mm per unit of x once the rim is free and by 0.3 to 0.8 of that while it is seated; the knee
lies at 40 to 95 % of the highest speed. Speeds are even, uneven, even in x, or a few dwells; the noise is
0.01 to 0.1 mm. The generator and its seeds are all here: the same call gives the same runs on any machine.

An interval without a bound counts as covering on that side; its length is taken to the end of the tested
range.
"""

from __future__ import annotations

import argparse
import csv
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from rimmodel.evidence.knee.fit import Knee, fit_knee

HIGHEST = 2.1
POSSIBLE_DRIFT = 0.45
"""mm; what an hour does to a machine of 4 m diameter (`rimmodel.evidence.backfit.warming`)."""
SEED = 20240617

SEGMENTED = """
suppressMessages(library(segmented))
set.seed(1)
table <- read.csv("runs.csv")
interval <- function(index) tryCatch({
  fit <- segmented(lm(y ~ x, data = table[table$run == index, ]), seg.Z = ~x, npsi = 1)
  as.numeric(confint(fit, "x", level = 0.95, method = "gradient")[1, 1:3])
}, error = function(e) rep(NA_real_, 3))
found <- t(vapply(unique(table$run), function(index) rep_len(interval(index), 3), numeric(3)))
write.table(found, "intervals.csv", sep = ",", row.names = FALSE, col.names = FALSE)
"""


@dataclass(frozen=True)
class Family:
    """What kind of runs to invent."""

    points: tuple[int, int] = (20, 100)
    outliers: float = 0.0
    knee: bool = True
    take_up: bool = False
    rounded: float = 0.0
    """Width of the knee as a fraction of the range."""
    lowest_knee: float = 0.40


@dataclass(frozen=True)
class Run:
    """One virtual run-up and the truth about it; without a knee, ``knee`` is inf (seated) or 0 (floating)."""

    x: NDArray[np.float64]
    y: NDArray[np.float64]
    noise: float
    knee: float
    slopes: tuple[float, float]
    expected: tuple[float, float]
    """Slopes as a model within 10 % would give them."""


def speeds(random: np.random.Generator, count: int) -> NDArray[np.float64]:
    """Return relative speeds (0 to 1 at the highest): even, uneven, even in their square, or a few dwells."""
    low = random.uniform(0.05, 0.15)
    kind = random.integers(4)
    if kind == 0:
        return np.linspace(low, 1.0, count)
    if kind == 1:
        return np.sort(np.append(random.uniform(low, 1.0, count - 1), 1.0))
    if kind == 2:
        return np.sqrt(np.linspace(low**2, 1.0, count))
    return np.linspace(low, 1.0, max(6, count // 5))[np.arange(count) * max(6, count // 5) // count]


def virtual_runs(family: Family, count: int, seed: int = SEED) -> Iterator[Run]:
    """Yield ``count`` runs; run i depends on the family, the seed and i alone."""
    for index in range(count):
        random = np.random.default_rng([seed, index])
        x = HIGHEST * speeds(random, int(random.integers(family.points[0], family.points[1] + 1))) ** 2
        after = -random.uniform(1.2, 3.0)
        before = after * random.uniform(0.3, 0.8)
        noise = random.uniform(0.01, 0.1)
        knee = HIGHEST * random.uniform(family.lowest_knee, 0.95) ** 2
        if not family.knee:
            knee = np.inf if random.random() < 0.5 else 0.0
        place = min(knee, 2.0 * HIGHEST)
        y = 20.0 + before * np.minimum(x - place, 0.0) + after * np.maximum(x - place, 0.0)
        if family.rounded:
            half = 0.5 * family.rounded * HIGHEST
            near = np.abs(x - place) < half
            y += (after - before) * near * (half - np.abs(x - place)) ** 2 / (4.0 * half)
        if family.take_up:
            end = HIGHEST * random.uniform(0.2, 0.4) ** 2
            y += random.uniform(0.1, 0.4) * np.maximum(1.0 - x / end, 0.0)
        y = y + noise * random.standard_normal(len(x))
        stray = random.random(len(x)) < family.outliers
        y = y + stray * noise * random.uniform(5.0, 10.0, len(x)) * random.choice([-1.0, 1.0], len(x))
        expected = (before * (1.0 + 0.1 * random.standard_normal()), after * (1.0 + 0.1 * random.standard_normal()))
        yield Run(x, y, noise, float(knee), (before, after), expected)


def cramer_rao(run: Run) -> float:
    """Return the least standard deviation that an unbiased estimate of the knee can have."""
    before, after = run.slopes
    bent = np.where(run.x > run.knee, after, before)
    below, above = np.minimum(run.x - run.knee, 0.0), np.maximum(run.x - run.knee, 0.0)
    jacobian = np.stack([-bent, np.ones_like(run.x), below, above], axis=1)
    return float(run.noise * np.sqrt(np.linalg.pinv(jacobian.T @ jacobian)[0, 0]))


@dataclass(frozen=True)
class Result:
    """Arrays over the runs of one family."""

    covered: NDArray[np.bool_]
    unbounded: NDArray[np.bool_]
    length: NDArray[np.float64]
    error: NDArray[np.float64]
    """Error of the knee over its Cramér-Rao standard deviation."""
    verdict: NDArray[np.str_]
    width: NDArray[np.float64]
    seconds: NDArray[np.float64]

    @property
    def resolved(self) -> NDArray[np.bool_]:
        """True where a knee is claimed."""
        return self.verdict == "resolved"

    @property
    def efficiency(self) -> float:
        """1.4826 x median absolute error over the Cramér-Rao standard deviation, of resolved runs."""
        return float(1.4826 * np.median(np.abs(self.error[self.resolved])))


def clipped_length(low: float, high: float, x: NDArray[np.float64]) -> float:
    """Return the length of an interval inside the tested range."""
    return float(max(min(high, x.max()) - max(low, x.min()), 0.0))


def measure(runs: Iterator[Run], noise_given: bool = False, slopes_given: bool = False) -> Result:
    """Fit every run and compare with the truth."""
    rows = []
    for run in runs:
        start = time.perf_counter()
        knee: Knee = fit_knee(
            run.x,
            run.y,
            run.noise if noise_given else None,
            expected_slopes=run.expected if slopes_given and run.expected[1] < run.expected[0] else None,
            drift=POSSIBLE_DRIFT,
        )
        seconds = time.perf_counter() - start
        low, high = knee.interval
        scale = cramer_rao(run) if 0.0 < run.knee < np.inf else np.nan
        rows.append(
            (low <= run.knee <= high, low == 0.0 or high == np.inf, clipped_length(low, high, run.x),
             (knee.position - run.knee) / scale if scale > 0.0 else np.nan, knee.verdict, knee.width, seconds)
        )  # fmt: skip
    return Result(*(np.array(column) for column in zip(*rows, strict=True)))


def describe(name: str, result: Result) -> str:
    """Return one line of the table."""
    bounded = ~result.unbounded
    inside = f"{result.covered[bounded].mean():6.1%}" if bounded.any() else "     -"
    efficiency = f"{result.efficiency:6.2f}" if np.isfinite(result.error[result.resolved]).any() else "     -"
    return (
        f"{name:<58}{len(result.covered):6d}{result.covered.mean():8.1%} {inside:>8}{result.unbounded.mean():9.1%}"
        f"{np.median(result.length):9.3f}{result.resolved.mean():9.1%}{efficiency:>8}"
        f"{1e3 * np.median(result.seconds):8.0f}"
    )


HEADER = (
    f"{'':<58}{'runs':>6}{'covers':>8} {'if both':>8}{'one side':>9}{'median':>9}{'says':>9}{'error':>8}{'ms':>8}\n"
    f"{'':<58}{'':>6}{'':>8} {'bounded':>8}{'open':>9}{'length':>9}{'resolved':>9}{'/CR sd':>8}{'a call':>8}"
)


def segmented_intervals(runs: list[Run]) -> NDArray[np.float64] | None:
    """Return the gradient intervals (runs, 2) of R's package segmented, or None where R or the package is
    absent."""
    if shutil.which("Rscript") is None:
        return None
    with tempfile.TemporaryDirectory() as folder:
        with (Path(folder) / "runs.csv").open("w", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(["run", "x", "y"])
            for index, run in enumerate(runs):
                writer.writerows((index, repr(float(x)), repr(float(y))) for x, y in zip(run.x, run.y, strict=True))
        done = subprocess.run(["Rscript", "-e", SEGMENTED], cwd=folder, capture_output=True, check=False)
        if done.returncode:
            return None
        return np.genfromtxt(Path(folder) / "intervals.csv", delimiter=",", missing_values="NA")[:, 1:3]


def against_segmented(count: int) -> str:
    """Return the comparison with segmented's gradient interval on the same runs, noise unknown to both."""
    runs = list(virtual_runs(Family(), count))
    theirs = segmented_intervals(runs)
    if theirs is None:
        return "segmented: skipped (needs Rscript and the R package segmented; Debian: r-base-core r-cran-segmented)"
    ours = measure(iter(runs))
    given = np.isfinite(theirs).all(axis=1)
    knees = np.array([run.knee for run in runs])
    low, high = np.where(given, theirs[:, 0], -np.inf), np.where(given, theirs[:, 1], np.inf)
    lengths = np.array([clipped_length(*bounds, run.x) for *bounds, run in zip(low, high, runs, strict=True)])
    covered = (low <= knees) & (knees <= high)
    return (
        f"On {count} runs, the gradient interval of segmented covers {covered.mean():.1%}, median length "
        f"{np.median(lengths):.3f} (it returns {given.mean():.1%}); ours covers {ours.covered.mean():.1%}, "
        f"{np.median(ours.length):.3f}. Where it returns one: {np.median(lengths[given]):.3f} against "
        f"{np.median(ours.length[given]):.3f}"
    )


TABLE = (
    ("plain broken line, noise unknown", Family(), 2000, {}),
    ("plain broken line, noise given", Family(), 2000, {"noise_given": True}),
    ("1 % outliers, 15 to 120 points, noise unknown", Family((15, 120), 0.01), 1000, {}),
    ("1 % outliers, 15 to 120 points, noise given", Family((15, 120), 0.01), 1000, {"noise_given": True}),
    ("no knee in range, noise unknown", Family(knee=False), 2000, {}),
    ("no knee in range, noise given", Family(knee=False), 2000, {"noise_given": True}),
    ("no knee in range, slopes expected within 10 %", Family(knee=False), 1000, {"slopes_given": True}),
    ("knee in range, slopes expected within 10 %", Family(), 1000, {"slopes_given": True}),
    ("no knee in range, 1 % outliers, 15 to 120 points", Family((15, 120), 0.01, False), 1000, {}),
    ("no knee in range, seat take-up", Family(knee=False, take_up=True), 1000, {}),
    ("knee and seat take-up", Family(take_up=True, lowest_knee=0.5), 1000, {}),
    ("knee rounded over 15 % of the range", Family(rounded=0.15, lowest_knee=0.5), 1000, {}),
)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--share", type=float, default=1.0, help="fraction of the runs, for a quick look")
    share = parser.parse_args().share
    print(HEADER)
    for name, family, count, options in TABLE:
        result = measure(virtual_runs(family, max(1, int(share * count))), **options)
        print(describe(name, result), flush=True)
        if "slopes_given" in options:
            names, counts = np.unique(result.verdict, return_counts=True)
            shares = [f"{name} {count / counts.sum():.1%}" for name, count in zip(names, counts, strict=True)]
            print("    " + ", ".join(shares))
    print(against_segmented(max(1, int(share * 600))))


if __name__ == "__main__":
    main()
