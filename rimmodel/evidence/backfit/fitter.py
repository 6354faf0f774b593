"""Fits of the modelled rotor to one set of mean gaps: the global optimum, and profiles of any number asked for."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats, Interval
from rimmodel.evidence.backfit.gap_model import GAINS, PARAMETERS, SCALES, GapModel
from rimmodel.evidence.backfit.least_squares import BatchFit, covariance, fit_batch
from rimmodel.evidence.backfit.profile import Profile, profile
from rimmodel.evidence.backfit.shared_knee import Series, broken_line_rest
from rimmodel.rotor import Condition
from rimmodel.rotor.requirements import CaseRecord

PRIOR_SD = {"hoop_stiffness_factor": 0.15, "spider_stiffness": 0.5}
"""Relative standard uncertainty of the case's stiffnesses when the caller says nothing. Hoop stiffness of stacked
segments is 0.6 to 0.9 of solid (from memory); spiders are known worse, and the scallop between keys adds to them."""

STRAY_PRIOR = 3.0
"""A prior this many of its standard uncertainties off what the data say by themselves is not used."""

MOST_INTERFERENCE = 0.1
"""m, far beyond what any rim has: where a run is one straight line, least squares go on to any interference."""

SCAN = 90
"""Values of a scan over the tested range."""


@dataclass(frozen=True)
class Freedom:
    """Which unknowns are adjusted, and what is known of them beforehand.

    Parameters
    ----------
    free : tuple of str
        Of `gap_model.PARAMETERS`.
    prior_sd : mapping of float, -
        Relative standard uncertainty by unknown.
    heat_gain : float, -
        Standard uncertainty of how far mean temperatures move with recorded ones.
    """

    free: tuple[str, ...] = ("interference", "hoop_stiffness_factor", "spider_stiffness", "gap_offset")
    prior_sd: Mapping[str, float] = field(default_factory=lambda: dict(PRIOR_SD))
    heat_gain: float = CaseRecord.temperature_gain

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
    """Best value and interval of one number.

    Attributes
    ----------
    best : float, SI
        Interference or float speed.
    interval : pair of float, SI
    """

    best: float
    interval: Interval


class Fitter:
    """One data set with its model, noise and priors; every method is a fit of it.

    Parameters
    ----------
    gap : array (point,), m
    sigma : float, m
        Noise of one gap.
    whitening : array (row, point), 1/m, optional
        Makes the noise of the gaps white and of size 1; one over `sigma` for each when None.
    """

    def __init__(
        self,
        model: GapModel,
        gap: Floats,
        sigma: float,
        freedom: Freedom,
        condition: Condition,
        series: Sequence[Series] = (),
        whitening: Floats | None = None,
    ) -> None:
        self.model, self.gap, self.sigma, self.freedom, self.condition = model, gap, sigma, freedom, condition
        self.series, self.whitening = tuple(series), whitening
        self.prior_column = [PARAMETERS.index(name) for name in freedom.prior_sd if name in freedom.free]
        self.prior_sd = np.array([freedom.prior_sd[PARAMETERS[column]] for column in self.prior_column])
        self.free = freedom.mask

    def white(self, rest: Floats) -> Floats:
        """What is left of gaps (..., point), m, in units of its noise."""
        found: Floats = rest / self.sigma if self.whitening is None else rest @ self.whitening.T
        return found

    def rounded(self, width: float) -> Fitter:
        """The same fits with the knee rounded over a width in speed squared, rad2/s2."""
        model = replace(self.model, width=width)
        return Fitter(model, self.gap, self.sigma, self.freedom, self.condition, self.series, self.whitening)

    def residuals(self, asked: Condition | None, *, with_series: bool = True) -> Callable[[Floats], Floats]:
        """Weighted residuals, the priors as rows of their own."""

        def weighted(unknowns: Floats) -> Floats:
            gaps = self.white(self.gap - self.model.gaps(unknowns, asked))
            rows = [gaps, unknowns[:, self.prior_column] / self.prior_sd]
            if self.series and with_series:
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
        found = fits.parameters[first : first + 1].copy()
        found[:, 0] = np.clip(found[:, 0], -MOST_INTERFERENCE, MOST_INTERFERENCE)  # one line fits all beyond as well
        return BatchFit(
            found,
            fits.sum_of_squares[first : first + 1],
            fits.converged[first : first + 1],
        )

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
            if name in GAINS:  # a stated range, not a guess
                continue
            others = {key: value for key, value in self.freedom.prior_sd.items() if key != name}
            freer = Freedom(self.freedom.free, others)
            alone = Fitter(self.model, self.gap, self.sigma, freer, self.condition, self.series, self.whitening)
            best = alone.best()
            error = float(np.sqrt(alone.covariance(best)[column, column]))
            if abs(best.parameters[0, column]) > STRAY_PRIOR * float(np.hypot(sd, error)):
                stray.append(name)
        return tuple(stray)
