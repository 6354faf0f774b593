"""What the scatter of single shims adds to the interval of a speed at which single keys let go."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from rimmodel.arrays import Interval
from rimmodel.behaviour.keys import named_speeds
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.registry import quantity_at
from rimmodel.rotor.tolerance import PER_KEY

NO_BOUND = (-np.inf, np.inf)


def scatter_worth(case: Case, quantity: str, condition: str, confidence: float) -> Interval:
    """What the scatter of single shims is worth as mean interference, lower and upper end; derived in `shim_scatter`.

    Parameters
    ----------
    condition : str
        Its name in the case.
    confidence : float, -

    Returns
    -------
    pair of float, m
        Nothing for a quantity that does not depend on single keys; infinite where the case does not say how well their
        shims are known, or where there is no end.
    """
    speed = quantity_at(quantity).quantity.of_keys
    if not speed:
        return 0.0, 0.0
    tolerance = next((row for row in case.tolerances if row.name == PER_KEY), None)
    if tolerance is None:
        return NO_BOUND
    return named_speeds.shim_scatter(case.rotor, case.conditions[condition], speed, tolerance, confidence)


def unknown_shims(case: Case, quantity: str) -> tuple[str, str]:
    """Key of the case without which nothing bounds a speed of single keys, and that in words.

    Both are empty where it is there, or not needed.
    """
    of_keys = quantity_at(quantity).quantity.of_keys is not None
    if not of_keys or any(row.name == PER_KEY for row in case.tolerances):
        return "", ""
    missing = "fit.key_interference_tolerance"
    return missing, f"the case does not say how well single shims are known ({missing}): none is shown to do"


def with_scatter(
    interval: Interval, best: float, worth: Interval, speed_with: Callable[[float], float]
) -> tuple[Interval, Interval]:
    """An interval of a speed with the scatter of shims in it, and what that adds below and above.

    The sides are put together in quadrature, each by itself, as those of any other cause; where there is no best value
    the whole of it is added to the ends.

    Parameters
    ----------
    interval : pair of float, rad/s
        From all other causes.
    best : float, rad/s
    worth : pair of float, m
        Of `scatter_worth`.
    speed_with : callable
        From a change of the mean interference (m) to the speed (rad/s) of the best rotor.

    Returns
    -------
    tuple of two pairs of float, rad/s
    """
    if worth == (0.0, 0.0):
        return interval, worth
    stated = speed_with(0.0)
    ends, sides = [], []
    for end, change, sign in zip(interval, worth, (-1.0, 1.0), strict=True):
        if not (np.isfinite(change) and np.isfinite(end) and np.isfinite(stated)):
            ends.append(sign * np.inf)
            sides.append(np.inf)
            continue
        side = max(sign * (speed_with(change) - stated), 0.0)
        sides.append(side)
        ends.append(best + sign * np.hypot(end - best, side) if np.isfinite(best) else end + sign * side)
    return (float(ends[0]), float(ends[1])), (float(sides[0]), float(sides[1]))
