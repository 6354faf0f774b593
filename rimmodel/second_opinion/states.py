"""States of a rotor as read from a deck, and the float speed they show."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats

PRESSED = 1e-3
"""Share of the highest pressure from which a state counts as pressed all over."""


@dataclass(frozen=True)
class States:
    """States at the speeds of a deck.

    Attributes
    ----------
    name : tuple of str (n,)
    speed : array (n,), rad/s
    pressure : array (n,), Pa
        On the rim bore, spread over all of it.
    clearance : array (n,), m
        Between rim and spider, or the keys; below zero, by the depth of the contact, where they touch.
    bore, outside : array (n,), m
        Mean radial displacement of rim bore and rim outside, from the rim as it was before assembly.
    bore_hoop_stress : array (n,), Pa
        Mean around the bore.
    """

    name: tuple[str, ...]
    speed: Floats
    pressure: Floats
    clearance: Floats
    bore: Floats
    outside: Floats
    bore_hoop_stress: Floats

    @property
    def seated(self) -> np.ndarray:
        """Which states are seated."""
        return np.asarray(self.pressure > PRESSED * max(float(self.pressure.max()), 1.0))

    def at(self, name: str) -> int:
        """Place of a state by its name."""
        return self.name.index(name)


@dataclass(frozen=True)
class Lifted:
    """The float speed by a deck, found twice.

    Attributes
    ----------
    by_pressure : float or None, rad/s
        Where the line of pressure over speed squared through the seated states is at zero; None with fewer than two.
    by_clearance : float or None, rad/s
        Where that of the clearance through the loose states is at zero; None with fewer than two.
    bend : float, -
        Farthest that a seated state lies off that line, of the highest pressure.
    """

    by_pressure: float | None
    by_clearance: float | None
    bend: float


def lifted(states: States) -> Lifted:
    """Float speed from the seated states, and once more from the loose states.

    >>> x = np.array([0.0, 1.0, 4.0, 9.0, 16.0])
    >>> nothing = np.zeros(5)
    >>> made = States(tuple("abcde"), np.sqrt(x), np.maximum(5.0 - x, 0), np.maximum(x - 5.0, 0), *3 * (nothing,))
    >>> print(f"{lifted(made).by_pressure:.6f} {lifted(made).by_clearance:.6f}")
    2.236068 2.236068
    """
    seated, x = states.seated, states.speed**2
    by_pressure, bend = None, 0.0
    if seated.sum() >= 2:
        line = np.polyfit(x[seated], states.pressure[seated], 1)
        bend = float(np.abs(np.polyval(line, x[seated]) - states.pressure[seated]).max() / states.pressure.max())
        by_pressure = _root(line)
    loose = ~seated & (states.clearance > 0)
    by_clearance = _root(np.polyfit(x[loose], states.clearance[loose], 1)) if loose.sum() >= 2 else None
    return Lifted(by_pressure, by_clearance, bend)


def _root(line: Floats) -> float | None:
    """Speed at which a line over speed squared is at zero; None where it never is."""
    squared = -line[1] / line[0] if line[0] else -1.0
    return float(np.sqrt(squared)) if squared > 0 else None


def bore_values(values: Floats) -> Floats:
    """Values at the bore of an element of 27 integration points, three of them along the radius, by a parabola.

    Parameters
    ----------
    values : array (27,), Pa
        In the order of the program: the first of three directions is the radius.

    Returns
    -------
    array (3, 3), Pa
        By the third and the second direction.

    >>> radius = np.tile([-np.sqrt(0.6), 0.0, np.sqrt(0.6)], 9)  # of an element from -1 to 1
    >>> print(bore_values(radius**2 - radius)[0].round(9))
    [2. 2. 2.]
    """
    at = np.sqrt(0.6)
    weights = np.array([(1 + at) / (2 * 0.6), 1 - 1 / 0.6, (1 - at) / (2 * 0.6)])
    return np.asarray(values.reshape(3, 3, 3) @ weights)
