"""The readings of a run in their order, as each possible lift-off foretells them.

For a given lift-off the gaps of a rotor are known but for its stiffnesses, the level of the sensors, its drift and the
noise. With what is known of these beforehand the readings are normal about a mean gap, with a covariance that does not
depend on the gaps that were read. The Cholesky factor of the covariance of a whole run holds that of every beginning of
it in its first rows: one factor gives what each reading adds, and so the likelihood of the run after every reading.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.backfit.fitter import Freedom
from rimmodel.evidence.backfit.gap_model import NO_STATE, PARAMETERS, GapModel, gap_model
from rimmodel.evidence.backfit.recorded_heat import GAIN_OF
from rimmodel.evidence.interim.drift import drift_covariance, elapsed
from rimmodel.evidence.knee.noise import CORRELATIONS, GROWTHS, LEAST
from rimmodel.evidence.knee.posterior import ABOVE, BELOW
from rimmodel.rotor import Condition, Rotor
from rimmodel.units import MILLIMETRE

PLACES = 200
"""Lift-offs tried, evenly in speed squared up to the highest speed of the run."""

BEYOND = 1.5
"""Lift-off, over the highest speed, that stands for all beyond."""

NODES = 5
"""Values of each stiffness over which its scatter is taken (Gauss and Hermite)."""

LEVEL = 30.0 * MILLIMETRE
"""Standard deviation of the level of the gaps: nothing is known of it, be it a gap or a change of gap."""

LEAST_NOISE, MOST_NOISE, LEVELS = 2e-3 * MILLIMETRE, 0.5 * MILLIMETRE, 22
"""Noise of one reading, evenly likely in its logarithm between these, and the values tried."""

DRIFT, WALK = 0.5, 0.3
"""Change of the level from one reading to the next, over the noise of one: steady, or a step of its own each time."""

DRIFTS = (0.08, 0.05)
"""Probability beforehand of either drift."""


@dataclass(frozen=True)
class Schedule:
    """What is known of the readings of a run beside their gaps, in the order in which they are taken.

    Attributes
    ----------
    speed : array (reading,), rad/s
    direction : str array (reading,)
        "up", "down" or "".
    moment : array (reading,), s
        nan where it is not known.
    error : array (reading,), m
        Standard error of each by itself: its noise is no less than `LEAST` of it; nan where it is not known, and empty
        where none is.
    departures : mapping of str to array (reading,), K
        Recorded temperatures above those of the condition, by body, from `heat_departures`.
    """

    speed: Floats
    direction: np.ndarray[tuple[int], np.dtype[np.str_]]
    moment: Floats
    error: Floats = field(default_factory=lambda: np.empty(0))
    departures: Mapping[str, Floats] = field(default_factory=dict)

    def with_next(self, speed: Floats) -> Schedule:
        """The schedule with several readings each of which may be the next, after a hold as long as those so far.

        Temperatures and errors of the next reading are those of the last and of the middle one so far.

        Parameters
        ----------
        speed : array (step,), rad/s
        """
        passed, steps = elapsed(self.moment), np.ones(len(speed))
        known = self.error[np.isfinite(self.error)]
        usual = float(np.median(known)) if len(known) else np.nan
        return replace(
            self,
            speed=np.append(self.speed, speed),
            direction=np.append(self.direction, np.full(len(speed), self.direction[-1])),
            moment=np.append(passed[:-1], passed[-1] * steps),
            error=np.append(self.error, usual * steps) if len(self.error) else self.error,
            departures={body: np.append(kelvin, kelvin[-1] * steps) for body, kelvin in self.departures.items()},
        )


@dataclass(frozen=True)
class Course:
    """Mean and covariance of the readings for each lift-off; made by `course`.

    Attributes
    ----------
    lift_off : array (K,), rad/s
        The last stands for all beyond the highest speed.
    weight : array (K,), -
        Probability beforehand.
    mean : array (K, reading), m
    known : array (K, reading, reading), m2
        Covariance from stiffnesses, level and drift.
    noises : array (model, reading, reading), -
        Covariance of the noise, for a noise of 1.
    noise_weight : array (model,), -
    """

    lift_off: Floats
    weight: Floats
    mean: Floats
    known: Floats
    noises: Floats
    noise_weight: Floats

    @property
    def levels(self) -> Floats:
        """Noise of one reading (level,), m."""
        return np.geomspace(LEAST_NOISE, MOST_NOISE, LEVELS)

    def covariances(self) -> Iterator[tuple[float, Floats]]:
        """Yield the logarithm of the weight of each noise and level, and the covariance (K, reading, reading), m2."""
        for likely, noise in zip(self.noise_weight, self.noises, strict=True):
            for level in self.levels:
                yield float(np.log(likely / LEVELS)), self.known + level**2 * noise


def course(
    rotor: Rotor, condition: Condition, schedule: Schedule, highest: float, freedom: Freedom | None = None
) -> Course:
    """Return what each possible lift-off foretells of readings in the order in which they are taken.

    Nothing here depends on the gaps that were read, or on how many readings there will be.

    Parameters
    ----------
    schedule : Schedule
        What the machine may warm between its moments is part of what each lift-off foretells (`drift_covariance`).
        Where they are not known the level may drift as far as in a long run. Where temperatures were recorded the gaps
        move with them, within the range of their gains, and only what thermometers miss may drift.
    highest : float, rad/s
        Of the run as agreed.
    freedom : Freedom, optional
        What is known of the stiffnesses, and of recorded temperatures, beforehand.
    """
    known_as = freedom or Freedom()
    squared = np.linspace(1e-4, 1.0, PLACES) * highest**2
    lift_off = np.append(np.sqrt(squared), BEYOND * highest)
    weight = np.full(PLACES, (1.0 - BELOW - ABOVE) / PLACES)
    weight[0] += BELOW
    mean, known = _foretold(rotor, condition, schedule, lift_off, known_as)
    missed = dict.fromkeys(schedule.departures, known_as.heat_gain)
    known = known + drift_covariance(rotor, condition, schedule.moment, schedule.speed, highest, missed)
    if len(schedule.error):
        known = known + np.diag((LEAST * np.nan_to_num(schedule.error)) ** 2)
    noises, likely = _noises(np.minimum((schedule.speed / highest) ** 2, 1.5))
    return Course(lift_off, np.append(weight, ABOVE), mean, known, noises, likely)


def _foretold(
    rotor: Rotor, condition: Condition, schedule: Schedule, lift_off: Floats, freedom: Freedom
) -> tuple[Floats, Floats]:
    """Mean (K, reading) and covariance (K, reading, reading) of gaps over what stiffnesses and gains may be."""
    nodes, part = np.polynomial.hermite_e.hermegauss(NODES)
    part = part / part.sum()
    rows, weight = np.zeros((1, len(PARAMETERS))), np.ones(1)
    for name, spread in freedom.prior_sd.items():
        moved = np.repeat(rows, NODES, axis=0)
        moved[:, PARAMETERS.index(name)] += np.tile(nodes * spread, len(rows))
        rows, weight = moved, np.outer(weight, part).ravel()
    untimed = np.full(len(schedule.speed), np.nan)
    model = gap_model(rotor, condition, schedule.speed, schedule.direction, untimed, schedule.departures)
    gaps = _gaps(model, condition, lift_off, rows)
    # the pull closes the gap of the softest rotors: what is left speaks for the rest
    there = np.where((gaps < NO_STATE).all(axis=2), weight, 0.0)
    gaps = np.where(gaps < NO_STATE, gaps, 0.0)
    there = there / np.maximum(there.sum(axis=1, keepdims=True), 1e-300)
    mean = np.einsum("kj,kjn->kn", there, gaps)
    off = gaps - mean[:, None]
    known = np.einsum("kj,kjn,kjm->knm", there, off, off) + LEVEL**2
    return mean, known + _by_gains(model, condition, lift_off, freedom.heat_gain)


def _gaps(model: GapModel, condition: Condition, lift_off: Floats, rows: Floats) -> Floats:
    """Gaps (K, row, reading), m, of rows of unknowns (row, parameter) at each lift-off."""
    whole = np.repeat(rows[None], len(lift_off), axis=0)
    whole[:, :, 0] = lift_off[:, None]
    return model.gaps(whole.reshape(-1, rows.shape[1]), condition).reshape(len(lift_off), len(rows), -1)


def _by_gains(model: GapModel, condition: Condition, lift_off: Floats, spread: float) -> Floats:
    """Covariance (K, reading, reading), m2, from how far bodies move with their recorded temperatures."""
    size = len(model.speed)
    found = np.zeros((len(lift_off), size, size))
    if model.heat is None:
        return found
    for gain in GAIN_OF.values():
        rows = np.zeros((2, len(PARAMETERS)))
        rows[:, PARAMETERS.index(gain)] = spread, -spread
        gaps = _gaps(model, condition, lift_off, rows)
        half = np.where((gaps < NO_STATE).all(axis=1), 0.5 * (gaps[:, 0] - gaps[:, 1]), 0.0)
        found += half[:, :, None] * half[:, None, :]
    return found


def _noises(place: Floats) -> tuple[Floats, Floats]:
    """Covariances (model, reading, reading) of the noise and their probabilities, for readings at speeds squared."""
    number = np.arange(len(place), dtype=float)
    apart, alone = np.abs(number[:, None] - number), np.eye(len(place))
    rest = 1.0 - sum(DRIFTS)
    found = [
        (weight * GROWTHS[0][1] * rest, share * step**apart + (1.0 - share) * alone if step else alone)
        for step, share, weight in CORRELATIONS
    ]
    for growth, weight in GROWTHS[1:]:
        spread = 1.0 + (growth - 1.0) * place
        found.append((weight * rest, alone * spread**2))
    steady, own = DRIFT**2 * np.outer(number, number), WALK**2 * np.minimum(number[:, None], number)
    found += [(DRIFTS[0], alone + steady), (DRIFTS[1], alone + own)]
    weights = np.array([weight for weight, _ in found])
    return np.array([matrix for _, matrix in found]), weights / weights.sum()


def log_likelihoods(course: Course, gaps: Floats) -> Floats:
    """Return the logarithm of the likelihood of each beginning of runs, for each lift-off.

    Parameters
    ----------
    gaps : array (run, reading), m
        Readings of one run, or of many that were taken at the same speeds.

    Returns
    -------
    array (run, reading, K), -
        After each reading.
    """
    runs, readings = gaps.shape
    off = (gaps[:, None] - course.mean).transpose(1, 2, 0)
    most = np.full((len(course.lift_off), readings, runs), -np.inf)
    total = np.zeros_like(most)
    for weight, covariance in course.covariances():
        factor = np.asarray(np.linalg.cholesky(covariance), dtype=np.float64)
        white = _forward(factor, off)
        added = -0.5 * white**2 - np.log(np.einsum("knn->kn", factor))[..., None]
        log = weight + np.cumsum(added, axis=1)
        higher = np.maximum(most, log)  # a sum of exponentials, kept below overflow
        total = total * np.exp(most - higher) + np.exp(log - higher)
        most = higher
    log = most + np.log(total)
    found: Floats = log.transpose(2, 1, 0) - 0.5 * np.log(2.0 * np.pi) * np.arange(1, readings + 1)[:, None]
    return found


def _forward(factor: Floats, right: Floats) -> Floats:
    """Solve lower triangular systems (K, n, n) for right sides (K, n, run), row by row."""
    found = np.empty_like(right)
    for row in range(right.shape[1]):
        known = np.einsum("kj,kjr->kr", factor[:, row, :row], found[:, :row])
        found[:, row] = (right[:, row] - known) / factor[:, row, row, None]
    return found
