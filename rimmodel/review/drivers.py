"""What drives the float speed, and what interference would meet a requirement."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from rimmodel.behaviour import float_speed, interference_for_float_speed
from rimmodel.behaviour.spider import spider_response
from rimmodel.elastic.ring import Floats
from rimmodel.evidence.derived import derived, fitted_rotor
from rimmodel.evidence.measure import Measurement
from rimmodel.review.predicted import drawing_interval
from rimmodel.rotor import Condition, GivenSpider, Rotor
from rimmodel.rotor.case import Case
from rimmodel.rotor.rotor import without_settlement


@dataclass(frozen=True)
class Driver:
    """A change of one input, and what it does to the float speed.

    Attributes
    ----------
    input, change : str
    float_speed_change : float or None, -
        Share of the float speed; None where one of both has none.
    """

    input: str
    change: str
    float_speed_change: float | None


@dataclass(frozen=True)
class Shim:
    """Radial interference that a float-speed requirement needs, what is there, and the difference.

    Attributes
    ----------
    requirement, condition : str
    needed, present : float, m
    change : float, m
        Brings the best estimate to the bound; below zero there is interference to spare.
    change_with_confidence : float, m
        With it the bound is met at the upper end of what may be lacking.
    measured : bool
    """

    requirement: str
    condition: str
    needed: float
    present: float
    change: float
    change_with_confidence: float
    measured: bool


def drivers(rotor: Rotor, condition: Condition) -> tuple[Driver, ...]:
    """Float speed under one change at a time, largest effect first."""
    base = float(float_speed(rotor, condition).speed)

    def share(changed: Rotor, state: Condition) -> float | None:
        speed = float(float_speed(changed, state).speed)
        return speed / base - 1 if np.isfinite([speed, base]).all() and base > 0 else None

    rows = [Driver(name, change, share(*pair)) for name, change, pair in _changes(rotor, condition)]
    return tuple(sorted(rows, key=lambda row: -abs(row.float_speed_change or 0.0)))


def _changes(rotor: Rotor, condition: Condition) -> Iterator[tuple[str, str, tuple[Rotor, Condition]]]:
    rim, poles = rotor.rim, rotor.poles
    stiffer = replace(rim, hoop_stiffness_factor=rim.hoop_stiffness_factor * 1.1)
    yield "rim hoop stiffness", "+10 %", (replace(rotor, rim=stiffer), condition)
    yield "pole mass", "+5 %", (replace(rotor, poles=replace(poles, mass=poles.mass * 1.05)), condition)
    warm = replace(condition, rim_temperature=condition.rim_temperature + 10.0)
    yield "rim over spider temperature", "+10 K", (rotor, warm)
    left = (
        rotor.fit.interference - rotor.fit.settlement - rotor.fit.stack_growth
    )  # of what is there, which may have settled
    yield "interference", "+10 %", (rotor.with_interference(rotor.fit.interference + 0.1 * left), condition)
    yield "spider growth", "left out", (_without_growth(rotor), condition)
    if np.any(np.asarray(condition.flux_density) > 0):
        yield "magnetic pull", "left out", (rotor, replace(condition, flux_density=0.0))


def _without_growth(rotor: Rotor) -> Rotor:
    """The same stiffness (keys included) and thermal expansion of the spider, no growth by speed."""
    response = spider_response(rotor)
    area = 2 * np.pi * rotor.rim.inner_radius * rotor.rim.length
    material = rotor.spider.material or rotor.rim.material
    spider = GivenSpider(area / response.compliance, 0.0, 1.0, material)
    keys = replace(rotor.fit, key_stiffness=np.inf, key_count=rotor.key_count)
    return replace(rotor, spider=spider, fit=keys)


def shim(case: Case, governing: Mapping[float, Measurement]) -> Shim | None:
    """The float-speed requirement that asks for most interference, and what it lacks; None when there is none.

    Present is the measured effective interference, or the drawing's less settlement where no recording tells.

    Parameters
    ----------
    case : Case
    governing : mapping of float to Measurement, -
        The measurement that decides, by confidence of its interval.

    Returns
    -------
    Shim or None
    """
    asked = [
        (float(interference_for_float_speed(case.rotor, case.condition(row.condition)[1], row.at_least)), row)
        for row in case.requirements
        if row.quantity == "float_speed" and row.at_least is not None
    ]
    asked = [pair for pair in asked if np.isfinite(pair[0])]  # none where the pull closes the gap before
    if not asked:
        return None
    settlement = float(case.rotor.fit.settlement)
    needed, row = max(asked, key=lambda pair: pair[0])
    measurement = governing.get(row.confidence)
    needed -= settlement  # compared as effective interferences, with nothing left to settle
    name, condition = case.condition(row.condition)
    if measurement is not None and np.isfinite(measurement.interference):
        return _measured_shim(case, row.name, name, condition, float(row.at_least or 0.0), measurement, needed)
    drawn = float(case.rotor.fit.interference) - settlement
    low = drawing_interval(case.rotor, row.confidence)[0] - settlement
    return Shim(row.name, name, needed, drawn, needed - drawn, needed - low, measured=False)


def _measured_shim(
    case: Case, requirement: str, name: str, condition: Condition, speed: float, measurement: Measurement, needed: float
) -> Shim:
    """What the measured rotor lacks."""
    present = measurement.interference
    found = lacking(case, condition, speed, measurement)
    if found is None:
        low = measurement.interference_interval[0]
        return Shim(requirement, name, needed, present, needed - present, needed - low, measured=True)
    change, (_, most) = found
    return Shim(requirement, name, present + change, present, change, most, measured=True)


def lacking(
    case: Case, condition: Condition, speed: float, measurement: Measurement
) -> tuple[float, tuple[float, float]] | None:
    """Interference that the measured rotor lacks to float from a speed on, with its interval.

    Needed and present interference hang on the same stiffness, so both are taken from the fit together.

    Parameters
    ----------
    case : Case
    condition : Condition
    speed : float, rad/s
    measurement : Measurement

    Returns
    -------
    best : float, m
    interval : pair of float, m
        None for both where there is no fit.
    """
    fit = measurement.fits.get("")
    if fit is None:
        return None

    def missing(unknowns: Floats) -> Floats:
        rotor = fitted_rotor(fit, case.rotor, unknowns)
        wanted = interference_for_float_speed(without_settlement(rotor), condition, speed)
        return wanted[:, 0] - unknowns[:, 0]

    return derived(fit, missing)
