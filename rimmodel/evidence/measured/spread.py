"""Whether planes, and sensors, show one lift-off or several; and what two planes say of taper and tilt of the rotor."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats, Interval
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.evidence.knee.differences import CommonKnee, Frame, KneeDifference, common_knee, frame_of, knee_difference
from rimmodel.evidence.knee.fit import Knee
from rimmodel.evidence.reduction.sensor_gaps import SensorGaps
from rimmodel.rotor import Condition, Rotor

EQUAL = 0.02
"""Chance of a difference as large from equal knees below which they are taken to be different."""

LEAST_ANGLES = 3
"""Sensors of a plane at different angles that a displacement of the rotor needs."""


@dataclass(frozen=True)
class OwnKnee:
    """Lift-off as one plane or sensor shows it, against the others of the same run.

    Attributes
    ----------
    float_speed : float, rad/s
        Common lift-off with the difference added.
    difference : float, rad/s
        From the others.
    interval : pair of float, rad/s
        Of the difference; infinite on a side that the data leave open.
    p_value : float, -
        Chance of so large a difference where all lift off together.
    """

    name: str
    float_speed: float
    difference: float
    interval: Interval
    p_value: float


@dataclass(frozen=True)
class KneeSpread:
    """Lift-off of each plane, or of each sensor, with a test of whether they are one and the same.

    Attributes
    ----------
    common : float, rad/s
        Lift-off in the mean of all.
    p_value : float, -
        Chance of the largest difference where all lift off together, corrected for how many were compared.
    confidence : float, -
        Of the intervals.
    """

    of: Literal["plane", "sensor"]
    knees: tuple[OwnKnee, ...]
    common: float
    p_value: float
    confidence: float

    @property
    def differ(self) -> bool:
        """Whether the data show that not all lift off at one speed."""
        return self.p_value < EQUAL


@dataclass(frozen=True)
class TwoEnds:
    """What two sensor planes say of the rotor from end to end; changes are from the slowest to the fastest speed.

    Attributes
    ----------
    first, last : str
        Planes; `first` lets go at the lower speed.
    difference : float, rad/s
        Lift-off of `last` less that of `first`.
    interval : pair of float, rad/s
    interference : float, m
        That the difference amounts to: more under `last` than under `first`, if the rim grows alike at both.
    interference_interval : pair of float, m
    cone : float, m
        Growth of the rotor at `first` less that at `last`: opening of a cone.
    tilt : float, m
        How far the axis of the rotor moved at `first` against `last`; NaN where sensor angles are not known.
    tilt_uncertainty : float, m
        Standard uncertainty of either component of it.
    tilt_angle : float, rad
        Direction of it, in the frame of the sensors.
    differ : bool
        Whether the data show that both do not lift off at one speed.
    confidence : float, -
    """

    first: str
    last: str
    difference: float
    interval: Interval
    interference: float
    interference_interval: Interval
    cone: float
    tilt: float
    tilt_uncertainty: float
    tilt_angle: float
    differ: bool
    confidence: float


def plane_spread(
    speed: Floats, moment: Floats, sensors: SensorGaps, knee: Knee, confidence: float = 0.95
) -> KneeSpread | None:
    """Compare the knees of sensor planes.

    Parameters
    ----------
    speed : array (point,), rad/s
    moment : array (point,), s
        When each was read.
    sensors : SensorGaps
        Of the same points.
    knee : Knee
        Of the mean over all planes.
    confidence : float, -

    Returns
    -------
    KneeSpread or None
        None where there is one plane, no knee to compare, or too few points.
    """
    groups = {
        plane: np.array([name == plane for name in sensors.plane]) & sensors.usable
        for plane in dict.fromkeys(sensors.plane)
    }
    return _spread("plane", {name: chosen for name, chosen in groups.items() if chosen.any()}, speed, moment, sensors,
                   knee, confidence)  # fmt: skip


def sensor_spread(
    speed: Floats, moment: Floats, sensors: SensorGaps, knee: Knee, confidence: float = 0.95
) -> KneeSpread | None:
    """Compare the knees of single sensors; see `plane_spread`.

    Parameters
    ----------
    speed : array (point,), rad/s
    moment : array (point,), s
    confidence : float, -
    """
    groups = {}
    for number in np.flatnonzero(sensors.usable):
        chosen = np.zeros(len(sensors.usable), dtype=bool)
        chosen[number] = True
        groups[sensors.names[number]] = chosen
    return _spread("sensor", groups, speed, moment, sensors, knee, confidence)


def _spread(
    of: Literal["plane", "sensor"],
    groups: dict[str, NDArray[np.bool_]],
    speed: Floats,
    moment: Floats,
    sensors: SensorGaps,
    knee: Knee,
    confidence: float,
) -> KneeSpread | None:
    if len(groups) < 2 or knee.verdict != "resolved" or len(knee.used) != len(speed):
        return None
    x, moments, count = speed[knee.used] ** 2, moment[knee.used], len(groups)
    levels = {name: sensors.level(chosen)[knee.used] for name, chosen in groups.items()}
    common = common_knee(x, sensors.level(sensors.usable)[knee.used], knee)
    found: dict[str, KneeDifference] = {}
    frames: dict[bytes, Frame | None] = {}
    for name, chosen in groups.items():
        if count == 2 and found:  # the difference of two is one number
            (one,) = found.values()
            low, high = one.interval
            found[name] = KneeDifference(-one.best, (-high, -low), one.p_value)
            continue
        others = sensors.level(sensors.usable & ~chosen)[knee.used]
        difference = levels[name] - others
        known = np.isfinite(difference)
        if known.tobytes() not in frames:
            frames[known.tobytes()] = frame_of(x[known], moments[known])
        frame = frames[known.tobytes()]
        if frame is not None:
            found[name] = knee_difference(frame, difference[known], common, count, confidence)
        elif count == 2:
            return None
    if not found:
        return None
    knees = tuple(_own(name, one, common, 1.0 - 1.0 / count) for name, one in found.items())
    compared = 1 if count == 2 else len(found)
    least = min(one.p_value for one in knees)
    return KneeSpread(of, knees, float(np.sqrt(_middle(common))), min(1.0, compared * least), confidence)


def _middle(common: CommonKnee) -> float:
    return float(np.average(common.knee, weights=common.weight))


def _own(name: str, found: KneeDifference, common: CommonKnee, share: float) -> OwnKnee:
    """The difference of speeds squared as one of speeds, about the common knee."""
    middle = _middle(common)

    def apart(shift: float) -> float:
        if not np.isfinite(shift):
            return shift
        own, others = middle + share * shift, middle - (1.0 - share) * shift
        return float(np.sqrt(max(own, 0.0)) - np.sqrt(max(others, 0.0)))

    low, high = found.interval
    own = float(np.sqrt(max(middle + share * found.best, 0.0)))
    return OwnKnee(name, own, apart(found.best), (apart(low), apart(high)), found.p_value)


def two_ends(
    rotor: Rotor, condition: Condition, speed: Floats, sensors: SensorGaps, spread: KneeSpread
) -> TwoEnds | None:
    """Read two planes as two ends of the rotor.

    Parameters
    ----------
    speed : array (point,), rad/s
    spread : KneeSpread
        Of the planes.

    Returns
    -------
    TwoEnds or None
        None where there are not two planes.
    """
    if spread.of != "plane" or len(spread.knees) != 2:
        return None
    first, last = sorted(spread.knees, key=lambda one: one.float_speed)
    # interference left is lost with speed squared, so a difference of lift-off is one of interference
    per_squared = float(np.squeeze(coefficients(rotor, condition).net_growth))

    def amounts(difference: float) -> float:
        half = 0.5 * difference
        return per_squared * ((spread.common + half) ** 2 - (spread.common - half) ** 2)

    chosen = [np.array([name == end.name for name in sensors.plane]) & sensors.usable for end in (first, last)]
    levels = [sensors.level(some) for some in chosen]
    slow, fast = _ends(speed)
    narrowing = [float(np.nanmean(level[slow]) - np.nanmean(level[fast])) for level in levels]
    move = [_displacement(sensors, some, slow, fast) for some in chosen]
    tilt = move[0][0] - move[1][0]
    ends = last.interval
    return TwoEnds(
        first=first.name,
        last=last.name,
        difference=last.difference,
        interval=ends,
        interference=amounts(last.difference),
        interference_interval=(amounts(ends[0]), amounts(ends[1])),
        cone=narrowing[0] - narrowing[1],
        tilt=float(abs(tilt)),
        tilt_uncertainty=float(np.hypot(move[0][1], move[1][1])),
        tilt_angle=float(np.angle(tilt)) % (2.0 * np.pi),
        differ=spread.differ,
        confidence=spread.confidence,
    )


def _ends(speed: Floats) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Slowest and fastest points, those within a hundredth of the highest speed together."""
    within = 0.01 * speed.max()
    return speed <= speed.min() + within, speed >= speed.max() - within


