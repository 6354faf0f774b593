"""How the rotor behaves as it turns: contact, gap, landmarks."""

from rimmodel.behaviour.contact.speeds import (
    Landmark,
    first_yield,
    float_speed,
    gap_closes,
    interference_for_float_speed,
    speed_at_gap,
)
from rimmodel.behaviour.contact.sweep import Sweep, sweep

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
