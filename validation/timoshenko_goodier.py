"""Timoshenko & Goodier, Theory of Elasticity (3rd ed. 1970, articles from memory): rotating discs and thick rings."""

from __future__ import annotations

from rimmodel.elastic import Ring
from rimmodel.units import MEGAPASCAL
from validation.check import FORMULA, ROUND_OFF, Check, Provenance

DISC = Ring(0.2, 1.0, 206e9, 0.3, 7850.0)
SPEED = 100.0


def bore_stress(hoop_stiffness_factor: float = 1.0) -> float:
    ring = Ring(0.2, 1.0, 206e9, 0.3, 7850.0, hoop_stiffness_factor)
    return float(ring.state(0.2, speed=SPEED).hoop_stress) / MEGAPASCAL


def hole_over_solid() -> float:
    solid = Ring(0.0, 1.0, 206e9, 0.3, 7850.0).state(0.0, speed=SPEED).hoop_stress
    return float(Ring(1e-4, 1.0, 206e9, 0.3, 7850.0).state(1e-4, speed=SPEED).hoop_stress / solid)


def pulled_hole() -> float:
    return float(Ring(1e-4, 1.0, 206e9, 0.3, 7850.0).state(1e-4, outer_traction=1.0).hoop_stress)


def checks() -> tuple[Check, ...]:
    quoted = "Art. 32 (rotating disks), as quoted in a worked note on an annular disc of 0.2/1.0 m at 100 rad/s"
    inferred = "Density 7850 kg/m3 and Poisson's ratio 0.3 are not printed: inferred, because they give the number."
    recalled = "Art. 32, from memory"
    solid = Ring(0.0, 1.0, 200e9, 0.3, 8000.0)
    return (
        Check(
            "ROT-1",
            "bore hoop stress of a rotating annular disc",
            quoted,
            "65.312",
            "MPa",
            bore_stress,
            Provenance.SEEN_IN_PRINT,
            note=inferred,
        ),
        Check(
            "ORT-4",
            "the same from the orthotropic field, E_hoop/E_radial = 1 + 1e-6",
            quoted,
            "65.312",
            "MPa",
            lambda: bore_stress(1.0 + 1e-6),
            Provenance.SEEN_IN_PRINT,
            note=inferred + " A check of the limit, not a printed orthotropic number.",
        ),
        Check(
            "ROT-3",
            "peak hoop stress of a disc with a vanishing hole, over that of the solid disc",
            "Art. 32: a small hole doubles the stress (also stated in a public lecture on rotating discs)",
            2.0,
            "-",
            hole_over_solid,
            Provenance.SEEN_IN_PRINT,
            tolerance=1e-8,
            reason="the hole of 1e-4 of the outer radius adds (1 - nu)/(3 + nu) 1e-8 = 2e-9 by the same formula",
        ),
        Check(
            "TG-1",
            "centre stress of a solid disc of 1 m, 8000 kg/m3, nu 0.3 at 100 rad/s",
            recalled + ": (3 + nu)/8 rho w^2 b^2",
            "33",  # 3.3/8 x 8000 x 1e4 Pa
            "MPa",
            lambda: solid.state(0.0, speed=SPEED).hoop_stress / MEGAPASCAL,
            Provenance.FROM_MEMORY,
            tolerance=ROUND_OFF,
            reason=FORMULA,
        ),
        Check(
            "TG-2",
            "growth of its edge, E 200 GPa",
            recalled + ": (1 - nu) rho w^2 b^3/(4 E)",
            "70e-6",  # 0.7 x 8000 x 1e4/(8e11) m
            "m",
            lambda: solid.radial_displacement(1.0, speed=SPEED),
            Provenance.FROM_MEMORY,
            tolerance=ROUND_OFF,
            reason=FORMULA,
        ),
        Check(
            "TG-3",
            "hoop stress at a small hole in a sheet that is pulled alike from all sides, per pull",
            "Art. 28 (thick ring), from memory: twice the pull",
            2.0,
            "-",
            pulled_hole,
            Provenance.FROM_MEMORY,
            tolerance=2e-8,
            reason="the hole has 1e-4 of the outer radius: 1e-8 by the formula 2 b^2/(b^2 - a^2)",
        ),
    )
