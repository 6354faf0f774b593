"""Which of the speeds that a run may go to next would tell most of the lift-off.

The information of a reading is how much it is expected to lower the uncertainty of the lift-off, in bits: the entropy
of the reading less its mean entropy where the lift-off is known (D. V. Lindley, Ann. Math. Statist. 27 (1956) 986; from
memory). It plans and recommends; whoever runs the machine decides.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from rimmodel.arrays import Floats, Mask
from rimmodel.behaviour import float_speed
from rimmodel.evidence.backfit.fitter import Freedom
from rimmodel.evidence.interim.course import Course, course
from rimmodel.evidence.interim.drift import elapsed
from rimmodel.planning.proving_run import run_plan, run_speeds
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.case.case import Case
from rimmodel.units import mm, rpm

NEGLIGIBLE = 1e-4
"""Share of the likeliest noise from which another is asked."""

PLACES = 300
"""Readings over which an entropy is added up."""


@dataclass(frozen=True)
class Readings:
    """Readings of a run so far, in the order in which they were taken.

    Attributes
    ----------
    speed : array (reading,), rad/s
    direction : str array (reading,)
    gap : array (reading,), m
    moment : array (reading,), s
        nan where it is not known.
    """

    speed: Floats
    direction: np.ndarray[tuple[int], np.dtype[np.str_]]
    gap: Floats
    moment: Floats


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
    least_gain : float, -
        Share by which a reading must be expected to lower the uncertainty before it is recommended: what tells less
        leaves the interval as long as it is.
    least_information : float, -
        Bits from which it is recommended as well, where the uncertainty at least does not grow.
    """

    speed: Floats
    information: Floats
    uncertainty: Floats
    present: float
    least_gain: ClassVar[float] = 0.05
    least_information: ClassVar[float] = 0.25

    @property
    def worth(self) -> Mask:
        """Whether a reading at each (step,) is expected to tell enough to be recommended."""
        narrower = self.uncertainty <= (1.0 - self.least_gain) * self.present
        informs = (self.uncertainty <= self.present) & (self.information >= self.least_information)
        return np.asarray((narrower | informs) & (self.present > 0.0))

    @property
    def order(self) -> list[int]:
        """Places of the speeds, those that are worth a reading first, each kind by its information."""
        return sorted(range(len(self.speed)), key=lambda place: (not self.worth[place], -self.information[place]))

    @property
    def best(self) -> float:
        """The speed of most information among those that are worth a reading, or among all, rad/s."""
        return float(self.speed[self.order[0]])

    @property
    def gains(self) -> bool:
        """Whether any of them is worth a reading."""
        return bool(self.worth.any())


def allowed_speeds(case: Case, condition: str, fastest: float) -> tuple[Floats, tuple[str, ...]]:
    """Steps of the plan up to the next beyond what was run, none beyond the agreed speed or a stop line.

    Parameters
    ----------
    fastest : float, rad/s
        So far.

    Returns
    -------
    speed : array (step,), rad/s
    notes : tuple of str
        What limits them.
    """
    rated, agreed = float(case.rotor.speeds.rated), case.plan.highest_speed
    highest = float(case.rotor.speeds.overspeed if agreed is None else agreed)
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
    steps = steps[(steps > 0.0) & (steps <= last * (1.0 + 1e-9))]
    beyond = steps[steps > 1.005 * fastest]
    if not len(beyond):
        notes.append("The run has reached the last speed that it may: only speeds within it are compared.")
    return steps[steps <= (beyond[0] if len(beyond) else fastest) * (1.0 + 1e-9)], tuple(notes)


def next_speed(
    rotor: Rotor,
    condition: Condition,
    readings: Readings,
    candidates: Floats,
    highest: float,
    freedom: Freedom | None = None,
) -> NextSpeed:
    """Return what one more reading at each of several speeds is expected to tell.

    Parameters
    ----------
    readings : Readings
        So far.
    candidates : array (step,), rad/s
    highest : float, rad/s
        Of the run as agreed.
    freedom : Freedom, optional
        What is known of the stiffnesses beforehand; as for the look itself.
    """
    speed, gap = readings.speed, readings.gap
    passed = elapsed(readings.moment)
    foretold = course(
        rotor,
        condition,
        np.append(speed, candidates),
        np.append(readings.direction, np.full(len(candidates), readings.direction[-1])),
        highest,
        freedom,
        np.append(passed[:-1], np.full(len(candidates), passed[-1])),
    )
    weight, mean, variance = _foretold_readings(foretold, gap, len(candidates))
    lift = np.minimum(foretold.lift_off, highest)
    present = float(np.sqrt(weight @ (lift - weight @ lift) ** 2))
    found = [_worth(weight, lift, mean[:, step], variance[:, step]) for step in range(len(candidates))]
    return NextSpeed(
        candidates,
        np.array([bits for bits, _ in found]),
        np.array([after for _, after in found]),
        present,
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
