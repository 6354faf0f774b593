"""The rim while every key presses: forces and outline are straight lines in the interference of each key.

With all keys seated the condensed balance of `rimmodel.behaviour.keys.complementarity` has one matrix at each speed, so
that what a shim does to any force or radius is one influence coefficient. It holds up to the first lift-off and no
further. Derived here.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.keys.complementarity import condensed
from rimmodel.behaviour.keys.keyed_rotor import KeyedRotor


def pressed_forces(keyed: KeyedRotor, speed_squared: float) -> tuple[Floats, Floats]:
    """Influence of the interferences on the key forces, and the forces without any: ``F = influence @ keys + rest``.

    Derived here: the condensed balance with every key seated.

    Parameters
    ----------
    speed_squared : float, rad2/s2
        Within the path of the rotor.

    Returns
    -------
    influence : array (N, N), N/m
    rest : array (N,), N
        Of heat, pull and speed; mostly below zero.

    Raises
    ------
    ValueError
        Spin and pull exceed what all keys together hold at that speed.

    Even keys of 2.1 mm lift off together, where the force of each is zero:

    >>> import rimmodel as rm
    >>> from rimmodel.behaviour.keys.keyed_rotor import keyed_rotor
    >>> case = rm.example_case()
    >>> cold = case.conditions["cold"]
    >>> even = keyed_rotor(case.rotor, cold, np.full(14, 2.1e-3))
    >>> influence, rest = pressed_forces(even, float(rm.float_speed(case.rotor, cold).speed) ** 2)
    >>> bool(np.abs(influence @ even.assembled + rest).max() < 1e-6 * np.abs(rest).max())
    True
    """
    contact = keyed.loads.at(speed_squared)
    inverse, shape, stiffness = condensed(contact, np.ones(keyed.key_angle.size, dtype=bool))
    if not np.linalg.eigvalsh(stiffness)[0] > 0.0:
        raise ValueError(
            f"the keys do not hold the rim at {speed_squared**0.5:.4g} rad/s even with all of them seated; check the "
            "magnetic pull and the stiffness of the keys"
        )
    pushed = inverse @ shape
    influence = inverse - pushed @ np.linalg.solve(stiffness, pushed.T)
    closed = contact.interference - keyed.assembled
    return floats(influence), floats(influence @ closed - pushed @ np.linalg.solve(stiffness, contact.force))


def pressed_outline(keyed: KeyedRotor, angle: ArrayLike) -> tuple[Floats, Floats]:
    """Influence of the interferences on the radius of the outside against its mean, at standstill.

    ``deviation = influence @ keys + rest``; offset of the centre and shape as built included. The mean is that over
    the angles. Derived here.

    Parameters
    ----------
    angle : array (P,), rad
        In the turning frame.

    Returns
    -------
    influence : array (P, N), -
    rest : array (P,), m

    Raises
    ------
    ValueError
        As `pressed_forces`.

    Keys at 0 and 180 deg that are 0.1 mm tighter than the others make the rim oval along them:

    >>> import rimmodel as rm
    >>> from rimmodel.behaviour.keys.keyed_rotor import keyed_rotor
    >>> case = rm.example_case()
    >>> even = keyed_rotor(case.rotor, case.conditions["cold"], np.full(14, 2.1e-3))
    >>> influence, _ = pressed_outline(even, [0.0, np.pi / 2, np.pi, 3 * np.pi / 2])
    >>> tighter = influence[:, 0] + influence[:, 7]
    >>> bool(tighter[0] > 0 > tighter[1] and abs(tighter[0] - tighter[2]) < 1e-9)
    True
    """
    places = floats(angle)
    contact = keyed.loads.at(0.0)
    inverse, shape, stiffness = condensed(contact, np.ones(keyed.key_angle.size, dtype=bool))
    forces, force_rest = pressed_forces(keyed, 0.0)
    shift = np.linalg.solve(stiffness, shape.T @ inverse)
    shift_rest = shift @ (contact.interference - keyed.assembled) + np.linalg.solve(stiffness, contact.force)
    harmonics = np.arange(keyed.outer_per_force.shape[0])
    turn = np.exp(1j * places[:, None] * harmonics)
    by_force = (turn[:, 1:] @ keyed.outer_per_force[1:]).real
    phase = places[:, None] * keyed.harmonic
    by_shift = np.stack([np.cos(phase), np.sin(phase)], axis=-1) * keyed.outer_ratio[:, None]
    by_shift = by_shift.reshape(places.size, -1)
    influence = by_force @ forces + by_shift @ shift
    rest = by_force @ force_rest + by_shift @ shift_rest + (turn[:, 1:] @ keyed.built[1:]).real
    return floats(influence - influence.mean(axis=0)), floats(rest - rest.mean())
