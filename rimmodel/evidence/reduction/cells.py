"""Condense a recording of any length into small arrays: one cell per short block of the run and per sensor.

A block is a short piece of time (or, without time, one speed); a unit is one sensor in one plane. Rows are taken
in batches and only added up, so memory holds the cells and never the recording.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.recording.survey import batches

if TYPE_CHECKING:
    import polars
    from numpy.typing import NDArray

    from rimmodel.evidence.recording.recording import Recording

    Whole = NDArray[np.int64]

_DISTINCT = 8192
_COARSE, _FINE = 1 << 15, 1 << 20
TEMPERATURES = ("rim_temperature", "spider_temperature", "pole_temperature", "stator_temperature")


@dataclass(frozen=True)
class Grid:
    """How rows are sorted into blocks and units.

    Parameters
    ----------
    axis : str
        "time", or "speed" for a recording without time.
    origin, width : float, SI
        Of equal bins along the axis.
    lookup : int array (bin,)
        Block of each bin; a bin that no row of the sample fell into belongs to the block before it.
    blocks : int
        Number of blocks.
    sensors, planes : tuple of str
        Names; "" stands for rows without one.

    """

    axis: str
    origin: float
    width: float
    lookup: Whole
    blocks: int
    sensors: tuple[str, ...]
    planes: tuple[str, ...]

    @property
    def units(self) -> int:
        """Number of units, sensor by plane."""
        return len(self.sensors) * len(self.planes)

    def block(self, rows: polars.DataFrame) -> Whole:
        """Block of each row; without time the rows up and down are kept apart."""
        bins = ((rows[self.axis].to_numpy() - self.origin) / self.width).astype(np.int64)
        index = self.lookup[np.clip(bins, 0, self.lookup.size - 1)]
        if self.axis == "speed" and "direction" in rows.columns:
            index = index + self.blocks // 3 * _codes(rows, "direction", ("", "up", "down"))
        return index

    def unit(self, rows: polars.DataFrame) -> Whole:
        """Unit of each row."""
        return _codes(rows, "sensor", self.sensors) * len(self.planes) + _codes(rows, "plane", self.planes)


@dataclass(frozen=True)
class Cells:
    """Sums over the readings inside their limits, by block and unit.

    Attributes
    ----------
    count, outside : array (block, unit), -
        Readings inside and outside the limits.
    gap : array (block, unit), m
        Mean; nan where count is zero.
    variance : array (block, unit), m2
        Of the readings.
    least, largest : array (block, unit), m
    speed : array (block,), rad/s
        Mean, as the next two; nan where not recorded.
    time : array (block,), s
    temperatures : dict of array (block,), K
    stated_error : array (block,), m
        Mean of the standard errors that the recording states, nan where it states none.
    """

    count: Floats
    outside: Floats
    gap: Floats
    variance: Floats
    least: Floats
    largest: Floats
    speed: Floats
    time: Floats
    temperatures: dict[str, Floats]
    stated_error: Floats


def make_grid(recording: Recording) -> Grid:
    """Lay out blocks and units for a recording.

    Parameters
    ----------
    recording : Recording
        Its sample shows where along time or speed there are readings.

    Returns
    -------
    Grid
        Bins so fine that distinct times (speeds) fall apart when they are few, else about 30,000 of equal width.

    """
    axis = "time" if "time" in recording.columns else "speed"
    values = recording.sample[axis].to_numpy()
    low, high = float(values.min()), float(values.max())
    bins = _FINE if np.unique(values).size <= _DISTINCT else _COARSE
    width = (high - low) / (bins - 1) or 1.0
    occupied = np.bincount(((values - low) / width).astype(np.int64), minlength=bins) > 0
    lookup = np.cumsum(occupied) - 1
    blocks = int(lookup[-1]) + 1
    if axis == "speed" and "direction" in recording.columns:
        blocks *= 3
    return Grid(axis, low, width, lookup, blocks, ("", *recording.sensors), ("", *recording.planes))


def condense(recording: Recording, grid: Grid, lowest: Floats, highest: Floats) -> Cells:
    """Add up all rows of a recording by block and unit.

    Parameters
    ----------
    recording : Recording
        Read once more, in batches.
    grid : Grid
        From `make_grid`.
    lowest, highest : float array (block, unit), m
        A reading outside is counted and left out.

    Returns
    -------
    Cells
        Means, variances, extremes and counts.

    """
    size, shape = grid.blocks * grid.units, (grid.blocks, grid.units)
    extras = [name for name in ("speed", "time", "gap_error", *TEMPERATURES) if name in recording.columns]
    total = {name: np.zeros(size) for name in ("all", "outside", "gap", "square")}
    extra = {name: np.zeros((2, grid.blocks)) for name in extras}
    least, largest = np.full(size, np.inf), np.full(size, -np.inf)
    lowest, highest = lowest.ravel(), highest.ravel()
    shift = float(recording.sample["gap"].mean())  # type: ignore[arg-type]  # keeps squares free of cancellation
    wanted = [n for n in ("gap", *extras, "sensor", "plane", "direction") if n in recording.columns]
    for rows in batches(recording.table.select(wanted)):
        block = grid.block(rows)
        cell = block * grid.units + grid.unit(rows)
        gap = rows["gap"].to_numpy()
        _add(total["all"], cell, None)
        inside = (gap >= lowest[cell]) & (gap <= highest[cell])
        if not inside.all():
            _add(total["outside"], cell[~inside], None)
            gap, cell = gap[inside], cell[inside]
        gap = gap - shift
        _add(total["gap"], cell, gap)
        _add(total["square"], cell, gap * gap)
        np.minimum.at(least, cell, gap)
        np.maximum.at(largest, cell, gap)
        _add_extras(extra, rows, block)
    count = total["all"] - total["outside"]
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = total["gap"] / count
        variance = np.maximum(total["square"] / count - mean**2, 0.0) * count / (count - 1.0)
        readings = total["all"].reshape(shape).sum(axis=1)
        means = {name: sums[1] / (readings - sums[0]) for name, sums in extra.items()}
    missing = np.full(grid.blocks, np.nan)
    return Cells(
        count=count.reshape(shape),
        outside=total["outside"].reshape(shape),
        gap=(mean + shift).reshape(shape),
        variance=variance.reshape(shape),
        least=(least + shift).reshape(shape),
        largest=(largest + shift).reshape(shape),
        speed=means["speed"],
        time=means.get("time", missing),
        temperatures={name: means.get(name, missing) for name in TEMPERATURES},
        stated_error=means.get("gap_error", missing),
    )


def _add(total: Floats, place: Whole, weight: Floats | None) -> None:
    """Add weights (ones when None) at places; only the stretch that a batch touches is gone through."""
    if place.size:
        first, end = int(place.min()), int(place.max()) + 1
        total[first:end] += np.bincount(place - first, weight, end - first)


def _add_extras(extra: dict[str, Floats], rows: polars.DataFrame, block: Whole) -> None:
    """Add up the columns that are averaged per block, whatever the sensor: number of missing values, and sum."""
    for name, (missing, total) in extra.items():
        values, place = rows[name].to_numpy(), block
        if rows[name].null_count():
            known = ~np.isnan(values)
            _add(missing, block[~known], None)
            values, place = values[known], block[known]
        _add(total, place, values)


def _codes(rows: polars.DataFrame, column: str, names: tuple[str, ...]) -> Whole:
    """Number of each row's name in `names`; 0 where there is none."""
    import polars as pl

    if column not in rows.columns:
        return np.zeros(1, dtype=np.int64)
    # each category has one number for the whole session; a table turns it into the place in `names`
    known = pl.Series(names[1:], dtype=pl.Categorical).to_physical().to_numpy()
    place = np.zeros(int(known.max(initial=0)) + 1, dtype=np.int64)
    place[known] = np.arange(1, len(names))
    column_codes = rows[column].to_physical()
    codes: Whole = place[column_codes.fill_null(0).to_numpy()]
    if column_codes.null_count():
        codes[column_codes.is_null().to_numpy()] = 0
    return codes
