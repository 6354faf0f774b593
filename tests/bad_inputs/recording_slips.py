"""Plausible slips in a recording, each made from a clean virtual run of the built-in case; all data are invented.

A slip changes a good table as somebody in a hurry would; the words are what the refusal, or the named doubt, must hold.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import polars as pl

import rimmodel as rm
from rimmodel.evidence.synthetic import Run, virtual_run
from rimmodel.units import MILLIMETRE, RPM

STEPS = (20, 40, 60, 75, 90, 100, 110, 120, 125, 132, 139, 146, 152, 158, 164, 170, 175, 179, 183, 187)
SPEED, GAP, CHANGE, TIME = "speed [rpm]", "gap [mm]", "gap_change [mm]", "time [s]"
RIM, SPIDER, STATOR = "rim_temperature [degC]", "spider_temperature [degC]", "stator_temperature [degC]"


def settled_case() -> rm.Case:
    """The built-in case with the 0.6 mm that its first record has lost, without keys and without other conditions."""
    case = rm.example_case()
    fit = replace(case.rotor.fit, settlement=0.6 * MILLIMETRE)
    return replace(case, rotor=replace(case.rotor, fit=fit))


@cache
def clean(seed: int = 5) -> pl.DataFrame:
    """A run up and down, six sensors, with temperatures of all bodies that a record may hold."""
    case = settled_case()
    run = Run(
        speeds=tuple(np.array(STEPS) * RPM),
        readings=4,
        sensors_per_plane=3,
        noise=0.05 * MILLIMETRE,
        common_noise=0.012 * MILLIMETRE,
        offset=0.12 * MILLIMETRE,
        condition_columns=True,
        seed=seed,
    )
    return virtual_run(case.rotor, case.conditions["cold"], run).with_columns(pl.lit(20.0).alias(SPIDER))


@cache
def changes() -> pl.DataFrame:
    """The same run as changes from the slowest point."""
    frame = clean()
    start = frame.filter(pl.col(SPEED) == pl.col(SPEED).min())[GAP].mean()
    return frame.with_columns((pl.col(GAP) - start).alias(CHANGE)).drop(GAP)


Frame = pl.DataFrame
Change = Callable[[Frame], Frame]


@dataclass(frozen=True)
class Slip:
    """A slip: its name, what it does to a clean frame, and words of the message."""

    name: str
    change: Change
    words: str
    start: Callable[[], Frame] = clean
    excited: bool = False


def scaled(column: str, factor: float, offset: float = 0.0) -> Change:
    return lambda frame: frame.with_columns(pl.col(column) * factor + offset)


def headed(column: str, header: str) -> Change:
    return lambda frame: frame.rename({column: header})


def one_sensor(sensor: str, column: str, factor: float) -> Change:
    chosen = pl.when(pl.col("sensor") == sensor)
    return lambda frame: frame.with_columns(chosen.then(pl.col(column) * factor).otherwise(pl.col(column)))


def column(name: str, values: Callable[[int], object]) -> Change:
    return lambda frame: frame.with_columns(pl.Series(name, values(frame.height)))


def first_rows(name: str, value: float, count: int = 1) -> Change:
    row = pl.int_range(pl.len())
    return lambda frame: frame.with_columns(pl.when(row < count).then(value).otherwise(pl.col(name)).alias(name))


def set_to(name: str, value: object) -> Change:
    return lambda frame: frame.with_columns(pl.lit(value).alias(name))


def warming(name: str, by: float) -> Change:
    return lambda frame: frame.with_columns(pl.col(name) + by * pl.col(TIME) / pl.col(TIME).max())


def swapped_directions(frame: Frame) -> Frame:
    other = pl.when(pl.col("direction") == "up").then(pl.lit("down")).otherwise(pl.lit("up"))
    return frame.with_columns(other.alias("direction"))


def backward_clock(frame: Frame) -> Frame:
    return frame.with_columns((pl.col(TIME).max() - pl.col(TIME)).alias(TIME))


def two_runs_one_clock(frame: Frame) -> Frame:
    up = frame.filter(pl.col("direction") == "up")
    down = frame.filter(pl.col("direction") == "down")
    return pl.concat([up, down.with_columns(pl.col(TIME) - pl.col(TIME).min() + up[TIME].min())])


def pasted_twice(frame: Frame) -> Frame:
    return pl.concat([frame, frame])


def rotor_angle(frame: Frame) -> Frame:
    return frame.with_columns((pl.int_range(pl.len()) * 7.5 % 360.0).alias("angle [deg]"))


def first_columns_swapped(frame: Frame) -> Frame:
    return frame.with_columns(pl.col(SPEED).alias(GAP), pl.col(GAP).alias(SPEED))


def growth_as_gap(frame: Frame) -> Frame:
    return frame.with_columns((2 * pl.col(GAP).max() - pl.col(GAP)).alias(GAP))


SLIPS = (
    # speed
    Slip("revolutions per second under rpm", scaled(SPEED, 1 / 60), "a factor of 60: revolutions per second"),
    Slip("rad/s under rpm", scaled(SPEED, RPM), "a factor of 9.549: rad/s"),
    Slip("rpm under rad/s", headed(SPEED, "speed [rad/s]"), "a factor of 9.549: rad/s"),
    Slip(
        "electrical frequency under rpm", scaled(SPEED, 48 / 120), "a factor of 2.5 in speed: the electrical frequency"
    ),
    Slip("share of rated under rpm", scaled(SPEED, 1 / 125), "check the unit of the speed column"),
    Slip("tens of rpm", scaled(SPEED, 10.0), "check the unit of the speed column"),
    Slip("tenths of rpm", scaled(SPEED, 0.1), "check the unit of the speed column"),
    Slip("speed of a slow roll only", scaled(SPEED, 0.1), "nothing can be read from a run below 0.2 of rated speed"),
    Slip("speed signal stuck", set_to(SPEED, 125.0), "are at one speed"),
    Slip("gap and speed swapped", first_columns_swapped, "this is impossible on the machine"),
    # gap
    Slip("um under mm", scaled(GAP, 1000.0), "a factor of 1000: um or m?"),
    Slip("mm under um", headed(GAP, "gap [um]"), "a factor of 1000: um or m?"),
    Slip("m under mm", scaled(GAP, 0.001), "a factor of 1000: um or m?"),
    Slip("mm under m", headed(GAP, "gap [m]"), "this is impossible on the machine"),
    Slip("inches under mm", scaled(GAP, 1 / 25.4), "a factor of 25.4: inches?"),
    Slip("mm under inches", headed(GAP, "gap [in]"), "a factor of 25.4: inches?"),
    Slip("cm under mm", scaled(GAP, 0.1), "a factor of 10"),
    Slip("mm under cm", headed(GAP, "gap [cm]"), "a factor of 10"),
    Slip("thousandths of an inch under mm", scaled(GAP, 39.37), "a factor of 39.37"),
    Slip("5 mm too wide", scaled(GAP, 1.0, 5.0), "mm wider than the case allows"),
    Slip("5 mm too narrow", scaled(GAP, 1.0, -5.0), "mm narrower than the case allows"),
    Slip("30 % above the cold gap", scaled(GAP, 1.3), "mm wider than the case allows"),
    Slip("gap over the diameter", scaled(GAP, 2.0), "this is impossible on the machine"),
    Slip("half the gap", scaled(GAP, 0.5), "check the unit of the gap column"),
    Slip("growth counted as gap", growth_as_gap, "the gap grows with speed"),
    Slip("all gaps zero", set_to(GAP, 0.0), "zero or negative"),
    Slip("all gaps alike", set_to(GAP, 15.5), "stuck"),
    Slip("gap in percent of the cold gap", scaled(GAP, 100 / 16.0), "this is impossible on the machine"),
    # change of gap
    Slip("growth counted as change", scaled(CHANGE, -1.0), "the gap grows with speed", changes),
    Slip("um of change under mm", scaled(CHANGE, 1000.0), "mm", changes),
    Slip("m of change under mm", scaled(CHANGE, 0.001), "a factor of 1000 in gap: um or m?", changes),
    Slip("inches of change under mm", scaled(CHANGE, 1 / 25.4), "a factor of 25.4 in gap: inches?", changes),
    Slip("tenths of a millimetre of change", scaled(CHANGE, 10.0), "a factor of 10 in gap", changes),
    Slip("gap headed as change", headed(GAP, CHANGE), "head the column gap where it holds gaps"),
    Slip("change headed as gap", headed(CHANGE, GAP), "changes of gap are headed gap_change", changes),
    Slip("rad/s under rpm with changes", scaled(SPEED, RPM), "a factor of 9.549: rad/s", changes),
    # temperatures and field
    Slip("-300 degC", first_rows(RIM, -300.0), "is outside of -60 to 250 degC (-300 degC)"),
    Slip("kelvin under degC", scaled(STATOR, 1.0, 273.15), "is outside of -60 to 250 degC"),
    Slip("logger's code for no reading", first_rows(STATOR, -9999.0, 3), "leave the field empty"),
    Slip("hot rim in a cold run", scaled(RIM, 1.0, 40.0), "recorded temperatures differ from the condition: rim 60.0"),
    Slip("cold spider", scaled(SPIDER, 1.0, -12.0), "rim over spider +12.0 K against +0.0 K"),
    Slip("hot stator in a cold run", scaled(STATOR, 1.0, 45.0), "stator 65.0 degC against 20.0 degC"),
    Slip(  # in which it does not show
        "rim warms by 25 K in the run", warming(RIM, 25.0), "they move as if the rim had departed from the condition by"
    ),
    Slip("excited run under a cold condition", set_to("excitation", "on"), "has no field"),
    Slip("excitation in percent", set_to("excitation", "100 %"), "has no field"),
    Slip("unexcited run under an excited condition", set_to("excitation", "off"), "has a field", excited=True),
    # contradictions
    Slip("directions swapped", swapped_directions, "the direction column contradicts the order in time"),
    Slip("clock runs backwards", backward_clock, "the direction column contradicts the order in time"),
    Slip("two runs under one clock", two_runs_one_clock, "two runs share one clock"),
    Slip("serial days under seconds", scaled(TIME, 1 / 86400, 45000.0), "days or hours?"),
    Slip("one time throughout", set_to(TIME, 3.0), "leave the column out if it was not recorded"),
    Slip("pasted twice", pasted_twice, "a run pasted twice counts each reading twice"),
    Slip("one sensor x 1.4", one_sensor("S2", GAP, 1.4), "sensor S2 upper reads 1.4"),
    Slip("one sensor x 1.4, changes", one_sensor("S2", CHANGE, 1.4), "moves 1.4", changes),
    Slip("one sensor in cm", one_sensor("S2", GAP, 0.1), "its unit differs from that of the column"),
    Slip(
        "one sensor counts the other direction",
        one_sensor("S2", CHANGE, -1.0),
        "scale or sign is wrong, or its level jumps",
        changes,
    ),
    Slip("angle of the rotor", rotor_angle, "the column must give the position of the sensor"),
    Slip("all sensors at one angle", set_to("angle [deg]", 90.0), "are at the same angle, 90 deg"),
)
"""Every slip that a recording of this machine must not come through with."""
