"""Checks of what carries the rim: hub or disc, arms in compression, keys, and the torque that friction carries."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.contact.spider import spider_response
from rimmodel.behaviour.contact.sweep import Sweep, Sweeps
from rimmodel.behaviour.limits.check import About, Check, at_least, at_most, unknown
from rimmodel.behaviour.limits.spider_stress import PeakStress, spider_peak_stress
from rimmodel.rotor import ArmSpider, Condition, DiscSpider, Rotor
from rimmodel.rotor.allowances import Limits, Torque

NO_YIELD = "materials.NAME.yield_strength of the spider"


def spider_checks(
    rotor: Rotor,
    condition: Condition,
    name: str,
    limits: Limits,
    torque: Torque | None,
    carrier: Rotor | None = None,
    sweeps: Sweeps | None = None,
) -> Iterator[Check]:
    """Every check of spider, keys and torque in one condition.

    `carrier` holds the spider and the keys as built where `rotor` knows their stiffness alone, as after a fit: the
    contact pressure is then that of `rotor`, and the stress is what this pressure does to the parts of `carrier`.
    `sweeps` of `rotor` in the condition serve where they exist already.

    Notes
    -----
    One arm carries ``p 2 pi a L / N`` inward and its own spin outward. Euler load ``pi^2 E I / (K l)^2``: Timoshenko &
    Gere, Theory of Elastic Stability, ch. 2 (from memory). Friction carries ``mu p 2 pi a L a`` while seated.
    """
    at_speed = (Sweeps(rotor, condition) if sweeps is None else sweeps).at
    states = {at: at_speed(speed) for at, speed in rotor.speeds.from_standstill.items()}
    if carrier is not None:
        states = {at: spider_under(carrier, state) for at, state in states.items()}
        rotor = carrier
    for at, state in states.items():
        yield from _hub_or_disc(rotor, state, at, name, limits)
        if isinstance(rotor.spider, ArmSpider):
            yield _arm_stress(rotor, rotor.spider, state, at, name, limits)
    if isinstance(rotor.spider, ArmSpider):
        yield _buckling(rotor, rotor.spider, states["standstill"], name, limits)
    yield _key_bearing(rotor, states["standstill"], name, limits)
    yield from _friction(rotor, states["rated"], name, limits, torque)


def spider_under(carrier: Rotor, state: Sweep) -> Sweep:
    """A state with the hoop stress that its speed and contact pressure put into another spider.

    By definition of `spider_response`.

    Parameters
    ----------
    carrier : Rotor
        Whose spider it is.

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> still = rm.sweep(case.rotor, case.conditions["cold"], 0.0)
    >>> bool(np.isnan(spider_under(case.rotor, still).spider_hoop_stress))  # arms on a rigid hub have none
    True
    """
    response = spider_response(carrier)
    hoop = response.hoop_per_speed_squared * state.speed**2 + response.hoop_per_pressure * state.contact_pressure
    return replace(state, spider_hoop_stress=np.broadcast_to(hoop, state.contact_pressure.shape))


def contact_force(rotor: Rotor, state: Sweep) -> Floats:
    """Sum of all radial forces between rim and spider, by definition p 2 pi a L.

    Returns
    -------
    array, N

    Over the bore of the example, 2 pi x 3.62 m x 1.85 m:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> still = rm.sweep(case.rotor, case.conditions["cold"], 0.0)
    >>> print(f"{contact_force(case.rotor, still) / still.contact_pressure:.2f} m2")
    42.08 m2
    """
    force: Floats = state.contact_pressure * 2 * np.pi * floats(rotor.rim.inner_radius) * floats(rotor.rim.length)
    return force


def _hub_or_disc(rotor: Rotor, state: Sweep, at: str, name: str, limits: Limits) -> Iterator[Check]:
    rows, key = ("spider hoop stress at its bore", "spider largest equivalent stress"), f"{at}_share_of_yield"
    about = About(at, name, limits.source(key), f"limits.{key}")
    hoop = np.abs(state.spider_hoop_stress)
    if np.isnan(hoop).all() and not np.isnan(state.contact_pressure).all():
        if isinstance(rotor.spider, ArmSpider):
            yield from (unknown(row, about, "spider.hub_bore_radius and hub_length") for row in rows)
        return
    strength = None if rotor.spider.material is None else rotor.spider.material.yield_strength
    if strength is None:
        yield from (unknown(row, about, NO_YIELD) for row in rows)
        return
    allowed = floats(limits.share_of_yield(at)) * floats(strength)
    yield at_most(rows[0], about, hoop, allowed, note="size, either sign")
    peak = spider_peak_stress(rotor, state)
    yield at_most(rows[1], about, peak.equivalent_stress, allowed, note=_where(rotor, peak))


def _where(rotor: Rotor, peak: PeakStress) -> str:
    """Check and place of the largest stress, for one rotor; without the fillet, which a step does not know."""
    if peak.radius.shape or np.isnan(peak.equivalent_stress):
        return "Tresca, over the whole radius"
    words = f"Tresca, at a radius of {float(peak.radius):.3f} m"
    spider = rotor.spider
    if isinstance(spider, DiscSpider) and spider.profile is not None:
        radii = np.array([row[0] for row in spider.profile])
        steps = radii[1:][np.diff(radii) == 0]
        if np.any(np.abs(steps - float(peak.radius)) < 1e-9 * radii[-1]):
            words += ", at a step in thickness; concentration at its fillet apart"
    return words


def arm_stresses(rotor: Rotor, arms: ArmSpider, state: Sweep) -> tuple[Floats, Floats]:
    """Stress at the root and at the tip of an arm: its own spin and tip mass less the rim's pressure.

    Derived here.

    Returns
    -------
    root, tip : array, Pa
        + tension.

    A loose rim at 10 rad/s leaves the tip mass, 180 kg x 3.62 m x 100 /s2 over 0.058 m2 = 1.12 MPa, and at the root
    the arm besides, 7850 x 100 x (3.62^2 - 1.25^2)/2 = 4.53 MPa more:

    >>> import rimmodel as rm
    >>> rotor = rm.example_case().rotor
    >>> state = rm.sweep(rotor.with_interference(0.0), rm.example_case().conditions["cold"], 10.0)
    >>> root, tip = arm_stresses(rotor, rotor.spider, state)
    >>> print(f"{root / 1e6:.2f} {tip / 1e6:.2f}")
    5.65 1.12
    """
    a, root, area = floats(rotor.rim.inner_radius), floats(arms.hub_radius), floats(arms.arm_area)
    squared = state.speed**2
    pressed = contact_force(rotor, state) / floats(arms.count)
    tip = (floats(arms.tip_mass) * a * squared - pressed) / area
    own = floats(arms.material.density) * squared * (a**2 - root**2) / 2
    return tip + own, tip


def _arm_stress(rotor: Rotor, arms: ArmSpider, state: Sweep, at: str, name: str, limits: Limits) -> Check:
    row, key = "arm stress", "arm_share_of_yield"
    about = About(at, name, limits.source(key), f"limits.{key}")
    if arms.material.yield_strength is None:
        return unknown(row, about, NO_YIELD)
    root, tip = arm_stresses(rotor, arms, state)
    allowed = floats(getattr(limits, key)) * floats(arms.material.yield_strength)
    note = "larger size of root and tip, bending apart"
    return at_most(row, about, np.maximum(np.abs(root), np.abs(tip)), allowed, note=note)


def _buckling(rotor: Rotor, arms: ArmSpider, state: Sweep, name: str, limits: Limits) -> Check:
    row = "buckling load over arm force"
    source = f"{limits.source('buckling_ratio')}; ends: {limits.source('arm_effective_length')}"
    about = About("standstill", name, source, "limits.buckling_ratio")
    if arms.arm_second_moment is None:
        return unknown(row, about, "spider.arm_second_moment", "", ceiling=False)
    length = floats(limits.arm_effective_length) * (floats(rotor.rim.inner_radius) - floats(arms.hub_radius))
    euler = np.pi**2 * floats(arms.material.young_modulus) * floats(arms.arm_second_moment) / length**2
    force = contact_force(rotor, state) / floats(arms.count)
    with np.errstate(divide="ignore"):
        ratio = euler / force  # an arm without force never buckles: infinite
    return at_least(row, about, ratio, limits.buckling_ratio, note="Euler load about the weak axis")


def _key_bearing(rotor: Rotor, state: Sweep, name: str, limits: Limits) -> Check:
    row, key = "key bearing pressure", "key_bearing_share_of_yield"
    about = About("standstill", name, limits.source(key), f"limits.{key}")
    width, spider = rotor.fit.key_width, rotor.spider.material
    known = [part.yield_strength for part in (rotor.rim.material, spider) if part and part.yield_strength is not None]
    if width is None or rotor.key_count is None:
        return unknown(row, about, "fit.key_width" if width is None else "fit.key_count")
    if not known:
        return unknown(row, about, "materials.NAME.yield_strength")
    bearing = contact_force(rotor, state) / (
        floats(rotor.key_count) * floats(width) * floats(rotor.rim.length) * floats(rotor.rim.stacking_factor)
    )
    lower = np.min(np.stack(np.broadcast_arrays(*map(floats, known))), axis=0)
    return at_most(row, about, bearing, floats(getattr(limits, key)) * lower, note="mean key, even over the length")


def _friction(rotor: Rotor, state: Sweep, name: str, limits: Limits, torque: Torque | None) -> Iterator[Check]:
    alone = torque is not None and torque.carried_by == "friction"
    reason = "" if alone else "tangential keys carry the torque that friction does not"
    about = About("rated", name, limits.source("torque_ratio"), "limits.torque_ratio", reason)
    for load in ("rated", "fault"):
        row, asked = f"torque carried by friction, against {load} torque", getattr(torque, load, None)
        if torque is None or asked is None:
            yield unknown(row, about, f"torque.{load}", "torque", ceiling=False)
            continue
        carried = friction_torque(rotor, state, torque.friction_coefficient)
        yield at_least(row, about, carried, floats(limits.torque_ratio) * floats(asked), "torque")


def friction_torque(rotor: Rotor, state: Sweep, friction_coefficient: ArrayLike) -> Floats:
    """Torque that friction at the rim bore carries at most, by definition mu F a; nothing once the rim floats.

    Parameters
    ----------
    friction_coefficient : float or array, -

    Returns
    -------
    array, N m

    A tenth of the contact force at 3.62 m:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> still = rm.sweep(case.rotor, case.conditions["cold"], 0.0)
    >>> print(f"{friction_torque(case.rotor, still, 0.1) / contact_force(case.rotor, still):.3f} m")
    0.362 m
    """
    torque: Floats = floats(friction_coefficient) * contact_force(rotor, state) * floats(rotor.rim.inner_radius)
    return torque
