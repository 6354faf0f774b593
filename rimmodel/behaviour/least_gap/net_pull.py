"""The pull that does not balance: net force of a gap that is not even, and where shaft and bearings let the rotor go.

At every place the field is that of the same magnetomotive force across the local gap, so the mean traction of a sine
field falls with the square of the local effective gap (many poles, each narrow against a wave of the gap)::

    t(theta) = t_mean (g_e/(g_e + w(theta)))^2,     F = r L int t exp(i theta) dtheta

g_e is the mean gap with what slots and iron add, w the wave of the gap. On a shaft of stiffness k the centre moves by
d = F(d)/k: slow against the first critical speed, so that no mass counts. It is stable while k exceeds the largest
slope of F with d.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Complex, Floats, floats

_DIGITS = 35.0
"""Natural logarithm of what a sum over the angles may leave: 1e-15."""
_DEEPEST = 0.98
"""Of the effective gap: deeper waves are summed as if they were of this depth."""
_STEPS = 60
_SETTLED = 1e-13
"""Of the mean gap, by which the last Newton step may move the centre."""


@dataclass(frozen=True)
class PulledGap:
    """A gap with a field in it, one or an array of them.

    Attributes
    ----------
    waves : complex array (..., H + 1), m
        Harmonics of the gap over the angle, the mean first.
    added : array (...), m
        What slots and iron add to the gap in which the field changes.
    traction : array (...), Pa
        Mean, on the pole faces, where the gap is the mean.
    face_area : array (...), m2
        Of the whole cylinder of the pole faces.
    """

    waves: Complex
    added: Floats
    traction: Floats
    face_area: Floats


def net_pull(gap: PulledGap, shift: ArrayLike = 0.0) -> tuple[Complex, Floats]:
    """Net force on the rotor and how fast it grows as the rotor follows it.

    The integral of the module over even angles, enough of them for round-off; derived here.

    Parameters
    ----------
    shift : complex array (...), m
        Of the rotor centre besides, x + i y.

    Returns
    -------
    force : complex array (...), N
        x + i y; NaN where a gap is shut.
    slope : array (..., 2, 2), N/m
        Derivative of the force (x, y) with the shift (x, y).

    An eccentric circle, e of g: F = (pi r L B^2/(2 mu0)) (e/g)/(1 - (e/g)^2)^(3/2). With t = B^2/(4 mu0) = 1 Pa on a
    cylinder of 2 pi r L = 1 m2 and e/g = 0.6 that is 0.6/0.8^3 = 1.171875 N:

    >>> one = PulledGap(np.array([1.0, -0.6]), floats(0.0), floats(1.0), floats(1.0))
    >>> print(f"{net_pull(one)[0].real:.12f}")
    1.171875000000
    """
    waves = np.asarray(gap.waves, dtype=np.complex128)
    mean = floats(waves[..., 0].real + floats(gap.added))[..., None]
    centre = np.asarray(shift, dtype=np.complex128)[..., None]
    count = _points(waves, centre, mean)
    n = np.arange(waves.shape[-1])
    angle = 2.0 * np.pi * np.arange(count) / count
    ray = np.exp(1j * angle)
    width = (waves @ np.exp(1j * n[:, None] * angle)).real + floats(gap.added)[..., None]
    width = width - (centre * ray.conj()).real
    open_ = (width > 0.0).all(axis=-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        traction = floats(gap.traction)[..., None] * (mean / width) ** 2
        force = floats(gap.face_area) * (traction * ray).mean(axis=-1)
        steep = 2.0 * traction / width
    even = 0.5 * floats(gap.face_area) * steep.mean(axis=-1)
    twice = 0.5 * floats(gap.face_area) * (steep * ray**2).mean(axis=-1)
    slope = np.stack([even + twice.real, twice.imag, twice.imag, even - twice.real], axis=-1)
    shut = ~open_
    return (
        np.where(shut, np.nan, force),
        np.where(shut[..., None, None], np.nan, slope.reshape(*slope.shape[:-1], 2, 2)),
    )


def _points(waves: Complex, centre: Complex, mean: Floats) -> int:
    """Angles that make the sum over them exact: a wave of e g_e leaves e/(1 + sqrt(1 - e^2)) to the power of its count.

    That is how fast the Fourier coefficients of 1/(1 - e cos(theta))^2 fall (textbook: Poisson kernel).
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        depth = (np.abs(waves[..., 1:]).sum(axis=-1) + np.abs(centre[..., 0])) / mean[..., 0]
    deepest = float(np.clip(np.nan_to_num(np.max(depth, initial=0.0), nan=1.0, posinf=1.0), 0.01, _DEEPEST))
    fall = -float(np.log(deepest / (1.0 + np.sqrt(1.0 - deepest**2))))
    return (int(_DIGITS / fall) + 3) * max(1, int(waves.shape[-1]) - 1)


