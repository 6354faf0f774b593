"""How the rotor behaves as it turns: contact, gap, characteristic speeds."""

from rimmodel.behaviour.contact.speeds import (
    CharacteristicSpeed,
    first_yield,
    float_speed,
    gap_closes,
    interference_for_float_speed,
    speed_at_gap,
)
from rimmodel.behaviour.contact.sweep import Sweep, sweep
from rimmodel.behaviour.quantities import evaluate, quantity_values

__all__ = [
    "CharacteristicSpeed",
    "Sweep",
    "evaluate",
    "first_yield",
    "float_speed",
    "gap_closes",
    "interference_for_float_speed",
    "quantity_values",
    "speed_at_gap",
    "sweep",
]
