"""Shigley's Mechanical Engineering Design (9th ed.), section 3-16: press and shrink fits."""

from __future__ import annotations

from functools import partial

from rimmodel.elastic import Ring, ring_edges
from rimmodel.units import GIGAPASCAL, MEGAPASCAL
from validation.check import FORMULA, ROUND_OFF, Check, Provenance

INTERFERENCE = 1e-4
printed_formula = partial(
    Check,
    provenance=Provenance.SEEN_IN_PRINT,
    tolerance=ROUND_OFF,
    reason=FORMULA,
    note="The formula is printed, its value is worked out here.",
)


def fit_pressure(outer_modulus: float) -> float:
    """Pressure (MPa) of a hub of 0.1/0.2 m on a steel sleeve of 0.05/0.1 m, radial interference 0.1 mm."""
    sleeve = Ring(0.05, 0.1, 200 * GIGAPASCAL, 0.3, 8000.0)
    hub = Ring(0.1, 0.2, outer_modulus, 0.3, 8000.0)
    compliance = ring_edges(hub).bore_displacement.pressure + ring_edges(sleeve).outer_displacement.traction
    return float(INTERFERENCE / compliance) / MEGAPASCAL


def checks() -> tuple[Check, ...]:
    return (
        # 200e9 x 1e-4/(2 x 0.1^3) x (0.04 - 0.01)(0.01 - 0.0025)/(0.04 - 0.0025) = 1e10 x 0.006 Pa
        printed_formula(
            "SHI-1",
            "pressure of a hub 0.1/0.2 m on a sleeve 0.05/0.1 m, 0.1 mm radial, one material of 200 GPa",
            "p. 116, eq. (3-57)",
            "60",
            "MPa",
            lambda: fit_pressure(200 * GIGAPASCAL),
        ),
        # 1e-4/(0.1 x [(5/3 + 0.3)/100e9 + (5/3 - 0.3)/200e9]) Pa
        printed_formula(
            "SHI-2",
            "the same with a hub of 100 GPa",
            "p. 116, eq. (3-56)",
            1e-3 / ((5 / 3 + 0.3) / 100e9 + (5 / 3 - 0.3) / 200e9) / 1e6,
            "MPa",
            lambda: fit_pressure(100 * GIGAPASCAL),
        ),
    )
