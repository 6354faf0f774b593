"""How often each remark is made of clean runs: ``python -m tests.benchmarks.remark_rate [runs]``.

Clean means: independent noise of one size, a sharp knee in the middle of a run up and down, and a machine that differs
from its case no further than the case says. A remark that doubts such a run is a false alarm; a remark that states
what no run can show (which unknowns hang together, what rests on the prior) is counted beside. All data are invented.
"""

from __future__ import annotations

import re
import sys
from collections import Counter
from dataclasses import replace

import numpy as np

from rimmodel.behaviour import interference_for_float_speed, sweep
from rimmodel.evidence.measured.measure import measure_points
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.rotor import Condition
from rimmodel.units import MILLIMETRE
from tests.benchmarks.backfit_calibration import as_built, machine, points_of


def clean_run(seed: int, number: int) -> Measurement:
    """What is measured of run `number`, from nothing but that number and the seed."""
    random, cold = np.random.default_rng([seed, number]), Condition()
    paper = machine(random)
    built = as_built(paper, random)
    highest = float(paper.speeds.rated) * 3.62 / float(paper.rim.inner_radius) * random.uniform(1.2, 1.7)
    lift = random.uniform(0.5, 0.9) * highest
    built = built.with_interference(float(interference_for_float_speed(built, cold, lift)))
    way_up = np.linspace(random.uniform(0.08, 0.15), 1.0, int(random.integers(12, 40)))
    share = np.concatenate([way_up, way_up[::-1]])
    size = float(np.exp(random.uniform(np.log(0.01), np.log(0.06)))) * MILLIMETRE
    gap = sweep(built, cold, share * highest).air_gap + size * random.standard_normal(len(share))
    points = points_of(share * highest, gap)
    points = replace(points, direction=np.where(np.arange(len(share)) < len(way_up), "up", "down"))
    return measure_points(paper, cold, points)


def kind(sentence: str) -> str:
    """The sentence without its numbers, shortened."""
    return " ".join(re.sub(r"[-+]?\d[\d.]*", "#", sentence).split()[:14])


def main(count: int = 200) -> None:
    """Print in how many of the runs each remark is made, those that resolve the knee apart."""
    counts: dict[bool, Counter[str]] = {True: Counter(), False: Counter()}
    runs: Counter[bool] = Counter()
    for number in range(count):
        found = clean_run(4104, number)
        resolved = found.verdict == "resolved"
        runs[resolved] += 1
        counts[resolved].update({kind(sentence) for sentence in found.reasons})
    for resolved, title in ((True, "resolved"), (False, "not resolved")):
        print(f"{runs[resolved]} of {count} clean runs {title}")
        for sentence, many in counts[resolved].most_common():
            print(f"  {many / runs[resolved]:6.1%}  {sentence}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
