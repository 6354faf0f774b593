"""Discs of varying thickness: the disc of uniform strength (Hearn), the hyperbolic disc (Stodola, Timoshenko).

Ours is made of straight segments, whose error falls with the square of their length; three divisions are
extrapolated (Richardson), so what is compared is the theory and not the division.
"""

from __future__ import annotations

from functools import cache, partial

import numpy as np

from rimmodel.elastic.disc import Disc
from rimmodel.units import MEGAPASCAL, MILLIMETRE, RPM
from validation.check import Check, Provenance

STRESS, DENSITY, SPEED, OUTSIDE = 80 * MEGAPASCAL, 8000.0, 3000 * RPM, 0.5
HEARN = "Hearn, Mechanics of Materials 2 (3rd ed.), chapter 4, summary, p. 118: h = h0 exp(-rho w^2 r^2/(2 sigma))"
STODOLA = "Stodola, Steam and Gas Turbines; Timoshenko, Strength of Materials II, thickness c/r, form from memory"
DIVISION = "straight segments, extrapolated to none: 1e-8"


@cache
def uniform_strength(segments: int, place: float) -> float:
    """Hoop stress in MPa where all is 80 MPa."""
    radii = np.linspace(0.0, OUTSIDE, segments + 1)
    thicknesses = 0.02 * np.exp(-DENSITY * SPEED**2 * radii**2 / (2 * STRESS))
    state = Disc(radii, thicknesses, 200e9, 0.3, DENSITY).state(place, SPEED, outer_traction=STRESS)
    return float(state.hoop_stress) / MEGAPASCAL


def extrapolated(place: float) -> float:
    coarse, fine = uniform_strength(800, place), uniform_strength(1600, place)
    return (4 * fine - coarse) / 3


@cache
def hyperbolic() -> tuple[float, float, float]:
    """Hoop stress at bore and outside in MPa, bore displacement in mm: 0.1/0.5 m, 300 rad/s, E 200 GPa, 7850 kg/m^3."""
    radii = np.geomspace(0.1, 0.5, 401)
    state = Disc(radii, 0.001 / radii, 200e9, 0.3, 7850.0).state(radii[[0, -1]], 300.0)
    bore, outer = (state.hoop_stress / MEGAPASCAL).tolist()
    return bore, outer, float(state.radial_displacement[0]) / MILLIMETRE


def stodola() -> tuple[float, float, float]:
    """The same by the closed form: u of powers (1 +- sqrt(5 + 4 nu))/2, forced part r^3."""
    a, b, nu, modulus, spin = 0.1, 0.5, 0.3, 200e9, 7850.0 * 300.0**2
    plane = modulus / (1 - nu**2)
    powers = 0.5 + np.array([1.0, -1.0]) * np.sqrt(1.25 + nu)
    forced = -spin / plane / (5 - nu)
    edges = np.array([[(n + nu) * r ** (n - 1) for n in powers] for r in (a, b)])
    free = np.linalg.solve(edges, [-forced * (3 + nu) * r**2 for r in (a, b)])
    terms = [*zip(free, powers, strict=True), (forced, 3.0)]
    hoop = [plane * sum(c * (1 + nu * n) * r ** (n - 1) for c, n in terms) / MEGAPASCAL for r in (a, b)]
    return hoop[0], hoop[1], sum(c * a**n for c, n in terms) / MILLIMETRE


def checks() -> tuple[Check, ...]:
    same = partial(Check, tolerance=1e-8, reason=DIVISION)
    rows = [
        same(
            f"VAR-1{letter}",
            f"disc of uniform strength, 80 MPa: hoop stress at {place:g} m",
            HEARN,
            "80",
            "MPa",
            partial(extrapolated, place),
            Provenance.SEEN_IN_PRINT,
        )
        for letter, place in (("a", 0.0), ("b", 0.3125), ("c", 0.5))
    ]
    names = (("hoop stress at the bore", "MPa"), ("hoop stress outside", "MPa"), ("growth of the bore", "mm"))
    for place, (what, unit) in enumerate(names):
        rows.append(
            Check(
                f"VAR-2{'abc'[place]}",
                f"disc of thickness c/r: {what}",
                STODOLA,
                stodola()[place],
                unit,
                partial(_hyperbolic, place),
                Provenance.FROM_MEMORY,
                tolerance=1e-9,
                reason="equal errors of segments in geometric progression cancel: round-off of 400 segments",
            )
        )
    return tuple(rows)


def _hyperbolic(place: int) -> float:
    return hyperbolic()[place]
