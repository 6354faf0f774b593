"""What a caller asks for, speeds and gaps, refused where it can only stand in another unit; limits derived here."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats
from rimmodel.rotor import Condition, Rotor
from rimmodel.tabular import wanted
from rimmodel.units import probably_meant, rpm

BEYOND_NAMED = 3.0
"""How many times the highest named speed may be asked for: 9.55 times is rpm given as rad/s."""

WIDEST_GAP = 0.1
"""Metres; air gaps of hydro-generators are 5 to 50 mm."""


def asked_machine(rotor: object, condition: object, call: str, direction: object = None) -> None:
    """Refuse what is no rotor in a condition with one line that names what is wanted; derived here.

    Parameters
    ----------
    call : str
        As a caller writes it.

    Raises
    ------
    TypeError
        A case, a file name, or anything else in place of either.
    ValueError
        A direction that is none.

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> try:
    ...     rm.float_speed(case.rotor, "cold")
    ... except TypeError as refused:
    ...     print(refused)
    float_speed(rotor, condition) wants a Condition; condition is 'cold' (str); write case.conditions['cold']
    """
    case = getattr(rotor, "rotor", None)
    hint = "write case.rotor" if isinstance(case, Rotor) else "a Rotor is case.rotor of read_case(file)"
    wanted(rotor, Rotor, "rotor", f"{call} wants a Rotor", hint)
    named = f"write case.conditions[{condition!r}]" if isinstance(condition, str) else "such as case.conditions['cold']"
    wanted(condition, Condition, "condition", f"{call} wants a Condition", named)
    if direction not in (None, "up", "down"):
        raise ValueError(f"direction is {direction!r}; it must be 'up', 'down' or None")


def asked_numbers(value: ArrayLike, name: str, unit: str) -> Floats:
    """Numbers as an array, anything else refused in words; derived here.

    Parameters
    ----------
    value : float or array, unit of value

    Returns
    -------
    array, unit of value

    Raises
    ------
    TypeError
        A text, such as "125 rpm", or another thing that is no number.

    >>> asked_numbers(2, "speed", "rad/s").tolist()
    2.0
    """
    try:
        return np.asarray(value, dtype=float)
    except (TypeError, ValueError):
        raise TypeError(f"{name} wants numbers in {unit}, got {value!r:.60}{_AS_SI.get(unit, '')}") from None


_AS_SI = {"rad/s": "; 125 rpm is written 125 * rm.RPM", "m": "; 13 mm is written 0.013"}


def asked_speed(rotor: Rotor, speed: ArrayLike) -> Floats:
    """Speeds as an array, each of which the rotor can be asked about.

    Parameters
    ----------
    speed : float or array, rad/s

    Returns
    -------
    array, rad/s

    Raises
    ------
    ValueError
        A speed below zero, not finite, or beyond three times the highest named one: there a rim has burst, and a
        number such as 125 is rpm.

    The range of speeds is chosen here. A speed in rpm is a number 30/pi, 9.55 times, as large as in rad/s:

    >>> import rimmodel as rm
    >>> float(asked_speed(rm.example_case().rotor, 13.09))
    13.09
    >>> try:
    ...     asked_speed(rm.example_case().rotor, 125.0)
    ... except ValueError as refused:
    ...     print(str(refused).split('; ')[-1])
    numbers are SI: if 125 rpm is meant, it is 13.09 rad/s
    """
    omega = asked_numbers(speed, "speed", "rad/s")
    usable = (omega >= 0) & np.isfinite(omega)
    if not np.all(usable):
        raise ValueError(f"speed is {omega[~usable].flat[0]:g} rad/s; it must be zero or above, and finite")
    highest = BEYOND_NAMED * float(np.max(rotor.speeds.highest))
    if omega.size and np.max(omega) > highest:
        wrong, rated = float(np.max(omega)), float(np.max(rotor.speeds.rated))
        meant = probably_meant(wrong, "speed", lambda value: value <= highest)
        raise ValueError(
            f"speed is {wrong:.6g} rad/s ({rpm(wrong, '.5g')}), {wrong / rated:.2f} x rated; it must be at most "
            f"{BEYOND_NAMED:g} x the highest named speed, {highest:.4g} rad/s ({rpm(highest, '.4g')}){meant}"
        )
    return omega


def asked_gap(gap: ArrayLike) -> Floats:
    """Air gaps as an array, none wider than any machine has.

    Parameters
    ----------
    gap : float or array, m

    Returns
    -------
    array, m

    Raises
    ------
    ValueError
        A gap of more than 0.1 m, most likely a number of millimetres.

    The widest gap is chosen here, twice that of any machine:

    >>> try:
    ...     asked_gap(13.0)
    ... except ValueError as refused:
    ...     print(refused)
    gap is 13 m; it must be at most 0.1 m; numbers are SI: if 13 mm is meant, it is 0.013 m
    """
    asked = asked_numbers(gap, "gap", "m")
    if asked.size and np.nanmax(asked) > WIDEST_GAP:
        wrong = float(np.nanmax(asked))
        meant = probably_meant(wrong, "small length", lambda value: value <= WIDEST_GAP)
        raise ValueError(f"gap is {wrong:g} m; it must be at most {WIDEST_GAP:g} m{meant}")
    return asked
