"""Invented machines that run several times: stiffnesses stay, the interference changes from run to run."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

import rimmodel as rm
from rimmodel.arrays import Floats
from rimmodel.evidence.backfit.gap_model import PARAMETERS, gap_model
from rimmodel.evidence.measured.measure import measure_points
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.evidence.reduction.speed_points import SpeedPoints
from rimmodel.units import RPM

CASE = rm.example_case()
COLD = CASE.conditions["cold"]
ROTOR = CASE.rotor


def points_of(speed: Floats, gap: Floats, **changes: object) -> SpeedPoints:
    """Speed points of one run-up in its order of time."""
    none, number = np.full(speed.shape, np.nan), np.ones(speed.shape, dtype=int)
    time = 300.0 * np.arange(len(speed), dtype=float)
    plain = SpeedPoints(
        speed, gap, none, gap, gap, number, 0 * number, np.full(speed.shape, "up"), np.full(speed.shape, ""),
        np.ones(speed.shape, dtype=bool), time, none, none, False, (), none, none,
    )  # fmt: skip
    return replace(plain, **changes)  # type: ignore[arg-type]


def unknowns(interference: float, hoop: float = 0.0, spider: float = 0.0) -> Floats:
    """Unknowns (1, parameter) of a machine; stiffnesses as logarithms of their ratio to the case."""
    row = np.zeros((1, len(PARAMETERS)))
    row[0, :3] = interference, hoop, spider
    return row


def run_of(truth: Floats, random: np.random.Generator, *, count: int = 20, noise: float = 0.03e-3) -> Measurement:
    """One virtual run with its measurement, white noise."""
    speed = np.linspace(40.0, 195.0, count) * RPM
    up: NDArray[np.str_] = np.full(count, "up")
    gap = gap_model(ROTOR, COLD, speed, up, 300.0 * np.arange(count)).gaps(truth)[0]
    found = points_of(speed, gap + noise * random.standard_normal(count) + 0.1e-3 * random.standard_normal())
    return measure_points(ROTOR, COLD, found, "cold", label=f"run {random.integers(1_000_000)}")


def warm_run(
    truth: Floats,
    random: np.random.Generator,
    *,
    rim: float = 12.0,
    spider: float = 6.0,
    stator: float = 8.0,
    gains: Floats | None = None,
    count: int = 24,
    noise: float = 0.03e-3,
    recorded: bool = True,
) -> Measurement:
    """A run in which rim, spider and stator warm exponentially; the bodies move by gains more than was recorded."""
    speed = np.linspace(40.0, 195.0, count) * RPM
    up: NDArray[np.str_] = np.full(count, "up")
    time = 300.0 * np.arange(count)
    rise = (1.0 - np.exp(-2.0 * time / time[-1])) / (1.0 - np.exp(-2.0))
    warm = {"rim": rim * rise, "spider": spider * rise**2, "stator": stator * np.sqrt(rise)}
    row = truth.copy()
    row[0, -3:] = 0.0 if gains is None else gains
    gap = gap_model(ROTOR, COLD, speed, up, time, warm).gaps(row)[0]
    kelvin = {f"{name}_temperature": 293.15 + value for name, value in warm.items()} if recorded else {}
    found = points_of(speed, gap + noise * random.standard_normal(count), **kelvin)
    return measure_points(ROTOR, COLD, found, "cold", label="warm run")
