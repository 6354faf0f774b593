"""How often a shim sheet keeps what it promised: ``python -m tests.benchmarks.shim_outages``.

Virtual outages: keys are read with errors, the sheet is made from the readings, and pieces with errors of their own
are fitted behind the true keys of a machine that differs from its case in all that it leaves open. Counted is how often
everything that the sheet promised at 95 % is true together: largest radius at a pole, first lift-off in each condition
by the contact key by key, and the mean interference in the window. The errors of each family are drawn here and not by
the program.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

import rimmodel as rm
from rimmodel.behaviour.keys.keyed_rotor import keyed_rotor
from rimmodel.behaviour.keys.lockstep import follow
from rimmodel.behaviour.keys.pressed import pressed_outline
from rimmodel.evidence.shims.readings import KeyReadings
from rimmodel.planning.shim_sheet.sheet import ShimSheet, shim_sheet
from rimmodel.rotor import UNIFORM_COLD, Condition, Rotor

CASE = replace(rm.example_case(), records=())
KEYS = 14
LEVEL, READING, PIECE = 0.05e-3, 0.02e-3, 0.005e-3
"""Standard deviations that the built-in case states: half of its tolerances."""

Draw = Callable[[np.random.Generator, ShimSheet], np.ndarray]


def _pieces(rng: np.random.Generator, sheet: ShimSheet, *, one_sheet: bool, even: bool) -> np.ndarray:
    """Error of the pack behind each key; uniform errors have the same standard deviation."""

    def drawn(shape: tuple[int, ...]) -> np.ndarray:
        return rng.uniform(-math.sqrt(3), math.sqrt(3), shape) if even else rng.standard_normal(shape)

    if one_sheet:
        return PIECE * sheet.pieces @ drawn((sheet.pieces.shape[1],))
    return PIECE * np.array([drawn((int(count),)).sum() for count in sheet.pieces.sum(axis=1)])


def _waves(rng: np.random.Generator, waves: int) -> np.ndarray:
    place = 2.0 * np.pi * np.arange(KEYS) / KEYS
    return math.sqrt(2.0) * rng.standard_normal() * np.cos(waves * place + rng.uniform(0.0, 2.0 * np.pi))


def _neighbours(rng: np.random.Generator) -> np.ndarray:
    """A moving average of three around the rim: neighbours 2/3 correlated, next ones 1/3."""
    own = rng.standard_normal(KEYS)
    return (own + np.roll(own, 1) + np.roll(own, -1)) / math.sqrt(3.0)


FAMILIES: dict[str, Draw] = {
    "independent, normal": lambda rng, sheet: (
        LEVEL * rng.standard_normal()
        + READING * rng.standard_normal(KEYS)
        + _pieces(rng, sheet, one_sheet=False, even=False)
    ),
    "uniform, pieces of one sheet": lambda rng, sheet: (
        LEVEL * rng.uniform(-math.sqrt(3), math.sqrt(3))
        + READING * rng.uniform(-math.sqrt(3), math.sqrt(3), KEYS)
        + _pieces(rng, sheet, one_sheet=True, even=True)
    ),
    "neighbours 2/3 correlated": lambda rng, sheet: (
        LEVEL * rng.standard_normal() + READING * _neighbours(rng) + _pieces(rng, sheet, one_sheet=True, even=False)
    ),
    "all read 0.05 mm too tight": lambda rng, sheet: (
        -LEVEL + READING * rng.standard_normal(KEYS) + _pieces(rng, sheet, one_sheet=False, even=False)
    ),
    "one oval error": lambda rng, sheet: (
        LEVEL * rng.standard_normal() + READING * _waves(rng, 2) + _pieces(rng, sheet, one_sheet=False, even=False)
    ),
}


def true_machine(rng: np.random.Generator) -> tuple[Rotor, dict[str, Condition]]:
    """A machine that its case could be, by the tolerances that the case states."""
    rotor, hot = CASE.rotor, CASE.conditions["hot"]
    rim = replace(
        rotor.rim,
        hoop_stiffness_factor=float(rotor.rim.hoop_stiffness_factor) + 0.04 * rng.standard_normal(),
        stacking_factor=float(rotor.rim.stacking_factor) + rng.uniform(-0.01, 0.01),
    )
    poles = replace(rotor.poles, mass=float(rotor.poles.mass) * (1.0 + rng.uniform(-0.015, 0.015)))
    spider = replace(rotor.spider, arm_area=float(rotor.spider.arm_area) * (1.0 + rng.triangular(-0.03, 0.0, 0.03)))
    common, own = math.sqrt(0.6) * rng.standard_normal(), math.sqrt(0.4)
    warmer = replace(
        hot,
        rim_temperature=float(hot.rim_temperature) + 2.0 * (common + own * rng.standard_normal()),
        spider_temperature=float(hot.spider_temperature) + 2.0 * (common + own * rng.standard_normal()),
    )
    return replace(rotor, rim=rim, poles=poles, spider=spider), {"cold": CASE.conditions["cold"], "hot": warmer}


@dataclass(frozen=True)
class Kept:
    """What of a promise was kept in one outage."""

    deviation: bool
    lift_off: tuple[bool, ...]
    mean: bool

    @property
    def all(self) -> bool:
        return self.deviation and all(self.lift_off) and self.mean


def outage(rng: np.random.Generator, sheet: ShimSheet, draw: Draw) -> Kept:
    """Fit the shims of a sheet behind true keys and look what came of it."""
    keys = sheet.planned.keys + draw(rng, sheet)
    rotor, conditions = true_machine(rng)
    matrix, rest = pressed_outline(keyed_rotor(rotor, UNIFORM_COLD, keys), sheet.pole_angle)
    lifts = []
    for name, least in sheet.promise.first_lift_off.items():
        path = follow(keyed_rotor(rotor, conditions[name], keys).loads)
        first = next((event.speed_squared for event in path.events if not event.seats), math.inf)
        lifts.append(bool(math.sqrt(first) >= least))
    inside = sheet.window.low_sure <= keys.mean() <= sheet.window.high_sure
    return Kept(bool(np.abs(matrix @ keys + rest).max() <= sheet.promise.deviation), tuple(lifts), bool(inside))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--outages", type=int, default=1000, help="of each family")
    parser.add_argument("--sheets", type=int, default=20, help="sets of readings, each with a sheet of its own")
    parser.add_argument("--family", default="", help="part of the name of the families to draw")
    asked = parser.parse_args()
    sheets = []
    for number in range(asked.sheets):
        read = 2.05e-3 + np.random.default_rng([1, number]).normal(0.0, 0.06e-3, KEYS)
        goal = "round" if number % 2 == 0 else "lift-off"
        sheets.append(shim_sheet(CASE, None, KeyReadings(read, 1, math.nan, "virtual"), goal, "hot"))
    print(f"{'errors':30} {'all kept':>9} {'radius':>8} {'cold':>7} {'hot':>7} {'mean':>7}")
    for place, (name, draw) in enumerate(FAMILIES.items()):
        if asked.family not in name:
            continue
        rng = np.random.default_rng([2, place])
        kept = [outage(rng, sheets[number % len(sheets)], draw) for number in range(asked.outages)]
        rows = [[one.all, one.deviation, *one.lift_off, one.mean] for one in kept]
        shares = 100.0 * np.mean(rows, axis=0)
        print(f"{name:30} {shares[0]:8.1f}% {shares[1]:7.1f}% {shares[2]:6.1f}% {shares[3]:6.1f}% {shares[4]:6.1f}%")


if __name__ == "__main__":
    main()
