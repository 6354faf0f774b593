"""Condense a recording to cells on its own holds and ramps, with limits for outliers and a judgement of sensors.

The sample of the recording gives blocks, holds and ramps, and the limits beyond which a reading is an outlier; one
pass over all rows then adds up what lies inside.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.reduction.cells import Cells, Grid, condense, make_grid
from rimmodel.evidence.reduction.dwells import LEAST_HOLD, TOLERANCE, Points, points_by_speed, points_in_time
from rimmodel.evidence.reduction.sensors import Health, judge_sensors

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from rimmodel.evidence.recording.recording import Recording

    Whole = NDArray[np.int64]

OUTLIER = 6.0
"""Robust standard deviations beyond which a reading is an outlier."""

DIRECTIONS = np.array(["down", "", "up"])
"""Names of the directions -1, 0 and +1."""

_LEAST_READINGS = 8


@dataclass(frozen=True)
class Reduction:
    """A recording condensed to cells, with its points; what `speed_points` and the rotor shape start from.

    Attributes
    ----------
    lowest, highest : array (point, unit), m
        Readings outside are outliers.
    """

    recording: Recording
    grid: Grid
    points: Points
    cells: Cells
    health: Health
    lowest: Floats
    highest: Floats


def reduce_recording(
    recording: Recording, *, least_hold: float = LEAST_HOLD, tolerance: float = TOLERANCE
) -> Reduction:
    """Find the points of a recording, set limits for outliers, add up all rows, and judge the sensors.

    Parameters
    ----------
    recording, least_hold, tolerance : as in `speed_points`

    Returns
    -------
    Reduction
        Cells and points.

    """
    grid = make_grid(recording)
    block, unit = grid.block(recording.sample), grid.unit(recording.sample)
    unit = np.broadcast_to(unit, block.shape)
    points = _find_points(recording, grid, block, least_hold, tolerance)
    limits = _limits(recording.sample["gap"].to_numpy(), points.of_block[block], unit, (points.steady.size, grid.units))
    middle = np.nan_to_num(limits.middle)
    lowest, highest = middle - limits.reach, middle + limits.reach
    cells = condense(recording, grid, lowest[points.of_block], highest[points.of_block])
    health = judge_sensors(recording, grid, points, cells, limits.middle, limits.resolution)
    return Reduction(recording, grid, points, cells, health, lowest, highest)


def _find_points(recording: Recording, grid: Grid, block: Whole, least_hold: float, tolerance: float) -> Points:
    """Points from the history of the sample, over all blocks of the grid."""
    sample = recording.sample
    used, inverse, count = np.unique(block, return_inverse=True, return_counts=True)
    speed = np.bincount(inverse, sample["speed"].to_numpy()) / count
    given = np.zeros(block.size)
    if "direction" in sample.columns:
        given = sample["direction"].cast(str).replace_strict({"up": 1.0, "down": -1.0}, default=0.0).to_numpy()
    direction = np.sign(np.bincount(inverse, given)).astype(int)
    if grid.axis == "time":
        time = np.bincount(inverse, sample["time"].to_numpy()) / count
        found = points_in_time(time, speed, least_hold=least_hold, tolerance=tolerance)
        if direction.any():
            found = _with_direction(found, direction)
    else:
        found = points_by_speed(speed, direction, tolerance=tolerance)
    # a block that only rows outside the sample fall into goes with the block before it in the same direction
    every = np.arange(grid.blocks)
    before = np.maximum(np.searchsorted(used, every, side="right") - 1, 0)
    after = np.minimum(np.searchsorted(used, every), used.size - 1)
    part = grid.blocks // 3 if grid.axis == "speed" and "direction" in sample.columns else grid.blocks
    same = (used[before] // part == every // part) & (used[before] <= every)
    of_block = found.of_block[np.where(same, before, after)]
    return Points(of_block, found.steady, found.direction, found.time_gaps)


def _with_direction(points: Points, direction: Whole) -> Points:
    """Take the direction that the recording itself gives."""
    total = np.bincount(points.of_block, direction, points.steady.size)
    return Points(points.of_block, points.steady, np.sign(total).astype(int), points.time_gaps)


@dataclass(frozen=True)
class _Limits:
    """Middle reading (nan when few) and reach of what is no outlier (point, unit), step of readings (unit,); m."""

    middle: Floats
    reach: Floats
    resolution: Floats


def _limits(gap: Floats, point: Whole, unit: Whole, shape: tuple[int, int]) -> _Limits:
    """Median and `OUTLIER` robust standard deviations of each unit at each point; no limits below eight readings."""
    import polars as pl

    frame = pl.DataFrame({"point": point, "unit": unit, "gap": gap})
    middle = pl.col("gap").median()
    table = frame.group_by("point", "unit").agg(
        pl.len(), middle.alias("middle"), (1.4826 * (pl.col("gap") - middle).abs().median()).alias("scale")
    )
    # readings that happen to be mostly alike have no scale of their own; the unit's usual one stands in
    usual = table.group_by("unit").agg(pl.col("scale").filter(pl.col("scale") > 0.0).median().alias("usual"))
    table = table.join(usual, on="unit").with_columns(pl.max_horizontal("scale", "usual").alias("scale"))
    table = table.filter((pl.col("len") >= _LEAST_READINGS) & pl.col("scale").is_not_null())
    limits = _Limits(np.full(shape, np.nan), np.full(shape, np.inf), np.zeros(shape[1]))
    place = (table["point"].to_numpy(), table["unit"].to_numpy())
    limits.middle[place], limits.reach[place] = table["middle"].to_numpy(), OUTLIER * table["scale"].to_numpy()
    steps = frame.group_by("unit").agg(pl.col("gap").unique().sort().diff().min().fill_null(0.0).alias("step"))
    limits.resolution[steps["unit"].to_numpy()] = steps["step"].to_numpy()
    return limits
