"""Laminations that slip: hoop stiffness that falls once friction between the sheets is overcome.

A sheet of thickness t ends at a joint and hands its hoop force to its two neighbours over the overlap l. Friction
carries at most ``mu p`` on each face, so the stack slips from a mean hoop stress of ``2 mu p l/t`` on. Beyond it bolts
and the sheets that still hold carry on with a part s of the stiffness. This is a spring of stiffness s E beside one of
(1 - s) E behind a slider (Jenkins element; Iwan, Journal of Applied Mechanics 33 (1966), from memory): bilinear as
the stress rises, as stiff as unslipped as it falls, with a growth that stays. Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats, floats, require


def slip_stress(
    clamping_pressure: ArrayLike, friction_coefficient: ArrayLike, overlap: ArrayLike, sheet_thickness: ArrayLike
) -> Floats:
    """Mean hoop stress from which on the sheets of a stack slip on each other; everything broadcasts.

    Parameters
    ----------
    clamping_pressure : float or array, Pa
        Between the sheets: bolt force over the area that it clamps.
    friction_coefficient : float or array, -
    overlap : float or array, m
        Length along the circumference over which a sheet lies on one neighbour, up to the next joint.
    sheet_thickness : float or array, m

    Returns
    -------
    array, Pa

    Raises
    ------
    ValueError
        A value that is not above zero.

    0.5 m of overlap at 1 MPa and a friction of 0.2 hold 2 x 0.2 x 1 MPa x 0.5 m / 4 mm = 50 MPa:

    >>> print(f"{slip_stress(1e6, 0.2, 0.5, 4e-3) / 1e6:.1f}")
    50.0
    """
    given = (
        ("clamping_pressure", clamping_pressure, "Pa"),
        ("friction_coefficient", friction_coefficient, ""),
        ("overlap", overlap, "m"),
        ("sheet_thickness", sheet_thickness, "m"),
    )
    for name, value, unit in given:
        require(floats(value) > 0, name, value, unit, "above zero")
    pressure, friction, length, thickness = (floats(value) for _, value, _ in given)
    held: Floats = 2 * friction * pressure * length / thickness
    return held


@dataclass(frozen=True)
class SlipPath:
    """Strain along a path of mean hoop stress.

    Attributes
    ----------
    strain : array (step, ...), -
        Of the stack in the hoop direction, slip included.
    slipped : array (step, ...), -
        What of it is slip: the strain beyond that of a stack that holds.
    slips : bool array (step, ...)
        Whether the sheets slip in the step.
    """

    strain: Floats
    slipped: Floats
    slips: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]


def slip_path(
    hoop_stress: ArrayLike, hoop_modulus: ArrayLike, slip_at: ArrayLike, slipping_share: ArrayLike
) -> SlipPath:
    """Strain of a stack that is pulled along a path of mean hoop stress, from a state without any.

    Parameters
    ----------
    hoop_stress : array (step, ...), Pa
        Mean over the section, one value after the other.
    hoop_modulus : float or array, Pa
        While the stack holds.
    slip_at : float or array, Pa
        As from `slip_stress`.
    slipping_share : float or array, -
        Stiffness of the slipping stack over that of a stack that holds, above 0 and at most 1.

    Returns
    -------
    SlipPath

    Raises
    ------
    ValueError
        A share outside of its range, a stress or a modulus not above zero.

    At twice the slip stress half as stiff, the strain is 1 + 1/0.5 = 3 times that at slip; back at zero 1 is left:

    >>> (slip_path([100e6, 0.0], 200e9, 50e6, 0.5).strain / (50e6 / 200e9)).round(9).tolist()
    [3.0, 1.0]
    """
    stress, modulus, limit, share = (floats(value) for value in (hoop_stress, hoop_modulus, slip_at, slipping_share))
    require((share > 0) & (share <= 1), "slipping_share", share, "", "above 0 and at most 1")
    require(limit > 0, "slip_at", limit, "Pa", "above zero")
    require(modulus > 0, "hoop_modulus", modulus, "Pa", "above zero")
    slider_limit = (1 - share) * limit
    shape = np.broadcast_shapes(stress.shape[1:], modulus.shape, limit.shape, share.shape)
    before, slider, strain = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    strains, slips = [], []
    for now in stress:
        tried = slider + (1 - share) * (now - before)
        moved = np.clip(tried, -slider_limit, slider_limit)
        sliding = (np.abs(tried) > slider_limit) & (share < 1)
        strain = np.where(sliding, (now - moved) / (share * modulus), strain + (now - before) / modulus)
        before, slider = np.broadcast_to(now, shape), moved
        strains.append(strain)
        slips.append(sliding)
    found = np.array(strains)
    return SlipPath(found, found - np.broadcast_to(stress, found.shape) / modulus, np.array(slips))
