"""Reasons to distrust a back-fit, and what the data cannot see, in plain sentences."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from rimmodel.arrays import Interval
from rimmodel.evidence.backfit.fit import ALL_POINTS, OWN_CONDITION, BackFit
from rimmodel.evidence.backfit.fitter import PRIOR_SD
from rimmodel.evidence.backfit.gap_model import GAINS
from rimmodel.evidence.knee.fit import Knee
from rimmodel.evidence.knee.reasons import ALLOWS, FAR_INSIDE
from rimmodel.evidence.reduction.speed_points import SpeedPoints
from rimmodel.units import MILLIMETRE, mm

NAMES = {
    "interference": "interference",
    "hoop_stiffness_factor": "hoop stiffness of the rim",
    "spider_stiffness": "spider stiffness",
    "gap_offset": "gap offset",
    "drift": "drift",
    "friction_interference": "friction",
    "rim_gain": "recorded change of rim temperature",
    "spider_gain": "recorded change of spider temperature",
    "stator_gain": "recorded change of stator temperature",
}
TIGHT = 0.98
"""Correlation from which two unknowns are reported as not separable by the data."""

SOFTEST = 0.5
"""Hoop stiffness factor below which something else is wrong: 0.6 to 0.9 is usual (from memory)."""

UNSTEADY = 0.04 * MILLIMETRE
"""Scatter of mean gaps that speed, field and bearings of a sound run make (common practice, no source): the noise of
the points holds it, and it is no news."""

DRIFT_TOO = (
    "; a level that drifts in time, as when stator or rim warm, does the same, and neither this factor nor its "
    "interval tells it apart: a point at low speed repeated at the end of the run would"
)
"""What goes with an odd stiffness where the run does not come back."""

RARE = 0.01
"""Chance below which a test of the residuals speaks up."""


def doubts(points: SpeedPoints, knees: Mapping[str, Knee], fit: BackFit) -> tuple[str, ...]:
    """What speaks against taking the result at its word, the gravest first."""
    said: list[str] = []
    knee = knees[ALL_POINTS]
    resolved = [
        knees[direction]
        for direction in ("up", "down")
        if direction in knees and knees[direction].verdict == "resolved"
    ]
    if len(resolved) == 2 and not overlap(resolved[0].interval, resolved[1].interval):
        said.append("run-up and run-down show different knees: check friction, heating and settling between them")
    returns = {"up", "down"} <= knees.keys()
    for name in fit.priors_dropped:
        said.append(
            f"the data contradict the case's {NAMES[name]} by more than three standard uncertainties: it was fitted "
            f"without a prior; check the case{'' if returns else DRIFT_TOO}"
        )
    said += [*_implausible(fit, returns=returns), *_unseen(fit)]
    chance = runs_probability(fit.residual)
    if chance < RARE:
        said.append(
            f"residuals are correlated (probability {chance:.1g} if they were independent): drift, heating or "
            f"settling of pole seats also moves the gap"
        )
    said += _scatter(points, knee, fit)
    return (*said, *_of_knee(knee, fit))


def _of_knee(knee: Knee, fit: BackFit) -> list[str]:
    """Reasons of the knee; where the fit bounds nothing, without any interval or bound that they speak of."""
    if _bounds(fit):
        return list(knee.reasons)
    return [words.removesuffix(ALLOWS) for words in knee.reasons if FAR_INSIDE not in words]


def _bounds(fit: BackFit) -> bool:
    low, high = fit.float_speed_interval[OWN_CONDITION]
    return bool(low > 0.0 or np.isfinite(high))


def _implausible(fit: BackFit, *, returns: bool) -> list[str]:
    """A rim stiffer than solid steel, or far softer than stacks are, is a wrong input or a drift rather than a find."""
    factor, (low, high) = fit.hoop_stiffness_factor, fit.hoop_stiffness_factor_interval
    if "hoop_stiffness_factor" not in fit.parameters or SOFTEST <= factor <= 1.0:
        return []
    what = "no stack is stiffer than solid steel" if factor > 1.0 else "stacks are rarely this soft"
    relied = " before relying on the float speed" if _bounds(fit) else ""
    return [
        f"the fitted hoop stiffness factor is {factor:.2f} ({low:.2f} to {high:.2f}), and {what}: check pole mass, "
        f"gaps and speeds{relied}{'' if returns else DRIFT_TOO}"
    ]


def _unseen(fit: BackFit) -> list[str]:
    said = []
    for name in fit.parameters:
        low, high = fit.intervals[name]
        prior = fit.priors.get(name)
        if not np.isfinite([low, high]).all():
            side = "upper " if np.isfinite(low) else "lower " if np.isfinite(high) else ""
            said.append(f"the data set no {side}bound on the {NAMES[name]}")
        elif prior is not None and name not in GAINS and high - low > 0.85 * 3.92 * prior:
            said.append(
                f"the data hardly constrain the {NAMES[name]}: its interval is mainly what was assumed beforehand, "
                f"{_assumed(fit, name, prior)}"
            )
    bounded = np.array([bool(np.isfinite(fit.intervals[name]).all()) for name in fit.parameters])
    correlation = np.abs(fit.correlation) * np.outer(bounded, bounded) - np.eye(len(fit.parameters))
    for one, other in zip(*np.where(np.triu(correlation) > TIGHT), strict=True):
        pair = NAMES[fit.parameters[one]], NAMES[fit.parameters[other]]
        said.append(
            f"{pair[0]} and {pair[1]} cannot be separated by these data (correlation "
            f"{fit.correlation[one, other]:+.2f})"
        )
    return said


def _assumed(fit: BackFit, name: str, prior: float) -> str:
    """What was known beforehand, and where from."""
    sure = f"with a standard uncertainty of {100 * prior:.0f} %"
    sure += ", taken where the case states no tolerance" if prior == PRIOR_SD.get(name) else " by its tolerance"
    if name != "hoop_stiffness_factor":
        return f"the value of the case {sure}"
    value = float(np.max(fit.model.rotor.rim.hoop_stiffness_factor))
    above = fit.hoop_stiffness_factor_interval[1] > 1.0
    end = "; a factor above 1 would be stiffer than solid steel" if above else ""
    return f"the {value:.2f} of the case {sure} (stacked segments are 0.6 to 0.9, from memory){end}"


def _scatter(points: SpeedPoints, knee: Knee, fit: BackFit) -> list[str]:
    if fit.sigma_given:
        from scipy.special import chdtrc

        chance = float(chdtrc(fit.degrees_of_freedom, fit.chi_squared))
        if chance < RARE:
            ratio = np.sqrt(fit.chi_squared / max(fit.degrees_of_freedom, 1))
            return [f"the points scatter {ratio:.1f} times as much as their stated noise; the intervals are too narrow"]
        return []
    own = points.standard_error[knee.used]
    own = own[np.isfinite(own)]
    if len(own) and fit.sigma > max(3.0 * float(np.median(own)), UNSTEADY):
        return [
            f"the points scatter by {mm(fit.sigma, '.3f')} about the lines, {fit.sigma / np.median(own):.0f} "
            "times what the readings at each point explain: more than noise of the sensors moves the gap, which the "
            "interval allows for"
        ]
    return []


def runs_probability(residual: np.ndarray[tuple[int], np.dtype[np.float64]]) -> float:
    """Chance of so few runs of one sign among independent residuals (Wald & Wolfowitz 1940, normal approximation).

    Parameters
    ----------
    residual : array (n,), unit of y

    Returns
    -------
    float, -

    Ten residuals that change sign once have two runs where 6 are expected, with variance 2 x 25 x 40/(100 x 9) = 2.22:
    2.68 standard deviations below.

    >>> import numpy as np
    >>> round(runs_probability(np.repeat([1.0, -1.0], 5)), 4)
    0.0036
    """
    from scipy.special import ndtr

    signs = residual[residual != 0] > 0
    above, below = int(signs.sum()), int((~signs).sum())
    if min(above, below) < 2:
        return 1.0
    total = above + below
    runs = 1 + int(np.count_nonzero(signs[1:] != signs[:-1]))
    mean = 1 + 2 * above * below / total
    variance = (mean - 1) * (mean - 2) / (total - 1)
    return float(ndtr((runs - mean) / np.sqrt(variance)))


def overlap(one: Interval, other: Interval) -> bool:
    """Whether two intervals share a value.

    Parameters
    ----------
    one, other : pair of float, unit of value
    """
    return one[0] <= other[1] and other[0] <= one[1]
