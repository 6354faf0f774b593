"""Least gaps that a recording of single poles shows, plane by plane, with what the case knows of sensors and bore."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from rimmodel.arrays import Interval
from rimmodel.behaviour.least_gap.shapes import bore_shape
from rimmodel.evidence.reduction.bore_split import PlaneGap, PlaneReadings, SensorErrors, sight, split_plane
from rimmodel.evidence.reduction.rotor_shape import RotorShape
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.requirements import CaseRecord, WitnessMark

SAME_SPEED = 0.02
"""Share by which the speed of a point may differ from that which is asked, and still speak for it."""


def least_gaps(
    rotor: Rotor,
    condition: Condition,
    record: CaseRecord,
    shapes: Mapping[str, RotorShape],
    confidence: float = 0.95,
) -> dict[str, PlaneGap]:
    """Bore, rotor, centre and least gap of each sensor plane of a recording.

    What the sensors cannot see of the bore is bounded by the waves of its survey that they do not see, or without a
    survey by the assembly tolerance of its circularity.

    Parameters
    ----------
    rotor : Rotor
        Of scalar fields.
    record : CaseRecord
        Whose sensors they are.
    shapes : mapping of str to RotorShape
        By plane.
    confidence : float, -
    """
    return {plane: _plane(rotor, condition, record, shape, confidence) for plane, shape in shapes.items()}


def _plane(rotor: Rotor, condition: Condition, record: CaseRecord, shape: RotorShape, confidence: float) -> PlaneGap:
    whole = np.isfinite(shape.stator.deviation).all(axis=0)
    if not whole.any():
        whole = np.ones(whole.shape, dtype=bool)
    angle = shape.stator.angle[whole]
    readings = PlaneReadings(
        shape.speed, shape.direction, shape.mean, np.nan_to_num(shape.stator.deviation[:, whole]), angle,
        shape.rotor.deviation, shape.rotor.angle, shape.residual,
    )  # fmt: skip
    known = angle[np.isfinite(angle)]
    one = float(record.sensor_offset if record.one_sensor_offset is None else record.one_sensor_offset)
    common = float(np.sqrt(max(float(record.sensor_offset) ** 2 - one**2 / angle.size, 0.0)))
    highest = sight(known).highest if known.size else 0
    errors = SensorErrors(one, common, unseen_bore(rotor, condition, highest), _offset_bound(rotor))
    return split_plane(readings, errors, confidence)


def unseen_bore(rotor: Rotor, condition: Condition, highest: int) -> float:
    """Most by which waves of the bore above a harmonic move it in or out.

    Parameters
    ----------
    highest : int
        Harmonic up to which sensors tell waves apart.

    Returns
    -------
    float, m
    """
    assembly = rotor.assembly
    waves = np.abs(bore_shape(rotor, condition))[max(highest + 1, 2) :].sum()
    if assembly.stator_shape:
        return float(waves)
    return float(waves) + float(assembly.stator_circularity_share) * float(rotor.air_gap.cold)


def _offset_bound(rotor: Rotor) -> float:
    offset = rotor.assembly.centre_offset
    return float(rotor.assembly.concentricity_share) * float(rotor.air_gap.cold) if offset is None else float(offset)


def shown_at(planes: Mapping[str, PlaneGap], speed: float) -> Interval | None:
    """The least gap that a recording shows at a speed, over all planes; None where it has no point there.

    Parameters
    ----------
    speed : float, rad/s

    Returns
    -------
    pair of float or None, m
        Lowest of the lower ends and of the upper ends: the narrowest plane counts.
    """
    ends = []
    for found in planes.values():
        near = np.abs(found.speed - speed) <= SAME_SPEED * max(speed, 1e-9)
        ends += [(low, high) for low, high in zip(found.low[near], found.high[near], strict=True) if np.isfinite(low)]
    if not ends:
        return None
    return float(min(low for low, _ in ends)), float(min(high for _, high in ends))


def touched_bound(marks: tuple[WitnessMark, ...], condition: str, first: str, speed: float) -> float:
    """Upper bound of the least gap at a speed from marks that were touched in a run no faster, in the same condition.

    Parameters
    ----------
    condition, first : str
        The condition that is asked for, and that of a mark which names none.
    speed : float, rad/s

    Returns
    -------
    float, m
        Infinite without such a mark.
    """
    hit = [
        float(mark.gap)
        for mark in marks
        if mark.mark == "touched"
        and (mark.condition or first) == condition
        and float(mark.highest_speed) <= speed * (1.0 + SAME_SPEED)
    ]
    return min(hit, default=float("inf"))
