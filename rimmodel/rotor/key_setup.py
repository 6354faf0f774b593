"""What the keys of a rotor need to be followed one by one: the rule for the case file and for the solver alike."""

from __future__ import annotations

from math import pi

from rimmodel.elastic.key_compliance import NARROWEST_KEY
from rimmodel.rotor.rotor import Rotor
from rimmodel.rotor.shrink_fit import ShrinkFit
from rimmodel.units import mm


def guide_fault(fit: ShrinkFit) -> str | None:
    """What is wrong with tangential guides without play, or None."""
    if fit.tangential_clearance == 0.0 and not fit.guide_stiffness:
        return (
            "fit.tangential_clearance is 0 m and fit.guide_stiffness 0 N/m: guides without play need a stiffness; "
            "give it, or leave out the clearance if there are no guides"
        )
    return None


def key_setup_faults(rotor: Rotor) -> list[str]:
    """What keeps a rotor from being followed key by key, apart from keys that it does not describe.

    Parameters
    ----------
    rotor : Rotor
        Of scalar fields.
    """
    wrong = guide_fault(rotor.fit)
    faults = [] if wrong is None else [wrong]
    width, count, bore = rotor.fit.key_width, rotor.key_count, float(rotor.rim.inner_radius)
    if width is None:
        return faults
    if float(width) < NARROWEST_KEY * bore:
        faults.append(
            f"fit.key_width is {mm(width, 'g')}; it must be at least {NARROWEST_KEY:g} of the bore radius, "
            f"{mm(NARROWEST_KEY * bore, 'g')}: the local dent of a knife edge is not modelled"
        )
    if count is not None and float(width) * float(count) > 2 * pi * bore:
        faults.append(
            f"fit.key_width is {float(width):g} m; {float(count):g} keys of that width do not fit around the rim bore, "
            f"{2 * pi * bore:.4g} m"
        )
    return faults
