"""The largest equivalent stress anywhere in the disc or hub of a spider, not at its bore alone."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.contact.sweep import Sweep
from rimmodel.elastic import Disc, Ring
from rimmodel.rotor import ArmSpider, DiscSpider, Rotor

_PLACES = 65
"""Radii at which a disc or hub of constant thickness is looked at; its largest is at an edge as a rule."""


@dataclass(frozen=True)
class PeakStress:
    """Largest equivalent stress over the radius, arrays of one shape; NaN where the spider has no known stress.

    Attributes
    ----------
    equivalent_stress : array, Pa
        By Tresca: the largest difference of two of the hoop, the radial and the axial stress, which is zero.
    radius : array, m
        Where it stands.
    """

    equivalent_stress: Floats
    radius: Floats


def spider_peak_stress(rotor: Rotor, state: Sweep) -> PeakStress:
    """Largest equivalent stress in the disc or hub in a state, with both sides of every step in thickness.

    A profiled disc is weakest where a thick part meets a thin part: at the root of the web rather than at the bore.
    Plane stress, without the notch of the fillet. Source: `rimmodel.elastic.Disc` and `rimmodel.elastic.Ring`.

    A solid disc at rest carries the pressure of the rim on it everywhere, here p L/t:

    >>> import rimmodel as rm
    >>> from dataclasses import replace
    >>> case = rm.example_case()
    >>> steel = case.rotor.rim.material
    >>> rotor = replace(case.rotor, spider=rm.rotor.DiscSpider(steel, 0.0, 0.925))  # half as thick as the rim is long
    >>> still = rm.sweep(rotor, case.conditions["cold"], 0.0)
    >>> print(f"{spider_peak_stress(rotor, still).equivalent_stress / still.contact_pressure:.3f}")
    2.000
    """
    spider = rotor.spider
    squared, pressure = floats(state.speed)[..., None] ** 2, floats(state.contact_pressure)[..., None]
    if isinstance(spider, DiscSpider):
        on_disc = pressure * (floats(rotor.rim.length) / floats(spider.outer_thickness))[..., None]
        if spider.profile is not None:
            steel = (spider.material.young_modulus, spider.material.poisson_ratio, spider.material.density)
            radius, (spin, pressed) = _profile_fields(spider.profile, *(float(value) for value in steel))
            stresses = (spin[0] * squared - pressed[0] * on_disc, spin[1] * squared - pressed[1] * on_disc)
            return _largest(radius, *stresses)
        ring = _ring(spider, spider.inner_radius, rotor.rim.inner_radius)
        return _of_ring(ring, state.speed, -on_disc)
    if isinstance(spider, ArmSpider) and spider.hub_bore_radius is not None:
        return _of_ring(_ring(spider, spider.hub_bore_radius, spider.hub_radius), state.speed, _arm_pull(rotor, state))
    nothing = np.full(np.shape(state.speed), np.nan)
    return PeakStress(nothing, nothing)


def _ring(spider: DiscSpider | ArmSpider, inner: object, outer: object) -> Ring:
    steel = spider.material
    values = (inner, outer, steel.young_modulus, steel.poisson_ratio, steel.density)
    return Ring(*(floats(value)[..., None] for value in values))  # type: ignore[arg-type]


def _arm_pull(rotor: Rotor, state: Sweep) -> Floats:
    """Traction of the arms on the hub, smeared, with one more axis at the end."""
    arms, rim = rotor.spider, rotor.rim
    if not isinstance(arms, ArmSpider) or arms.hub_length is None:
        raise TypeError("a hub with a length is needed")
    a, root = floats(rim.inner_radius), floats(arms.hub_radius)
    own = floats(arms.material.density) * floats(arms.arm_area) * (a**2 - root**2) / 2 + floats(arms.tip_mass) * a
    force = floats(arms.count) * own * state.speed**2 - state.contact_pressure * 2 * np.pi * a * floats(rim.length)
    return floats(force / (2 * np.pi * root * floats(arms.hub_length)))[..., None]


def _of_ring(ring: Ring, speed: Floats, traction: Floats) -> PeakStress:
    inner, outer = floats(ring.inner_radius), floats(ring.outer_radius)
    radius = inner + (outer - inner) * np.linspace(0.0, 1.0, _PLACES)
    found = ring.state(radius, floats(speed)[..., None], outer_traction=traction)
    return _largest(radius, found.radial_stress, found.hoop_stress)


def _largest(radius: Floats, radial: Floats, hoop: Floats) -> PeakStress:
    """Largest equivalent stress along the last axis."""
    size = np.maximum(np.maximum(np.abs(hoop), np.abs(radial)), np.abs(hoop - radial))
    place = np.argmax(np.where(np.isnan(size), -np.inf, size), axis=-1)[..., None]
    value = np.take_along_axis(size, place, axis=-1)[..., 0]
    where = np.take_along_axis(np.broadcast_to(radius, size.shape), place, axis=-1)[..., 0]
    return PeakStress(floats(value), floats(where))


@cache
def _profile_fields(
    profile: tuple[tuple[float, float], ...], young_modulus: float, poisson_ratio: float, density: float
) -> tuple[Floats, tuple[tuple[Floats, Floats], tuple[Floats, Floats]]]:
    """Radii, and radial and hoop stress there per speed squared and per traction outside; solved once a machine."""
    radii, thicknesses = zip(*profile, strict=True)
    disc = Disc(radii, thicknesses, young_modulus, poisson_ratio, density)
    radius, spin = disc.along_radius(speed=1.0)
    _, pulled = disc.along_radius(outer_traction=1.0)
    return radius, ((spin.radial_stress, spin.hoop_stress), (pulled.radial_stress, pulled.hoop_stress))
