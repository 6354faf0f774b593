"""All checks of a machine against its limits, each in the condition in which it is worst."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rimmodel.behaviour.contact.sweep import Sweeps
from rimmodel.behaviour.limits.check import Check, worst
from rimmodel.behaviour.limits.fatigue import fatigue_checks
from rimmodel.behaviour.limits.of_quantities import quantity_checks
from rimmodel.behaviour.limits.rim import rim_checks
from rimmodel.behaviour.limits.spider import spider_checks
from rimmodel.rotor import UNIFORM_COLD, Condition, Rotor
from rimmodel.rotor.allowances import DutyCycle, Limits, Torque

AS_ASSEMBLED = "as assembled"
"""Name of the uniform 20 degC without field, in which the interference is full."""


def checks(
    rotor: Rotor,
    conditions: Mapping[str, Condition],
    limits: Limits | None = None,
    torque: Torque | None = None,
    duty: Sequence[DutyCycle] = (),
    carrier: Rotor | None = None,
) -> tuple[Check, ...]:
    """Every check of rim, spider, keys, torque and life, in the condition that makes it worst.

    Parameters
    ----------
    rotor : Rotor
        Any field may be an array; the rows then hold arrays.
    conditions : mapping of str to Condition
        The uniform 20 degC of assembly is added where none of them is that.
    limits : Limits, optional
        The defaults when None.
    carrier : Rotor, optional
        Spider and keys as built, where `rotor` knows their stiffness alone, as after a fit.

    Returns
    -------
    tuple of Check
        One row per check and speed. A check whose input the machine does not give is a row that says what is missing.

    Raises
    ------
    ValueError
        An endurance limit that is no less than 0.9 of the ultimate strength.

    Notes
    -----
    Hand-over of stress through keys, bending of arms, and stress at single keys are not in these checks.

    The invented unit keeps half of yield at rated speed:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> rows = checks(case.rotor, case.conditions, case.limits)
    >>> row = next(row for row in rows if row.name.startswith("rim bore hoop") and row.at == "rated")
    >>> bool(row.holds), row.source
    (True, 'from memory, confirm in your copy')
    """
    allowed = Limits() if limits is None else limits
    states = dict(conditions)
    if UNIFORM_COLD not in states.values():
        states = {AS_ASSEMBLED: UNIFORM_COLD, **states}
    rows: list[Check] = []
    for name, condition in states.items():
        rows += checks_in(condition, name, rotor, allowed, torque, duty, carrier)
    return worst(rows)


def checks_in(
    condition: Condition,
    name: str,
    rotor: Rotor,
    limits: Limits,
    torque: Torque | None = None,
    duty: Sequence[DutyCycle] = (),
    carrier: Rotor | None = None,
) -> list[Check]:
    """Every check in one condition; arguments and errors as in `checks`."""
    sweeps = Sweeps(rotor, condition)
    return [
        *rim_checks(rotor, condition, name, limits, sweeps),
        *spider_checks(rotor, condition, name, limits, torque, carrier, sweeps),
        *fatigue_checks(rotor, condition, name, limits, duty, sweeps),
        *quantity_checks(rotor, condition, name, limits, carrier),
    ]
