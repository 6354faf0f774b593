"""Virtual test runs: invented recordings of a modelled rotor, to prove methods on a known truth and to plan tests.

Whatever comes out of here is invented data. It serves where the truth must be known; it is evidence of nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats
from rimmodel.behaviour import float_speed, sweep
from rimmodel.rotor import Condition, Rotor
from rimmodel.units import DEGREE, MILLIMETRE, in_mm, in_print, in_rpm

if TYPE_CHECKING:
    import polars


@dataclass(frozen=True)
class Run:
    """How a virtual run goes and what spoils its readings; lengths are radial.

    Each reading of a sensor is the mean of one turn, or one per pole where `per_pole` is set.

    Parameters
    ----------
    speeds : tuple of float, rad/s
        Dwell speeds of the run-up, rising; the run-down repeats them in reverse.
    ramps : bool
        Readings spread evenly between the dwell speeds instead of at them.
    dwell_time : float, s
    readings : int
        Of each sensor at each dwell (or between two dwell speeds).
    noise : float, m
        Standard deviation of one reading.
    common_noise : float, m
        Standard deviation of what all readings of one moment share: speed, heat and the machine itself.
    offset : float, m
        Standard deviation of the constant error of a sensor.
    drift : float, m/h
        Growth of all readings per hour.
    outlier_share : float, -
    outlier_size : float, m
    dead_sensors : tuple of int
        Counted from 1 through all planes; they give one constant value.
    orbit : float, m
        Radius of the shaft orbit; turns with the rotor and is seen per pole.
    eccentricity, ovality : float, m
        Amplitudes of the first and second harmonic of the rotor radius, seen per pole.
    eccentricity_when_free, ovality_when_free : float, m
        What a floating rim adds to both at the highest speed; it grows with speed squared from lift-off.
    stator_ovality, pole_scatter : float, m
    seat_take_up : float, m
        Outward move of the poles on their seats, complete at `seat_speed` in the first run-up.
    seat_speed : float, rad/s
    knee_spread : float, m
        Standard deviation of the interference over the keys: rounds the knee.
    stator_warming : float, K
        Rise of the stator temperature over the run.
    condition_columns : bool
        Add rim and stator temperature columns.
    """

    speeds: tuple[float, ...]
    run_down: bool = True
    ramps: bool = False
    dwell_time: float = 150.0
    readings: int = 5
    planes: tuple[str, ...] = ("upper", "lower")
    sensors_per_plane: int = 6
    per_pole: bool = False
    noise: float = 0.03 * MILLIMETRE
    common_noise: float = 0.0
    offset: float = 0.1 * MILLIMETRE
    drift: float = 0.0
    outlier_share: float = 0.0
    outlier_size: float = 1.0 * MILLIMETRE
    dead_sensors: tuple[int, ...] = ()
    orbit: float = 0.0
    eccentricity: float = 0.0
    ovality: float = 0.0
    eccentricity_when_free: float = 0.0
    ovality_when_free: float = 0.0
    stator_ovality: float = 0.0
    pole_scatter: float = 0.0
    seat_take_up: float = 0.0
    seat_speed: float = 0.0
    knee_spread: float = 0.0
    stator_warming: float = 0.0
    seed: int = 1
    condition_columns: bool = field(default=False)


def virtual_run(rotor: Rotor, condition: Condition, run: Run) -> polars.DataFrame:
    """An invented recording of a run, with the headers of a recording file.

    Parameters
    ----------
    rotor : Rotor
        The truth; its settlement and friction count.

    Returns
    -------
    polars.DataFrame
        Columns time [s], speed [rpm], sensor, angle [deg], plane, direction, gap [mm], with pole or temperatures
        where asked; one row per reading.

    The same seed gives the same run, and the truth is known: without noise the gap is the model's.

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> quiet = Run(speeds=(5.0, 10.0), run_down=False, readings=1, noise=0.0, offset=0.0)
    >>> frame = virtual_run(case.rotor, case.conditions["cold"], quiet)
    >>> model = rm.sweep(case.rotor, case.conditions["cold"], 5.0).air_gap
    >>> frame.shape, bool(abs(frame["gap [mm]"][0] - 1e3 * model) < 1e-4)
    ((24, 7), True)
    """
    import polars as pl

    rng = np.random.default_rng(run.seed)
    time, speed, up = _schedule(run)
    mean = _mean_gap(rotor, condition, run, speed, up)
    mean = mean + run.drift * time / 3600.0 + _stator_growth(rotor, run, time)
    mean = mean + rng.normal(0.0, 1.0, mean.shape) * run.common_noise
    poles = int(rotor.poles.count) if run.per_pole else 1
    sensors = run.sensors_per_plane * len(run.planes)
    angle = np.tile(np.arange(run.sensors_per_plane) * 360.0 / run.sensors_per_plane, len(run.planes))
    free = _share_of_free_range(rotor, condition, speed)
    gap = mean[:, None, None] + _shapes(run, rng, angle * DEGREE, poles, sensors, free)
    gap = gap + rng.normal(0.0, 1.0, gap.shape) * run.noise
    strays = rng.random(gap.shape) < run.outlier_share
    gap = np.where(strays, gap + run.outlier_size * rng.choice([-1.0, 1.0], gap.shape), gap)
    for number in run.dead_sensors:
        gap[:, number - 1] = gap[0, number - 1, 0]
    whole = gap.shape
    place, sensor, pole = (index.ravel() for index in np.indices(whole))
    columns = {
        "time [s]": np.round(time[place], 2),
        "speed [rpm]": np.round(in_rpm(speed[place]), 3),
        "sensor": np.array([f"S{number}" for number in range(1, sensors + 1)])[sensor],
        "angle [deg]": angle[sensor],
        "plane": np.repeat(run.planes, run.sensors_per_plane)[sensor],
        "direction": np.where(up, "up", "down")[place],
        "gap [mm]": np.round(in_mm(gap.ravel()), 4),
    }
    if run.per_pole:
        columns["pole"] = pole + 1
    if run.condition_columns:
        columns["rim_temperature [degC]"] = np.full(gap.size, in_print(float(condition.rim_temperature), "temperature"))
        warm = in_print(float(condition.stator_temperature), "temperature") + run.stator_warming * time / time.max()
        columns["stator_temperature [degC]"] = np.round(warm[place], 2)
    return pl.DataFrame(columns)


def _schedule(run: Run) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Time (s), speed (rad/s) and direction (True is up) of every reading."""
    speeds = np.asarray(run.speeds, dtype=float)
    stops = np.concatenate([speeds, speeds[::-1]]) if run.run_down else speeds
    ups = np.arange(len(stops)) < len(speeds)
    step = (np.arange(run.readings) + 0.5) / run.readings
    start = np.arange(len(stops)) * 1.4 * run.dwell_time
    time = (start[:, None] + step * run.dwell_time).ravel()
    if run.ramps:
        following = np.append(stops[1:], stops[-1])
        speed = (stops[:, None] + (following - stops)[:, None] * step).ravel()
    else:
        speed = np.repeat(stops, run.readings)
    return time, speed, np.repeat(ups, run.readings)


