"""The least gap met anywhere on the bore in one turn, and the gap at any place of the stator and of the rotor."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Complex, Floats, floats
from rimmodel.behaviour.axial.planes import narrowest
from rimmodel.behaviour.contact.coefficients import MAGNETIC_CONSTANT, Coefficients
from rimmodel.behaviour.contact.state import Contact
from rimmodel.behaviour.least_gap.keyed import with_keys
from rimmodel.behaviour.least_gap.net_pull import Closure, PulledGap, settled_centre
from rimmodel.behaviour.least_gap.shapes import Shapes, effective_gap, shapes
from rimmodel.elastic.lowest_point import lowest_point
from rimmodel.rotor import Condition, Rotor

TURN_POINTS = 16
"""Angles of the rotor at which the rotor is let settle on its shaft; one of them is where the rigid gap is least."""


@dataclass(frozen=True)
class LeastGap:
    """Least gap over bore and turn; fields of one shape.

    Attributes
    ----------
    gap : array (...), m
        NaN where no state exists or nothing bounds it; below zero the rotor would strike.
    stator_angle, rotor_angle : array (...), rad
        Place on the stator, and place of the rotor that passes there.
    margin : array (...), -
        Least over the turn of what the shaft has left against the net pull, 1 where it is rigid.
    """

    gap: Floats
    stator_angle: Floats
    rotor_angle: Floats
    margin: Floats


def rigid_least(found: Shapes) -> LeastGap:
    """Least gap of shapes whose centre stays: every place of the rotor passes every place of the bore.

    ``mean + min bore - max faces - anywhere``; derived here, exact for shapes of any harmonics.

    A rotor 0.3 mm off centre in a bore with an oval of 0.2 mm, 0.1 mm besides, of 16 mm: 16 - 0.3 - 0.2 - 0.1 mm.

    >>> mm = np.array([[0.0, 0.3e-3, 0.0], [0.0, 0.0, 0.2e-3]])
    >>> found = rigid_least(Shapes(floats(16e-3), mm[1] + 0j, mm[0] + 0j, floats(0.1e-3)))
    >>> print(f"{1e3 * found.gap:.6f} mm")
    15.400000 mm
    """
    low, place = lowest_point(found.bore)
    high, crest = lowest_point(-found.faces)
    gap = found.mean_gap + low + high - found.anywhere
    gap, place, crest = np.broadcast_arrays(gap, place, crest)
    return LeastGap(gap, place, crest, np.ones(gap.shape))


def waves_of_gap(found: Shapes, turn: ArrayLike) -> Complex:
    """Harmonics of the gap over the stator angle with the rotor turned; by definition.

    Parameters
    ----------
    turn : float or array (...), rad
        Angle by which the rotor has turned.

    Returns
    -------
    complex array (..., H + 1), m
        The mean first; what may lie anywhere is not in it.

    A rotor 0.3 mm off centre, turned by a quarter, narrows the gap at 90 deg:

    >>> flat = Shapes(floats(16e-3), np.zeros(2, complex), np.array([0.0, 0.3e-3 + 0j]), floats(0.0))
    >>> print(f"{1e3 * waves_of_gap(flat, np.pi / 2)[1].imag:.6f}")
    0.300000
    """
    highest = max(found.bore.shape[-1], found.faces.shape[-1])
    n = np.arange(highest)
    angle = floats(turn)[..., None]
    waves = _padded(found.bore, highest) - _padded(found.faces, highest) * np.exp(-1j * n * angle)
    mean = np.zeros(highest)
    mean[0] = 1.0
    return np.asarray(waves + floats(found.mean_gap)[..., None] * mean)


def _padded(waves: Complex, highest: int) -> Complex:
    more = highest - waves.shape[-1]
    return np.concatenate([waves, np.zeros((*waves.shape[:-1], more), dtype=np.complex128)], axis=-1)


def pulled(rotor: Rotor, condition: Condition, found: Shapes, waves: Complex) -> PulledGap:
    """The gap with the field of a condition in it, as far as it can be out of balance; by definition of the model.

    Parameters
    ----------
    waves : complex array (..., H + 1), m

    At the cold gap 0.95 T pull with 0.95^2/(4 mu0) = 0.1795 MPa:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> even = Shapes(floats(16e-3), np.zeros(1, complex), np.zeros(1, complex), floats(0.0))
    >>> print(f"{pulled(case.rotor, case.conditions['hot'], even, np.array([16e-3 + 0j])).traction / 1e6:.4f}")
    0.1795
    """
    flux, mean = floats(condition.flux_density), floats(found.mean_gap)
    if condition.excitation == "constant current":
        flux = flux * floats(rotor.air_gap.cold) / mean
    area = 2.0 * np.pi * floats(rotor.poles.face_radius) * floats(rotor.face_length)
    traction = floats(flux**2 / (4.0 * MAGNETIC_CONSTANT)) * floats(rotor.assembly.pull_share)
    return PulledGap(waves, effective_gap(rotor, mean) - mean, traction, floats(area))


def least_gap(
    rotor: Rotor, condition: Condition, model: Coefficients, state: Contact, speed_squared: Floats
) -> LeastGap:
    """Least gap of a rotor in a state, with shapes, centre and what the net pull does on a springy shaft.

    Every field of the rotor may be an array. A rim on uneven shims is followed key by key (see `keyed`); one that
    differs along its length counts at the height where its gap is narrowest (`rimmodel.behaviour.axial`). What may lie
    anywhere lies where the rigid gap is least, and counts in the pull there. Derived in `shapes` and `net_pull`.

    Parameters
    ----------
    speed_squared : array, rad2/s2

    Known round, central and plumb the least gap is the mean gap:

    >>> import rimmodel as rm
    >>> from dataclasses import replace
    >>> from rimmodel.behaviour.contact.coefficients import coefficients
    >>> from rimmodel.behaviour.contact.state import contact
    >>> from rimmodel.rotor import Assembly
    >>> from rimmodel.rotor.assembly import BoreHarmonic
    >>> from rimmodel.rotor.rim import ShapeHarmonic
    >>> case, still = rm.example_case(), floats(0.0)
    >>> known = Assembly((BoreHarmonic(2, 0.0),), (), 0.0, 0.0, 0.0, 0.0, 0.0)
    >>> even = replace(case.rotor.fit, key_interference=None)
    >>> flat = replace(case.rotor.rim, shape=(ShapeHarmonic(2, 0.0),))
    >>> rotor = replace(case.rotor, assembly=known, rim=flat, fit=even)
    >>> model = coefficients(rotor, case.conditions["cold"])
    >>> found = least_gap(rotor, case.conditions["cold"], model, contact(model, still), still)
    >>> print(f"{1e3 * found.gap:.3f} mm")
    16.000 mm
    """
    found = shapes_along(rotor, condition, model, state, speed_squared)
    if rotor.assembly.shaft_stiffness is None or not np.any(floats(condition.flux_density) > 0.0):
        return _known(found, rigid_least)
    return _known(found, lambda known: settled_least(rotor, condition, known)[0])


def shapes_along(
    rotor: Rotor, condition: Condition, model: Coefficients, state: Contact, speed_squared: Floats
) -> Shapes:
    """Shapes with keys one by one where shims are uneven, at the height where the gap is narrowest.

    Derived in `keyed` and `rimmodel.behaviour.axial`.

    Parameters
    ----------
    speed_squared : array, rad2/s2

    Shims that are the same along the rim leave the shapes as they are:

    >>> import rimmodel as rm
    >>> from rimmodel.behaviour.contact.coefficients import coefficients
    >>> from rimmodel.behaviour.contact.state import contact
    >>> rotor, cold, still = rm.example_case().rotor, rm.example_case().conditions["cold"], floats([0.0])
    >>> model = coefficients(rotor, cold)
    >>> state = contact(model, still)
    >>> found = with_keys(rotor, cold, shapes(rotor, cold, model, state, still), still)
    >>> bool((shapes_along(rotor, cold, model, state, still).anywhere == found.anywhere).all())
    True
    """
    found = with_keys(rotor, condition, shapes(rotor, condition, model, state, speed_squared), speed_squared)
    if not rotor.differs_along(condition):
        return found
    more = found.anywhere + narrowest(rotor, condition, speed_squared)
    return Shapes(found.mean_gap, found.bore, found.faces, floats(more))


def settled_least(rotor: Rotor, condition: Condition, found: Shapes) -> tuple[LeastGap, Closure]:
    """Least gap over a turn of a rotor that its shaft lets follow the net pull; derived in `net_pull`.

    Returns
    -------
    LeastGap
        Fields (...).
    Closure
        Fields (..., turn): at each angle of the turn, the first where the rigid gap is least.

    Without a field the shaft does not matter:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> one = Shapes(floats(16e-3), np.zeros(1, complex), np.array([0.0, 0.3e-3 + 0j]), floats(0.0))
    >>> print(f"{1e3 * settled_least(case.rotor, case.conditions['cold'], one)[0].gap:.6f} mm")
    15.700000 mm
    """
    rigid = rigid_least(found)
    # what may lie anywhere: a shift of the rotor towards the least gap
    worst = -np.nan_to_num(found.anywhere) * np.exp(-1j * rigid.stator_angle)
    turn = (rigid.stator_angle - rigid.rotor_angle)[..., None] + 2.0 * np.pi * np.arange(TURN_POINTS) / TURN_POINTS
    spread = Shapes(floats(found.mean_gap)[..., None], found.bore[..., None, :], found.faces[..., None, :], floats(0.0))
    waves = waves_of_gap(spread, turn)
    if waves.shape[-1] < 2:
        waves = _padded(waves, 2)
    waves[..., 1] += worst[..., None]
    stiffness = rotor.assembly.shaft_stiffness
    stiff = floats(np.inf if stiffness is None else stiffness)
    part = pulled(rotor, condition, found, waves)
    field_ = PulledGap(
        waves,
        *(np.broadcast_to(one, rigid.gap.shape)[..., None] for one in (part.added, part.traction, part.face_area)),
    )
    closed = settled_centre(field_, np.broadcast_to(stiff, rigid.gap.shape)[..., None])
    moved = waves.copy()
    moved[..., 1] -= np.nan_to_num(closed.shift.conj())
    gap, place = lowest_point(moved)
    gap = gap + np.where(np.isnan(closed.shift.real), np.nan, 0.0)
    best = np.argmin(np.nan_to_num(gap, nan=-np.inf), axis=-1)[..., None]

    def at(values: Floats) -> Floats:
        return np.take_along_axis(values, best, axis=-1)[..., 0]

    lost = np.where(np.isnan(found.anywhere), np.nan, 0.0)
    stator = at(place)
    return LeastGap(at(gap) + lost, stator, (stator - at(turn)) % (2.0 * np.pi), closed.margin.min(axis=-1)), closed


def _known(found: Shapes, solve: Callable[[Shapes], LeastGap]) -> LeastGap:
    """The least gap where there is a state; NaN in the other rows, which no solver sees."""
    shape = np.broadcast_shapes(
        np.shape(found.mean_gap), np.shape(found.anywhere), found.bore.shape[:-1], found.faces.shape[:-1]
    )
    mean = np.broadcast_to(floats(found.mean_gap), shape)
    lost = np.isnan(mean) | np.isnan(found.anywhere) | np.isnan(found.faces).any(axis=-1)
    safe = Shapes(
        np.where(lost, 1.0, mean),
        np.broadcast_to(found.bore, (*shape, found.bore.shape[-1])),
        np.where(lost[..., None], 0.0, found.faces),
        np.where(lost, 0.0, found.anywhere),
    )
    best = solve(safe)
    none = np.where(lost, np.nan, 0.0)
    return LeastGap(best.gap + none, best.stator_angle + none, best.rotor_angle + none, best.margin + none)


def gap_map(found: Shapes, stator_angle: ArrayLike, rotor_angle: ArrayLike, shift: ArrayLike = 0.0) -> Floats:
    """Gap at places of the stator while places of the rotor stand there, as sensors read pole by pole; by definition.

    Parameters
    ----------
    stator_angle : array (sensor,), rad
    rotor_angle : array (pole,), rad
        In the turning frame.
    shift : complex array (...), m
        Of the rotor centre, x + i y on the stator.

    Returns
    -------
    array (..., sensor, pole), m
        Shape (...) as that of the shapes, such as speeds.

    >>> flat = Shapes(floats(16e-3), np.zeros(1, complex), np.array([0.0, 0.3e-3 + 0j]), floats(0.0))
    >>> print((gap_map(flat, [0.0, 1.0], [0.0, np.pi]) * 1e3).round(6))
    [[15.7 16.3]
     [15.7 16.3]]
    """
    bore, faces = floats(stator_angle), floats(rotor_angle)
    n, m = np.arange(found.bore.shape[-1]), np.arange(found.faces.shape[-1])
    out = (found.bore @ np.exp(1j * n[:, None] * bore)).real
    high = (found.faces @ np.exp(1j * m[:, None] * faces)).real
    moved = (np.asarray(shift, dtype=np.complex128)[..., None] * np.exp(-1j * bore)).real
    return floats(floats(found.mean_gap)[..., None, None] + (out - moved)[..., None] - high[..., None, :])
