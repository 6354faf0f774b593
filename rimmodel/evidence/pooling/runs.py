"""Several runs of one machine: what they share makes each of them surer, what changes between them stays its own.

Between two runs of a rotor shims are changed and keys settle: interference and level are those of a run. Hoop
stiffness, spider and poles stay, and with them the growth per speed squared; so does the gain of sensors that stay.
Each run says something of the shared stiffnesses (its posterior over all noise, knees and widths, with the prior taken
out) and hears it from the others as one normal message. Errors that all runs have alike, such as those of pole mass
and gain, are in no message: they move every run together, no number of runs averages them, and they stay as they are.

Whether the runs may share at all is asked first: messages that miss one another refuse to be pooled.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats, Interval
from rimmodel.evidence.backfit.fit import ALL_POINTS, OWN_CONDITION, BackFit, unsupported
from rimmodel.evidence.backfit.gap_model import PARAMETERS, SCALES
from rimmodel.evidence.backfit.posterior import UNSEEN, FitPosterior
from rimmodel.evidence.measured.machine import NOISE
from rimmodel.evidence.measured.measurement import Measurement

SHARED = ("hoop_stiffness_factor", "spider_stiffness")
"""Unknowns of a back-fit that belong to the machine, not to the run."""

CONTRADICTED = 0.02
"""Chance of the misfit between runs of one machine below which they are not pooled."""

HEARD = 1.0
"""A direction in which a run says less than the prior, in precisions of the prior, is no part of the test."""


@dataclass(frozen=True)
class PooledRun:
    """One run alone and with the others; intervals of lift-off and of `noise` from the noise of the runs alone.

    Attributes
    ----------
    lift_off : float, rad/s
    lift_off_interval : pair of float, rad/s
    pooled_lift_off : float, rad/s
    pooled_lift_off_interval : pair of float, rad/s
    interference : float, m
    noise_interval, interval : pair of float, m
        Of the interference, by noise and with every cause.
    pooled_interference : float, m
    pooled_noise_interval, pooled_interval : pair of float, m
    """

    label: str
    lift_off: float
    lift_off_interval: Interval
    pooled_lift_off: float
    pooled_lift_off_interval: Interval
    interference: float
    noise_interval: Interval
    interval: Interval
    pooled_interference: float
    pooled_noise_interval: Interval
    pooled_interval: Interval


@dataclass(frozen=True)
class PooledRuns:
    """Runs of one machine; `refused` says why they are not pooled, and is empty where they are.

    Attributes
    ----------
    left_out : dict of str
        Why a run takes no part, by label.
    chi_squared : float, -
        Of what the runs say of the shared stiffnesses about their common mean.
    degrees_of_freedom : int
        0 where they cannot contradict one another.
    chance : float, -
        Of so large a misfit between runs of one machine.
    confidence : float, -
    hoop_stiffness_factor : float, -
    hoop_stiffness_factor_interval : pair of float, -
    """

    runs: tuple[PooledRun, ...]
    left_out: dict[str, str]
    chi_squared: float
    degrees_of_freedom: int
    chance: float
    confidence: float
    hoop_stiffness_factor: float
    hoop_stiffness_factor_interval: Interval
    refused: str = ""


@dataclass(frozen=True)
class Message:
    """What one run says of the shared unknowns, its prior taken out, as a normal likelihood.

    Attributes
    ----------
    precision : array (shared, shared), -
        Inverse of the covariance; zero in directions that the run does not show.
    pull : array (shared,), -
        Precision times the likeliest value.
    prior : array (shared,), -
        Precision of the prior about zero.
    """

    precision: Floats
    pull: Floats
    prior: Floats


def pooled_runs(measurements: Sequence[Measurement]) -> PooledRuns | None:
    """Pool the runs of one machine, or say why not; None with fewer than two that can take part.

    Parameters
    ----------
    measurements : sequence of Measurement
        Of one case, in any condition.
    """
    left_out = {row.label: reason for row in measurements if (reason := _unfit(row))}
    used = [row for row in measurements if not _unfit(row)]
    if len(used) < 2:
        return None
    fits = [row.fits[ALL_POINTS] for row in used]
    columns = np.array([PARAMETERS.index(name) for name in SHARED if name in fits[0].parameters])
    messages = [message_of(fit, columns) for fit in fits]
    found, freedom = disagreement(messages)
    chance = _chance(found, freedom)
    factor, ends = _hoop_factor(fits[0], messages, columns, used[0].confidence)
    refused = _refusal(used, chance) if freedom and chance < CONTRADICTED else ""
    runs = []
    for place, row in enumerate(used):
        others = [message for number, message in enumerate(messages) if number != place]
        runs.append(_pooled(row, columns, others, refused=bool(refused)))
    return PooledRuns(
        tuple(runs), left_out, found, freedom, chance, used[0].confidence, factor, ends, refused
    )  # fmt: skip


def _unfit(row: Measurement) -> str:
    if row.disqualified:
        return row.disqualified[0]
    fit = row.fits[ALL_POINTS]
    if np.isnan(fit.interference):
        return "no interference follows from it"
    return "" if any(name in fit.parameters for name in SHARED) else "its stiffnesses were not fitted"


def message_of(fit: BackFit, columns: NDArray[np.intp]) -> Message:
    """What a fitted run says of the unknowns in columns of `gap_model.PARAMETERS`.

    Parameters
    ----------
    columns : int array (shared,)
    """
    found = fit.posterior
    mass = _masses(found)
    centres = found.unknowns[:, columns]
    mean = mass @ centres
    apart = centres - mean
    inner = found.covariance[:, columns[:, None], columns]
    covariance = np.einsum("k,kij->ij", mass, inner) + np.einsum("k,ki,kj->ij", mass, apart, apart)
    spread = np.array([fit.priors.get(PARAMETERS[column], UNSEEN * SCALES[column]) for column in columns])
    whole = np.linalg.inv(covariance + 1e-16 * np.eye(len(columns)))
    scale = np.outer(1.0 / spread, 1.0 / spread)
    sizes, turns = np.linalg.eigh((whole - np.diag(spread**-2.0)) / scale)
    precision = (turns * np.maximum(sizes, 0.0)) @ turns.T * scale
    return Message(precision, whole @ mean, spread**-2.0)


def disagreement(messages: Sequence[Message]) -> tuple[float, int]:
    """Sum of squares of what several runs say about their common mean, and its degrees of freedom.

    Directions in which a run says next to nothing are left out: they cannot disagree.

    Returns
    -------
    chi_squared : float, -
    degrees_of_freedom : int

    Two runs that say 0.0 and 0.4, each with a standard uncertainty of 0.1 against a prior of 1: 0.4^2/0.02.

    >>> def message(value):
    ...     return Message(np.array([[100.0]]), np.array([100.0 * value]), np.ones(1))
    >>> found, freedom = disagreement([message(0.0), message(0.4)])
    >>> round(found, 6), freedom
    (8.0, 1)
    """
    size = len(messages[0].pull)
    total, pulls, squares, freedom = np.zeros((size, size)), np.zeros(size), 0.0, 0
    for message in messages:
        scale = np.sqrt(message.prior)
        sizes, turns = np.linalg.eigh(message.precision / np.outer(scale, scale))
        heard = sizes > HEARD
        axes, known = turns[:, heard], sizes[heard]
        along = axes.T @ (message.pull / scale)
        total = total + (axes * known) @ axes.T * np.outer(scale, scale)
        pulls = pulls + axes @ along * scale
        squares += float(np.sum(along**2 / known))
        freedom += int(heard.sum())
    middle = np.linalg.pinv(total, rcond=1e-12, hermitian=True)
    rank = int(np.linalg.matrix_rank(total, tol=1e-9 * max(float(np.trace(total)), 1e-300), hermitian=True))
    return max(squares - float(pulls @ middle @ pulls), 0.0), freedom - rank


def _chance(chi_squared: float, freedom: int) -> float:
    from scipy.special import chdtrc

    return float(chdtrc(freedom, chi_squared)) if freedom else 1.0


def _masses(found: FitPosterior) -> Floats:
    """Probability (K,) at each float speed tried, those outside of the range at its ends."""
    steps = np.diff(found.cumulative)
    mass = np.zeros(len(found.squared))
    mass[:-2] += 0.5 * steps
    mass[1:-1] += 0.5 * steps
    mass[0] += found.below
    mass[-1] += found.above
    whole: Floats = mass / mass.sum()
    return whole


def informed(found: FitPosterior, columns: NDArray[np.intp], others: Sequence[Message]) -> FitPosterior:
    """The posterior of a run when other runs state what they know of the unknowns in columns.

    Parameters
    ----------
    columns : int array (shared,)

    Notes
    -----
    A normal number m, C times the likelihood exp(-x'Lx/2 + p'x) is normal with precision C^-1 + L, and its size is
    |1 + C L|^(-1/2) exp((b'D b - m'C^-1 m)/2) with b = C^-1 m + p and D the new covariance. Derived here.
    """
    precision = np.sum([one.precision for one in others], axis=0)
    pull = np.sum([one.pull for one in others], axis=0)
    centre = found.unknowns[:, columns]
    own = found.covariance[:, columns[:, None], columns] + 1e-16 * np.eye(len(columns))
    inverse = np.linalg.inv(own)
    after = np.linalg.inv(inverse + precision)
    right = np.einsum("kij,kj->ki", inverse, centre) + pull
    new = np.einsum("kij,kj->ki", after, right)
    size = np.einsum("ki,ki->k", right, new) - np.einsum("ki,kij,kj->k", centre, inverse, centre)
    log = 0.5 * size - 0.5 * np.linalg.slogdet(np.eye(len(columns)) + own @ precision)[1]
    worth = np.exp(log - log.max())
    follow = np.einsum("kpi,kij->kpj", found.covariance[:, :, columns], inverse)  # of all unknowns by the shared
    unknowns = found.unknowns + np.einsum("kpj,kj->kp", follow, new - centre)
    covariance = found.covariance - np.einsum("kpi,kij,kqj->kpq", follow, own - after, follow)
    likelihood = found.likelihood * worth
    inside = max(1.0 - found.above - found.below, 0.0)
    before, now = (_area(found.squared, values) for values in (found.likelihood, likelihood))
    parts = np.array([found.below * worth[0], inside * now / max(before, 1e-300), found.above * worth[-1]])
    below, _, above = parts / parts.sum()
    return replace(
        found, likelihood=likelihood, above=float(above), below=float(below), unknowns=unknowns, covariance=covariance
    )


def _area(squared: Floats, likelihood: Floats) -> float:
    return float(np.sum(0.5 * (likelihood[1:-1] + likelihood[:-2]) * np.diff(squared[:-1])))


def _pooled(row: Measurement, columns: NDArray[np.intp], others: Sequence[Message], *, refused: bool) -> PooledRun:
    fit = row.fits[ALL_POINTS]
    lift, noise = fit.float_speed_interval[OWN_CONDITION], fit.interference_interval
    alone = (row.label, row.float_speed, lift)
    if refused:
        same = (row.interference, noise, row.interference_interval)
        return PooledRun(*alone, row.float_speed, lift, *same, *same)
    found = informed(fit.posterior, columns, others)
    middle = found.middle()
    best = float(fit.model.interference(middle[None], fit.model.condition)[0])
    left = found.interval_of(lambda some: fit.model.interference(some, fit.model.condition), row.confidence, rises=True)
    speeds = found.float_speed(row.confidence)
    alone_there = unsupported(row.points, row.knees[ALL_POINTS].used, speeds)
    speeds, ends = _opened(speeds, alone_there, 0.0), _opened(left, alone_there, -np.inf)
    return PooledRun(
        *alone,
        float(middle[0]) if np.isfinite(speeds).all() else float("nan"), speeds,
        row.interference, noise, row.interference_interval,
        best if np.isfinite(ends).all() else float("nan"), ends, _with_causes(row, best, ends),
    )  # fmt: skip


def _opened(interval: Interval, alone: tuple[bool, bool], lowest: float) -> Interval:
    """The interval, open on a side beyond which too few of the run's own readings lie."""
    low, high = interval
    return (lowest if alone[0] else low), (np.inf if alone[1] else high)


