"""What an overspeed beyond yield leaves: the bore of the rim grows for good, and with it interference is lost."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from rimmodel.arrays import floats
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.behaviour.contact.speeds import CharacteristicSpeed, first_yield, float_speed
from rimmodel.behaviour.contact.state import contact
from rimmodel.elastic.overspeed import permanent_growth
from rimmodel.rotor import Condition, Rotor
from rimmodel.units import mm, mpa, rpm


@dataclass(frozen=True)
class Aftermath:
    """What is left after an overspeed; lengths are radial.

    Attributes
    ----------
    bore_growth, outer_growth : float, m
        Stay for good.
    interference : float, m
        That the assembled fit then has.
    float_speed : CharacteristicSpeed
        With that interference, in the condition asked for.
    note : str
        How the rim came down.
    """

    bore_growth: float
    outer_growth: float
    interference: float
    float_speed: CharacteristicSpeed
    note: str


def after_overspeed(
    rotor: Rotor, overspeed_in: Condition, speed: float, asked_in: Condition | None = None
) -> Aftermath:
    """Interference and float speed that are left after an overspeed.

    Parameters
    ----------
    rotor : Rotor
        One machine, whose rim has a yield strength.
    overspeed_in : Condition
        In which the overspeed happens.
    speed : float, rad/s
    asked_in : Condition, optional
        For which the float speed is wanted; `overspeed_in` when None.

    Raises
    ------
    ValueError
        No yield strength; a speed above the fully plastic one; a rim that yields while it is still seated, for which
        this has no answer; a gap closed by the pull at that speed.

    Notes
    -----
    The rim is taken as yielding on its net section all over (yield strength times stacking and net section factor on
    the gross ring), perfectly plastic after Tresca: more growth than a real rim keeps, whose holes yield locally
    first. Traction holds poles and pull at that speed. Derived here, on `rimmodel.elastic.permanent_growth`.

    The invented unit does not yield at runaway, and keeps all of its interference:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> cold = case.conditions["cold"]
    >>> left = after_overspeed(case.rotor, cold, case.rotor.speeds.runaway)
    >>> left.bore_growth, left.interference == case.rotor.fit.interference
    (0.0, True)
    """
    if not (np.isfinite(speed) and speed >= 0):
        raise ValueError(f"speed is {speed:g} rad/s; it must be zero or above, and finite")
    yields = first_yield(rotor, overspeed_in)
    asked = overspeed_in if asked_in is None else asked_in
    model = coefficients(rotor, overspeed_in)
    state = contact(model, floats(speed) ** 2)
    if np.isnan(state.air_gap):
        raise ValueError(f"speed is {rpm(speed)}; the magnetic pull has closed the gap there")
    if speed <= float(yields.speed):
        kept = float(rotor.fit.interference)
        words = f"no yield at {rpm(speed)}: {yields.note}"
        return Aftermath(0.0, 0.0, kept, float_speed(rotor, asked), words)
    if state.contact_pressure > 0:
        raise ValueError(
            f"speed is {rpm(speed)}; the rim yields there while it is still seated (contact pressure "
            f"{mpa(state.contact_pressure, '.2f')}), which the free plastic ring does not describe"
        )
    strength = float(rotor.rim.material.yield_strength or 0.0) * float(rotor.rim.net_factor)
    traction = float(model.pole_traction) + float(state.pull) / speed**2
    growth = permanent_growth(rotor.rim.ring, strength, speed, traction)
    bore, outer = float(growth.bore), float(growth.outer)
    left = float(rotor.fit.interference) - bore
    note = f"bore {mm(bore, '.3f')} larger for good after {rpm(speed)}; the rim {growth.note}"
    grown = replace(rotor.fit, stack_growth=float(rotor.fit.stack_growth) + bore)
    return Aftermath(bore, outer, left, float_speed(replace(rotor, fit=grown), asked), note)
