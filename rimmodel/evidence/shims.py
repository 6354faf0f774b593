"""From the measured shape of the rotor back to its shims.

As keys lift off one by one the rim is let into another shape each time, and the gap of every pole tells of it. Every
pole's own height, every speed's mean gap and, unless it is known to be the rim's, its shift are left free: what is
used is the change of shape with speed and nothing else. The interference of each key is then the most probable one,
given the readings and what the keying sheet says; both pull with the weight of their standard deviations. Where
readings say nothing the sheet is what comes back, with the sheet's tolerance, and that is said.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rimmodel.behaviour.complementarity import balance_with, condensed
from rimmodel.behaviour.key_events import KeyPath, follow
from rimmodel.behaviour.key_landmarks import landmarks
from rimmodel.behaviour.keyed import KeyedRotor
from rimmodel.elastic.ring import Floats, floats
from rimmodel.units import MILLIMETRE, RPM

_STEPS = 40
_TRUST = (30.0, 10.0, 3.0, 1.0)
_RESTARTS = 6

Whitened = Callable[[Floats], tuple[Floats, Floats]]
"""Misfit of the readings and its sensitivity, in standard deviations, at given key interferences."""


@dataclass(frozen=True)
class ShimMap:
    """Interference of each key (N,) m as read from the shape, with what is known of it.

    `covariance` (N, N) m2 holds the sheet's knowledge too; `interval` (N, 2) m is of the confidence asked for.
    `shim_change` (N,) m makes all keys alike at the target. `pattern` (N, N), columns over the keys, and `seen` (N,):
    share of the sheet's variance that the readings take off each pattern, from the best seen (1) to the unseen (0).
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
    speed : (n,) rad/s
        Two and more, on the way up.
    pole_angle : (P,) rad
        In the turning frame.
    gap : (n, P) m
        Of each pole at each speed, past one sensor; any constant per pole or per speed may be in it.
    noise : float, m
        Standard deviation of one reading, absolute.
    sheet_tolerance : float, m
        Half-width of one key's interference on the sheet, two standard deviations.
    shift_is_rims : bool
        True when the once-per-turn part of the readings is the rim's shift on its spider and not the shaft's.
    target : float, m, optional
        Interference that all keys shall have; the mean of the estimate by default.
    confidence : float

    Returns
    -------
    ShimMap

    Raises
    ------
    ValueError
        Arrays that do not fit each other, readings that are not finite, or a spread that is not above zero.

    Notes
    -----
    Least squares of readings over noise and of sheet over its standard deviation; Gauss-Newton with halved steps, the
    sensitivities exact for the keys that are seated at each speed. Free offsets are projected out, which leaves the
    noise white (Bayesian linear model; e.g. Tarantola, Inverse Problem Theory, ch. 3, from memory). The intervals take
    the order of lift-off as found, and the rotor's elastic data and masses as exact.
    """
    omega, angle, readings = floats(speed), floats(pole_angle), floats(gap)
    _check(omega, angle, readings, noise, sheet_tolerance)
    notes: list[str] = []
    omega, readings = _before_the_rim_runs(keyed, omega, readings, notes)
    spread, sheet = 0.5 * sheet_tolerance, keyed.assembled
    across, along = _complement(_waves(angle, 1 if shift_is_rims else 2)), _complement(np.ones((omega.size, 1)))
    data = along.T @ readings @ across / noise

    def whitened(keys: Floats) -> tuple[Floats, Floats]:
        """Misfit of the readings and its sensitivity, in standard deviations."""
        shape, slope = _shape(keyed.with_keys(keys), omega, angle)
        misfit = data + along.T @ shape @ across / noise  # the gap is what the shape leaves
        tilt = np.einsum("st,spk,pq->tqk", along, slope, across) / noise
        return misfit.ravel(), tilt.reshape(-1, keys.size)

    keys, misfit, tilt, success = _most_probable(whitened, sheet, spread)
    information = tilt.T @ tilt
    covariance = floats(np.linalg.inv(information + np.eye(keys.size) / spread**2))
    gain, pattern = np.linalg.eigh(information * spread**2)
    seen, pattern = (gain / (1.0 + gain))[::-1], pattern[:, ::-1]
    change, change_error = _shim_change(keys, covariance, target)
    wide = _two_sided(confidence)
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
    lost = landmarks(keyed, path).centring_lost
    end = min(np.sqrt(path.pieces[-1].stop), np.inf if lost is None else lost)
    kept = omega <= end
    if not kept.all():
        notes.append(f"readings above {end / RPM:.1f} rpm are left out: the rim is no longer where its shims put it")
    if kept.sum() < 2:
        raise ValueError(f"speed: fewer than two lie below {end:g} rad/s, where the sheet's rim leaves its centre")
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
    profile, slope = [], []
    for x in omega**2:
        contact, seated = keyed.loads.at(float(x)), _seated_at(path, float(x))
        state = balance_with(contact, seated)
        inverse, shape, stiffness = condensed(contact, seated)
        move = np.linalg.solve(stiffness, shape.T @ inverse)
        tilt = np.zeros((angle.size, seated.size))
        tilt[:, seated] = by_force[:, seated] @ (inverse - inverse @ shape @ move) + by_mode @ move
        profile.append(by_force @ state.key_force + by_mode @ state.mode)
        slope.append(tilt)
    return np.array(profile), np.array(slope)


def _seated_at(path: KeyPath, x: float) -> NDArray[np.bool_]:
    stops = [piece.stop for piece in path.pieces]
    return path.pieces[min(int(np.searchsorted(stops, x)), len(stops) - 1)].seated


def _most_probable(whitened: Whitened, sheet: Floats, spread: float) -> tuple[Floats, Floats, Floats, bool]:
    """Interferences, misfit, its sensitivity, and whether the search settled.

    Which keys are seated at a speed depends on what is sought, so there are false minima. The readings are trusted
    by and by, at first as if their noise were 30 times what it is, which smooths the way from the sheet; then the
    search starts again from places around the best one, the same places every time.
    """
    keys = sheet
    for wide in _TRUST:
        best = _gauss_newton(whitened, sheet, spread, keys, wide)
        keys = best.keys
    rng = np.random.default_rng(0)
    for _ in range(_RESTARTS):
        start = best.keys + rng.normal(0.0, 0.3 * spread, sheet.size)
        for wide in _TRUST[-2:]:
            other = _gauss_newton(whitened, sheet, spread, start, wide)
            start = other.keys
        best = other if other.cost < best.cost else best
    return best.keys, best.misfit, best.tilt, best.settled


@dataclass(frozen=True)
class _Search:
    """Where a search ended: interferences, misfit of the readings and its sensitivity there, cost, and how."""

    keys: Floats
    misfit: Floats
    tilt: Floats
    cost: float
    settled: bool


def _gauss_newton(whitened: Whitened, sheet: Floats, spread: float, keys: Floats, wide: float) -> _Search:
    """Least squares of misfit/wide and of the distance from the sheet, by halved Gauss-Newton steps."""
    misfit, tilt = whitened(keys)

    def cost(rest: Floats, at: Floats) -> float:
        return float(rest @ rest / wide**2 + (at - sheet) @ (at - sheet) / spread**2)

    now = cost(misfit, keys)
    for _ in range(_STEPS):
        pull = tilt.T @ misfit / wide**2 + (keys - sheet) / spread**2
        step = -np.linalg.solve(tilt.T @ tilt / wide**2 + np.eye(keys.size) / spread**2, pull)
        if float(np.max(np.abs(step))) <= 1e-5 * spread:
            return _Search(keys, misfit, tilt, now, True)
        for share in 0.5 ** np.arange(10.0):
            new_misfit, new_tilt = whitened(keys + share * step)
            if cost(new_misfit, keys + share * step) < now:
                break
        else:
            # no step helps any more: at a kink, where a key lifts off exactly at a measured speed
            return _Search(keys, misfit, tilt, now, bool(np.max(np.abs(step)) <= 0.05 * spread))
        keys, misfit, tilt = keys + share * step, new_misfit, new_tilt
        now = cost(misfit, keys)
    return _Search(keys, misfit, tilt, now, False)


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
    """What the readings cannot tell, and the reasons to distrust what they do."""
    notes = []
    unseen = [_pattern_name(column) for column, share in zip(pattern.T, seen, strict=True) if share < 0.5]
    if unseen:
        names = ", ".join(dict.fromkeys(unseen))
        notes.append(f"not seen by these readings, so as on the keying sheet: {names} ({len(unseen)} of {seen.size})")
    first = landmarks(keyed.with_keys(keys), follow(keyed.with_keys(keys).loads)).first_lift_off
    if first is None or first > highest:
        notes.append(f"no key lifts off up to {highest / RPM:.1f} rpm: a shape that does not change tells of no shim")
    if not success:
        notes.append("the estimate has not settled; more speeds between the lift-offs are needed")
    if misfit > 2.0:
        notes.append(
            f"the readings miss the model by {np.sqrt(misfit):.1f} times their noise: the noise is larger than stated, "
            "or the rotor is not as described"
        )
    far = np.flatnonzero(np.abs(keys - keyed.assembled) > 0.3 * MILLIMETRE)
    if far.size:
        listed = ", ".join(str(key + 1) for key in far)
        notes.append(f"more than 0.3 mm off the keying sheet: key {listed}; measure there before any shim is changed")
    return notes


def _pattern_name(pattern: Floats) -> str:
    """Name of the harmonic over the keys that a pattern mostly is."""
    power = np.abs(np.fft.rfft(pattern)) ** 2
    power[1:] *= 2.0
    if pattern.size % 2 == 0:
        power[-1] *= 0.5
    waves = int(np.argmax(power))
    return {0: "all keys alike", 1: "one side against the other", 2: "oval"}.get(waves, f"{waves} waves around")
