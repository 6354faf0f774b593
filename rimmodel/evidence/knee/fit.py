"""The knee of a broken line in test data: where it is, how sure that is, and whether there is one at all.

Plain numbers in, plain numbers out; x is meant to be speed squared and y a mean air gap, which falls more
steeply once the rim is free, but nothing here knows of a rotor.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rimmodel.arrays import Floats
from rimmodel.evidence.knee.alternatives import seat_take_up, stray_points
from rimmodel.evidence.knee.broken_line import Points, Scan, best_knee, full_scan
from rimmodel.evidence.knee.fitted_line import FittedLine, fit_at, fit_straight
from rimmodel.evidence.knee.groups import Groups, grouped
from rimmodel.evidence.knee.inference import Answer, Verdict
from rimmodel.evidence.knee.known_slopes import slopes_posterior
from rimmodel.evidence.knee.noise import (
    FoundNoise,
    NoiseModels,
    completed,
    known_noise,
    noise_models,
)
from rimmodel.evidence.knee.points import (
    EARLY,
    FEWEST_BY_SCATTER,
    FEWEST_POINTS,
    Words,
    checked_points,
    checked_sign,
    checked_slopes,
)
from rimmodel.evidence.knee.posterior import (
    FEW,
    WIDTHS,
    WIDTHS_OF_FEW,
    KneePosterior,
    best_bend,
    chance_of_bend,
    knee_posterior,
)
from rimmodel.evidence.knee.reasons import SCATTER_UNKNOWN, why
from rimmodel.evidence.knee.slips import jump_in_words, with_slips

Bend = Literal["down", "up", "either"]
PARAMETERS = ("position", "level", "slope_before", "slope_after")

WORTH = 2e-3
"""Probability from which a width of the knee is kept."""

FEWEST_TO_RESOLVE = 7
"""Points without which no knee is resolved where the noise is not known: four go to the line, and what is left says
too little of the noise."""


@dataclass(frozen=True)
class Knee:
    """What a broken-line fit found, with its interval, its verdict and the reasons to distrust it.

    `position`, `level`, the slope on the side that was not seen and
    their covariances are nan where the data hold nothing of them; `verdict` and `reasons` then say why.

    Attributes
    ----------
    position : float, unit of x
        Best x of the knee (middle of a rounded knee).
    interval : pair of float, unit of x
        At `confidence`. Without a bound: above inf; below 0.0 where no x is negative, else -inf.
    level : float, unit of y
        At the knee, where the two lines meet.
    slope_before, slope_after : float, unit of y per unit of x
    covariance : array (4, 4), unit of the products
        Linearised at the best fit, in the order of `parameters`; it is no substitute for `interval`.
    sigma : float, unit of y
        Noise of one point: root mean square of those given, or estimated from the residuals.
    chi_squared : float, -
    p_value : float, -
        Chance that one straight line would show so large a bend somewhere: corrected for the search.
    width : float, unit of x
        Of a rounded knee, 0 for a sharp knee.
    confidence : float, -
    used : bool array (n,)
        True for the points given that entered the fit.
    candidates : array (K,), unit of x
        Knees tried, for a figure.
    plausibility : array (K,), -
        Twice the smaller probability to either side of each: from the data alone, the knee lies where it exceeds
        1 - `confidence`.
    noise : FoundNoise
        What the noise of the points used may be like.
    roundings : tuple of pair of float, unit of x
        Width of the knee, and prior weight (-), of those that the data leave open.
    """

    verdict: Verdict
    position: float
    interval: tuple[float, float]
    level: float
    slope_before: float
    slope_after: float
    covariance: Floats
    parameters: tuple[str, str, str, str]
    sigma: float
    sigma_given: bool
    chi_squared: float
    degrees_of_freedom: int
    p_value: float
    width: float
    confidence: float
    used: NDArray[np.bool_]
    reasons: tuple[str, ...]
    candidates: Floats
    plausibility: Floats
    noise: FoundNoise
    roundings: tuple[tuple[float, float], ...]

    def __repr__(self) -> str:
        low, high = self.interval
        return (
            f"Knee({self.verdict}: {self.position:.6g} ({low:.6g} to {high:.6g} at {100 * self.confidence:.0f} %), "
            f"{int(self.used.sum())} of {len(self.used)} points)"
        )


def fit_knee(
    x: ArrayLike,
    y: ArrayLike,
    sigma: ArrayLike | None = None,
    mask: ArrayLike | None = None,
    *,
    confidence: float = 0.95,
    bend: Bend = "down",
    robust: bool = True,
    take_up: float = EARLY,
    rounded: bool = True,
    expected_slopes: tuple[float, float] | None = None,
    expected_slope_uncertainty: float = 0.1,
    words: Words | None = None,
    time: ArrayLike | None = None,
    own_error: ArrayLike | None = None,
    widest: float | None = None,
    drift: float | None = None,
    independent: bool = False,
) -> Knee:
    """Fit a continuous broken line and say where its knee is, with a calibrated interval and a verdict.

    Parameters
    ----------
    x : array (n,), unit of x
        In any order; equal x are welcome (dwells). At least 5, at 4 distinct x.
    y : array (n,), unit of y
    sigma : float or array (n,), unit of y, optional
        Standard uncertainty of y, absolute, of errors that are independent; None: nothing is known of the noise,
        and the data say how large it is, whether it is correlated, grows with x or drifts.
    mask : bool array (n,), optional
        True for the points to use; all when None.
    confidence : float, -
        Of the interval and of the test for a knee.
    bend : "down", "up" or "either"
        "down": the slope becomes more negative at the knee (an air gap against speed squared); "up";
        "either".
    robust : bool
        Leave out stray points (see `stray_points`). On by default: one point in a hundred off by 5 to 10 sigma
        lengthens the interval by a fifth if kept, whereas a clean record loses a point once in fifty and hardly
        changes (300 virtual runs each).
    take_up : float, -
        Fraction of the largest x below which an opposite bend is taken for the take-up of pole seats and left
        out; 0.16 is 40 % of speed (common practice, no source). 0, or any negative x, switches it off.
    rounded : bool
        Allow for a rounded knee, whether the data ask for one or not.
    expected_slopes : pair of float, unit of y per unit of x, optional
        Before and after, from a model. Used only where the data alone show no knee.
    expected_slope_uncertainty : float, -
        Relative standard uncertainty of each expected slope.
    words : Words, optional
        How places, sizes and slopes are written in the reasons; plain numbers when None.
    time : array (n,), unit of time, optional
        When each y was read; the order in which they are given when None or not finite throughout.
    own_error : array (n,), unit of y, optional
        Standard error of each y from its own readings: total noise cannot be less. nan where not known.
    widest : float, unit of x, optional
        Largest width that a rounded knee can have; half of the range when None.
    drift : float, unit of y, optional
        Standard uncertainty of a smooth change of the level over the run; it may be any when None.
    independent : bool
        The errors are known to be independent and of one unknown size, as those of separate samples.

    Returns
    -------
    Knee
        The interval holds the knee with probability ``confidence`` over all that the data leave open
        (`knee_posterior`). "resolved" means: one straight line is rejected at ``confidence``, and the interval
        ends at least two distinct x from both ends of the data; with unknown noise nothing is resolved from fewer than
        seven points, and nothing is bounded by fewer than eight single readings without a stated error.

    Raises
    ------
    ValueError
        For points that cannot be fitted, naming the input, the value and the rule.

    Notes
    -----
    Assumes two lines, whose bend may be rounded, and normal noise that may be correlated in time, grow with x,
    drift smoothly and jump once. A take-up of pole seats or two directions of different knees break that.

    >>> x = np.arange(11.0)
    >>> knee = fit_knee(x, -np.minimum(x, 6.0) - 3.0 * np.maximum(x - 6.0, 0.0), sigma=0.01)
    >>> knee.verdict, round(knee.position, 6), round(knee.level, 6), round(knee.slope_after, 6)
    ('resolved', 6.0, -6.0, -3.0)

    """
    points, used = checked_points(x, y, sigma, mask, checked_sign(confidence, bend, take_up))
    words, slopes = words or Words(), checked_slopes(expected_slopes, expected_slope_uncertainty, points.sign)
    moment, own = _moments(time, used), _own_errors(own_error, used)
    kept, reasons = _usable(points, robust, take_up, words)
    used[used], points = kept, points.keep(kept)
    groups = grouped(points, moment[kept], None if own is None else own[kept])
    widths = _widths(groups.points, widest if rounded else 0.0)
    posterior = knee_posterior(groups.points, _models(groups, drift, time is not None, independent), widths)
    unknown = [] if points.noise_known or independent else scatter_unknown(len(points.x), own_error, used)
    data_alone = answer = _from_data_alone(groups.points, posterior, confidence, believed=not unknown)
    found, line, width = _line(points, groups, posterior, data_alone, widths)
    if data_alone.verdict != "resolved" and slopes is not None and not unknown:
        answer = _with_slopes(data_alone, groups.points, posterior, slopes, expected_slope_uncertainty)
    if answer.verdict in ("above tested range", "already floating") or found.largest <= 0.0:
        line = fit_straight(points, before=answer.verdict != "already floating")
    reasons += unknown + why(found, line, answer, data_alone, posterior, slopes, expected_slope_uncertainty, words)
    return Knee(
        verdict=answer.verdict,
        position=line.position,
        interval=_from_zero(answer.interval, points),
        level=line.level,
        slope_before=line.slope_before,
        slope_after=line.slope_after,
        covariance=line.covariance,
        parameters=PARAMETERS,
        sigma=line.sigma,
        sigma_given=points.noise_known,
        chi_squared=line.chi_squared,
        degrees_of_freedom=line.degrees_of_freedom,
        p_value=answer.p_value,
        width=width if found.largest > 0.0 else 0.0,
        confidence=confidence,
        used=used,
        reasons=(*reasons, *jump_in_words(groups.points, groups.moment, posterior.models, posterior.all_weight, words)),
        candidates=data_alone.candidates,
        plausibility=data_alone.plausibility,
        noise=FoundNoise(groups.member, posterior.models, posterior.all_weight, points.noise_known),
        roundings=_roundings(posterior, widths),
    )


def _moments(time: ArrayLike | None, used: NDArray[np.bool_]) -> Floats:
    """Return when the points used were read: their place among those given where no time is known."""
    places = np.flatnonzero(used).astype(float)
    if time is None:
        return places
    moment = np.asarray(time, dtype=np.float64)
    if moment.shape != used.shape:
        raise ValueError(f"time must hold one value per point ({len(used)}), got shape {moment.shape}")
    known = moment[used]
    return known if np.isfinite(known).all() and np.ptp(known) > 0.0 else places


def _own_errors(own_error: ArrayLike | None, used: NDArray[np.bool_]) -> Floats | None:
    """Return the own errors of the points used, those not known set to the median; None where none is known."""
    if own_error is None:
        return None
    error = np.asarray(own_error, dtype=np.float64)
    if error.shape != used.shape:
        raise ValueError(f"own_error must hold one value per point ({len(used)}), got shape {error.shape}")
    return completed(error[used])


def scatter_unknown(count: int, own_error: ArrayLike | None, used: NDArray[np.bool_] | None = None) -> list[str]:
    """Return why points of whose errors nothing but their scatter speaks bound no knee; empty where they may.

    An error of its own counts where every point has one: that of a few says nothing of single readings.

    Parameters
    ----------
    count : int
        Of the points used.
    own_error : array (n,), unit of y, or None
        nan where not known.
    used : bool array (n,), optional
        All when None.
    """
    error = np.asarray([np.nan] if own_error is None else own_error, dtype=np.float64)
    error = error[used] if used is not None and own_error is not None else error
    if count >= FEWEST_BY_SCATTER or (np.isfinite(error) & (error > 0.0)).all():
        return []
    return [SCATTER_UNKNOWN.format(count, FEWEST_BY_SCATTER)]


def _size_of_drift(drift: float | None) -> float:
    """Return the standard uncertainty of a change of level given, infinite where none is."""
    if drift is not None and not drift > 0.0:
        raise ValueError(f"drift is {drift:g}; it must be above zero (None: it may be any)")
    return math.inf if drift is None else drift


def _from_zero(interval: tuple[float, float], points: Points) -> tuple[float, float]:
    """Return the interval, open at 0 where no x is negative."""
    low, high = interval
    return (0.0 if low == -math.inf and points.x.min() >= 0.0 else low), high


def _models(groups: Groups, drift: float | None, directed: bool, independent: bool) -> NoiseModels:
    points = groups.points
    if points.noise_known:
        return known_noise(points.weight)
    models = noise_models(
        points.x, groups.moment, groups.own_error, groups.readings, _size_of_drift(drift), directed=directed
    )
    return models.keep(np.flatnonzero(models.plain)) if independent else with_slips(models, points, groups.moment)


def _widths(points: Points, widest: float | None) -> list[tuple[float, float]]:
    """Return widths as shares of the range, with their prior weights."""
    likely = WIDTHS if len(points.x) >= FEW else WIDTHS_OF_FEW
    usual = likely[-1][0]
    most = usual if widest is None else min(widest / float(np.ptp(points.x)), usual)
    return [(share * most / usual, weight) for share, weight in likely] if most > 0.0 else [(0.0, 1.0)]


def _roundings(posterior: KneePosterior, widths: list[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    kept = posterior.width_weight > WORTH
    return tuple(
        (float(width), weight)
        for width, (_, weight), worth in zip(posterior.widths, widths, kept, strict=True)
        if worth
    )


def _line(
    points: Points, groups: Groups, posterior: KneePosterior, data_alone: Answer, widths: list[tuple[float, float]]
) -> tuple[Scan, FittedLine, float]:
    """Return the scan, best bent line and width by the likeliest noise: plain least squares where that is white."""
    weight = posterior.width_weight
    left = len(groups.points.x) - len(PARAMETERS)  # what says how large the noise is
    sharp = weight[0] >= 0.5 * widths[0][1] or left <= 1  # unless the run makes that half as likely as it was
    width = 0.0 if sharp else float(posterior.widths[1:] @ weight[1:] / weight[1:].sum())
    likeliest = int(np.argmax(posterior.all_weight))
    models = posterior.models
    if points.noise_known or models.plain[likeliest] or left <= 0:
        found = full_scan(points, width)
        return found, fit_at(points, best_knee(found), width), width
    root = models.root[likeliest]
    best = best_bend(groups.points, models.keep(np.array([likeliest])), posterior.knees, width)
    low, high = data_alone.interval
    if not low <= best <= high:
        best = posterior.middle
    return full_scan(groups.points, width), fit_at(groups.points, best, width, root), width


def _usable(points: Points, robust: bool, take_up: float, words: Words) -> tuple[NDArray[np.bool_], list[str]]:
    """Return the points left after stray ones and a seat take-up, and the sentences about them."""
    latest = take_up * points.x.max() if points.x.min() >= 0.0 else -math.inf
    everything = np.ones(len(points.x), dtype=bool)
    stray, reasons = _stray(points, robust)
    end = seat_take_up(points.keep(~stray), latest)
    later = everything if end is None else points.x >= end
    if end is not None and len(np.unique(points.x[later & ~stray])) > FEWEST_POINTS:
        reasons.append(
            f"the slope flattens at {words.place(end)}, opposite to a knee: taken as settling of the pole seats, and "
            f"the {int(np.sum(~later))} points before it are left out"
        )
        stray = ~everything
        stray[later], more = _stray(points.keep(later), robust)
        reasons += more
    else:
        later = everything
    if stray.any():
        where = ", ".join(words.place(float(x)) for x in points.x[stray])
        plural = "s" if stray.sum() > 1 else ""
        reasons.append(f"{int(stray.sum())} stray point{plural} left out, at {where}")
    return later & ~stray, reasons


def _stray(points: Points, robust: bool) -> tuple[NDArray[np.bool_], list[str]]:
    stray = stray_points(points) if robust else None
    if stray is not None:
        return stray, []
    sentence = "more than one point in ten lies off any broken line: none is left out"
    return np.zeros(len(points.x), dtype=bool), [sentence] if robust else []


def _from_data_alone(points: Points, found: KneePosterior, confidence: float, *, believed: bool) -> Answer:
    level, p_value = 1.0 - confidence, chance_of_bend(points, found)
    low, high = found.interval(confidence)
    earned = points.noise_known or len(points.x) >= FEWEST_TO_RESOLVE
    earned = earned and believed
    if p_value >= level or not earned:  # no knee inside the range is as good: then it may lie anywhere outside
        low, high = -math.inf, math.inf
    verdict: Verdict = "resolved" if math.isfinite(low) and math.isfinite(high) else "not resolvable"
    return Answer(verdict, (low, high), level, p_value, found.knees, found.tail())


def _with_slopes(
    data_alone: Answer, points: Points, found: KneePosterior, slopes: tuple[float, float], uncertainty: float
) -> Answer:
    """Return the answer with both slopes expected, where the data alone leave the knee unbounded.

    A knee is then claimed only if the data reject one line at half the level: two chances to claim one would
    otherwise add up. The line is taken to be all before, or all after, the knee only where no knee on the other
    half of the range fits as well.
    """
    expected = slopes_posterior(points, found.models, slopes, uncertainty)
    low, high = expected.interval(1.0 - data_alone.level)
    middle = float(expected.knees.mean())
    verdict: Verdict = "not resolvable"
    if math.isfinite(low) and math.isfinite(high):
        shown = data_alone.p_value < 0.5 * data_alone.level
        verdict = "resolved" if shown else verdict
    elif data_alone.p_value >= data_alone.level and low > middle:
        verdict = "above tested range"
    elif data_alone.p_value >= data_alone.level and high < middle:
        verdict = "already floating"
    return replace(data_alone, verdict=verdict, interval=(low, high))
