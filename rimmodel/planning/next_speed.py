"""Which of the speeds that a run may go to next would tell most of the lift-off.

The information of a reading is how much it is expected to lower the uncertainty of the lift-off, in bits: the entropy
of the reading less its mean entropy where the lift-off is known (D. V. Lindley, Ann. Math. Statist. 27 (1956) 986; from
memory). It plans and recommends; whoever runs the machine decides.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, NamedTuple

import numpy as np

from rimmodel.arrays import Floats, Mask
from rimmodel.behaviour import float_speed
from rimmodel.evidence.backfit.fitter import Freedom
from rimmodel.evidence.interim.course import Course, Schedule, course
from rimmodel.evidence.interim.run import agreed_speed
from rimmodel.planning.proving_run import run_plan, run_speeds
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.allowances import ProvingRun
from rimmodel.rotor.case.case import Case
from rimmodel.units import RPM, in_rpm, mm, rpm

NEGLIGIBLE = 1e-4
"""Share of the likeliest noise from which another is asked."""

PLACES = 300
"""Readings over which an entropy is added up."""


HOLDABLE = 0.01
"""Share of rated speed: speeds are recommended in steps of the round number of rpm from there on (1, 2, 5, 10 ...). A
speed governor holds no closer for minutes (common practice, no source)."""

SAME = 0.75
"""Share of such a step within which two speeds are one."""

LOW = 0.5
"""Share of the fastest speed so far up to which a speed that was read already may be recommended once more: there the
rim stands as at the first time, and what has moved the gap since is drift."""


@dataclass(frozen=True)
class NextSpeed:
    """Speeds that may be run next, and what a reading at each would tell.

    Attributes
    ----------
    speed : array (step,), rad/s
    information : array (step,), -
        Bits.
    uncertainty : array (step,), rad/s
        Standard uncertainty of the lift-off that is expected after it, lift-offs beyond the highest speed counted as
        at it.
    present : float, rad/s
        The same now.
    repeated : bool array (step,)
        Whether each was read already.
    last : float, rad/s
        Speed of the last reading.
    alike : float, -
        Share of the most information from which speeds count as alike: the nearest new one then comes first.
    least_gain : float, -
        Share by which a reading must be expected to lower the uncertainty before it is recommended: what tells less
        leaves the interval as long as it is.
    least_of_all : float, -
        Bits without which it never is.
    least_information : float, -
        Bits from which it is recommended as well, where the uncertainty at least does not grow.
    """

    speed: Floats
    information: Floats
    uncertainty: Floats
    present: float
    repeated: Mask
    last: float
    alike: ClassVar[float] = 0.95
    least_gain: ClassVar[float] = 0.05
    least_of_all: ClassVar[float] = 0.01
    least_information: ClassVar[float] = 0.25

    @property
    def worth(self) -> Mask:
        """Whether a reading at each (step,) is expected to tell enough to be recommended."""
        narrower = (self.uncertainty <= (1.0 - self.least_gain) * self.present) & (
            self.information >= self.least_of_all
        )
        informs = (self.uncertainty <= self.present) & (self.information >= self.least_information)
        return np.asarray((narrower | informs) & (self.present > 0.0))

    @property
    def order(self) -> list[int]:
        """Places of the speeds, those worth a reading first, by information; the best of those alike comes first."""
        worth = self.worth
        places = sorted(range(len(self.speed)), key=lambda place: (not worth[place], -self.information[place]))
        most = self.alike * self.information[places[0]]
        alike = [place for place in places if worth[place] == worth[places[0]]]
        alike = [place for place in alike if self.information[place] >= most]
        first = min(alike, key=lambda place: (self.repeated[place], abs(self.speed[place] - self.last)))
        return [first, *(place for place in places if place != first)]

    @property
    def best(self) -> float:
        """The speed that tells most among those that are worth a reading, or among all, rad/s."""
        return float(self.speed[self.order[0]])

    @property
    def repeats(self) -> bool:
        """Whether the best is a repetition at low speed."""
        return bool(self.repeated[self.order[0]])

    @property
    def gains(self) -> bool:
        """Whether any of them is worth a reading."""
        return bool(self.worth.any())


class AllowedSpeeds(NamedTuple):
    """Speeds that may be recommended next.

    Attributes
    ----------
    speed : array (step,), rad/s
    last : float, rad/s
        The highest of the run: agreed, and within the stop lines; NaN where the case has none.
    notes : tuple of str
        What limits them.
    """

    speed: Floats
    last: float
    notes: tuple[str, ...]


def holdable_step(rated: float) -> float:
    """Return the step, rad/s, between speeds that an operator can set and hold: a round number of rpm.

    Parameters
    ----------
    rated : float, rad/s

    Returns
    -------
    float, rad/s

    >>> [round(float(in_rpm(holdable_step(value * RPM)))) for value in (60.0, 100.0, 150.0, 428.6, 600.0)]
    [1, 1, 2, 5, 10]
    """
    least = max(HOLDABLE * float(in_rpm(rated)), 1.0)
    decade = 10.0 ** np.floor(np.log10(least))
    return float(
        next(factor * decade for factor in (1.0, 2.0, 5.0, 10.0) if factor * decade >= least * (1 - 1e-6)) * RPM
    )


def allowed_speeds(case: Case, condition: str, read: Floats) -> AllowedSpeeds:
    """Speeds that may be recommended next: those of the plan as an operator can hold them, and low ones once more.

    Steps of the plan up to the next beyond what was run, and speeds halfway between those that were read, rounded down
    to a round number of rpm (rated speed apart), none below the first step of the plan; a speed that was read already
    only where it is low. None lies beyond the agreed speed or a stop line.

    Parameters
    ----------
    read : array (reading,), rad/s
        Speeds read so far.
    """
    rated, (highest, _) = float(case.rotor.speeds.rated), agreed_speed(case)
    if case.rotor.air_gap.minimum_allowed is None:
        own = float(float_speed(case.rotor, case.conditions[condition]).speed)
        steps, _ = run_speeds(rated, highest, int(case.plan.points), (0.9 * own, 1.1 * own))
        last, notes = highest, ["The case has no air_gap.minimum_allowed: no stop line limits these speeds."]
    else:
        plan = run_plan(case, condition)
        steps, last, notes = plan.speed, plan.reaches, []
        if plan.reaches < plan.speed[-1]:
            notes.append(
                f"The stop line of {mm(plan.stops.minimum)} ends the run at {rpm(plan.reaches, '.0f')} as the case "
                "expects it."
            )
    found = _held(steps[steps <= last * (1.0 + 1e-9)], read, rated)
    fastest = float(read.max())
    if not (found > fastest).any():
        ends = f"{rpm(last, '.0f')}, the last speed that may be run"
        where = f"is beyond {ends}" if fastest > last * (1.0 + 1e-3) else f"has reached {rpm(fastest)} of {ends}"
        notes.append(f"The run {where}: only speeds within it are compared.")
    planned = case.rotor.air_gap.minimum_allowed is not None
    return AllowedSpeeds(found, last if planned else float("nan"), tuple(notes))


def _held(steps: Floats, read: Floats, rated: float) -> Floats:
    """Speeds (step,), rad/s, of those that a plan allows and a run has left open, as an operator can hold them."""
    step, last, fastest = holdable_step(rated), float(steps[-1]), float(read.max())
    lowest = _down(np.array(ProvingRun.first_step * rated), step)
    at_rated = np.round(in_rpm(rated)) * RPM
    planned = np.where(np.abs(steps - at_rated) < 1e-6 * rated, steps, _down(steps, step))
    known = np.unique(read[(read >= lowest) & (read <= last)])
    halfway = _down(0.5 * (known[1:] + known[:-1]), step)
    within = np.concatenate([planned, halfway])
    within = within[(within >= lowest * (1.0 - 1e-9)) & (within <= fastest)]
    within = within[np.abs(within[:, None] - read).min(axis=1) >= SAME * step]
    off_rated = np.abs(within - at_rated)
    within = within[(off_rated >= SAME * step) | (off_rated < 1e-6 * rated)]
    # the next step of the plan, or where that is too close to be held apart, the next round speed
    beyond = planned[steps > 1.005 * fastest][:1]
    beyond = np.maximum(beyond, np.ceil(fastest / step + SAME - 1e-6) * step)
    low = np.round(in_rpm(known[known <= LOW * fastest])) * RPM
    found = np.concatenate([within, low, beyond[beyond <= last * (1.0 + 1e-9)]])
    return np.minimum(np.unique(np.round(in_rpm(found), 6)) * RPM, last)


def _down(speed: Floats, step: float) -> Floats:
    """Speeds rounded down to a multiple of the step."""
    return np.floor(speed / step + 1e-6) * step


def next_speed(
    rotor: Rotor,
    condition: Condition,
    schedule: Schedule,
    gap: Floats,
    candidates: Floats,
    highest: float,
    freedom: Freedom | None = None,
) -> NextSpeed:
    """Return what one more reading at each of several speeds is expected to tell.

    Parameters
    ----------
    schedule : Schedule
        Of the readings so far.
    gap : array (reading,), m
        What was read.
    candidates : array (step,), rad/s
    highest : float, rad/s
        Of the run as agreed.
    freedom : Freedom, optional
        What is known of the stiffnesses beforehand; as for the look itself.
    """
    foretold = course(rotor, condition, schedule.with_next(candidates), highest, freedom)
    weight, mean, variance = _foretold_readings(foretold, gap, len(candidates))
    lift = np.minimum(foretold.lift_off, highest)
    present = float(np.sqrt(weight @ (lift - weight @ lift) ** 2))
    found = [_worth(weight, lift, mean[:, step], variance[:, step]) for step in range(len(candidates))]
    apart = np.abs(candidates[:, None] - schedule.speed).min(axis=1)
    return NextSpeed(
        candidates,
        np.array([bits for bits, _ in found]),
        np.array([after for _, after in found]),
        present,
        apart < SAME * holdable_step(float(rotor.speeds.rated)),
        float(schedule.speed[-1]),
    )


def _foretold_readings(foretold: Course, gap: Floats, steps: int) -> tuple[Floats, Floats, Floats]:
    """Probability of each lift-off (K,), and mean and variance (K, step) of a reading at each candidate, after a run.

    Each candidate stands where the next reading would, so that its noise goes on from the last reading.
    """
    count = len(gap)
    off, after = gap - foretold.mean[:, :count], foretold.mean[:, count:]
    seen = foretold.known[:, :count, :count]
    noises = [_as_next(noise, foretold, count) for noise in foretold.noises]
    kinds = [(kind, level) for kind in range(len(noises)) for level in foretold.levels]
    logs = np.array([
        np.log(foretold.noise_weight[kind]) + _log_likelihood(seen + level**2 * noises[kind][0], off)
        for kind, level in kinds
    ])  # fmt: skip
    share = np.exp(logs - logs.max())
    kept = np.flatnonzero(share.max(axis=1) > NEGLIGIBLE)
    each = share[kept] / np.maximum(share[kept].sum(axis=0), 1e-300)
    means, variances = [], []
    for kind, level in (kinds[place] for place in kept):
        noise, across, own = noises[kind]
        both = np.concatenate([off[..., None], foretold.known[:, :count, count:] + level**2 * across], axis=2)
        white = np.linalg.solve(np.linalg.cholesky(seen + level**2 * noise), both)
        means.append(after + np.einsum("kns,kn->ks", white[..., 1:], white[..., 0]))
        whole = np.einsum("kss->ks", foretold.known[:, count:, count:]) + level**2 * own
        variances.append(whole - np.sum(white[..., 1:] ** 2, axis=1))
    mean = np.einsum("ck,cks->ks", each, np.array(means))
    variance = np.einsum("ck,cks->ks", each, np.array(variances) + (np.array(means) - mean) ** 2)
    weight = share.sum(axis=0) * foretold.weight
    return weight / weight.sum(), mean, np.maximum(variance, 1e-16)


def _log_likelihood(covariance: Floats, off: Floats) -> Floats:
    """Logarithm (K,), up to a constant, of the likelihood of deviations (K, n) by covariances (K, n, n)."""
    factor = np.linalg.cholesky(covariance)
    white = np.linalg.solve(factor, off[..., None])[..., 0]
    size = np.log(np.einsum("knn->kn", factor)).sum(axis=1)
    return np.asarray(-0.5 * np.sum(white**2, axis=1) - size)


def _as_next(noise: Floats, foretold: Course, count: int) -> tuple[Floats, Floats, Floats]:
    """Covariance of the noise of the run, its covariance with the next reading (reading, step), and its variance."""
    across = np.repeat(noise[:count, count : count + 1], foretold.mean.shape[1] - count, axis=1)
    own = np.diag(noise)[count:]
    # what grows with the number of the reading is that of the first candidate; what grows with speed is each one's own
    steady = noise[:count, :count]
    if np.count_nonzero(steady - np.diag(np.diag(steady))):
        own = np.full(len(own), own[0])
    return steady, across, own


def _worth(weight: Floats, lift: Floats, mean: Floats, variance: Floats) -> tuple[float, float]:
    """Information (bits) of one reading, and standard uncertainty (rad/s) of the lift-off expected after it."""
    size = np.sqrt(variance)
    kept = weight > 1e-9
    low, high = (mean - 5.0 * size)[kept].min(), (mean + 5.0 * size)[kept].max()
    close = np.concatenate([mean[kept] + z * size[kept] for z in (-2.0, 0.0, 2.0)])  # where the readings may lie
    tried = np.union1d(np.linspace(low, high, PLACES), np.quantile(close, np.linspace(0.0, 1.0, PLACES)))
    density = np.exp(-0.5 * ((tried[:, None] - mean) / size) ** 2) / (np.sqrt(2.0 * np.pi) * size)
    whole = density @ weight
    step = np.gradient(tried)
    entropy = -float(np.sum(step * whole * np.log(np.maximum(whole, 1e-300))))
    known = float(weight @ (0.5 * np.log(2.0 * np.pi * np.e * variance)))
    expected = (density * weight) @ lift / np.maximum(whole, 1e-300)
    square = float(weight @ lift**2) - float(np.sum(step * whole * expected**2))
    return max(entropy - known, 0.0) / float(np.log(2.0)), float(np.sqrt(max(square, 0.0)))
