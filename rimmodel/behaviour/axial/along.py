"""A rotor along its rim: which slices lift off first, what is left of the fit along it, and the gap at each plane.

Stack and spider are not known well: every number is a pair, the least and the most over the ends of what the case
leaves open. Tolerances of the case are not in it. Derived in `slices` and `lift_off`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats, Interval, floats
from rimmodel.behaviour.axial.lift_off import first_lift_off, first_lift_off_of, last_lift_off_of, slice_lift_offs
from rimmodel.behaviour.axial.planes import under_poles
from rimmodel.behaviour.axial.slices import SlicedRotor, Stack, pole_share, slice_states, sliced_rotor, stacks
from rimmodel.behaviour.contact.speeds import float_speed
from rimmodel.rotor import Condition, Rotor

OF_THE_FIT = ("residual_interference", "contact_pressure")
"""Quantities of the fit, of which every place along the rim has its own."""

WHOLLY = 0.999
"""Share of the most pole load that a slice bears from which it counts as wholly under poles."""


@dataclass(frozen=True)
class AlongAt:
    """The rim along its length at one speed; the second axis of each pair is the slice, the lowest first.

    Attributes
    ----------
    speed : float, rad/s
    contact_pressure : array (2, n), Pa
        Least and most.
    residual_interference : array (2, n), m
        A clearance where it is below zero.
    """

    name: str
    speed: float
    contact_pressure: Floats
    residual_interference: Floats


@dataclass(frozen=True)
class Plane:
    """The least gap at one height against speed.

    Attributes
    ----------
    height : float, m
        Above the lower end of the rim.
    least_gap : array (2, speed), m
        Least and most over stack and spider; NaN where there is none.
    """

    name: str
    height: float
    least_gap: Floats


@dataclass(frozen=True)
class AxialCurve:
    """A rotor along its rim in a condition.

    Attributes
    ----------
    height : array (n,), m
        Of the slices above the lower end of the rim.
    float_speed : float, rad/s
        Of the mean.
    first, last : pair of float, rad/s
        First slice without contact, and none with contact, in run-up.
    seats, seated : pair of float, rad/s
        In run-down: first contact, and contact everywhere.
    each : array (2, n), rad/s
        From which each slice has no contact.
    """

    condition: str
    stacks: tuple[Stack, ...]
    height: Floats
    float_speed: float
    first: Interval
    last: Interval
    seats: Interval
    seated: Interval
    each: Floats
    at: tuple[AlongAt, ...]
    planes: tuple[Plane, ...]


def axial_curve(rotor: Rotor, name: str, condition: Condition, speed: Floats, least_gap: Floats) -> AxialCurve | None:
    """A rotor along its rim; None where nothing differs.

    Parameters
    ----------
    rotor : Rotor
        Of scalar fields.
    name : str
        Of the condition.
    speed : array (speed,), rad/s
    least_gap : array (speed,), m
        Of the machine at these speeds, at the height where it is narrowest.

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> print(axial_curve(case.rotor, "cold", case.conditions["cold"], floats([0.0]), floats([15e-3])))
    None
    """
    if not rotor.differs_along(condition):
        return None
    ends = stacks(rotor)
    up, down, between = (
        [sliced_rotor(rotor, condition, end, direction) for end in ends] for direction in ("up", "down", None)
    )
    length = float(rotor.rim.length)
    height = (between[0].height + 0.5) * length
    each = np.array([slice_lift_offs(rotor, sliced) for sliced in up])
    named = {at: float(value) for at, value in rotor.speeds.from_standstill.items()}
    rows = []
    for at, value in named.items():
        found = [slice_states(sliced, floats(value**2)) for sliced in between]
        rows.append(
            AlongAt(
                at, value, _ends(np.array([row.contact_pressure for row in found])),
                _ends(np.array([row.residual_interference for row in found])),
            )
        )  # fmt: skip
    return AxialCurve(
        name, ends, height, float(float_speed(rotor, condition).speed),
        _pair([float(first_lift_off_of(sliced)) for sliced in up]),
        _pair([float(last_lift_off_of(sliced)) for sliced in up]),
        _pair([float(last_lift_off_of(sliced)) for sliced in down]),
        _pair([float(first_lift_off_of(sliced)) for sliced in down]),
        _ends(each), tuple(rows), _planes(rotor, between, height, speed, least_gap),
    )  # fmt: skip


def worst_along(rotor: Rotor, condition: Condition, quantity: str, speed: float = 0.0) -> float | None:
    """The least that any place along the rim has of a quantity of the mean, over all that is open; None for others.

    Parameters
    ----------
    rotor : Rotor
        Of scalar fields.
    quantity : str
        float_speed, residual_interference or contact_pressure.
    speed : float, rad/s
        At which the fit is asked.

    Returns
    -------
    float or None, SI
        None where nothing differs along the rim.

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> print(worst_along(case.rotor, case.conditions["cold"], "float_speed"))
    None
    """
    if not rotor.differs_along(condition):
        return None
    if quantity == "float_speed":
        return float(first_lift_off(rotor, condition))
    if quantity not in OF_THE_FIT:
        return None
    states = [slice_states(sliced_rotor(rotor, condition, end), floats(speed**2)) for end in stacks(rotor)]
    return float(np.min([getattr(state, quantity) for state in states]))


def _planes(
    rotor: Rotor, cut: list[SlicedRotor], height: Floats, speed: Floats, least_gap: Floats
) -> tuple[Plane, ...]:
    """The gap at the lowest, the middle and the uppermost slice wholly under poles: not below where it is narrowest."""
    x = floats(speed**2)
    under, share = under_poles(rotor), pole_share(rotor)
    whole = under[share[under] >= WHOLLY * share.max()]
    gaps = np.array([slice_states(sliced, x).air_gap for sliced in cut])
    narrowest = gaps[:, :, under].min(axis=(0, 2))
    return tuple(
        Plane(name, float(height[place]), _ends(least_gap + gaps[:, :, place] - narrowest))
        for name, place in (("lower", whole[0]), ("middle", whole[whole.size // 2]), ("upper", whole[-1]))
    )


def _ends(values: Floats) -> Floats:
    """Least and most over the first axis; NaN where any is."""
    return np.stack([values.min(axis=0), values.max(axis=0)])


def _pair(values: list[float]) -> Interval:
    return (float(np.min(values)), float(np.max(values)))
