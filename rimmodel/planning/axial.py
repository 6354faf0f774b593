"""A case along its rim: which slices lift off first, what is left of the fit along it, and the least gap at each plane.

Stack and spider are not known well: every number is a pair, the least and the most over the ends of what the case
leaves open. Tolerances of the case are not in it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats, Interval, floats
from rimmodel.behaviour.axial.lift_off import first_lift_off_of, last_lift_off_of, slice_lift_offs
from rimmodel.behaviour.axial.planes import under_poles
from rimmodel.behaviour.axial.slices import SlicedRotor, Stack, differs, pole_share, slice_states, sliced_rotor, stacks
from rimmodel.behaviour.contact.coefficients import Direction
from rimmodel.behaviour.contact.speeds import float_speed
from rimmodel.rotor import Condition
from rimmodel.rotor.case.case import Case


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
    """A case along its rim in a condition.

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


def axial_curve(case: Case, name: str, condition: Condition, speed: Floats, least_gap: Floats) -> AxialCurve | None:
    """A case along its rim; None where nothing differs.

    Parameters
    ----------
    name : str
        Of the condition.
    speed : array (speed,), rad/s
    least_gap : array (speed,), m
        Of the machine at these speeds, at the height where it is narrowest.
    """
    rotor = case.rotor
    if not differs(rotor, condition):
        return None
    ends = stacks(rotor)
    up, down = _cut(case, condition, ends, "up"), _cut(case, condition, ends, "down")
    between = _cut(case, condition, ends, None)
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
        _ends(each), tuple(rows), _planes(case, between, height, speed, least_gap),
    )  # fmt: skip


def _cut(case: Case, condition: Condition, ends: tuple[Stack, ...], direction: Direction) -> list[SlicedRotor]:
    return [sliced_rotor(case.rotor, condition, end, direction) for end in ends]


def _planes(case: Case, cut: list[SlicedRotor], height: Floats, speed: Floats, least_gap: Floats) -> tuple[Plane, ...]:
    """The gap at the lowest, the middle and the uppermost slice wholly under poles: not below where it is narrowest."""
    x = floats(speed**2)
    under, share = under_poles(case.rotor), pole_share(case.rotor)
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
