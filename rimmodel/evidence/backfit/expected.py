"""What the model of the rotor expects of a recording: slopes of the gap, and interference against float speed."""

from __future__ import annotations

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.evidence.backfit.fitter import Freedom
from rimmodel.evidence.backfit.gap_model import PARAMETERS, gap_model
from rimmodel.rotor import Condition, Rotor

SUREST, LEAST_SURE = 0.02, 0.9
"""No slope is taken to be known better, or worse, than this (relative standard uncertainty)."""


def expected_slopes(rotor: Rotor, condition: Condition) -> tuple[float, float]:
    """Modelled slopes of the mean gap against speed squared; both are negative.

    Returns
    -------
    seated, floating : float, m s2
    """
    seated, floating = _slopes(rotor, condition)
    return -float(seated), -float(floating)


def _slopes(rotor: Rotor, condition: Condition) -> tuple[Floats, Floats]:
    model = coefficients(rotor, condition)
    return model.seated.per_speed_squared, model.floating.per_speed_squared


def slope_uncertainty(rotor: Rotor, condition: Condition, freedom: Freedom) -> float:
    """Relative standard uncertainty of the less certain of both expected slopes, from what is known of stiffnesses.

    Returns
    -------
    float, -
    """
    names = [name for name in ("hoop_stiffness_factor", "spider_stiffness") if name in freedom.free]
    moves = np.zeros((1 + len(names), len(PARAMETERS)))
    for row, name in enumerate(names, start=1):
        moves[row, PARAMETERS.index(name)] = freedom.prior_sd.get(name, np.inf)
    if not np.isfinite(moves).all():
        return LEAST_SURE
    nowhere = np.zeros(1)
    moved = gap_model(rotor, condition, nowhere, np.array([""]), nowhere).rotor_of(moves)
    logarithms = np.log(np.abs([np.broadcast_to(slope, (len(moves), 1)) for slope in _slopes(moved, condition)]))
    spread = np.sqrt(np.sum((logarithms[:, 1:] - logarithms[:, :1]) ** 2, axis=1))
    return float(np.clip(spread.max(), SUREST, LEAST_SURE))


def widest_knee(rotor: Rotor, condition: Condition) -> float | None:
    """Largest width of a knee, rad2/s2, that the scatter of interference over the keys can make.

    Returns
    -------
    float or None, rad2/s2
        None where the case says nothing of how the keys differ.
    """
    fit = rotor.fit
    stated = 0.0 if fit.key_interference is None else float(np.ptp(fit.key_interference))
    # from end to end of a tolerance of two standard uncertainties, and half as much again for what exceeds it
    scatter = max(stated, 3.0 * float(np.max(fit.key_interference_tolerance)))
    growth = float(np.max(coefficients(rotor, condition).net_growth))
    return scatter / growth if scatter > 0.0 and growth > 0.0 else None