@dataclass(frozen=True)
class Closure:
    """Where the rotor settles under its net pull.

    Attributes
    ----------
    shift : complex array (...), m
        Of the centre; NaN where shaft and bearings do not hold it.
    force : complex array (...), N
    margin : array (...), -
        Least stiffness that is left over that of the shaft; zero or below where the rotor snaps over.
    """

    shift: Complex
    force: Complex
    margin: Floats


def settled_centre(gap: PulledGap, shaft_stiffness: ArrayLike) -> Closure:
    """Centre of a rotor on a springy shaft under its own net pull, k d = F(d), by Newton's method from d = 0.

    From the centred side the steps stay below the stable root, as the force grows ever faster with the shift (derived
    here; exact for the eccentric circle, whose root `validation` holds).

    Parameters
    ----------
    shaft_stiffness : float or array (...), N/m
        Infinite where it is rigid.

    A circle off centre by e0: without saturation k d = k_m e/(1 - (e/g)^2)^(3/2), e = e0 + d. For e/g = 0.6 of 1 m
    with k_m = 1 N/m and k = 10 N/m: d = 1.171875/10 = 0.1171875 m, so e0 = 0.4828125 m.

    >>> one = PulledGap(np.array([1.0, -0.4828125]), floats(0.0), floats(1.0), floats(1.0))
    >>> print(f"{settled_centre(one, 10.0).shift.real:.9f}")
    0.117187500
    """
    shape = np.broadcast_shapes(np.shape(gap.waves)[:-1], np.shape(shaft_stiffness), np.shape(gap.traction))
    stiffness = np.broadcast_to(floats(shaft_stiffness), shape)
    rigid = np.isinf(stiffness)
    k = np.where(rigid, 1.0, stiffness)
    shift = np.zeros(shape, dtype=np.complex128)
    size = np.broadcast_to(floats(np.asarray(gap.waves)[..., 0].real), shape)
    last = np.full(shape, np.inf)
    with np.errstate(invalid="ignore", divide="ignore"):
        for _ in range(_STEPS):
            force, slope = net_pull(gap, shift)
            left = k[..., None, None] * np.eye(2) - slope
            off = force - k * shift
            determinant = left[..., 0, 0] * left[..., 1, 1] - left[..., 0, 1] ** 2
            x = (left[..., 1, 1] * off.real - left[..., 0, 1] * off.imag) / determinant
            y = (left[..., 0, 0] * off.imag - left[..., 0, 1] * off.real) / determinant
            move = np.where(rigid, 0.0, x + 1j * y)
            shift, last = shift + move, np.abs(move)
            if not np.any(last > _SETTLED * size):
                break
        force, slope = net_pull(gap, shift)
        least = _largest(slope)
        margin = np.where(rigid, 1.0, 1.0 - least / k)
    held = (last <= 1e-9 * size) & (margin > 0.0) & np.isfinite(force)
    lost = np.where(held, 0.0, np.nan)
    return Closure(shift + lost, force + lost, np.where(np.isnan(margin) | (~held & (margin > 0.0)), 0.0, margin))


def _largest(matrix: Floats) -> Floats:
    """Larger eigenvalue of symmetric 2 x 2 matrices."""
    half = 0.5 * (matrix[..., 0, 0] + matrix[..., 1, 1])
    return floats(half + np.hypot(0.5 * (matrix[..., 0, 0] - matrix[..., 1, 1]), matrix[..., 0, 1]))


def turning_parts(force: Complex) -> Complex:
    """Parts of a force over one turn: standing, once per turn, twice per turn, each with the rotor; by definition.

    Parameters
    ----------
    force : complex array (..., turn), N
        At evenly spaced angles of the rotor over one turn, six or more.

    Returns
    -------
    complex array (..., 3), N
        ``F = parts[0] + parts[1] exp(i phi) + parts[2] exp(2 i phi)`` and what is left.

    >>> turn = 2.0 * np.pi * np.arange(8) / 8
    >>> print(np.abs(turning_parts(3.0 + np.exp(1j * turn) + 0.5j * np.exp(2j * turn))).round(9))
    [3.  1.  0.5]
    """
    return np.asarray(np.fft.fft(np.asarray(force, dtype=np.complex128), axis=-1)[..., :3] / np.shape(force)[-1])
