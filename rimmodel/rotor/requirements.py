"""What is claimed of a machine, what is required of it, and which records speak for it."""

from __future__ import annotations

import re
from dataclasses import dataclass

from rimmodel.rotor.conditions import Speeds

_OF_A_SPEED = re.compile(r"\s*(?P<factor>\d+(?:\.\d*)?|\.\d+)\s*x\s*(?P<name>rated|overspeed|runaway)\s*")


SENSOR_OFFSET = 0.1e-3
"""Standard uncertainty (m) of the level of the mean gap of several sensors when the case says nothing (from memory)."""

SENSOR_GAIN = 0.005
"""Standard uncertainty of the sensitivity of gap sensors, as a share, when the case says nothing (from memory)."""

RUN_TEMPERATURE = 0.5
"""Standard uncertainty (K) of rim over spider temperature in a run against its condition, when the case says
nothing (common practice, no source)."""


@dataclass(frozen=True)
class Claim:
    """A maker's statement: a value of a quantity in a condition, and the share of it that counts as met.

    Parameters
    ----------
    quantity : str
    value : float, SI
    condition : str, optional
    tolerance : float, -
        A share of the value that the contract allows; a claim is taken at its word when it is 0.
    """

    quantity: str
    value: float
    condition: str | None = None
    tolerance: float = 0.0


@dataclass(frozen=True)
class Requirement:
    """A bound on a quantity in a condition, to be shown with a confidence (two-sided interval).

    Parameters
    ----------
    name, quantity : str
    condition : str or None
    at_least, at_most : float or None, SI
    confidence : float, -
    """

    name: str
    quantity: str
    condition: str | None
    at_least: float | None
    at_most: float | None
    confidence: float = 0.95


@dataclass(frozen=True)
class CaseRecord:
    """A recording of a run.

    Parameters
    ----------
    file : str
    condition : str, optional
        In which it was taken.
    label : str
    direction : str, optional
        "up" or "down" where it has one only.
    expected_change : float, m, optional
        Radial interference that shims should have added since the record before.
    sensor_offset : float, m
        Standard uncertainty of the level of the mean gap.
    sensor_gain : float, -
        Standard uncertainty of the sensitivity of the sensors, as a share.
    temperature_uncertainty : float, K
        Standard uncertainty of rim over spider temperature in the run, against its condition.
    """

    file: str
    condition: str | None = None
    label: str = ""
    direction: str | None = None
    expected_change: float | None = None
    sensor_offset: float = SENSOR_OFFSET
    sensor_gain: float = SENSOR_GAIN
    temperature_uncertainty: float = RUN_TEMPERATURE


def ratio_of_speed(text: str) -> tuple[float, str] | None:
    """Factor and speed of a text such as ``"1.15 x rated"``; None when the text is not of that form.

    Parameters
    ----------
    text : str

    Returns
    -------
    factor : float, -
    speed : str

    >>> ratio_of_speed("1.15 x rated")
    (1.15, 'rated')
    """
    match = _OF_A_SPEED.fullmatch(text)
    return (float(match["factor"]), match["name"]) if match else None


def resolve_ratio(factor: float, name: str, speeds: Speeds) -> float | None:
    """Speed of a ratio, or None when the machine has no speed of that name.

    Parameters
    ----------
    factor : float, -
    name : str
    speeds : Speeds

    Returns
    -------
    float or None, rad/s
    """
    speed = speeds.named.get(name)
    return None if speed is None else float(speed) * factor
