"""Back-fit: interference, stiffnesses and gap level of the modelled rotor from a recorded run, with intervals.

Whether there is a knee at all is decided by the plain broken line (`rimmodel.evidence.knee.fit`), which knows no rotor.
How much interference the rotor has, and at which speed it floats in other conditions, is decided here, where slopes
and knee are tied through the mechanics and what is known of hoop and spider stiffness counts as a prior.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats, Interval, floats
from rimmodel.behaviour import float_speed
from rimmodel.behaviour.contact.asked import asked_machine
from rimmodel.evidence.backfit.fitter import Fitter, Freedom, Target
from rimmodel.evidence.backfit.gap_model import PARAMETERS, SCALES, GapModel, gap_model
from rimmodel.evidence.backfit.least_squares import BatchFit, jacobian
from rimmodel.evidence.backfit.posterior import FitPosterior, fit_posterior, normal_reach
from rimmodel.evidence.backfit.recorded_heat import heat_departures, with_gains
from rimmodel.evidence.backfit.shared_knee import Series, shared_evidence
from rimmodel.evidence.knee.fit import Knee
from rimmodel.evidence.knee.noise import known_noise
from rimmodel.evidence.knee.of_points import FoundKnee, find_knee
from rimmodel.evidence.reduction.speed_points import SpeedPoints
from rimmodel.rotor import Condition, Rotor
from rimmodel.tabular import Tabular, wanted
from rimmodel.units import in_mm, in_rpm, mm, rpm

ALL_POINTS = ""
"""Key of what all points show, beside the two directions."""

OWN_CONDITION = ""
"""Key of what was found in the condition of the recording itself, beside those of the case by name."""


UNBOUNDED = 50.0
"""Logarithm of a stiffness ratio from which it is no bound."""

SUPPORT = 2
"""Readings that must lie on either side of an interval of the float speed; robust means of many count as many."""


@dataclass(frozen=True)
class BackFit(Tabular):
    """Estimates of a back-fit; intervals are two-sided at `confidence`, infinite on a side that the data leave open.

    As a table it is the points used, with the fit and what it leaves of them.

    Attributes
    ----------
    estimate : array (parameter,), SI
        In the order of `parameters`, stiffnesses as natural logarithms of their ratio to the case.
    covariance : array (parameter, parameter), SI
        Of the estimate.
    intervals : dict of pair of float, SI
        By parameter.
    interference : float, m
    interference_interval : pair of float, m
    hoop_stiffness_factor : float, -
    hoop_stiffness_factor_interval : pair of float, -
    float_speed : dict of float, rad/s
        By condition; "" is the condition of the run.
    float_speed_interval : dict of pair of float, rad/s
    sigma : float, m
        Noise of one mean gap.
    chi_squared : float, -
    residual : array (point,), m
        Measured less fitted gap of every point used.
    unknowns : array (unknown,), SI
        All of `gap_model.PARAMETERS`, fitted or not.
    priors : dict of float, -
        Relative standard uncertainty of what was known beforehand and used.
    confidence : float, -
    profile_speed : array (value,), rad/s
        Float speeds tried in the condition of the run.
    profile_rise : array (value,), -
        Squared normal deviate of the probability beyond each: the interval is where it stays below `profile_allowed`.
    profile_allowed : float, -
    whitening : array (row, point), 1/m
        Makes what is left of the gaps used white and of size 1, by the mean of all noise models.
    posterior : FitPosterior
        All that the run says, for what is made of several runs.
    """

    parameters: tuple[str, ...]
    estimate: Floats
    covariance: Floats
    intervals: dict[str, Interval]
    interference: float
    interference_interval: Interval
    hoop_stiffness_factor: float
    hoop_stiffness_factor_interval: Interval
    float_speed: dict[str, float]
    float_speed_interval: dict[str, Interval]
    sigma: float
    sigma_given: bool
    chi_squared: float
    degrees_of_freedom: int
    converged: bool
    residual: Floats
    model: GapModel
    unknowns: Floats
    priors: dict[str, float]
    priors_dropped: tuple[str, ...]
    confidence: float
    profile_speed: Floats
    profile_rise: Floats
    profile_allowed: float
    whitening: Floats
    posterior: FitPosterior

    def __repr__(self) -> str:
        low, high = (in_mm(end) for end in self.interference_interval)
        sure = f"{low:.2f} to {high:.2f} mm at {100 * self.confidence:.0f} %"
        return (
            f"BackFit(interference {mm(self.interference)} ({sure}), "
            f"float speed {rpm(self.float_speed[OWN_CONDITION])}, {len(self.residual)} points)"
        )

    def columns(self) -> dict[str, Any]:
        """Points used, with the fit and what it leaves of them."""
        fitted = self.model.gaps(self.unknowns[None])[0]
        return {
            "speed_rpm": in_rpm(self.model.speed),
            "gap_mm": in_mm(fitted + self.residual),
            "fitted_gap_mm": in_mm(fitted),
            "measured_less_fitted_mm": in_mm(self.residual),
        }

    @property
    def correlation(self) -> Floats:
        """Correlation of the estimates (parameter, parameter), dimensionless."""
        spread = np.sqrt(np.diag(self.covariance))
        correlation: Floats = self.covariance / np.outer(spread, spread)
        return correlation

    @property
    def gaps_in_condition(self) -> Floats:
        """Gaps (point,), m, of the points used without what recorded temperatures did beside the condition."""
        gaps: Floats = replace(self.model, heat=None).gaps(self.unknowns[None])[0] + self.residual
        return gaps


def back_fit(
    rotor: Rotor,
    condition: Condition,
    points: SpeedPoints,
    knee: Knee | FoundKnee | None = None,
    *,
    conditions: Mapping[str, Condition] | None = None,
    freedom: Freedom | None = None,
    series: Sequence[Series] = (),
    sigma: float | None = None,
    confidence: float = 0.95,
    whole: bool = True,
) -> BackFit:
    """Fit the modelled rotor to the mean gaps of one run.

    Parameters
    ----------
    rotor : Rotor
        Its interference does not enter; its stiffnesses are the centre of the priors.
    condition : Condition
        In which the run was taken.
    points : SpeedPoints
        The points that the knee was fitted to; temperatures that they hold are part of the model (`heat_departures`).
    knee : Knee or FoundKnee, optional
        Fit of the same points: says which are used, and gives the noise when `sigma` is None. Found here when None.
    conditions : mapping of str to Condition, optional
        Further conditions for which float speeds are wanted.
    series : sequence of Series
        Other measured series of the same run that share the knee, such as those of `shape_series`.
    sigma : float, m, optional
        Standard uncertainty of a mean gap, absolute, of errors that are independent. What the knee says of the noise
        when None.
    confidence : float, -
    whole : bool
        Also the intervals of stiffnesses and level; without them they are open.

    Returns
    -------
    BackFit
        A float speed interval with fewer than two readings beyond one of its ends is open there, and all that
        follow from it: one stray reading at the end of a run looks like a knee just before it.

    Raises
    ------
    ValueError
        `sigma` is not above zero.
    TypeError
        An argument of another kind, such as a case for a rotor.
    """
    asked_machine(rotor, condition, "back_fit(rotor, condition, points)")
    wanted(points, SpeedPoints, "points", "back_fit wants speed points", "write speed_points(read_recording(file))")
    if knee is None:
        knee = find_knee(points, rotor, condition, confidence=confidence)
    knee = knee.knee if isinstance(knee, FoundKnee) else knee
    given = Freedom() if freedom is None else freedom
    used = knee.used
    if sigma is not None and not 0 < sigma < np.inf:
        raise ValueError(f"sigma is {sigma:g} m; it must be above zero and finite (None: the scatter of the points)")
    departures = {name: kelvin[used] for name, kelvin in heat_departures(points, condition).items()}
    model = gap_model(rotor, condition, points.speed[used], points.direction[used], points.time[used], departures)
    given = with_gains(given, departures)
    known = sigma is not None or knee.sigma_given
    noise = knee.sigma if sigma is None else sigma
    whitening = None if known else _whitening(knee)
    fitter = Fitter(model, points.gap[used], noise, given, condition, series, whitening)
    best = fitter.best()
    # only a prior that is pulled hard can be contradicted; most runs need not look
    dropped = fitter.stray_priors() if fitter.pulled(best) else ()
    if dropped:
        kept = {name: sd for name, sd in given.prior_sd.items() if name not in dropped}
        fitter = Fitter(model, points.gap[used], noise, Freedom(given.free, kept), condition, series, whitening)
        best = fitter.best()
    found = _posterior(fitter, knee, sigma)
    own = found.float_speed(confidence)
    best = _inside(best, fitter, found, own)
    lifts = partial(_lift_off, fitter)
    speeds = {OWN_CONDITION: Target(lifts(condition, best.parameters), own)}
    for name, target in (conditions or {}).items():
        ends = own if target is condition else found.interval_of(_asked(fitter, target), confidence, rises=True)
        centre = lifts(target, best.parameters)
        # a rim that floats at standstill there has no float speed above zero to be sure of
        speeds[name] = Target(centre, (max(ends[0], 0.0) if centre > 0.0 else 0.0, max(ends[1], 0.0)))
    left = found.interval_of(lambda some: fitter.model.interference(some, condition), confidence, rises=True)
    interference = Target(float(best.parameters[0, 0]), left)
    alone = unsupported(points, used, own)
    speeds = {name: _opened(target, alone, 0.0) for name, target in speeds.items()}
    interference = _opened(interference, alone, -np.inf)
    others = [name for name in given.free if name != "interference"]
    intervals = {name: _side(found, name, confidence) if whole else (-np.inf, np.inf) for name in others}
    how = _How(known, dropped, confidence, found, _means(knee))
    return _result(fitter, best, speeds, interference, intervals, how)


def _whitening(knee: Knee) -> Floats | None:
    """What makes the noise of the points used white under the likeliest model (row, point), 1/m; None for plain."""
    models, likeliest = knee.noise.models, knee.noise.likeliest
    if models.plain[likeliest]:
        return None
    whitening: Floats = models.root[likeliest] @ _means(knee) / knee.sigma
    return whitening


def _means(knee: Knee) -> Floats:
    """What makes means of groups of the points used, (group, point), -."""
    member = knee.noise.member
    belongs = (np.arange(int(member.max()) + 1)[:, None] == member).astype(float)
    means: Floats = belongs / belongs.sum(axis=1, keepdims=True)
    return means


def _posterior(fitter: Fitter, knee: Knee, sigma: float | None) -> FitPosterior:
    """What the run says, from means of the points where these are many."""
    means, models = _means(knee), knee.noise.models
    known = sigma is not None or knee.sigma_given
    weight = knee.noise.weight
    if sigma is not None:
        models, weight = known_noise(1.0 / (sigma * np.sqrt((means**2).sum(axis=1)))), np.ones(1)
    model = fitter.model
    mean = replace(
        model,
        speed=np.sqrt(means @ model.speed**2),
        direction=np.sign(means @ model.direction),
        time=means @ model.time,
        heat=None if model.heat is None else model.heat.averaged(means),
    )
    few = Fitter(mean, means @ fitter.gap, fitter.sigma, fitter.freedom, fitter.condition)
    extra = shared_evidence(fitter.series) if fitter.series else None
    return fit_posterior(few, models, weight, knee.roundings, extra, known=known)


def _inside(best: BatchFit, fitter: Fitter, found: FitPosterior, own: Interval) -> BatchFit:
    """The best fit, or the most probable middle where correlated noise has drawn it out of its interval."""
    lift = _lift_off(fitter, fitter.condition, best.parameters)
    if own[0] <= lift <= own[1] or not np.isfinite(own[1]):
        return best
    at = found.middle()[None]
    at[:, 0] = fitter.model.interference(at, fitter.condition)
    return BatchFit(at, best.sum_of_squares, best.converged)


def _lift_off(fitter: Fitter, asked: Condition, unknowns: Floats) -> float:
    """Float speed of a fit (1, parameter) in a condition; 0 where it floats at standstill."""
    lifts = fitter.model.rotor_of(unknowns).with_interference(unknowns[:, :1])
    return float(float_speed(lifts, asked).speed[0, 0])


def _asked(fitter: Fitter, asked: Condition) -> Callable[[Floats], Floats]:
    """From unknowns with the float speed of the run first to the float speed in another condition, rad/s."""

    def speeds(unknowns: Floats) -> Floats:
        left = fitter.model.interference(unknowns, fitter.condition)[:, None]
        lifts = fitter.model.rotor_of(unknowns).with_interference(np.where(np.isnan(left), 0.0, left))
        found = np.where(np.isnan(left), np.nan, float_speed(lifts, asked).speed)
        return np.asarray(found[:, 0], dtype=np.float64)

    return speeds


def _side(found: FitPosterior, name: str, confidence: float) -> Interval:
    column = PARAMETERS.index(name)
    return found.interval_of(lambda some: some[:, column], confidence, rises=False)


def unsupported(points: SpeedPoints, used: NDArray[np.bool_], interval: Interval) -> tuple[bool, bool]:
    """Whether fewer than `SUPPORT` readings lie below, and above, an interval of the float speed.

    Parameters
    ----------
    used : bool array (point,)
    interval : pair of float, rad/s
    """
    speed, readings = points.speed[used], points.count[used]
    return bool(readings[speed < interval[0]].sum() < SUPPORT), bool(readings[speed > interval[1]].sum() < SUPPORT)


def _opened(target: Target, alone: tuple[bool, bool], lowest: float) -> Target:
    low, high = target.interval
    return replace(target, interval=(lowest if alone[0] else low, np.inf if alone[1] else high))


@dataclass(frozen=True)
class _How:
    """How a fit was made: with known noise, without which priors, to which confidence, from which posterior."""

    known: bool
    dropped: tuple[str, ...]
    confidence: float
    found: FitPosterior
    means: Floats


def _result(
    fitter: Fitter,
    best: BatchFit,
    speeds: Mapping[str, Target],
    interference: Target,
    intervals: dict[str, Interval],
    how: _How,
) -> BackFit:
    speed, rise = how.found.profile()
    columns = np.flatnonzero(fitter.free)
    at = best.parameters[0]
    residual = fitter.gap - fitter.model.gaps(best.parameters)[0]
    factor = float(fitter.model.rotor.rim.hoop_stiffness_factor)
    low, high = intervals.get("hoop_stiffness_factor", (0.0, 0.0))
    return BackFit(
        parameters=tuple(PARAMETERS[column] for column in columns),
        estimate=at[columns],
        covariance=fitter.covariance(best)[np.ix_(columns, columns)],
        intervals={"interference": interference.interval, **intervals},
        interference=interference.best,
        interference_interval=interference.interval,
        hoop_stiffness_factor=factor * float(np.exp(at[1])),
        hoop_stiffness_factor_interval=(
            factor * math.exp(low),
            factor * math.exp(high) if high < UNBOUNDED else np.inf,
        ),
        float_speed={name: target.best for name, target in speeds.items()},
        float_speed_interval={name: target.interval for name, target in speeds.items()},
        sigma=fitter.sigma,
        sigma_given=how.known,
        chi_squared=float(np.sum(fitter.white(residual) ** 2)),
        degrees_of_freedom=len(residual) - len(columns),
        converged=bool(best.converged[0]),
        residual=residual,
        model=fitter.model,
        unknowns=at,
        priors={name: sd for name, sd in fitter.freedom.prior_sd.items() if name in fitter.freedom.free},
        priors_dropped=how.dropped,
        confidence=how.confidence,
        profile_speed=speed,
        profile_rise=rise,
        profile_allowed=normal_reach(how.confidence) ** 2,
        whitening=np.linalg.inv(np.linalg.cholesky(how.found.noise_covariance)) @ how.means,
        posterior=how.found,
    )


@dataclass(frozen=True)
class Band:
    """Fitted gap and half-width of its band at each speed.

    Attributes
    ----------
    speed : array (speed,), rad/s
    gap, half_width : array (speed,), m
    """

    speed: Floats
    gap: Floats
    half_width: Floats


def gap_band(fit: BackFit, speed: Floats) -> Band:
    """Fitted mean gap and its confidence band, linearised, for any speeds in the condition of the run.

    Parameters
    ----------
    speed : array (speed,), rad/s
    """
    nothing = np.zeros_like(speed)
    model = replace(fit.model, speed=floats(speed), direction=nothing, time=nothing, heat=None)
    columns = np.array([PARAMETERS.index(name) for name in fit.parameters])
    slope = jacobian(model.gaps, fit.unknowns[None], SCALES, columns)[0]
    variance = np.einsum("si,ij,sj->s", slope, fit.covariance, slope)
    return Band(model.speed, model.gaps(fit.unknowns[None])[0], np.sqrt(fit.profile_allowed * variance))
