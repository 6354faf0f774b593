"""Heat in discs and tubes: Timoshenko & Goodier, Theory of Elasticity (2nd ed. 1951).

`Ring` takes a temperature that is linear in radius. Other profiles are followed by many thin rings, each with a
linear rise, joined by their displacements. A long tube is a plane-stress ring with the constants of plane strain,
E/(1 - nu^2), nu/(1 - nu), alpha (1 + nu); its axial stress follows from E eps_z = s_z - nu (s_r + s_t) + E alpha T
with an eps_z that leaves no axial force.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rimmodel.elastic import Ring
from rimmodel.units import GIGAPASCAL, MEGAPASCAL
from validation.check import Check, Provenance
from validation.compound import interface_pressures, states

Floats = NDArray[np.float64]
MODULUS, POISSON, EXPANSION = 200 * GIGAPASCAL, 0.3, 1e-5
SLICES = 800


def edge_hoop_stresses(radii: Floats, rise: Floats, modulus: float, poisson: float, expansion: float) -> Floats:
    """Hoop stress (Pa) at bore and outside of one ring cut at `radii` (m), with a rise (K) linear between them."""
    rings = Ring(radii[:-1], radii[1:], modulus, poisson, 0.0, thermal_expansion=expansion)
    pair = (rise[:-1], rise[1:])
    pressures = interface_pressures(rings, temperature=pair)
    bore = states(rings, rings.inner_radius, pressures, temperature=pair).hoop_stress
    outside = states(rings, rings.outer_radius, pressures, temperature=pair).hoop_stress
    return np.array([bore[0], outside[-1]])


def tube() -> tuple[float, float]:
    """Hoop and axial stress (MPa) outside a tube of 0.5/0.7 m with free ends, 0 K inside to 100 K outside."""
    radii = np.linspace(0.5, 0.7, SLICES + 1)
    rise = 100 * np.log(radii / 0.5) / np.log(0.7 / 0.5)
    strained = MODULUS / (1 - POISSON**2), POISSON / (1 - POISSON), EXPANSION * (1 + POISSON)
    hoop = float(edge_hoop_stresses(radii, rise, *strained)[1])
    # area mean of the piecewise linear rise; free faces leave the area mean of s_r + s_t at zero
    first, last, low, high = radii[:-1], radii[1:], rise[:-1], rise[1:]
    moment = np.sum((last - first) * (low * (2 * first + last) + high * (first + 2 * last)) / 6)
    mean = float(2 * moment / (0.7**2 - 0.5**2))
    axial = POISSON * hoop - MODULUS * EXPANSION * (100 - mean)
    return hoop / MEGAPASCAL, axial / MEGAPASCAL


def disc() -> Floats:
    """Hoop stress (MPa) at centre and edge of a solid disc, rise 50 K (r/b)^2."""
    radii = np.linspace(0.0, 1.0, SLICES + 1)
    return edge_hoop_stresses(radii, 50 * radii**2, MODULUS, POISSON, EXPANSION) / MEGAPASCAL


def thin_ring() -> float:
    """Bore hoop stress (MPa) of a ring of 1 m, 1 mm deep, 100 K warmer outside than inside."""
    ring = Ring(0.9995, 1.0005, MODULUS, POISSON, 0.0, thermal_expansion=EXPANSION)
    return float(ring.state(0.9995, temperature=(0.0, 100.0)).hoop_stress) / MEGAPASCAL


def checks() -> tuple[Check, ...]:
    tube_source = "case 135, p. 412 (long tube, logarithmic temperature), as quoted in a public worked comparison"
    conversion = f"{SLICES} thin rings with a linear rise each; plane strain by its constants."
    disc_source = "thin-disc thermal integrals from memory, worked out by hand for T = T1 (r/b)^2"
    pieces = (
        f"{SLICES} chords lie above the parabola by T1/(6 x {SLICES}^2) on average: 2.6e-7 of T1, up to 1e-6 in stress"
    )
    return (
        Check(
            "TH-3a",
            "hoop stress outside a tube of 0.5/0.7 m, 100 K warmer outside, ends free",
            tube_source,
            "-126.9543",
            "MPa",
            lambda: tube()[0],
            Provenance.SEEN_IN_PRINT,
            note=conversion,
        ),
        Check(
            "TH-3b",
            "axial stress there",
            tube_source,
            "-126.9543",
            "MPa",
            lambda: tube()[1],
            Provenance.SEEN_IN_PRINT,
            note=conversion + " Axial stress from ours by Hooke's law.",
        ),
        Check(
            "TH-6a",
            "edge hoop stress of a solid disc, rise 50 K (r/b)^2",
            disc_source + ": -E alpha T1/2",
            "-50",
            "MPa",
            lambda: disc()[1],
            Provenance.FROM_MEMORY,
            tolerance=1e-6,
            reason=pieces,
        ),
        Check(
            "TH-6b",
            "centre hoop stress of that disc",
            disc_source + ": E alpha T1/4",
            "25",
            "MPa",
            lambda: disc()[0],
            Provenance.FROM_MEMORY,
            tolerance=1e-6,
            reason=pieces,
        ),
        Check(
            "TH-7",
            "bore hoop stress of a thin ring, 100 K warmer outside",
            "bending of a bar that is kept straight, from memory: E alpha dT/2",
            "100",
            "MPa",
            thin_ring,
            Provenance.FROM_MEMORY,
            tolerance=1e-3,
            reason="the formula is the limit of a ring of no depth; this one is 1e-3 of its radius deep",
        ),
    )
