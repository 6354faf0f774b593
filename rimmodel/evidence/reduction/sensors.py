"""Find sensors that cannot be believed: without readings, dead, stuck, at their ceiling, or drifting.

A sensor is compared with the others of the same run, so what the rotor does is not mistaken for a fault.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rimmodel.arrays import Floats, Mask
from rimmodel.evidence.recording.delimited import RecordingError
from rimmodel.units import in_rpm, mm, rpm

if TYPE_CHECKING:
    from rimmodel.evidence.recording.recording import Recording
    from rimmodel.evidence.reduction.cells import Cells, Grid
    from rimmodel.evidence.reduction.dwells import Points


DEAD = 0.2
"""Of the others' gap: a sensor that reads less is dead."""

DRIFT = 0.1
"""Of the change of gap in the run: a sensor that moves so far against the others at equal speed drifts."""

_SURE = 6.0
_LEAST_READINGS = 8
_FLAT_SPAN, _FLAT_DOUBT = 0.5, 0.1


@dataclass(frozen=True)
class Health:
    """Which units (sensor in plane) are used, and why the others are not.

    Parameters
    ----------
    usable : bool array (unit,)
        True for the units to average.
    left_out : dict of str to str
        Reason by sensor name (with its plane where there are planes).
    notes : tuple of str
        The same in sentences, and what can no longer be determined when few remain.

    """

    usable: Mask
    left_out: dict[str, str]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Means:
    """By point and unit: mean, least, largest and middle gap m, count; by point: speed rad/s, time s."""

    gap: Floats
    count: Floats
    least: Floats
    largest: Floats
    speed: Floats
    time: Floats
    median: Floats
    resolution: Floats
    is_change: bool


def judge_sensors(
    recording: Recording, grid: Grid, points: Points, cells: Cells, median: Floats, resolution: Floats
) -> Health:
    """Find the sensors to leave out.

    Parameters
    ----------
    cells : Cells
        The run condensed.
    median : float array (point, unit), m
        Middle reading, outliers included; nan where there are too few.
    resolution : float array (unit,), m
        Smallest step between two readings of a unit.

    Returns
    -------
    Health
        Units to use, and the reasons for the others.

    Raises
    ------
    RecordingError
        No sensor remains; the text says why.

    """
    means = _by_point(points, cells, median, resolution, is_change=recording.is_change)
    seen = cells.count.sum(axis=0) > 0
    names = unit_names(grid)
    left_out: dict[str, str] = {}
    for sensor in recording.sensors:
        if not seen[[i for i, (name, _) in enumerate(names) if name == sensor]].any():
            left_out[sensor] = "has no usable reading"
    usable = seen.copy()
    for find in (_dead, _stuck, _drifting):
        for unit, reason in find(means, usable).items():
            usable[unit] = False
            left_out[_label(names[unit])] = reason
    if not usable.any():
        reasons = "; ".join(f"{name or 'the gap'} {reason}" for name, reason in left_out.items())
        raise RecordingError(f"{recording.source}: no sensor can be used: {reasons}")
    notes = [f"Sensor {name or '(unnamed)'} left out: it {reason}." for name, reason in left_out.items()]
    if recording.sensors:
        notes += _few_left(len({names[unit][0] for unit in np.flatnonzero(usable)}))
    notes += _flat(recording, means, usable)
    return Health(usable, left_out, tuple(notes))


def unit_names(grid: Grid) -> list[tuple[str, str]]:
    """Sensor and plane of each unit."""
    return [(sensor, plane) for sensor in grid.sensors for plane in grid.planes]


def _label(name: tuple[str, str]) -> str:
    return f"{name[0]} ({name[1]})" if name[1] else name[0]


def _by_point(points: Points, cells: Cells, median: Floats, resolution: Floats, *, is_change: bool) -> _Means:
    """Sum the blocks of each point."""
    shape = (points.steady.size, cells.count.shape[1])
    count, total = np.zeros(shape), np.zeros(shape)
    least, largest = np.full(shape, np.inf), np.full(shape, -np.inf)
    np.add.at(count, points.of_block, cells.count)
    np.add.at(total, points.of_block, np.nan_to_num(cells.gap) * cells.count)
    np.minimum.at(least, points.of_block, cells.least)
    np.maximum.at(largest, points.of_block, cells.largest)
    weight = cells.count.sum(axis=1)
    whole = np.maximum(np.bincount(points.of_block, weight, shape[0]), 1e-300)
    speed, time = (
        np.bincount(points.of_block, np.nan_to_num(values) * weight, shape[0]) / whole
        for values in (cells.speed, cells.time)
    )
    with np.errstate(invalid="ignore", divide="ignore"):
        return _Means(total / count, count, least, largest, speed, time, median, resolution, is_change)


def _dead(means: _Means, usable: Mask) -> dict[int, str]:
    """Units that read next to nothing where the others read a gap."""
    units = np.flatnonzero(usable)
    if means.is_change or units.size < 2:
        return {}
    typical = np.nanmedian(means.gap[:, units], axis=0)
    found = {}
    for place, unit in enumerate(units):
        others = float(np.median(np.delete(typical, place)))
        if typical[place] < DEAD * others:
            here = f"{mm(typical[place], '.3g')} where the others read {mm(others, '.4g')}"
            found[int(unit)] = f"reads {here}: dead"
    return found


