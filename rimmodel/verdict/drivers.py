"""What drives the float speed, and what interference would meet a requirement."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from rimmodel.behaviour import float_speed
from rimmodel.behaviour.contact.spider import spider_response
from rimmodel.rotor import Condition, GivenSpider, Rotor


@dataclass(frozen=True)
class Driver:
    """A change of one input, and what it does to the float speed.

    Attributes
    ----------
    float_speed_change : float or None, -
        Share of the float speed; None where one of both has none.
    """

    input: str
    change: str
    float_speed_change: float | None


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
