"""Outline of a rotor or a bore from radii at several angles: first two harmonics with phase, and its circles."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.elastic.roundness import Circle, Roundness, roundness

_LEAST_CIRCLE = 4


@dataclass(frozen=True)
class Harmonic:
    """One harmonic n of a radius, amplitude * cos(n * (angle - phase)); nan where it cannot be determined.

    Attributes
    ----------
    amplitude : array (point,), m
    phase : array (point,), rad
        Where the radius is largest, 0 to 2 pi / n.
    standard_error : array (point,), m
    """

    amplitude: Floats
    phase: Floats
    standard_error: Floats


@dataclass(frozen=True)
class Outline:
    """A closed outline per speed point.

    Parameters
    ----------
    angle : float array (n,), rad
        In the direction of rotation; nan where not known.
    deviation : float array (point, n), m
        Of the radius about the axis of rotation from its mean, + outward.
    eccentricity, ovality : Harmonic
        First and second harmonic of the radius. The first is the offset of the centre from the axis of rotation.
    circles : Roundness
        Least-squares and minimum-zone circle (ISO 12181) and largest minus smallest radius, m, (point,).
    percent_of_gap : float array (point,), %
        Largest minus smallest radius about the axis of rotation in percent of the nominal gap.

    """

    angle: Floats
    deviation: Floats
    eccentricity: Harmonic
    ovality: Harmonic
    circles: Roundness
    percent_of_gap: Floats


def make_outline(angle: Floats, deviation: Floats, noise: Floats, *, mean_radius: float, nominal_gap: float) -> Outline:
    """Describe an outline.

    Parameters
    ----------
    angle, deviation : as in `Outline`
        A deviation may be nan.
    noise : float array (point,), m
        Standard deviation of one deviation.
    mean_radius : float, m
        Enters the circles only through deviation^2 / radius.
    nominal_gap : float, m

    Returns
    -------
    Outline
        With nan where there are too few angles.

    >>> angle = np.arange(8) * np.pi / 4.0
    >>> deviation = 1e-3 * np.cos(angle - 1.0)[None, :] + 2e-4 * np.cos(2.0 * (angle - 0.5))
    >>> outline = make_outline(angle, deviation, np.zeros(1), mean_radius=4.0, nominal_gap=0.01)
    >>> [round(1e3 * float(part.amplitude[0]), 6) for part in (outline.eccentricity, outline.ovality)]
    [1.0, 0.2]
    >>> [round(float(part.phase[0]), 6) for part in (outline.eccentricity, outline.ovality)]
    [1.0, 0.5]

    """
    first, second = _harmonics(angle, deviation, noise)
    circles = _circles(angle, mean_radius + deviation)
    percent = 100.0 * circles.largest_minus_smallest_radius / nominal_gap
    return Outline(angle, deviation, first, second, circles, percent)


def _harmonics(angle: Floats, deviation: Floats, noise: Floats) -> tuple[Harmonic, Harmonic]:
    """Least squares for the mean and both harmonics; the second is left out where angles are too few for it."""
    points = deviation.shape[0]
    found = np.full((2, 3, points), np.nan)
    columns = np.stack([np.ones_like(angle), *(f(n * angle) for n in (1, 2) for f in (np.cos, np.sin))], axis=1)
    for point in range(points):
        known = np.isfinite(angle) & np.isfinite(deviation[point])
        for size in (5, 3):
            matrix = columns[known, :size]
            if known.sum() >= size and np.linalg.svd(matrix, compute_uv=False)[-1] > 1e-6 * np.sqrt(known.sum()):
                values = np.linalg.lstsq(matrix, deviation[point, known], rcond=None)[0]
                error = noise[point] * np.sqrt(np.diag(np.linalg.inv(matrix.T @ matrix)))
                for n in range(1, (size + 1) // 2):
                    cosine, sine = values[2 * n - 1], values[2 * n]
                    phase = np.arctan2(sine, cosine) / n % (2.0 * np.pi / n)
                    found[n - 1, :, point] = np.hypot(cosine, sine), phase, error[2 * n - 1 : 2 * n + 1].max()
                break
    return Harmonic(*found[0]), Harmonic(*found[1])


def _circles(angle: Floats, radius: Floats) -> Roundness:
    """Circles of the points that know every radius; nan for the others."""
    around = np.isfinite(angle)
    whole = np.isfinite(radius[:, around]).all(axis=1)
    blank = np.full(radius.shape[0], np.nan)
    extremes = blank.copy()
    some = np.isfinite(radius).any(axis=1)
    extremes[some] = np.nanmax(radius[some], axis=1) - np.nanmin(radius[some], axis=1)
    if around.sum() < _LEAST_CIRCLE or not whole.any():
        empty = Circle(blank, blank, blank, blank)
        return Roundness(empty, empty, extremes)
    found = roundness(angle[around], radius[np.ix_(whole, around)])

    def spread(circle: Circle) -> Circle:
        fields = np.full((4, radius.shape[0]), np.nan)
        fields[:, whole] = circle.x, circle.y, circle.radius, circle.zone
        return Circle(*fields)

    return Roundness(spread(found.least_squares), spread(found.minimum_zone), extremes)
