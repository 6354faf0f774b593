"""Handbooks and standards whose formulas are remembered: Roark, DIN 7190, Peterson, Timoshenko's Strength.

No page was seen. Each number is worked out by hand from the formula, with inputs that keep the hand's work short:
a tube of 1 and 2 m with E 200 GPa and 60 MPa, so p/E = 3e-4, (b^2 + a^2)/(b^2 - a^2) = 5/3; spun, rho w^2 = 8e7.
"""

from __future__ import annotations

from functools import partial

import numpy as np

from rimmodel.elastic import Ring, ring_edges
from rimmodel.units import GIGAPASCAL, MEGAPASCAL
from validation.check import FORMULA, ROUND_OFF, Check, Provenance
from validation.compound import interface_pressures

TUBE = Ring(1.0, 2.0, 200 * GIGAPASCAL, 0.3, 8000.0)
PRESSURE, SPEED = 60 * MEGAPASCAL, 100.0

recalled = partial(Check, provenance=Provenance.FROM_MEMORY)
exact = partial(recalled, tolerance=ROUND_OFF, reason=FORMULA)


def checks() -> tuple[Check, ...]:
    return (*_roark_cylinders(), *_roark_discs(), *_fits(), *_thin_and_pierced())


def _roark_cylinders() -> tuple[Check, ...]:
    inside = "Roark's Formulas for Stress and Strain, thick-walled cylinders, case 1a (pressure inside), from memory"
    outside = "Roark's Formulas for Stress and Strain, thick-walled cylinders, case 1c (pressure outside), from memory"
    edges = ring_edges(TUBE)
    return (
        # 60 x 5/3
        exact(
            "ROA-1",
            "bore hoop stress of the tube under 60 MPa inside",
            inside,
            "100",
            "MPa",
            lambda: edges.bore_hoop_stress.pressure * PRESSURE / MEGAPASCAL,
        ),
        # 3e-4 x 1 x (5/3 + 0.3)
        exact(
            "ROA-2",
            "growth of its bore",
            inside,
            "5.9e-4",
            "m",
            lambda: edges.bore_displacement.pressure * PRESSURE,
        ),
        # 3e-4 x 2 x 2 x 1/3
        exact(
            "ROA-3",
            "growth of its outside",
            inside,
            "4e-4",
            "m",
            lambda: edges.outer_displacement.pressure * PRESSURE,
        ),
        # -60 x 2 x 4/3
        exact(
            "ROA-4",
            "bore hoop stress under 60 MPa outside",
            outside,
            "-160",
            "MPa",
            lambda: TUBE.state(1.0, outer_traction=-PRESSURE).hoop_stress / MEGAPASCAL,
        ),
        # -3e-4 x 2 x 4/3
        exact(
            "ROA-5",
            "growth of the bore",
            outside,
            "-8e-4",
            "m",
            lambda: TUBE.radial_displacement(1.0, outer_traction=-PRESSURE),
        ),
        # -3e-4 x 2 x (5/3 - 0.3)
        exact(
            "ROA-6",
            "growth of the outside",
            outside,
            "-8.2e-4",
            "m",
            lambda: TUBE.radial_displacement(2.0, outer_traction=-PRESSURE),
        ),
    )


