"""Reduce a recording to speed points: robust mean gap with its standard error, per direction and plane.

Everything here works on the small arrays of a reduction; the rows have been gone through before.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.chart.shared_columns import shared_errors
from rimmodel.evidence.recording.delimited import RecordingError
from rimmodel.evidence.recording.recording import Recording
from rimmodel.evidence.recording.survey import SAMPLE_ROWS
from rimmodel.evidence.reduction.cells import TEMPERATURES, Cells
from rimmodel.evidence.reduction.condensed import DIRECTIONS, OUTLIER, Reduction, reduce_recording
from rimmodel.evidence.reduction.contradictions import contradictions
from rimmodel.evidence.reduction.dwells import LEAST_HOLD, TOLERANCE, Points
from rimmodel.evidence.reduction.mean_error import block_error
from rimmodel.evidence.reduction.sensors import unit_names
from rimmodel.evidence.reduction.turns import turn_faults
from rimmodel.evidence.reduction.two_way import two_way
from rimmodel.tabular import Tabular, in_brief, wanted
from rimmodel.units import in_mm, in_print, in_rpm

if TYPE_CHECKING:
    from numpy.typing import NDArray

LEAST_POINTS = 5


@dataclass(frozen=True)
class SpeedPoints(Tabular):
    """Gap against speed, arrays of shape (point,), sorted by plane, direction and speed; a table in units of print.

    Parameters
    ----------
    speed : float array, rad/s
        Mean over the point.
    gap : float array, m
        Mean over sensors of the mean of each sensor's readings without outliers; where a sensor is missing at
        several points, its constant difference from the others is taken into account.
    standard_error : float array, m
        Of `gap`, from the scatter in time with its autocorrelation, and no less than the errors that the recording
        states; nan for a single reading, whose scatter is not known.
    minimum : float array, m
        Least reading that is no outlier.
    least_sensor_gap : float array, m
        Least mean gap of a single sensor.
    count : int array
        Readings used.
    outliers : int array
        Readings left out as outliers.
    direction : str array
        "up", "down", or "" when it cannot be determined.
    plane : str array
        Plane, or "" for all planes together.
    steady : bool array
        True for a hold or a settled reading, False for a piece of ramp.
    time : float array, s
        Mean; nan when not recorded.
    rim_temperature, stator_temperature : float array, K
        NaN when not recorded.
    is_change : bool
        True when gaps are changes from the slowest point.
    notes : tuple of str
        What was left out and why, in plain sentences.
    spider_temperature, pole_temperature : float array, K
        NaN when not recorded; empty where nobody asked.
    remarks, disqualified : tuple of str
        What the recording says against itself; those of the second keep it from deciding anything.
    dropped : tuple of (str, int, int)
        Rows of the recording left out: reason, count and first line.
    axis_speed : float array (point, mode), rad/s
        What one standard uncertainty of each error of the axes of a chart does to all speeds together; no mode, or
        empty, for what was not read off a chart.
    axis_gap : float array (point, mode), m
        The same for the gaps.

    """

    speed: Floats
    gap: Floats
    standard_error: Floats
    minimum: Floats
    least_sensor_gap: Floats
    count: NDArray[np.int64]
    outliers: NDArray[np.int64]
    direction: NDArray[np.str_]
    plane: NDArray[np.str_]
    steady: NDArray[np.bool_]
    time: Floats
    rim_temperature: Floats
    stator_temperature: Floats
    is_change: bool
    notes: tuple[str, ...]
    spider_temperature: Floats = field(default_factory=lambda: np.empty(0))
    pole_temperature: Floats = field(default_factory=lambda: np.empty(0))
    remarks: tuple[str, ...] = ()
    disqualified: tuple[str, ...] = ()
    dropped: tuple[tuple[str, int, int], ...] = ()
    axis_speed: Floats = field(default_factory=lambda: np.empty((0, 0)))
    axis_gap: Floats = field(default_factory=lambda: np.empty((0, 0)))

    def __repr__(self) -> str:
        what = "change of gap" if self.is_change else "gap"
        ups = ", ".join(
            f"{np.count_nonzero(self.direction == word)} {name}"
            for word, name in (("up", "up"), ("down", "down"), ("", "without direction"))
            if (self.direction == word).any()
        )
        return f"SpeedPoints({ups}; speed {in_brief(self.speed, 'speed', 1)}, {what} {in_brief(self.gap, 'length')})"

    def columns(self) -> dict[str, Any]:
        """Points in units of print; temperatures only where they were recorded."""
        gap = "gap_change_mm" if self.is_change else "gap_mm"
        columns: dict[str, Any] = {
            "plane": self.plane,
            "direction": self.direction,
            "speed_rpm": in_rpm(self.speed),
            gap: in_mm(self.gap),
            "standard_error_mm": in_mm(self.standard_error),
            "least_gap_mm": in_mm(self.minimum),
            "readings": self.count,
            "outliers": self.outliers,
            "time_s": self.time,
            "steady": self.steady,
        }
        for name in TEMPERATURES:
            kelvin = getattr(self, name)
            if np.isfinite(kelvin).any():
                columns[f"{name}_degC"] = in_print(kelvin, "temperature")
        return columns


def speed_points(
    recording: Recording,
    *,
    by_plane: bool = False,
    ramps: bool | None = None,
    least_hold: float = LEAST_HOLD,
    tolerance: float = TOLERANCE,
    least_points: int = LEAST_POINTS,
    reduction: Reduction | None = None,
) -> SpeedPoints:
    """Reduce a recording to mean gap at each speed.

    Parameters
    ----------
    recording : Recording
        From `read_recording`.
    by_plane : bool
        Keep sensor planes apart; else all sensors are averaged.
    ramps : bool, optional
        Use pieces of ramp beside holds. When not given, in each direction only if it has fewer than five holds.
    least_hold : float, s
        Shortest stay at one speed that counts as a hold.
    tolerance : float, -
        Share of the highest speed that counts as the same speed.
    least_points : int
        Fewer points than this are an error, because no knee can be seen in them.
    reduction : Reduction, optional
        Of this recording, where it has been gone through already; hold and tolerance are then those of it.

    Returns
    -------
    SpeedPoints
        One entry per hold, piece of ramp or repeated speed.

    Raises
    ------
    RecordingError
        Fewer speed points than `least_points`, or no sensor that can be used.
    TypeError
        No recording, such as the name of a file.

    >>> import polars
    >>> from rimmodel.evidence.recording.read import read_recording
    >>> frame = polars.DataFrame({"speed [rpm]": [60.0, 30.0, 90.0, 30.0], "gap [mm]": [14.8, 15.0, 14.5, 15.2]})
    >>> points = speed_points(read_recording(frame), least_points=3)
    >>> (points.gap * 1e3).round(3), points.count
    (array([15.1, 14.8, 14.5]), array([2, 1, 1]))

    """
    wanted(recording, Recording, "recording", "speed_points wants a recording", "write read_recording(file)")
    if reduction is None:
        reduction = reduce_recording(recording, least_hold=least_hold, tolerance=tolerance)
    chosen, notes = chosen_points(reduction.points, ramps)
    planes = recording.planes if by_plane and recording.planes else ("",)
    parts = [points_of_plane(reduction, plane, chosen) for plane in planes]
    columns = {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
    plane_rank = np.array([planes.index(name) for name in columns["plane"]])
    rank = np.array([("up", "", "down").index(name) for name in columns["direction"]])
    order = np.lexsort((columns["speed"], rank, plane_rank))
    columns = {name: values[order] for name, values in columns.items()}
    _refuse_few(recording, columns, least_points)
    notes = (
        *recording.notes,
        *reduction.health.notes,
        *_gap_notes(reduction.points),
        *(turn_faults(recording) if recording.sample.height < SAMPLE_ROWS // 2 else ()),
        *notes,
        *_remarks(recording, columns),
    )
    against = contradictions(recording, reduction)
    axis_speed, axis_gap = shared_errors(recording.sample, columns["speed"])
    return SpeedPoints(
        **columns,
        is_change=recording.is_change,
        notes=notes,
        remarks=against.remarks,
        disqualified=against.disqualified,
        dropped=recording.dropped,
        axis_speed=axis_speed,
        axis_gap=axis_gap,
    )


def chosen_points(points: Points, ramps: bool | None) -> tuple[NDArray[np.bool_], tuple[str, ...]]:
    """Which points to use: holds, and ramps where asked for or needed.

    Parameters
    ----------
    ramps : bool or None
        Where nothing is asked for, they are used in a direction of few holds.

    Returns
    -------
    chosen : bool array (point,)
    notes : tuple of str
    """
    chosen = np.ones(points.steady.size, dtype=bool)
    notes = []
    for direction in (1, 0, -1):
        here = points.direction == direction
        holds = int(np.count_nonzero(here & points.steady))
        use = ramps if ramps is not None else holds < LEAST_POINTS
        name = {1: "Run-up", -1: "Run-down", 0: "Direction unknown"}[direction]
        if not here[~points.steady].any():
            continue
        if use:
            notes.append(f"{name}: {holds} holds; pieces of ramp are used as well.")
        else:
            chosen &= ~here | points.steady
            moments = int(np.isin(points.of_block, np.flatnonzero(here & ~points.steady)).sum())
            notes.append(
                f"{name}: {holds} holds are used; {moments} of {points.of_block.size} moments of reading, at which the "
                "speed changed or had not settled, are left out."
            )
    return chosen, tuple(notes)


def points_of_plane(reduction: Reduction, plane: str, chosen: NDArray[np.bool_]) -> dict[str, NDArray[Any]]:
    """Average the sensors of one plane, or of all, at each chosen point.

    Parameters
    ----------
    plane : str
        All planes together where it is "".
    chosen : bool array (point,)

    Returns
    -------
    dict of array (point,), SI
        Columns of `SpeedPoints`.
    """
    grid, cells, points = reduction.grid, reduction.cells, reduction.points
    here = np.array([plane in ("", name) for _, name in unit_names(grid)])
    good = reduction.health.usable & here
    number = points.steady.size
    count = gathered(cells.count[:, good], points.of_block, number)
    with np.errstate(invalid="ignore", divide="ignore"):
        gap = gathered(np.nan_to_num(cells.gap[:, good]) * cells.count[:, good], points.of_block, number) / count
    parts = two_way(gap)
    level = parts.mean + parts.row
    kept = chosen & (count.sum(axis=1) > 0)
    weight = cells.count[:, good].sum(axis=1)
    least = np.full(number, np.inf)
    np.minimum.at(least, points.of_block, cells.least[:, good].min(axis=1, initial=np.inf))
    columns: dict[str, NDArray[Any]] = {
        "speed": _mean(cells.speed, weight, points.of_block, number),
        "gap": level,
        "standard_error": _error(cells, good, points, weight, block_error(cells, good, points, gap, parts.spread)),
        "minimum": least,
        "least_sensor_gap": np.nanmin(np.where(np.isnan(gap), np.inf, gap), axis=1, initial=np.inf),
        "count": count.sum(axis=1).astype(int),
        "outliers": gathered(cells.outside[:, good], points.of_block, number).sum(axis=1).astype(int),
        "direction": DIRECTIONS[points.direction + 1],
        "plane": np.full(number, plane),
        "steady": points.steady,
        "time": _mean(cells.time, weight, points.of_block, number),
    }
    for name in TEMPERATURES:
        columns[name] = _mean(cells.temperatures[name], weight, points.of_block, number)
    return {name: values[kept] for name, values in columns.items()}


FEWEST_REPEATED = 5
"""Readings at speeds that were read already, from which their scatter is taken for that of single readings as well."""


def _error(cells: Cells, good: NDArray[np.bool_], points: Points, weight: Floats, scatter: Floats) -> Floats:
    """Standard error of each point: that of its scatter, and no less than what the recording states."""
    number = points.steady.size
    stated = _mean(cells.stated_error, weight, points.of_block, number)
    readings = gathered(cells.count[:, good], points.of_block, number).sum(axis=1)
    if np.maximum(readings - 1.0, 0.0).sum() < FEWEST_REPEATED:
        scatter = np.where(readings <= 1.0, np.nan, scatter)
    if np.isnan(stated).all():
        return scatter
    error: Floats = np.fmax(scatter, stated / np.sqrt(np.maximum(readings, 1.0)))
    return error


def gathered(values: Floats, of_block: NDArray[np.int64], number: int) -> Floats:
    """Sum blocks into points, column by column.

    Parameters
    ----------
    values : array (block, column), SI
    of_block : int array (block,)
        The point of each block.
    number : int
        Of points.

    Returns
    -------
    array (point, column), SI
    """
    total = np.zeros((number, values.shape[1]))
    np.add.at(total, of_block, values)
    return total


def _mean(values: Floats, weight: Floats, of_block: NDArray[np.int64], number: int) -> Floats:
    """Weighted mean of the blocks of each point that have a value; nan when none has."""
    use = np.isfinite(values) & (weight > 0)
    total = np.bincount(of_block[use], (values * weight)[use], number)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean: Floats = total / np.bincount(of_block[use], weight[use], number)
    return mean


def _gap_notes(points: Points) -> tuple[str, ...]:
    if not points.time_gaps:
        return ()
    start, length = max(points.time_gaps, key=lambda gap: gap[1])
    return (
        f"{len(points.time_gaps)} breaks in time, the longest of {length:.4g} s after {start:.6g} s; "
        "holds and ramps are not joined across them.",
    )


def _refuse_few(recording: Recording, columns: dict[str, NDArray[Any]], least_points: int) -> None:
    groups = {(direction, plane) for direction, plane in zip(columns["direction"], columns["plane"], strict=True)}
    for direction, plane in groups:
        here = (columns["direction"] == direction) & (columns["plane"] == plane)
        if here.sum() >= least_points:
            return
    speeds = ", ".join(f"{in_rpm(speed):.5g}" for speed in np.unique(columns["speed"])[:12])
    raise RecordingError(
        f"{recording.source}: only {len(columns['speed'])} speed points ({speeds} rpm), at least {least_points} in one "
        "direction are needed; record more speeds, or use the ramps between the holds"
    )


def _remarks(recording: Recording, columns: dict[str, NDArray[Any]]) -> tuple[str, ...]:
    """What the reader of the points must know."""
    notes = []
    outliers, count = int(columns["outliers"].sum()), int(columns["count"].sum())
    if outliers:
        notes.append(f"{outliers} of {outliers + count} readings left out as outliers ({OUTLIER:g} robust sigma).")
    if (columns["direction"] == "").all():
        steps = np.diff(recording.sample["speed"].to_numpy())
        mixed = not recording.sensors and bool((steps > 0.0).any() and (steps < 0.0).any())
        notes.append(
            "Neither time nor direction is recorded: run-up and run-down cannot be distinguished"
            + (", and the speed rises and falls, so both may be mixed." if mixed else ".")
        )
    if "excitation" in recording.columns and recording.sample["excitation"].n_unique() > 1:
        notes.append(
            "Readings with different excitation are averaged together; magnetic pull shifts the gap by hundredths of "
            "a millimetre, so evaluate them separately."
        )
    single = np.isnan(columns["standard_error"])
    if single.any():
        notes.append(
            f"{np.count_nonzero(single)} of {single.size} points are single readings, whose scatter is unknown."
        )
    return tuple(notes)
