"""Rotors that a case may describe, as the back-fit sees them: what is expected of a run before it is made."""

from __future__ import annotations

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.backfit.fitter import PRIOR_SD, Freedom
from rimmodel.evidence.backfit.gap_model import PARAMETERS, SCALES, gap_model
from rimmodel.evidence.backfit.least_squares import jacobian
from rimmodel.rotor import Condition, Rotor

SAMPLES = 4000
"""Rotors drawn for the bands of gap and float speed; with a fixed seed, so that a plan stays the same."""

RIMS = 200
"""Of these, over which the precision is averaged."""


def _draws(rotor: Rotor, sensor_offset: float = 0.0) -> Floats:
    """Unknowns (rotor, parameter) of `SAMPLES` rotors that the case may describe."""
    normal = np.zeros((SAMPLES, len(PARAMETERS)))  # a plan knows of no recorded temperatures, whose gains stay zero
    drawn = PARAMETERS.index("rim_gain")
    normal[:, :drawn] = np.random.default_rng(20).normal(size=(SAMPLES, drawn))
    deviation = np.zeros(len(PARAMETERS))
    deviation[0] = float(rotor.fit.interference_tolerance) / 2
    for name, share in PRIOR_SD.items():
        deviation[PARAMETERS.index(name)] = share
    deviation[PARAMETERS.index("gap_offset")] = sensor_offset / 2
    return _centre(rotor) + normal * deviation


def _centre(rotor: Rotor) -> Floats:
    centre = np.zeros(len(PARAMETERS))
    centre[0] = float(rotor.fit.interference) - float(rotor.fit.settlement)
    return centre


def drawn_knees(rotor: Rotor, condition: Condition) -> Floats:
    """Speed squared at which each of the rotors lifts off.

    Returns
    -------
    array (sample,), rad2/s2
    """
    model = gap_model(rotor, condition, np.array([1.0]), np.array(["up"]), np.array([np.nan]))
    return model.knee(_draws(rotor), None, condition)


def drawn_gaps(rotor: Rotor, condition: Condition, speed: Floats, sensor_offset: float) -> tuple[Floats, Floats]:
    """Mean gaps that would be read of each of the rotors in run-up, and those of the rotor in their middle.

    Parameters
    ----------
    speed : array (step,), rad/s
    sensor_offset : float, m
        Two standard uncertainties.

    Returns
    -------
    all : array (sample, step), m
    middle : array (step,), m
    """
    model = gap_model(rotor, condition, speed, np.full(len(speed), "up"), np.full(len(speed), np.nan))
    return model.gaps(_draws(rotor, sensor_offset)), model.gaps(_centre(rotor)[np.newaxis])[0]


def float_speed_uncertainty(
    rotor: Rotor, condition: Condition, speed: Floats, noise: float, float_speed: float
) -> float:
    """Standard uncertainty of the float speed that mean gaps, up and down, would give.

    ``F = J'J/sigma^2 + diag(1/prior^2)`` over float speed, hoop stiffness, spider stiffness and gap offset; its inverse
    holds the variance of the float speed. The soft spider of one rim hides its knee more than the stiff rim of another,
    so the variance is averaged over `RIMS` rims drawn with the stiffnesses that the case may describe. The matrix is
    local: a knee that is missed altogether is not in it, and virtual runs scatter more widely (see `virtual_plan`).

    Parameters
    ----------
    speed : array (step,), rad/s
    noise : float, m
        Of one mean gap.
    float_speed : float, rad/s

    Returns
    -------
    float, rad/s
    """
    both = np.concatenate([speed, speed[::-1]])
    direction = np.repeat(["up", "down"], len(speed))
    model = gap_model(rotor, condition, both, direction, np.full(len(both), np.nan))
    free = Freedom()
    columns = np.flatnonzero(free.mask)
    scale = SCALES.copy()
    scale[0] = 0.01 * float_speed
    at = _draws(rotor)[:RIMS]
    at[:, 0] = float_speed
    slope = jacobian(lambda some: model.gaps(some, condition), at, scale, columns) / noise
    information = np.swapaxes(slope, 1, 2) @ slope
    for name, share in free.prior_sd.items():
        place = int(np.flatnonzero(columns == PARAMETERS.index(name))[0])
        information[:, place, place] += 1 / share**2
    size = scale[columns]  # near unity before it is inverted
    variance = np.linalg.inv(information * np.outer(size, size))[:, 0, 0]
    return float(size[0] * np.sqrt(np.mean(variance)))
