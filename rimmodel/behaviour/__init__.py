"""How the rotor behaves as it turns: contact, gap, landmarks."""

from rimmodel.behaviour.landmarks import (
    Landmark,
    first_yield,
    float_speed,
    gap_closes,
    interference_for_float_speed,
    speed_at_gap,
)
from rimmodel.behaviour.sweep import Sweep, sweep

__all__ = [
    "Landmark",
    "Sweep",
    "first_yield",
    "float_speed",
    "gap_closes",
    "interference_for_float_speed",
    "speed_at_gap",
    "sweep",
]
