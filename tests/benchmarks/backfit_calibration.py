"""Calibration of the back-fit on virtual runs of varied machines: coverage of its 95 % intervals, printed as a table.

    python tests/benchmarks/backfit_calibration.py [--share 0.1] [--processes 2]

Every run has a machine of its own, and the machine that was built differs from the one on paper that the fit is
given: hoop and spider stiffness are drawn from the very priors that the fit assumes, the gap level is off by
tenths of a millimetre, and the interference puts the knee where the family wants it. The truth is computed from the
mechanics alone; nothing of the fit enters it. Invented throughout.
"""

from __future__ import annotations

import argparse
import os
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from multiprocessing import Pool

import numpy as np
from numpy.typing import NDArray

import rimmodel as rm
from rimmodel.behaviour import float_speed, interference_for_float_speed, sweep
from rimmodel.behaviour.contact.spider import spider_response
from rimmodel.evidence.backfit.expected import expected_slopes, slope_uncertainty
from rimmodel.evidence.backfit.fit import OWN_CONDITION, back_fit
from rimmodel.evidence.backfit.fitter import PRIOR_SD, Freedom
from rimmodel.evidence.knee.fit import fit_knee
from rimmodel.evidence.reduction.speed_points import SpeedPoints
from rimmodel.rotor import Condition, GivenSpider, Rotor
from rimmodel.units import MILLIMETRE

Floats = NDArray[np.float64]
HOT = Condition(rim_temperature=333.0, spider_temperature=326.0, flux_density=0.8)
"""Field and heat of a machine in service: where a float speed is inferred from a run that was cold or hot."""


@dataclass(frozen=True)
class Family:
    """Runs of one kind; `seed` sets machine, speeds and noise of all of them."""

    name: str
    seed: int
    knee: tuple[float, float] = (0.4, 0.95)
    """Range of the knee over the highest speed tested."""
    way: str = "up"
    outliers: float = 0.01
    flux: float = 0.0
    """Peak flux density at the cold gap, T, at constant current."""
    noise_given: bool = False


FAMILIES = (
    (1000, Family("run-up, 1 % outliers", 8101)),
    (400, Family("run-up, no outliers, noise given", 8102, outliers=0.0, noise_given=True)),
    (300, Family("run-down, friction", 8103, way="down")),
    (300, Family("run-up, excited", 8104, flux=0.8)),
    (400, Family("no knee: seated throughout", 8105, knee=(1.05, 1.8))),
    (400, Family("no knee: floating throughout", 8106, knee=(0.0, 0.1))),
)


@dataclass(frozen=True)
class Truth:
    """Machine on paper and machine built, condition of the run, noise of a point (m), and its numbers."""

    paper: Rotor
    built: Rotor
    condition: Condition
    sigma: float
    speed: float
    """Float speed in the run, on its way, rad/s."""
    hot: float
    interference: float
    """Effective, on the way of the run, m."""


@dataclass(frozen=True)
class Outcome:
    """One run: verdict, whether each interval held the truth, its width over the truth, and the error."""

    verdict: str
    knee: bool
    speed: bool
    hot: bool
    interference: bool
    unbounded: bool
    speed_width: float
    interference_width: float
    error: float
    """Of the float speed, rad/s, ..."""
    bound: float
    """... and its Cramér-Rao standard deviation."""
    seconds: float


def machine(rng: np.random.Generator) -> Rotor:
    """A machine on paper: the built-in example made larger or smaller, deeper, heavier, with another spider."""
    base = rm.example_case().rotor
    size, depth = rng.uniform(0.5, 1.6), rng.uniform(0.7, 1.4)
    inside = base.rim.inner_radius * size
    outside = inside + (base.rim.outer_radius - base.rim.inner_radius) * depth
    rim = replace(base.rim, inner_radius=inside, outer_radius=outside, hoop_stiffness_factor=rng.uniform(0.6, 0.9))
    poles = replace(
        base.poles,
        mass=base.poles.mass * rng.uniform(0.6, 1.3),
        mass_radius=outside + base.poles.mass_radius - base.rim.outer_radius,
        face_radius=outside + base.poles.face_radius - base.rim.outer_radius,
    )
    spider = replace(
        base.spider, arm_area=base.spider.arm_area * rng.uniform(0.6, 2.0), hub_radius=base.spider.hub_radius * size
    )
    return replace(base, rim=rim, poles=poles, spider=spider, fit=replace(base.fit, settlement=0.0, key_width=None))


