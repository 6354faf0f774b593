"""Seated or floating: the rim on its spider at any speed, with the pull of the field solved, not frozen.

At a given mean pull on the rim everything is linear in speed squared: the interference that is left, the contact
pressure while it is positive, and the air gap; `rimmodel.behaviour.contact.coefficients` holds those lines. The pull
itself follows from the gap, and `solve_gap` closes that loop in closed form.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats
from rimmodel.behaviour.contact.coefficients import Coefficients, GapLine
from rimmodel.elastic import EdgeLoads


def solve_gap(
    line: GapLine, model: Coefficients, speed_squared: Floats, inner_root: NDArray[np.bool_] | bool = False
) -> tuple[Floats, Floats]:
    """Gap and pull on the rim outside that agree with each other on one line.

    At constant current the pull is K/g^2, so ``g = G - c K/g^2``: with h = g/G the cubic ``h^3 - h^2 + kappa = 0``,
    kappa = c K/G^3, whose largest root is stable. It exists up to kappa = 4/27, where h = 2/3; beyond that
    the pull closes the gap, and both results are NaN. Derived here.

    Parameters
    ----------
    speed_squared : array, rad2/s2
    inner_root : bool array or bool
        Asks for the next smaller root instead.

    Returns
    -------
    gap : array, m
    pull : array, Pa

    Without a field the gap is that of the line:

    >>> import rimmodel as rm
    >>> from rimmodel.behaviour.contact.coefficients import coefficients
    >>> model = coefficients(rm.example_case().rotor, rm.example_case().conditions["cold"])
    >>> line = GapLine(np.asarray(10e-3), np.asarray(1e-5), np.asarray(0.0))
    >>> print(f"{solve_gap(line, model, np.asarray(100.0))[0] * 1e3:.3f} mm")
    9.000 mm
    """
    unpulled = line.at_rest - line.per_speed_squared * speed_squared
    if not model.cold_pull.any():
        return unpulled, np.zeros_like(unpulled)
    if not model.constant_current:
        pull = model.cold_pull + np.zeros_like(unpulled)
        return unpulled - line.per_traction * pull, pull
    gap = pulled_gap(unpulled, line.per_traction * model.pull_constant, inner_root)
    return gap, model.pull_constant / gap**2


def pulled_gap(unpulled: Floats, softening: Floats, inner_root: NDArray[np.bool_] | bool = False) -> Floats:
    """Stable root of ``g = unpulled - softening/g^2``, NaN where there is none; or the root next to it.

    By the trigonometric solution of the cubic of `solve_gap`; derived here.

    Parameters
    ----------
    unpulled : array, m
    softening : array, m3
    inner_root : bool array or bool
        Asks for the next smaller root instead.

    Returns
    -------
    array, m

    At 0.8 m the pull takes 0.128/0.8^2 = 0.2 m of 1 m:

    >>> print(f"{pulled_gap(np.asarray(1.0), np.asarray(0.128)):.6f}")
    0.800000
    """
    open_gap = np.where(unpulled > 0, unpulled, np.nan)
    angle = 1 - 13.5 * softening / (open_gap * open_gap * open_gap)  # a power takes forty times as long
    turn = np.where(inner_root, 2 * np.pi, 0.0)
    with np.errstate(invalid="ignore"):
        share: Floats = np.cos((np.arccos(np.where(angle >= -1, np.minimum(angle, 1.0), np.nan)) - turn) / 3)
        if (angle > 1).any():
            share = np.where(angle > 1, np.cosh(np.arccosh(np.maximum(angle, 1.0)) / 3), share)
    # a rotor without field keeps its gap, even a closed one, beside others that are pulled
    gap: Floats = np.where(softening == 0, unpulled, open_gap * (1 + 2 * share) / 3)
    return gap


@dataclass(frozen=True)
class Contact:
    """State of the fit; all NaN where the pull has closed the gap and no state exists.

    Attributes
    ----------
    air_gap : array, m
    pull : array, Pa
        On the rim outside.
    residual_interference : array, m
        Below zero it is a clearance.
    contact_pressure : array, Pa
        Zero where the rim floats.
    """

    air_gap: Floats
    pull: Floats
    residual_interference: Floats
    contact_pressure: Floats


def contact(model: Coefficients, speed_squared: Floats) -> Contact:
    """Seated where the seated solution leaves interference, floating elsewhere.

    Parameters
    ----------
    speed_squared : array, rad2/s2
        Broadcasts with the model.
    """
    gap, pull = solve_gap(model.seated, model, speed_squared)
    shut = np.isnan(gap)
    left = model.interference(speed_squared, pull)
    loose = ~(left >= 0)
    if loose.any():
        free_gap, free_pull = solve_gap(model.floating, model, speed_squared)
        gap, pull = np.where(loose, free_gap, gap), np.where(loose, free_pull, pull)
        left = model.interference(speed_squared, pull)
    # a floating root with interference left belongs to no state: the seated rim was pulled shut before
    gap, pull, left = (np.where(shut & (left > 0), np.nan, value) for value in (gap, pull, left))
    return Contact(gap, pull, left, np.maximum(left, 0.0) / model.compliance)


def lift_off_speed_squared(model: Coefficients) -> tuple[Floats, Floats]:
    """Speed squared at which the seated rim has no interference left, and the pull there; not clipped to real speeds.

    Below zero the rim is loose at standstill; NaN where the pull closes the gap first. Where `net_growth` is not
    positive only the growing pull can lift the rim: NaN or not above zero where it does not. Derived here.

    Returns
    -------
    speed_squared : array, rad2/s2
    pull : array, Pa

    Without a field it is interference over net growth:

    >>> import rimmodel as rm
    >>> from rimmodel.behaviour.contact.coefficients import coefficients
    >>> model = coefficients(rm.example_case().rotor, rm.example_case().conditions["cold"])
    >>> print(f"{lift_off_speed_squared(model)[0] * model.net_growth * 1e3:.3f} mm")
    2.100 mm
    """
    return speed_squared_of(model.seated, model, model.at_rest, model.net_growth, model.bore_per_traction)


def speed_squared_of(
    line: GapLine, model: Coefficients, at_rest: Floats, per_speed_squared: Floats, per_traction: Floats
) -> tuple[Floats, Floats]:
    """Speed squared x at which ``at_rest - per_speed_squared x - per_traction q`` falls to zero, and the pull q there.

    Eliminating x leaves the gap that agrees with its own pull, as in `solve_gap`; derived here.
    NaN where the pull leaves no stable gap on the line (2 c q > g) before.

    Parameters
    ----------
    line : GapLine
        The gap in that state.
    at_rest : array, m
    per_speed_squared : array, m s2
    per_traction : array, m/Pa

    Returns
    -------
    speed_squared : array, rad2/s2
    pull : array, Pa

    Without a field 2 mm at 0.005 mm per (rad/s)^2 are gone at 400:

    >>> import rimmodel as rm
    >>> from rimmodel.behaviour.contact.coefficients import coefficients
    >>> model = coefficients(rm.example_case().rotor, rm.example_case().conditions["cold"])
    >>> print(f"{speed_squared_of(model.seated, model, np.asarray(2e-3), np.asarray(5e-6), np.asarray(0.0))[0]:.3f}")
    400.000
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        gap_per_load = line.per_speed_squared / per_speed_squared
        at_zero = GapLine(
            line.at_rest - gap_per_load * at_rest,
            np.zeros_like(gap_per_load),
            line.per_traction - gap_per_load * per_traction,
        )
        # where speed adds and only the pull takes, the widest gap is where the quantity rises through zero
        gap, pull = solve_gap(at_zero, model, np.zeros_like(gap_per_load), per_speed_squared < 0)
        squared = (at_rest - per_traction * pull) / per_speed_squared
        snapped = model.constant_current & (2 * line.per_traction * pull > gap) & (pull > 0)
        return np.where(snapped, np.nan, squared), pull


