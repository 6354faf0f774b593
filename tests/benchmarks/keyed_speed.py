"""How fast the keys are followed: run as ``python tests/benchmarks/keyed_speed.py`` from the root of the project.

Prints the whole path of 24 uneven keys with all events after set-up, its ratio to one finite-element contact solve
(scikit-fem, the mesh of validation/) at one speed; the time of a set of shims on 14 keys followed in lockstep and its
ratio to a set followed alone; and the time of a study of 10,000 sets.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from rimmodel.arrays import Floats

sys.path.insert(0, str(Path(__file__).parents[2]))

import rimmodel as rm
from rimmodel.behaviour.keys.keyed_rotor import KeyedRotor, keyed_rotor
from rimmodel.behaviour.keys.lockstep import follow
from rimmodel.behaviour.keys.path import key_speeds
from rimmodel.behaviour.keys.tolerance import BLOCK, key_study, random_shims
from rimmodel.units import MILLIMETRE


def keyed(count: int, condition: str = "cold") -> tuple[KeyedRotor, rm.Case]:
    """The built-in rotor on so many keys, with shims of 0.1 mm standard deviation."""
    case = rm.example_case()
    fit = replace(case.rotor.fit, key_count=count, key_width=0.2, key_interference=None)
    rotor = replace(case.rotor, fit=fit)
    shims = random_shims(np.full(count, 2.1 * MILLIMETRE), 0.2 * MILLIMETRE, 1, seed=1)[0]
    return keyed_rotor(rotor, case.conditions[condition], shims), case


def fastest(action: Callable[[], object], rounds: int) -> float:
    """Least time of several rounds, s."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        action()
        times.append(time.perf_counter() - start)
    return min(times)


def finite_element_solve() -> float:
    """Time of one reduction of the mesh and one contact solve at one speed, s."""
    from validation.keys_finite_elements import reduced_ring

    start = time.perf_counter()
    reduced_ring.__wrapped__().key_force(15.0)
    return (time.perf_counter() - start) / 3.0  # it reduces the mesh at three speeds


def one_by_one(model: KeyedRotor, sets: Floats) -> None:
    """Landmarks of each set followed alone."""
    for shims in sets:
        one = model.with_keys(shims)
        key_speeds(one, follow(one.loads))


def print_lockstep(rotor: rm.Rotor, condition: rm.Condition, name: str, sets: Floats) -> None:
    """Time of a set of 1,000 in lockstep and alone, each the least of three rounds taken in turn."""
    model = keyed_rotor(rotor, condition, sets.mean(axis=0))
    times = [
        (fastest(lambda: key_study(rotor, condition, sets), 1), fastest(lambda: one_by_one(model, sets), 1))
        for _ in range(3)
    ]
    lockstep, alone = (min(column) / len(sets) for column in zip(*times, strict=True))
    print(
        f"14 keys, {name}, {len(sets)} sets, one process: {lockstep * 1e3:.2f} ms a set in lockstep of {BLOCK}, "
        f"{alone * 1e3:.2f} ms alone, ratio lockstep/alone {lockstep / alone:.2f}"
    )


def main() -> None:
    """Print the figures."""
    for condition in ("cold", "hot"):
        model, _ = keyed(24, condition)
        path = follow(model.loads)
        spent = fastest(lambda model=model: follow(model.loads), 30)
        print(
            f"24 keys, {condition}: {len(path.events)} events, {len(path.pieces)} pieces, {spent * 1e3:.1f} ms a path"
        )
        if condition == "cold":
            other = finite_element_solve()
            print(f"  one finite-element contact solve at one speed: {other:.2f} s, {other / spent:.0f} paths")
    _, case = keyed(14)
    rotor = replace(case.rotor, fit=replace(case.rotor.fit, key_width=0.26, key_interference=None))
    sets = random_shims(np.full(14, 2.1 * MILLIMETRE), 0.2 * MILLIMETRE, 10_000, seed=3)
    for name, condition in case.conditions.items():
        print_lockstep(rotor, condition, name, sets[:1000])
    start = time.perf_counter()
    key_study(rotor, case.conditions["cold"], sets, workers=2)
    print(f"10,000 sets of shims on 14 keys, 2 processes: {time.perf_counter() - start:.1f} s")


if __name__ == "__main__":
    main()