def _displacement(
    sensors: SensorGaps, chosen: NDArray[np.bool_], slow: NDArray[np.bool_], fast: NDArray[np.bool_]
) -> tuple[complex, float]:
    """Move of the rotor in a plane from slow to fast, m, and the standard uncertainty of its components.

    A rotor that moves towards a sensor takes its gap: the first harmonic of the change of gap over the angles.
    """
    angle = sensors.angle[chosen]
    change = np.nanmean(sensors.gap[fast][:, chosen], axis=0) - np.nanmean(sensors.gap[slow][:, chosen], axis=0)
    known = np.isfinite(angle) & np.isfinite(change)
    if len(np.unique(np.round(angle[known], 6))) < LEAST_ANGLES:
        return complex(np.nan, np.nan), float("nan")
    angle, change = angle[known], change[known]
    columns = np.stack([np.ones_like(angle), -np.cos(angle), -np.sin(angle)], axis=1)
    found, *_ = np.linalg.lstsq(columns, change, rcond=None)
    freedom = len(angle) - 3
    left = change - columns @ found
    noise = float(np.sqrt(left @ left / freedom)) if freedom else float("nan")
    spread = np.sqrt(np.mean(np.diag(np.linalg.inv(columns.T @ columns))[1:]))
    return complex(found[1], found[2]), noise * float(spread)
