"""A clamped stack in its first run to a high speed: from where it slips, and what that leaves, over what is possible.

The run is followed without field and with the stack new. Up to the speed at which they slip the laminations hold, and
the rim is that of the sweep; as it slows they hold again, so what has slipped stays, less what a weak stack slips back.
So the growth that stays is not always largest with the weakest clamping: force, friction and stiffness are stepped
through between both ends of what is possible.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.behaviour.contact.slip import Clamping, slip_run
from rimmodel.behaviour.contact.speeds import float_speed
from rimmodel.elastic.burst import mean_hoop_stress
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.clamping import ClampedStack

STRENGTHS, SHARES = 17, 2
"""Steps from the weakest to the strongest clamping, which miss the most growth by 2 %, and of the stiffness beyond."""


@dataclass(frozen=True)
class StackSlip:
    """The first run to a speed; pairs are the least and the most over all clamping that is possible.

    Attributes
    ----------
    highest : float, rad/s
        To which the run goes.
    slips_from : pair of float, rad/s
        Speed at which the laminations start to slip; 0 where the shrink alone makes them, infinite where they hold.
    growth : pair of float, m
        Of the rim bore, left at standstill.
    interference : pair of float, m
        Left at standstill.
    interference_before : float, m
    float_speed : pair of float, rad/s
        In the condition with its field; no more than an upper bound beyond `highest`, where the stack slips anew.
    """

    highest: float
    slips_from: tuple[float, float]
    growth: tuple[float, float]
    interference: tuple[float, float]
    interference_before: float
    float_speed: tuple[float, float]


def clampings(stack: ClampedStack) -> list[Clamping]:
    """The clamping that a stack can have, from the weakest to the strongest, each with every stiffness beyond slip."""
    force, friction, share = (
        np.linspace(*pair, count)
        for pair, count in (
            (stack.stud_force, STRENGTHS),
            (stack.friction_coefficient, STRENGTHS),
            (stack.slipping_share, SHARES),
        )
    )
    count, overlap, sheet = int(stack.stud_count), float(stack.segment_overlap), float(stack.sheet_thickness)
    return [
        Clamping(float(pull), count, float(rubs), overlap, sheet, float(part))
        for pull, rubs in zip(force, friction, strict=True)
        for part in share
    ]


def slip_speed(rotor: Rotor, condition: Condition, clamping: Clamping, highest: float) -> float:
    """Speed at which the laminations of a new stack start to slip; single numbers, the field left out.

    Parameters
    ----------
    highest : float, rad/s
        Up to which it is looked for.

    Returns
    -------
    float, rad/s
        0 where the shrink alone makes them slip, infinite where they hold up to the highest speed. Derived here.

    Studs of 600 kN hold the built-in rim, those of 5 kN not even its shrink:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> top = case.rotor.speeds.runaway
    >>> cold, studs = case.conditions["cold"], Clamping(6e5, 300, 0.2, 0.9, 3e-3, 0.4)
    >>> [slip_speed(case.rotor, cold, one, top) for one in (studs, replace(studs, stud_force=5e3))]
    [inf, 0.0]
    """
    from scipy.optimize import brentq

    still = replace(condition, flux_density=0.0)
    model = coefficients(rotor, still)
    limit = float(clamping.slip_stress(rotor))

    def beyond(squared: float) -> float:
        pressure = max(float(model.interference(floats(squared), floats(0.0))), 0.0) / float(model.compliance)
        traction = float(model.pole_traction) * squared
        return float(mean_hoop_stress(rotor.rim.ring, np.sqrt(squared), pressure, traction)) - limit

    if beyond(0.0) >= 0:
        return 0.0
    if beyond(highest**2) < 0:
        return float("inf")
    return float(np.sqrt(brentq(beyond, 0.0, highest**2, rtol=1e-13)))


def stack_slip(rotor: Rotor, condition: Condition, stack: ClampedStack, highest: float) -> StackSlip:
    """Follow the first run of a clamped stack to a speed and back to standstill; single numbers.

    Parameters
    ----------
    highest : float, rad/s

    Returns
    -------
    StackSlip

    Nothing is left of a run in which the stack holds:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> stack = ClampedStack((6e5, 8e5), 300, (0.2, 0.2), 0.9, 3e-3)
    >>> stack_slip(case.rotor, case.conditions["cold"], stack, case.rotor.speeds.runaway).growth
    (0.0, 0.0)
    """
    still = replace(condition, flux_density=0.0)
    before = float(coefficients(rotor, still).interference(floats(0.0), floats(0.0)))
    rows = [_first_run(rotor, still, clamping, highest) for clamping in clampings(stack)]
    starts, grown, left = (np.array(values) for values in zip(*rows, strict=True))
    fit = replace(rotor.fit, stack_growth=floats(rotor.fit.stack_growth) + grown)
    after = np.asarray(float_speed(replace(rotor, fit=fit), condition).speed)
    return StackSlip(highest, _ends(starts), _ends(grown), _ends(left), before, _ends(after))


def _first_run(rotor: Rotor, still: Condition, clamping: Clamping, highest: float) -> tuple[float, float, float]:
    """Slip speed, and growth and interference left at standstill."""
    starts = slip_speed(rotor, still, clamping, highest)
    path = [0.0, highest, 0.0] if np.isfinite(starts) else [0.0]
    run = slip_run(rotor, still, path, clamping)
    grown = float(run.slip_growth[-1]) if np.isfinite(starts) else 0.0
    return starts, grown, float(run.residual_interference[-1])


def _ends(values: Floats) -> tuple[float, float]:
    return float(values.min()), float(values.max())
