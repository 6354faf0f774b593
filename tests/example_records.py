"""The two invented records of the built-in case, made again: ``python tests/example_records.py`` writes them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import polars as pl

import rimmodel as rm
from rimmodel.evidence.synthetic import Run, virtual_run
from rimmodel.rotor.case.case import EXAMPLES
from rimmodel.units import MILLIMETRE, RPM

STEPS = (20, 40, 60, 75, 90, 100, 110, 120, 125, 132, 139, 146, 152, 158, 164, 170, 175, 179, 183, 187)
HEAD = """# INVENTED DATA: a virtual proving run of the invented machine Quillmere Q1, cold, without field.
# Steps up to overspeed and down again; 6 sensors in each of 2 planes; each row is the mean of 20 turns.
"""
COMMON = Run(
    speeds=tuple(np.array(STEPS) * RPM),
    readings=4,
    common_noise=0.012 * MILLIMETRE,
    offset=0.12 * MILLIMETRE,
    stator_ovality=0.15 * MILLIMETRE,
)
SETTLED = 0.6 * MILLIMETRE
"""Truth of the first record: the laminations settled, 1.5 mm of 2.1 mm are left."""

SHIMS = 0.3 * MILLIMETRE
"""Truth of the second record: what the correction gave back."""


def _settled(settlement: float) -> rm.Case:
    case = rm.example_case()
    return replace(case, rotor=replace(case.rotor, fit=replace(case.rotor.fit, settlement=settlement)))


def proving_run() -> pl.DataFrame:
    """Up and down, turn means."""
    case = _settled(SETTLED)
    run = replace(COMMON, noise=0.05 * MILLIMETRE, outlier_share=0.0015, outlier_size=0.9 * MILLIMETRE, seed=22)
    return virtual_run(case.rotor, case.conditions["cold"], run)


def after_correction() -> pl.DataFrame:
    """Up only, every pole; the floating rim walks off centre and turns oval."""
    case = _settled(SETTLED - SHIMS)
    run = replace(
        COMMON,
        noise=0.06 * MILLIMETRE,
        outlier_share=0.001,
        outlier_size=0.9 * MILLIMETRE,
        per_pole=True,
        run_down=False,
        eccentricity=0.12 * MILLIMETRE,
        ovality=0.2 * MILLIMETRE,
        pole_scatter=0.08 * MILLIMETRE,
        eccentricity_when_free=0.25 * MILLIMETRE,
        ovality_when_free=0.3 * MILLIMETRE,
        seed=42,
    )
    frame = virtual_run(case.rotor, case.conditions["cold"], run)
    small = [pl.col(name).cast(pl.Float32) for name in ("time [s]", "speed [rpm]", "angle [deg]")]
    return frame.with_columns(pl.col("gap [mm]").round(3).cast(pl.Float32), pl.col("pole").cast(pl.UInt8), *small)


def main(folder: Path = EXAMPLES) -> None:
    """Write both files."""
    (folder / "quillmere_run.csv").write_text(HEAD + proving_run().write_csv(float_precision=3), encoding="utf-8")
    after_correction().write_parquet(folder / "quillmere_run_after.parquet", compression="zstd", compression_level=19)


if __name__ == "__main__":
    main()