def _stuck(means: _Means, usable: Mask) -> dict[int, str]:
    """Units that read mostly one and the same number at different speeds while the others move."""
    found = {}
    for unit in np.flatnonzero(usable):
        least, largest = means.least[:, unit].min(), means.largest[:, unit].max()
        rows = means.median[:, unit] == largest
        always = least == largest and means.count[:, unit].sum() >= _LEAST_READINGS
        if not always and (rows.sum() < 2 or not _others_move(means, usable, int(unit), rows)):
            continue
        rows = means.count[:, unit] > 0 if always else rows
        reason = "is stuck at" if always else "is at its upper limit of"
        low, high = in_rpm(means.speed[rows].min()), in_rpm(means.speed[rows].max())
        found[int(unit)] = (
            f"{reason} {mm(largest, '.4g')} at {int(rows.sum())} speed points ({low:.4g} to {high:.4g} rpm)"
        )
    return found


def _others_move(means: _Means, usable: Mask, unit: int, rows: Mask) -> bool:
    """Find whether the gap really changes over several points: by the other units, or else by the speed."""
    others = usable.copy()
    others[unit] = False
    if not others.any():
        x = means.speed**2
        return bool(np.ptp(x[rows]) > _FLAT_DOUBT * np.ptp(x))
    level = np.nanmedian(means.gap[:, others], axis=1)
    moves, whole = np.ptp(level[rows]), np.ptp(level[np.isfinite(level)])
    return bool(moves > max(_FLAT_DOUBT * whole, 2.0 * means.resolution[unit]))


def _drifting(means: _Means, usable: Mask) -> dict[int, str]:
    """Units that move with time against the others at equal speed; the worst is taken out first."""
    known = np.isfinite(means.gap) & usable
    found: dict[int, str] = {}
    while (known.any(axis=0).sum() >= 3) and np.ptp(means.time) > 0.0:
        rows = known[:, known.any(axis=0)].all(axis=1)
        units = np.flatnonzero(known.any(axis=0))
        worst = _worst_drift(means.gap[np.ix_(rows, units)], means.speed[rows] ** 2, means.time[rows])
        if worst is None:
            break
        place, drift = worst
        unit = int(units[place])
        found[unit] = f"moves by {mm(drift, '+.3g')} against the others in the run at equal speed: it drifts"
        known[:, unit] = False
    return found


def _worst_drift(gap: Floats, x: Floats, time: Floats) -> tuple[int, float] | None:
    """Unit with the largest sure drift over the run, from gap - mean = a + b x + c x^2 + d time."""
    if x.size < 8:
        return None
    scaled, clock = x / x.max(), (time - time.min()) / np.ptp(time)
    matrix = np.stack([np.ones_like(scaled), scaled, scaled**2, clock], axis=1)
    own = np.linalg.lstsq(matrix[:, :3], clock, rcond=None)[0]
    if np.std(clock - matrix[:, :3] @ own) < 0.1 * np.std(clock):
        return None  # time and speed rise together: what looks like drift may be the rotor
    rest = gap - gap.mean(axis=1, keepdims=True)
    fitted, *_ = np.linalg.lstsq(matrix, rest, rcond=None)
    freedom = x.size - 4
    sigma = np.sqrt(((rest - matrix @ fitted) ** 2).sum(axis=0) / freedom)
    error = sigma * np.sqrt(np.linalg.inv(matrix.T @ matrix)[3, 3])
    drift = fitted[3]
    usual = float(np.median(np.abs(drift)))
    sure = np.abs(drift) > np.maximum(_SURE * error, DRIFT * np.ptp(gap.mean(axis=1)))
    sure &= np.abs(drift) > 1.5 * usual
    if not sure.any():
        return None
    place = int(np.argmax(np.where(sure, np.abs(drift), 0.0)))
    # the mean over n units holds 1/n of the drift itself
    return place, float(drift[place]) * gap.shape[1] / (gap.shape[1] - 1.0)


def _few_left(count: int) -> list[str]:
    """What can no longer be determined with so few sensors around the bore."""
    lost = {
        1: "the mean gap cannot be separated from a shift of the rotor towards the sensor",
        2: "eccentricity and ovality of the stator cannot be determined; the mean gap is free of a shift of the rotor "
        "only if the two sensors are opposite each other",
        3: "eccentricity fits three sensors exactly, so nothing checks it, and ovality cannot be determined",
    }
    if count not in lost:
        return []
    return [f"{count} sensor{'s' * (count > 1)} only: {lost[count]}."]


def _flat(recording: Recording, means: _Means, usable: Mask) -> list[str]:
    """Refuse, or doubt, a gap that is exactly its largest value over much of the speed range."""
    level = np.nanmean(means.gap[:, usable], axis=1)
    known = np.isfinite(level) & (means.count[:, usable].sum(axis=1) > 0)
    level, x = level[known], means.speed[known] ** 2
    top = level >= level.max() - 1e-9 * np.abs(level).max()
    share = float(np.ptp(x[top])) / (float(np.ptp(x)) or 1.0)
    if np.count_nonzero(top) < 3 or share <= _FLAT_DOUBT / 5.0:
        return []
    where = (
        f"the gap is exactly {mm(level.max(), '.5g')} at {np.count_nonzero(top)} of {top.size} speed points, "
        f"up to {rpm(np.sqrt(x[top].max()), '.4g')}"
    )
    if share > _FLAT_SPAN:
        raise RecordingError(f"{recording.source}: {where}: the sensor is saturated or stuck, not measuring")
    return [f"Doubtful: {where}; a sensor at its upper limit looks like this, and so does a coarse resolution."]
