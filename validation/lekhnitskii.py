"""Lekhnitskii, Anisotropic Plates: rings and rotating discs of cylindrical anisotropy (formulas from memory).

With k^2 = E_t/E_r and c = a/b. His Poisson's ratio nu_t is the contraction under hoop stress; ours is the hoop
strain under radial stress, nu = nu_t/k^2. The rotating disc::

    s_r = P [A (r/b)^(k-1) + (1 - A) (b/r)^(k+1) - (r/b)^2],    A = (1 - c^(k+3))/(1 - c^(2k))
    s_t = P [k A (r/b)^(k-1) - k (1 - A) (b/r)^(k+1)] - rho w^2 r^2 (k^2 + 3 nu_t)/(9 - k^2)
    P = (3 + nu_t) rho w^2 b^2/(9 - k^2)
"""

from __future__ import annotations

from functools import partial

from rimmodel.elastic import Ring
from rimmodel.units import MEGAPASCAL, MILLIMETRE
from validation.check import FORMULA, ROUND_OFF, Check, Provenance
from validation.shooting import Layer, shoot

BORE, OUTSIDE, SPEED, DENSITY = 0.1, 0.3, 1000.0, 1600.0
RADIAL_MODULUS, HOOP_POISSON = 10e9, 0.3


def disc(factor: float) -> Ring:
    return Ring(BORE, OUTSIDE, RADIAL_MODULUS, HOOP_POISSON / factor, DENSITY, factor)


def formula(radius: float, factor: float) -> tuple[float, float]:
    """Radial and hoop stress of the rotating disc in MPa, by the formula above."""
    k, c, s, nu = factor**0.5, BORE / OUTSIDE, radius / OUTSIDE, HOOP_POISSON
    inertia = DENSITY * (SPEED * OUTSIDE) ** 2
    share = (1 - c ** (k + 3)) / (1 - c ** (2 * k))
    rising, falling = share * s ** (k - 1), (1 - share) * s ** (-k - 1)
    peak = (3 + nu) * inertia / (9 - factor)
    radial = peak * (rising + falling - s**2)
    hoop = peak * k * (rising - falling) - inertia * s**2 * (factor + 3 * nu) / (9 - factor)
    return radial / 1e6, hoop / 1e6


def integrated_hoop(factor: float, edge: int) -> float:
    """Hoop stress in MPa at the bore (0) or outside (1), by numerical integration."""
    return float(shoot([_layer(factor)], speed=SPEED).hoop_stress[0, edge]) / 1e6


def integrated_growth(factor: float) -> float:
    """Radial displacement in mm of the outside, by numerical integration."""
    return float(shoot([_layer(factor)], speed=SPEED).displacement[0, 1]) / 1e-3


def _layer(factor: float) -> Layer:
    return Layer(BORE, OUTSIDE, RADIAL_MODULUS, factor * RADIAL_MODULUS, HOOP_POISSON / factor, DENSITY)


def checks() -> tuple[Check, ...]:
    rotating = "rotating disc of cylindrical anisotropy, from memory"
    pressed = "ring of cylindrical anisotropy under pressure, from memory: k (1 + c^(2k))/(1 - c^(2k))"
    convention = "E_t/E_r = 4; his Poisson's ratio 0.3 is 0.075 in ours."
    method, accuracy = "numerical integration of the field equations", "the integration steps at 1e-12"
    spun = [
        ("ORT-3a", "bore hoop stress", 1, BORE),
        ("ORT-3b", "outside hoop stress", 1, OUTSIDE),
        ("ORT-3c", "radial stress midway", 0, 0.2),
    ]
    return (
        *(
            Check(
                identity,
                f"{what} of a rotating disc of 0.1/0.3 m, E_t = 4 E_r",
                rotating,
                formula(radius, 4.0)[component],
                "MPa",
                partial(_ours, radius, 4.0, component),
                Provenance.FROM_MEMORY,
                tolerance=ROUND_OFF,
                reason=FORMULA,
                note=convention,
            )
            for identity, what, component, radius in spun
        ),
        *(
            Check(
                identity,
                f"bore hoop stress of that disc with E_t = {factor:g} E_r",
                method,
                integrated_hoop(factor, 0),
                "MPa",
                partial(_ours, BORE, factor, 1),
                Provenance.INDEPENDENT_METHOD,
                tolerance=1e-9,
                reason=accuracy,
                note=note,
            )
            for identity, factor, note in (
                ("ORT-3d", 4.0, convention),
                ("ORT-5", 9.0, "Here the closed form divides zero by zero."),
                ("ORT-6", 0.7, "As soft in the hoop direction as a rim of overlapped sheets may be."),
            )
        ),
        Check(
            "ORT-9",
            "growth of the outside of that disc with E_t = 0.7 E_r",
            method,
            integrated_growth(0.7),
            "mm",
            lambda: disc(0.7).radial_displacement(OUTSIDE, speed=SPEED) / MILLIMETRE,
            Provenance.INDEPENDENT_METHOD,
            tolerance=1e-9,
            reason=accuracy,
        ),
        # c = 1/3, k = 2: c^4 = 1/81, 2 (82/81)/(80/81) = 2.05
        Check(
            "ORT-7",
            "bore hoop stress per pressure inside, ring of b/a = 3 with E_t = 4 E_r",
            pressed,
            "2.05",
            "-",
            lambda: disc(4.0).state(BORE, inner_pressure=1.0).hoop_stress,
            Provenance.FROM_MEMORY,
            tolerance=ROUND_OFF,
            reason=FORMULA,
        ),
        Check(
            "ORT-8",
            "outside hoop stress per pressure outside, the same ring",
            pressed,
            "-2.05",
            "-",
            lambda: disc(4.0).state(OUTSIDE, outer_traction=-1.0).hoop_stress,
            Provenance.FROM_MEMORY,
            tolerance=ROUND_OFF,
            reason=FORMULA,
        ),
    )


def _ours(radius: float, factor: float, component: int) -> float:
    """Radial (0) or hoop (1) stress in MPa of the spun disc."""
    state = disc(factor).state(radius, speed=SPEED)
    return float((state.radial_stress, state.hoop_stress)[component]) / MEGAPASCAL
