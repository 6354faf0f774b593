"""Intervals of the lift-off that hold at every look at a run that is in progress.

An interval made for one look does not hold for many: who looks after every speed and stops at what pleases him is
wrong more often than it says. For a lift-off z the ratio

    E_t(z) = sum_k w_k p(y_1 ... y_t | z_k) / p(y_1 ... y_t | z)

is a martingale that starts at 1 if z is true: what the next reading adds has mean 1 whatever came before. So the
chance that it ever reaches 1/alpha, after any reading, however many there are, is at most alpha (Ville's inequality;
J. Ville, Etude critique de la notion de collectif, 1939; for intervals H. Robbins, Ann. Math. Statist. 41 (1970) 1397;
both from memory), and the lift-offs for which it never has are an interval that holds at all looks together. The
number of looks need not be planned. Stiffnesses, level and noise are averaged over what is known of them beforehand:
the sentence holds over machines and sensors as varied as that.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats
from rimmodel.evidence.interim.course import Course, log_likelihoods

TRUSTED = 0.5
"""Probability beforehand that recorded temperatures are those of the bodies, to within their gains and scatter. At one
half neither runs with right nor with wrong thermometers can be wrong more than twice as often as stated."""


@dataclass(frozen=True)
class Look:
    """What the readings so far show, at a confidence that holds for all looks of the run together.

    Attributes
    ----------
    lift_off : array (K,), rad/s
        Tried.
    probability : array (K,), -
        Of each after the last reading; the last stands for all beyond the highest speed.
    trusted : float, -
        Probability after the last reading that the recorded temperatures are those of the bodies; 0 without any.
    low, high : array (reading,), rad/s
        Bounds of the lift-off after each reading; 0 and infinite where open, NaN where nothing is left.
    """

    lift_off: Floats
    probability: Floats
    trusted: float
    low: Floats
    high: Floats


def looks(course: Course, gap: Floats, confidence: float = 0.95, first: int = 1, heated: Course | None = None) -> Look:
    """Return what a run shows after each of its readings.

    Parameters
    ----------
    gap : array (reading,), m
        In the order in which they were taken.
    confidence : float, -
        Chance that the lift-off lies within the bounds at every look.
    first : int, -
        Number of the reading from which they bound anything.
    heated : Course, optional
        With recorded temperatures, where `course` is that without them: both count, as they may be wrong.
    """
    log = log_likelihoods(course, gap[None])
    trusted = 0.0
    if heated is not None:
        bare, log = log, either(log, warm := log_likelihoods(heated, gap[None]))
        odds = _whole(warm[0, -1], course) - _whole(bare[0, -1], course) + np.log(TRUSTED / (1.0 - TRUSTED))
        trusted = float(np.exp(-np.logaddexp(0.0, -odds)))
    low, high = bounds(course, log, confidence, first)
    last = log[0, -1] + np.log(course.weight)
    chance = np.exp(last - last.max())
    return Look(course.lift_off, chance / chance.sum(), trusted, low[0], high[0])


def either(bare: Floats, heated: Floats) -> Floats:
    """Return the logarithm of the likelihood where recorded temperatures are right with probability `TRUSTED`.

    Parameters
    ----------
    bare, heated : array (run, reading, K), -
        From courses without and with them.

    Returns
    -------
    array (run, reading, K), -

    Two that agree, and two of which one is half as likely:

    >>> np.exp(either(np.log([0.2, 0.1]), np.log([0.2, 0.2]))).round(4).tolist()
    [0.2, 0.15]
    """
    return np.asarray(np.logaddexp(np.log(1.0 - TRUSTED) + bare, np.log(TRUSTED) + heated))


def _whole(log: Floats, course: Course) -> float:
    """Logarithm of the likelihood (K,), averaged over the lift-offs."""
    return float(np.logaddexp.reduce(log + np.log(course.weight)))


def bounds(course: Course, log: Floats, confidence: float, first: int = 1) -> tuple[Floats, Floats]:
    """Return the bounds of the lift-off after each reading, those of earlier readings kept.

    Parameters
    ----------
    log : array (run, reading, K), -
        Logarithms of the likelihood.
    confidence : float, -
    first : int, -
        Number of the reading from which they bound anything: what earlier ones exclude is let go.

    Returns
    -------
    low, high : array (run, reading), rad/s
    """
    weighted = log + np.log(course.weight)
    most = weighted.max(axis=2, keepdims=True)
    whole = most + np.log(np.exp(weighted - most).sum(axis=2, keepdims=True))
    ratio = whole - log
    ratio[:, : first - 1] = np.minimum(ratio[:, : first - 1], 0.0)
    against = np.maximum.accumulate(ratio, axis=1) + np.log(1.0 - confidence)  # above 0: excluded for good
    left = against < 0.0
    place = np.arange(left.shape[2])
    start = np.where(left, place, left.shape[2]).min(axis=2)
    last = np.where(left, place, -1).max(axis=2)
    squared = course.lift_off**2
    low = np.where(start == 0, 0.0, _between(squared, against, start, start - 1))
    high = np.where(last == left.shape[2] - 1, np.inf, _between(squared, against, last, last + 1))
    none = last < 0
    return np.where(none, np.nan, np.sqrt(low)), np.where(none, np.nan, np.sqrt(high))


def _between(squared: Floats, against: Floats, inside: NDArray[np.intp], outside: NDArray[np.intp]) -> Floats:
    """Where between a place that is left and its neighbour that is not the border lies, rad2/s2; straight between."""
    most = len(squared) - 1
    inside, outside = (np.clip(place, 0, most) for place in (inside, outside))
    here, there = (np.take_along_axis(against, place[..., None], axis=2)[..., 0] for place in (inside, outside))
    rise = np.where(there > here, there - here, 1.0)
    share = np.clip(np.where(there > here, -here / rise, 1.0), 0.0, 1.0)
    # the place beyond all speeds lies nowhere: the bound is then that of the last speed
    outside = np.where(outside == most, inside, outside)
    found: Floats = squared[inside] + share * (squared[outside] - squared[inside])
    return found
