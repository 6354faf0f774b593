"""From the measured shape of the rotor back to its shims.

As keys lift off one by one the rim is let into another shape each time, and the gap of every pole shows it. Every
pole's own height, every speed's mean gap and, unless it is known to be the rim's, its shift are left free: what is
used is the change of shape with speed and nothing else. The interference of each key is then the most probable one,
given the readings and what the keying sheet says; both pull with the weight of their standard deviations. Where
readings show nothing the sheet is what comes back, with the sheet's tolerance, and that is stated.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.keys.complementarity import condensed
from rimmodel.behaviour.keys.keyed_rotor import KeyedRotor
from rimmodel.behaviour.keys.lockstep import follow
from rimmodel.behaviour.keys.path import key_speeds
from rimmodel.evidence.shims.search import covariance_about, most_probable
from rimmodel.units import MILLIMETRE, rpm


@dataclass(frozen=True)
class ShimMap:
    """Interference of each of N keys as read from the shape, with what is known of it.

    Attributes
    ----------
    key_interference : array (N,), m
    covariance : array (N, N), m2
        Holds the sheet's knowledge too.
    interval : array (N, 2), m
        Of the confidence asked for.
    shim_change : array (N,), m
        Makes all keys alike at the target.
    shim_change_interval : array (N, 2), m
    pattern : array (N, N), -
        Columns over the keys.
    seen : array (N,), -
        Share of the sheet's variance that the readings take off each pattern, from the best seen (1) to the unseen (0).
    chi_squared : float, -
    """

    key_interference: Floats
    covariance: Floats
    interval: Floats
    shim_change: Floats
    shim_change_interval: Floats
    pattern: Floats
    seen: Floats
    chi_squared: float
    degrees_of_freedom: int
    success: bool
    notes: tuple[str, ...] = field(default=())


def shim_map(
    keyed: KeyedRotor,
    speed: ArrayLike,
    pole_angle: ArrayLike,
    gap: ArrayLike,
    noise: float,
    sheet_tolerance: float,
    shift_is_rims: bool = False,
    target: float | None = None,
    confidence: float = 0.95,
) -> ShimMap:
    """Estimate the interference of each key from the gap of each pole against speed.

    Parameters
    ----------
    keyed : KeyedRotor
        The rotor as `keyed_rotor` sets it up, with the interferences of the keying sheet.
    speed : array (n,), rad/s
        Two and more, rising.
    pole_angle : array (P,), rad
        In the turning frame.
    gap : array (n, P), m
        Of each pole at each speed, past one sensor; any constant per pole or per speed may be in it.
    noise : float, m
        Standard deviation of one reading, absolute.
    sheet_tolerance : float, m
        Half-width of one key's interference on the sheet, two standard deviations.
    shift_is_rims : bool
        True when the once-per-turn part of the readings is the rim's shift on its spider and not the shaft's.
    target : float, m, optional
        Interference that all keys shall have; the mean of the estimate by default.
    confidence : float, -

    Raises
    ------
    ValueError
        Arrays that do not fit each other, readings that are not finite, or a spread that is not above zero.

    Notes
    -----
    Least squares of readings over noise and of sheet over its standard deviation; Gauss-Newton with halved steps, the
    sensitivities exact for the keys that are seated at each speed; where several explanations are about as probable,
    the covariance spans them. Free offsets are projected out, which leaves the
    noise white (Bayesian linear model; e.g. Tarantola, Inverse Problem Theory, ch. 3, from memory). The intervals take
    the order of lift-off as found, and the rotor's elastic data and masses as exact.
    """
    omega, angle, readings = floats(speed), floats(pole_angle), floats(gap)
    _check(omega, angle, readings, noise, sheet_tolerance)
    wide, notes = _two_sided(confidence), list[str]()
    omega, readings = _before_the_rim_runs(keyed, omega, readings, notes)
    spread, sheet = 0.5 * sheet_tolerance, keyed.assembled
    across, along = _complement(_waves(angle, 1 if shift_is_rims else 2)), _complement(np.ones((omega.size, 1)))
    data = along.T @ readings @ across / noise

    def whitened(keys: Floats) -> tuple[Floats, Floats]:
        """Misfit of the readings and its sensitivity, in standard deviations."""
        shape, slope = _shape(keyed.with_keys(keys), omega, angle)
        misfit = data + along.T @ shape @ across / noise  # the gap is what the shape leaves
        tilt = across.T @ np.tensordot(along, slope, axes=(0, 0)) / noise  # at each speed, seen across the poles
        return misfit.ravel(), tilt.reshape(-1, keys.size)

    ends = most_probable(whitened, sheet, spread)
    keys, misfit, success = ends[0].keys, ends[0].misfit, ends[0].settled
    covariance = covariance_about(ends, spread)
    left, pattern = np.linalg.eigh(covariance / spread**2)
    seen = np.clip(1.0 - left, 0.0, 1.0)
    change, change_error = _shim_change(keys, covariance, target)
    error = np.sqrt(np.diag(covariance))
    chi, freedom = float(misfit @ misfit), max(int(misfit.size - round(float(seen.sum()))), 1)
    notes += _notes(keyed, keys, pattern, seen, chi / freedom, success, float(omega.max()))
    return ShimMap(
        keys, covariance, np.stack([keys - wide * error, keys + wide * error], axis=1), change,
        np.stack([change - wide * change_error, change + wide * change_error], axis=1), pattern, seen, chi, freedom,
        success, tuple(notes),
    )  # fmt: skip


def _check(omega: Floats, angle: Floats, readings: Floats, noise: float, tolerance: float) -> None:
    if omega.ndim != 1 or omega.size < 2 or readings.shape != (omega.size, angle.size):
        raise ValueError(
            f"gap has shape {readings.shape}; it must be ({omega.size}, {angle.size}), a row a speed (two at least) "
            "and a column a pole"
        )
    if not (np.isfinite(readings).all() and np.isfinite(omega).all()):
        raise ValueError("gap or speed holds values that are not finite; leave out the speeds or poles without reading")
    if not (noise > 0.0 and tolerance > 0.0):
        raise ValueError(f"noise is {noise:g} m, sheet_tolerance {tolerance:g} m; both must be above zero")


def _before_the_rim_runs(keyed: KeyedRotor, omega: Floats, readings: Floats, notes: list[str]) -> tuple[Floats, Floats]:
    """Only speeds at which the rim is where its shims put it, and not on the side to which chance has sent it."""
    path = follow(keyed.loads)
    lost = key_speeds(keyed, path).centring_lost
    end = min(np.sqrt(path.pieces[-1].stop), np.inf if lost is None else lost)
    kept = omega <= end
    if not kept.all():
        notes.append(f"readings above {rpm(end)} are left out: the shims no longer fix the position of the rim")
    if kept.sum() < 2:
        raise ValueError(
            f"speed: fewer than two lie below {end:g} rad/s, where a rim keyed as on the sheet moves off centre"
        )
    return omega[kept], readings[kept]


def _waves(angle: Floats, count: int) -> Floats:
    """Columns 1, and cos and sin of the angle when two harmonics are to be free."""
    columns = [np.ones_like(angle), np.cos(angle), np.sin(angle)]
    return np.stack(columns[: 1 if count == 1 else 3], axis=1)


def _complement(columns: Floats) -> Floats:
    """Orthonormal basis of all that the columns cannot make."""
    return floats(np.linalg.svd(columns, full_matrices=True)[0][:, columns.shape[1] :])


def _shape(keyed: KeyedRotor, omega: Floats, angle: Floats) -> tuple[Floats, Floats]:
    """Outer profile at each speed and pole (n, P) m, without its mean, and its slope per key interference (n, P, N)."""
    path = follow(keyed.loads)
    count = keyed.outer_per_force.shape[0]
    turn = np.exp(1j * angle[:, None] * np.arange(count))
    by_force = (turn @ keyed.outer_per_force).real
    phase = angle[:, None] * keyed.harmonic
    by_mode = np.stack([np.cos(phase), np.sin(phase)], axis=-1) * keyed.outer_ratio[:, None]
    by_mode = by_mode.reshape(angle.size, -1)
    profile, slope, keys = [], [], keyed.key_angle.size
    stops = [piece.stop for piece in path.pieces]
    for x in (omega**2).tolist():
        piece = path.pieces[min(int(np.searchsorted(stops, x)), len(stops) - 1)]
        seated, rows = piece.seated, piece.at(max(x, piece.start))
        inverse, shape, stiffness = condensed(keyed.loads.at(x), seated)
        move = np.linalg.solve(stiffness, shape.T @ inverse)
        tilt = np.zeros((angle.size, keys))
        tilt[:, seated] = by_force[:, seated] @ (inverse - inverse @ shape @ move) + by_mode @ move
        profile.append(by_force[:, seated] @ rows[:keys][seated] + by_mode @ rows[keys:])
        slope.append(tilt)
    return np.array(profile), np.array(slope)


def _shim_change(keys: Floats, covariance: Floats, target: float | None) -> tuple[Floats, Floats]:
    """Change of each shim and its standard error; against the mean of the keys that error loses what is common."""
    if target is not None:
        return target - keys, np.sqrt(np.diag(covariance))
    level = np.full((keys.size, keys.size), 1.0 / keys.size) - np.eye(keys.size)
    return level @ keys, np.sqrt(np.diag(level @ covariance @ level.T))


def _two_sided(confidence: float) -> float:
    """Standard deviations either side of a normal mean."""
    from scipy.special import ndtri

    if not 0.0 < confidence < 1.0:
        raise ValueError(f"confidence is {confidence:g}; it must lie between 0 and 1")
    return float(ndtri(0.5 + 0.5 * confidence))


def _notes(
    keyed: KeyedRotor, keys: Floats, pattern: Floats, seen: Floats, misfit: float, success: bool, highest: float
) -> list[str]:
    """What the readings cannot show, and the reasons to distrust what they do."""
    notes = []
    unseen = [_pattern_name(column) for column, share in zip(pattern.T, seen, strict=True) if share < 0.5]
    if unseen:
        names = ", ".join(dict.fromkeys(unseen))
        notes.append(
            f"not determined by these readings, so taken from the keying sheet: {names} ({len(unseen)} of {seen.size})"
        )
    found = keyed.with_keys(keys)
    marks = key_speeds(found, follow(found.loads))
    first, last = marks.first_lift_off, marks.last_lift_off
    if first is None or first > highest:
        notes.append(
            f"no key lifts off up to {rpm(highest)}: a shape that does not change gives no information on shims"
        )
    if last is None or last > highest:
        notes.append(
            f"not all keys have lifted off at {rpm(highest)}: shims of keys still seated are determined only in part"
        )
    if not success:
        notes.append("the estimate has not converged; more speeds between the lift-offs are needed")
    if misfit > 2.0:
        notes.append(
            f"the readings differ from the model by {np.sqrt(misfit):.1f} times their noise: the noise is larger than "
            f"stated, "
            "or the rotor is not as described"
        )
    far = np.flatnonzero(np.abs(keys - keyed.assembled) > 0.3 * MILLIMETRE)
    if far.size:
        listed = ", ".join(str(key + 1) for key in far)
        notes.append(f"more than 0.3 mm off the keying sheet: key {listed}; measure there before changing any shim")
    return notes


def _pattern_name(pattern: Floats) -> str:
    """Name of the harmonic over the keys that a pattern mostly is."""
    power = np.abs(np.fft.rfft(pattern)) ** 2
    power[1:] *= 2.0
    if pattern.size % 2 == 0:
        power[-1] *= 0.5
    waves = int(np.argmax(power))
    return {0: "all keys alike", 1: "one side against the other", 2: "oval"}.get(waves, f"{waves} waves around")
