"""Fits of the modelled rotor to one set of mean gaps: the global optimum, and profiles of any number asked for."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats, Interval
from rimmodel.behaviour import float_speed
from rimmodel.evidence.backfit.calibration import regular_rise, rise_limits
from rimmodel.evidence.backfit.gap_model import PARAMETERS, SCALES, GapModel, varied_interference
from rimmodel.evidence.backfit.least_squares import BatchFit, covariance, fit_batch, jacobian
from rimmodel.evidence.backfit.profile import Profile, interval, profile
from rimmodel.evidence.backfit.shared_knee import Series, broken_line_design, broken_line_rest
from rimmodel.rotor import Condition

PRIOR_SD = {"hoop_stiffness_factor": 0.15, "spider_stiffness": 0.5}
"""Relative standard uncertainty of the case's stiffnesses when the caller says nothing. Hoop stiffness of stacked
segments is 0.6 to 0.9 of solid (from memory); spiders are known worse, and the scallop between keys adds to them."""

STRAY_PRIOR = 3.0
"""A prior this many of its standard uncertainties off what the data say by themselves is not used."""

SCAN, FINER = 90, 40
"""Values of a scan over the tested range, and those added where the fit is good."""

WORTH = 4.0
"""Rise, over that of a regular interval, up to which the limit of a value is worth a simulation."""

CONTENT = 12.0
"""Rise of the sum of squares up to which a value is looked at more closely: far outside of any interval."""


@dataclass(frozen=True)
class Freedom:
    """Which unknowns are adjusted, and what is known of them beforehand.

    Parameters
    ----------
    free : tuple of str
        Of `gap_model.PARAMETERS`.
    prior_sd : mapping of float, -
        Relative standard uncertainty by unknown.
    """

    free: tuple[str, ...] = ("interference", "hoop_stiffness_factor", "spider_stiffness", "gap_offset")
    prior_sd: Mapping[str, float] = field(default_factory=lambda: dict(PRIOR_SD))

    def __post_init__(self) -> None:
        unknown = [name for name in (*self.free, *self.prior_sd) if name not in PARAMETERS]
        if unknown:
            raise ValueError(f"unknown parameter {unknown[0]!r}; the parameters are {', '.join(PARAMETERS)}")
        if "interference" not in self.free:
            raise ValueError("interference must be free: it is what a back-fit is for")
        wrong = {name: sd for name, sd in self.prior_sd.items() if not sd > 0}
        if wrong:
            raise ValueError(f"prior_sd of {next(iter(wrong))} is {next(iter(wrong.values()))}; it must be above zero")

    @property
    def mask(self) -> NDArray[np.bool_]:
        """True for the free parameters, in the order of `PARAMETERS`."""
        return np.array([name in self.free for name in PARAMETERS])


@dataclass(frozen=True)
class Target:
    """Best value and interval of one number, with the profile of the sum of squares that gave them.

    Attributes
    ----------
    best : float, SI
        Interference or float speed.
    interval : pair of float, SI
    values : array (value,), SI
    rise : array (value,), -
    """

    best: float
    interval: Interval
    values: Floats
    rise: Floats


class Fitter:
    """One data set with its model, noise and priors; every method is a fit of it.

    Parameters
    ----------
    gap : array (point,), m
    sigma : float, m
        Noise of one gap.
    """

    def __init__(
        self,
        model: GapModel,
        gap: Floats,
        sigma: float,
        freedom: Freedom,
        condition: Condition,
        series: Sequence[Series] = (),
    ) -> None:
        self.model, self.gap, self.sigma, self.freedom, self.condition = model, gap, sigma, freedom, condition
        self.series = tuple(series)
        self.prior_column = [PARAMETERS.index(name) for name in freedom.prior_sd if name in freedom.free]
        self.prior_sd = np.array([freedom.prior_sd[PARAMETERS[column]] for column in self.prior_column])
        self.free = freedom.mask

    def residuals(self, asked: Condition | None) -> Callable[[Floats], Floats]:
        """Weighted residuals, the priors as rows of their own."""

        def weighted(unknowns: Floats) -> Floats:
            gaps = (self.gap - self.model.gaps(unknowns, asked)) / self.sigma
            rows = [gaps, unknowns[:, self.prior_column] / self.prior_sd]
            if self.series:
                knee = self.model.knee(unknowns, asked, self.condition)
                rows += [broken_line_rest(series, knee) for series in self.series]
            return np.concatenate(rows, axis=1)

        return weighted

    def scan_speeds(self) -> Floats:
        """Float speeds to try (value,), rad/s: the tested range closely, and beyond both of its ends."""
        low, high = float(self.model.speed[self.model.speed > 0].min()), float(self.model.speed.max())
        inside = np.sqrt(np.linspace((0.8 * low) ** 2, (1.05 * high) ** 2, SCAN))
        return np.concatenate([inside[0] * np.array([0.2, 0.5, 0.8]), inside, high * np.array([1.1, 1.25, 1.5, 2.5])])

    def scan(self, asked: Condition | None, values: Floats, start: Floats) -> Profile:
        """Profile of the first unknown."""
        begin = np.broadcast_to(start, (len(values), len(start))).copy()
        begin[:, 0] = values
        level = self.gap - self.model.gaps(begin, asked)
        begin[:, 3] += level.mean(axis=1) * self.free[3]
        scale = SCALES.copy()
        scale[0] = 1e-4 if asked is None else 0.01 * float(np.max(self.model.speed))
        return profile(self.residuals(asked), 0, values, begin, scale, self.free)

    def best(self) -> BatchFit:
        """The global optimum: the best of a scan over the float speed, then all unknowns together."""
        scan = self.scan(self.condition, self.scan_speeds(), np.zeros(len(PARAMETERS)))
        order = np.argsort(scan.sum_of_squares)[:6]
        begin = scan.parameters[order].copy()
        begin[:, 0] = self.model.interference(begin, self.condition)
        fits = fit_batch(self.residuals(None), begin, SCALES, free=self.free)
        first = int(np.argmin(fits.sum_of_squares))
        return BatchFit(
            fits.parameters[first : first + 1],
            fits.sum_of_squares[first : first + 1],
            fits.converged[first : first + 1],
        )

    def target(self, asked: Condition | None, best: BatchFit, confidence: float, noise_freedom: int | None) -> Target:
        """Best value, interval and profile of the interference (None) or of the float speed in a condition."""
        at = best.parameters[0]
        scan = self._closer(asked, self.scan(asked, self._values(asked, best), at), at)
        centre = float(at[0]) if asked is None else self._lift_off(asked, best)

        def refine(some: Floats, start: Floats) -> Profile:
            return self.scan(asked, some, start[0])

        least = min(float(best.sum_of_squares[0]), float(scan.sum_of_squares.min()))
        rise = scan.sum_of_squares - least
        regular = regular_rise(confidence, noise_freedom)
        rows, tangents = self.residuals(asked)(scan.parameters), self._tangents(asked, scan.parameters)
        limits = rise_limits(rows, tangents, confidence, noise_freedom, rise < WORTH * regular)
        if (
            centre == 0.0 and asked is not None
        ):  # it floats at standstill there, which no float speed above zero stands for
            scan, limits = _with_standstill(scan, least, at), np.append(regular, limits)
            rise = scan.sum_of_squares - least
        low, high = interval(scan, least, limits, refine)
        bounded = (max(low, 0.0), max(high, 0.0)) if asked is not None else (low, high)
        return Target(centre, bounded, scan.values, rise * regular / limits)

    def _lift_off(self, asked: Condition, best: BatchFit) -> float:
        """Float speed of the best fit in a condition; 0 where it floats at standstill."""
        lifts = varied_interference(self.model.rotor_of(best.parameters), best.parameters[:, :1])
        return float(float_speed(lifts, asked).speed[0, 0])

    def _values(self, asked: Condition | None, best: BatchFit) -> Floats:
        """Values to try, rising, the best among them."""
        at, speeds = best.parameters[0], self.scan_speeds()
        if asked is None:
            unknowns = np.broadcast_to(at, (len(speeds), len(at))).copy()
            unknowns[:, 0] = speeds
            values = self.model.interference(unknowns, self.condition)
            return np.unique(np.append(values[np.isfinite(values)], at[0]))
        centre = self._lift_off(asked, best)
        values = np.unique(np.append(speeds, centre) if 0.0 < centre < np.inf else speeds)
        unknowns = np.broadcast_to(at, (len(values), len(at))).copy()
        unknowns[:, 0] = values
        return values[np.isfinite(self.model.interference(unknowns, asked))]  # beyond, the pull closes the gap

    def _tangents(self, asked: Condition | None, unknowns: Floats) -> Floats:
        """Directions (fit, row, column) in which all unknowns but the first move the residuals."""
        others = np.flatnonzero(self.free)
        slopes = jacobian(self.residuals(asked), unknowns, SCALES, others[others > 0])
        if not self.series:
            return slopes
        knee = self.model.knee(unknowns, asked, self.condition)
        row = slopes.shape[1] - sum(len(series.speed) for series in self.series)
        columns = [slopes]
        for series in self.series:
            basis = broken_line_design(series, knee)
            columns.append(np.zeros((*slopes.shape[:2], basis.shape[2])))
            columns[-1][:, row : row + basis.shape[1]] = basis
            row += basis.shape[1]
        return np.concatenate(columns, axis=2)

    def _closer(self, asked: Condition | None, scan: Profile, start: Floats) -> Profile:
        """The scan with more values where the data are at all content, so that no dip and no end is missed there."""
        near = np.flatnonzero(scan.sum_of_squares < scan.sum_of_squares.min() + CONTENT)
        low, high = max(int(near[0]) - 1, 0), min(int(near[-1]) + 1, len(scan.values) - 1)
        finer = self.scan(asked, np.linspace(scan.values[low], scan.values[high], FINER + 2)[1:-1], start)
        values = np.concatenate([scan.values, finer.values])
        order = np.argsort(values)
        return Profile(
            values[order],
            np.concatenate([scan.sum_of_squares, finer.sum_of_squares])[order],
            np.concatenate([scan.parameters, finer.parameters])[order],
        )

    def side_interval(self, name: str, best: BatchFit, allowed: float) -> Interval:
        """Interval of another unknown, SI, from a scan of six linearised standard errors or more to each side."""
        column, at = PARAMETERS.index(name), best.parameters[0]
        spread = min(float(np.sqrt(self.covariance(best)[column, column])), 20.0 * SCALES[column])
        reach = max(6.0, 1.5 * float(np.sqrt(allowed)))
        values = at[column] + spread * reach * np.linspace(-1.0, 1.0, 25)

        def run(some: Floats, start: Floats) -> Profile:
            return profile(self.residuals(None), column, some, start, SCALES, self.free)

        return interval(run(values, at), float(best.sum_of_squares[0]), allowed, run)

    def covariance(self, best: BatchFit) -> Floats:
        """Linearised covariance (unknown, unknown) of all unknowns, SI; zero for those that are fixed."""
        columns = np.flatnonzero(self.free)
        at = best.parameters[0]

        def of_free(some: Floats) -> Floats:
            whole = np.broadcast_to(at, (len(some), len(at))).copy()
            whole[:, columns] = some
            return self.residuals(None)(whole)

        small = covariance(of_free, at[columns], SCALES[columns])
        whole = np.zeros((len(at), len(at)))
        whole[np.ix_(columns, columns)] = small
        return whole

    def pulled(self, best: BatchFit) -> bool:
        """Whether the data pull any prior by more than one of its standard uncertainties."""
        return bool(np.any(np.abs(best.parameters[0, self.prior_column]) > self.prior_sd))

    def stray_priors(self) -> tuple[str, ...]:
        """Priors that the data contradict: without it the unknown lies far off, and surely so."""
        if not self.prior_column:
            return ()
        stray = []
        for column, sd in zip(self.prior_column, self.prior_sd, strict=True):
            name = PARAMETERS[column]
            others = {key: value for key, value in self.freedom.prior_sd.items() if key != name}
            freer = Freedom(self.freedom.free, others)
            alone = Fitter(self.model, self.gap, self.sigma, freer, self.condition, self.series)
            best = alone.best()
            error = float(np.sqrt(alone.covariance(best)[column, column]))
            if abs(best.parameters[0, column]) > STRAY_PRIOR * float(np.hypot(sd, error)):
                stray.append(name)
        return tuple(stray)


def _with_standstill(scan: Profile, least: float, at: Floats) -> Profile:
    """The scan with a float speed of 0 in front, at the best fit."""
    return Profile(np.append(0.0, scan.values), np.append(least, scan.sum_of_squares), np.vstack([at, scan.parameters]))
