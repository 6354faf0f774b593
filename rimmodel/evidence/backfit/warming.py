"""How far the level of the gap may drift in a run because rim, spider and stator warm, or the sensors do."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.behaviour import sweep
from rimmodel.rotor import Condition, Rotor
from rimmodel.units import MILLIMETRE

HOUR = 3600.0

WARMING = {"rim": (12.0 / HOUR, 12.0), "spider": (6.0 / HOUR, 6.0), "stator": (12.0 / HOUR, 12.0)}
"""Standard uncertainty of the rate (K/s) at which a body warms or cools in a run, and of how far it comes (K). Heaters
warm a rim by 5 to 15 K/h for shrinking, and windage no faster; in service a rim runs 5 to 15 K above its spider (both
from memory)."""

SENSORS = 0.02 * MILLIMETRE
"""Standard uncertainty of the drift of all sensors together in a run (from memory)."""


def level_drift(rotor: Rotor, condition: Condition, time: Floats, highest: float) -> float:
    """Standard uncertainty of how far the mean gap drifts from the first to the last point of a run.

    Parameters
    ----------
    rotor : Rotor
        Of scalar fields.
    condition : Condition
        In which the run was taken.
    time : array (point,), s
        A run of unknown length, where any is nan, may warm as far as in a long run.
    highest : float, rad/s
        Highest speed of the run.

    Returns
    -------
    float, m

    In a minute rim and stator warm by 0.2 K, 0.01 mm each on a radius of 4 m, beside the 0.02 mm of the sensors:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> short = level_drift(case.rotor, case.conditions["cold"], np.array([0.0, 60.0]), 19.0)
    >>> round(float(short / SENSORS), 2)
    1.23
    """
    length = float(np.ptp(time)) if len(time) and np.isfinite(time).all() else np.inf
    squares = SENSORS**2
    for body, per_kelvin in gap_per_kelvin(rotor, condition, highest).items():
        rate, most = WARMING[body]
        squares += (per_kelvin * min(rate * length, most)) ** 2
    return float(np.sqrt(squares))


def gap_per_kelvin(rotor: Rotor, condition: Condition, highest: float) -> dict[str, float]:
    """Change of the mean gap (m) for a body of `WARMING` that is 1 K warmer, the larger of standstill and top speed.

    Parameters
    ----------
    rotor : Rotor
        Of scalar fields.
    condition : Condition
        In which the run was taken.
    highest : float, rad/s
        Highest speed of the run.

    Returns
    -------
    dict of str to float, m
    """
    speeds = np.array([0.0, highest])
    before = sweep(rotor, condition, speeds).air_gap
    found = {}
    for body in WARMING:
        moved = np.abs(sweep(rotor, _warmer(condition, body), speeds).air_gap - before)
        found[body] = float(np.max(moved[np.isfinite(moved)], initial=0.0))
    return found


def _warmer(condition: Condition, body: str) -> Condition:
    """The condition with one body 1 K warmer; poles follow the rim."""
    name = f"{body}_temperature"
    warmer = replace(condition, **{name: getattr(condition, name) + 1.0})
    if body == "rim" and condition.pole_temperature is not None:
        warmer = replace(warmer, pole_temperature=condition.pole_temperature + 1.0)
    return warmer
