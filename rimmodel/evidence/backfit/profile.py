"""Profile likelihood: how badly the data take each value of one number, all others adjusted to suit it best."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats
from rimmodel.evidence.backfit.least_squares import fit_batch


@dataclass(frozen=True)
class Profile:
    """Values tried, the least sum of squares at each, and the parameters there.

    Attributes
    ----------
    values : array (value,), unit of value
    sum_of_squares : array (value,), -
    parameters : array (value, parameter), unit of each parameter
    """

    values: Floats
    sum_of_squares: Floats
    parameters: Floats


def profile(
    residuals: Callable[[Floats], Floats],
    column: int,
    values: Floats,
    start: Floats,
    scale: Floats,
    free: NDArray[np.bool_],
) -> Profile:
    """Fit all free parameters but one at each of its values, from one start or one start each.

    Parameters
    ----------
    residuals : callable
        As in `fit_batch`.
    column : int
        The parameter that is held.
    values : array (value,), unit of value
    start : array (parameter,) or (value, parameter), unit of each parameter
    scale : array (parameter,), unit of each parameter
    free : bool array (parameter,)
    """
    begin = np.broadcast_to(start, (len(values), len(scale))).copy()
    begin[:, column] = values
    others = np.array(free, dtype=bool)
    others[column] = False
    fit = fit_batch(residuals, begin, scale, free=others, steps=15, tolerance=1e-6)
    return Profile(values, fit.sum_of_squares, fit.parameters)


def interval(
    scan: Profile,
    least: float,
    allowed: Floats | float,
    refine: Callable[[Floats, Floats], Profile],
) -> tuple[float, float]:
    """Outermost values whose sum of squares stays within `allowed` of `least`; infinite where the scan ends inside.

    `allowed` may differ from value to value. `refine` makes a profile at given values from given starts; each end is
    closed in on by two finer scans, so that a profile with several dips keeps its outermost ends.

    Parameters
    ----------
    least : float, -
    allowed : float or array (value,), -

    Returns
    -------
    pair of float, unit of value
    """
    limit = np.broadcast_to(allowed, scan.values.shape)
    excess = scan.sum_of_squares - least - limit
    inside = np.flatnonzero(excess <= 0)
    if not len(inside):
        best = float(scan.values[np.argmin(excess)])
        return best, best
    low = _edge(scan, int(inside[0]), -1, least, limit, refine)
    high = _edge(scan, int(inside[-1]), +1, least, limit, refine)
    return low, high


def _edge(
    scan: Profile,
    inside: int,
    step: int,
    least: float,
    limit: Floats,
    refine: Callable[[Floats, Floats], Profile],
) -> float:
    outside = inside + step
    if not 0 <= outside < len(scan.values):
        return step * np.inf
    near, far = float(scan.values[inside]), float(scan.values[outside])
    start = scan.parameters[inside]
    for _ in range(2):
        finer = refine(np.linspace(near, far, 9), np.broadcast_to(start, (9, len(start))))
        excess = finer.sum_of_squares - least - np.interp(finer.values, scan.values, limit)
        last = int(np.flatnonzero(excess <= 0).max(initial=0))
        if last == 8:
            return far
        near, far, start = float(finer.values[last]), float(finer.values[last + 1]), finer.parameters[last]
        slope = (excess[last + 1] - excess[last]) or 1.0
    return float(near - excess[last] / slope * (far - near))
