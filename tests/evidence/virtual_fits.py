"""Fits of virtual runs of the example that the tests of the back-fit share."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

import rimmodel as rm
from rimmodel.behaviour import sweep
from rimmodel.behaviour.contact.spider import spider_response
from rimmodel.evidence.backfit.expected import expected_slopes, slope_uncertainty
from rimmodel.evidence.backfit.fit import BackFit, back_fit
from rimmodel.evidence.backfit.fitter import Freedom
from rimmodel.evidence.knee.fit import Knee, fit_knee
from rimmodel.evidence.reduction.speed_points import SpeedPoints
from rimmodel.rotor import Condition, GivenSpider, Rotor
from tests.benchmarks import backfit_calibration as calibration

Floats = NDArray[np.float64]
EXAMPLE = rm.example_case()
# an evenly pressed rim: what it scallops between keys is spider stiffness to the fit, whatever the hoop stiffness
CASE = replace(EXAMPLE, rotor=replace(EXAMPLE.rotor, fit=replace(EXAMPLE.rotor.fit, key_width=None)))
COLD, HOT = CASE.conditions["cold"], CASE.conditions["hot"]
RATED = CASE.rotor.speeds.rated
SLOPES = expected_slopes(CASE.rotor, COLD)
MM = 1e-3


def points_of(speed: Floats, gap: Floats, way: str | Floats = "up", time: Floats | None = None) -> SpeedPoints:
    points = calibration.points_of(speed, gap)
    when = np.full(speed.shape, np.nan) if time is None else time
    return replace(points, direction=np.broadcast_to(np.asarray(way), speed.shape), time=when)


@dataclass(frozen=True)
class Fitted:
    """A virtual run and what was made of it."""

    points: SpeedPoints
    knee: Knee
    fit: BackFit


def fitted(
    speed: Floats,
    *,
    rotor: Rotor = CASE.rotor,
    condition: Condition = COLD,
    noise: float = 0.0,
    seed: int = 1,
    sigma: float | None = 1e-6,
    paper: Rotor = CASE.rotor,
    freedom: Freedom | None = None,
    **options: object,
) -> Fitted:
    """Fit of a run of `rotor` from the numbers of `paper`."""
    gap = sweep(rotor, condition, speed).air_gap + noise * np.random.default_rng(seed).normal(size=len(speed))
    points = points_of(speed, gap)
    unsure = slope_uncertainty(paper, condition, freedom or Freedom())
    knee = fit_knee(speed**2, gap, sigma, expected_slopes=SLOPES, expected_slope_uncertainty=unsure)
    fit = back_fit(paper, condition, points, knee, sigma=sigma, freedom=freedom, **options)  # type: ignore[arg-type]
    return Fitted(points, knee, fit)


def with_spider(rotor: Rotor, factor: float) -> Rotor:
    """The rotor with arms `factor` times as stiff that grow just the same."""
    plain = spider_response(rotor)
    stiffness = 2 * np.pi * rotor.rim.inner_radius * rotor.rim.length / plain.compliance
    return replace(
        rotor,
        spider=GivenSpider(float(stiffness * factor), plain.growth_per_speed_squared, 1.0, rotor.spider.material),
    )


SURE = Freedom(prior_sd={"hoop_stiffness_factor": 0.05, "spider_stiffness": 0.2})
"""Stiffnesses known well enough to tell the slope of a seated rim from that of a floating one."""

TESTED = np.linspace(0.15, 1.9, 40) * RATED
