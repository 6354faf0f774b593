"""Calibration of what a review signs: intervals by test and verdicts on virtual machines whose truth is known.

    python -m tests.benchmarks.verdict_calibration [--runs 2000] [--processes 2]

Every machine differs from its case by all that the case leaves open: each tolerance is drawn, hoop and spider
stiffness lie about those of the drawing, the run is warmer or colder than its condition says, the sensors have an
error of gain and of level, the mean gap as assembled is not that of the drawing, and interference has been lost by
bedding of keys, by growth of the stack or by both. One run is recorded cold; numbers are asked cold, where it was
recorded, and hot. The truth is computed from the mechanics alone. Invented throughout.

A wrong "holds" hurts people. It is counted against limits near the truth, to either side of it, and in the worst
case: a limit a hair beyond the truth.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from multiprocessing import Pool

import numpy as np
from numpy.typing import NDArray

import rimmodel as rm
from rimmodel.behaviour import interference_for_float_speed, sweep
from rimmodel.behaviour.quantities import quantity_values
from rimmodel.behaviour.study.rotor_model import case_inputs, rotor_model
from rimmodel.evidence.measured.machine import by_test, interference_left
from rimmodel.evidence.measured.measure import measure_points, with_case
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.evidence.measured.neighbours import case_freedom
from rimmodel.evidence.reduction.speed_points import SpeedPoints
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.requirements import CaseRecord
from rimmodel.rotor.tolerance import Tolerance
from rimmodel.units import MILLIMETRE
from rimmodel.verdict.judge import verdict_of_interval
from tests.benchmarks.backfit_calibration import as_built, machine, points_of, speeds

Floats = NDArray[np.float64]

ASKED = (
    ("float_speed", "cold"),
    ("float_speed", "hot"),
    ("gap_at_overspeed", "cold"),
    ("gap_at_runaway", "hot"),
    ("contact_pressure_at_standstill", "hot"),
    ("rim_stress_at_runaway", "cold"),
    ("rim_stress_at_rated", "hot"),
)
"""Quantities and conditions; the recorded condition is the cold one."""

NEAR = {"float_speed": 0.06, "gap": 0.015, "contact_pressure": 0.2, "rim_stress": 0.015}
"""Half-width, as a share of the truth, of the range from which limits near the truth are drawn."""

RECORD = CaseRecord("invented.csv", "cold", "virtual run")


@dataclass(frozen=True)
class Virtual:
    """A case, what was recorded of the machine, and the machine that there really is."""

    case: Case
    points: SpeedPoints
    built: Rotor
    conditions: dict[str, Condition]
    left: float
    """Interference left, m."""


@dataclass(frozen=True)
class Outcome:
    """One number of one machine: whether the interval held the truth, missed it below or above, and the verdicts."""

    quantity: str
    condition: str
    resolved: bool
    bounded: bool
    below: bool
    """The whole interval lies below the truth, ..."""
    above: bool
    """... or above it."""
    wrongly_holds: bool
    wrongly_fails: bool
    not_shown: bool
    width: float
    """Of the interval over the truth."""


def case_of(paper: Rotor) -> Case:
    """The built-in case about another rotor, its tolerances as wide and a few more."""
    base = rm.example_case()
    case = replace(base, rotor=paper, records=(), claims=(), requirements=())
    centres = {
        "fit.interference": (float(paper.fit.interference), 0.05 * MILLIMETRE),
        "rim.hoop_stiffness_factor": (float(paper.rim.hoop_stiffness_factor), 0.06),
        "poles.mass": (float(paper.poles.mass), 0.015 * float(paper.poles.mass)),
        "spider.arm_area": (float(paper.spider.arm_area), 0.02 * float(paper.spider.arm_area)),  # type: ignore[union-attr]
        "air_gap.cold": (float(paper.air_gap.cold), 0.15 * MILLIMETRE),
        "rim.stacking_factor": (float(paper.rim.stacking_factor), 0.004),
        "conditions.hot.rim_temperature": (float(base.conditions["hot"].rim_temperature), 2.0),
        "conditions.hot.spider_temperature": (float(base.conditions["hot"].spider_temperature), 2.0),
        "conditions.hot.stator_temperature": (float(base.conditions["hot"].stator_temperature), 2.0),
        "conditions.cold.rim_temperature": (float(base.conditions["cold"].rim_temperature), 0.5),
    }
    rows = tuple(Tolerance(name, centre, "normal", spread) for name, (centre, spread) in centres.items())
    return replace(case, tolerances=rows)


def virtual(seed: int, number: int) -> Virtual:
    """Machine and run `number`, from nothing but that number and the seed."""
    rng = np.random.default_rng([seed, number])
    paper = machine(rng)
    paper = replace(paper, fit=replace(paper.fit, interference_tolerance=0.1 * MILLIMETRE, key_interference=None))
    case = case_of(paper)
    highest = float(paper.speeds.rated) * 3.62 / float(paper.rim.inner_radius) * rng.uniform(1.1, 1.6)
    speed_of = {"rated": highest / 1.5, "overspeed": highest, "runaway": 1.3 * highest}
    paper = replace(paper, speeds=replace(paper.speeds, **speed_of))
    # so much interference on the drawing that a part of it can be lost with the knee in range
    cold = case.conditions["cold"]
    lift = rng.uniform(0.55, 0.92) * highest
    lost = rng.uniform(0.0, 0.7) * MILLIMETRE
    needed = float(interference_for_float_speed(paper, cold, lift))
    paper = paper.with_interference(needed + lost)
    case = case_of(paper)

    table = case_inputs(case).values(np.atleast_2d(rng.random((len(case.tolerances), 1))))
    drawn, conditions = rotor_model(case, ()).machine({name: float(value[0]) for name, value in table.items()})
    stiff = as_built(replace(drawn, rim=replace(drawn.rim, hoop_stiffness_factor=1.0)), rng)
    built = replace(drawn, spider=stiff.spider)
    share = (0.0, 1.0, rng.uniform())[rng.integers(3)]
    built = built.settled_to(float(built.fit.interference) - lost, share)
    left = float(interference_left(built, conditions["cold"]))

    speed = np.sort(np.unique(speeds(rng, int(rng.integers(20, 60))))) * highest
    run = conditions["cold"]
    warmer = RECORD.temperature_uncertainty * rng.normal()
    run = replace(run, rim_temperature=float(run.rim_temperature) + warmer)
    gap = sweep(built, run, speed).air_gap
    noise = float(np.exp(rng.uniform(np.log(0.01), np.log(0.04)))) * MILLIMETRE
    gap = gap + RECORD.sensor_gain * rng.normal() * (gap - gap.mean()) + RECORD.sensor_offset * rng.normal()
    return Virtual(case, points_of(speed, gap + noise * rng.normal(size=len(speed))), built, conditions, left)


def measured(found: Virtual) -> Measurement:
    """The measurement as a review makes it, from points that are reduced already."""
    case = found.case
    condition = case.conditions["cold"]
    some = measure_points(case.rotor, condition, found.points, "cold", label="virtual run", freedom=case_freedom(case))
    return with_case(some, case, RECORD)


def run_one(seed: int, number: int) -> list[Outcome]:
    """Measure one virtual run and compare every number with its truth."""
    found = virtual(seed, number)
    measurement = measured(found)
    rng = np.random.default_rng([seed, number, 1])
    rows = []
    for quantity, condition in ASKED:
        truth = float(quantity_values(found.built, found.conditions[condition], [quantity])[quantity])
        low, high = by_test(measurement.machines, quantity, condition).interval
        near = next(share for name, share in NEAR.items() if quantity.startswith(name))
        limit = truth * (1.0 + near * rng.uniform(-1.0, 1.0))
        least = bool(rng.integers(2))
        verdict = "not shown" if measurement.disqualified else verdict_of_interval((low, high), limit, least)
        true = truth >= limit if least else truth <= limit
        rows.append(
            Outcome(
                quantity, condition, measurement.verdict == "resolved", bool(np.isfinite([low, high]).all()),
                bool(high < truth), bool(low > truth), verdict == "holds" and not true,
                verdict == "does not hold" and true, verdict == "not shown", (high - low) / truth if truth else np.nan,
            )
        )  # fmt: skip
    low, high = measurement.interference_interval
    rows.append(
        Outcome(
            "interference", "", measurement.verdict == "resolved", bool(np.isfinite([low, high]).all()),
            bool(high < found.left), bool(low > found.left), False, False, False, (high - low) / found.left,
        )
    )  # fmt: skip
    return rows


def outcomes(seed: int, runs: int, processes: int = 1) -> list[list[Outcome]]:
    """All machines, in order, whatever the number of processes."""
    if processes == 1:
        return [run_one(seed, number) for number in range(runs)]
    with Pool(processes) as pool:
        return pool.map(partial(run_one, seed), range(runs), chunksize=10)


HEADER = (
    f"{'':<46}{'covers, %':>10}{'resolved':>9}{'truth':>8}{'truth':>8}{'wrong':>8}{'wrong':>8}{'not':>8}{'width':>8}\n"
    f"{'':<46}{'all':>10}{'runs':>9}{'below':>8}{'above':>8}{'holds':>8}{'fails':>8}{'shown':>8}{'%':>8}"
)


def table(found: Sequence[Sequence[Outcome]]) -> str:
    """One line a quantity; sampling error of a coverage of 95 % is 0.5 for 2,000 runs, 1.3 for 300."""
    lines = [HEADER]
    for rows in zip(*found, strict=True):

        def share(values: Sequence[bool]) -> float:
            return 100 * float(np.mean(values)) if len(values) else float("nan")

        covers = share([not (row.below or row.above) for row in rows])
        resolved = [row for row in rows if row.resolved]
        closed = share([not (row.below or row.above) for row in resolved])
        width = 100 * float(np.nanmedian([row.width for row in resolved])) if resolved else float("nan")
        name = f"{rows[0].quantity}, {rows[0].condition}".rstrip(", ")
        lines.append(
            f"{name:<46}{covers:10.1f}{closed:9.1f}{share([row.above for row in rows]):8.1f}"
            f"{share([row.below for row in rows]):8.1f}{share([row.wrongly_holds for row in rows]):8.1f}"
            f"{share([row.wrongly_fails for row in rows]):8.1f}{share([row.not_shown for row in rows]):8.1f}"
            f"{width:8.1f}"
        )
    resolved_share = 100 * float(np.mean([rows[0].resolved for rows in found]))
    return "\n".join([*lines, f"{len(found)} machines, {resolved_share:.1f} % of the runs resolved"])


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=2000)
    parser.add_argument("--processes", type=int, default=min(2, os.cpu_count() or 1))
    parser.add_argument("--seed", type=int, default=8200)
    asked = parser.parse_args()
    print(table(outcomes(asked.seed, asked.runs, asked.processes)))


if __name__ == "__main__":
    main()
