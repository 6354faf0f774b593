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
