"""Invented runs that the tests reduce; no number in them comes from a machine."""

from __future__ import annotations

import numpy as np
import polars as pl
from numpy.typing import NDArray

from rimmodel.evidence.recording.read import Recording, read_recording

Floats = NDArray[np.float64]
LEVELS = [20.0, 60.0, 100.0, 120.0, 140.0, 160.0, 180.0]


def true_gap(speed_rpm: Floats | float) -> Floats:
    """Invented: 15 mm, falling with speed squared, a knee at 150 rpm; in mm."""
    x = np.asarray(speed_rpm) ** 2
    return 15.0 - 1e-5 * x - 3e-5 * np.maximum(x - 150.0**2, 0.0)


def history(levels: list[float], hold: float = 120.0, ramp: float = 30.0, step: float = 1.0) -> tuple[Floats, Floats]:
    """Time in s and speed in rpm: hold, ramp, hold, ..."""
    corners, speeds = [0.0], [levels[0]]
    for level in levels:
        if corners[-1]:
            corners.append(corners[-1] + ramp)
            speeds.append(level)
        corners.append(corners[-1] + hold)
        speeds.append(level)
    time = np.arange(0.0, corners[-1], step)
    return time, np.interp(time, corners, speeds)


def run(
    levels: list[float] = LEVELS, *, sensors: int = 4, noise: float = 0.03, seed: int = 1, **options: float
) -> pl.DataFrame:
    random = np.random.default_rng(seed)
    time, speed = history(levels, **options)
    offset = 0.3 * np.cos(2 * np.pi * np.arange(sensors) / sensors)
    gap = true_gap(speed)[:, None] + offset + noise * random.standard_normal((time.size, sensors))
    names = [f"G{i + 1}" for i in range(sensors)]
    return pl.DataFrame(
        {
            "time [s]": np.repeat(time, sensors),
            "speed [rpm]": np.repeat(speed + 0.02 * random.standard_normal(time.size), sensors),
            "gap [mm]": gap.ravel(),
            "sensor": names * time.size,
        }
    )


def read(frame: pl.DataFrame, **options: object) -> Recording:
    return read_recording(frame, **options)  # type: ignore[arg-type]
