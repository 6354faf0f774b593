"""How far from round and from the axis the pressed rim may be while a later lift-off is sought."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats, Mask, floats

GRAIN = 1e-9
"""Metres within which two radii are alike."""
_SIDES = 12
"""Pairs of straight limits about the circle in which the centre must stay: the circle lies within all of them."""


def once_around(deviation: Floats) -> Floats:
    """Offset of the centre of the outline from the axis: amplitude of the first harmonic over equally spaced poles.

    Parameters
    ----------
    deviation : array (..., P), m

    Returns
    -------
    array (...), m

    >>> turn = 2 * np.pi * np.arange(12) / 12
    >>> print(f"{once_around(0.02 * np.cos(turn - 0.4) + 0.05 * np.cos(2 * turn)):.4f}")
    0.0200
    """
    wave = np.exp(-2j * np.pi * np.arange(deviation.shape[-1]) / deviation.shape[-1])
    return floats(2.0 * np.abs(deviation @ wave) / deviation.shape[-1])


@dataclass(frozen=True)
class Roundness:
    """Most that radii at P poles may deviate by, and the centre be off the axis, with N interferences.

    Attributes
    ----------
    matrix : array (P, N), -
    rest : array (P,), m
        The deviation is matrix times interferences, plus this.
    largest, offset : float, m
    """

    matrix: Floats
    rest: Floats
    largest: float
    offset: float

    @classmethod
    def of_the_worst(cls, outline: tuple[Floats, Floats], sets: Sequence[Floats]) -> Roundness:
        """Each limit from that of several sets of interferences (N,) m which has the most of it."""
        matrix, rest = outline
        outlines = [matrix @ keys + rest for keys in sets]
        largest = max(float(np.abs(one).max()) for one in outlines)
        return cls(matrix, rest, largest, max(float(once_around(one)) for one in outlines))

    def kept(self, keys: Floats) -> Mask:
        """Whether sets of interferences (..., N) m keep both limits."""
        deviation = keys @ self.matrix.T + self.rest
        near = np.abs(deviation).max(axis=-1) <= self.largest + GRAIN
        return np.asarray(near & (once_around(deviation) <= self.offset + GRAIN))

    def straight(self) -> tuple[Floats, Floats, Floats]:
        """Rows (m, N) whose product with the interferences lies between two limits (m,) m; the circle from outside."""
        poles = len(self.rest)
        at, side = 2.0 * np.pi * np.arange(poles) / poles, np.pi * np.arange(_SIDES) / _SIDES
        wave = 2.0 / poles * np.cos(at - side[:, None])
        rows, rest = np.concatenate([self.matrix, wave @ self.matrix]), np.concatenate([self.rest, wave @ self.rest])
        limit = np.concatenate([np.full(poles, self.largest), np.full(_SIDES, self.offset)]) + GRAIN
        return floats(rows), floats(-limit - rest), floats(limit - rest)
