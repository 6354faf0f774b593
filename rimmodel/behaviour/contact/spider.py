"""What the spider does by itself: it grows with speed, and deflects under the pressure of the rim."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from rimmodel.arrays import Floats, Numbers, floats
from rimmodel.elastic import Disc, Ring, RingEdges, ring_edges
from rimmodel.rotor import ArmSpider, DiscSpider, Rotor
from rimmodel.rotor.material import Material


@dataclass(frozen=True)
class SpiderResponse:
    """What a spider does per speed squared and per contact pressure.

    The hoop stresses are those at the bore of the disc or hub, at the centre of a solid disc; they are NaN where the
    spider has none that is known (arms on a rigid hub, a spider given by its stiffness). A profiled disc may carry
    far more elsewhere: `rimmodel.behaviour.limits.spider_stress`.

    Attributes
    ----------
    growth_per_speed_squared : array, m s2
        At the rim bore.
    compliance : array, m/Pa
        Inward.
    thermal_expansion : array, 1/K
    hoop_per_speed_squared : array, Pa s2
    hoop_per_pressure : array, -
    """

    growth_per_speed_squared: Floats
    compliance: Floats
    thermal_expansion: Floats
    hoop_per_speed_squared: Floats
    hoop_per_pressure: Floats


def spider_response(rotor: Rotor) -> SpiderResponse:
    """Growth and compliance of the spider, keys included, for a smeared contact pressure on the rim bore.

    Parameters
    ----------
    rotor : Rotor
        The contact pressure is smeared over rim bore circumference times rim length.

    Notes
    -----
    Disc: plane stress, of constant thickness or by elements along its profile, balance of line load
    ``p L = p_s t_s``. Arms: a rod under its own spin,
    ``rho w^2/(2E) [a^2 (a - r_h) - (a^3 - r_h^3)/3]``, its tip mass on arm and hub in series, and the hub under its
    own spin and the pull of the arms; ``C = 2 pi a L / (N k)`` (derived here; the rod is Timoshenko, Strength of
    Materials II, rotating bars). Given: ``C = 2 pi a L / K``. Keys in series: ``2 pi a L / (N_keys k_key)``.
    """
    spider = rotor.spider
    a, length = floats(rotor.rim.inner_radius), floats(rotor.rim.length)
    if isinstance(spider, DiscSpider):
        own = _disc(spider, a, length)
    elif isinstance(spider, ArmSpider):
        own = _arms(spider, a, length)
    else:
        nothing = floats(np.nan)
        own = SpiderResponse(
            floats(spider.growth) / floats(spider.growth_speed) ** 2,
            2 * np.pi * a * length / floats(spider.radial_stiffness),
            floats((spider.material or rotor.rim.material).thermal_expansion),
            nothing,
            nothing,
        )
    if rotor.key_count is None:
        return own
    keys = 2 * np.pi * a * length / (floats(rotor.key_count) * floats(rotor.fit.key_stiffness))
    return SpiderResponse(
        own.growth_per_speed_squared,
        own.compliance + keys,
        own.thermal_expansion,
        own.hoop_per_speed_squared,
        own.hoop_per_pressure,
    )


def spider_expansion(rotor: Rotor) -> Floats:
    """Thermal expansion of the spider, 1/K; that of the rim where its steel is not known.

    By definition of the case.

    Returns
    -------
    array, 1/K

    >>> import rimmodel as rm
    >>> float(spider_expansion(rm.example_case().rotor))
    1.2e-05
    """
    return floats((rotor.spider.material or rotor.rim.material).thermal_expansion)


def _disc(spider: DiscSpider, a: Floats, length: Floats) -> SpiderResponse:
    steel, bore_radius = spider.material, spider.inner_radius
    share = length / floats(spider.outer_thickness)  # disc pressure per contact pressure on the rim length
    if spider.profile is not None:
        known = (float(value) for value in (steel.young_modulus, steel.poisson_ratio, steel.density))
        found = _profile_response(spider.profile, *known)
        return SpiderResponse(
            floats(found.growth),
            found.compliance * share,
            floats(steel.thermal_expansion),
            floats(found.bore_hoop_by_spin),
            found.bore_hoop_by_pressure * share,
        )
    disc = Ring(bore_radius, a, steel.young_modulus, steel.poisson_ratio, steel.density)
    edges = ring_edges(disc)
    by_spin, by_traction = _bore_hoop(disc, edges)
    return SpiderResponse(
        edges.outer_displacement.speed_squared,
        edges.outer_displacement.traction * share,
        floats(steel.thermal_expansion),
        by_spin,
        -by_traction * share,
    )


def _bore_hoop(ring: Ring, edges: RingEdges) -> tuple[Floats, Floats]:
    """Hoop stress at the bore per speed squared and per traction outside; at the centre where there is no bore."""
    if np.all(np.asarray(ring.inner_radius) > 0):
        return edges.bore_hoop_stress.speed_squared, edges.bore_hoop_stress.traction
    at = ring.inner_radius
    return ring.state(at, speed=1.0).hoop_stress, ring.state(at, outer_traction=1.0).hoop_stress


@dataclass(frozen=True)
class _ProfileResponse:
    """Growth outside per speed squared, inward move there per pressure, and bore hoop stress per either."""

    growth: float
    compliance: float
    bore_hoop_by_spin: float
    bore_hoop_by_pressure: float


@cache
def _profile_response(
    profile: tuple[tuple[float, float], ...], young_modulus: float, poisson_ratio: float, density: float
) -> _ProfileResponse:
    """Solved once for a machine and kept, not once for every speed."""
    radii, thicknesses = zip(*profile, strict=True)
    disc = Disc(radii, thicknesses, young_modulus, poisson_ratio, density)
    places = [radii[0], radii[-1]]
    spin, pressed = disc.state(places, speed=1.0), disc.state(places, outer_traction=-1.0)
    return _ProfileResponse(
        float(spin.radial_displacement[1]),
        float(-pressed.radial_displacement[1]),
        float(spin.hoop_stress[0]),
        float(pressed.hoop_stress[0]),
    )


def _arms(spider: ArmSpider, a: Floats, length: Floats) -> SpiderResponse:
    steel, hub_radius = spider.material, floats(spider.hub_radius)
    modulus, density, area = (floats(value) for value in (steel.young_modulus, steel.density, spider.arm_area))
    arm_compliance = (a - hub_radius) / (modulus * area)
    rod = density / (2 * modulus) * (a**2 * (a - hub_radius) - (a**3 - hub_radius**3) / 3)
    tip_force = floats(spider.tip_mass) * a
    if spider.hub_bore_radius is None or spider.hub_length is None:
        hub = _Hub(floats(0.0), floats(0.0), floats(np.nan), floats(np.nan))
    else:
        hub = _hub(steel, spider.hub_bore_radius, hub_radius, floats(spider.hub_length), spider.count)
    arm_force = density * area * (a**2 - hub_radius**2) / 2 + tip_force
    per_arm = 2 * np.pi * a * length / floats(spider.count)  # force of one arm per contact pressure
    return SpiderResponse(
        rod + tip_force * arm_compliance + hub.growth + arm_force * hub.compliance,
        per_arm * (arm_compliance + hub.compliance),
        floats(steel.thermal_expansion),
        hub.own_hoop + arm_force * hub.hoop_per_force,
        -per_arm * hub.hoop_per_force,
    )


@dataclass(frozen=True)
class _Hub:
    """Growth per speed squared, growth per arm force, and hoop stress at its bore per either."""

    growth: Floats
    compliance: Floats
    own_hoop: Floats
    hoop_per_force: Floats


def _hub(steel: Material, bore_radius: Numbers, radius: Floats, length: Floats, count: Numbers) -> _Hub:
    ring = Ring(bore_radius, radius, steel.young_modulus, steel.poisson_ratio, steel.density)
    edges = ring_edges(ring)
    smeared = floats(count) / (2 * np.pi * radius * length)  # traction per arm force
    by_spin, by_traction = _bore_hoop(ring, edges)
    return _Hub(
        edges.outer_displacement.speed_squared,
        edges.outer_displacement.traction * smeared,
        by_spin,
        by_traction * smeared,
    )
