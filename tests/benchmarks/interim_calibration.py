"""False findings of interim looks: simulated runs that are looked at after every reading, with a truth that is known.

    python -m tests.benchmarks.interim_calibration [--runs 2000] [--seed 8400] [--drifts 200] [--warmings 20]

Runs of one machine on paper and one plan of speeds go through together; several of both are drawn. Each built machine
has stiffnesses of its own and lifts off anywhere, or never within the run, or floats from the start; noise of each run
has a size of its own, and in part of them it is correlated or drifts. A run is wrong if its interval misses the
lift-off at any look. A rule that takes the interval of a single look at every look is counted beside it. Runs of hours
in which the level drifts, of rims that float throughout, lift off, or never do, are counted by themselves, and so are
run-ups of an hour in which bodies warm and thermometers, right or wrong, show it. Invented throughout.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rimmodel.evidence.backfit.fitter import PRIOR_SD
from rimmodel.evidence.backfit.gap_model import GAINS, PARAMETERS, gap_model
from rimmodel.evidence.interim.course import Course, Schedule, course, log_likelihoods
from rimmodel.evidence.interim.look import bounds, either
from rimmodel.rotor import Condition
from rimmodel.units import MILLIMETRE
from tests.benchmarks.backfit_calibration import machine

Floats = NDArray[np.float64]
COLD = Condition()
TOGETHER = 200
"""Runs of one machine on paper and one plan."""

QUICK, SLOW = 20.0, 240.0
"""Seconds from reading to reading: a run of minutes, in which the level hardly drifts, and one of hours."""

RIMS = {"floats": (0.05, 0.35), "lifts off": (0.55, 0.9), "never lifts off": (1.05, 1.6)}
"""Lift-off over the highest speed."""


@dataclass(frozen=True)
class Batch:
    """Runs that were taken at the same speeds.

    Attributes
    ----------
    wrong, wrong_alone : bool array (run,)
        Missed at any look: by the interval that holds for all, and by that of each look alone.
    shown : bool array (run,)
        Whether the lift-off was bounded on both sides in the end, where the run passed it.
    passed : bool array (run,)
    width : array (run,), -
        Of the last interval over the truth.
    """

    wrong: NDArray[np.bool_]
    wrong_alone: NDArray[np.bool_]
    shown: NDArray[np.bool_]
    passed: NDArray[np.bool_]
    width: Floats


def batch(seed: int, number: int, runs: int) -> Batch:
    """Batch `number`, from nothing but that number and the seed."""
    rng = np.random.default_rng([seed, number])
    paper = machine(rng)
    highest = float(paper.speeds.rated) * 3.62 / float(paper.rim.inner_radius) * rng.uniform(1.1, 1.6)
    steps = int(rng.integers(12, 26))
    speed = np.linspace(rng.uniform(0.05, 0.25), 1.0, steps) * highest
    direction = np.full(steps, "up")
    truth = np.zeros((runs, len(PARAMETERS)))
    truth[:, 0] = np.sqrt(rng.uniform(0.02, 1.6, runs)) * highest
    for name, share in PRIOR_SD.items():
        truth[:, PARAMETERS.index(name)] = np.clip(rng.normal(0.0, share, runs), -2.5 * share, 2.5 * share)
    truth[:, PARAMETERS.index("gap_offset")] = 0.3 * MILLIMETRE * rng.normal(size=runs)
    model = gap_model(paper, COLD, speed, direction, np.full(steps, np.nan))
    size = np.exp(rng.uniform(np.log(0.005), np.log(0.06), (runs, 1))) * MILLIMETRE
    gaps = model.gaps(truth, COLD) + size * _noise(rng, runs, steps)
    foretold = course(paper, COLD, Schedule(speed, direction, QUICK * np.arange(steps)), highest)
    return _judged(foretold, gaps, truth[:, :1], highest)


def _noise(rng: np.random.Generator, runs: int, steps: int) -> Floats:
    """Noise (run, reading) of size 1: three of four white, the rest correlated in time or drifting."""
    white = rng.normal(size=(runs, steps))
    together = np.empty_like(white)
    together[:, 0] = rng.normal(size=runs)
    for place in range(1, steps):
        together[:, place] = 0.7 * together[:, place - 1] + np.sqrt(1.0 - 0.49) * rng.normal(size=runs)
    drifting = white + 0.15 * rng.normal(size=(runs, 1)) * np.arange(steps)
    kind = rng.random((runs, 1))
    return np.where(kind < 0.75, white, np.where(kind < 0.9, together, drifting))


def drifts(share: Floats, speed: Floats) -> dict[str, Floats]:
    """Courses (reading,) of the level from 0 to 1 over a run, for the share of its time and speeds over the highest."""
    heating = np.concatenate([[0.0], np.cumsum(speed[:-1] ** 3)])
    return {
        "none": 0.0 * share,
        "straight": share,
        "quadratic": share**2,
        "settling": np.expm1(-3.0 * share) / np.expm1(-3.0),
        "heated": heating / heating[-1],
    }


def drifting(seed: int, runs: int, steps: int = 16, *, returns: bool = False) -> dict[tuple[str, str], Batch]:
    """Slow runs whose level drifts by 0.1 to 0.45 mm, by rim and course of the drift, all at the same speeds."""
    rng = np.random.default_rng(seed)
    paper = machine(rng)
    highest = float(paper.speeds.rated) * 3.62 / float(paper.rim.inner_radius) * 1.5
    up = np.linspace(0.1, 1.0, steps) * highest
    speed = np.append(up, up[-2::-1]) if returns else up
    direction = np.repeat(["up", "down"], [steps, len(speed) - steps])
    moment = SLOW * np.arange(len(speed))
    foretold = course(paper, COLD, Schedule(speed, direction, moment), highest)
    model = gap_model(paper, COLD, speed, direction, np.full(len(speed), np.nan))
    found = {}
    for rim, (slowest, fastest) in RIMS.items():
        for name, shape in drifts(moment / moment[-1], speed / highest).items():
            truth = np.zeros((runs, len(PARAMETERS)))
            truth[:, 0] = rng.uniform(slowest, fastest, runs) * highest
            for unknown, share in PRIOR_SD.items():
                spread = np.clip(rng.normal(0.0, share, runs), -2.0 * share, 2.0 * share)
                truth[:, PARAMETERS.index(unknown)] = spread
            moved = rng.uniform(0.1, 0.45, (runs, 1)) * rng.choice([-1.0, 1.0], (runs, 1)) * shape
            noise = rng.uniform(0.01, 0.03, (runs, 1)) * rng.normal(size=(runs, len(speed)))
            gaps = model.gaps(truth, COLD) + (moved + noise) * MILLIMETRE
            found[rim, name] = _judged(foretold, gaps, truth[:, :1], highest)
    return found


BODIES = {"rim": 9.0, "spider": 5.0, "stator": 4.0}
"""Largest warming in a run of hours, K."""

THERMOMETERS = {
    "good": (1.0, 1.0, 0.05), "scattering": (1.0, 1.0, 0.3), "half": (0.5, 0.5, 0.05), "rim stuck": (0.0, 1.0, 0.05),
}  # fmt: skip
"""Shares of the warming of the rim and of the other bodies that thermometers show, and their scatter, K; the first two
are right."""


def warming(seed: int, runs: int, steps: int = 16, rims: Sequence[str] = tuple(RIMS)) -> dict[tuple[str, str], Batch]:
    """Slow run-ups in which bodies warm, with temperatures that were recorded, by rim and kind of thermometer.

    Thermometers differ from run to run, and what was recorded is part of what is foretold: each run stands by itself.
    """
    rng = np.random.default_rng(seed)
    paper = machine(rng)
    highest = float(paper.speeds.rated) * 3.62 / float(paper.rim.inner_radius) * 1.5
    speed, direction = np.linspace(0.1, 1.0, steps) * highest, np.full(steps, "up")
    bare = Schedule(speed, direction, SLOW * np.arange(steps))
    without = course(paper, COLD, bare, highest)
    shapes = drifts(np.linspace(0.0, 1.0, steps), speed / highest)
    found: dict[tuple[str, str], Batch] = {}
    for rim, (slowest, fastest) in ((rim, RIMS[rim]) for rim in rims):
        for name, (of_rim, of_others, scatter) in THERMOMETERS.items():
            parts = []
            for _ in range(runs):
                truth = np.zeros((1, len(PARAMETERS)))
                truth[:, 0] = rng.uniform(slowest, fastest) * highest
                for unknown, share in PRIOR_SD.items():
                    truth[:, PARAMETERS.index(unknown)] = np.clip(rng.normal(0.0, share), -2.0 * share, 2.0 * share)
                for gain in GAINS:
                    truth[:, PARAMETERS.index(gain)] = 0.15 * rng.normal()
                shape = shapes[str(rng.choice(["straight", "quadratic", "settling", "heated"]))]
                warm = {body: most * rng.uniform(-0.3, 1.0) * shape for body, most in BODIES.items()}
                model = gap_model(paper, COLD, speed, direction, np.full(steps, np.nan), warm)
                gaps = model.gaps(truth, COLD) + 0.02 * MILLIMETRE * rng.normal(size=(1, steps))
                shown = {"rim": of_rim, "spider": of_others, "stator": of_others}
                read = {body: shown[body] * kelvin + scatter * rng.normal(size=steps) for body, kelvin in warm.items()}
                heated = course(paper, COLD, replace(bare, departures=read), highest)
                parts.append(_judged(without, gaps, truth[:, :1], highest, heated))
            found[rim, name] = _joined(parts)
    return found


def _joined(parts: Sequence[Batch]) -> Batch:
    return Batch(*(np.concatenate([getattr(one, name) for one in parts]) for name in vars(parts[0])))


def _judged(foretold: Course, gaps: Floats, true: Floats, highest: float, heated: Course | None = None) -> Batch:
    log = log_likelihoods(foretold, gaps)
    if heated is not None:
        log = either(log, log_likelihoods(heated, gaps))
    low, high = bounds(foretold, log, 0.95)
    alone = _each_alone(foretold, log)
    passed = true[:, 0] < 0.9 * highest
    return Batch(
        ~((low <= true) & (true <= high)).all(axis=1),
        ~((alone[0] <= true) & (true <= alone[1])).all(axis=1),
        (low[:, -1] > 0.0) & np.isfinite(high[:, -1]),
        passed & (true[:, 0] > 0.4 * highest),
        (high[:, -1] - low[:, -1]) / true[:, 0],
    )


def _each_alone(foretold: Course, log: Floats) -> tuple[Floats, Floats]:
    """Bounds (run, reading) between which 95 % of the probability lies after each reading by itself."""
    weighted = log + np.log(foretold.weight)
    chance = np.exp(weighted - weighted.max(axis=2, keepdims=True))
    climbed = np.cumsum(chance / chance.sum(axis=2, keepdims=True), axis=2)
    low, high = (climbed < 0.025).sum(axis=2), (climbed < 0.975).sum(axis=2)
    edges = np.append(foretold.lift_off[:-1], np.inf)
    return np.where(low == 0, 0.0, edges[np.maximum(low - 1, 0)]), edges[high]


def batches(seed: int, runs: int) -> list[Batch]:
    """All runs, in batches."""
    return [batch(seed, number, TOGETHER) for number in range(max(runs // TOGETHER, 1))]


def table(found: Sequence[Batch]) -> str:
    """Shares of runs; the sampling error of 5 % is 0.5 for 2,000 runs."""
    wrong, alone, shown, passed, width = vars(_joined(found)).values()
    return (
        f"{len(wrong)} runs, a look after every reading\n"
        f"wrong at any look: {100 * wrong.mean():.2f} %; "
        f"by the interval of each look alone {100 * alone.mean():.1f} %\n"
        f"lift-off shown in the end where the run passed it: {100 * shown[passed].mean():.1f} %, median width "
        f"{100 * np.median(width[passed & shown]):.1f} %"
    )


def main() -> None:
    """Print the shares."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=8400)
    parser.add_argument("--drifts", type=int, default=200, help="slow runs of each rim with each drift")
    parser.add_argument("--warmings", type=int, default=20, help="run-ups of each rim with each kind of thermometer")
    asked = parser.parse_args()
    began = time.process_time()
    print(table(batches(asked.seed, asked.runs)))
    for returns in (False, True):
        print(f"runs of hours, level drifting, {'up and down' if returns else 'up alone'}: wrong at any look")
        for (rim, drift), one in drifting(asked.seed, asked.drifts, returns=returns).items():
            print(
                f"    {rim:16}{drift:12}{100 * one.wrong.mean():5.1f} %, lift-off shown {100 * one.shown.mean():5.1f} %"
            )
    print("run-ups of an hour, bodies warming, with thermometers: wrong at any look")
    for (rim, thermometer), one in warming(asked.seed, asked.warmings).items():
        shown = f"{100 * one.shown.mean():5.1f} %"
        print(f"    {rim:16}{thermometer:18}{100 * one.wrong.mean():5.1f} %, lift-off shown {shown}")
    print(f"{time.process_time() - began:.0f} s of one processor")


if __name__ == "__main__":
    main()
