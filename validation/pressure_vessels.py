"""Published cases of thick pressure vessels, of one and of two layers."""

from __future__ import annotations

from functools import partial

import numpy as np

from rimmodel.elastic import Ring, RingState
from rimmodel.units import KILONEWTON, MEGAPASCAL, MILLIMETRE
from validation.check import Check, Provenance
from validation.compound import interface_pressures
from validation.shooting import Layer, Solution, shoot

INNER_RADIUS = 140.4 * MILLIMETRE
LAYERS = Ring(np.array([0.20, 0.25]), np.array([0.25, 0.30]), np.array([1e6, 0.5e6]), 0.25, 0.0)
INSIDE, OUTSIDE = 60e3, 10e3


def lame_constants() -> tuple[float, float]:
    """A in Pa and B in N of Lame's stresses A -/+ B/r^2, read off the bore of the single cylinder."""
    ring = Ring(INNER_RADIUS, 161.9 * MILLIMETRE, 206e9, 0.3, 0.0)
    state: RingState = ring.state(INNER_RADIUS, inner_pressure=10 * MEGAPASCAL, outer_traction=-1 * MEGAPASCAL)
    half_sum = 0.5 * float(state.hoop_stress + state.radial_stress)
    half_difference = 0.5 * float(state.hoop_stress - state.radial_stress)
    return half_sum, half_difference * INNER_RADIUS**2


def joint_pressure() -> float:
    """Pressure between the two layers, in kPa."""
    return float(interface_pressures(LAYERS, inner_pressure=INSIDE, outer_traction=-OUTSIDE)[1]) / 1e3


def growth(layer: int, radius: float) -> float:
    """Radial displacement (mm) of a point of one layer of the vessel."""
    pressures = interface_pressures(LAYERS, inner_pressure=INSIDE, outer_traction=-OUTSIDE)
    ring = Ring((0.20, 0.25)[layer], (0.25, 0.30)[layer], (1e6, 0.5e6)[layer], 0.25, 0.0)
    moved = ring.radial_displacement(radius, inner_pressure=pressures[layer], outer_traction=-pressures[layer + 1])
    return float(moved) / MILLIMETRE


def integrated() -> Solution:
    """The vessel by numerical integration of the field equations."""
    layers = [Layer(0.20, 0.25, 1e6, 1e6, 0.25), Layer(0.25, 0.30, 0.5e6, 0.5e6, 0.25)]
    return shoot(layers, inner_pressure=INSIDE, outer_traction=-OUTSIDE)


def checks() -> tuple[Check, ...]:
    cylinder = 'J. Theler, "Four ways of solving three pressurized thick cylinders", case C'
    vessel = (
        "open vessel of two layers, verification example of a general finite-element program (inputs); numerical "
        "integration of the field equations (number)"
    )
    unseen = "Inputs seen in print, the printed results not seen."
    accuracy = "the integration steps at 1e-12 and is good to about 1e-10"
    solution = integrated()
    vessel_rows = (
        ("FIT-10a", "pressure between its layers", -solution.radial_stress[1, 0] / 1e3, "kPa", joint_pressure),
        ("FIT-10b", "growth of its bore", solution.displacement[0, 0] / 1e-3, "mm", partial(growth, 0, 0.20)),
        ("FIT-10c", "growth of its outside", solution.displacement[1, 1] / 1e-3, "mm", partial(growth, 1, 0.30)),
    )
    return (
        Check(
            "FIT-9a",
            "mean of hoop and radial stress of a cylinder 140.4/161.9 mm, 10 MPa inside, 1 MPa outside",
            cylinder,
            "26.3",
            "MPa",
            lambda: lame_constants()[0] / MEGAPASCAL,
            Provenance.SEEN_IN_PRINT,
        ),
        Check(
            "FIT-9b",
            "half their difference times r^2",
            cylinder,
            "715.474",
            "kN",
            lambda: lame_constants()[1] / KILONEWTON,
            Provenance.SEEN_IN_PRINT,
        ),
        *(
            Check(
                identity,
                what,
                vessel,
                float(number),
                unit,
                ours,
                Provenance.INDEPENDENT_METHOD,
                tolerance=1e-9,
                reason=accuracy,
                note=unseen,
            )
            for identity, what, number, unit, ours in vessel_rows
        ),
    )
