"""Invented rotors for the tests of behaviour (no number comes from a machine), and how to read a note."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import numpy as np

from rimmodel.behaviour import CharacteristicSpeed
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
from rimmodel.rotor.blocks import map_arrays
from rimmodel.units import RPM
from tests.invented_steels import RIM_STEEL, SPIDER_STEEL

ARMS = ArmSpider(SPIDER_STEEL, 14, 0.055, 1.3, 190.0)
HUBBED = ArmSpider(SPIDER_STEEL, 14, 0.055, 1.3, 190.0, 0.7, 1.5)
DISC = DiscSpider(SPIDER_STEEL, 1.1, 0.3)
SOLID = DiscSpider(SPIDER_STEEL, 0.0, 1.8)
GIVEN = GivenSpider(4.5e10, 0.13e-3, 150 * RPM)
OUTGROWING = GivenSpider(4.5e10, 3.5e-3, 150 * RPM)
"""Grows more than any rim here."""
SPIDERS = {"arms": ARMS, "arms on a hub": HUBBED, "disc": DISC, "solid disc": SOLID, "given": GIVEN}

ROTOR = Rotor(
    Rim(RIM_STEEL, 4.0, 4.5, 1.8, 0.97, 0.85, 0.85),
    Poles(48, 3900.0, 4.75, 5.0, 1.7),
    ARMS,
    ShrinkFit(2.4e-3, settlement=0.3e-3, friction_interference=0.02e-3),
    AirGap(17e-3),
    Speeds(115 * RPM, 165 * RPM, 230 * RPM),
)
COLD = Condition()
HOT = Condition(333.0, 324.0, 348.0, 338.0, 0.95)
FIXED_FLUX = replace(HOT, excitation="constant voltage")


def changed(rotor: Rotor = ROTOR, **parts: Any) -> Rotor:
    """The rotor with some fields of its parts replaced: ``changed(fit={"settlement": 0.0}, spider=DISC)``."""
    return replace(
        rotor,
        **{
            name: replace(getattr(rotor, name), **value) if isinstance(value, dict) else value
            for name, value in parts.items()
        },
    )


def bare_fit(
    material: Material, bore: float, radius: float, outside: float, interference: float, shaft: Material | None = None
) -> Rotor:
    """A disc shrunk on a disc or shaft of the same thickness, with poles that weigh nothing to speak of."""
    rated = min(100.0, 200.0 / outside)  # rad/s; no rim of steel outruns 300 m/s
    return Rotor(
        Rim(material, radius, outside, 1.0),
        Poles(2, 1e-12, 1.01 * outside, 1.1 * outside),
        DiscSpider(shaft or material, bore, 1.0),
        ShrinkFit(interference),
        AirGap(min(0.1 * outside, 0.4)),
        Speeds(rated, rated),
    )


def fully_varied(count: int, seed: int = 5) -> tuple[Rotor, Condition]:
    """Arrays in the fields that matter most, for broadcasting tests."""
    generator = np.random.default_rng(seed)

    def around(value: float, share: float = 0.05) -> Any:
        return value * generator.uniform(1 - share, 1 + share, count)

    rotor = changed(
        rim={"length": around(1.8), "hoop_stiffness_factor": around(0.85), "outer_radius": around(4.5, 0.01)},
        poles={"mass": around(3900.0), "radial_stiffness": around(6e9)},
        spider=replace(HUBBED, arm_area=around(0.055), hub_bore_radius=around(0.7)),
        fit={"interference": around(2.4e-3, 0.4), "key_stiffness": around(3e10)},
        air_gap={"cold": around(17e-3), "stator_core_depth": around(0.4), "stator_core_modulus": around(120e9)},
    )
    return rotor, replace(HOT, rim_temperature=around(333.0, 0.01), flux_density=around(0.95))


def single(stored: Any, index: int) -> Any:
    """One machine or condition out of arrays of them."""
    return map_arrays(stored, lambda leaf: float(np.ravel(leaf)[index]))


def in_words(landmark: CharacteristicSpeed, pattern: str) -> list[float]:
    """The numbers of the note, which has to match the pattern from end to end."""
    found = re.fullmatch(pattern.replace("#", r"(-?[\d.]+)"), landmark.note)
    assert found, landmark.note
    return [float(number) for number in found.groups()]
