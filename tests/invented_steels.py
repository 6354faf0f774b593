"""Invented steels of the rotors in tests: two with numbers of their own, and any that are drawn from a range."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from rimmodel.rotor import Material

RIM_STEEL = Material(206e9, 0.3, 7850.0, 12e-6, yield_strength=500e6)
SPIDER_STEEL = Material(203e9, 0.28, 7800.0, 11e-6)

ANY_STEEL = {
    "young_modulus": (180e9, 220e9),
    "poisson_ratio": (0.2, 0.33),
    "density": (7500.0, 8100.0),
    "thermal_expansion": (9e-6, 18e-6),
    "yield_strength": (200e6, 700e6),
}
"""From any steel to the edge of what a steel can be, with light and soft alloys of it."""

PLATE_STEEL = {
    "young_modulus": (200e9, 212e9),
    "poisson_ratio": (0.27, 0.31),
    "density": (7800.0, 7900.0),
    "thermal_expansion": (11e-6, 12.5e-6),
}
"""What rims and spiders are built of."""


def ranges(of: dict[str, tuple[float, float]], between: Callable[[float, float], Any]) -> dict[str, Any]:
    """Fields of a `Material`, each as `between` makes it of its two ends: drawn numbers, arrays or strategies."""
    return {name: between(low, high) for name, (low, high) in of.items()}
