"""Checks of the rim: stress on the net section at every named speed, burst, and what holds the poles."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.contact.coefficients import loads
from rimmodel.behaviour.contact.sweep import Sweep, Sweeps
from rimmodel.behaviour.limits.check import About, Check, at_least, at_most, unknown
from rimmodel.elastic.burst import burst_speed_ratio, mean_hoop_stress
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.allowances import Limits
from rimmodel.units import with_unit

NO_YIELD = "materials.NAME.yield_strength of the rim"
NO_ULTIMATE = "materials.NAME.ultimate_strength of the rim"


def rim_checks(
    rotor: Rotor, condition: Condition, name: str, limits: Limits, sweeps: Sweeps | None = None
) -> Iterator[Check]:
    """Every check of the rim in one condition; `sweeps` of the rotor in it serve where they exist already.

    Notes
    -----
    Hoop stress of the bore, where a ring that is not stiffer in the hoop direction has its peak, on the net section;
    equivalent by Tresca: hoop stress plus contact pressure. The peak takes the concentration factor of the case
    (Peterson, Stress Concentration Factors, for its size; from memory). Mean hoop stress and burst speed: Robinson.
    """
    at_speed = (Sweeps(rotor, condition) if sweeps is None else sweeps).at
    states = {at: at_speed(speed) for at, speed in rotor.speeds.from_standstill.items()}
    for at, state in states.items():
        yield from _stresses(rotor, state, at, name, limits)
        if np.any(condition.rim_temperature_rise):
            yield _outside(rotor, state, at, name, limits)
    fastest = rotor.speeds.highest_name
    yield _burst(rotor, condition, states[fastest], fastest, name, limits)
    yield _pole_attachment(rotor, states[fastest], fastest, name, limits)


def _stresses(rotor: Rotor, state: Sweep, at: str, name: str, limits: Limits) -> Iterator[Check]:
    key = f"{at}_share_of_yield"
    about = About(at, name, limits.source(key), f"limits.{key}")
    local = About(at, name, limits.source("peak_share_of_yield"), "limits.peak_share_of_yield")
    rows = ("rim bore hoop stress, net section", "rim bore equivalent stress, net section")
    peak_row = "rim local peak stress"
    strength, factor = rotor.rim.material.yield_strength, rotor.rim.stress_concentration_factor
    if strength is None:
        yield from (unknown(row, about, NO_YIELD) for row in rows)
        yield unknown(peak_row, local, NO_YIELD)
        return
    hoop = state.rim_bore_hoop_stress / rotor.rim.net_factor
    allowed = floats(limits.share_of_yield(at)) * floats(strength)
    yield at_most(rows[0], about, hoop, allowed)
    yield at_most(rows[1], about, hoop + state.contact_pressure / rotor.rim.net_factor, allowed, note="Tresca")
    if factor is None:
        yield unknown(peak_row, local, "rim.stress_concentration_factor")
        return
    peak = floats(factor) * hoop
    note = f"{float(np.mean(floats(factor))):g} x the net hoop stress of the bore; the factor is the user's"
    yield at_most(peak_row, local, peak, floats(limits.peak_share_of_yield) * floats(strength), note=note)


def _outside(rotor: Rotor, state: Sweep, at: str, name: str, limits: Limits) -> Check:
    """Hoop stress outside, which may be the larger where the outside of the rim is colder than its bore."""
    row, key = "rim outside hoop stress, net section", f"{at}_share_of_yield"
    about = About(at, name, limits.source(key), f"limits.{key}")
    strength = rotor.rim.material.yield_strength
    if strength is None:
        return unknown(row, about, NO_YIELD)
    allowed = floats(limits.share_of_yield(at)) * floats(strength)
    hoop = state.rim_outer_hoop_stress / rotor.rim.net_factor
    return at_most(row, about, hoop, allowed, note="with the stress of the temperature through the rim")


def _burst(rotor: Rotor, condition: Condition, state: Sweep, at: str, name: str, limits: Limits) -> Check:
    row = "burst speed over highest speed"
    source = f"{limits.source('burst_speed_ratio')}; strength: {limits.source('burst_share_of_ultimate')}"
    about = About(at, name, source, "limits.burst_speed_ratio")
    ultimate = rotor.rim.material.ultimate_strength
    if ultimate is None:
        return unknown(row, about, NO_ULTIMATE, "", ceiling=False)
    mean = rim_mean_hoop_stress(rotor, condition, state) / rotor.rim.net_factor
    ratio = np.where(np.isnan(mean), np.nan, burst_speed_ratio(
        np.where(np.isnan(mean), 1.0, mean), floats(ultimate), floats(limits.burst_share_of_ultimate)
    ))  # fmt: skip
    return at_least(row, about, ratio, limits.burst_speed_ratio, note="mean hoop stress on the net section")


def rim_mean_hoop_stress(rotor: Rotor, condition: Condition, state: Sweep) -> Floats:
    """Mean gross hoop stress of the rim in a state, with poles, pull and contact pressure.

    Source: `rimmodel.elastic.mean_hoop_stress`.

    Returns
    -------
    array, Pa

    At standstill the contact pressure alone, over (b - a)/a = 0.44/3.62:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> still = rm.sweep(case.rotor, case.conditions["cold"], 0.0)
    >>> stress = rim_mean_hoop_stress(case.rotor, case.conditions["cold"], still)
    >>> print(f"{stress / still.contact_pressure:.3f}")
    8.227
    """
    traction = loads(rotor, condition).traction * state.speed**2 + state.magnetic_pull
    return mean_hoop_stress(rotor.rim.ring, state.speed, state.contact_pressure, traction)


def pole_force(rotor: Rotor, state: Sweep) -> Floats:
    """Force that holds one pole in a state: its own centrifugal force and the mean pull of the field; by definition.

    Returns
    -------
    array, N

    3700 kg at 4.32 m and 10 rad/s without field: 1.598 MN.

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> print(f"{pole_force(case.rotor, rm.sweep(case.rotor, case.conditions['cold'], 10.0)) / 1e6:.3f}")
    1.598
    """
    poles, rim = rotor.poles, rotor.rim
    spin = floats(poles.mass) * floats(poles.mass_radius) * state.speed**2
    pull = state.magnetic_pull * 2 * np.pi * floats(rim.slot_bottom_radius) * floats(rim.length) / floats(poles.count)
    return spin + pull


def _pole_attachment(rotor: Rotor, state: Sweep, at: str, name: str, limits: Limits) -> Check:
    row = "pole attachment stress"
    key = f"{at}_share_of_yield"
    about = About(at, name, limits.source(key), f"limits.{key}")
    force = pole_force(rotor, state)
    note = f"force on one pole {with_unit(np.nanmax(force), 'force')}" if np.isfinite(force).any() else ""
    area, strength = rotor.poles.attachment_area, rotor.rim.material.yield_strength
    if area is None or strength is None:
        return unknown(row, about, "poles.attachment_area" if area is None else NO_YIELD, note=note)
    note += "; mean over its section, concentration at the roots apart"
    allowed = floats(limits.share_of_yield(at)) * floats(strength)
    return at_most(row, about, force / floats(area), allowed, note=note)
