"""Speed points sensor by sensor: the gap of each, and the mean with each left out."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.recording.recording import Recording
from rimmodel.evidence.reduction.condensed import Reduction, reduce_recording
from rimmodel.evidence.reduction.rotor_shape import sensor_angles
from rimmodel.evidence.reduction.sensors import unit_names
from rimmodel.evidence.reduction.two_way import two_way

if TYPE_CHECKING:
    from numpy.typing import NDArray

from rimmodel.evidence.reduction.speed_points import chosen_points, gathered, points_of_plane


def gaps_without_each(recording: Recording) -> dict[str, Floats]:
    """Mean gap of every speed point with one sensor left out, by sensor.

    Returns
    -------
    dict of array (point,), m
        In the order of `speed_points`, NaN where no other sensor has readings; empty with fewer than three sensors.
    """
    reduction = reduce_recording(recording)
    usable = np.flatnonzero(reduction.health.usable)
    if len(usable) < 3:
        return {}
    chosen, _ = chosen_points(reduction.points, None)
    whole = points_of_plane(reduction, "", chosen)
    rank = np.array([("up", "", "down").index(name) for name in whole["direction"]])
    order = np.lexsort((whole["speed"], rank))
    found = {}
    for unit, (sensor, plane) in enumerate(unit_names(reduction.grid)):
        if unit not in usable:
            continue
        others = reduction.health.usable.copy()
        others[unit] = False
        left = replace(reduction, health=replace(reduction.health, usable=others))
        columns = points_of_plane(left, "", chosen)
        name = f"{sensor}, plane {plane}" if plane else sensor
        if len(columns["gap"]) == len(order):
            found[name] = columns["gap"][order]
    return found


@dataclass(frozen=True)
class SensorGaps:
    """Mean gap of every sensor at every speed point, in the order of `speed_points` of all planes together.

    Attributes
    ----------
    gap : array (point, sensor), m
        NaN where a sensor has no reading.
    count : array (point, sensor), -
        Readings used.
    outliers : array (point, sensor), -
        Readings left out.
    sensor, plane : tuple of str
        Names; "" where the recording has none.
    usable : bool array (sensor,)
        False for those left out of the mean.
    angle : array (sensor,), rad
        NaN where not recorded.
    left_out : dict of str to str
        Why, by sensor, with its plane where there are planes.
    """

    gap: Floats
    count: Floats
    outliers: Floats
    sensor: tuple[str, ...]
    plane: tuple[str, ...]
    usable: NDArray[np.bool_]
    angle: Floats
    left_out: dict[str, str]

    @property
    def names(self) -> tuple[str, ...]:
        """Sensors, with their planes where there are planes."""
        return tuple(
            f"{sensor}, plane {plane}" if sensor and plane else sensor or (f"plane {plane}" if plane else "gap")
            for sensor, plane in zip(self.sensor, self.plane, strict=True)
        )

    def level(self, chosen: NDArray[np.bool_]) -> Floats:
        """Mean gap (point,), m, of chosen sensors (sensor,), which need not have been read at every point."""
        parts = two_way(self.gap[:, chosen])
        level: Floats = parts.mean + parts.row
        return level


def sensor_gaps(recording: Recording, reduction: Reduction | None = None) -> SensorGaps:
    """Gaps of single sensors at the points of `speed_points`.

    Parameters
    ----------
    reduction : Reduction, optional
        Of this recording, where it has been gone through already.

    Returns
    -------
    SensorGaps
    """
    reduction = reduce_recording(recording) if reduction is None else reduction
    chosen, _ = chosen_points(reduction.points, None)
    points, cells, number = reduction.points, reduction.cells, reduction.points.steady.size
    whole = points_of_plane(reduction, "", chosen)
    good = reduction.health.usable
    kept = chosen & (gathered(cells.count[:, good], points.of_block, number).sum(axis=1) > 0)
    rank = np.array([("up", "", "down").index(name) for name in whole["direction"]])
    order = np.lexsort((whole["speed"], rank))
    seen = np.flatnonzero(cells.count.sum(axis=0) > 0)
    names = [unit_names(reduction.grid)[unit] for unit in seen]
    count = gathered(cells.count[:, seen], points.of_block, number)
    with np.errstate(invalid="ignore", divide="ignore"):
        gap = gathered(np.nan_to_num(cells.gap[:, seen]) * cells.count[:, seen], points.of_block, number) / count
    outside = gathered(cells.outside[:, seen], points.of_block, number)
    return SensorGaps(
        gap[kept][order],
        count[kept][order],
        outside[kept][order],
        tuple(sensor for sensor, _ in names),
        tuple(plane for _, plane in names),
        good[seen],
        sensor_angles(recording, tuple(sensor for sensor, _ in names)),
        reduction.health.left_out,
    )
