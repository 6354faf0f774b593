"""How fast and how small a tolerance study is: ``python tests/benchmarks/study_speed.py [--largest N]``.

The forward model (float speed, gap, contact pressure and rim stress of one condition) runs on one block of 8192
rotors of which every number is an array. Its limit is counted, not guessed: each numpy operation on whole arrays is
one pass, and a pass costs as many multiply-adds as it is measured to cost on the same arrays (an addition, a
comparison or a choice counts as one, whatever it costs; divisions, roots, powers, exponentials and arc cosines as
measured). The best possible time is that number times the time of a multiply-add pass (half of ``a * b + c``).

Then the same ring by `scipy.integrate.solve_bvp` and by scikit-fem (when installed), the same formulas in a Python
loop, and the study of the built-in case from 1e4 samples upward, each in a process of its own.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable
from itertools import pairwise
from typing import Any, ClassVar

import numpy as np
from float_speed_million import CONDITION, MACHINE, plain_float_speed, varied

from rimmodel.behaviour import float_speed
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.behaviour.contact.speeds import float_speed_of
from rimmodel.behaviour.quantities import quantity_values
from rimmodel.elastic import Ring, ring_edges
from rimmodel.rotor.blocks import BLOCK, map_arrays

QUANTITIES = ("float_speed", "gap_at_overspeed", "contact_pressure_at_standstill", "rim_stress_at_overspeed")
DEAR = (
    "divide",
    "sqrt",
    "cbrt",
    "power",
    "float_power",
    "exp",
    "expm1",
    "log",
    "log1p",
    "cos",
    "arccos",
    "cosh",
    "arccosh",
)
"""Operations that count as what they are measured to cost; every other pass counts as one."""
LIMIT_SHARE, LOOP_TIMES, BVP_TIMES, SECONDS, MEGABYTES = 0.25, 100.0, 1000.0, 3.0, 1000.0


def best(work: Callable[[], object], repeats: int = 15) -> float:
    """Shortest wall time of `work` in s."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


class Counted(np.ndarray[Any, Any]):
    """An array that counts the passes of numpy over whole blocks."""

    passes: ClassVar[Counter[str]] = Counter()

    def __array_ufunc__(self, ufunc: Any, method: str, *inputs: Any, **kwargs: Any) -> Any:
        """Count one pass of a universal function."""
        plain = [np.asarray(item).view(np.ndarray) if isinstance(item, Counted) else item for item in inputs]
        if "out" in kwargs:
            kwargs["out"] = tuple(one.view(np.ndarray) if isinstance(one, Counted) else one for one in kwargs["out"])
        if any(np.size(item) == BLOCK for item in plain):
            Counted.passes[ufunc.__name__] += 1
        return _counted(getattr(ufunc, method)(*plain, **kwargs))

    def __array_function__(self, function: Any, types: Any, arguments: Any, kwargs: Any) -> Any:
        """Count one pass of `where`, `select` and their like; what only looks at shapes is free."""
        if function.__name__ in ("where", "select", "minimum", "maximum", "zeros_like", "all", "any", "clip"):
            Counted.passes[function.__name__] += 1
        plain = [_plain(item) for item in arguments]
        return _counted(function(*plain, **{name: _plain(item) for name, item in kwargs.items()}))


def _plain(item: Any) -> Any:
    if isinstance(item, list | tuple):
        return type(item)(_plain(one) for one in item)
    return item.view(np.ndarray) if isinstance(item, Counted) else item


def _counted(result: Any) -> Any:
    if isinstance(result, list | tuple):
        return type(result)(_counted(one) for one in result)
    return result.view(Counted) if isinstance(result, np.ndarray) and result.size == BLOCK else result


def count_passes(rotor: Any, condition: Any) -> Counter[str]:
    """Passes of the forward model over its arrays, by operation."""
    marked = [map_arrays(item, lambda leaf: leaf.view(Counted)) for item in (rotor, condition)]
    plain_asarray, Counted.passes = np.asarray, Counter()
    # building the machine above looked at the rules; only the model counts
    np.asarray = np.asanyarray  # type: ignore[assignment]
    try:
        quantity_values(*marked, QUANTITIES)
    finally:
        np.asarray = plain_asarray
    return Counted.passes


def cost_of(name: str, multiply_add: float) -> float:
    """Multiply-add passes that one pass of a dear operation takes, measured on a block."""
    values = np.random.default_rng(1).uniform(1.1, 1.9, BLOCK)
    other = np.random.default_rng(2).uniform(0.5, 0.9, BLOCK)
    work: Callable[[], object] = {
        "divide": lambda: values / other,
        "power": lambda: values**other,
        "float_power": lambda: np.float_power(values, other),
        "arccos": lambda: np.arccos(other),
    }.get(name, lambda: getattr(np, name)(values))
    return max(best(work, 50) / multiply_add, 1.0)


