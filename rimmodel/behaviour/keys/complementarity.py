"""The rim on its keys at one speed: every key either pushes or stands clear.

The rim moves as a rigid body and in its low flexural modes, amplitudes z, and deforms locally under each key::

    clearance = A F + B z - b >= 0,     F >= 0,     F clearance = 0 at every key
    B^T F = K z - f

A: local compliance of rim, key and spider (symmetric, positive). B: shape of the modes at the keys, its first two
columns cos and sin of the key angle. b: interference left at each key. K: stiffness of each mode, NEGATIVE where
spin or magnetic pull drives it out, as they always do the sideways shift of the rim. f: what drives a mode when
it is at zero: eccentricity and as-built shape.

With A inverted over the seated keys S this is a balance of the modes alone, ``R z = B^T A^-1 b + f`` with
``R = K + B_S^T A_SS^-1 B_S``, and the energy is at a minimum, the state stable, where R is positive definite. Its
2x2 part of the sideways shift, the other modes condensed, is the key stiffness that centres the rim.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats, Mask, floats

_SOFTEST = 1e-12
_ROUND_OFF = 1e-11
_SADDLE = 1e-6
"""Share of the interference below which a step where a mode is unstable is round-off, not a descent."""
_STEPS = 300
_SADDLES = 4


@dataclass(frozen=True)
class KeyContact:
    """Rim and N keys at one speed, with m modes.

    Attributes
    ----------
    compliance : array (N, N), m/N
        A.
    shape : array (N, m), -
        B.
    interference : array (N,), m
        b.
    stiffness : array (m,), N/m
        K of the modes.
    force : array (m,), N
        f of the modes.
    """

    compliance: Floats
    shape: Floats
    interference: Floats
    stiffness: Floats
    force: Floats


@dataclass(frozen=True)
class KeyBalance:
    """Which of N keys are seated, and what holds with them for m modes.

    Attributes
    ----------
    seated : bool array (N,)
    key_force : array (N,), N
    clearance : array (N,), m
    mode : array (m,), m
    """

    seated: Mask
    key_force: Floats
    clearance: Floats
    mode: Floats


def condensed(contact: KeyContact, seated: Mask) -> tuple[Floats, Floats, Floats]:
    """Inverse of A over the seated keys, shape of the modes there, and stiffness R of the modes with those keys.

    ``R = K + B^T A^-1 B`` over the seated keys, derived here from the equations at the head of this file.

    Parameters
    ----------
    seated : bool array (N,)

    Returns
    -------
    inverse : array (n, n), N/m
        n seated keys.
    shape : array (n, m), -
    stiffness : array (m, m), N/m

    >>> one = KeyContact(np.eye(2), np.array([[1.0], [-1.0]]), np.zeros(2), np.array([-0.5]), np.zeros(1))
    >>> print(condensed(one, np.array([True, True]))[2])     # 1 + 1 - 0.5
    [[1.5]]
    """
    inverse = floats(np.linalg.inv(contact.compliance[seated][:, seated]))
    shape = contact.shape[seated]
    stiffness = shape.T @ inverse @ shape
    stiffness.flat[:: len(stiffness) + 1] += contact.stiffness
    return inverse, shape, floats(stiffness)


def balance_with(contact: KeyContact, seated: Mask) -> KeyBalance:
    """Return the balance with exactly these keys seated, right or not: forces may pull, clearances be negative.

    Two springs of 1 N/m pressed by 0.3 and 0.1 m on both sides of a body that nothing else holds: it moves by 0.1 m.

    >>> two = KeyContact(np.eye(2), np.array([[1.0], [-1.0]]), np.array([0.3, 0.1]), np.zeros(1), np.zeros(1))
    >>> print(balance_with(two, np.array([True, True])).key_force)
    [0.2 0.2]
    """
    inverse, shape, stiffness = condensed(contact, seated)
    pressed = inverse @ contact.interference[seated]
    mode = floats(np.linalg.solve(stiffness, shape.T @ pressed + contact.force))
    force = np.zeros(seated.size)
    force[seated] = pressed - inverse @ (shape @ mode)
    clearance = contact.compliance @ force + contact.shape @ mode - contact.interference
    clearance[seated] = 0.0
    return KeyBalance(seated, force, clearance, mode)


def pressed_keys(compliance: Floats, wanted: Floats, seated: Mask) -> tuple[Mask, Floats, Floats]:
    """Keys that push, their forces and the clearances of a rim that cannot move: A F - wanted >= 0.

    Block pivoting: all keys that are wrong change at once while that makes them fewer,
    else only the last of them, which cannot cycle (Murty, Linear Complementarity, ch. 3, from memory).

    Parameters
    ----------
    compliance : array (N, N), m/N
        Symmetric and positive definite, so that there is exactly one answer.
    wanted : array (N,), m
    seated : bool array (N,)
        Where to start from.

    Returns
    -------
    seated : bool array (N,)
    force : array (N,), N
    clearance : array (N,), m

    Raises
    ------
    ArithmeticError
        The pivoting does not end, as with a compliance that is not positive definite.

    >>> print(pressed_keys(np.eye(2), np.array([1.0, -1.0]), np.array([False, False]))[1])
    [1. 0.]
    """
    seated, fewest, patience = seated.copy(), wanted.size + 1, 3
    far = _ROUND_OFF * float(np.max(np.abs(wanted), initial=0.0))
    for _ in range(50 * wanted.size + 50):
        force = np.zeros(wanted.size)
        if seated.any():
            force[seated] = np.linalg.solve(compliance[seated][:, seated], wanted[seated])
        clearance = compliance @ force - wanted
        clearance[seated] = 0.0
        hard = _ROUND_OFF * float(np.max(np.abs(force), initial=0.0))
        wrong = np.where(seated, force < -hard, clearance < -far)
        count = int(wrong.sum())
        if count == 0:
            return seated, force, clearance
        patience = 3 if count < fewest else patience - 1
        fewest = min(fewest, count)
        if patience > 0:
            seated ^= wrong
        else:
            last = int(np.flatnonzero(wrong)[-1])
            seated[last] = not seated[last]
    raise ArithmeticError("keys: no set of seated keys was found; is the compliance matrix positive definite?")


def settle(contact: KeyContact, mode: Floats, seated: Mask | None = None) -> KeyBalance | None:
    """Let the rim move downhill in energy from where it is until it rests; None when it never does.

    The energy over the modes is continuous with its slope and quadratic between events. Newton steps, with the
    curvature taken positive, run down it, and the last one lands exactly. A saddle is left along its descent,
    to the side that ends farther from the centre.

    Parameters
    ----------
    contact : KeyContact
        The rim at one speed.
    mode : array (m,), m
        Where it starts.
    seated : bool array (N,), optional
        First guess of the seated keys.

    >>> two = KeyContact(np.eye(2), np.array([[1.0], [-1.0]]), np.array([0.3, 0.1]), np.zeros(1), np.zeros(1))
    >>> print(settle(two, np.zeros(1)).mode)
    [0.1]
    """
    start = np.zeros(contact.interference.size, dtype=bool) if seated is None else seated
    return _settle(contact, mode, start, _SADDLES)


def _settle(contact: KeyContact, mode: Floats, seated: Mask, saddles: int) -> KeyBalance | None:
    """Settle through so many saddles at most: even keys make a few, one behind the other."""
    found, mode, descent = _descend(contact, mode, seated)
    if descent is None or saddles == 0:
        return found
    nudge = 1e-3 * max(float(np.max(np.abs(contact.interference))), float(np.max(np.abs(mode))))
    ends = [_settle(contact, mode + side * nudge * descent, seated, saddles - 1) for side in (1.0, -1.0)]
    rests = [end for end in ends if end is not None]
    return max(rests, key=lambda end: float(np.hypot(*end.mode[:2])) if end.mode.size > 1 else 0.0, default=None)


def _descend(contact: KeyContact, mode: Floats, seated: Mask) -> tuple[KeyBalance | None, Floats, Floats | None]:
    """Balance at the foot of the slope, or the place of a saddle and the descent from it."""
    scale = max(float(np.max(np.abs(contact.interference))), float(np.max(np.abs(mode))), 1e-300)
    energy, seated, gradient = _energy(contact, mode, seated)
    for _ in range(_STEPS):
        stiffness = condensed(contact, seated)[2]
        curvature, axes = np.linalg.eigh(stiffness)
        softest = _SOFTEST * float(np.max(np.abs(curvature)))
        slope = axes.T @ gradient
        step = -axes @ (slope / np.maximum(np.abs(curvature), softest))
        length = float(np.max(np.abs(step)))
        if curvature[0] <= softest and length <= _SADDLE * scale:
            return None, mode, axes[:, 0]
        if length <= 1e-10 * scale:
            return balance_with(contact, seated), mode, None
        share = min(1.0, 2.0 * max(scale, float(np.max(np.abs(mode)))) / length)  # no leap along a soft descent
        while True:
            next_energy, next_seated, next_gradient = _energy(contact, mode + share * step, seated)
            if next_energy <= energy + 1e-4 * share * float(gradient @ step) or share < 1e-12:
                break
            share *= 0.5
        if share < 1e-12:  # the energy can no longer distinguish the two: the step is round-off
            stable = curvature[0] > softest
            return (balance_with(contact, seated), mode, None) if stable else (None, mode, axes[:, 0])
        mode = mode + share * step
        energy, seated, gradient = next_energy, next_seated, next_gradient
        if float(np.max(np.abs(mode))) > 1e4 * scale:
            break
    return None, mode, None


def _energy(contact: KeyContact, mode: Floats, seated: Mask) -> tuple[float, Mask, Floats]:
    """Energy (J) with the rim held at these modes, the keys seated there, and the slope (N)."""
    seated, force, _ = pressed_keys(contact.compliance, contact.interference - contact.shape @ mode, seated)
    pressed = 0.5 * float(force @ contact.compliance @ force)
    own = float(mode @ (0.5 * contact.stiffness * mode - contact.force))
    return pressed + own, seated, contact.stiffness * mode - contact.force - contact.shape.T @ force
