"""How much narrower the gap is at a slice than in the mean, for the least gap of the machine."""

from __future__ import annotations

import numpy as np

from rimmodel.arrays import Floats, Places, floats
from rimmodel.behaviour.axial.slices import Stack, pole_share, slice_states, sliced_rotor, stacks
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.behaviour.contact.state import contact
from rimmodel.rotor import Condition, Rotor


def under_poles(rotor: Rotor) -> Places:
    """Slices under poles, the lowest first: those of which half and more bears poles; by definition of the inputs.

    >>> import rimmodel as rm
    >>> from dataclasses import replace
    >>> from rimmodel.rotor import Axial
    >>> rotor = rm.example_case().rotor
    >>> print(under_poles(replace(rotor, axial=Axial(pole_length=rotor.rim.length / 2, slices=8))))
    [2 3 4 5]
    """
    share = pole_share(rotor)
    most = share.max(axis=-1, keepdims=True)
    return np.flatnonzero((share >= 0.5 * most).reshape(-1, share.shape[-1]).any(axis=0))


def narrower(rotor: Rotor, condition: Condition, stack: Stack, speed_squared: Floats) -> Floats:
    """Mean gap less the gap at each slice; derived in `slices`.

    Parameters
    ----------
    speed_squared : array (...), rad2/s2
        Broadcasts with the rotor.

    Returns
    -------
    array (..., slices), m

    Floating, a rim that is 6 K warmer at its upper end is a cone: 12e-6 x 6 K x 4.58 m / 2 x 47/48 at its last slice.

    >>> import rimmodel as rm
    >>> from dataclasses import replace
    >>> case = rm.example_case()
    >>> loose = case.rotor.with_interference(-5e-3)
    >>> warm = replace(case.conditions["cold"], rim_temperature_taper=6.0)
    >>> less = narrower(loose, warm, stacks(loose)[0], floats(0.0))
    >>> print(f"{1e3 * less[-1]:.4f} mm, {1e3 * 12e-6 * 3.0 * 4.58 * 47 / 48:.4f} mm")
    0.1614 mm, 0.1614 mm
    """
    x = floats(speed_squared)
    mean = contact(coefficients(rotor, condition), x).air_gap
    states = slice_states(sliced_rotor(rotor, condition, stack), x)
    return floats(mean[..., None] - states.air_gap)


def narrowest(rotor: Rotor, condition: Condition, speed_squared: Floats) -> Floats:
    """Most by which the gap under a pole is narrower than the mean, over all that the case leaves open.

    Derived as `narrower`.

    Parameters
    ----------
    speed_squared : array (...), rad2/s2

    Returns
    -------
    array (...), m
        Zero where nothing differs along the rim.

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> print(float(narrowest(case.rotor, case.conditions["cold"], floats(0.0))))
    0.0
    """
    if not rotor.differs_along(condition):
        return floats(0.0)
    chosen = under_poles(rotor)
    each = [narrower(rotor, condition, end, speed_squared)[..., chosen].max(axis=-1) for end in stacks(rotor)]
    return floats(np.max(np.broadcast_arrays(*each), axis=0))
