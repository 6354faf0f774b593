"""How often clean virtual runs are refused or doubted, sentence by sentence: ``python -m tests.benchmarks.doubt_rate``.

Runs differ in speeds, sensors, noise, drift, warming of the stator, seat take-up, shape, columns and reach, as legal
recordings do; every refusal or doubt of the values is a false alarm. All data are invented.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
import polars as pl

import rimmodel as rm
from rimmodel.evidence.measured.growth import growth_doubts
from rimmodel.evidence.measured.measure import measure, with_case
from rimmodel.evidence.measured.neighbours import case_freedom
from rimmodel.evidence.recording.delimited import RecordingError
from rimmodel.evidence.reduction.speed_points import speed_points
from rimmodel.evidence.reduction.temperatures import temperature_doubts
from rimmodel.evidence.synthetic import Run, virtual_run
from rimmodel.rotor.requirements import CaseRecord
from rimmodel.units import MILLIMETRE, RPM
from rimmodel.verdict.record_checks import open_record

STEPS = np.array([20, 40, 60, 75, 90, 100, 110, 120, 125, 132, 139, 146, 152, 158, 164, 170, 175, 179, 183, 187])


def legal_run(case: rm.Case, condition: str, rng: np.random.Generator) -> pl.DataFrame:
    """One clean run of the built-in case with its interference off by up to what settles, and its options by chance."""
    rotor = replace(case.rotor, fit=replace(case.rotor.fit, settlement=rng.uniform(0.0, 0.7) * MILLIMETRE))
    rotor = replace(rotor, rim=replace(rotor.rim, hoop_stiffness_factor=0.85 * np.exp(0.1 * rng.normal())))
    reach = rng.choice([1.0, 1.0, 0.7, 0.4])
    run = Run(
        speeds=tuple(np.unique(np.round(STEPS * reach)) * RPM),
        run_down=bool(rng.random() < 0.6),
        ramps=bool(rng.random() < 0.2),
        readings=int(rng.integers(1, 8)),
        planes=("upper", "lower") if rng.random() < 0.5 else ("",),
        sensors_per_plane=int(rng.choice([1, 2, 4, 6])),
        per_pole=bool(rng.random() < 0.1),
        noise=rng.uniform(0.01, 0.08) * MILLIMETRE,
        common_noise=rng.uniform(0.0, 0.02) * MILLIMETRE,
        offset=rng.uniform(0.0, 0.2) * MILLIMETRE,
        drift=rng.normal(0.0, 0.03) * MILLIMETRE,
        outlier_share=rng.choice([0.0, 0.002]),
        eccentricity=rng.uniform(0.0, 0.2) * MILLIMETRE,
        eccentricity_when_free=rng.uniform(0.0, 0.3) * MILLIMETRE,
        stator_ovality=rng.uniform(0.0, 0.3) * MILLIMETRE,
        pole_scatter=0.08 * MILLIMETRE,
        seat_take_up=rng.choice([0.0, 0.05]) * MILLIMETRE,
        seat_speed=60.0 * RPM,
        stator_warming=rng.uniform(0.0, 3.0),
        condition_columns=bool(rng.random() < 0.5),
        seed=int(rng.integers(1 << 30)),
    )
    frame = virtual_run(rotor, case.conditions[condition], run)
    unused = [name for name in ("time [s]", "direction", "angle [deg]", "plane") if rng.random() < 0.15]
    frame = frame.drop([*unused, *(["plane"] if run.planes == ("",) and "plane" not in unused else [])])
    if "rim_temperature [degC]" in frame.columns:
        steps = [
            pl.col(name) + rng.normal(0.0, 0.5) for name in ("rim_temperature [degC]", "stator_temperature [degC]")
        ]
        frame = frame.with_columns(steps)
    if rng.random() < 0.25:
        start = frame.filter(pl.col("speed [rpm]") == pl.col("speed [rpm]").min())["gap [mm]"].mean()
        frame = frame.with_columns(pl.col("gap [mm]") - start).rename({"gap [mm]": "gap_change [mm]"})
    return frame


def said_of(case: rm.Case, condition: str, frame: pl.DataFrame, folder: Path, *, fitted: bool) -> list[str]:
    """First words of every refusal and doubt of the values."""
    path = folder / "run.csv"
    frame.write_csv(path)
    record = CaseRecord(str(path), condition, "run")
    state = case.conditions[condition]
    try:
        recording = open_record(case, record, path)
        points = speed_points(recording)
        found = temperature_doubts(case.rotor, state, points)
        said = [*points.remarks, *points.disqualified, *growth_doubts(case.rotor, state, points), *found.remarks]
        said += found.disqualified
        if fitted:
            seen = measure(case.rotor, state, recording, condition, freedom=case_freedom(case))
            said += [f"fit: {one}" for one in with_case(seen, case, record).disqualified if one not in said]
    except RecordingError as error:
        said = [f"REFUSED {str(error).split(': ', 1)[-1]}"]
    return [" ".join(sentence.split()[:9]) for sentence in said]


def main(count: int = 300, fitted_every: int = 4) -> None:
    """Print how many of the runs each sentence is said of."""
    case, rng = rm.example_case(), np.random.default_rng(7)
    counts: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as folder:
        for number in range(count):
            condition = "hot" if rng.random() < 0.3 else "cold"
            frame = legal_run(case, condition, rng)
            found = said_of(case, condition, frame, Path(folder), fitted=number % fitted_every == 0)
            counts.update(set(found))
    for sentence, many in counts.most_common():
        print(f"{many:4d} of {count}  {sentence}")
    print(f"{count} clean runs, every {fitted_every}th fitted")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
