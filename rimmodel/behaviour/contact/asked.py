"""What a caller asks for, speeds and gaps, refused where it can only stand in another unit; limits derived here."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats
from rimmodel.rotor import Rotor
from rimmodel.units import probably_meant, rpm

BEYOND_NAMED = 3.0
"""How many times the highest named speed may be asked for: 9.55 times is rpm given as rad/s."""

WIDEST_GAP = 0.1
"""Metres; air gaps of hydro-generators are 5 to 50 mm."""


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
    omega = np.asarray(speed, dtype=float)
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
    wanted = np.asarray(gap, dtype=float)
    if wanted.size and np.nanmax(wanted) > WIDEST_GAP:
        wrong = float(np.nanmax(wanted))
        meant = probably_meant(wrong, "small length", lambda value: value <= WIDEST_GAP)
        raise ValueError(f"gap is {wrong:g} m; it must be at most {WIDEST_GAP:g} m{meant}")
    return wanted
