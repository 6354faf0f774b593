"""How far the level of the gaps may have drifted by each reading of a run that is in progress.

Rim, spider and stator warm or cool, and sensors drift. In a run-up speed and time rise together: what warms then bends
the gap as a lift-off does, or turns the line of a floating rim into that of a seated rim. So a drift is part of what
every lift-off foretells, never an alternative to it, and what one line of a run-up shows depends on how long it took.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.backfit.warming import HOUR, SENSORS, WARMING, gap_per_kelvin
from rimmodel.rotor import Condition, Rotor

SETTLING = (0.25 * HOUR, HOUR, 4.0 * HOUR)
"""Time constants of what is left of an earlier state of the machine; the longest is nearly straight in a run."""

HEATED = (HOUR, 4.0 * HOUR)
"""Time constants of what windage warms, as the cube of speed, against a loss to the air."""

CURVED, UNLIKE = HOUR, 0.05
"""Time over which any other drift may change its slope, and its size over that of the known shapes: no machine warms
by one exponential."""

UNTIMED = 600.0
"""Seconds from one reading to the next where times are not known: a long hold (common practice, no source)."""


def drift_covariance(
    rotor: Rotor,
    condition: Condition,
    moment: Floats,
    speed: Floats,
    highest: float,
    missed: Mapping[str, float] | None = None,
) -> Floats:
    """Return the covariance of the drift of the mean gap at each reading.

    What stands for the first readings does not depend on later ones.

    Parameters
    ----------
    rotor : Rotor
        Of scalar fields.
    moment : array (reading,), s
        In the order in which they were taken; where any is nan, every reading counts as a long hold.
    speed : array (reading,), rad/s
    highest : float, rad/s
        Of the run as agreed.
    missed : mapping of str to float, -, optional
        Share of the warming of a body that its thermometers miss, for bodies whose recorded temperatures are part of
        what is foretold already; all of it where a body is not named.

    Returns
    -------
    array (reading, reading), m2

    In a minute the bodies warm by 0.1 K and 0.2 K each; the sensors drift by 0.02 mm from the outset:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> cold, minute = case.conditions["cold"], np.array([0.0, 60.0])
    >>> short = drift_covariance(case.rotor, cold, minute, np.array([9.0, 10.0]), 19.0)
    >>> fall = np.sqrt(short[0, 0] + short[1, 1] - 2.0 * short[0, 1])
    >>> bool(fall < 0.02e-3)
    True
    """
    passed = elapsed(moment)[:-1]
    moved = gap_per_kelvin(rotor, condition, highest)
    found = np.zeros((len(speed), len(speed)))
    for body, (rate, most) in WARMING.items():
        by = moved[body] * (1.0 if missed is None else missed.get(body, 1.0))
        shapes = [min(rate * lag, most) * (1.0 - np.exp(-passed / lag)) for lag in SETTLING]
        # a loss that lets a body come to `most` and no further: cut off there, a shape would bend as a lift-off does
        shapes += [min(rate, most / lag) * _heated((speed / highest) ** 3, passed, lag) for lag in HEATED]
        found += by**2 * sum(np.outer(shape, shape) for shape in shapes) / len(shapes)
        found += (UNLIKE * by * min(rate * CURVED, most)) ** 2 * _curved(passed)
    return found + SENSORS**2 * _curved(passed)


def elapsed(moment: Floats) -> Floats:
    """Return the time since the first reading, that of the next one last; each is a long hold where any moment is nan.

    Parameters
    ----------
    moment : array (reading,), s

    Returns
    -------
    array (reading + 1,), s

    >>> elapsed(np.array([100.0, 160.0, 230.0]))
    array([  0.,  60., 130., 195.])
    """
    if not np.isfinite(moment).all():
        return UNTIMED * np.arange(len(moment) + 1.0)
    hold = float(np.median(np.diff(moment))) if len(moment) > 1 else UNTIMED
    return np.asarray(np.append(moment, moment[-1] + hold) - moment[0])


def _heated(power: Floats, passed: Floats, lag: float) -> Floats:
    """Temperature (reading,), K for a rate of 1 K/s, of a body warmed by the power that each reading leaves behind."""
    warm = np.zeros(len(passed))
    for place in range(1, len(passed)):
        left = np.exp(-(passed[place] - passed[place - 1]) / lag)
        warm[place] = left * warm[place - 1] + (1.0 - left) * lag * power[place - 1]
    return warm


def _curved(passed: Floats) -> Floats:
    """Covariance (reading, reading), -, of a smooth curve (a Matern process of order 3/2)."""
    distance = np.sqrt(3.0) * np.abs(passed[:, None] - passed) / CURVED
    found: Floats = (1.0 + distance) * np.exp(-distance)
    return found
