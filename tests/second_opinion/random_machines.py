"""Invented machines with every kind of spider, with and without keys, for the second opinion; seeded."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from rimmodel.behaviour import interference_for_float_speed
from rimmodel.rotor import (
    AirGap,
    ArmSpider,
    Condition,
    DiscSpider,
    GivenSpider,
    Material,
    Poles,
    Rim,
    Rotor,
    ShrinkFit,
    Speeds,
)
from tests.invented_steels import PLATE_STEEL, ranges

KINDS = ("arms", "given", "disc", "arms on a hub", "profiled disc")


def machine(number: int, uneven: bool = False) -> tuple[str, Rotor, Condition]:
    """A machine in a condition, and in words which: its fit lets it float between rated and twice rated speed."""
    draw = np.random.default_rng([number, 20]).uniform
    kind = KINDS[number % len(KINDS)]
    keyed = number % 2 == 0 or uneven
    bore = draw(1.2, 5.0)
    depth, length, count = bore * draw(0.08, 0.2), draw(0.8, 2.5), 2 * int(draw(6, 40))
    rim_steel, steel = Material(**ranges(PLATE_STEEL, draw)), Material(**ranges(PLATE_STEEL, draw))
    slots = draw(0.1, 0.3) * depth if number % 3 == 0 else 0.0
    rim = Rim(
        rim_steel, bore, bore + depth, length, draw(0.93, 1.0), draw(0.6, 1.0),
        slot_depth=slots, slot_share=draw(0.1, 0.4) if slots else 0.0,
    )  # fmt: skip
    outside = bore + depth
    rated = draw(60.0, 110.0) / outside
    keys = int(draw(6, 9)) if uneven else 2 * int(draw(3, 14))
    spider = _spider(kind, draw, steel, bore, length, keys if keyed else 2 * int(draw(3, 12)), rated)
    width = draw(0.1, 0.4) * 2 * np.pi * bore / keys
    fit = ShrinkFit(
        1e-3,
        settlement=draw(0.0, 0.2e-3),
        key_stiffness=10 ** draw(9.7, 11) if keyed and number % 4 == 0 else np.inf,
        key_count=keys if keyed else None,
        key_width=width if keyed else None,
    )
    poles = Poles(
        count, draw(0.3, 1.2) * 2 * np.pi * bore * depth * length * 7850 / count, outside * 1.05, outside * 1.1
    )
    rotor = Rotor(rim, poles, spider, fit, AirGap(draw(8e-3, 20e-3)), Speeds(rated, draw(1.3, 1.6) * rated, 2 * rated))
    hot = Condition(
        293.15 + draw(0, 40), 293.15 + draw(0, 40), flux_density=draw(0.6, 0.9) * (number % 3 == 1),
        rim_temperature_rise=draw(-10, 10) * (number % 4 == 1),
    )  # fmt: skip
    wanted = interference_for_float_speed(rotor, hot, draw(1.05, 1.9) * rated)
    rotor = rotor.with_interference(float(np.clip(wanted, 0.1e-3 * bore, 0.9e-3 * bore)))
    if uneven:
        each = float(np.asarray(rotor.fit.interference)) * (1 + 0.08 * np.array([draw(-1, 1) for _ in range(keys)]))
        fit = replace(rotor.fit, key_interference=tuple(each), interference=float(each.mean()))
        rotor = replace(rotor, fit=fit)
    return f"{number}: {kind}{f', {keys} keys' if keyed else ''}{', slots' if slots else ''}", rotor, hot


def _spider(kind: str, draw, steel: Material, bore: float, length: float, arms: int, rated: float):
    hub = bore * draw(0.3, 0.5)
    if kind == "given":
        return GivenSpider(10 ** draw(10.2, 11.2), draw(0.02e-3, 0.06e-3) * bore, rated, steel)
    if kind == "disc":
        return DiscSpider(steel, hub, draw(0.1, 0.6) * length)
    if kind == "profiled disc":
        edge = draw(0.1, 0.3) * length
        return DiscSpider(steel, profile=((hub, 3 * edge), (0.7 * bore, edge), (0.7 * bore, 0.8 * edge), (bore, edge)))
    area = draw(0.1, 0.3) * bore * length / arms
    of_hub = (0.5 * hub, length) if kind == "arms on a hub" else (None, None)
    return ArmSpider(steel, arms, area, hub, draw(0.0, 200.0), *of_hub)
