"""Yield and collapse of spinning discs: Hill, Chakrabarty, Gamer, Nadai, Boresi & Schmidt (from memory)."""

from __future__ import annotations

import math

from rimmodel.elastic import Ring
from rimmodel.elastic.plasticity import first_yield_speed, fully_plastic_speed
from validation.check import Check, Provenance

YIELD, DENSITY, OUTSIDE = 320e6, 7850.0, 0.7
SOLID = Ring(0.0, OUTSIDE, 206e9, 0.3, DENSITY)
PIERCED = Ring(OUTSIDE / 4, OUTSIDE, 206e9, 0.3, DENSITY)
SCALE = OUTSIDE * math.sqrt(DENSITY / YIELD)
HILL = "Hill, Mathematical Theory of Plasticity; Chakrabarty; Gamer, from memory: w b sqrt(rho/yield)"
NADAI = "Nadai; Boresi & Schmidt, from memory: 3 (b - a)/(b^3 - a^3) b^2 for b/a = 4"


def first() -> float:
    return float(first_yield_speed(SOLID, YIELD)) * SCALE


def last(disc: Ring) -> float:
    return float(fully_plastic_speed(disc, YIELD)) * SCALE


def checks() -> tuple[Check, ...]:
    recalled = Provenance.FROM_MEMORY
    collapse, ratio = "solid disc: collapse", "solid disc: collapse over first yield"
    annular = "disc with b/a = 4: rho w^2 b^2/yield at collapse"
    return (
        Check("PLA-2a", "solid disc: first yield (Tresca)", HILL, "1.5570", "-", first, recalled),
        Check("PLA-2b", collapse, HILL, "1.7321", "-", lambda: last(SOLID), recalled),
        Check("PLA-2c", ratio, HILL, "1.1124", "-", lambda: last(SOLID) / first(), recalled),
        Check("PLA-1", annular, NADAI, "2.2857", "-", lambda: last(PIERCED) ** 2, recalled),
    )
