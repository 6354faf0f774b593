"""One broken or straight line by weighted least squares, its covariance and its residuals."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.knee.broken_line import Points, hinge


@dataclass(frozen=True)
class FittedLine:
    """A broken line by weighted least squares, or a straight line: nan marks what that has not.

    Attributes
    ----------
    position : float, unit of x
    level : float, unit of y
    slope_before, slope_after : float, unit of y per unit of x
    covariance : array (4, 4), unit of the products
        In the order of the four above, linearised.
    sigma : float, unit of y
        Noise of one point: root mean square of that given, else estimated.
    chi_squared : float, -
    standardised : array (n,), unit of noise
        Residuals in the order of x.
    """

    position: float
    level: float
    slope_before: float
    slope_after: float
    covariance: Floats
    sigma: float
    chi_squared: float
    degrees_of_freedom: int
    standardised: Floats


def fit_at(points: Points, knee: float, width: float, root: Floats | None = None) -> FittedLine:
    """Return the broken line with its knee at ``knee``, and the covariance with the knee free.

    The Jacobian by the knee is minus the slope on either side, shared out over a rounded knee.

    Parameters
    ----------
    knee, width : float, unit of x
    root : array (n, n), -, optional
        Makes the noise white; the weights of the points when None.

    Returns
    -------
    FittedLine
    """
    x = points.x
    after = hinge(x - knee, width)
    columns = np.stack([np.ones_like(x), x - knee - after, after], axis=1)
    linear = _least_squares(columns, points, root)
    bent = np.clip((x - knee) / width + 0.5, 0.0, 1.0) if width else (x > knee).astype(np.float64)
    jacobian = np.column_stack([-linear[1] * (1.0 - bent) - linear[2] * bent, columns])
    noise, sigma, freedom, standardised = _misfit(points.y - columns @ linear, points, 5 if width else 4, root)
    level, before_slope, after_slope = linear.tolist()
    covariance = _covariance(_seen(jacobian, points, root)) * noise**2
    chi_squared = float(standardised @ standardised)
    return FittedLine(knee, level, before_slope, after_slope, covariance, sigma, chi_squared, freedom, standardised)


def fit_straight(points: Points, before: bool) -> FittedLine:
    """Return one straight line as the slope before (or after) a knee that the data do not show."""
    middle = float(np.average(points.x, weights=points.weight**2))
    columns = np.stack([np.ones_like(points.x), points.x - middle], axis=1)
    linear = _least_squares(columns, points)
    noise, sigma, freedom, standardised = _misfit(points.y - columns @ linear, points, 2)
    covariance = np.full((4, 4), math.nan)
    place = 2 if before else 3
    covariance[place, place] = _covariance(_seen(columns, points, None))[1, 1] * noise**2
    slopes = (float(linear[1]), math.nan) if before else (math.nan, float(linear[1]))
    chi_squared = float(standardised @ standardised)
    return FittedLine(math.nan, math.nan, *slopes, covariance, sigma, chi_squared, freedom, standardised)


def _seen(columns: Floats, points: Points, root: Floats | None) -> Floats:
    """Return rows (n, ...) in units in which their noise is white and of one size."""
    if root is not None:
        return np.asarray(root @ columns)
    return columns * (points.weight[:, None] if columns.ndim == 2 else points.weight)


def _least_squares(columns: Floats, points: Points, root: Floats | None = None) -> Floats:
    size = np.linalg.norm(columns, axis=0)
    size[size == 0.0] = 1.0
    solution, *_ = np.linalg.lstsq(_seen(columns / size, points, root), _seen(points.y, points, root), rcond=None)
    return np.asarray(solution / size)


def _covariance(seen: Floats) -> Floats:
    """Return the inverse of J'J, all nan where the points do not hold every parameter."""
    size = np.linalg.norm(seen, axis=0)
    if np.any(size == 0.0):
        return np.full((seen.shape[1],) * 2, np.nan)
    _, spread, right = np.linalg.svd(seen / size, full_matrices=False)
    if spread[-1] < 1e-10 * spread[0]:
        return np.full((seen.shape[1],) * 2, np.nan)
    inverse = right.T / spread
    return np.asarray(inverse @ inverse.T / np.outer(size, size))


def _misfit(
    residual: Floats, points: Points, parameters: int, root: Floats | None = None
) -> tuple[float, float, int, Floats]:
    """Return noise in units of 1/weight, sigma of a point, degrees of freedom, residuals by noise along x."""
    freedom = len(residual) - parameters
    weighted = _seen(residual, points, root)
    noise = 1.0 if points.noise_known else float(np.sqrt(weighted @ weighted / freedom))
    standardised = weighted[np.argsort(points.x, kind="stable")] / (noise or 1.0)
    return noise, float(noise * np.sqrt(np.mean(points.weight**-2.0))), freedom, standardised
