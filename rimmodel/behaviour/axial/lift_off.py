"""Speeds at which slices lift off: the first, the last, and each by itself.

Until the first lift-off all slices press, and ``p = A^-1 i`` falls in a straight line over speed squared and pull; from
the last on none does, and the free rim leaves nothing anywhere. Between them the slice of a height is followed by
regula falsi on the exact contact state.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from rimmodel.arrays import Floats, Numbers, floats
from rimmodel.behaviour.axial.pressed import pressed_slices
from rimmodel.behaviour.axial.slices import (
    SlicedRotor,
    left_by_poles,
    pressed_by_poles,
    sliced_rotor,
    stacks,
    straight_ends,
    uneven_share,
)
from rimmodel.behaviour.contact.coefficients import Direction, coefficients
from rimmodel.behaviour.contact.speeds import float_speed_of
from rimmodel.behaviour.contact.state import contact, lift_off_speed_squared
from rimmodel.rotor import Condition, Rotor

_ROUNDS = 40
_CLOSE, _ROUGH = 1e-13, 1e-9
_GRID = 65
_STEPS, _SMALL = 60, 1e-10
_FAR, _HARD = 1e3, 1e7
"""rad2/s2 and Pa, as large as they get: slopes of straight lines without round-off."""
BEYOND = 3.0
"""Times the highest named speed beyond which no lift-off of a slice is sought."""


def first_lift_off_of(sliced: SlicedRotor) -> Floats:
    """Speed at which the first slice loses contact; derived in the module.

    Returns
    -------
    array (...), rad/s

    Shims that differ by 0.4 mm along a rim whose sheets slide, on a spider that yields everywhere by itself: the slack
    end has 2.1 - 0.2 mm and loses them at sqrt(1.9/2.1) = 0.9512 of the float speed of the mean.

    >>> import rimmodel as rm
    >>> from dataclasses import replace
    >>> from rimmodel.rotor import Axial
    >>> case = rm.example_case()
    >>> axial = Axial(interference_taper=0.4e-3, spider_yields="local")
    >>> rotor, cold = replace(case.rotor, axial=axial), case.conditions["cold"]
    >>> mean = rm.float_speed(rotor, cold).speed
    >>> print(f"{first_lift_off_of(sliced_rotor(rotor, cold, stacks(rotor)[0])) / mean:.4f}")
    0.9512
    """
    size = sliced.height.size
    # what a slice has left is a shift, a cone, a curl and what poles bring: one solution holds every speed
    taper = sliced.tight - sliced.warm_bore
    parts = np.broadcast_arrays(np.ones(size), taper, sliced.curl, uneven_share(sliced))
    shape = np.broadcast_shapes(parts[0].shape[:-1], sliced.yielding.shape[:-2])
    right = np.stack([np.broadcast_to(part, (*shape, size)) for part in parts], axis=-1)
    solved = np.linalg.solve(sliced.yielding, right)
    shift, cone, curl, lost = (solved[..., part] for part in range(4))
    by_poles = pressed_by_poles(sliced, lost)

    def pressed(speed_squared: Floats, pull: Floats) -> Floats:
        mean = floats(sliced.model.interference(speed_squared, pull))[..., None]
        each = mean * shift + cone - speed_squared[..., None] * curl
        return straight_ends(each) - sliced.load(speed_squared, pull)[..., None] * by_poles

    return _lost(sliced, pressed, np.min)


def last_lift_off_of(sliced: SlicedRotor) -> Floats:
    """Speed from which no slice has contact; derived in the module.

    Returns
    -------
    array (...), rad/s

    The tighter end of the rim of `first_lift_off_of` has 2.1 + 0.2 mm: sqrt(2.3/2.1) = 1.0465 times the float speed of
    the mean, whatever the spider is; ends that curl inward in a stack of solid steel stay 0.12 % longer.

    >>> import rimmodel as rm
    >>> from dataclasses import replace
    >>> from rimmodel.rotor import Axial
    >>> case = rm.example_case()
    >>> rotor, cold = replace(case.rotor, axial=Axial(interference_taper=0.4e-3)), case.conditions["cold"]
    >>> mean = rm.float_speed(rotor, cold).speed
    >>> print([f"{last_lift_off_of(sliced_rotor(rotor, cold, end)) / mean:.4f}" for end in stacks(rotor)])
    ['1.0465', '1.0465', '1.0479', '1.0479']
    """
    by_poles = left_by_poles(sliced)

    def left(speed_squared: Floats, pull: Floats) -> Floats:
        smooth = sliced.straight(speed_squared, pull) - speed_squared[..., None] * sliced.curl
        return straight_ends(smooth) - sliced.load(speed_squared, pull)[..., None] * by_poles

    return _lost(sliced, left, np.max)


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

    Slices that nothing ties together lift off each by itself: the uppermost of four, 3/8 of the length above the
    middle, with 2.1 + 0.4 x 3/8 = 2.25 mm at sqrt(2.25/2.1) = 1.0351 of the float speed of the mean.

    >>> import rimmodel as rm
    >>> from dataclasses import replace
    >>> from rimmodel.rotor import Axial
    >>> case = rm.example_case()
    >>> axial = Axial(interference_taper=0.4e-3, spider_yields="local", slices=4)
    >>> rotor, cold = replace(case.rotor, axial=axial), case.conditions["cold"]
    >>> each = slice_lift_offs(rotor, sliced_rotor(rotor, cold, stacks(rotor)[0]))
    >>> print(f"{each[-1] / rm.float_speed(rotor, cold).speed:.4f}")
    1.0351
    """
    beyond = BEYOND * float(np.max(np.asarray(rotor.speeds.highest)))
    first, last = float(first_lift_off_of(sliced)), float(last_lift_off_of(sliced))
    if np.isnan([first, last]).any():
        return np.full(sliced.height.shape, np.nan)
    low, high = min(first, beyond) ** 2, min(last, beyond) ** 2
    grid = np.linspace(low, high, _GRID)
    left = _left_over(sliced, grid)
    presses, own = left > 0.0, np.arange(sliced.height.size)
    some = presses.any(axis=0)
    place = np.where(some, _GRID - 1 - np.argmax(presses[::-1], axis=0), 0)
    after = np.minimum(place + 1, _GRID - 1)
    below, above, high_side, low_side = grid[place], grid[after], left[place, own], left[after, own]
    for _ in range(_STEPS):  # regula falsi on what is left, Illinois: a side that stays counts half
        slope = high_side - low_side
        share = np.where(slope > 0.0, high_side / np.where(slope > 0.0, slope, 1.0), 0.5)
        middle = below + np.clip(share, 0.0, 1.0) * (above - below)
        value = _left_over(sliced, middle)[own, own]
        held = value > 0.0
        if np.abs(value[some]).max(initial=0.0) <= _SMALL * np.abs(left).max():
            break
        below, above = np.where(held, middle, below), np.where(held, above, middle)
        high_side, low_side = (
            np.where(held, value, 0.5 * high_side),
            np.where(held, 0.5 * low_side, value),
        )
    found = np.where(some, np.sqrt(middle), first)
    return floats(np.where(presses[-1] & (last > beyond), np.inf, found))


