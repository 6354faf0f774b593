"""How fast a study of many rotors is: ``python tests/benchmarks/float_speed_million.py [--rotors N] [--repeats N]``.

Every stored number of rotor and condition is an array with its own value for each rotor, 1 % around an invented
machine (counts stay whole). Printed, from one run: the best time of one vectorised call; that of a plain Python
loop over the same formulas with math.sqrt and math.acos, timed on fewer rotors and scaled; and that of a numpy
multiply-add over the same number of arrays of the same length, which is what reading the input costs at least.
"""

from __future__ import annotations

import argparse
import math
import time
from collections.abc import Callable
from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rimmodel import float_speed
from rimmodel.rotor import AirGap, ArmSpider, Condition, Material, Poles, Rim, Rotor, ShrinkFit, Speeds
from rimmodel.rotor.blocks import map_arrays

Floats = NDArray[np.float64]
LOOP_ROTORS = 20_000

STEEL = Material(206e9, 0.3, 7850.0, 12e-6, 550e6, 680e6)
MACHINE = Rotor(
    Rim(STEEL, 3.5, 3.9, 1.6, 0.97, 0.85, 0.85),
    Poles(40, 3200.0, 4.1, 4.4, 1.55, 5e9),
    ArmSpider(STEEL, 12, 0.05, 1.2, 160.0, 0.6, 1.3),
    ShrinkFit(1.9e-3, 0.1e-3, 0.02e-3, 0.2e-3, 3e10, 24),
    AirGap(15e-3, None, 7e-3, 11e-6, 0.4, 120e9),
    Speeds(14.0, 20.0, 27.0),
)
"""Invented."""
CONDITION = Condition(330.0, 323.0, 345.0, 338.0, 0.9)


def varied(stored: Any, rotors: int, generator: np.random.Generator) -> tuple[Any, int]:
    """The same dataclass with each number an array around it, and how many arrays that makes."""
    changes, count = {}, 0
    for field in fields(stored):
        value = getattr(stored, field.name)
        if is_dataclass(value):
            changes[field.name], more = varied(value, rotors, generator)
            count += more
        elif isinstance(value, float | int) and math.isfinite(value):
            if isinstance(value, int):
                changes[field.name] = generator.integers(value - 2, value + 3, rotors).astype(float)
            else:
                changes[field.name] = value * generator.uniform(0.99, 1.01, rotors)
            count += 1
    return replace(stored, **changes), count


def best(work: Callable[[], object], repeats: int) -> float:
    """Shortest wall time of `work` in s."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def ring(a: float, b: float, modulus: float, poisson: float, density: float, factor: float) -> tuple[float, ...]:
    """Displacement at bore, then outside, per bore pressure, outside traction and speed squared, by Cramer's rule."""
    k, ratio = math.sqrt(factor), a / b
    plane = modulus / (1 - poisson**2 * factor)
    rising, falling = plane * (k + poisson * factor), plane * (poisson * factor - k)
    up, down = ratio**k, ratio**-k
    a1, b1, a2, b2 = rising * up / a, falling * down / a, rising / b, falling / b
    spin = -density / (plane * (9 - factor))
    stress = plane * (3 + poisson * factor) * spin
    determinant = a1 * b2 - a2 * b1

    def at_edges(at_bore: float, at_outside: float) -> tuple[float, float]:
        one = (at_bore * b2 - at_outside * b1) / determinant
        two = (a1 * at_outside - a2 * at_bore) / determinant
        return one * up + two * down, one + two

    (ap, bp), (aq, bq) = at_edges(-1.0, 0.0), at_edges(0.0, 1.0)
    ax, bx = at_edges(-stress * a * a, -stress * b * b)
    return ap, aq, ax + spin * a**3, bp, bq, bx + spin * b**3


