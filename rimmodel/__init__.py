"""Float speed, shrink fit and air gap of hydro-generator rotor rims.

>>> import rimmodel as rm
>>> case = rm.example_case()
>>> rm.float_speed(case.rotor, case.conditions["cold"]).note
'lifts off at 186.2 rpm, 1.490 x rated'
"""

from rimmodel.behaviour import (
    first_yield,
    float_speed,
    gap_closes,
    interference_for_float_speed,
    speed_at_gap,
    sweep,
)
from rimmodel.rotor.case.case import Case, CaseError, example_case, read_case
from rimmodel.verdict import review
from rimmodel.version import VERSION

__version__ = VERSION

__all__ = [
    "Case",
    "CaseError",
    "__version__",
    "example_case",
    "first_yield",
    "float_speed",
    "gap_closes",
    "interference_for_float_speed",
    "read_case",
    "review",
    "speed_at_gap",
    "sweep",
]
