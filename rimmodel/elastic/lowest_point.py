"""The lowest point of a closed curve that is given by its harmonics: a fine grid finds it, Newton's method pins it.

A curve of harmonics 0 to H has at most H minima. On a grid of 32 points to the shortest wave every minimum that could
be the lowest has a grid point beside it, from which Newton's steps on the derivative converge quadratically.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Complex, Floats, floats

_POINTS_PER_WAVE = 32
_CANDIDATES = 4
_STEPS = 6
_BLOCK = 4_000_000
"""Grid values that are held at one time."""


def lowest_point(amplitude: ArrayLike) -> tuple[Floats, Floats]:
    """Return the least value of Re sum_n amplitude_n exp(i n theta) over a turn, and where it is.

    The four lowest minima of the grid are refined, so that of two minima that differ by less than the error of the
    grid the lower is found. By definition of the minimum; derived here.

    Parameters
    ----------
    amplitude : complex array (..., H + 1), unit of amplitude
        Harmonics 0, 1, 2, ..., finite.

    Returns
    -------
    value : array (...), unit of amplitude
    angle : array (...), rad
        From 0 to 2 pi; of a curve without waves 0.

    Raises
    ------
    ValueError
        No harmonic at all, or an amplitude that is not finite.

    3 + cos(theta) + cos(2 theta): with c = cos(theta) it is 2 + c + 2 c^2, least at c = -1/4, where it is 1.875:

    >>> value, angle = lowest_point([3.0, 1.0, 1.0])
    >>> print(f"{value:.12f}, {np.cos(angle):.9f}")
    1.875000000000, -0.250000000
    """
    waves = np.asarray(amplitude, dtype=np.complex128)
    if waves.ndim == 0 or waves.shape[-1] == 0:
        raise ValueError("amplitude: give harmonics 0, 1, 2, ... along the last axis")
    if not np.isfinite(waves).all():
        raise ValueError("amplitude: every harmonic must be finite")
    shape, highest = waves.shape[:-1], waves.shape[-1] - 1
    if highest == 0:
        return floats(waves[..., 0].real), np.zeros(shape)
    mean = waves[..., 0].real
    rows = waves.reshape(-1, highest + 1).copy()
    rows[:, 0] = 0.0  # a large mean would hide small waves in its rounding
    size = max(1, _BLOCK // (_POINTS_PER_WAVE * highest))
    found = [_lowest(rows[start : start + size]) for start in range(0, len(rows), size)]
    value, angle = (np.concatenate([part[i] for part in found]) if found else np.zeros(0) for i in (0, 1))
    return floats(mean + value.reshape(shape)), angle.reshape(shape)


def _lowest(rows: Complex) -> tuple[Floats, Floats]:
    """Least value and its angle of each row (row, H + 1)."""
    highest = rows.shape[1] - 1
    count = _POINTS_PER_WAVE * highest
    # the real part of a sum of exp(+i n theta) on an even grid is an inverse FFT of the padded harmonics
    padded = np.zeros((len(rows), count // 2 + 1), dtype=np.complex128)
    padded[:, : highest + 1] = rows * (0.5 * count)
    grid = np.fft.irfft(padded, count, axis=1)
    bottom = (grid <= np.roll(grid, 1, axis=1)) & (grid <= np.roll(grid, -1, axis=1))
    ranked = np.where(bottom, grid, np.inf)
    kept = min(_CANDIDATES, count)
    start = np.argpartition(ranked, kept - 1, axis=1)[:, :kept]
    step = 2.0 * np.pi / count
    angle = start * step
    best_angle, best = angle.copy(), np.take_along_axis(grid, start, axis=1)
    n = np.arange(highest + 1)
    for _ in range(_STEPS):
        turned = rows[:, None, :] * np.exp(1j * angle)[..., None] ** n
        value, slope, bend = turned.real.sum(axis=-1), -(turned.imag @ n), -(turned.real @ n**2)
        better = value < best
        best, best_angle = np.where(better, value, best), np.where(better, angle, best_angle)
        with np.errstate(divide="ignore", invalid="ignore"):
            move = np.where(bend > 0.0, -slope / bend, 0.0)
        angle = angle + np.clip(move, -step, step)
    place = np.argmin(best, axis=1)[:, None]
    return np.take_along_axis(best, place, 1)[:, 0], np.take_along_axis(best_angle, place, 1)[:, 0] % (2.0 * np.pi)
