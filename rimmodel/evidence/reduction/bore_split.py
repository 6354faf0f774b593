"""Least gap, bore, rotor and centre from sensors that read every pole: what they show, and what they cannot see.

A sensor is one place of the bore and sees every pole, so the rotor is known pole by pole, and the bore at the sensors
alone. Between them the bore is the sum of those harmonics that so many sensors tell apart; a higher one reads as a
lower one (of N even sensors n as N - n) or as nothing. It is never reported as none: by how much it may narrow the gap
is a bound from outside (a survey, or the assembly tolerance), and widens the interval downwards. The gap at the sensors
bounds the least gap from above whatever lies between.

The first harmonic that stands is the offset of bore and axis; the first that turns is eccentricity of the rotor with
the shaft's motion once per turn, which a recording cannot part: only its change from the slowest point is motion, or a
rim that shifts. Readings are means over turns: motion at other frequencies is not in them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Complex, Floats, floats
from rimmodel.elastic.lowest_point import lowest_point
from rimmodel.evidence.reduction.amplitude import Amplitude, amplitude_of

HIGHEST_NAMED = 8
"""Harmonics of the bore that are named as seen or not."""

SHARPNESS = 0.3
"""Least singular value of the harmonics at the sensors, over that of even sensors, that distinguishes them."""

DRAWS = 300
_SEED = 20


@dataclass(frozen=True)
class SensorErrors:
    """What is known of the sensors and of what they do not see.

    Attributes
    ----------
    one : float, m
        Standard uncertainty of the level of one sensor, each by itself.
    common : float, m
        The same of what all share.
    unseen : float, m
        Most by which waves that the sensors cannot see move the bore in or out.
    offset : float, m
        Most by which axis and bore may be off where too few sensors tell.
    """

    one: float
    common: float
    unseen: float
    offset: float


@dataclass(frozen=True)
class Sight:
    """What sensors at given angles see of the bore.

    Attributes
    ----------
    highest : int
        Harmonic up to which they tell waves apart; 0: the mean alone.
    inverse : array (1 + 2 highest, sensor), -
        Mean, then cosine and sine of each harmonic, per reading.
    reach : float, -
        Most by which a reading off by one at every sensor moves the bore between them.
    reads_as : dict of int to int or None
        Harmonics above `highest` up to `HIGHEST_NAMED`: as which lower one they read (0: the mean), None where as
        none of them.
    """

    highest: int
    inverse: Floats
    reach: float
    reads_as: dict[int, int | None]


@dataclass(frozen=True)
class PlaneGap:
    """One sensor plane at every speed point; NaN where there is no number.

    Attributes
    ----------
    speed : array (point,), rad/s
    direction : str array (point,)
    mean : array (point,), m
    offset, bore_oval : Amplitude
        Of the bore: first and second harmonic, standing.
    once_per_turn, rotor_oval : Amplitude
        Of the pole faces: first and second harmonic, turning.
    once_change : Amplitude
        First harmonic that turns, against the slowest point.
    circularity, circularity_error : array (point,), m
        Largest deviation of a pole from the mean radius, eccentricity taken out, and its standard error.
    least, low, high : array (point,), m
        Least gap and its interval.
    stator_angle : array (point,), rad
        Where on the stator it is least.
    pole : int array (point,)
        Which pole passes there, from 1.
    sensors : int
        Of known angle.
    confidence : float, -
    """

    speed: Floats
    direction: NDArray[np.str_]
    mean: Floats
    offset: Amplitude
    bore_oval: Amplitude
    once_per_turn: Amplitude
    rotor_oval: Amplitude
    once_change: Amplitude
    circularity: Floats
    circularity_error: Floats
    least: Floats
    low: Floats
    high: Floats
    stator_angle: Floats
    pole: NDArray[np.int64]
    sight: Sight
    sensors: int
    errors: SensorErrors
    confidence: float


@dataclass(frozen=True)
class PlaneReadings:
    """Mean gap of every pole at every sensor of one plane, as mean, parts of sensors and of poles, and what is left.

    Attributes
    ----------
    speed : array (point,), rad/s
    direction : str array (point,)
    mean : array (point,), m
    bore : array (point, sensor), m
        Part of each sensor.
    sensor_angle : array (sensor,), rad
        NaN where it is not known.
    faces : array (point, pole), m
        Part of each pole, + outward.
    pole_angle : array (pole,), rad
    residual : array (point,), m
        Standard deviation of what is left of one pole at one sensor.
    """

    speed: Floats
    direction: NDArray[np.str_]
    mean: Floats
    bore: Floats
    sensor_angle: Floats
    faces: Floats
    pole_angle: Floats
    residual: Floats


def sight(angle: Floats) -> Sight:
    """What sensors at these angles see.

    Parameters
    ----------
    angle : array (sensor,), rad
        One or more.

    Six even sensors tell harmonics 1 and 2; 4 reads as 2, 5 as 1, 6 as the mean, and 3 as part of itself:

    >>> found = sight(np.arange(6) * np.pi / 3)
    >>> found.highest, found.reads_as[3], found.reads_as[4], found.reads_as[5], found.reads_as[6]
    (2, None, 2, 1, 0)
    """
    count = angle.size
    highest = 0
    for n in range(1, HIGHEST_NAMED + 1):
        if 2 * n + 1 > count:
            break
        least = np.linalg.svd(_columns(angle, n), compute_uv=False)[-1]
        if least < SHARPNESS * np.sqrt(count / 2.0):
            break
        highest = n
    columns = _columns(angle, highest)
    inverse = floats(np.linalg.pinv(columns))
    fine = np.linspace(0.0, 2.0 * np.pi, 32 * (highest + 1), endpoint=False)
    reach = float(np.abs(_columns(fine, highest) @ inverse).sum(axis=1).max())
    reads_as = {n: _reads_as(angle, inverse, n) for n in range(highest + 1, HIGHEST_NAMED + 1)}
    return Sight(highest, inverse, reach, reads_as)


def _columns(angle: Floats, highest: int) -> Floats:
    n = np.arange(1, highest + 1)
    waves = np.stack([np.cos(angle[:, None] * n), np.sin(angle[:, None] * n)], axis=-1)
    return floats(np.concatenate([np.ones((angle.size, 1)), waves.reshape(angle.size, 2 * highest)], axis=1))


def _reads_as(angle: Floats, inverse: Floats, harmonic: int) -> int | None:
    """The harmonic as which another shows most, from half of its size on."""
    wave = np.exp(1j * harmonic * angle)
    found = inverse @ wave
    size = [float(np.abs(found[0])), *np.hypot(np.abs(found[1::2]), np.abs(found[2::2])) / np.sqrt(2.0)]
    most = int(np.argmax(size))
    return most if size[most] >= 0.5 else None


def split_plane(readings: PlaneReadings, errors: SensorErrors, confidence: float = 0.95) -> PlaneGap:
    """Bore, rotor, centre and least gap of one plane with their intervals, by the method of the module.

    The least of a noisy curve lies too low; 300 draws of what noise and sensors leave open say by how much, and how
    wide. The interval holds the least gap in 93 to 97 of 100 virtual runs whose waves the sensors see.

    Parameters
    ----------
    confidence : float, -
    """
    from scipy.special import ndtri

    known = np.isfinite(readings.sensor_angle)
    level = (readings.mean[:, None] + readings.bore)[:, known] if known.any() else readings.mean[:, None]
    seen = sight(readings.sensor_angle[known] if known.any() else np.zeros(1))
    poles, sensors = readings.faces.shape[1], readings.bore.shape[1]
    noise = np.nan_to_num(readings.residual)
    of_sensor, of_pole = np.hypot(errors.one, noise / np.sqrt(poles)), noise / np.sqrt(sensors)
    parts = level @ seen.inverse.T
    spread = np.sqrt((seen.inverse**2).sum(axis=1)) * of_sensor[:, None]
    turning = _turning(readings)
    turning_error = of_pole * np.sqrt(2.0 / poles)

    def of_bore(n: int) -> Amplitude:
        if n > seen.highest:
            none = np.full(readings.mean.shape, np.nan)
            return amplitude_of(none, none, none, n, confidence)
        cosine, sine = 2 * n - 1, 2 * n
        error = np.maximum(spread[:, cosine], spread[:, sine])
        return amplitude_of(parts[:, cosine], parts[:, sine], error, n, confidence)

    slowest = int(np.argmin(readings.speed))
    changed = turning[0] - turning[0][slowest]
    change_error = np.hypot(turning_error, turning_error[slowest])
    least = _least_of(parts, level, readings.faces, seen, errors, of_sensor, of_pole)
    z = float(ndtri((1.0 + confidence) / 2.0))
    hidden = errors.unseen + (errors.offset if seen.highest == 0 else 0.0)
    high = least.between + z * least.between_spread if hidden == 0.0 else least.at_sensors + z * least.sensors_spread
    return PlaneGap(
        readings.speed, readings.direction, readings.mean, of_bore(1), of_bore(2),
        amplitude_of(turning[0].real, turning[0].imag, turning_error, 1, confidence),
        amplitude_of(turning[1].real, turning[1].imag, turning_error, 2, confidence),
        amplitude_of(changed.real, changed.imag, change_error, 1, confidence),
        np.abs(readings.faces - _eccentric(readings, turning[0])).max(axis=1), of_pole,
        np.minimum(least.between, high), least.between - z * least.between_spread - (1.0 + seen.reach) * hidden, high,
        least.angle, readings.faces.argmax(axis=1) + 1, seen, int(known.sum()), errors, confidence,
    )  # fmt: skip


def _turning(readings: PlaneReadings) -> tuple[Complex, Complex]:
    """Cosine part + i sine part of the first two harmonics of the pole faces, by least squares over the poles."""
    columns = _columns(readings.pole_angle, 2)
    found = readings.faces @ np.linalg.pinv(columns).T
    return found[:, 1] + 1j * found[:, 2], found[:, 3] + 1j * found[:, 4]


def _eccentric(readings: PlaneReadings, first: Complex) -> Floats:
    """What the first harmonic makes of each pole (point, pole), m."""
    return floats((first[:, None] * np.exp(-1j * readings.pole_angle)).real)


@dataclass(frozen=True)
class _Least:
    """Least gap with the bias of the least taken out, and its spread: between the sensors, and at them."""

    between: Floats
    between_spread: Floats
    at_sensors: Floats
    sensors_spread: Floats
    angle: Floats


def _least_of(
    parts: Floats, level: Floats, faces: Floats, seen: Sight, errors: SensorErrors, of_sensor: Floats, of_pole: Floats
) -> _Least:
    """Least gaps of every point, each with draws of sensors and poles."""
    rng = np.random.default_rng(_SEED)
    sensors, poles = rng.normal(size=(DRAWS, level.shape[1])), rng.normal(size=(DRAWS, faces.shape[1]))
    common = errors.common * rng.normal(size=DRAWS)
    rows = []
    for point in range(len(level)):
        crest = faces[point].max()
        off = of_sensor[point] * sensors
        crests = (faces[point] + of_pole[point] * poles).max(axis=1)
        best, angle = lowest_point(_waves(parts[point]))
        drawn = lowest_point(_waves(parts[point] + off @ seen.inverse.T))[0] - crests + common
        at = level[point].min()
        drawn_at = (level[point] + off).min(axis=1) - crests + common
        rows.append((*_without_bias(float(best) - crest, drawn), *_without_bias(at - crest, drawn_at), float(angle)))
    return _Least(*np.array(rows).reshape(-1, 5).T)


def _without_bias(found: float, drawn: Floats) -> tuple[float, float]:
    """The found value less the bias that draws about it show, and their spread, which counts the bias as unknown."""
    bias = float(drawn.mean()) - found
    return found - bias, float(np.hypot(drawn.std(ddof=1), bias))


def _waves(parts: Floats) -> Complex:
    """Complex harmonics from mean, cosine and sine parts along the last axis."""
    return np.concatenate([parts[..., :1], parts[..., 1::2] - 1j * parts[..., 2::2]], axis=-1).astype(np.complex128)