def as_built(paper: Rotor, rng: np.random.Generator) -> Rotor:
    """The same machine with the stiffnesses that it really has."""
    response = spider_response(paper)
    stiffness = 2 * np.pi * paper.rim.inner_radius * paper.rim.length / response.compliance
    z = np.clip(rng.normal(size=2), -2.5, 2.5)  # beyond that no rim is: hoop modulus would exceed that of solid steel
    spider = GivenSpider(
        float(stiffness * np.exp(PRIOR_SD["spider_stiffness"] * z[0])),
        response.growth_per_speed_squared,
        1.0,
        paper.spider.material,
    )
    hoop = paper.rim.hoop_stiffness_factor * np.exp(PRIOR_SD["hoop_stiffness_factor"] * z[1])
    return replace(paper, rim=replace(paper.rim, hoop_stiffness_factor=float(hoop)), spider=spider)


def virtual(family: Family, number: int) -> tuple[Truth, SpeedPoints]:
    """Run `number` of a family, from nothing but that number and the seed of the family."""
    rng = np.random.default_rng([family.seed, number])
    paper = machine(rng)
    built, condition = as_built(paper, rng), Condition(flux_density=family.flux)
    highest = paper.speeds.rated * 3.62 / paper.rim.inner_radius * rng.uniform(1.05, 1.7)
    lift = rng.uniform(*family.knee) * highest
    effective = float(interference_for_float_speed(built, condition, lift))
    friction = rng.uniform(0.0, 0.04) * MILLIMETRE if family.way == "down" else 0.0
    built = replace(built, fit=replace(built.fit, interference=effective + friction, friction_interference=friction))
    speed = speeds(rng, int(rng.integers(15, 121))) * highest
    sigma = float(np.exp(rng.uniform(np.log(0.01), np.log(0.1)))) * MILLIMETRE
    gap = sweep(built, condition, speed, "down" if family.way == "down" else None).air_gap
    gap = gap + sigma * rng.normal(size=len(speed)) + 0.3 * MILLIMETRE * rng.normal()
    strays = rng.random(len(speed)) < family.outliers
    gap = gap + strays * sigma * rng.choice([-1.0, 1.0], len(speed)) * rng.uniform(5.0, 10.0, len(speed))
    plain = built.with_interference(effective)
    lifts = float(float_speed(plain, condition).speed)
    truth = Truth(paper, plain, condition, sigma, lifts, float(float_speed(plain, HOT).speed), effective)
    return truth, points_of(speed, gap, family.way)


