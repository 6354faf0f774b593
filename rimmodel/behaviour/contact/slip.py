"""A rim whose laminations slip as it speeds up: where, how the gap shows it, and what stays after the first overspeed.

What slips is the mean hoop stress over the section beyond that which friction between the sheets holds
(`rimmodel.elastic.slip`). The segments then move outward as they are, by the slipped strain times the mean radius, bore
and outside alike: interference is lost and the gap narrows by as much. Bedding of keys takes interference too, but
leaves the gap of the floating rim; that tells the two apart wherever the level of the gap is known.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.contact.coefficients import Coefficients, coefficients
from rimmodel.elastic.burst import mean_hoop_stress
from rimmodel.elastic.slip import slip_path, slip_stress
from rimmodel.rotor import Condition, Rotor


@dataclass(frozen=True)
class Clamping:
    """What presses the sheets of a stack together, and how far they overlap.

    Parameters
    ----------
    stud_force : float, N
        Preload of one stud.
    friction_coefficient : float, -
        Between the sheets, 0.15 to 0.3 for bare steel (from memory).
    overlap : float, m
        Along the circumference, from a joint to the next joint of a neighbouring layer.
    sheet_thickness : float, m
    slipping_share : float, -
        Hoop stiffness of the slipping stack over that of a stack that holds, above 0 and at most 1.
    """

    stud_force: float
    stud_count: int
    friction_coefficient: float
    overlap: float
    sheet_thickness: float
    slipping_share: float

    def slip_stress(self, rotor: Rotor) -> Floats:
        """Mean hoop stress (Pa, gross) from which on the stack of a rotor slips, pressed evenly over its area."""
        a, b = floats(rotor.rim.inner_radius), floats(rotor.rim.slot_bottom_radius)
        pressure = self.stud_count * self.stud_force / (np.pi * (b**2 - a**2))
        in_steel = slip_stress(pressure, self.friction_coefficient, self.overlap, self.sheet_thickness)
        return floats(in_steel * floats(rotor.rim.stacking_factor))


@dataclass(frozen=True)
class SlipRun:
    """A rim along a path of speeds; arrays (step,).

    Attributes
    ----------
    speed : array (step,), rad/s
    mean_hoop_stress : array (step,), Pa
        Gross.
    slip_growth : array (step,), m
        Of bore and outside by slip; what is left of it at standstill stays.
    residual_interference : array (step,), m
    air_gap : array (step,), m
    slips : bool array (step,)
    """

    speed: Floats
    mean_hoop_stress: Floats
    slip_growth: Floats
    residual_interference: Floats
    air_gap: Floats
    slips: NDArray[np.bool_]


def slip_run(rotor: Rotor, condition: Condition, speed: ArrayLike, clamping: Clamping) -> SlipRun:
    """Follow a rim that may slip along a path of speeds, one after the other; single numbers, without field.

    At every step slip and contact pressure are solved together: less interference presses less, which pulls less.
    The path should start at standstill, so that the shrink has its say first. Derived here.

    Parameters
    ----------
    condition : Condition
        Without field.
    speed : array (step,), rad/s
        In the order in which they are gone through.

    Returns
    -------
    SlipRun

    Raises
    ------
    ValueError
        A condition with field: its pull is not followed here.

    The built-in rim holds where its studs are strong, and nothing is left after an overspeed:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> strong = Clamping(6e5, 300, 0.2, 0.9, 3e-3, 0.4)
    >>> path = [0.0, case.rotor.speeds.runaway, 0.0]
    >>> found = slip_run(case.rotor, case.conditions["cold"], path, strong)
    >>> bool(abs(found.slip_growth).max() < 1e-15), bool(found.slips.any())
    (True, False)
    """
    if np.any(floats(condition.flux_density) > 0):
        raise ValueError("a run with slip is followed without field; ask for a condition whose flux_density is 0 T")
    model = coefficients(rotor, condition)
    path = floats(speed)
    limit = float(clamping.slip_stress(rotor))
    stresses: list[float] = []
    for omega in path:
        stresses.append(_stress(rotor, model, float(omega), stresses, limit, clamping.slipping_share))
    slipped = slip_path(stresses, _hoop_modulus(rotor), limit, clamping.slipping_share)
    growth = slipped.slipped * _mean_radius(rotor)
    left = model.interference(path**2, np.zeros_like(path)) - growth
    line = model.floating
    held = model.edges.outer_displacement.pressure / model.compliance
    gap = line.at_rest - line.per_speed_squared * path**2 - growth - held * np.maximum(left, 0.0)
    return SlipRun(path, floats(stresses), growth, left, floats(gap), slipped.slips)


def _stress(rotor: Rotor, model: Coefficients, omega: float, before: list[float], limit: float, share: float) -> float:
    """Mean hoop stress at a speed that agrees with the slip that it brings, after the stresses before."""
    from scipy.optimize import brentq

    traction = float(model.pole_traction) * omega**2
    whole = float(model.interference(floats(omega**2), floats(0.0)))

    def pulled(pressure: float) -> float:
        return float(mean_hoop_stress(rotor.rim.ring, omega, pressure, traction))

    def surplus(pressure: float) -> float:
        slipped = slip_path([*before, pulled(pressure)], _hoop_modulus(rotor), limit, share).slipped[-1]
        left = whole - float(slipped) * float(_mean_radius(rotor))
        return max(left, 0.0) / float(model.compliance) - pressure

    # the more is lost before, the less presses: between nothing and what an unslipped stack would carry
    most = max(whole, 0.0) / float(model.compliance)
    if surplus(0.0) <= 0:
        return pulled(0.0)
    if surplus(most) >= 0:
        return pulled(most)
    return pulled(float(brentq(surplus, 0.0, most, xtol=1e-3, rtol=1e-13)))


def _hoop_modulus(rotor: Rotor) -> Floats:
    ring = rotor.rim.ring
    return floats(ring.young_modulus) * floats(ring.hoop_stiffness_factor)


def _mean_radius(rotor: Rotor) -> Floats:
    return (floats(rotor.rim.inner_radius) + floats(rotor.rim.slot_bottom_radius)) / 2