def _with_causes(row: Measurement, best: float, noise: Interval) -> Interval:
    """The pooled interval with the causes that other runs do not average: as they are for the run alone."""
    if not row.machines:
        return noise
    parts = row.interference_left.parts
    if not parts or not np.isfinite(noise).all():
        return _bounded(row, noise)
    below, above = (
        float(np.hypot.reduce([sides[end] for cause, sides in parts.items() if cause != NOISE])) for end in (0, 1)
    )
    return best - float(np.hypot(best - noise[0], below)), best + float(np.hypot(noise[1] - best, above))


def _bounded(row: Measurement, noise: Interval) -> Interval:
    """Without a best machine there are no sides of causes: the pooled interval then leaves nothing out of the own."""
    low, high = row.interference_interval
    return (min(low, noise[0]) if np.isfinite(noise[0]) else -np.inf), (
        max(high, noise[1]) if np.isfinite(noise[1]) else np.inf
    )


def _hoop_factor(
    fit: BackFit, messages: Sequence[Message], columns: NDArray[np.intp], confidence: float
) -> tuple[float, Interval]:
    from scipy.special import ndtri

    place = PARAMETERS.index(SHARED[0])
    factor = float(fit.model.rotor.rim.hoop_stiffness_factor)
    if place not in columns:
        return factor, (factor, factor)
    whole = np.linalg.inv(np.sum([one.precision for one in messages], axis=0) + np.diag(messages[0].prior))
    centre = whole @ np.sum([one.pull for one in messages], axis=0)
    at = int(np.flatnonzero(columns == place)[0])
    reach = float(ndtri(0.5 * (1.0 + confidence)) * np.sqrt(whole[at, at]))
    best = float(centre[at])
    return factor * float(np.exp(best)), (factor * float(np.exp(best - reach)), factor * float(np.exp(best + reach)))


def _refusal(used: Sequence[Measurement], chance: float) -> str:
    """What each run says of the hoop stiffness, and what may have come between them."""
    said = []
    for row in used:
        fit = row.fits[ALL_POINTS]
        low, high = fit.hoop_stiffness_factor_interval
        said.append(f"'{row.label}' {fit.hoop_stiffness_factor:.3f} ({low:.3f} to {high:.3f})")
    return (
        f"the runs contradict one another in what a machine keeps (chance {100 * chance:.2g} %): hoop stiffness factor "
        f"{', '.join(said)}; a wrong condition, a different gain of the sensors, or work on the rim between the runs"
    )
