"""Factors by which numbers are off when a unit was mistaken, so that a message can name the likely units."""

from __future__ import annotations

import math
from collections.abc import Mapping

OF_SPEED = {60.0: "revolutions per second or Hz", 9.549: "rad/s"}
"""What speeds in rpm must be divided by to be such numbers."""

OF_LENGTH = {10.0: "tenths of a millimetre or cm", 25.4: "inches", 39.37: "thousandths of an inch", 1000.0: "um or m"}
"""Factors between lengths in mm and such numbers."""

NEAR = 1.3
"""A ratio within this factor of a known ratio is taken for it."""


def likely_length(ratio: float) -> str:
    """Name the factor between units of length that a ratio is near, in brackets; empty where there is none.

    Parameters
    ----------
    ratio : float, -
        Of what was read to what was expected, or the other direction.

    >>> likely_length(1 / 25.0)
    ' (a factor of 25.4: inches?)'
    """
    return _named(OF_LENGTH, ratio, 1.0 / NEAR, NEAR)


def likely_speed(value: float, low: float, high: float) -> str:
    """Name the units that would bring a speed read as rpm into a range, in brackets; empty where there are none.

    Parameters
    ----------
    value, low, high : float, rad/s

    >>> likely_speed(3.1, 100.0, 300.0)
    ' (a factor of 60: revolutions per second or Hz?)'
    """
    return _named(OF_SPEED, value, low, high)


def likely_fall(
    value: float, low: float, high: float, pole_count: int, *, lengths: bool, percent: float | None = None
) -> str:
    """Name the units that would bring a fall of the gap over speed squared into a range; empty where there are none.

    Parameters
    ----------
    value, low, high : float, m s2
    pole_count : int
        Which makes the electrical frequency.
    lengths : bool
        Whether the unit of the gap may be wrong too, or only that of the speed.
    percent : float, rpm, optional
        A percent of rated speed, if speeds may be such.

    >>> likely_fall(6.3, 0.7, 1.4, 48, lengths=True)
    ' (a factor of 2.5 in speed: the electrical frequency in Hz?)'
    """
    speeds = {**OF_SPEED, 120.0 / pole_count: "the electrical frequency in Hz"}
    known = {factor**2: f"{factor:.4g} in speed: {unit}" for factor, unit in speeds.items()}
    if percent is not None and low <= value / percent**2 <= high:
        known[percent**2] = f"{percent:.4g} in speed: percent of rated speed"
    if lengths:
        known |= {factor: f"{factor:g} in gap: {unit}" for factor, unit in OF_LENGTH.items()}
    return _named(known, value, low, high, with_factor=False)


def _named(known: Mapping[float, str], value: float, low: float, high: float, *, with_factor: bool = True) -> str:
    """The factors that bring a value into a range, by multiplying or dividing, the nearest to its middle first."""
    if not (value > 0 and 0 < low <= high and math.isfinite(value)):
        return ""
    middle = math.sqrt(low * high)
    fitting = []
    for factor, unit in known.items():
        for brought in (value * factor, value / factor):
            if low <= brought <= high:
                words = f"a factor of {factor:.4g}: {unit}?" if with_factor else f"a factor of {unit}?"
                fitting.append((abs(math.log(brought / middle)), words))
    return f" ({' or '.join(words for _, words in sorted(fitting)[:2])})" if fitting else ""
