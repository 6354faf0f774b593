"""Roundness of a closed profile: the circle fitted by least squares, the narrowest ring that holds it, its extremes.

"Circularity" means different things in different specifications. Every result here therefore carries its
definition in its name: deviation from the least-squares circle (LSCI) and width of the minimum zone (MZCI), both as
defined in ISO 12181-1:2011 section 3 (from memory), and plain largest minus smallest radius about the axis of
rotation, which alone still contains the eccentricity.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rimmodel.arrays import Floats

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


_STEPS = 200


class RoundnessError(ValueError):
    """Points through which no circle can be laid."""


@dataclass(frozen=True)
class Circle:
    """A circle through or around points.

    Parameters
    ----------
    x, y : float array, m
        Centre.
    radius : float array, m
        Of a zone, the mean of its two circles.
    zone : float array, m
        Largest minus smallest distance of the points from the centre (peak to valley, RONt for a
        least-squares circle).

    """

    x: Floats
    y: Floats
    radius: Floats
    zone: Floats

    @property
    def eccentricity(self) -> Floats:
        """Distance of the centre from the origin, m."""
        distance: Floats = np.hypot(self.x, self.y)
        return distance


@dataclass(frozen=True)
class Roundness:
    """Roundness of a profile by three definitions.

    Parameters
    ----------
    least_squares, minimum_zone : Circle
        Circles by ISO 12181; their `zone` is the roundness deviation, free of eccentricity.
    largest_minus_smallest_radius : float array, m
        About the axis of rotation, eccentricity included.

    """

    least_squares: Circle
    minimum_zone: Circle
    largest_minus_smallest_radius: Floats


def roundness(angle: ArrayLike, radius: ArrayLike) -> Roundness:
    """Measure how round a profile of radii is, by each definition.

    Parameters
    ----------
    angle : array (..., n), rad
        Of each reading, in any order.
    radius : array (..., n), m
        From the axis of rotation, positive; four readings or more.

    Returns
    -------
    Roundness
        Fields of shape (...).

    Raises
    ------
    RoundnessError
        Fewer than four readings, values not finite, or a radius that is not positive.

    >>> angle = np.linspace(0.0, 2.0 * np.pi, 36, endpoint=False)
    >>> found = roundness(angle, 4.0 + 0.001 * np.cos(angle) + 0.0002 * np.cos(2.0 * angle))
    >>> [round(1e3 * float(v), 3) for v in (found.least_squares.eccentricity, found.least_squares.zone)]
    [1.0, 0.4]
    >>> round(1e3 * float(found.largest_minus_smallest_radius), 3)
    2.0

    """
    angles, radii = np.broadcast_arrays(np.asarray(angle, dtype=float), np.asarray(radius, dtype=float))
    if radii.ndim == 0 or radii.shape[-1] < 4:
        raise RoundnessError(f"a profile needs at least 4 readings around the turn, not {radii.size}")
    if np.any(radii <= 0.0):
        raise RoundnessError(f"radius {radii.min():.6g} m is not positive; give radii, not deviations")
    x, y = radii * np.cos(angles), radii * np.sin(angles)
    circle = least_squares_circle(x, y)
    return Roundness(circle, minimum_zone_circle(x, y), np.asarray(np.ptp(radii, axis=-1)))


def least_squares_circle(x: ArrayLike, y: ArrayLike) -> Circle:
    """Fit the circle with the least sum of squared radial distances (LSCI of ISO 12181).

    Parameters
    ----------
    x, y : array (..., n), m
        Three points or more that do not lie on a line.

    Returns
    -------
    Circle
        By Gauss-Newton steps from a linear fit, each halved until the sum falls.

    Raises
    ------
    RoundnessError
        Too few points, values not finite, points on a line, or no convergence in 200 steps.

    Source: Gander, Golub & Strebel, BIT 34 (1994) 558-578, section 3 (from memory).

    >>> circle = least_squares_circle([1.0, 2.0, 5.0, 7.0, 9.0, 3.0], [7.0, 6.0, 8.0, 7.0, 5.0, 7.0])
    >>> round(float(circle.radius), 4)
    4.7142

    """
    x, y = _points(x, y)
    centre = _linear_fit(x, y)
    for _ in range(_STEPS):
        distance, along_x, along_y = _polar(x, y, centre)
        # the best radius is the mean distance; eliminating it leaves two unknowns
        slope = np.stack([along_x, along_y], axis=-1)
        slope = slope - slope.mean(axis=-2, keepdims=True)
        rest = distance - distance.mean(axis=-1, keepdims=True)
        step = (np.linalg.pinv(slope) @ rest[..., None])[..., 0]
        misfit = (rest**2).sum(axis=-1)
        for _ in range(40):
            tried = _polar(x, y, centre + step)[0]
            worse = ((tried - tried.mean(axis=-1, keepdims=True)) ** 2).sum(axis=-1) > misfit * (1.0 + 1e-12)
            if not worse.any():
                break
            step = np.where(worse[..., None], step / 2.0, step)
        centre = centre + step
        if np.all(np.abs(step).max(axis=-1) <= 1e-13 * distance.max(axis=-1)):
            break
    else:
        raise RoundnessError("the least-squares circle does not settle; the points lie nearly on one line")
    radius = _polar(x, y, centre)[0].mean(axis=-1)
    return _circle(x, y, centre[..., 0], centre[..., 1], radius)


def minimum_zone_circle(x: ArrayLike, y: ArrayLike) -> Circle:
    """Find the centre about which the points lie in the narrowest ring (MZCI of ISO 12181).

    Parameters
    ----------
    x, y : array (..., n), m
        Three points or more around a closed profile. Along a short arc there may be no narrowest ring; then
        the result is the local one next to the least-squares circle.

    Returns
    -------
    Circle
        `zone` is the width of the ring, `radius` its mean radius.

    Raises
    ------
    RoundnessError
        As for `least_squares_circle`.

    The width is a largest minus a smallest distance; linearised about a centre this is a linear programme, which is
    solved again about each new centre inside a trust radius until the width falls no more (derived here).

    >>> circle = minimum_zone_circle([1.0, 0.0, -1.0, 0.0], [0.0, 1.1, 0.0, -1.1])
    >>> round(float(circle.zone), 6)
    0.1

    """
    x, y = _points(x, y)
    start = least_squares_circle(x, y)
    shape = x.shape[:-1]
    flat = (x.reshape(-1, x.shape[-1]), y.reshape(-1, x.shape[-1]), start.x.ravel(), start.y.ravel())
    centres = np.array([_narrowest(px, py, np.array([cx, cy])) for px, py, cx, cy in zip(*flat, strict=True)])
    centres = centres.reshape(*shape, 2)
    distance = _polar(x, y, centres)[0]
    radius = (distance.max(axis=-1) + distance.min(axis=-1)) / 2.0
    return _circle(x, y, centres[..., 0], centres[..., 1], radius)


def _linear_fit(x: Floats, y: Floats) -> Floats:
    """Centre of the circle x^2 + y^2 + a x + b y + c = 0 by linear least squares, points scaled to unit size."""
    middle_x, middle_y = x.mean(axis=-1, keepdims=True), y.mean(axis=-1, keepdims=True)
    u, v = x - middle_x, y - middle_y
    size = np.sqrt((u * u + v * v).mean(axis=-1, keepdims=True))
    size = np.where(size > 0.0, size, 1.0)
    u, v = u / size, v / size
    matrix = np.stack([u, v, np.ones_like(u)], axis=-1)
    if np.any(np.linalg.svd(matrix, compute_uv=False)[..., -1] < 1e-9 * np.sqrt(u.shape[-1])):
        raise RoundnessError("the points lie on one line or coincide; no circle is determined")
    a, b, _ = np.moveaxis((np.linalg.pinv(matrix) @ -(u * u + v * v)[..., None])[..., 0], -1, 0)
    centre_x, centre_y = middle_x[..., 0] - size[..., 0] * a / 2.0, middle_y[..., 0] - size[..., 0] * b / 2.0
    return np.stack([centre_x, centre_y], axis=-1)


def _narrowest(x: Floats, y: Floats, centre: Floats) -> Floats:
    """Centre of the narrowest ring around one set of points, from a start."""
    distance, along_x, along_y = _polar(x, y, centre)
    size, trust = float(distance.mean()), float(distance.mean())
    for _ in range(_STEPS):
        width = float(np.ptp(distance))
        if width <= 1e-14 * size or trust < 1e-13 * size:
            break
        # in units of the width, about the mean distance
        design = np.stack([np.ones_like(x), along_x, along_y], axis=1)
        deviation = (distance - size) / width
        best = _least_largest(design, deviation)
        if best is None or np.abs(best[1:]).max() > trust / width:
            best = _within_trust(design, deviation, trust / width)
        step = width * best[1:]
        tried = _polar(x, y, centre + step)
        if np.ptp(tried[0]) < width:
            centre = centre + step
            distance, along_x, along_y = tried
        else:
            trust = min(trust, float(np.abs(step).max())) / 4.0
    return centre


def _least_largest(design: Floats, value: Floats) -> Floats | None:
    """Coefficients (3,) whose largest residual is least, by exchange; None where that does not end.

    Four points bound the largest residual from below, by the value at which their residuals are alike in size. The
    point with the largest residual of all takes the place of whichever of the four leaves the highest bound; no
    residual above the bound: nothing better exists. Source: Cheney, Introduction to Approximation Theory, ch. 2
    (from memory); the bound over all fours of five points is the least largest residual of the five by Helly's theorem.
    """
    count = len(value)
    if count < 4:
        return None
    four = np.arange(4) * count // 4
    for _ in range(_STEPS):
        triples = design[four][_OTHERS]
        weight = _SIGNS * np.linalg.det(triples)
        if not np.abs(weight).max() > 1e-12:
            return None
        matrix = np.column_stack([design[four], np.where(weight < 0, -1.0, 1.0)])
        try:
            *found, level = np.linalg.solve(matrix, value[four])
        except np.linalg.LinAlgError:
            return None
        best = np.array(found)
        rest = np.abs(value - design @ best)
        worst = int(np.argmax(rest))
        if rest[worst] <= abs(level) + 1e-13:
            return best
        fours = np.where(np.eye(4, dtype=bool), worst, four)
        weights = _SIGNS * np.linalg.det(design[fours][:, _OTHERS])
        total = np.abs(weights).sum(axis=1)
        bound = np.abs(np.einsum("fi,fi->f", weights, value[fours])) / np.where(total > 1e-12, total, np.inf)
        four = fours[int(np.argmax(bound))]
    return None


_OTHERS = np.array([[1, 2, 3], [0, 2, 3], [0, 1, 3], [0, 1, 2]])
_SIGNS = np.array([1.0, -1.0, 1.0, -1.0])


def _within_trust(design: Floats, value: Floats, trust: float) -> Floats:
    """The same with both steps kept within `trust`, as a linear programme."""
    from scipy.optimize import linprog

    one, none = np.ones_like(value), np.zeros_like(value)
    slopes = design[:, 1:]
    outer = np.column_stack([-slopes, -one, none])
    inner = np.column_stack([slopes, none, one])
    # unknowns: the steps, outer and inner distance
    solved = linprog(
        [0.0, 0.0, 1.0, -1.0],
        A_ub=np.concatenate([outer, inner]),
        b_ub=np.concatenate([-value, value]),
        bounds=[(-trust, trust)] * 2 + [(None, None)] * 2,
    )
    if not solved.success:
        raise RoundnessError(f"the narrowest ring is not found: {solved.message}")
    return np.array([(solved.x[2] + solved.x[3]) / 2.0, *solved.x[:2]])


def _polar(x: Floats, y: Floats, centre: Floats) -> tuple[Floats, Floats, Floats]:
    """Distance of points from a centre and the direction cosines to them."""
    u, v = x - centre[..., 0, None], y - centre[..., 1, None]
    distance = np.hypot(u, v)
    safe = np.where(distance > 0.0, distance, 1.0)
    return distance, u / safe, v / safe


def _circle(x: Floats, y: Floats, centre_x: Floats, centre_y: Floats, radius: Floats) -> Circle:
    distance = _polar(x, y, np.stack([centre_x, centre_y], axis=-1))[0]
    return Circle(centre_x, centre_y, radius, np.asarray(np.ptp(distance, axis=-1)))


def _points(x: ArrayLike, y: ArrayLike) -> tuple[Floats, Floats]:
    """Points as arrays of one shape, checked."""
    left, right = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(y, dtype=float))
    if left.ndim == 0 or left.shape[-1] < 3:
        raise RoundnessError(f"a circle needs at least 3 points, not {left.size}")
    if not (np.isfinite(left).all() and np.isfinite(right).all()):
        raise RoundnessError("a point is not finite; leave out missing readings first")
    return left, right
