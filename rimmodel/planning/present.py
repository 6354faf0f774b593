"""The rotor as it is now: as the last recording shows it, or as drawn where none does."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import Any, TypeVar

import numpy as np

from rimmodel.behaviour.limits.check import Check
from rimmodel.behaviour.limits.machine import checks
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.rotor import Rotor
from rimmodel.rotor.case.case import Case

AS_DRAWN = "as drawn"

Part = TypeVar("Part")


def present_case(case: Case, measurement: Measurement | None = None, *, drawn_spider: bool = False) -> tuple[Case, str]:
    """The case with the rotor as it is now, and in words on what that rests.

    With a recording that shows an effective interference, the rotor has the fitted hoop stiffness, spider stiffness and
    interference; what is missing from the interference of the drawing is lost since, to keys and shims or to growth of
    the stack, whichever agrees better with the level of the gaps. The spider is
    then a given spider, known by stiffness and growth alone, keys and the scallop of the rim between them included:
    right for contact pressure, gap and float speed. Stresses in spider and keys need their drawn parts under that
    pressure (`behaviour.limits.checks` takes them as `carrier`), and keys one by one need the drawn spider
    (`drawn_spider`).

    Parameters
    ----------
    measurement : Measurement, optional
        Of the last recording.
    drawn_spider : bool
        Keep spider and keys of the drawing, with the fitted hoop stiffness and interference.

    Returns
    -------
    Case, str

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> present_case(case) == (case, "as drawn")
    True
    """
    if measurement is None:
        return case, AS_DRAWN
    if not is_measured(measurement):
        return case, f"{AS_DRAWN}, as '{measurement.label}' does not determine the effective interference"
    return replace(
        case, rotor=_as_measured(case.rotor, measurement, drawn_spider)
    ), f"as measured in '{measurement.label}'"


def is_measured(measurement: Measurement | None) -> bool:
    """Whether a recording shows an effective interference and may decide, so that the rotor is known as it is."""
    return measurement is not None and measurement.sets_interference


def _as_measured(drawn: Rotor, measurement: Measurement, drawn_spider: bool) -> Rotor:
    """The drawn rotor with what the recording shows: the first, best row of the measured machine where there is one."""
    if not (measurement.machines and measurement.machines[0].noise):
        return drawn.settled_to(measurement.interference)
    machine = measurement.machines[0]
    level = machine.level
    cause = min(level.possible, key=lambda name: abs(level.difference.get(name, 0.0)))
    rotor = _first(machine.carried[cause])
    # what the gap model leaves out, because it fits it apart or holds it in the stiffness of the spider
    found = replace(rotor.fit, friction_interference=drawn.fit.friction_interference, key_count=drawn.key_count)
    if not drawn_spider:
        return replace(rotor, fit=found)
    keyed = replace(found, key_stiffness=drawn.fit.key_stiffness, key_width=drawn.fit.key_width)
    return replace(rotor, spider=drawn.spider, fit=keyed)


def _first(part: Part) -> Part:
    """A part with the first element of its arrays as plain floats."""
    values: dict[str, Any] = {}
    for entry in fields(part):  # type: ignore[arg-type]
        value = getattr(part, entry.name)
        if isinstance(value, np.ndarray | np.generic):
            values[entry.name] = float(np.ravel(value)[0])
        elif is_dataclass(value):
            values[entry.name] = _first(value)
    return replace(part, **values)  # type: ignore[type-var]


def case_checks(case: Case, measurement: Measurement | None = None) -> tuple[Check, ...]:
    """Every check of a case in its worst condition, with the rotor as it is now.

    Stresses in spider and keys are those of the drawn parts under the contact pressure of the measured rotor.
    """
    present, _ = present_case(case, measurement)
    carrier = None if present is case else case.rotor
    return checks(present.rotor, case.conditions, case.limits, case.torque, case.duty, carrier)
