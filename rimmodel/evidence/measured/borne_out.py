"""What a run bears out of its own fit: where gaps, rotor of the case and recorded temperatures contradict each other.

A fit always finds numbers. What the gaps contradict is taken back or bounds nothing, and the reason is a sentence that
keeps the run from deciding anything.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from rimmodel.evidence.backfit.fit import OWN_CONDITION, BackFit
from rimmodel.evidence.backfit.recorded_heat import GAIN_OF
from rimmodel.evidence.knee.fit import Knee
from rimmodel.evidence.reduction.speed_points import SpeedPoints
from rimmodel.units import in_rpm, rpm

IMPOSSIBLE = 1e-4
"""Chance of the misfit of a right model below which the rotor of the case is not taken for that of the run."""

MISFIT = (
    "the rotor of the case cannot reproduce these gaps with any plausible stiffness: check pole mass, radii, units, "
    "condition and recorded temperatures; the knee is reported, but no interference follows from it and it is not used "
    "for any verdict"
)

HEAT_DENIED = (
    "the rotor of the case cannot reproduce these gaps with the recorded temperatures: they move as if the {body} had "
    "departed from the condition by {share:.0f} % of what was recorded, where {least:.0f} % to {most:.0f} % would be "
    "let pass (100 % with a standard uncertainty of {known:.0f} %): check thermometers, their columns and the "
    "condition; the recording is not used for any verdict"
)

HEAT_UNSEEN = (
    "these gaps are {times} times as probable without the recorded temperatures as with them: a thermometer or its "
    "column may be wrong{lift}. Check the thermometers; the recording is not used for any verdict"
)

BETTER_BARE = math.log(10.0)
"""Logarithm of the ratio of probabilities from which gaps count as explained better without recorded temperatures.

