"""Shape of rotor and stator at each speed, from readings of every pole at every sensor.

A gap is the sum of a mean, a part that stands with the sensor (stator), a part that turns with the pole (rotor) and
a rest. First harmonics are eccentricities, second harmonics ovalities. A shaft that bows or orbits once per turn
moves the rotor part like an eccentric rotor; the two cannot be separated here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.recording.delimited import RecordingError
from rimmodel.evidence.recording.survey import batches
from rimmodel.evidence.reduction.condensed import DIRECTIONS, Reduction, reduce_recording
from rimmodel.evidence.reduction.dwells import LEAST_HOLD, TOLERANCE
from rimmodel.evidence.reduction.outline import Outline, make_outline
from rimmodel.evidence.reduction.sensors import unit_names
from rimmodel.evidence.reduction.two_way import two_way
from rimmodel.units import mm

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from rimmodel.evidence.recording.recording import Recording


FACE_RADIUS = 4.0
"""m; stands in for the pole-face radius, which enters the circle fits only through deviation^2 / radius."""

FEW_SENSORS = "Fewer than five sensors at different known angles: the ovality of the stator cannot be determined."


@dataclass(frozen=True)
class RotorShape:
    """Rotor and stator shape per speed point; nan where it cannot be determined, with the reason in `notes`.

    Parameters
    ----------
    speed : float array (point,), rad/s
    mean : float array (point,), m
        Of the gap.
    direction : str array (point,)
        "up", "down" or "".
    steady : bool array (point,)
        Hold, or piece of ramp.
    sensors : tuple of str
        Sensors used, in the order of `stator.angle`.
    residual : float array (point,), m
        Standard deviation of what mean and parts leave of the mean gap of one pole at one sensor.
    rotor : Outline
        Of the pole faces, in the turning frame, pole by pole.
    stator : Outline
        Of the bore, standing, sensor by sensor.
    nominal_gap : float, m
        To which the percentages refer.
    notes : tuple of str
        What was left out, and what cannot be determined.

    """

    speed: Floats
    mean: Floats
    direction: NDArray[np.str_]
    steady: NDArray[np.bool_]
    sensors: tuple[str, ...]
    residual: Floats
    rotor: Outline
    stator: Outline
    nominal_gap: float
    notes: tuple[str, ...]


def rotor_shape(
    recording: Recording,
    *,
    plane: str = "",
    pole_count: int | None = None,
    first_pole_angle: float = 0.0,
    numbering: str = "with rotation",
    nominal_gap: float | None = None,
    face_radius: float = FACE_RADIUS,
    least_hold: float = LEAST_HOLD,
    tolerance: float = TOLERANCE,
) -> RotorShape:
    """Split the gaps of each speed point into stator and rotor parts and describe both shapes.

    Parameters
    ----------
    recording : Recording
        With sensor and pole; with angle for the harmonics of the stator.
    plane : str
        Sensor plane; needed when the recording has several, because a tilted rotor differs from plane to plane.
    pole_count : int, optional
        Poles on the rotor; the highest number in the recording when not given.
    first_pole_angle : float, rad
        Of pole 1 in the turning frame.
    numbering : str
        "with rotation" or "against rotation".
    nominal_gap : float, m, optional
        For the percentages; the mean gap of the slowest point when not given.
    face_radius : float, m
        Of the pole faces.
    least_hold, tolerance : as in `speed_points`

    Returns
    -------
    RotorShape
        Sorted by direction and speed; pieces of ramp that do not show every pole are left out.

    Raises
    ------
    RecordingError
        No pole column, an unknown plane or none of several chosen, unknown numbering.

    gap[sensor, pole] = mean + stator_part[sensor] + rotor_part[pole] + rest, least squares; derived here.

    """
    _check(recording, plane, numbering)
    if recording.is_change and nominal_gap is None:
        raise RecordingError(f"{recording.source} gives changes of gap; give nominal_gap for the percentages")
    reduction = reduce_recording(recording, least_hold=least_hold, tolerance=tolerance)
    units = _units(reduction, plane, recording.source)
    poles = pole_count or recording.poles[1]
    table = _gap_by_pole(reduction, poles)[:, units, :]
    known = (np.isfinite(table).sum(axis=1) > 0).all(axis=1)
    if not known.any():
        raise RecordingError(f"{recording.source}: no speed point shows all {poles} poles")
    speed, order = _speeds(reduction), np.flatnonzero(known)
    order = order[np.lexsort((speed[order], -reduction.points.direction[order]))]
    parts = [two_way(table[i]) for i in order]
    mean, noise = np.array([part.mean for part in parts]), np.array([part.spread for part in parts])
    notes = [*recording.notes, *reduction.health.notes, *_left(known)]
    if nominal_gap is None:
        nominal_gap = float(mean[np.argmin(speed[order])])
        notes.append(f"Percentages are of the mean gap at the slowest point, {mm(nominal_gap, '.4g')}.")
    sensors = tuple(unit_names(reduction.grid)[unit][0] for unit in units)
    turn = 1.0 if numbering == "with rotation" else -1.0
    rotor = make_outline(
        first_pole_angle + turn * 2.0 * np.pi * np.arange(poles) / poles,
        -np.array([part.column for part in parts]),
        noise / np.sqrt(len(sensors)),
        mean_radius=face_radius,
        nominal_gap=nominal_gap,
    )
    stator = make_outline(
        sensor_angles(recording, sensors),
        np.array([part.row for part in parts]),
        noise / np.sqrt(poles),
        mean_radius=face_radius,
        nominal_gap=nominal_gap,
    )
    if np.isnan(stator.ovality.amplitude).all():
        notes.append(FEW_SENSORS)
    return RotorShape(
        speed=speed[order],
        mean=mean,
        direction=DIRECTIONS[reduction.points.direction[order] + 1],
        steady=reduction.points.steady[order],
        sensors=sensors,
        residual=noise,
        rotor=rotor,
        stator=stator,
        nominal_gap=nominal_gap,
        notes=tuple(notes),
    )


def _units(reduction: Reduction, plane: str, source: str) -> list[int]:
    units = [i for i, (_, p) in enumerate(unit_names(reduction.grid)) if reduction.health.usable[i] and p == plane]
    if not units:
        raise RecordingError(f"{source}: plane {plane!r} has no usable sensor")
    return units


def _check(recording: Recording, plane: str, numbering: str) -> None:
    if numbering not in ("with rotation", "against rotation"):
        raise RecordingError(f"numbering {numbering!r} is neither 'with rotation' nor 'against rotation'")
    if not recording.poles:
        raise RecordingError(
            f"{recording.source} has no pole column: the mean gap and the stator shape can be determined, the rotor "
            f"shape cannot"
        )
    if plane not in (recording.planes or ("",)):
        raise RecordingError(
            f"{recording.source}: plane {plane!r} is not one of {', '.join(recording.planes) or 'none'}; choose one"
        )


def _left(known: NDArray[np.bool_]) -> list[str]:
    gone = int(np.count_nonzero(~known))
    return [f"{gone} speed points do not show every pole; shapes are given for the others."] if gone else []


def _speeds(reduction: Reduction) -> Floats:
    of_block, number = reduction.points.of_block, reduction.points.steady.size
    weight = reduction.cells.count.sum(axis=1)
    total = np.bincount(of_block, np.nan_to_num(reduction.cells.speed) * weight, number)
    speed: Floats = total / np.maximum(np.bincount(of_block, weight, number), 1e-300)
    return speed


def _gap_by_pole(reduction: Reduction, poles: int) -> Floats:
    """Mean gap (point, unit, pole) of the readings inside their limits; one more pass through the rows."""
    grid, points, recording = reduction.grid, reduction.points, reduction.recording
    shape = (points.steady.size, grid.units, poles)
    count, total = np.zeros(np.prod(shape)), np.zeros(np.prod(shape))
    wanted = [n for n in ("gap", grid.axis, "pole", "sensor", "plane", "direction") if n in recording.columns]
    import polars as pl

    for rows in batches(recording.table.select(wanted).filter(pl.col("pole").is_between(1, poles))):
        cell = points.of_block[grid.block(rows)] * grid.units + grid.unit(rows)
        gap = rows["gap"].to_numpy()
        inside = (gap >= reduction.lowest.ravel()[cell]) & (gap <= reduction.highest.ravel()[cell])
        place = (cell * poles + rows["pole"].to_numpy() - 1)[inside]
        count += np.bincount(place, minlength=count.size)
        total += np.bincount(place, gap[inside], count.size)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean: Floats = (total / count).reshape(shape)
    return mean


def sensor_angles(recording: Recording, sensors: tuple[str, ...]) -> Floats:
    """Angle at which each sensor stands.

    Returns
    -------
    array (sensor,), rad
        NaN where not recorded.
    """
    import polars as pl

    if "angle" not in recording.columns:
        return np.full(len(sensors), np.nan)
    name = pl.col("sensor").cast(pl.String) if "sensor" in recording.columns else pl.lit("")
    table = recording.sample.group_by(name.alias("sensor")).agg(pl.col("angle").median())
    angle = dict(table.iter_rows())
    return np.array([angle[sensor] if angle.get(sensor) is not None else np.nan for sensor in sensors])
