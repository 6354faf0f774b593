"""Contradictions inside a recording: direction against time, two runs under one clock, sensors against each other.

None of them needs the machine. Each is counted and put into a sentence that says what to do.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.reduction.sensors import unit_names
from rimmodel.units import DEGREE, MILLIMETRE, in_mm, rpm, with_unit

if TYPE_CHECKING:
    from rimmodel.evidence.recording.recording import Recording
    from rimmodel.evidence.reduction.condensed import Reduction


CONTRARY, FEW_CONTRARY = 0.5, 0.2
"""Share of the changes of speed against which the direction column stands: nothing can be decided, or remarked."""

LEVEL, SENSITIVITY = 1.25, 1.3
"""Factor by which one sensor may read, and move, more or less than the others; stators out of round stay below."""

SURE = 5.0
"""Standard errors, and robust deviations of the sensors from each other, by which a sensitivity must be off."""

SEEN = 0.15 * MILLIMETRE
"""Movement by which a sensor must differ from the others: a shift of the shaft in its bearings does that much."""

ONE_ANGLE = 1.0 * DEGREE
"""Angles within this are equal."""

SAME_SPEED, MANY_STAMPS = 0.05, 0.1
"""Of the highest speed: differences under one time stamp; share of the stamps for which that is too much."""

JUMPS = 0.05
"""Of the highest speed: standard deviation of the speed about its course from which there are two courses."""

REPEATED, PASTED = 0.01, 0.3
"""Share of rows that repeat another one to the last digit: remarked, and taken for a run pasted twice."""

LONGEST = 10.0 * 86400.0
"""s; no proving run lasts longer."""


@dataclass(frozen=True)
class Contradictions:
    """What a recording says against itself.

    Attributes
    ----------
    remarks, disqualified : tuple of str
        Plain sentences; those of the second keep the recording from deciding anything.
    """

    remarks: tuple[str, ...] = ()
    disqualified: tuple[str, ...] = ()


def contradictions(recording: Recording, reduction: Reduction) -> Contradictions:
    """Look for contradictions in the sample and the points of a recording.

    Parameters
    ----------
    reduction : Reduction
        Of the same.
    """
    found: list[tuple[str, bool]] = []
    for look in (_directions, _clock, _repeated, _scales, _angles):
        found += look(recording, reduction)
    return Contradictions(
        tuple(sentence for sentence, decides in found if not decides),
        tuple(sentence for sentence, decides in found if decides),
    )


Found = Iterator[tuple[str, bool]]


def _directions(recording: Recording, reduction: Reduction) -> Found:
    """Direction column against the order in time."""
    if "time" not in recording.columns or "direction" not in recording.sample.columns:
        return
    cells, points = reduction.cells, reduction.points
    number = points.steady.size
    known = np.isfinite(cells.time) & np.isfinite(cells.speed)
    place = points.of_block[known]
    count = np.maximum(np.bincount(place, minlength=number), 1)
    time = np.bincount(place, cells.time[known], number) / count
    speed = np.bincount(place, cells.speed[known], number) / count
    order = np.argsort(time, kind="stable")
    step = np.diff(speed[order])
    given = points.direction[order][1:]
    compared = (np.abs(step) > 0.02 * recording.speed_range[1]) & (given != 0)
    total = int(compared.sum())
    contrary = int(np.count_nonzero(np.sign(step[compared]) == -given[compared]))
    if total < 4 or contrary <= FEW_CONTRARY * total:
        return
    yield (
        f"the direction column contradicts the order in time at {contrary} of {total} changes of speed: one of the "
        f"two is wrong; correct it, or leave one of the columns out",
        contrary > CONTRARY * total,
    )


def _clock(recording: Recording, reduction: Reduction) -> Found:
    """Two runs under one clock, and a clock that runs for weeks."""
    import polars as pl

    if "time" not in recording.columns:
        return
    sample, top = recording.sample, recording.speed_range[1]
    stamps = sample.group_by("time").agg((pl.col("speed").max() - pl.col("speed").min()).alias("spread"))
    apart = int((stamps["spread"] > SAME_SPEED * top).sum())
    if apart > max(2, MANY_STAMPS * stamps.height):
        yield (
            f"at {apart} of {stamps.height} times the recording holds speeds that differ by more than "
            f"{rpm(SAME_SPEED * top, '.3g')}: two runs share one clock, or the time is too coarse; put each run in "
            f"its own file",
            True,
        )
    known = np.isfinite(reduction.cells.time) & np.isfinite(reduction.cells.speed)
    noise = _noise(reduction.cells.speed[known][np.argsort(reduction.cells.time[known])])
    if not apart and noise > JUMPS * top:
        yield (
            f"in order of time the speed jumps back and forth by {rpm(noise, '.3g')} (standard deviation): two runs "
            f"are mixed, or the clock is wrong; put each run in its own file, or leave out the time",
            True,
        )
    length = float(sample["time"].max()) - float(sample["time"].min())  # type: ignore[arg-type]
    if length > LONGEST:
        yield f"the run lasts {length / 86400.0:.3g} days by its clock: check the unit of time", False


def _noise(speed: Floats) -> float:
    """Smaller of the robust deviations of first and second differences: steps and ramps hide from one of them."""
    if speed.size < 30:
        return 0.0
    first, second = (float(np.median(np.abs(np.diff(speed, order)))) for order in (1, 2))
    return 1.4826 * min(first / float(np.sqrt(2.0)), second / float(np.sqrt(6.0)))


def _repeated(recording: Recording, reduction: Reduction) -> Found:
    """Rows that stand in the recording twice."""
    sample = recording.sample
    if "time" not in sample.columns or sample.height < 2:
        return
    key = [name for name in ("time", "sensor", "plane", "pole") if name in sample.columns]
    # by the hash of each row: the rows themselves, side by side, would take as much memory again
    twins, stamped = (sample.height - rows.hash_rows().n_unique() for rows in (sample, sample.select(key)))
    pasted = twins > PASTED * sample.height
    # many readings under one stamp are a coarse clock, and a few of them are alike by chance
    if not pasted and (stamped > 0.5 * sample.height or stamped <= REPEATED * sample.height):
        return
    if pasted or twins > 0.5 * stamped:
        yield (
            f"{twins} of {sample.height} rows repeat another row to the last digit: a run pasted twice counts each "
            f"reading twice; remove the copies",
            pasted,
        )
        return
    yield f"{stamped} of {sample.height} rows have the time stamp of another reading of the same sensor", False


def _by_unit(reduction: Reduction) -> Floats:
    """Mean gap (point, unit) of the usable units; nan where there is none."""
    cells, points = reduction.cells, reduction.points
    shape = (points.steady.size, cells.count.shape[1])
    count, total = np.zeros(shape), np.zeros(shape)
    np.add.at(count, points.of_block, cells.count)
    np.add.at(total, points.of_block, np.nan_to_num(cells.gap) * cells.count)
    with np.errstate(invalid="ignore", divide="ignore"):
        gap: Floats = total / count
    return gap


def _scales(recording: Recording, reduction: Reduction) -> Found:
    """A sensor whose level or sensitivity is off against the others."""
    units = np.flatnonzero(reduction.health.usable)
    gap = _by_unit(reduction)[:, units]
    gap = gap[np.isfinite(gap).all(axis=1)]
    if units.size < 3 or len(gap) < 5:
        return
    names = unit_names(reduction.grid)
    labels = [" ".join(word for word in names[unit] if word) or "unnamed" for unit in units]
    others = np.stack([np.median(np.delete(gap, place, axis=1), axis=1) for place in range(units.size)], axis=1)
    if not recording.is_change:
        level = np.median(gap, axis=0) / np.median(others, axis=0)
        for place in np.flatnonzero(np.abs(np.log(np.maximum(level, 1e-9))) > np.log(LEVEL)):
            yield (
                f"sensor {labels[place]} reads {level[place]:.2f} times what the others read "
                f"({in_mm(np.median(gap[:, place])):.4g} against {in_mm(np.median(others[:, place])):.4g} "
                "mm): its scale or offset is wrong; correct or remove its readings",
                True,
            )
            return
    slope, error = _sensitivity(gap, others)
    spread = 1.4826 * float(np.median(np.abs(slope - np.median(slope))))
    off = np.abs(slope - 1.0) > SURE * np.maximum(error, spread)
    off &= np.abs(slope - 1.0) * np.ptp(others, axis=0) > SEEN
    off &= (slope < 1.0 / SENSITIVITY) | (slope > SENSITIVITY)
    for place in np.flatnonzero(off):
        yield (
            f"sensor {labels[place]} moves {slope[place]:.2f} times as far as the others in the run: its scale or "
            f"sign is wrong, or its level jumps or drifts; correct or remove its readings",
            True,
        )


def _sensitivity(gap: Floats, others: Floats) -> tuple[Floats, Floats]:
    """Slope of each unit against the middle of the others, with its standard error."""
    x = others - others.mean(axis=0)
    y = gap - gap.mean(axis=0)
    square = np.maximum((x**2).sum(axis=0), 1e-300)
    slope = (x * y).sum(axis=0) / square
    rest = y - slope * x
    error = np.sqrt((rest**2).sum(axis=0) / max(len(gap) - 2, 1) / square)
    return slope, error


def _angles(recording: Recording, reduction: Reduction) -> Found:
    """Angles that are no places of sensors."""
    import polars as pl

    sample = recording.sample
    if "angle" not in sample.columns or "sensor" not in sample.columns:
        return
    key = [name for name in ("sensor", "plane") if name in sample.columns]
    first = sample.filter(pl.col("angle").is_not_null()).group_by(key, maintain_order=True)
    table = first.agg(pl.col("angle").unique())
    moving, places = [], []
    for *name, angles in table.iter_rows():
        values = np.asarray(angles, dtype=float)
        if np.any(_apart(values, values[0]) > ONE_ANGLE):
            moving.append((name[0], values.size))
        places.append((name[1] if len(name) > 1 else "", values[0]))
    if moving:
        sensor, many = moving[0]
        yield (
            f"{len(moving)} of {len(places)} sensors change their angle from row to row (sensor {sensor} has {many} "
            f"angles): the column must give the position of the sensor, not the angle of the rotor, or sensors are "
            f"mixed up; correct it or leave it out",
            True,
        )
        return
    for plane in sorted({plane for plane, _ in places}):
        here = np.array([angle for where, angle in places if where == plane])
        if here.size > 2 and np.all(_apart(here, here[0]) <= ONE_ANGLE):
            where = f" of plane {plane}" if plane else ""
            yield (
                f"all {here.size} sensors{where} are at the same angle, {with_unit(here[0], 'angle')}: the mean gap "
                f"cannot be separated from a shift of the rotor; correct the angles or leave them out",
                True,
            )


def _apart(angles: Floats, place: float) -> Floats:
    """Angles between, from 0 to half a turn."""
    turn: Floats = np.abs((angles - place + np.pi) % (2.0 * np.pi) - np.pi)
    return turn
