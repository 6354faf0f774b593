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
_ON_KEY, _IN, _STAYS, _OUT = range(4)
"""What a rim that rubs does at a key: on it, moving in, standing clear, moving out."""
_STEPS = 300
_SADDLES = 4


@dataclass(frozen=True)
class Friction:
    """What resists a radial move of the rim at each of N keys, whether it is seated or not.

    Attributes
    ----------
    force : array (N,), N
    stood : array (N,), m
        Clearance at which the rim last stood at each key, 0 where it was seated.
    """

    force: Floats
    stood: Floats


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
    friction : Friction, optional
        None by default.
    """

    compliance: Floats
    shape: Floats
    interference: Floats
    stiffness: Floats
    force: Floats
    friction: Friction | None = None


@dataclass(frozen=True)
class KeyBalance:
    """Which of N keys are seated, and what holds with them for m modes.

    Attributes
    ----------
    seated : bool array (N,)
        With friction those at which the rim does not move, whether it is on the key or stands clear of it.
    key_force : array (N,), N
        With friction the net force: contact less what holds the rim.
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


def rubbing_keys(compliance: Floats, friction: Friction, wanted: Floats, held: Mask) -> tuple[Mask, Floats, Floats]:
    """Keys at which a rim that rubs does not move, net forces and clearances, with its modes held; as `pressed_keys`.

    The net force q at a key is that of the contact less friction f. It is q = -f where the rim moves out, q = f where
    it moves in; where it stays, q is between, or anything from -f up (from f up if it has just come in) on the key. So
    q falls as the clearance c grows, in steps, and A q - wanted = c has one answer, which minimises
    ``q^T A q/2 + sum f |c - stood|``. Derived here.

    Parameters
    ----------
    compliance : array (N, N), m/N
        Symmetric and positive definite.
    wanted : array (N,), m
    held : bool array (N,)
        Where to start from.

    Returns
    -------
    held : bool array (N,)
    force : array (N,), N
    clearance : array (N,), m

    Raises
    ------
    ArithmeticError
        As `pressed_keys`.

    A rim that pulls away with 0.3 N from where it stands is held by 0.5 N of friction:

    >>> rub = Friction(np.array([0.5]), np.array([0.0]))
    >>> rubbing_keys(np.eye(1), rub, np.array([-0.3]), np.array([False]))[1].tolist()
    [-0.3]
    """
    rub, stood = friction.force, friction.stood
    place = np.where(held, np.where(stood > 0.0, _STAYS, _ON_KEY), _OUT)
    far = _ROUND_OFF * float(np.max(np.abs(wanted), initial=0.0))
    fewest, patience = wanted.size + 1, 3
    for _ in range(50 * wanted.size + 50):
        held = (place == _ON_KEY) | (place == _STAYS)
        force = np.where(place == _IN, rub, -rub)
        clearance = np.where(place == _STAYS, stood, 0.0)
        if held.any():
            rest = (wanted + clearance)[held] - compliance[held][:, ~held] @ force[~held]
            force[held] = np.linalg.solve(compliance[held][:, held], rest)
        clearance[~held] = (compliance @ force - wanted)[~held]
        hard = _ROUND_OFF * float(np.max(np.abs(force), initial=0.0))
        after = place.copy()
        on, stays, inward, out = (place == one for one in (_ON_KEY, _STAYS, _IN, _OUT))
        after[on & (force < np.where(stood > 0.0, rub, -rub) - hard)] = _OUT
        after[on & (stood > 0.0) & (after == _OUT)] = _IN
        after[stays & (force > rub + hard)] = _IN
        after[stays & (force < -rub - hard)] = _OUT
        after[inward & (clearance < -far)] = _ON_KEY
        after[inward & (clearance > stood + far)] = _STAYS
        after[out & (clearance < stood - far)] = np.where(stood > 0.0, _STAYS, _ON_KEY)[out & (clearance < stood - far)]
        wrong = np.flatnonzero(after != place)
        if not wrong.size:
            return held, force, clearance
        patience = 3 if wrong.size < fewest else patience - 1
        fewest = min(fewest, wrong.size)
        changing = wrong if patience > 0 else wrong[-1:]
        place[changing] = after[changing]
    raise ArithmeticError("keys: no state with friction was found; is the compliance matrix positive definite?")


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
            return _resting(contact, mode, seated), mode, None
        share = min(1.0, 2.0 * max(scale, float(np.max(np.abs(mode)))) / length)  # no leap along a soft descent
        while True:
            next_energy, next_seated, next_gradient = _energy(contact, mode + share * step, seated)
            if next_energy <= energy + 1e-4 * share * float(gradient @ step) or share < 1e-12:
                break
            share *= 0.5
        if share < 1e-12:  # the energy can no longer distinguish the two: the step is round-off
            stable = curvature[0] > softest
            return (_resting(contact, mode, seated), mode, None) if stable else (None, mode, axes[:, 0])
        mode = mode + share * step
        energy, seated, gradient = next_energy, next_seated, next_gradient
        if float(np.max(np.abs(mode))) > 1e4 * scale:
            break
    return None, mode, None


def _resting(contact: KeyContact, mode: Floats, seated: Mask) -> KeyBalance:
    """The balance at the foot of the slope; with friction what is fixed there is kept, and the modes are exact."""
    if contact.friction is None:
        return balance_with(contact, seated)
    wanted = contact.interference - contact.shape @ mode
    seated, force, clearance = rubbing_keys(contact.compliance, contact.friction, wanted, seated)
    return KeyBalance(seated, force, clearance, mode)


def _energy(contact: KeyContact, mode: Floats, seated: Mask) -> tuple[float, Mask, Floats]:
    """Energy (J) with the rim held at these modes, the keys seated there, and the slope (N)."""
    wanted, own = contact.interference - contact.shape @ mode, 0.0
    if contact.friction is None:
        seated, force, _ = pressed_keys(contact.compliance, wanted, seated)
    else:
        rub = contact.friction
        seated, force, clearance = rubbing_keys(contact.compliance, rub, wanted, seated)
        own = float(rub.force @ np.abs(clearance - rub.stood))
    own += 0.5 * float(force @ contact.compliance @ force)
    own += float(mode @ (0.5 * contact.stiffness * mode - contact.force))
    return own, seated, contact.stiffness * mode - contact.force - contact.shape.T @ force
