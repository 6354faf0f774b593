"""How often pooled intervals hold the truth: ``python -m tests.benchmarks.pooling_calibration [units | runs | heat]``.

Virtual families with a true spread from none to large; machines that run three times, with a run that does not belong;
and runs under warming with recorded temperatures, with and without a knee. All invented.
"""

from __future__ import annotations

import sys

import numpy as np

from rimmodel.evidence.pooling.family import pooled_family
from rimmodel.evidence.pooling.runs import pooled_runs
from tests.evidence.virtual_machines import COLD, run_of, unknowns, warm_run


def units(families: int = 400) -> None:
    """Coverage over all units, of the unit that is held least often, and of the truly lowest of each family."""
    random = np.random.default_rng(1)
    print("units  spread/error  all    least  lowest  length over own  taken apart")
    for count in (4, 8, 12):
        for spread in (0.0, 0.5, 1.0, 2.0, 5.0):
            held, lowest, length, apart = np.zeros(count), 0, 0.0, 0
            for _ in range(families):
                error = np.sort(random.uniform(0.7, 1.4, count))
                true = random.normal(0.0, spread, count)
                found = pooled_family(true + error * random.standard_normal(count), error)
                inside = (found.low <= true) & (true <= found.high)
                held += inside
                lowest += int(inside[np.argmin(true)])
                length += float(np.mean((found.high - found.low) / (3.92 * error)))
                apart += bool(found.apart.any())
            rates = (held.mean() / families, held.min() / families, lowest / families)
            print(f"{count:5}  {spread:12.1f}  " + "  ".join(f"{rate:.3f}" for rate in rates), end="")
            print(f"   {length / families:15.2f}  {apart / families:11.3f}")


def runs(machines: int = 100) -> None:
    """Coverage of the interference alone and pooled, and how often pooling is refused, by what is wrong with a run."""
    print("third run's hoop stiffness  alone  pooled  length pooled over alone  refused")
    for odd in (0.0, 0.1, 0.25):
        random = np.random.default_rng(2)
        held, shorter, refused, count = np.zeros(2), [], 0, 0
        for _ in range(machines):
            hoop, spider = random.normal(0.0, 0.15), random.normal(0.0, 0.5)
            left = random.normal(1.5e-3, 0.15e-3, 3)
            tests = [
                run_of(unknowns(value, hoop + odd * (place == 2), spider), random, count=30, noise=0.02e-3)
                for place, value in enumerate(left)
            ]
            found = pooled_runs(tests)
            if found is None:
                continue
            refused += bool(found.refused)
            where = {row.label: value for row, value in zip(tests, left, strict=True)}
            for row in found.runs:
                ends = (row.noise_interval, row.pooled_noise_interval)
                held += [low <= where[row.label] <= high for low, high in ends]
                count += 1
                if np.isfinite(ends).all():
                    shorter.append(np.ptp(ends[1]) / np.ptp(ends[0]))
        rates = held / max(count, 1)
        print(f"{odd:+26.2f}  {rates[0]:.3f}  {rates[1]:.3f}  {np.median(shorter):24.2f}  {refused / machines:7.3f}")


def heat(count: int = 200) -> None:
    """Knees found under warming: where there is none, and coverage where there is one."""
    print("truth      recorded  resolved  holds  holds where resolved")
    for name, recorded in (("no knee", True), ("no knee", False), ("knee", True)):
        random = np.random.default_rng(3)
        resolved = held = both = 0
        for _ in range(count):
            left = 3.6e-3 if name == "no knee" else random.uniform(1.3e-3, 1.7e-3)
            truth = unknowns(left, random.normal(0.0, 0.1), random.normal(0.0, 0.4))
            gains = random.normal(0.0, 0.15, 3)
            found = warm_run(truth, random, gains=gains, recorded=recorded, count=30, noise=0.02e-3)
            true = float(np.sqrt(found.fits[""].model.knee(truth, None, COLD)[0]))
            inside = found.float_speed_interval[0] <= true <= found.float_speed_interval[1]
            resolved += found.verdict == "resolved"
            held += inside
            both += inside and found.verdict == "resolved"
        print(f"{name:9}  {recorded!s:8}  {resolved / count:8.3f}  {held / count:.3f}  {both / max(resolved, 1):.3f}")


if __name__ == "__main__":
    for asked in sys.argv[1:] or ("units", "runs", "heat"):
        {"units": units, "runs": runs, "heat": heat}[asked]()