def plain_float_speed(rotor: Any, condition: Any) -> float:
    """Float speed in rad/s of one rotor on arms with a hub, at constant current, without arrays."""
    rim, poles, spider, fit, gap = rotor.rim, rotor.poles, rotor.spider, rotor.fit, rotor.air_gap
    steel, arm, stack = rim.material, spider.material, rim.stacking_factor
    a, b, length = rim.inner_radius, rim.outer_radius, rim.length
    ap, aq, ax, bp, bq, bx = ring(
        a, b, stack * steel.young_modulus, steel.poisson_ratio, stack * steel.density, rim.hoop_stiffness_factor
    )
    per_circle = 2 * math.pi * b * length
    poles_pull = poles.count * poles.mass * poles.mass_radius / per_circle

    hub, area, tip = spider.hub_radius, spider.arm_area, spider.tip_mass * a
    hub_edges = ring(spider.hub_bore_radius, hub, arm.young_modulus, arm.poisson_ratio, arm.density, 1.0)
    give = hub_edges[4] * spider.count / (2 * math.pi * hub * spider.hub_length)
    one_arm = (a - hub) / (arm.young_modulus * area)
    rod = arm.density / (2 * arm.young_modulus) * (a * a * (a - hub) - (a**3 - hub**3) / 3)
    spider_growth = rod + tip * one_arm + hub_edges[5] + give * (arm.density * area * (a * a - hub * hub) / 2 + tip)
    per_bore = 2 * math.pi * a * length
    compliance = ap + per_bore * ((one_arm + give) / spider.count + 1 / (fit.key_count * fit.key_stiffness))

    rim_rise, spider_rise = condition.rim_temperature - 293.15, condition.spider_temperature - 293.15
    heat = a * (steel.thermal_expansion * rim_rise - arm.thermal_expansion * spider_rise)
    left, loss = fit.interference - fit.settlement - heat, ax + aq * poles_pull - spider_growth

    face, bore = poles.face_radius, poles.face_radius + gap.cold
    warm = steel.thermal_expansion * (b * rim_rise + (face - b) * (condition.pole_temperature - 293.15))
    warm -= gap.stator_thermal_expansion * bore * (condition.stator_temperature - 293.15)
    at_rest = gap.cold + bp * max(fit.interference, 0.0) / compliance - warm
    slope = (bx + bq * poles_pull + poles.mass * poles.mass_radius / poles.radial_stiffness) / loss
    share = b * length / (face * poles.face_length)
    core = share * bore**2 / (gap.stator_core_modulus * gap.stator_core_depth)
    softness = bq + per_circle / (poles.count * poles.radial_stiffness) + core - slope * aq
    constant = condition.flux_density**2 / (16e-7 * math.pi) / share * gap.cold**2
    open_gap = at_rest - slope * left
    angle = 1 - 13.5 * softness * constant / open_gap**3
    turn = math.cos(math.acos(angle) / 3) if angle <= 1 else math.cosh(math.acosh(angle) / 3)
    pull = constant / (open_gap * (1 + 2 * turn) / 3) ** 2
    return math.sqrt((left - aq * pull) / loss)


def arrays_of(stored: Any) -> list[Floats]:
    """Every array of the dataclass, nested ones included."""
    values = (getattr(stored, field.name) for field in fields(stored))
    return [a for v in values for a in (arrays_of(v) if is_dataclass(v) else [v] if isinstance(v, np.ndarray) else [])]


def multiply_add(arrays: list[Floats]) -> Floats:
    """One multiplication and one addition for each element."""
    total, product = np.zeros_like(arrays[0]), np.empty_like(arrays[0])
    for array in arrays:
        np.multiply(array, 1.0001, out=product)
        total += product
    return total


def main() -> None:
    """Time the three and print them."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rotors", type=int, default=1_000_000)
    parser.add_argument("--repeats", type=int, default=5)
    options = parser.parse_args()
    generator = np.random.default_rng(20240617)
    (rotor, stored), (condition, states) = (varied(item, options.rotors, generator) for item in (MACHINE, CONDITION))
    speeds = float_speed(rotor, condition).speed

    few = min(LOOP_ROTORS, options.rotors)
    singles = [
        tuple(map_arrays(item, lambda leaf, i=i: float(leaf[i])) for item in (rotor, condition)) for i in range(few)
    ]
    looped = np.array([plain_float_speed(*one) for one in singles])
    difference = float(np.abs(looped / speeds[:few] - 1).max())

    call = best(lambda: float_speed(rotor, condition), options.repeats)
    loop = best(lambda: [plain_float_speed(*one) for one in singles], 3) * options.rotors / few
    floor = best(lambda: multiply_add([*arrays_of(rotor), *arrays_of(condition)]), options.repeats)
    print(
        f"{options.rotors} rotors, {stored} arrays of rotor and {states} of condition, hub, keys, pull, core included"
    )
    print(f"one call                       {call:8.3f} s, best of {options.repeats}")
    print(
        f"plain Python loop              {loop:8.3f} s, timed on {few} rotors and scaled: {loop / call:.1f} x the call"
    )
    print(f"multiply-add over the arrays   {floor:8.3f} s: the call takes {call / floor:.1f} x that")
    print(f"largest difference, loop against call: {difference:.1e} of the float speed")


if __name__ == "__main__":
    main()