def growth_loads(model: Coefficients, state: Contact, speed_squared: Floats) -> tuple[Floats, Floats, Floats]:
    """The loads of the rim ring in a state, by definition of the model.

    Parameters
    ----------
    speed_squared : array, rad2/s2

    Returns
    -------
    pressure : array, Pa
        On the bore.
    traction : array, Pa
        On the outside: poles and pull.
    speed_squared : array, rad2/s2

    48 poles of 3700 kg at 4.32 m and 10 rad/s over 2 pi x 4.06 m x 1.85 m: 1.63 MPa.

    >>> import rimmodel as rm
    >>> from rimmodel.behaviour.contact.coefficients import coefficients
    >>> model = coefficients(rm.example_case().rotor, rm.example_case().conditions["cold"])
    >>> print(f"{growth_loads(model, contact(model, np.asarray(100.0)), np.asarray(100.0))[1] / 1e6:.2f}")
    1.63
    """
    return state.contact_pressure, model.pole_traction * speed_squared + state.pull, speed_squared


def rim_response(loads: EdgeLoads, model: Coefficients, state: Contact, speed_squared: Floats) -> Floats:
    """One edge response of the rim in a state: the response to its pressure, traction and spin, by superposition.

    Source: superposition, as at `rimmodel.elastic.ring_edges`.

    Parameters
    ----------
    loads : EdgeLoads
        The response per unit of each load.
    speed_squared : array, rad2/s2

    Returns
    -------
    array, SI
        Displacement in m or stress in Pa, as the loads have it.

    An edge that yields by 1 m per Pa of outside traction shows the 1.63 MPa of the poles at 10 rad/s:

    >>> import rimmodel as rm
    >>> from rimmodel.behaviour.contact.coefficients import coefficients
    >>> model = coefficients(rm.example_case().rotor, rm.example_case().conditions["cold"])
    >>> one = EdgeLoads(np.asarray(0.0), np.asarray(1.0), np.asarray(0.0))
    >>> print(f"{rim_response(one, model, contact(model, np.asarray(100.0)), np.asarray(100.0)) / 1e6:.2f}")
    1.63
    """
    return loads.total(*growth_loads(model, state, speed_squared))