Where two normal explanations lie d standard deviations apart, the wrong one reaches a ratio k by chance beyond
(ln k)/d + d/2 of them; that is least, sqrt(2 ln k), at d = sqrt(2 ln k): at most 1.6 % of sound runs for k = 10.
Of 230 virtual runs with true thermometers it was 1. Where the level moved unrecorded as well, by up to 0.15 mm, it was
5 of 80, and in 4 of these the gap widened while the rim warmed: that looks like a false thermometer."""

LARGE = math.log(1000.0)
"""Logarithm of a ratio beyond which its size means nothing more."""

LEAST_COMPARED = 5
"""Speed points that a comparison of two fits needs."""

UNSETTLED = "the fit of the rotor to these gaps did not converge: it is not used for any verdict"


def verdict_of(knee: Knee, fit: BackFit, against: tuple[str, ...]) -> str:
    """Resolved only where the rotor of the case follows the gaps and both sides of the lift-off are known."""
    low, high = fit.float_speed_interval[OWN_CONDITION]
    if knee.verdict == "resolved" and (against or not (low > 0 and np.isfinite(high))):
        return "not resolvable"
    return knee.verdict


def trusted(fit: BackFit, knee: Knee, *, returns: bool) -> BackFit:
    """The fit with what the run bears out of it; a run that returns separates speed from a level that only drifts."""
    if _misfit(fit, knee) or _denied_heat(fit):
        return _disowned(fit, knee)
    return _unbounded(fit) if _undecided(knee) and not returns else fit


def unfit(knee: Knee, fit: BackFit, bare: Callable[[], tuple[Knee, BackFit]] | None) -> tuple[str, ...]:
    """What speaks against the fit itself, also beside that without recorded temperatures."""
    denied = tuple(filter(None, (MISFIT if _misfit(fit, knee) else "", _denied_heat(fit))))
    if denied:
        return denied
    return (*(() if fit.converged else (UNSETTLED,)), *(() if bare is None else _unseen_heat(fit, bare()[1])))


def without_temperatures(points: SpeedPoints) -> SpeedPoints:
    """The points as if no temperature had been recorded."""
    unknown = np.full(points.speed.shape, np.nan)
    return replace(
        points, rim_temperature=unknown, spider_temperature=unknown, pole_temperature=unknown,
        stator_temperature=unknown,
    )  # fmt: skip


def _unseen_heat(fit: BackFit, bare: BackFit) -> tuple[str, ...]:
    """What speaks against recorded temperatures: gaps that a fit without them explains better.

    Both probabilities of the gaps hold every noise, every drift and every stiffness that is possible. Scatter would not
    do: a drift that either fit takes for noise stands in what it leaves of the gaps.
    """
    comparable = len(fit.residual) == len(bare.residual) >= LEAST_COMPARED
    if not comparable or not set(bare.priors_dropped) <= set(fit.priors_dropped):
        return ()
    better = bare.posterior.log_evidence - fit.posterior.log_evidence
    if not better > BETTER_BARE:
        return ()
    best, (low, high) = bare.float_speed[OWN_CONDITION], bare.float_speed_interval[OWN_CONDITION]
    bounded = low > 0.0 and np.isfinite([best, high]).all()
    ends = f"{rpm(best)} ({in_rpm(low):.1f} to {in_rpm(high):.1f} rpm)" if bounded else ""
    lift = f"; without them the rim lifts off at {ends}" if bounded else ""
    times = f"{math.exp(better):.0f}" if better < LARGE else f"more than {math.exp(LARGE):.0f}"
    return (HEAT_UNSEEN.format(times=times, lift=lift),)


def _misfit(fit: BackFit, knee: Knee) -> bool:
    """Whether the modelled rotor cannot follow the gaps that two free lines follow.

    The broken line has two free slopes where the rotor has stiffnesses within what machines can be: the rise of the sum
    of squares against it is F with 2 degrees of freedom where the rotor is right. A rounded knee is no misfit.
    """
    from scipy.special import fdtrc

    if knee.verdict != "resolved" or knee.width:
        return False
    rise = (fit.chi_squared - knee.chi_squared) / 2.0
    return bool(rise > 0 and fdtrc(2, knee.degrees_of_freedom, rise) < IMPOSSIBLE)


def _denied_heat(fit: BackFit) -> str:
    """Which recorded temperatures the gaps contradict, in words: beyond what their gain may plausibly be."""
    from scipy.special import ndtri

    most = -float(ndtri(IMPOSSIBLE / 2))
    for body, gain in GAIN_OF.items():
        if gain in fit.priors:
            off, known = float(fit.estimate[fit.parameters.index(gain)]), fit.priors[gain]
            if abs(off) > most * known:
                share, least, highest = (100.0 * (1.0 + part) for part in (off, -most * known, most * known))
                return HEAT_DENIED.format(body=body, share=share, least=least, most=highest, known=100.0 * known)
    return ""


def _disowned(fit: BackFit, knee: Knee) -> BackFit:
    """The fit with nothing left but the knee: what follows from another rotor is taken back."""
    low, high = np.sqrt(np.maximum(knee.interval, 0.0))
    nothing = dict.fromkeys(fit.float_speed, (0.0, float("inf")))
    return replace(
        fit,
        interference=float("nan"),
        interference_interval=(-float("inf"), float("inf")),
        float_speed={**dict.fromkeys(fit.float_speed, float("nan")), "": float(np.sqrt(knee.position))},
        float_speed_interval={**nothing, "": (float(low), float(high))},
    )


def _undecided(knee: Knee) -> bool:
    """Whether one straight line may as well be that of the seated rim as that of the floating rim."""
    low, high = knee.interval
    return knee.verdict == "not resolvable" and not low > 0.0 and not np.isfinite(high)


def _unbounded(fit: BackFit) -> BackFit:
    """The fit without bounds: a rotor laid on one line bounds by its stiffness alone.

    A stator that warms unseen in a run-up turns the line of a floating rim into that of a seated rim.
    """
    nothing = dict.fromkeys(fit.float_speed_interval, (0.0, float("inf")))
    return replace(fit, float_speed_interval=nothing, interference_interval=(-float("inf"), float("inf")))
