"""Other measured series that bend at the same speed: eccentricity and ovality of the rotor.

When the rim lifts off it may wander and turn oval. The components of its first two harmonics then change their
slope against speed squared at the very knee of the mean gap, whatever their slopes are. Each series is a straight
line before and another after, both free, so it adds to the knee and to nothing else.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.knee.broken_line import Points
from rimmodel.evidence.knee.noise import noise_models
from rimmodel.evidence.knee.posterior import Whitened

if TYPE_CHECKING:
    from rimmodel.evidence.reduction.rotor_shape import RotorShape

LEAST_SERIES = 8
"""Points that a series needs: a broken line takes four of them."""


@dataclass(frozen=True)
class Series:
    """A measured quantity against speed.

    Attributes
    ----------
    speed : array (point,), rad/s
    value : array (point,), SI
    sigma : float, SI
        Noise of one value.
    """

    name: str
    speed: Floats
    value: Floats
    sigma: float


def shape_series(shape: RotorShape) -> tuple[Series, ...]:
    """Components of eccentricity and ovality (m) of a rotor whose shape was measured at each speed.

    Components, not amplitudes: an amplitude cannot fall below zero and is no straight line where it is small. The
    noise of each is that about its own best broken line.
    """
    rows = []
    for name, order, harmonic in (("eccentricity", 1, shape.rotor.eccentricity), ("ovality", 2, shape.rotor.ovality)):
        for part, turn in (("cosine", np.cos), ("sine", np.sin)):
            value = harmonic.amplitude * turn(order * harmonic.phase)
            known = np.isfinite(value)
            if known.sum() >= LEAST_SERIES:
                rows.append(_with_noise(f"{name}, {part} part", shape.speed[known], value[known]))
    return tuple(rows)


def _with_noise(name: str, speed: Floats, value: Floats) -> Series:
    squared = speed**2
    knees = np.linspace(squared.min(), squared.max(), 60)
    rest = broken_line_rest(Series(name, speed, value, 1.0), knees)
    least = float(np.min(np.einsum("fi,fi->f", rest, rest)))
    return Series(name, speed, value, float(np.sqrt(max(least, 1e-18) / (len(value) - 4))))


def broken_line_rest(series: Series, knee: Floats) -> Floats:
    """What the best broken line with its knee at each speed squared leaves.

    Level and both slopes are taken out by projection, so that the rest depends on the knee alone.

    Parameters
    ----------
    knee : array (fit,), rad2/s2

    Returns
    -------
    array (fit, point), unit of noise

    >>> import numpy as np
    >>> speed = np.sqrt(np.arange(9.0))
    >>> bent = Series("bent", speed, np.maximum(speed**2 - 4.0, 0.0), 1.0)
    >>> rest = broken_line_rest(bent, np.array([4.0, 6.0]))
    >>> [bool(np.abs(row).max() > 1e-9) for row in rest]
    [False, True]
    """
    design = broken_line_design(series, knee)
    normal = np.einsum("fij,fik->fjk", design, design)
    right = np.einsum("fij,i->fj", design, series.value)
    coefficients = np.einsum("fjk,fk->fj", np.linalg.pinv(normal, rcond=1e-12, hermitian=True), right)
    rest: Floats = (series.value - np.einsum("fij,fj->fi", design, coefficients)) / series.sigma
    return rest


def broken_line_design(series: Series, knee: Floats) -> Floats:
    """Level and both slopes about each knee as columns of unit length.

    A knee beyond the data leaves a column of zeros.

    Parameters
    ----------
    knee : array (fit,), rad2/s2

    Returns
    -------
    array (fit, point, 3), -
    """
    place = series.speed**2 - knee[:, None]
    design = np.stack([np.ones_like(place), np.minimum(place, 0.0), np.maximum(place, 0.0)], axis=-1)
    scale = np.maximum(np.sqrt(np.einsum("fij,fij->fj", design, design)), 1e-300)
    scaled: Floats = design / scale[:, None, :]
    return scaled


def shared_evidence(series: Sequence[Series]) -> Callable[[Floats, float], Floats]:
    """Return what the series together say of the knee, whatever their noise is like.

    Returns
    -------
    callable
        From knees (K,) and a width, both rad2/s2, to the logarithm of the evidence (K,). A knee in the first or the
        last gap between speeds counts as one at its inner end.
    """
    seen = []
    for one in series:
        squared = one.speed**2
        points = Points(squared, one.value / one.sigma, np.ones(len(squared)), False, 0.0)
        inner = np.unique(squared)[[1, -2]]
        seen.append((inner, Whitened(points, noise_models(squared, np.arange(len(squared), dtype=np.float64)))))

    def evidence(knees: Floats, width: float) -> Floats:
        total = np.zeros(len(knees))
        for inner, points in seen:
            bent = points.bent_likelihood(np.clip(knees, *inner), np.array([width]))[:, :, 0]
            total += np.logaddexp.reduce(bent, axis=0)
        return total

    return evidence