def limit() -> tuple[float, float, float]:
    """Print passes and shares; points per second of the model, share of the limit, seconds of one block."""
    generator = np.random.default_rng(7)
    rotor, condition = varied(MACHINE, BLOCK, generator)[0], varied(CONDITION, BLOCK, generator)[0]
    a, b, c = (generator.uniform(1.0, 2.0, BLOCK) for _ in range(3))
    multiply_add = best(lambda: a * b + c, 200) / 2
    passes = count_passes(rotor, condition)
    costs = {name: cost_of(name, multiply_add) for name in passes if name in DEAR}
    weight = sum(number * costs.get(name, 1.0) for name, number in passes.items())
    seconds = best(lambda: quantity_values(rotor, condition, QUANTITIES), 40)
    share = weight * multiply_add / seconds
    print(f"one multiply-add pass over {BLOCK} numbers: {1e6 * multiply_add:.2f} us")
    print(f"passes of the forward model: {sum(passes.values())}, as multiply-adds {weight:.0f}")
    print("  " + ", ".join(f"{name} {number}" for name, number in passes.most_common()))
    print("  each as multiply-adds: " + ", ".join(f"{name} {cost:.1f}" for name, cost in sorted(costs.items())))
    print(f"forward model: {BLOCK / seconds / 1e6:.2f} M points/s; share of the limit {share:.2f} (>= {LIMIT_SHARE})")
    return BLOCK / seconds, share, seconds


def python_loop() -> tuple[float, float]:
    """Times as fast as a Python loop: over the same functions, rotor by rotor; over formulas written out by hand."""
    few = 2000
    generator = np.random.default_rng(7)
    rotor, condition = varied(MACHINE, BLOCK, generator)[0], varied(CONDITION, BLOCK, generator)[0]
    singles = [
        tuple(map_arrays(item, lambda leaf, place=place: float(leaf[place])) for item in (rotor, condition))
        for place in range(few)
    ]
    ours = float_speed(rotor, condition).speed[:few]
    looped = np.array([plain_float_speed(*one) for one in singles])
    if not np.allclose(ours, looped, rtol=1e-9, equal_nan=True):
        raise SystemExit("the Python loop gives other float speeds")
    ours_each = best(lambda: float_speed(rotor, condition), 30) / BLOCK
    by_hand = best(lambda: [plain_float_speed(*one) for one in singles], 3) / few
    same = best(lambda: [float_speed_of(coefficients(*one)) for one in singles[:200]], 3) / 200
    return same / ours_each, by_hand / ours_each


RING = Ring(3.5, 3.9, 206e9, 0.3, 7850.0)
SPEED, PRESSURE = 20.0, 3e6


def boundary_value_problem() -> float:
    """Bore displacement of a spinning ring under bore pressure, m, by collocation."""
    from scipy.integrate import solve_bvp

    modulus, nu, rho = 206e9, 0.3, 7850.0

    def slope(r: Any, y: Any) -> Any:
        # y = (u, s_r r): eps_t = u/r, eps_r from the law, balance d(r s_r)/dr = s_t - rho w^2 r^2
        radial = y[1] / r
        hoop = modulus * y[0] / r + nu * radial
        return np.stack([(radial - nu * hoop) / modulus, hoop - rho * SPEED**2 * r**2])

    r = np.linspace(3.5, 3.9, 11)
    start = np.stack([np.full_like(r, 1e-3), np.linspace(-PRESSURE * 3.5, 0.0, r.size)])
    done = solve_bvp(slope, lambda low, high: np.array([low[1] + PRESSURE * 3.5, high[1]]), r, start, tol=1e-6)
    return float(done.y[0, 0])


def finite_elements() -> float | None:
    """The same with 20 quadratic elements of scikit-fem; None where it is not installed."""
    try:
        from skfem import Basis, BilinearForm, ElementLineP2, LinearForm, MeshLine, solve
    except ModuleNotFoundError:
        return None
    modulus, nu, rho = 206e9, 0.3, 7850.0
    plane = modulus / (1 - nu**2)
    basis = Basis(MeshLine(np.linspace(3.5, 3.9, 21)), ElementLineP2())

    @BilinearForm
    def stiffness(u: Any, v: Any, w: Any) -> Any:
        r = w.x[0]
        radial, hoop = plane * (u.grad[0] + nu * u / r), plane * (u / r + nu * u.grad[0])
        return (radial * v.grad[0] + hoop * v / r) * r

    @LinearForm
    def spin(v: Any, w: Any) -> Any:
        return rho * SPEED**2 * w.x[0] ** 2 * v

    load = spin.assemble(basis)
    bore = int(np.argmin(basis.doflocs[0]))
    load[bore] += PRESSURE * 3.5
    return float(solve(stiffness.assemble(basis), load)[bore])


