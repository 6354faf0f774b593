"""What a knee fit accepts, and the words with which it refuses the rest."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rimmodel.evidence.knee.broken_line import Points

SIGN = {"down": -1.0, "up": 1.0, "either": 0.0}
EARLY = 0.16
"""Fraction of the highest x, 40 % of speed, within which pole seats take up (common practice, no source)."""
FEWEST_POINTS = 5
MOST_POINTS = 5000
FEWEST_PLACES = 4
"""Distinct x: two on each side of a knee."""


FEWEST_BY_SCATTER = 8
"""Single readings, of no stated error, without which their scatter about the lines is no measure of that error, and
nothing is bounded: errors of reading that follow a smooth curve are taken up by so few points as a bend, and what is
left looks free of noise."""


@dataclass(frozen=True)
class Words:
    """How a place on x, a size of y and a slope are written in sentences; the caller knows their units."""

    place: Callable[[float], str] = "x = {:.4g}".format
    size: Callable[[float], str] = "{:.3g}".format
    slope: Callable[[float], str] = "{:.3g}".format


def _snapped(x: NDArray[np.float64]) -> NDArray[np.float64]:
    """The same x, with those that differ by rounding only (1e-9 of the span) made equal: they are one place."""
    order = np.argsort(x)
    steps = np.diff(x[order], prepend=x[order[:1]])
    first = np.maximum.accumulate(np.where(steps > 1e-9 * np.ptp(x), np.arange(len(x)), 0))
    snapped = x.copy()
    snapped[order] = x[order][first]
    return snapped


def checked_points(
    x: ArrayLike, y: ArrayLike, sigma: ArrayLike | None, mask: ArrayLike | None, sign: float
) -> tuple[Points, NDArray[np.bool_]]:
    """Return the points to use and which of those given they are, or refuse in words.

    Parameters
    ----------
    x : array (n,), unit of x
    y : array (n,), unit of y
    sigma : float or array (n,), unit of y, or None
    mask : bool array (n,) or None
    sign : float, -
        Of the bend.

    Returns
    -------
    points : Points
    used : bool array (n,)

    Raises
    ------
    ValueError
        Names the input, the value and the rule.
    """
    x, y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    if x.ndim != 1 or x.shape != y.shape:
        raise ValueError(f"x and y must be one-dimensional and of equal length, got shapes {x.shape} and {y.shape}")
    used = np.ones(len(x), dtype=bool) if mask is None else np.array(mask)
    if used.dtype != np.bool_ or used.shape != x.shape:
        raise ValueError(
            f"mask must hold one True or False per point ({len(x)}), got {used.dtype} of shape {used.shape}"
        )
    error = np.ones(len(x)) if sigma is None else np.asarray(sigma, dtype=np.float64)
    if error.shape not in ((), x.shape):
        raise ValueError(f"sigma must be one number or one per point ({len(x)}), got shape {error.shape}")
    error = np.broadcast_to(error, x.shape)
    for name, values in (("x", x), ("y", y), ("sigma", error)):
        bad = np.flatnonzero(used & ~np.isfinite(values))
        if len(bad):
            raise ValueError(
                f"{name}[{bad[0]}] is {values[bad[0]]}: mask it out or correct it; nothing is dropped silently"
            )
    bad = np.flatnonzero(used & (error <= 0.0))
    if len(bad):
        raise ValueError(f"sigma[{bad[0]}] is {error[bad[0]]:g}; it must be above zero (None: estimate it)")
    if used.sum() < FEWEST_POINTS:
        raise ValueError(f"{int(used.sum())} points to fit; a broken line has 4 parameters and needs {FEWEST_POINTS}")
    if used.sum() > MOST_POINTS:
        raise ValueError(
            f"{int(used.sum())} points to fit, more than {MOST_POINTS}: average them into speed points first"
        )
    x = x.copy()
    x[used] = _snapped(x[used])
    places = len(np.unique(x[used]))
    if places < FEWEST_PLACES:
        raise ValueError(
            f"the points lie at {places} distinct x, at {x[used][0]:g} the first; a knee needs {FEWEST_PLACES}, two on "
            "each side"
        )
    return Points(x[used], y[used], 1.0 / error[used], sigma is not None, sign), used


def checked_sign(confidence: float, bend: str, take_up: float) -> float:
    """Return the sign of the bend, or refuse an option in words.

    Parameters
    ----------
    confidence : float, -
    take_up : float, -

    Returns
    -------
    float, -

    Raises
    ------
    ValueError
        An option out of its range.
    """
    if not 0.5 <= confidence <= 0.99:
        raise ValueError(f"confidence is {confidence:g}; it must be from 0.5 to 0.99")
    if bend not in SIGN:
        raise ValueError(f"bend is {bend!r}; it must be one of {', '.join(SIGN)}")
    if not 0.0 <= take_up < 1.0:
        raise ValueError(f"take_up is {take_up:g}; it is a fraction of the largest x, from 0 to below 1")
    return SIGN[bend]


def checked_slopes(slopes: tuple[float, float] | None, uncertainty: float, sign: float) -> tuple[float, float] | None:
    """Return the expected slopes as floats, or refuse those that cannot be a knee of this sign.

    Parameters
    ----------
    slopes : pair of float, unit of y per unit of x, or None
    uncertainty : float, -
        Relative standard uncertainty of each slope.
    sign : float, -
        Of the bend.

    Returns
    -------
    pair of float or None, unit of y per unit of x

    Raises
    ------
    ValueError
        A slope of zero or infinity, a bend of the other sign, or an uncertainty not between 0 and 1.

    >>> checked_slopes((-1, -3), 0.1, -1.0)
    (-1.0, -3.0)
    """
    if slopes is None:
        return None
    before, after = float(slopes[0]), float(slopes[1])
    if not (math.isfinite(before) and math.isfinite(after)) or before == 0.0 or after == 0.0:
        raise ValueError(f"expected_slopes is ({before:g}, {after:g}); both must be finite and not zero")
    if before == after or sign * (after - before) < 0.0:
        raise ValueError(f"expected_slopes is ({before:g}, {after:g}), whose change of slope contradicts bend")
    if not 0.0 < uncertainty < 1.0:
        raise ValueError(f"expected_slope_uncertainty is {uncertainty:g}; it is relative, between 0 and 1")
    return before, after
