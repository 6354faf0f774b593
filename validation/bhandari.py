"""Bhandari, Design of Machine Elements, chapter 22: compound cylinders."""

from __future__ import annotations

import numpy as np

from rimmodel.elastic import Ring, ring_edges
from rimmodel.units import MEGAPASCAL, MILLIMETRE
from validation.check import Check, Provenance

MODULUS, POISSON = 207e9, 0.3  # Poisson's ratio is not given; it cancels between tubes of one material


def tubes(bore: float, joint: float, outside: float) -> tuple[Ring, Ring]:
    """Inner tube and jacket from diameters in mm."""
    first, second, third = (0.5 * MILLIMETRE * diameter for diameter in (bore, joint, outside))
    return Ring(first, second, MODULUS, POISSON, 7850.0), Ring(second, third, MODULUS, POISSON, 7850.0)


def jacket_bore(pressure: float, inner: Ring, jacket: Ring) -> float:
    """Bore of the free jacket in mm, for a shrinkage pressure in Pa on a tube of nominal outside."""
    compliance = ring_edges(jacket).bore_displacement.pressure + ring_edges(inner).outer_displacement.traction
    return 2 * float(np.asarray(jacket.inner_radius) - compliance * pressure) / MILLIMETRE


def limited_pressure() -> float:
    """Example 22.6: the jacket's bore carries 100 MPa in the hoop direction."""
    return float(100 * MEGAPASCAL / ring_edges(tubes(20, 40, 60)[1]).bore_hoop_stress.pressure)


def balanced_pressure() -> float:
    """Example 22.8: under 35 MPa inside, both tubes carry the same hoop stress at their bores."""
    inner, jacket = tubes(50, 75, 100)
    whole = Ring(inner.inner_radius, jacket.outer_radius, MODULUS, POISSON, 7850.0)
    from_pressure = whole.state([25 * MILLIMETRE, 37.5 * MILLIMETRE], inner_pressure=35 * MEGAPASCAL).hoop_stress
    per_shrink = ring_edges(jacket).bore_hoop_stress.pressure + ring_edges(inner).bore_hoop_stress.traction
    return float((from_pressure[0] - from_pressure[1]) / per_shrink)


def checks() -> tuple[Check, ...]:
    known = "Poisson's ratio is not given and cancels."
    return (
        Check(
            "FIT-1",
            "bore of a jacket 40/60 mm that reaches 100 MPa when shrunk on a tube 20/40 mm",
            "Example 22.6, worked results",
            "39.968289",
            "mm",
            lambda: jacket_bore(limited_pressure(), *tubes(20, 40, 60)),
            Provenance.SEEN_IN_PRINT,
            note=known,
        ),
        Check(
            "FIT-11a",
            "shrinkage pressure that evens the hoop stresses of tubes 50/75/100 mm under 35 MPa",
            "Example 22.8, worked results",
            "3.615169",
            "MPa",
            lambda: balanced_pressure() / MEGAPASCAL,
            Provenance.SEEN_IN_PRINT,
        ),
        Check(
            "FIT-11b",
            "bore of the free jacket that gives this pressure",
            "Example 22.8, worked results",
            "74.991916",
            "mm",
            lambda: jacket_bore(balanced_pressure(), *tubes(50, 75, 100)),
            Provenance.SEEN_IN_PRINT,
            note=known,
        ),
    )
