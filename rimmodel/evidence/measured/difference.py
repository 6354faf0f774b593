"""The difference of two independent results that each have an interval."""

from __future__ import annotations

import numpy as np

from rimmodel.arrays import Interval


def difference(before: tuple[float, Interval], after: tuple[float, Interval]) -> tuple[float, Interval]:
    """Best value and interval of after less before, each side put together from those of both results.

    Zou & Donner, Statistics in Medicine 27 (2008) 1693, "recovery of variance"; from memory.

    Parameters
    ----------
    before, after : pair of float and its interval, unit of value

    Returns
    -------
    best : float, unit of value
    interval : pair of float, unit of value

    >>> difference((1.0, (0.7, 1.3)), (3.0, (2.6, 3.4)))
    (2.0, (1.5, 2.5))
    """
    (old, (old_low, old_high)), (new, (new_low, new_high)) = before, after
    if np.isnan(old) or np.isnan(new):
        low, high = new_low - old_high, new_high - old_low
        return float("nan"), (-np.inf if np.isnan(low) else low, np.inf if np.isnan(high) else high)
    down, up = np.hypot(new - new_low, old_high - old), np.hypot(new_high - new, old - old_low)
    return new - old, (float(new - old - down), float(new - old + up))