def _mean_gap(rotor: Rotor, condition: Condition, run: Run, speed: Floats, up: NDArray[np.bool_]) -> Floats:
    directions: tuple[tuple[Literal["up", "down"] | None, NDArray[np.bool_]], ...] = (("up", up), ("down", ~up))
    # keys of uneven interference lift off one by one: the mean gap is near the mean over their interferences
    nodes = _normal_quantiles() if run.knee_spread else np.zeros(1)
    gap = np.empty_like(speed)
    for direction, chosen in directions:
        per_key = rotor.with_interference(rotor.fit.interference + run.knee_spread * nodes[:, None])
        gaps = sweep(per_key, condition, speed[chosen], direction).air_gap
        # the assembled gap is one and the same for all keys, whatever their interference
        assembled = sweep(per_key, condition, np.zeros(1), direction).air_gap
        level = sweep(rotor, condition, 0.0, direction).air_gap
        gap[chosen] = (np.broadcast_to(gaps, (len(nodes), chosen.sum())) - assembled).mean(axis=0) + level
    if run.seat_take_up:
        highest_yet = np.maximum.accumulate(speed)
        gap = gap - run.seat_take_up * np.minimum(highest_yet / run.seat_speed, 1.0) ** 2
    return gap


def _normal_quantiles(count: int = 400) -> Floats:
    """Equally likely values of a standard normal: a kink needs many, smooth quadrature would miss it."""
    from scipy.special import ndtri

    values: Floats = ndtri((np.arange(count) + 0.5) / count)
    return values


def _stator_growth(rotor: Rotor, run: Run, time: Floats) -> Floats:
    expansion = rotor.air_gap.stator_thermal_expansion
    alpha = float(rotor.rim.material.thermal_expansion if expansion is None else expansion)
    growth: Floats = alpha * float(rotor.stator_bore_radius) * run.stator_warming * time / time.max()
    return growth


def _share_of_free_range(rotor: Rotor, condition: Condition, speed: Floats) -> Floats:
    """0 while seated, then rising with speed squared to 1 at the highest speed."""
    lift_off = float(float_speed(rotor, condition).speed)
    span = speed.max() ** 2 - lift_off**2
    return np.maximum(speed**2 - lift_off**2, 0.0) / span if span > 0 else np.zeros_like(speed)


def _shapes(run: Run, rng: np.random.Generator, angle: Floats, poles: int, sensors: int, free: Floats) -> Floats:
    """What each sensor and pole adds to the mean gap, (reading, sensor, pole): offsets, stator and rotor shape."""
    offset = rng.normal(0.0, 1.0, sensors) * run.offset
    stator = run.stator_ovality * np.cos(2 * (angle - 0.4))
    if poles == 1:  # the mean of a whole turn holds none of the rotor's shape
        return (offset + stator)[None, :, None]
    turning = 2 * np.pi * np.arange(poles) / poles
    off_centre = run.eccentricity + run.orbit + run.eccentricity_when_free * free
    oval = run.ovality + run.ovality_when_free * free
    rotor_radius = off_centre[:, None] * np.cos(turning - 1.1) + oval[:, None] * np.cos(2 * (turning - 0.7))
    rotor_radius = rotor_radius + rng.normal(0.0, 1.0, poles) * run.pole_scatter
    return (offset + stator)[None, :, None] - rotor_radius[:, None, :]
