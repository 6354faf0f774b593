"""Stop lines of a proving run: the gap below which the speed is not raised any further.

The line at a step is the gap from which not even the steepest gap curve that such a rim can have would lead, at the
next step, below the allowed minimum. It does not rest on the expected interference: a rim that is loose from the
start, or lets go at once, is on the safe side of it too.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.behaviour.contact.coefficients import Coefficients, coefficients
from rimmodel.behaviour.contact.state import pulled_gap
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.allowances import ProvingRun

LEAST_HOOP_STIFFNESS = 0.6
"""Hoop over radial modulus of the loosest overlapped stack (0.6 to 0.9 of solid; from memory)."""

HEAVIER = 1.05
"""Pole mass over that of the case, and flux density over that of the condition, on the worst side."""

NOISE_GUARD = 5.0
"""Standard uncertainties of a mean gap taken off: one reading in three million is worse."""


@dataclass(frozen=True)
class StopLines:
    """Gaps at which to stop: of the mean at each step, of eccentricity and circularity, and of a single pole.

    Attributes
    ----------
    mean_gap : array (step,), m
    single_gap : array (step,), m
        The mean line less what eccentricity and circularity at their stops take.
    eccentricity, circularity : float, m
    guard : float, m
        What reading errors may hide.
    minimum : float, m
        Allowed.
    """

    mean_gap: Floats
    single_gap: Floats
    eccentricity: float
    circularity: float
    guard: float
    minimum: float


def stop_lines(rotor: Rotor, condition: Condition, speed: Floats, run: ProvingRun) -> StopLines:
    """Stop lines for rising speeds.

    Parameters
    ----------
    rotor : Rotor
        With `air_gap.minimum_allowed`, the least mean gap.
    condition : Condition
        Of the run.
    speed : array, rad/s
        Rising, from standstill on.

    Raises
    ------
    ValueError
        No `air_gap.minimum_allowed`; speeds that do not rise.

    Notes
    -----
    Worst rim: hoop stiffness factor 0.6 (or three quarters of the case's where that is less), poles and field 5 % up,
    whichever of seated and floating is steeper, the next speed passed by the overshoot. With a gap ``g`` at speed
    squared x the next gap is ``g' = g + c q(g) - s dx - c q(g')``; at constant current q = K/g^2, and the line is the
    g from which g' is the minimum. Reading errors, 5 standard uncertainties and the offset, come on top. Derived here.
    """
    least = rotor.air_gap.minimum_allowed
    if least is None:
        raise ValueError("air_gap.minimum_allowed is missing; a stop line needs the least mean gap that is allowed")
    if np.any(np.diff(speed) <= 0):
        raise ValueError("speeds of a run-up must rise from step to step")
    minimum = float(least)
    slope, softening = _steepest(rotor, condition)
    following = np.append(speed[1:], speed[-1]) * (1 + float(run.speed_overshoot))
    needed = _gap_before(minimum, slope * (following**2 - speed**2), softening)
    guard = NOISE_GUARD * float(run.sensor_noise) + float(run.sensor_offset)
    cold = float(rotor.air_gap.cold)
    eccentricity, circularity = float(run.eccentricity_share) * cold, float(run.circularity_share) * cold
    lines = needed + guard
    return StopLines(lines, lines - eccentricity - circularity / 2, eccentricity, circularity, guard, minimum)


def _steepest(rotor: Rotor, condition: Condition) -> tuple[float, float]:
    """Fall of the gap per speed squared (m s2), and its softening by a pull K/g^2 (m3), of the worst rim."""
    own = float(rotor.rim.hoop_stiffness_factor)
    rim = replace(rotor.rim, hoop_stiffness_factor=min(LEAST_HOOP_STIFFNESS, 0.75 * own))
    poles = replace(rotor.poles, mass=float(rotor.poles.mass) * HEAVIER)
    field = replace(condition, flux_density=float(condition.flux_density) * HEAVIER)
    model = coefficients(replace(rotor, rim=rim, poles=poles), field)
    lines = (model.seated, model.floating)
    slope = max(float(line.per_speed_squared) for line in lines)
    softening = max(float(line.per_traction) for line in lines) * float(_pull_constant(model))
    return slope, softening


def _pull_constant(model: Coefficients) -> Floats:
    # at constant voltage the pull stays, and what stays does not move the gap
    return model.pull_constant if model.constant_current else np.zeros(())


def _gap_before(minimum: float, fall: Floats, softening: float) -> Floats:
    """Gap (m) from which a fall (m, without pull) leads to the minimum, or to the last gap that a pull leaves open."""
    last = max(minimum, np.cbrt(2 * softening))
    unpulled = last + softening / last**2 + fall if last > 0 else fall
    before: Floats = pulled_gap(np.asarray(unpulled, dtype=float), np.asarray(softening))
    return before
