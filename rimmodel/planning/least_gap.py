"""The least gap of a case against speed, with its band, its place, its forces, and what was taken off unmeasured."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from rimmodel.arrays import Complex, Floats, Interval, floats
from rimmodel.behaviour.axial.along import AxialCurve, axial_curve
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.behaviour.contact.state import contact
from rimmodel.behaviour.least_gap.least import least_gap
from rimmodel.behaviour.least_gap.states import TakenOff, gap_states, taken_off
from rimmodel.planning.predicted import standard_errors
from rimmodel.rotor import Condition
from rimmodel.rotor.case.case import Case

SPEED_STEPS = 41
ANGLES = 361


@dataclass(frozen=True)
class LeastGapAt:
    """The least gap at one named speed.

    Attributes
    ----------
    speed : float, rad/s
    mean, gap : float, m
    interval : pair of float, m
    stator_angle, rotor_angle : float, rad
    margin : float, -
        Stiffness that the shaft has left against the pull, over its own.
    force : complex array (3,), N
        Net pull: standing, once per turn, twice per turn; NaN without a state.
    profile : array (angle,), m
        Least gap met at each place of the stator in one turn.
    """

    name: str
    speed: float
    mean: float
    gap: float
    interval: Interval
    stator_angle: float
    rotor_angle: float
    margin: float
    force: Complex
    profile: Floats


@dataclass(frozen=True)
class LeastGapCurve:
    """The least gap of a case in a condition.

    Attributes
    ----------
    speed : array (n,), rad/s
    mean, gap, low, high : array (n,), m
        Band from the tolerances of the case; NaN where there is no least gap.
    angle : array (angle,), rad
        On the stator.
    confidence : float, -
    """

    condition: str
    speed: Floats
    mean: Floats
    gap: Floats
    low: Floats
    high: Floats
    angle: Floats
    at: tuple[LeastGapAt, ...]
    taken_off: tuple[TakenOff, ...]
    keyed: bool
    confidence: float
    along: AxialCurve | None = None
    """Where something differs along the rim."""


def least_gap_curve(case: Case, name: str, condition: Condition, confidence: float = 0.95) -> LeastGapCurve:
    """The least gap from standstill to the highest speed of a case.

    The band is that of the smeared rim, laid about the gap of the rim followed key by key where shims are uneven.

    Parameters
    ----------
    name : str
        Of the condition.
    confidence : float, -
    """
    rotor = case.rotor
    named = {at: float(value) for at, value in rotor.speeds.from_standstill.items()}
    speed = np.unique([*np.linspace(0.0, float(rotor.speeds.highest), SPEED_STEPS), *named.values()])
    angle = np.linspace(0.0, 2.0 * np.pi, ANGLES)
    found = gap_states(rotor, condition, speed, angle)
    below, above = _band(case, name, speed, confidence)
    low, high = found.gap - below, found.gap + above
    rows = []
    for at, value in named.items():
        i = int(np.argmin(np.abs(speed - value)))
        rows.append(
            LeastGapAt(
                at, value, float(found.mean[i]), float(found.gap[i]), (float(low[i]), float(high[i])),
                float(found.stator_angle[i]), float(found.rotor_angle[i]), float(found.margin[i]),
                found.force[i], found.profile[i],
            )
        )  # fmt: skip
    return LeastGapCurve(
        name, speed, found.mean, found.gap, low, high, angle, tuple(rows), taken_off(rotor, condition), found.keyed,
        confidence, axial_curve(rotor, name, condition, speed, floats(found.gap)),
    )  # fmt: skip


def _band(case: Case, name: str, speed: Floats, confidence: float) -> tuple[Floats, Floats]:
    """How far the least gap reaches below and above with the tolerances of the case, m; NaN where it has no value.

    Each uncorrelated direction of the tolerances is followed to both ends of its interval, and the reaches of each side
    put together in quadrature: a jump where the rim lifts off then counts once, at its own height.
    """
    from rimmodel.behaviour.study.rotor_model import case_inputs, rotor_model

    inputs = case_inputs(case)
    if not inputs.names:
        none = np.zeros(speed.shape)
        return none, none
    covariance = inputs.covariance()
    steps = standard_errors(confidence) * np.linalg.cholesky(covariance + 1e-300 * np.eye(len(covariance)))
    centre = np.array(list(inputs.central().values()))
    rows = np.concatenate([centre[None], centre - steps.T, centre + steps.T])
    rotor, conditions = rotor_model(case, ()).machine(
        {key: rows[:, place, None] for place, key in enumerate(inputs.names)}
    )
    even = replace(rotor, fit=replace(rotor.fit, key_interference=None))
    lines = coefficients(even, conditions[name])
    x = floats(speed**2)
    found = least_gap(even, conditions[name], lines, contact(lines, x), x).gap
    values = np.broadcast_to(found, (len(rows), speed.size))
    change = (values[1:] - values[0]).reshape(2, len(centre), speed.size)
    below = np.sqrt((np.maximum(-change.min(axis=0), 0.0) ** 2).sum(axis=0))
    above = np.sqrt((np.maximum(change.max(axis=0), 0.0) ** 2).sum(axis=0))
    return floats(below), floats(above)