def _roark_discs() -> tuple[Check, ...]:
    source = "Roark's Formulas for Stress and Strain, dynamic stresses, rotating annular disk, from memory"
    edges = ring_edges(TUBE)
    return (
        # 8e7/4 x (3.3 x 4 + 0.7 x 1)
        exact(
            "ROA-7",
            "bore hoop stress of the ring of 1/2 m at 100 rad/s",
            source,
            "278",
            "MPa",
            lambda: edges.bore_hoop_stress.speed_squared * SPEED**2 / MEGAPASCAL,
        ),
        # 8e7/4 x (0.7 x 4 + 3.3 x 1)
        exact(
            "ROA-8",
            "its outside hoop stress",
            source,
            "122",
            "MPa",
            lambda: edges.outer_hoop_stress.speed_squared * SPEED**2 / MEGAPASCAL,
        ),
        # 278e6/200e9 x 1
        exact(
            "ROA-9",
            "growth of its bore",
            source,
            "1.39e-3",
            "m",
            lambda: edges.bore_displacement.speed_squared * SPEED**2,
        ),
        # 122e6/200e9 x 2
        exact(
            "ROA-10",
            "growth of its outside",
            source,
            "1.22e-3",
            "m",
            lambda: edges.outer_displacement.speed_squared * SPEED**2,
        ),
        # 3.3/8 x 8e7 x (2 - 1)^2
        exact(
            "ROA-11",
            "its largest radial stress, at sqrt(2) m",
            source,
            "33",
            "MPa",
            lambda: TUBE.state(2**0.5, speed=SPEED).radial_stress / MEGAPASCAL,
        ),
    )


def _fits() -> tuple[Check, ...]:
    shaft, hub = (Ring(a, b, 200 * GIGAPASCAL, 0.3, 8000.0) for a, b in ((0.0, 0.1), (0.1, 0.2)))
    compliance = ring_edges(hub).bore_displacement.pressure + ring_edges(shaft).outer_displacement.traction
    # radii in inches, moduli and pressures in lb/in2: the equations do not mind
    cylinders = Ring(np.array([4.0, 6.0]), np.array([6.0, 8.0]), 30e6, 0.3, 0.0)
    return (
        # K = (1 - 0.3) + (5/3 + 0.3) = 8/3; p = xi E/K = 1e-3 x 200e3/(8/3)
        exact(
            "DIN-1",
            "pressure of a hub of twice the shaft's diameter, interference 1 per mille",
            "DIN 7190, elastic interference fit, from memory: p = xi E_A/K",
            "75",
            "MPa",
            lambda: 1e-3 * 0.1 / compliance / MEGAPASCAL,
        ),
        # 30e6 x 0.005/6 x (36 - 16)(64 - 36)/(2 x 36 x (64 - 16)) = 25000 x 560/3456 = 4051
        recalled(
            "TIM-1",
            "pressure between cylinders of radii 4, 6, 8 in with a shrinkage of 0.005 in, E 30e6",
            "Timoshenko, Strength of Materials, part II (3rd ed.), article on shrink fits of cylinders, from memory",
            "4050",
            "lb/in2",
            lambda: interface_pressures(cylinders, 0.005)[1],
            tolerance=5 / 4050,
            reason="printed to three digits",
            note="Number and dimensions remembered; a hand calculation gives 4051.",
        ),
    )


def _thin_and_pierced() -> tuple[Check, ...]:
    thin = Ring(0.9999, 1.0001, 200 * GIGAPASCAL, 0.3, 8000.0)
    pierced = Ring(1e-4, 1.0, 200 * GIGAPASCAL, 0.3, 8000.0)
    mean = 8000 * (1 + 1e-4 + 1e-8) / 3  # force of the half disc over its section, by equilibrium
    return (
        # 8000 x 1e4 x 1
        recalled(
            "RNG-0",
            "hoop stress of a thin ring of 1 m at 100 rad/s",
            "every handbook: rho w^2 R^2, from memory",
            "80",
            "MPa",
            lambda: thin.state(1.0, speed=SPEED).hoop_stress / MEGAPASCAL,
            tolerance=1e-7,
            reason="limit of no depth; this ring is 2e-4 deep and the next term goes with the square of that, 4e-8",
        ),
        # [(3 + nu)/4]/(1/3)
        recalled(
            "PET-1",
            "peak over mean hoop stress of a rotating disc with a small central hole",
            "Peterson's Stress Concentration Factors, rotating disk with central hole, from memory: 3 (3 + nu)/4",
            "2.475",
            "-",
            lambda: pierced.state(1e-4, speed=1.0).hoop_stress / mean,
            tolerance=1.1e-4,
            reason="limit of no hole; the hole of 1e-4 of the radius raises the mean by 1e-4",
        ),
    )
