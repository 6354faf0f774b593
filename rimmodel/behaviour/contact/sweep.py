"""The rotor at each speed of a range: contact, stresses, growth, gap."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats
from rimmodel.behaviour.contact.asked import asked_machine, asked_numbers, asked_speed
from rimmodel.behaviour.contact.coefficients import Coefficients, Direction, coefficients
from rimmodel.behaviour.contact.state import contact, rim_response
from rimmodel.rotor import Condition, Rotor
from rimmodel.tabular import Tabular, in_brief
from rimmodel.units import in_print

_COLUMNS = {
    "speed_rpm": ("speed", "speed"),
    "contact_pressure_MPa": ("contact_pressure", "stress"),
    "residual_interference_mm": ("residual_interference", "length"),
    "rim_bore_hoop_stress_MPa": ("rim_bore_hoop_stress", "stress"),
    "rim_outer_hoop_stress_MPa": ("rim_outer_hoop_stress", "stress"),
    "spider_hoop_stress_MPa": ("spider_hoop_stress", "stress"),
    "rim_outer_growth_mm": ("rim_outer_growth", "length"),
    "air_gap_mm": ("air_gap", "length"),
}
"""Column name, field of `Sweep`, and its kind of quantity."""


@dataclass(frozen=True)
class Sweep(Tabular):
    """States of a rotor in a condition, arrays of one broadcast shape; as a table in units of print.

    Stresses are gross (smeared over the stack); steel sees them over the stacking factor, the net section over the
    net section factor as well. Growths are radial, from the assembled standstill of the same condition. NaN marks
    speeds at which the magnetic pull has closed the gap, and the spider stress where its parts are not known. The
    hoop stress of the spider is that at its bore, of the rim outside that at the slot bottom where it has slots.

    Attributes
    ----------
    speed : array, rad/s
    contact_pressure : array, Pa
    residual_interference : array, m
        Below zero it is a clearance.
    rim_bore_hoop_stress, rim_outer_hoop_stress, spider_hoop_stress : array, Pa
    rim_bore_growth, rim_outer_growth, air_gap : array, m
    magnetic_pull : array, Pa
        On the rim outside.
    """

    speed: Floats
    contact_pressure: Floats
    residual_interference: Floats
    rim_bore_hoop_stress: Floats
    rim_outer_hoop_stress: Floats
    spider_hoop_stress: Floats
    rim_bore_growth: Floats
    rim_outer_growth: Floats
    air_gap: Floats
    magnetic_pull: Floats

    def __repr__(self) -> str:
        return f"Sweep(speed {in_brief(self.speed, 'speed', 1)}, air gap {in_brief(self.air_gap, 'length')})"

    def columns(self) -> dict[str, Any]:
        """Every quantity of the sweep in its unit of print."""
        return {name: in_print(getattr(self, field), kind) for name, (field, kind) in _COLUMNS.items()}


def sweep(rotor: Rotor, condition: Condition, speed: ArrayLike, direction: Direction = None) -> Sweep:
    """Contact, stresses, growth and gap at each speed.

    Parameters
    ----------
    rotor : Rotor
        Any field may be an array.
    condition : Condition
        Temperatures and field.
    speed : float or array, rad/s
        Zero or above; broadcasts with array fields of the rotor and the condition.
    direction : "up", "down" or None
        Direction of the speed, for friction.

    Returns
    -------
    Sweep
        With ``to_frame()`` for a table in units of print and ``plot()`` for the usual figure.

    Raises
    ------
    ValueError
        A speed below zero, not finite, or so far beyond the named speeds that it stands in rpm.
    TypeError
        An argument of another kind, such as a case for a rotor.

    A rim that is free of the spider carries no contact pressure, so the pressure of a sweep ends in zeros:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> fast = rm.sweep(case.rotor, case.conditions["cold"], 2 * case.rotor.speeds.rated)
    >>> float(fast.contact_pressure)
    0.0
    """
    asked_machine(rotor, condition, "sweep(rotor, condition, speed)", direction)
    return Sweeps(rotor, condition, direction).at(speed)


class Sweeps:
    """Sweeps of one rotor in one condition, all from one set of coefficients, each state worked out once.

    Parameters
    ----------
    direction : "up", "down" or None
    """

    def __init__(self, rotor: Rotor, condition: Condition, direction: Direction = None) -> None:
        self.rotor = rotor
        self.model = coefficients(rotor, condition, direction)
        self._known: dict[float, Sweep] = {}

    def at(self, speed: ArrayLike) -> Sweep:
        """As `sweep`; what was asked for once, at a single speed, is kept."""
        if np.ndim(speed):
            return _swept(self.model, asked_speed(self.rotor, speed))
        single = float(asked_numbers(speed, "speed", "rad/s"))
        if single not in self._known:
            self._known[single] = _swept(self.model, asked_speed(self.rotor, single))
        return self._known[single]


def _swept(model: Coefficients, omega: Floats) -> Sweep:
    x = omega**2
    state, standstill = contact(model, x), contact(model, np.zeros_like(x))
    edges = model.edges

    def growth(loads_name: str) -> Floats:
        loads = getattr(edges, loads_name)
        return rim_response(loads, model, state, x) - rim_response(loads, model, standstill, np.zeros_like(x))

    spider_hoop = model.spider.hoop_per_speed_squared * x + model.spider.hoop_per_pressure * state.contact_pressure
    arrays = np.broadcast_arrays(
        omega,
        state.contact_pressure,
        state.residual_interference,
        rim_response(edges.bore_hoop_stress, model, state, x) + model.warm_bore_hoop_stress,
        rim_response(edges.outer_hoop_stress, model, state, x) + model.warm_outer_hoop_stress,
        spider_hoop,
        growth("bore_displacement"),
        growth("outer_displacement"),
        state.air_gap,
        state.pull,
    )
    return Sweep(*arrays)
