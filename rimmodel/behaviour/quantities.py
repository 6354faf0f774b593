"""Any quantity that a maker claims or a reviewer requires, computed for a rotor in a condition."""

from __future__ import annotations

import numpy as np

from rimmodel.behaviour import first_yield, float_speed, sweep
from rimmodel.elastic.ring import Floats
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.requirements import quantity_kind
from rimmodel.units import MEGAPASCAL, MILLIMETRE, RPM

PRINT_UNITS = {"speed": ("rpm", RPM, 1), "small length": ("mm", MILLIMETRE, 2), "stress": ("MPa", MEGAPASCAL, 1)}
"""Unit of print, its size in SI and the decimals, by kind of quantity."""

LESS_IS_BETTER = ("rim_stress", "spider_stress", "rim_growth")


def evaluate(quantity: str, rotor: Rotor, condition: Condition) -> float:
    """`evaluate_all` for a single rotor, as a number.

    Parameters
    ----------
    quantity : str
    rotor : Rotor
    condition : Condition

    Returns
    -------
    float, SI
    """
    return float(evaluate_all(quantity, rotor, condition))


def evaluate_all(quantity: str, rotor: Rotor, condition: Condition) -> Floats:
    """Value of a quantity by name; NaN where it does not exist (the pull has closed the gap, no hub known).

    Stresses are hoop stresses at the bore: that of the rim in the steel of its net section. Fields of the rotor may
    be arrays.

    Parameters
    ----------
    quantity : str
    rotor : Rotor
    condition : Condition

    Returns
    -------
    array, SI

    Raises
    ------
    ValueError
        The quantity needs something that the case does not give (runaway speed, yield strength).
    """
    if quantity == "float_speed":
        return float_speed(rotor, condition).speed
    if quantity == "first_yield_speed":
        return first_yield(rotor, condition).speed
    base, _, name = quantity.rpartition("_at_")
    speeds = rotor.speeds.from_standstill
    if name not in speeds:
        raise ValueError(f"{quantity}: the case gives no speeds.{name}")
    state = sweep(rotor, condition, speeds[name])
    net = rotor.rim.net_factor
    values: dict[str, Floats] = {
        "gap": state.air_gap,
        "rim_stress": state.rim_bore_hoop_stress / net,
        "spider_stress": state.spider_hoop_stress,
        "contact_pressure": state.contact_pressure,
        "residual_interference": state.residual_interference,
        "rim_growth": state.rim_outer_growth,
    }
    return values[base]


def plain_name(quantity: str) -> str:
    """The quantity in words.

    >>> plain_name("gap_at_overspeed")
    'air gap at overspeed'
    """
    base, _, name = quantity.rpartition("_at_")
    words = {
        "gap": "air gap",
        "rim_stress": "rim bore hoop stress (net section)",
        "spider_stress": "spider hoop stress",
        "contact_pressure": "contact pressure",
        "residual_interference": "interference left",
        "rim_growth": "rim growth",
    }
    return f"{words[base]} at {name}" if base in words else quantity.replace("_", " ")


def less_is_better(quantity: str) -> bool:
    """Whether a claim of this quantity is a ceiling (stress, growth) and not a floor (speed, gap)."""
    return quantity.rpartition("_at_")[0] in LESS_IS_BETTER


def in_print(quantity: str, value: float | None) -> float | None:
    """The value in its unit of print; None for what is not a finite number.

    Parameters
    ----------
    quantity : str
    value : float or None, SI

    Returns
    -------
    float or None, unit of print
        rpm, mm or MPa.
    """
    if value is None or not np.isfinite(value):
        return None
    return value / PRINT_UNITS[quantity_kind(quantity) or "speed"][1]


def text(quantity: str, value: float | None) -> str:
    """The value with its unit of print, or in words where it is not finite.

    Parameters
    ----------
    quantity : str
    value : float or None, SI

    >>> text("gap_at_rated", 0.01234)
    '12.34 mm'
    """
    unit, size, decimals = PRINT_UNITS[quantity_kind(quantity) or "speed"]
    if value is None or np.isnan(value):
        return "none"
    if np.isinf(value):
        return "without bound" if value > 0 else "none"
    return f"{value / size:.{decimals}f} {unit}"


def interval_text(quantity: str, interval: tuple[float, float] | None) -> str:
    """An interval in words, open sides said.

    Parameters
    ----------
    quantity : str
    interval : pair of float or None, SI
    """
    if interval is None or not any(np.isfinite(interval)):
        return "no bound"
    low, high = interval
    if low == 0 and quantity == "float_speed" and not np.isfinite(high):
        return "no bound"
    if not np.isfinite(high):
        return f"above {text(quantity, low)}"
    if not np.isfinite(low) or (low == 0 and quantity == "float_speed"):
        return f"below {text(quantity, high)}"
    return f"{text(quantity, low).rsplit(' ', 1)[0]} to {text(quantity, high)}"
