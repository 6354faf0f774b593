"""How well the intervals hold when noise is not white: ``python -m tests.benchmarks.noise_calibration``.

Every run is invented, and its truth is computed from the mechanics or from two straight lines alone; nothing of the
fits enters it. Families differ by one thing each: how many points, up or up and down again, how readings hang together
from point to point, a level that drifts, scatter that grows with speed squared, a knee rounded over part of the range,
stray points, a rim that never lifts off in the range. Noise is 0.01 to 0.1 mm, even in its logarithm; half of the runs
have even speeds. ``--rotor`` fits the modelled rotor too and counts float speed and interference.

Coverage counts an open side as holding; "resolved" counts closed intervals alone.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rimmodel.behaviour import float_speed, interference_for_float_speed, sweep
from rimmodel.evidence.backfit.expected import expected_slopes, slope_uncertainty
from rimmodel.evidence.backfit.fit import back_fit
from rimmodel.evidence.backfit.fitter import Freedom
from rimmodel.evidence.backfit.warming import level_drift
from rimmodel.evidence.knee.fit import fit_knee
from rimmodel.rotor import Condition
from rimmodel.units import MILLIMETRE
from tests.benchmarks.backfit_calibration import as_built, machine, points_of

Floats = NDArray[np.float64]
HIGHEST = 2.1
"""Largest (n/rated)^2."""

POSSIBLE_DRIFT = 0.45 * MILLIMETRE
"""Standard uncertainty of the change of level over a run: what an hour does to a machine of 4 m diameter
(`rimmodel.evidence.backfit.warming`)."""


@dataclass(frozen=True)
class Family:
    """Runs of one kind; `rounded` is the width of the knee over the range, `drift` in mm over the run.

    Its `course` is linear, settling (time constant 0.1 to 1 of the run), heated (by the cube of speed against a loss
    with a time constant of 0.2 to 3), the cube of time, or a step in the middle three fifths of the run, as when
    segments slip.
    """

    name: str
    points: int = 30
    down: bool = False
    correlation: float = 0.0
    rounded: float = 0.0
    drift: float = 0.0
    course: str = "linear"
    growth: float = 1.0
    outliers: float = 0.0
    knee: bool = True


FAMILIES = (
    *(Family(f"white, {count} points", count) for count in (5, 7, 12, 30, 100)),
    Family("white, up and down", 30, down=True),
    *(
        Family(f"correlation {share}, {count} points", count, correlation=share)
        for share in (0.3, 0.6, 0.8)
        for count in (12, 30, 100)
    ),
    *(Family(f"correlation {share}, 16 points", 16, correlation=share) for share in (0.6, 0.8)),
    *(Family(f"correlation 0.9, {count} points", count, correlation=0.9) for count in (8, 12, 16, 20)),
    Family("correlation 0.6, up and down", 40, down=True, correlation=0.6),
    Family("correlation 0.8, up and down", 40, down=True, correlation=0.8),
    *(
        Family(f"rounded {width}, {count} points", count, rounded=width)
        for width in (0.1, 0.2, 0.4)
        for count in (30, 100)
    ),
    Family("rounded 0.2, correlation 0.6", 60, rounded=0.2, correlation=0.6),
    *(Family(f"drift {size} mm, linear", 30, drift=size) for size in (0.1, 0.3)),
    *(Family(f"drift {size} mm, settling", 60, drift=size, course="settling") for size in (0.1, 0.3)),
    Family("drift 0.3 mm, settling, 30 points", 30, drift=0.3, course="settling"),
    Family("drift 0.3 mm, heated", 30, drift=0.3, course="heated"),
    Family("step 0.1 mm", 30, drift=0.1, course="step"),
    Family("drift 0.3 mm, settling, up and down", 40, down=True, drift=0.3, course="settling"),
    *(Family(f"noise grows {times:g} times", 40, growth=times) for times in (3.0, 6.0)),
    Family("1 % outliers", 60, outliers=0.01),
    Family("no knee, white", 30, knee=False),
    Family("no knee, correlation 0.8", 30, knee=False, correlation=0.8),
    Family("no knee, drift 0.3 mm", 40, knee=False, drift=0.3),
    Family("no knee, drift 0.3 mm, settling", 40, knee=False, drift=0.3, course="settling"),
    Family("no knee, drift 0.3 mm, heated", 40, knee=False, drift=0.3, course="heated"),
    Family("no knee, drift 0.3 mm, cube of time", 30, knee=False, drift=0.3, course="cube of time"),
    Family("no knee, step 0.1 mm", 40, knee=False, drift=0.1, course="step"),
    Family("no knee, drift 0.3 mm, settling, up and down", 40, True, knee=False, drift=0.3, course="settling"),
)

CROSSED = tuple(
    Family(
        f"correlation {share}, rounded {width}, {count} {'up and down' if down else 'up'}", count, down, share, width
    )
    for share in (0.0, 0.3, 0.6, 0.8)
    for width in (0.0, 0.1, 0.2, 0.4)
    for count in (12, 30, 100)
    for down in (False, True)
)


@dataclass(frozen=True)
class Run:
    """Speeds over the highest, in the order of time, what spoils each gap (m), and the truth in the same terms."""

    share: Floats
    up: NDArray[np.bool_]
    spoilt: Floats
    knee: float
    random: np.random.Generator


def invented(family: Family, number: int, seed: int) -> Run:
    """Run `number` of a family, from nothing but the family, that number and the seed.

    Families share no random numbers: else one seed is one draw for all, and their mean says no more than one of them.
    """
    random = np.random.default_rng([seed, number, *family.name.encode()])
    low, count = random.uniform(0.05, 0.15), family.points
    rising = (count + 1) // 2 if family.down else count
    way_up = np.linspace(low, 1.0, rising)
    if random.random() < 0.5:
        way_up = np.sort(np.append(random.uniform(low, 1.0, rising - 1), 1.0))
    share = np.concatenate([way_up, way_up[::-1][: count - rising]])
    size = float(np.exp(random.uniform(np.log(0.01), np.log(0.1))))
    noise = random.standard_normal(count)
    for place in range(1, count):
        noise[place] = family.correlation * noise[place - 1] + np.sqrt(1.0 - family.correlation**2) * noise[place]
    noise *= size * (1.0 + (family.growth - 1.0) * share**2)
    stray = random.random(count) < family.outliers
    noise += stray * size * random.uniform(5.0, 10.0, count) * random.choice([-1.0, 1.0], count)
    noise += family.drift * random.choice([-1.0, 1.0]) * _course(family.course, share, random)
    knee = random.uniform(0.4, 0.95)
    if not family.knee:
        knee = np.inf if random.random() < 0.5 else 0.0
    return Run(share, np.arange(count) < rising, noise * MILLIMETRE, float(knee), random)


def _course(kind: str, share: Floats, random: np.random.Generator) -> Floats:
    """How a drift goes from 0 to 1 in the course of a run."""
    moment = np.linspace(0.0, 1.0, len(share))
    settling, loss = random.uniform(0.1, 1.0), float(np.exp(random.uniform(np.log(0.2), np.log(3.0))))
    if kind == "settling":
        return (1.0 - np.exp(-moment / settling)) / (1.0 - np.exp(-1.0 / settling))
    if kind == "linear":
        return moment
    if kind == "cube of time":
        return moment**3
    if kind == "step":
        return (moment > random.uniform(0.2, 0.8)).astype(float)
    warm = np.zeros(len(share))
    for place in range(1, len(share)):
        left = np.exp(-(moment[place] - moment[place - 1]) / loss)
        warm[place] = left * warm[place - 1] + (1.0 - left) * share[place] ** 3
    return warm / warm.max()


def bent(x: Floats, place: float, width: float) -> Floats:
    """max(x - place, 0) averaged over knees spread evenly over a width about `place`."""
    if width <= 0.0:
        return np.maximum(x - place, 0.0)
    knees = place + width * ((np.arange(400) + 0.5) / 400 - 0.5)
    mean: Floats = np.maximum(x[:, None] - knees, 0.0).mean(axis=1)
    return mean


@dataclass(frozen=True)
class Outcome:
    """Whether intervals held the truth, whether they were closed, how long they were over the range."""

    held: bool
    closed: bool
    length: float
    interference: bool | None
    """None where lines alone are fitted: they know no interference."""
    seconds: float
    white: float
    """Length of the interval of a fit that takes the noise to be white; NaN where none was made."""


def lines(family: Family, run: Run) -> tuple[Floats, Floats, float]:
    """Return (n/rated)^2, gaps (m) of two straight lines with what spoils them, and the true knee."""
    after = -run.random.uniform(1.2, 3.0) * MILLIMETRE
    before = after * run.random.uniform(0.3, 0.8)
    x, knee = HIGHEST * run.share**2, HIGHEST * run.knee**2
    place = min(knee, 99.0)
    gap = before * (x - place) + (after - before) * bent(x, place, family.rounded * HIGHEST) + run.spoilt
    return x, gap, knee


def by_lines(family: Family, runs: int, seed: int, first: int = 0) -> Iterator[Outcome]:
    """Two straight lines, fitted by the knee alone, from run number `first` on."""
    for number in range(first, first + runs):
        x, gap, knee = lines(family, invented(family, number, seed))
        began = time.process_time()
        low, high = fit_knee(x, gap, drift=POSSIBLE_DRIFT, time=np.arange(len(x))).interval
        took = time.process_time() - began
        closed = low > 0.0 and np.isfinite(high)
        white = _length(fit_knee(x, gap, independent=True).interval)
        yield Outcome(low <= knee <= high, bool(closed), _length((low, high)), None, took, white)


def _length(interval: tuple[float, float]) -> float:
    """Length of an interval of the knee over the range; an open side reaches to the end of it."""
    return float(min(interval[1], HIGHEST) - max(interval[0], 0.0)) / HIGHEST


def by_rotor(family: Family, runs: int, seed: int) -> Iterator[Outcome]:
    """A rotor that differs from its drawing, fitted by knee and back-fit."""
    for number in range(runs):
        run = invented(family, number, seed)
        paper = machine(run.random)
        built, cold = as_built(paper, run.random), Condition()
        highest = float(paper.speeds.rated) * 3.62 / float(paper.rim.inner_radius) * run.random.uniform(1.05, 1.7)
        lift = float(np.clip(run.knee, 0.05, run.random.uniform(1.1, 1.5))) * highest
        effective = float(interference_for_float_speed(built, cold, lift))
        built = built.with_interference(effective)
        speed = run.share * highest
        gap = _rounded_gap(built, cold, speed, family.rounded * highest**2, lift) + run.spoilt
        points = points_of(speed, gap)
        points = replace(points, direction=np.where(run.up, "up", "down"))
        began = time.process_time()
        unsure = slope_uncertainty(paper, cold, Freedom())
        knee = fit_knee(
            speed**2,
            gap,
            expected_slopes=expected_slopes(paper, cold),
            expected_slope_uncertainty=unsure,
            drift=level_drift(paper, cold, points.time, highest),
        )
        fit = back_fit(paper, cold, points, knee)
        took = time.process_time() - began
        low, high = fit.float_speed_interval[""]
        least, most = fit.interference_interval
        closed = low > 0.0 and np.isfinite(high)
        length = float(min(high, highest) ** 2 - low**2) / highest**2
        truth = float(float_speed(built, cold).speed)
        yield Outcome(low <= truth <= high, bool(closed), length, least <= effective <= most, took, np.nan)


def _rounded_gap(built: object, cold: Condition, speed: Floats, width: float, lift: float) -> Floats:
    """Mean gap with keys that lift off evenly over a width in speed squared."""
    gap: Floats = sweep(built, cold, speed).air_gap  # type: ignore[arg-type]
    if width <= 0.0:
        return gap
    beyond = np.array([1.2, 1.4]) * lift
    within = np.array([0.3, 0.6]) * lift
    steep, shallow = (
        float(np.diff(sweep(built, cold, some).air_gap)[0] / np.diff(some**2)[0])  # type: ignore[arg-type]
        for some in (beyond, within)
    )
    return gap + (steep - shallow) * (bent(speed**2, lift**2, width) - bent(speed**2, lift**2, 0.0))


HEADER = (
    f"{'':<46}{'runs':>5}{'held':>7}{'closed':>8}{'held if':>9}{'interf.':>9}{'if':>7}{'median':>9}{'over':>7}"
    f"{'s':>7}\n"
    f"{'':<66}{'closed':>9}{'':>9}{'closed':>7}{'length':>9}{'white':>7}"
)


def line(family: Family, rows: Sequence[Outcome]) -> str:
    """One line of the table; the sampling error of 95 % is 1.0 for 500 runs, 2.2 for 100."""
    held, closed = (np.array([getattr(row, name) for row in rows]) for name in ("held", "closed"))
    inside = f"{held[closed].mean():9.1%}" if closed.any() else f"{'-':>9}"
    known = [row for row in rows if row.interference is not None]
    of_interference = f"{np.mean([row.interference for row in known]):9.1%}" if known else f"{'-':>9}"
    sure = [row.interference for row in known if row.closed]
    within = f"{np.mean(sure):7.1%}" if sure else f"{'-':>7}"
    length, white, seconds = (
        float(np.median([getattr(row, name) for row in rows])) for name in ("length", "white", "seconds")
    )
    over = f"{length / white:7.2f}" if np.isfinite(white) else f"{'-':>7}"
    return (
        f"{family.name:<46}{len(rows):5d}{held.mean():7.1%}{closed.mean():8.1%}{inside}{of_interference}"
        f"{within}{length:9.3f}{over}{seconds:7.2f}"
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=500)
    parser.add_argument("--seed", type=int, default=4101)
    parser.add_argument("--rotor", action="store_true", help="fit the modelled rotor as well")
    parser.add_argument("--only", default="", help="families whose name holds this")
    parser.add_argument("--crossed", action="store_true", help="correlation, rounding and points, all crossed")
    asked = parser.parse_args()
    print(HEADER)
    for family in CROSSED if asked.crossed else FAMILIES:
        if asked.only in family.name:
            runs = by_rotor if asked.rotor else by_lines
            print(line(family, list(runs(family, asked.runs, asked.seed))), flush=True)


if __name__ == "__main__":
    main()
