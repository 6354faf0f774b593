"""What of a recording was left out, piece by piece with its reason: rows, sensors, readings, speed points."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from rimmodel.evidence.backfit.fit import ALL_POINTS
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.units import rpm

OUTLIERS = "outlier among the readings of its sensor at its speed"
STRAY = "stray: off any broken line"
TAKE_UP = "below the speed at which the pole seats have settled"


@dataclass(frozen=True)
class LeftOut:
    """Something of a recording that does not enter its result.

    Attributes
    ----------
    name : str
        Of the sensor, or speed and direction of the point; the first line of rows.
    """

    what: Literal["rows", "sensor", "readings", "speed point"]
    name: str
    count: int
    reason: str


def left_out(measurement: Measurement) -> tuple[LeftOut, ...]:
    """Everything of a recording that does not enter its result; empty where all of it does."""
    points, found = measurement.points, []
    for reason, count, line in points.dropped:
        found.append(LeftOut("rows", f"from line {line}", count, reason))
    if measurement.sensors is not None:
        sensors = measurement.sensors
        found += [LeftOut("sensor", name, 1, reason) for name, reason in sensors.left_out.items()]
        for number in np.flatnonzero(sensors.usable & (sensors.outliers.sum(axis=0) > 0)):
            count = int(sensors.outliers[:, number].sum())
            found.append(LeftOut("readings", sensors.names[number], count, OUTLIERS))
    used = measurement.knees[ALL_POINTS].used
    lowest = points.speed[used].min()
    for at in np.flatnonzero(~used):
        where = f"{rpm(points.speed[at])} {points.direction[at]}".strip()
        reason = TAKE_UP if points.speed[at] < lowest else STRAY
        found.append(LeftOut("speed point", where, 1, reason))
    return tuple(found)
