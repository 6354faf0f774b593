"""Speeds of single keys as numbers that can be claimed and required: the first key that lets go, and centring lost.

One rotor is followed key by key, exactly. Of many rotors (samples of a study, neighbours of a measured machine) three
are: the first, the tightest and the loosest. What is left of the mean interference as the speed is reached depends on
how the shims differ far more than on the rotor; the most that is left in the three holds for all. That is on the safe
side unless a rotor between them keeps more than all three.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Literal

import numpy as np

from rimmodel.arrays import Floats, Interval, floats
from rimmodel.behaviour.contact.coefficients import Coefficients, coefficients
from rimmodel.behaviour.contact.speeds import float_speed_of
from rimmodel.behaviour.contact.state import contact
from rimmodel.behaviour.keys.keyed_rotor import keyed_rotor
from rimmodel.behaviour.keys.path import key_speeds
from rimmodel.behaviour.keys.run import followed, plain_numbers
from rimmodel.behaviour.keys.tolerance import key_study
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.blocks import array_shape, map_arrays
from rimmodel.rotor.tolerance import Tolerance

KeySpeed = Literal["first key", "centring"]

SETS = 256
"""Sets of shims behind an interval: its ends are order statistics, so that fewer would make them wide."""


def key_speed(rotor: Rotor, condition: Condition, speed: KeySpeed) -> Floats:
    """Speed at which the first key lifts off, or from which the keys that are seated no longer centre the rim.

    Derived in `rimmodel.behaviour.keys.path`; the rim is no longer centred from `centring_lost` or `one_sided` on,
    whichever comes first.

    Parameters
    ----------
    rotor : Rotor
        Any field may be an array, as of the condition; the method for many is that of the module.

    Returns
    -------
    array, rad/s
        0 at standstill, inf where speed never does it up to the end of the path; NaN where the pull has closed the
        gap at standstill.

    Raises
    ------
    ValueError
        As `keyed_rotor`.

    Even keys let go where the smeared rim floats:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> even = replace(case.rotor, fit=replace(case.rotor.fit, key_interference=None))
    >>> first = key_speed(even, case.conditions["cold"], "first key")
    >>> print(f"{float(first) / float(rm.float_speed(even, case.conditions['cold']).speed):.9f}")
    1.000000000
    """
    if array_shape(rotor, condition) == ():
        return floats(_of_one(plain_numbers(rotor), plain_numbers(condition), speed))
    model, shape = coefficients(rotor, condition), array_shape(rotor, condition)
    at_rest = np.broadcast_to(contact(model, floats(0.0)).residual_interference, shape).ravel()
    known = np.flatnonzero(np.isfinite(at_rest))
    if not known.size:
        return np.full(shape, np.nan)
    chosen = {int(known[0]), int(known[np.argmin(at_rest[known])]), int(known[np.argmax(at_rest[known])])}
    left = []
    for place in sorted(chosen):

        def one(leaf: Floats, place: int = place) -> float:
            return float(np.broadcast_to(leaf, shape).ravel()[place])

        own, state = map_arrays(rotor, one), map_arrays(condition, one)
        left.append(_left_at(coefficients(own, state), _of_one(plain_numbers(own), plain_numbers(state), speed)))
    if max(left) == -np.inf:
        return np.where(np.isfinite(at_rest), np.inf, np.nan).reshape(shape)
    even = replace(model, at_rest=model.at_rest - max(left))
    return np.broadcast_to(float_speed_of(even, floats(rotor.speeds.highest)), shape)


def shim_scatter(
    rotor: Rotor, condition: Condition, speed: KeySpeed, tolerance: Tolerance, confidence: float
) -> Interval:
    """What single shims that differ at random about their stated values are worth, as mean interference.

    Order statistics of `SETS` sets of shims, always the same sets; derived here.

    Parameters
    ----------
    rotor : Rotor
        Of scalar fields, as the condition.
    tolerance : Tolerance
        Of each key about its own value.
    confidence : float, -

    Returns
    -------
    pair of float, m
        To be added to the mean interference: the speed of that rotor on its stated shims is the lower, the upper end
        of a two-sided interval. Infinite on a side on which there is no end.

    Raises
    ------
    ValueError
        As `keyed_rotor`.

    >>> import rimmodel as rm
    >>> case, tolerance = rm.example_case(), Tolerance("fit.key_interference", 2.1e-3, "normal", 5e-5)
    >>> low, high = shim_scatter(case.rotor, case.conditions["cold"], "first key", tolerance, 0.9)
    >>> -7e-5 < low < -4e-5 and 0.0 < high < 4e-5
    True
    """
    rotor, condition = plain_numbers(rotor), plain_numbers(condition)
    found = _of_sets(rotor, condition, tolerance)[speed]
    model = coefficients(rotor, condition)
    stated = _left_at(model, _of_one(rotor, condition, speed))
    if stated == -np.inf:
        worth = np.where(np.isfinite(found), -np.inf, 0.0)
    else:
        worth = np.array([stated - _left_at(model, float(one)) for one in found])
    low, high = (1.0 - confidence) / 2.0, (1.0 + confidence) / 2.0
    return float(np.quantile(worth, low, method="lower")), float(np.quantile(worth, high, method="higher"))


@lru_cache(maxsize=256)
def _of_one(rotor: Rotor, condition: Condition, speed: KeySpeed) -> float:
    if not np.isfinite(contact(coefficients(rotor, condition), floats(0.0)).residual_interference):
        return float("nan")
    marks = key_speeds(*followed(rotor, condition))
    found = (marks.first_lift_off,) if speed == "first key" else (marks.centring_lost, marks.one_sided)
    return min((mark for mark in found if mark is not None), default=float("inf"))


def _left_at(model: Coefficients, speed: float) -> float:
    """Mean interference that is left at a speed, m: below zero once the mean floats; -inf where nothing happens."""
    return float(contact(model, floats(speed) ** 2).residual_interference) if np.isfinite(speed) else -np.inf


@lru_cache(maxsize=32)
def _of_sets(rotor: Rotor, condition: Condition, tolerance: Tolerance) -> dict[KeySpeed, Floats]:
    """Both speeds of each set of shims, rad/s."""
    assembled = keyed_rotor(rotor, condition).assembled
    uniform = np.random.Generator(np.random.Philox(key=7)).random((SETS, assembled.size))
    drawn = tolerance.quantile(uniform + 2.0**-54) - tolerance.centre  # 0 would be minus infinity
    study = key_study(rotor, condition, assembled + drawn)
    return {"first key": study.first_lift_off, "centring": np.minimum(study.centring_lost, study.one_sided)}
