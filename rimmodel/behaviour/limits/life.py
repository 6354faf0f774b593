"""Life of the rim by a course of speed as it was run: rainflow cycles of the peak stress, and years until the limit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.contact.speeds import float_speed
from rimmodel.behaviour.contact.sweep import Sweeps
from rimmodel.behaviour.limits.fatigue import cycles_to_failure, goodman_ratio, missing_for_life, peak_stress
from rimmodel.behaviour.limits.rainflow import rainflow
from rimmodel.rotor import Condition, Material, Rotor

YEAR = 365.25 * 86400.0
STANDSTILL = 0.05
"""Of rated speed: a machine that turns slower counts as stopped."""

_GRID = 2001


@dataclass(frozen=True)
class LifeUse:
    """What a course of speed takes from the life of the rim in one condition.

    Attributes
    ----------
    low, high : array (cycle,), Pa
        Ends of each cycle of the local peak stress of the bore.
    count : array (cycle,), -
        1 or 0.5 each.
    share : array (cycle,), -
        Of the life, that its count takes; 0 below the endurance limit.
    share_per_year : float, -
        Of the life, if every year is like the course.
    """

    condition: str
    low: Floats
    high: Floats
    count: Floats
    share: Floats
    share_per_year: float

    def worst_cycle(self, steel: Material) -> tuple[float, int]:
        """Goodman ratio and place of the cycle that takes most: the least ratio, or where one breaks it the highest.

        Returns
        -------
        ratio : float, -
        place : int

        Source: `goodman_ratio`. Of two cycles between nothing and a peak, the one with the higher peak:

        >>> from rimmodel.rotor import Material
        >>> steel = Material(2.1e11, 0.3, 7850.0, 12e-6, ultimate_strength=600e6, endurance_limit=200e6)
        >>> ends = floats([0.0, 0.0]), floats([100e6, 200e6])
        >>> use = LifeUse("hot", *ends, floats([1.0, 1.0]), floats([0.0, 0.0]), 0.0)
        >>> ratio, place = use.worst_cycle(steel)
        >>> print(f"{ratio:.2f} {place}")
        1.50 1
        """
        ratio = goodman_ratio(self.low, self.high, steel.endurance_limit, steel.ultimate_strength)  # type: ignore[arg-type]
        place = int(np.argmin(ratio) if np.isfinite(self.share_per_year) else np.argmax(self.high))
        return float(ratio[place]), place

    def years(self, allowed: float, used: float = 0.0) -> float:
        """Years until the share of life is used up.

        Parameters
        ----------
        allowed, used : float, -
            Share of life that may be used, and that is used already.

        Returns
        -------
        float, years
            Infinite where no cycle counts; 0 where nothing is left.

        >>> use = LifeUse("hot", floats([]), floats([]), floats([]), floats([]), 0.02)
        >>> use.years(0.5, used=0.1)
        20.0
        """
        left = max(allowed - used, 0.0)
        if not self.share_per_year:
            return np.inf if left else 0.0
        return left / self.share_per_year


def life_use(rotor: Rotor, conditions: Mapping[str, Condition], speed: ArrayLike, duration: float) -> list[LifeUse]:
    """Life that a course of speed takes in each condition, that which takes most first.

    Parameters
    ----------
    speed : array (sample,), rad/s
        In the order in which it was run, unevenly spaced or not.
    duration : float, s
        That the course covers.

    Returns
    -------
    list of LifeUse

    Raises
    ------
    ValueError
        An input of the rotor that life needs is absent, or a speed that no machine of this kind reaches.

    Notes
    -----
    The stress is that of `fatigue_checks`, taken at the speed of each reading: it need not rise with speed alone, so
    cycles are those of the stress. Temperatures are those of the condition throughout. Shares of cycles add up (Miner).

    >>> import rimmodel as rm
    >>> from dataclasses import replace
    >>> case = rm.example_case()
    >>> never = life_use(case.rotor, case.conditions, [0.0, float(case.rotor.speeds.rated), 0.0], 86400.0)
    >>> never[0].share_per_year
    0.0
    """
    absent = missing_for_life(rotor)
    if absent:
        raise ValueError(f"life of the rim needs {absent}; the case does not state it")
    course = floats(speed)
    material = rotor.rim.material
    return sorted(
        (
            _in_condition(rotor, name, state, course, duration, floats(material.endurance_limit))  # type: ignore[arg-type]
            for name, state in conditions.items()
        ),
        key=lambda use: -use.share_per_year,
    )


def _in_condition(
    rotor: Rotor, name: str, condition: Condition, course: Floats, duration: float, endurance: Floats
) -> LifeUse:
    grid = np.linspace(0.0, max(float(course.max()), 1e-9), _GRID)
    kink = float(float_speed(rotor, condition).speed)
    if 0 < kink < grid[-1]:
        grid = np.sort(np.append(grid, kink))
    states = Sweeps(rotor, condition)
    found = rainflow(np.interp(course, grid, peak_stress(rotor, states.at(grid))))
    with np.errstate(divide="ignore"):
        share = found.count / cycles_to_failure(
            found.low,
            found.high,
            endurance,
            floats(rotor.rim.material.ultimate_strength),  # type: ignore[arg-type]
        )
    return LifeUse(name, found.low, found.high, found.count, share, float(share.sum()) * YEAR / duration)


def starts(speed: ArrayLike, rated: float) -> int:
    """How often a machine was started from rest: slower than 5 % of rated speed, then faster than 95 %.

    Parameters
    ----------
    speed : array (sample,), rad/s
    rated : float, rad/s

    Returns
    -------
    int

    A start that is given up halfway does not count:

    >>> starts([0.0, 10.0, 0.0, 4.0, 0.0, 10.0, 9.0, 10.0], rated=10.0)
    2
    """
    course = floats(speed)
    state = np.where(course < STANDSTILL * rated, -1, np.where(course > (1 - STANDSTILL) * rated, 1, 0))
    known = state[state != 0]
    return int(np.sum((known[1:] == 1) & (known[:-1] == -1)))
