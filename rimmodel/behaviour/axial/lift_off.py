"""Speeds at which slices lift off: the first, the last, and each by itself.

Until the first lift-off all slices press, and ``p = A^-1 i`` falls in a straight line over speed squared and pull; from
the last on none does, and the free rim leaves nothing anywhere. Between them the slice of a height is followed by
bisection on the exact contact state.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from rimmodel.arrays import Floats, Mask, floats
from rimmodel.behaviour.axial.pressed import pressed_slices
from rimmodel.behaviour.axial.slices import SlicedRotor, differs, sliced_rotor, stacks
from rimmodel.behaviour.contact.coefficients import Direction, coefficients
from rimmodel.behaviour.contact.speeds import float_speed_of
from rimmodel.behaviour.contact.state import contact
from rimmodel.rotor import Condition, Rotor

_ROUNDS = 40
_CLOSE = 1e-13
_GRID = 65
_HALVINGS = 30
_FAR, _HARD = 1e3, 1e7
"""rad2/s2 and Pa, as large as they get: slopes of straight lines without round-off."""
BEYOND = 3.0
"""Times the highest named speed beyond which no lift-off of a slice is sought."""


def first_lift_off_of(sliced: SlicedRotor) -> Floats:
    """Speed at which the first slice loses contact; derived in the module.

    Returns
    -------
    array (...), rad/s

    Shims that differ by 0.4 mm along the rim on a spider that yields everywhere by itself: the slacker end, in 24
    slices at 23/48 of the length, has 2.1 - 0.4 x 23/48 = 1.9083 mm and loses them at sqrt(1.9083/2.1) = 0.9533 of the
    float speed of the mean.

    >>> import rimmodel as rm
    >>> from dataclasses import replace
    >>> from rimmodel.rotor import Axial
    >>> case = rm.example_case()
    >>> axial = Axial(interference_taper=0.4e-3, spider_yields="local")
    >>> rotor, cold = replace(case.rotor, axial=axial), case.conditions["cold"]
    >>> mean = rm.float_speed(rotor, cold).speed
    >>> print(f"{first_lift_off_of(sliced_rotor(rotor, cold, stacks(rotor)[1])) / mean:.4f}")
    0.9533
    """
    still = floats(0.0)
    standing = contact(sliced.model, still)
    inverse = np.linalg.inv(sliced.yielding)

    def pressed(speed_squared: Floats, pull: Floats) -> Floats:
        return np.einsum("...ij,...j->...i", inverse, sliced.left(speed_squared, pull))

    none = np.zeros_like(standing.pull)
    at_rest = pressed(none, none)
    per_speed = (pressed(none + _FAR, none) - at_rest) / _FAR
    per_pull = (pressed(none, none + _HARD) - at_rest) / _HARD
    squared = _where_lost(sliced, at_rest, per_speed, per_pull, np.min)
    return _as_speed(sliced, squared, (at_rest + per_pull * standing.pull[..., None]).min(axis=-1) > 0.0)


def last_lift_off_of(sliced: SlicedRotor) -> Floats:
    """Speed from which no slice has contact; derived in the module.

    Returns
    -------
    array (...), rad/s

    The tighter end of the rim of `first_lift_off_of` has 2.1 + 0.4 x 23/48 mm: sqrt(2.2917/2.1) = 1.0446 times the
    float speed of the mean, whatever stack and spider are.

    >>> import rimmodel as rm
    >>> from dataclasses import replace
    >>> from rimmodel.rotor import Axial
    >>> case = rm.example_case()
    >>> rotor, cold = replace(case.rotor, axial=Axial(interference_taper=0.4e-3)), case.conditions["cold"]
    >>> mean = rm.float_speed(rotor, cold).speed
    >>> print([f"{last_lift_off_of(sliced_rotor(rotor, cold, end)) / mean:.4f}" for end in stacks(rotor)])
    ['1.0446', '1.0446', '1.0446', '1.0446']
    """
    standing = contact(sliced.model, floats(0.0))
    none = np.zeros_like(standing.pull)
    at_rest = sliced.left(none, none)
    per_speed = (sliced.left(none + _FAR, none) - at_rest) / _FAR
    per_pull = (sliced.left(none, none + _HARD) - at_rest) / _HARD
    squared = _where_lost(sliced, at_rest, per_speed, per_pull, np.max)
    return _as_speed(sliced, squared, (at_rest + per_pull * standing.pull[..., None]).max(axis=-1) > 0.0)


def slice_lift_offs(rotor: Rotor, sliced: SlicedRotor) -> Floats:
    """Speed from which each slice of one rotor has no contact; derived in the module.

    Parameters
    ----------
    rotor : Rotor
        Of scalar fields.

    Returns
    -------
    array (n,), rad/s
        inf where it still presses at three times the highest named speed, 0 where it never presses.

    On a spider that yields everywhere by itself the slices of a rim with tapered shims lift off in their order, the
    last where no slice is left:

    >>> import rimmodel as rm
    >>> from dataclasses import replace
    >>> from rimmodel.rotor import Axial
    >>> case = rm.example_case()
    >>> axial = Axial(interference_taper=0.4e-3, spider_yields="local", slices=4)
    >>> rotor, cold = replace(case.rotor, axial=axial), case.conditions["cold"]
    >>> whole = sliced_rotor(rotor, cold, stacks(rotor)[0])
    >>> each = slice_lift_offs(rotor, whole)
    >>> bool((np.diff(each) > 0).all()), f"{each[-1] / last_lift_off_of(whole):.9f}"
    (True, '1.000000000')
    """
    beyond = BEYOND * float(np.max(np.asarray(rotor.speeds.highest)))
    first, last = float(first_lift_off_of(sliced)), float(last_lift_off_of(sliced))
    if np.isnan([first, last]).any():
        return np.full(sliced.height.shape, np.nan)
    low, high = min(first, beyond) ** 2, min(last, beyond) ** 2
    grid = np.linspace(low, high, _GRID)
    presses = _presses(sliced, grid)
    some = presses.any(axis=0)
    place = np.where(some, _GRID - 1 - np.argmax(presses[::-1], axis=0), 0)
    below, above = grid[place], grid[np.minimum(place + 1, _GRID - 1)]
    own = np.arange(sliced.height.size)
    for _ in range(_HALVINGS):
        middle = 0.5 * (below + above)
        held = _presses(sliced, middle)[own, own]
        below, above = np.where(held, middle, below), np.where(held, above, middle)
    found = np.where(some, np.sqrt(above), first)
    return floats(np.where(presses[-1] & (last > beyond), np.inf, found))


def _presses(sliced: SlicedRotor, speed_squared: Floats) -> Mask:
    pull = contact(sliced.model, speed_squared).pull
    return np.asarray(pressed_slices(sliced.yielding, sliced.left(speed_squared, pull))[0] > 0.0)


def _where_lost(sliced: SlicedRotor, at_rest: Floats, per_speed: Floats, per_pull: Floats, which: Callable[..., Floats]) -> Floats:
    """Speed squared at which the first (min) or the last (max) of lines over speed squared and pull reaches zero."""
    pull = contact(sliced.model, floats(0.0)).pull
    squared, lost = np.zeros_like(pull), np.isnan(pull)
    for _ in range(_ROUNDS):
        with np.errstate(divide="ignore", invalid="ignore"):
            each = (at_rest + per_pull * pull[..., None]) / np.where(per_speed < 0.0, -per_speed, np.nan)
            each = np.where(per_speed < 0.0, each, np.inf)
        found = which(each, axis=-1)
        finite = np.isfinite(found)
        with np.errstate(invalid="ignore"):
            moved = finite & (np.abs(found - squared) > _CLOSE * np.abs(found))
        squared = found
        if not moved.any():
            break
        pull = contact(sliced.model, np.where(finite, np.maximum(found, 0.0), 0.0)).pull
        lost = lost | np.isnan(pull)
    return np.where(lost, np.nan, squared)


def _as_speed(sliced: SlicedRotor, squared: Floats, presses: Floats) -> Floats:
    """Speed of a speed squared: 0 where nothing presses at standstill, NaN where there is no state."""
    lost = np.isnan(contact(sliced.model, floats(0.0)).pull)
    with np.errstate(invalid="ignore"):
        speed = np.sqrt(np.maximum(squared, 0.0))
    return np.where(lost, np.nan, np.where(presses, speed, 0.0))


def first_lift_off(rotor: Rotor, condition: Condition, direction: Direction = None) -> Floats:
    """Earliest first lift-off over all that the case leaves open of stack and spider; derived in the module.

    Parameters
    ----------
    rotor : Rotor
        Any field may be an array.
    direction : "up", "down" or None
        Direction of the speed, for friction.

    Returns
    -------
    array, rad/s
        The float speed of the mean where nothing differs along the rim.

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> cold = case.conditions["cold"]
    >>> bool(first_lift_off(case.rotor, cold) == rm.float_speed(case.rotor, cold).speed)
    True
    """
    if not differs(rotor, condition):
        return float_speed_of(coefficients(rotor, condition, direction), floats(rotor.speeds.highest))
    ends = [first_lift_off_of(sliced_rotor(rotor, condition, end, direction)) for end in stacks(rotor)]
    return floats(np.min(np.broadcast_arrays(*ends), axis=0))
