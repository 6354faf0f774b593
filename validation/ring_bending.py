"""Bending of thin rings under radial loads: Megson, Roark and Timoshenko against the harmonic series of the rim.

A ring of vanishing depth (R = 1, h = 1e-6 R) carries equal point loads; the moment is that of the hoop stress.
"""

from __future__ import annotations

import math
from functools import cache, partial

import numpy as np

from rimmodel.elastic.harmonics import HarmonicRing
from validation.check import Check, Provenance

DEPTH = 1e-6
ROARK = "Roark's Formulas for Stress and Strain (7th ed.), Table 9.2, case 7: equal radial loads, from memory"
MEGSON = "Megson, Aircraft Structures for Engineering Students (4th ed.), p. 132: M = P R (1/pi - sin(theta)/2)"
DIAMETERS = "Timoshenko, Strength of Materials; Roark: ring under two opposite loads, from memory"
EQUAL_LOADS = (
    (15, "0.02199", "0.04383"),
    (30, "0.04507", "0.08890"),
    (45, "0.07049", "0.13662"),
    (60, "0.09989", "0.18879"),
    (90, "0.18169", "0.31831"),
)
"""Half the angle between loads in degrees, moment midway and moment under a load over W R."""


@cache
def moments(count: int) -> tuple[float, float]:
    """Moments under a load and midway between loads over W R, of `count` equal radial loads W.

    M is (outer - inner edge stress) h^2/12 of every harmonic that the loads excite.
    """
    h = DEPTH
    n = count * np.arange(1.0, 1e5 / count)
    ring = HarmonicRing(1.0 - h / 2, 1.0 + h / 2, 1.0, 0.3)
    inner, outer = ring.state(n, 1.0 - h / 2).hoop_stress, ring.state(n, 1.0 + h / 2).hoop_stress
    moment = (outer - inner) * h**2 / 12.0 * count / math.pi
    return float(moment.sum()), float(-(moment * (-1.0) ** np.arange(1, n.size + 1)).sum())


@cache
def diameters() -> tuple[float, float]:
    """Growth of the loaded diameter and of the one across it over P R^3/(E I), two opposite loads P."""
    h = 1e-5
    n = np.arange(2.0, 400.0, 2.0)
    w = 2.0 / math.pi * HarmonicRing(1.0 - h / 2, 1.0 + h / 2, 1.0, 0.3).compliance(n) * h**3 / 12.0
    return float(2.0 * w.sum()), float(2.0 * (w * (-1.0) ** (n / 2)).sum())


def checks() -> tuple[Check, ...]:
    return (*_equal_loads(), *_two_loads())


def _equal_loads() -> tuple[Check, ...]:
    recalled = partial(Check, source=ROARK, unit="W R", provenance=Provenance.FROM_MEMORY)
    rows = []
    for half, midway, under in EQUAL_LOADS:
        count = 180 // half
        rows += [
            recalled(
                f"RNG-2.{count}a",
                f"{count} equal loads: moment midway",
                printed=midway,
                ours=partial(_moment, count, 1),
            ),
            recalled(
                f"RNG-2.{count}b",
                f"{count} equal loads: moment under a load",
                printed=under,
                ours=partial(_moment, count, 0),
            ),
        ]
    return tuple(rows)


def _two_loads() -> tuple[Check, ...]:
    seen, recalled = Provenance.SEEN_IN_PRINT, Provenance.FROM_MEMORY
    return (
        Check(
            "RNG-1a", "two opposite loads: moment under a load", MEGSON, "0.3183", "P R", lambda: moments(2)[0], seen
        ),
        Check("RNG-1b", "two opposite loads: moment midway", MEGSON, "0.1817", "P R", lambda: moments(2)[1], seen),
        Check(
            "RNG-4a",
            "growth of the loaded diameter",
            DIAMETERS,
            "0.149",
            "P R^3/(E I)",
            lambda: diameters()[0],
            recalled,
        ),
        Check(
            "RNG-4b",
            "growth of the diameter across",
            DIAMETERS,
            "-0.137",
            "P R^3/(E I)",
            lambda: diameters()[1],
            recalled,
        ),
    )


def _moment(count: int, place: int) -> float:
    return moments(count)[place]
