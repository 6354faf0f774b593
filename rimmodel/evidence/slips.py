"""Factors by which numbers are off when a unit was mistaken, so that a message can name the likely one."""

from __future__ import annotations

import math

OF_SPEED = {60.0: "revolutions per second or Hz", 9.549: "rad/s"}
"""What speeds in rpm must be divided by to be such numbers."""

OF_LENGTH = {10.0: "tenths of a millimetre or cm", 25.4: "inches", 39.37: "thousandths of an inch", 1000.0: "um or m"}
"""Factors between lengths in mm and such numbers."""

NEAR = 1.3
"""A ratio within this factor of a known one is taken for it."""


def likely_length(ratio: float) -> str:
    """Name the factor between units of length that a ratio is near, in brackets; empty where there is none.

    Parameters
    ----------
    ratio : float, -
        Of what was read to what was expected, or the other direction.

    Returns
    -------
    str

    >>> likely_length(1 / 25.0)
    ' (a factor of 25.4: inches?)'
    """
    size = max(ratio, 1.0 / ratio) if ratio > 0 else math.inf
    if not math.isfinite(size):
        return ""
    factor = min(OF_LENGTH, key=lambda known: abs(math.log(size / known)))
    if abs(math.log(size / factor)) > math.log(NEAR):
        return ""
    return f" (a factor of {factor:g}: {OF_LENGTH[factor]}?)"


def likely_speed(ratio: float, pole_count: int) -> str:
    """Name the factor between units of speed that a ratio is near, in brackets; empty where there is none.

    Parameters
    ----------
    ratio : float, -
        Speed expected over speed read, above or below 1.
    pole_count : int
        Which makes the electrical frequency.

    Returns
    -------
    str

    >>> likely_speed(2.6, pole_count=48)
    ' (a factor of 2.5: the electrical frequency in Hz?)'
    """
    factors = {**OF_SPEED, 120.0 / pole_count: "the electrical frequency in Hz"}
    size = max(ratio, 1.0 / ratio) if ratio > 0 else math.inf
    if not math.isfinite(size):
        return ""
    factor = min(factors, key=lambda known: abs(math.log(size / max(known, 1.0 / known))))
    if abs(math.log(size / max(factor, 1.0 / factor))) > math.log(NEAR):
        return ""
    return f" (a factor of {max(factor, 1.0 / factor):.4g}: {factors[factor]}?)"


def slow_units(fastest: float, low: float, high: float) -> str:
    """Name the unit that would bring a speed read as rpm into a range, in brackets; empty where there is none.

    Parameters
    ----------
    fastest, low, high : float, rad/s

    Returns
    -------
    str

    >>> slow_units(3.1, 100.0, 300.0)
    ' (a factor of 60: revolutions per second or Hz?)'
    """
    fitting = [factor for factor in OF_SPEED if low <= factor * fastest <= high]
    return f" (a factor of {fitting[0]:.4g}: {OF_SPEED[fitting[0]]}?)" if fitting else ""