def speeds(rng: np.random.Generator, count: int) -> Floats:
    """Speeds over the highest: even, uneven, even in their square, or a few that come again."""
    low = rng.uniform(0.1, 0.2)
    few = np.linspace(low, 1.0, max(8, count // 4))
    kinds = (
        np.linspace(low, 1.0, count),
        np.sort(np.append(rng.uniform(low, 1.0, count - 1), 1.0)),
        np.sqrt(np.linspace(low**2, 1.0, count)),
        np.sort(np.resize(few, count)),
    )
    return kinds[rng.integers(4)]


def points_of(speed: Floats, gap: Floats, way: str = "up") -> SpeedPoints:
    """Speed points as a reduced recording would give them, without further columns."""
    none, count = np.full(speed.shape, np.nan), np.ones(speed.shape, dtype=np.int64)
    return SpeedPoints(
        speed=speed, gap=gap, standard_error=none, minimum=gap, least_sensor_gap=gap, count=count, outliers=0 * count,
        direction=np.full(speed.shape, way), plane=np.full(speed.shape, ""), steady=np.ones(speed.shape, dtype=bool),
        time=none, rim_temperature=none, stator_temperature=none, is_change=False, notes=(),
    )  # fmt: skip


def cramer_rao(truth: Truth, speed: Floats) -> float:
    """Least standard deviation of the float speed, rad/s, from the Fisher information of data and priors.

    Unknowns: interference, hoop and spider stiffness as logarithms, gap level. Van Trees' form: the prior's
    information adds to that of the data (Van Trees, Detection, Estimation and Modulation Theory I, sec. 2.4; from
    memory).
    """
    at = np.array([truth.interference, 0.0, 0.0, 0.0])

    def build(unknowns: Floats) -> Rotor:
        rim, spider = truth.built.rim, truth.built.spider
        rim = replace(rim, hoop_stiffness_factor=rim.hoop_stiffness_factor * np.exp(unknowns[1]))
        spider = replace(spider, radial_stiffness=spider.radial_stiffness * np.exp(unknowns[2]))
        return replace(truth.built, rim=rim, spider=spider).with_interference(unknowns[0])

    def answers(unknowns: Floats) -> Floats:
        rotor = build(unknowns)
        gaps = sweep(rotor, truth.condition, speed).air_gap + unknowns[3]
        return np.append(gaps, float_speed(rotor, truth.condition).speed)

    moves = np.diag([1e-8, 1e-5, 1e-5, 1e-8])
    slope = np.stack([(answers(at + move) - answers(at - move)) / (2 * move.sum()) for move in moves], axis=1)
    known = np.diag([0.0, PRIOR_SD["hoop_stiffness_factor"] ** -2, PRIOR_SD["spider_stiffness"] ** -2, 0.0])
    size = np.array([1e-4, 0.1, 0.3, 1e-4])
    information = (slope[:-1].T @ slope[:-1] / truth.sigma**2 + known) * np.outer(size, size)
    seen = slope[-1] * size
    return float(np.sqrt(seen @ np.linalg.pinv(information) @ seen))


def run_one(family: Family, number: int) -> Outcome:
    """Fit one virtual run and compare with its truth."""
    truth, points = virtual(family, number)
    sigma = truth.sigma if family.noise_given else None
    began = time.perf_counter()
    slopes = expected_slopes(truth.paper, truth.condition)
    unsure = slope_uncertainty(truth.paper, truth.condition, Freedom())
    knee = fit_knee(points.speed**2, points.gap, sigma, expected_slopes=slopes, expected_slope_uncertainty=unsure)
    fit = back_fit(truth.paper, truth.condition, points, knee, conditions={"hot": HOT}, sigma=sigma)
    seconds = time.perf_counter() - began
    speed, interference = fit.float_speed_interval[OWN_CONDITION], fit.interference_interval

    def held(interval: tuple[float, float], value: float) -> bool:
        return bool(interval[0] <= value <= interval[1])

    return Outcome(
        knee.verdict,
        held(knee.interval, truth.speed**2),
        held(speed, truth.speed),
        held(fit.float_speed_interval["hot"], truth.hot),
        held(interference, truth.interference),
        not np.isfinite([*speed, *interference]).all() or speed[0] == 0,
        (speed[1] - speed[0]) / truth.speed,
        (interference[1] - interference[0]) / truth.interference,
        fit.float_speed[OWN_CONDITION] - truth.speed,
        cramer_rao(truth, points.speed) if family.knee[1] < 1 else np.nan,
        seconds,
    )


def outcomes(family: Family, runs: int, processes: int = 1) -> list[Outcome]:
    """All runs of a family, in order, whatever the number of processes."""
    if processes == 1:
        return [run_one(family, number) for number in range(runs)]
    with Pool(processes) as pool:
        return pool.map(partial(run_one, family), range(runs), chunksize=10)


def efficiency(rows: Sequence[Outcome]) -> float:
    """1.4826 x median absolute error of the float speed over its Cramér-Rao deviation, resolved runs."""
    return float(1.4826 * np.median([abs(row.error) / row.bound for row in rows if row.verdict == "resolved"]))


HEADER = (
    f"{'covers, %':<36}{'runs':>6}{'knee':>7}{'float':>7}{'hot':>7}{'inter-':>8}{'open':>7}{'resol-':>8}"
    f"{'width, %':>10}{'':>8}{'error':>8}{'s':>6}\n"
    f"{'':<36}{'':>6}{'':>7}{'speed':>7}{'':>7}{'ference':>8}{'':>7}{'ved':>8}{'speed':>10}{'interf.':>8}{'/CR sd':>8}"
)


def line(family: Family, rows: Sequence[Outcome]) -> str:
    """One line of the table; sampling error of a coverage of 95 % is 0.7 for 1,000 runs, 1.1 for 400."""

    def share(name: str) -> float:
        return 100 * float(np.mean([getattr(row, name) for row in rows]))

    resolved = 100 * np.mean([row.verdict == "resolved" for row in rows])
    widths = [100 * np.median([getattr(row, name) for row in rows]) for name in ("speed_width", "interference_width")]
    error = f"{efficiency(rows):8.2f}" if family.outliers == 0 and family.knee[1] < 1 else f"{'-':>8}"
    return (
        f"{family.name:<36}{len(rows):6d}{share('knee'):7.1f}{share('speed'):7.1f}{share('hot'):7.1f}"
        f"{share('interference'):8.1f}{share('unbounded'):7.1f}{resolved:8.1f}{widths[0]:10.1f}{widths[1]:8.1f}"
        f"{error}{np.median([row.seconds for row in rows]):6.2f}"
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--share", type=float, default=1.0, help="fraction of the runs, for a quick look")
    parser.add_argument("--processes", type=int, default=min(2, os.cpu_count() or 1))
    asked = parser.parse_args()
    print(HEADER)
    for runs, family in FAMILIES:
        print(line(family, outcomes(family, max(1, round(asked.share * runs)), asked.processes)), flush=True)


if __name__ == "__main__":
    main()
