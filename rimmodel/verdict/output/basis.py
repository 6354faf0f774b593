"""Which interference the numbers of a command stand for that knows the drawing alone, and what it leaves out."""

from __future__ import annotations

from typing import Any

import numpy as np

from rimmodel.rotor import Condition
from rimmodel.rotor.case.case import Case
from rimmodel.units import in_mm, mm

MEAN_ALONG = (
    "float speeds, fit and mean gaps here are those of the mean over the length of the rim: where [axial] or "
    "rim_temperature_taper make it differ, one end lifts off before that; 'rimmodel least-gap' shows first and last "
    "lift-off along the rim, and a requirement of first_lift_off holds the worst place to a limit"
)

ALONG = (
    "[axial] and rim_temperature_taper are not in these numbers: keys are followed with the mean over the length of "
    "the rim, and one end lifts off before them; 'rimmodel least-gap' shows first and last lift-off along the rim"
)


def table(case: Case) -> dict[str, Any]:
    """The interference that was computed with, for JSON."""
    return {
        "interference_mm": in_mm(float(np.mean(np.asarray(case.rotor.fit.interference)))),
        "interference_basis": "stated in the case",
        "interference_note": text(case),
    }


def text(case: Case) -> str:
    """The interference that was computed with, and how to take one that was measured, in words."""
    fitted = float(np.mean(np.asarray(case.rotor.fit.interference)))
    stated = f"interference: {mm(fitted)}, as the case states it (fit.interference)"
    if not case.records:
        return f"{stated}; the case names no recording"
    return (
        f"{stated}; the recordings of the case are not used here: for the rim as measured, enter the effective "
        "interference that 'rimmodel fit' shows as fit.interference (and single keys as fit.key_interference), with "
        "fit.settlement zero, in a copy of the case"
    )


def along_note(case: Case, *conditions: Condition) -> str:
    """That what differs along the rim is left out, where anything does; else empty.

    Of numbers key by key in the conditions that are named; without any of numbers of the rim in all conditions.
    """
    if conditions:
        return ALONG if any(map(case.rotor.differs_along, conditions)) else ""
    return MEAN_ALONG if any(map(case.rotor.differs_along, case.conditions.values())) else ""