def rings() -> float:
    """Print our rings per second over those of the other two; the first ratio."""
    count = BLOCK
    many = Ring(np.full(count, 3.5), 3.9, np.full(count, 206e9), 0.3, 7850.0)
    ours = best(lambda: ring_edges(many).bore_displacement.total(PRESSURE, 0.0, SPEED**2)) / count
    known = float(ring_edges(RING).bore_displacement.total(PRESSURE, 0.0, SPEED**2))
    ratio = 0.0
    for name, work in (("solve_bvp", boundary_value_problem), ("scikit-fem", finite_elements)):
        value = work()
        if value is None:
            print(f"{name}: skipped, not installed")
            continue
        if abs(value / known - 1) > 1e-5:
            raise SystemExit(f"{name} gives {value} m, not {known} m")
        times = best(work, 5) / ours
        ratio = ratio or times
        print(f"one ring: {times:,.0f} times as fast as {name}")
    return ratio


_STUDY = """
import json, os, resource, sys, time
import rimmodel as rm
from rimmodel.behaviour.study.rotor_model import case_inputs, rotor_model
from rimmodel.behaviour.study.blocks import study

if __name__ == "__main__":
    case = rm.example_case()
    model, inputs = rotor_model(case), case_inputs(case)
    begun = time.perf_counter()
    study(model, inputs, int(sys.argv[1]), method="random", workers=int(sys.argv[2]))
    spent = time.perf_counter() - begun
    own, others = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    peak = own.ru_maxrss + (int(sys.argv[2]) if sys.argv[2] != "1" else 0) * others.ru_maxrss
    busy = sum(one.ru_utime + one.ru_stime for one in (own, others))
    print(json.dumps([spent, peak / 1024, busy, os.getloadavg()[0]]))
"""


def run_study(samples: int, workers: int) -> tuple[float, float]:
    """Print and return the seconds and peak megabytes (all processes, bound above) of a study in its own process."""
    import tempfile
    from pathlib import Path

    with tempfile.TemporaryDirectory() as folder:
        script = Path(folder) / "one_study.py"
        script.write_text(_STUDY, encoding="utf-8")
        command = [sys.executable, str(script), str(samples), str(workers)]
        done = subprocess.run(command, check=True, capture_output=True, text=True)
    spent, peak, busy, load = json.loads(done.stdout)
    print(
        f"  {samples:>10,} samples, workers {workers}: {spent:6.2f} s, {peak:4.0f} MB; "
        f"{busy:.2f} s of processor with start and imports (load {load:.1f})",
        flush=True,
    )
    return spent, peak


def growth(largest: int) -> tuple[float, float]:
    """Print time and memory over the number of samples; seconds of a million and the largest memory."""
    print(f"study of the built-in case, all outputs, {os.cpu_count()} processors:")
    million = peak = 0.0
    rows = []
    for samples in (10_000, 100_000, 1_000_000, 10_000_000):
        if samples > largest:
            break
        spent, memory = run_study(samples, 1)
        rows.append((samples, spent))
        million, peak = (spent if samples == 1_000_000 else million), max(peak, memory)
    for (few, short), (many, long) in pairwise(rows[1:]):
        print(f"  slope from {few:,} to {many:,}: {np.log(long / short) / np.log(many / few):.2f}")
    spent, memory = run_study(1_000_000, 2)
    return min(million or spent, spent), max(peak, memory)


def main() -> int:
    """Print everything; 1 when a bound is broken."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--largest", type=int, default=10_000_000, help="most samples of a study")
    largest = parser.parse_args().largest
    print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")
    _, share, _ = limit()
    loop, by_hand = python_loop()
    print(f"float speed: {loop:,.0f} times as fast as the same functions rotor by rotor (>= {LOOP_TIMES:.0f}),")
    print(f"  {by_hand:,.0f} times as fast as a Python loop over formulas written out for this one machine")
    bvp = rings()
    million, memory = growth(largest)
    broken = share < LIMIT_SHARE or loop < LOOP_TIMES or bvp < BVP_TIMES or million > SECONDS or memory > MEGABYTES
    return int(broken)


if __name__ == "__main__":
    sys.exit(main())
