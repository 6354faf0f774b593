"""How often planes, and sensors, that lift off together are taken for apart.

Run it as ``python -m tests.benchmarks.knee_equality``.

Every run is invented. What moves all readings of a moment (speed, heat, the machine) is shared by all sensors, beside
noise of each sensor's own; some runs drift, some have keys that lift off one by one. A taper is a plane with more
interference than the other, by a share of the mean.

Measured on 300 runs each, of which 268 show a knee: planes that lift off together are taken for apart in 1.1 % of the
runs at a chance of 0.02, which `EQUAL` is, and in 2.2 % at 0.05, sensors in 1.5 and 2.6 %; a taper of 10 % is found in
88 and 96 %, one of 5 % in 61 and 74 %. The interval of 95 % holds the difference in 96 to 98 %.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import polars as pl

import rimmodel as rm
from rimmodel.evidence.knee.of_points import find_knee, moments
from rimmodel.evidence.measured.spread import EQUAL, KneeSpread, plane_spread, sensor_spread
from rimmodel.evidence.recording.read import read_recording
from rimmodel.evidence.reduction.condensed import reduce_recording
from rimmodel.evidence.reduction.sensor_gaps import sensor_gaps
from rimmodel.evidence.reduction.speed_points import speed_points
from rimmodel.evidence.synthetic import Run, virtual_run
from rimmodel.units import MILLIMETRE, RPM

CASE = rm.example_case()
COLD = CASE.conditions["cold"]
SEED = 20261

PLANES = ("upper", "lower")


def invented(number: int, taper: float = 0.0, seed: int = SEED) -> pl.DataFrame:
    """A run whose planes have the same interference, or that of the upper one is larger by a share of the mean."""
    random = np.random.default_rng([seed, number])
    stops = int(random.integers(10, 18))
    run = Run(
        speeds=tuple(np.linspace(20.0, random.uniform(220.0, 250.0), stops) * RPM),
        run_down=bool(random.random() < 0.6),
        noise=random.uniform(0.01, 0.04) * MILLIMETRE,
        common_noise=random.uniform(0.01, 0.05) * MILLIMETRE,
        drift=random.choice([0.0, 0.03]) * MILLIMETRE,
        knee_spread=random.choice([0.0, 0.05]) * MILLIMETRE,
        seed=number,
    )
    mean = CASE.rotor.fit.interference
    parts = []
    for plane, share in zip(PLANES, (1.0 + 0.5 * taper, 1.0 - 0.5 * taper), strict=True):
        # one seed: what is shared is shared by both planes
        frame = virtual_run(CASE.rotor.with_interference(share * mean), COLD, run)
        parts.append(frame.filter(pl.col("plane") == plane))
    return pl.concat(parts)


def spreads(frame: pl.DataFrame, *, sensors: bool) -> tuple[KneeSpread | None, KneeSpread | None]:
    """Comparison of planes, and of sensors where asked, as `measure` makes them."""
    recording = read_recording(frame)
    reduction = reduce_recording(recording)
    points, gaps = speed_points(recording, reduction=reduction), sensor_gaps(recording, reduction)
    when = moments(points)
    knee = find_knee(points).knee
    planes = plane_spread(points.speed, when, gaps, knee)
    return planes, sensor_spread(points.speed, when, gaps, knee) if sensors else None


@dataclass(frozen=True)
class Row:
    """What one run said: chances, and whether the interval held the true difference of speeds."""

    planes: float
    sensors: float
    held: bool


def rows(count: int, taper: float = 0.0, *, sensors: bool = False, seed: int = SEED) -> Iterator[Row]:
    """One row for each run whose mean shows a knee."""
    mean = CASE.rotor.fit.interference
    upper, lower = (
        float(rm.float_speed(CASE.rotor.with_interference(share * mean), COLD).speed)
        for share in (1.0 + 0.5 * taper, 1.0 - 0.5 * taper)
    )
    for number in range(count):
        planes, single = spreads(invented(number, taper, seed), sensors=sensors)
        if planes is not None:
            low, high = next(one.interval for one in planes.knees if one.name == "upper")
            yield Row(planes.p_value, 1.0 if single is None else single.p_value, low <= upper - lower <= high)


def main() -> None:
    """Print rates for both."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=300)
    count = parser.parse_args().count
    for taper in (0.0, 0.05, 0.1):
        found = list(rows(count, taper, sensors=taper == 0.0))
        planes, sensors = (np.array([getattr(row, name) for row in found]) for name in ("planes", "sensors"))
        rates = ", ".join(f"{level:g}: {np.mean(planes < level):.3f}" for level in (EQUAL, 0.05, 0.2))
        print(f"taper {100 * taper:.0f} %: {len(found)} runs with a knee; planes apart at {rates}", end="")
        print(f"; difference held in {np.mean([row.held for row in found]):.3f}", end="")
        print(f"; sensors apart at {EQUAL:g}: {np.mean(sensors < EQUAL):.3f}, 0.05: {np.mean(sensors < 0.05):.3f}")


if __name__ == "__main__":
    main()
