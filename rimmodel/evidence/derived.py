"""Any number that follows from a back-fit, with its interval: gap or stress of the fitted rotor, a shim change."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from rimmodel.evidence.backfit import BackFit
from rimmodel.evidence.fitter import Interval
from rimmodel.evidence.gap_model import PARAMETERS, SCALES
from rimmodel.evidence.least_squares import Floats, jacobian
from rimmodel.rotor import Rotor
from rimmodel.rotor.rotor import settled_to


def derived(fit: BackFit, function: Callable[[Floats], Floats]) -> tuple[float, Interval]:
    """Best value and linearised interval of a function of the unknowns.

    All unknowns and their correlation count: what a run leaves open in hoop stiffness and interference together may
    well be known of the number asked for. Where the fit bounds the interference on one side only, the interval is
    open on both.

    Parameters
    ----------
    fit : BackFit
    function : callable
        From unknowns (fit, parameter) to values (fit,).

    Returns
    -------
    best : float, unit of value
    interval : pair of float, unit of value
    """
    best = float(function(fit.unknowns[None])[0])
    if not np.isfinite(fit.interference_interval).all():
        return best, (-np.inf, np.inf)
    columns = np.array([PARAMETERS.index(name) for name in fit.parameters])
    slope = jacobian(lambda some: function(some)[:, None], fit.unknowns[None], SCALES, columns)[0, 0]
    half = float(np.sqrt(fit.profile_allowed * (slope @ fit.covariance @ slope)))
    return best, (best - half, best + half)


def fitted_rotor(fit: BackFit, drawn: Rotor, unknowns: Floats) -> Rotor:
    """The rotor of the drawing with the fitted stiffnesses and interference.

    What the drawing's interference has lost since assembly counts as settled, so that the cold gap stays that of the
    assembled rotor.

    Parameters
    ----------
    fit : BackFit
    drawn : Rotor
    unknowns : array (fit, parameter), SI
        In the order of `gap_model.PARAMETERS`.

    Returns
    -------
    Rotor
        Fields (fit, 1).
    """
    rotor = fit.model.rotor_of(unknowns).with_interference(drawn.fit.interference)
    rotor = replace(rotor, air_gap=drawn.air_gap)
    return settled_to(rotor, unknowns[:, :1])
