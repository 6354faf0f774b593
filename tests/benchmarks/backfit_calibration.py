"""Calibration of the back-fit on virtual runs of varied rotors: coverage of its 95 % intervals, printed as a table.

    python tests/benchmarks/backfit_calibration.py [RUNS] [SEED]

Every rotor differs from the case that the fit starts from: hoop stiffness by 10 %, spider stiffness by 30 % (one
standard deviation each), interference so that the knee lies between 40 and 95 % of the tested speed. 15 to 120 speed
points, noise of 0.01 to 0.1 mm on a mean gap, 1 % outliers of 5 to 10 times that. Invented throughout.
"""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass, replace

import numpy as np

import rimmodel as rm
from rimmodel.behaviour import float_speed, interference_for_float_speed, sweep
from rimmodel.behaviour.spider import spider_response
from rimmodel.evidence.backfit import back_fit
from rimmodel.evidence.knee import fit_knee
from rimmodel.evidence.measure import expected_slopes
from rimmodel.evidence.reduce import SpeedPoints
from rimmodel.rotor import GivenSpider
from rimmodel.units import MILLIMETRE


@dataclass(frozen=True)
class Outcome:
    """One virtual run: verdict, and whether each interval held the truth; widths as shares of the truth."""

    verdict: str
    knee_covers: bool
    speed_covers: bool
    hot_covers: bool
    interference_covers: bool
    unbounded: bool
    knee_width: float
    speed_width: float
    interference_width: float
    error: float


def points_of(speed: np.ndarray, gap: np.ndarray) -> SpeedPoints:
    """Speed points as a reduced recording would give them, without further columns."""
    none = np.full(speed.shape, np.nan)
    way = np.full(speed.shape, "up")
    return SpeedPoints(
        speed=speed, gap=gap, standard_error=none, minimum=gap, least_sensor_gap=gap,
        count=np.ones(speed.shape, dtype=int), outliers=np.zeros(speed.shape, dtype=int), direction=way,
        plane=np.full(speed.shape, ""), steady=np.ones(speed.shape, dtype=bool), time=none,
        rim_temperature=none, stator_temperature=none, is_change=False, notes=(),
    )  # fmt: skip


def virtual(case: rm.Case, rng: np.random.Generator, knee_share: float | None = None):
    """A rotor that differs from the case, and speed points of a run of it: (truth, points)."""
    rotor, cold = case.rotor, case.conditions["cold"]
    response = spider_response(rotor)
    area = 2 * np.pi * rotor.rim.inner_radius * rotor.rim.length
    spider = GivenSpider(
        area / response.compliance * np.exp(0.3 * rng.normal()), response.growth_per_speed_squared, 1.0,
        rotor.spider.material,
    )  # fmt: skip
    hoop = rotor.rim.hoop_stiffness_factor * np.exp(0.1 * rng.normal())
    rim = replace(rotor.rim, hoop_stiffness_factor=float(hoop))
    truth = replace(rotor, rim=rim, spider=spider, fit=replace(rotor.fit, settlement=0.0, key_stiffness=np.inf))
    highest = rotor.speeds.rated * rng.uniform(1.05, 1.6)
    share = rng.uniform(0.4, 0.95) if knee_share is None else knee_share
    truth = truth.with_interference(float(interference_for_float_speed(truth, cold, share * highest)))
    count = int(rng.integers(15, 121))
    speed = np.sort(rng.uniform(0.12, 1.0, count) if rng.random() < 0.5 else np.linspace(0.12, 1.0, count)) * highest
    speed[-1] = highest
    sigma = np.exp(rng.uniform(np.log(0.01), np.log(0.1))) * MILLIMETRE
    gap = sweep(truth, cold, speed).air_gap + rng.normal(0.0, sigma, count) + rng.normal(0.0, 0.3) * MILLIMETRE
    stray = rng.random(count) < 0.01
    gap = gap + np.where(stray, rng.choice([-1.0, 1.0], count) * rng.uniform(5.0, 10.0, count) * sigma, 0.0)
    return truth, points_of(speed, gap)


def run_one(case: rm.Case, seed: int, knee_share: float | None = None) -> Outcome:
    """Fit one virtual run and compare with its truth."""
    truth, points = virtual(case, np.random.default_rng(seed), knee_share)
    cold, hot = case.conditions["cold"], case.conditions["hot"]
    knee = fit_knee(points.speed**2, points.gap, expected_slopes=expected_slopes(case.rotor, cold))
    fit = back_fit(case.rotor, cold, points, knee, conditions={"hot": hot})
    speed, warm = float(float_speed(truth, cold).speed), float(float_speed(truth, hot).speed)
    low, high = knee.interval

    def within(interval: tuple[float, float], value: float) -> bool:
        return interval[0] <= value <= interval[1]

    (a, b), (c, d) = fit.float_speed_interval[""], fit.interference_interval
    delta = float(truth.fit.interference)
    return Outcome(
        knee.verdict, within((low, high), speed**2), within((a, b), speed),
        within(fit.float_speed_interval["hot"], warm), within((c, d), delta), not np.isfinite([a, b, c, d]).all(),
        (np.sqrt(high) - np.sqrt(max(low, 0.0))) / speed, (b - a) / speed, (d - c) / delta,
        fit.float_speed[""] / speed - 1,
    )  # fmt: skip


def main(runs: int = 1000, seed: int = 20260) -> None:
    """Print the table."""
    case = rm.example_case()
    began = time.perf_counter()
    rows = [run_one(case, seed + number) for number in range(runs)]
    spent = time.perf_counter() - began
    print(f"{runs} virtual runs from seed {seed}; {spent / runs:.2f} s each")
    for name in ("knee_covers", "speed_covers", "hot_covers", "interference_covers"):
        share = np.mean([getattr(row, name) for row in rows])
        print(f"{name:22}{100 * share:7.2f} %   (sampling error {100 * np.sqrt(share * (1 - share) / runs):.2f})")
    print(f"an interval unbounded {100 * np.mean([row.unbounded for row in rows]):7.2f} %")
    for name in ("knee_width", "speed_width", "interference_width"):
        widths = np.array([getattr(row, name) for row in rows])
        print(f"median {name:20}{100 * np.median(widths):7.2f} % of the truth")
    for verdict in sorted({row.verdict for row in rows}):
        some = [row for row in rows if row.verdict == verdict]
        covers = 100 * np.mean([row.interference_covers for row in some])
        print(f"{verdict:22}{100 * len(some) / runs:7.2f} %   interference covered {covers:.1f} %")


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:3]))
