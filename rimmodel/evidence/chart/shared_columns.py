"""Columns of a table read off a chart that hold the errors which all its points share: those of the axes.

Column ``axis_speed_2 [rpm]`` says by how much the second independent error of the axes, at one standard uncertainty,
moves each speed, ``axis_gap_2 [mm]`` by how much it moves each gap. So offset, scale, turn and perspective of the
axes travel with the points, whatever is left out or sorted between.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from rimmodel.arrays import Floats

if TYPE_CHECKING:
    import polars

MOST = 8
"""Independent errors of the axes of one chart."""

AXIS_SPEEDS = tuple(f"axis_speed_{number}" for number in range(1, MOST + 1))
AXIS_GAPS = tuple(f"axis_gap_{number}" for number in range(1, MOST + 1))


def lone_column(names: tuple[str, ...]) -> str:
    """Return the first such column whose partner is missing, or "".

    >>> lone_column(("speed", "axis_speed_1", "axis_gap_1", "axis_gap_2"))
    'axis_gap_2'
    """
    for speed, gap in zip(AXIS_SPEEDS, AXIS_GAPS, strict=True):
        if (speed in names) != (gap in names):
            return speed if speed in names else gap
    return ""


def shared_errors(rows: polars.DataFrame, speed: Floats) -> tuple[Floats, Floats]:
    """Return what each error of the axes does to speed points, from the rows that they are means of.

    The errors change smoothly along the curve, so that they are taken straight between its rows.

    Parameters
    ----------
    rows : polars.DataFrame
        In SI units.
    speed : array (point,), rad/s

    Returns
    -------
    speeds : array (point, mode), rad/s
    gaps : array (point, mode), m
        Both without a mode where the rows hold none.
    """
    kept = [(a, b) for a, b in zip(AXIS_SPEEDS, AXIS_GAPS, strict=True) if a in rows.columns and b in rows.columns]
    none = np.zeros((len(speed), 0))
    if not kept:
        return none, none
    at, place = np.unique(rows["speed"].to_numpy(), return_inverse=True)
    counts = np.bincount(place)

    def along(name: str) -> Floats:
        mean = np.bincount(place, rows[name].to_numpy()) / counts
        return np.asarray(np.interp(speed, at, mean))

    return (
        np.column_stack([none, *(along(name) for name, _ in kept)]),
        np.column_stack([none, *(along(name) for _, name in kept)]),
    )