def _left_over(sliced: SlicedRotor, speed_squared: Floats) -> Floats:
    """What presses at each slice, as a length, less its clearance."""
    pull = contact(sliced.model, speed_squared).pull
    pressure, clearance = pressed_slices(sliced.yielding, sliced.left(speed_squared, pull))
    return floats(float(sliced.model.compliance) * pressure - clearance)


def _lost(sliced: SlicedRotor, lines: Callable[[Floats, Floats], Floats], which: Callable[..., Floats]) -> Floats:
    """Speed at which the first (min) or the last (max) of lines over speed squared and pull reaches zero."""
    pull = contact(sliced.model, floats(0.0)).pull
    none = np.zeros_like(pull)
    at_rest = lines(none, none)
    per_speed, per_pull = (lines(none + _FAR, none) - at_rest) / _FAR, (lines(none, none + _HARD) - at_rest) / _HARD
    presses = which(at_rest + per_pull * pull[..., None], axis=-1) > 0.0
    squared, lost = none, np.isnan(pull)
    mean, there = lift_off_speed_squared(sliced.model)
    with np.errstate(invalid="ignore"):
        pull = np.where(mean > 0.0, there, pull)
    for _ in range(_ROUNDS):
        with np.errstate(divide="ignore", invalid="ignore"):
            each = (at_rest + per_pull * pull[..., None]) / np.where(per_speed < 0.0, -per_speed, np.nan)
            found = which(np.where(per_speed < 0.0, each, np.inf), axis=-1)
            step = np.where(np.isfinite(found), np.abs(found - squared), 0.0)
        squared = found
        if not (step > _CLOSE * np.abs(found)).any():
            break
        pull = contact(sliced.model, np.where(np.isfinite(found), np.maximum(found, 0.0), 0.0)).pull
        lost = lost | np.isnan(pull)
    lost = lost | (step > _ROUGH * np.abs(squared))  # a pull so strong that no speed is found for it
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
    if not rotor.differs_along(condition):
        return float_speed_of(coefficients(rotor, condition, direction), floats(rotor.speeds.highest))
    found: list[Floats] = []
    alike: dict[tuple[Numbers, Numbers], SlicedRotor] = {}
    for end in stacks(rotor):
        moduli = (end.shear_modulus, end.axial_modulus)
        sliced = sliced_rotor(rotor, condition, end, direction, gaps=False, alike=alike.get(moduli))
        alike = {moduli: sliced}
        found.append(first_lift_off_of(sliced))
    return floats(np.min(np.broadcast_arrays(*found), axis=0))
