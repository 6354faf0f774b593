"""Temperatures of the two sides of the rim, as a case file may give them in place of its mean."""

from __future__ import annotations

from typing import Any

import numpy as np

from rimmodel.arrays import Numbers
from rimmodel.rotor.rim import Rim
from rimmodel.units import celsius

SIDES = ("rim_bore_temperature", "rim_outer_temperature")


def mean_rim_temperature(rim: Rim, bore: Numbers, outside: Numbers) -> Numbers:
    """Area mean of a temperature that is linear in radius from the bore to the outside of the ring.

    ``2 int(T r dr)/(b^2 - a^2) = T_a + (T_b - T_a)(a + 2 b)/(3 (a + b))``: it alone decides how far the rim grows;
    derived here.

    Parameters
    ----------
    bore, outside : float or array, K
        The outside is the slot bottom where the rim has slots.

    Returns
    -------
    float or array, K
    """
    a, b = np.asarray(rim.inner_radius), np.asarray(rim.slot_bottom_radius)
    mean: Numbers = np.asarray(bore) + (np.asarray(outside) - np.asarray(bore)) * (a + 2 * b) / (3 * (a + b))
    return mean


def take_rim_sides(name: str, table: dict[str, Any], rim: Rim | None, faults: list[str]) -> None:
    """Turn the two sides in the table of a condition into the mean of the rim and its rise outward, in place."""
    bore, outside = (table.pop(side, None) for side in SIDES)
    where = f"conditions.{name}"
    if bore is None and outside is None:
        return
    if bore is None or outside is None:
        lacking = SIDES[0] if bore is None else SIDES[1]
        faults.append(f"{where}.{lacking}: missing; give both sides of the rim, or rim_temperature alone")
    elif rim is not None:
        mean, given = float(mean_rim_temperature(rim, bore, outside)), table.get("rim_temperature")
        if given is not None and abs(given - mean) > 0.5:
            faults.append(
                f"{where}.rim_temperature is {celsius(given, 'g')}, but its two sides make a mean of "
                f"{celsius(mean, '.4g')}; they must agree within 0.5 K, or leave rim_temperature out"
            )
        table |= {"rim_temperature": mean, "rim_temperature_rise": outside - bore}
