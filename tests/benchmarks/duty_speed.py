"""How fast a history is followed, and that its cost grows with its length: run by hand.

    python -m tests.benchmarks.duty_speed

The history of the built-in case with a single draw of the heat exchange, the same with 1,000 draws, with and without
its restarts, and 200 draws of histories that repeat a day up to 16 times: the slope of the logarithms of time over
length. Bars for seconds hang on the processor; held in one run are the ratios: 1,000 draws over as many single ones,
the slope, and one draw over the steps of an integrator for stiff equations on the nodes of the same lines. Ends with 1
where a ratio is missed.
"""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
from scipy.integrate import solve_ivp

import rimmodel as rm
from rimmodel.behaviour.heat.course import even_start, film_table, heat_course, heat_model
from rimmodel.behaviour.heat.draws import middle_first
from rimmodel.behaviour.heat.fit_course import fit_course
from rimmodel.behaviour.heat.lines import rim_line, spider_line
from rimmodel.behaviour.heat.network import ELEMENTS, exchange, heat_network
from rimmodel.behaviour.heat.run import history_steps, run_history
from rimmodel.elastic.heat_elements import joined


def seconds(function, repeats=5):
    """Least time of several calls, s."""
    best = np.inf
    for _ in range(repeats):
        start = time.process_time()
        function()
        best = min(best, time.process_time() - start)
    return best


def follow(case, history, draws, keep=None):
    """Temperatures and fit of a history; `keep` draws of those that are asked for."""
    steady = case.conditions[case.thermal.steady_state]
    values = {name: column[:keep] for name, column in middle_first(case.thermal, draws).items()}
    model = heat_model(case.rotor, case.thermal, steady, values)
    heat = heat_course(model, history_steps(case, history), even_start(model.network, case.conditions["cold"]))
    return fit_course(case.rotor, model, steady, heat, case.rotor)


def integrated(case, history):
    """The same by BDF on the nodes of rim and spider, heat transfer at rated speed throughout."""
    thermal, rotor = case.thermal, case.rotor
    values = {name: column[:1] for name, column in middle_first(thermal, 21).items()}
    network = heat_network(rotor, thermal, ELEMENTS)
    size = len(network.capacity)
    matrix = np.zeros((size, size))
    for part, line in ((network.rim, rim_line), (network.spider, spider_line)):
        matrix[part, part] = line(rotor, thermal, ELEMENTS).conduction
    matrix = joined(matrix, 0, network.spider_rim, values["contact_conductance"][0])
    out = exchange(network, film_table(network, values, np.ones(1), np.ones(1)))[0]
    slope = -(matrix + np.diag(out)) / network.capacity[:, np.newaxis]
    entering = out * float(thermal.air) / network.capacity
    return solve_ivp(
        lambda _, state: slope @ state + entering, (0.0, history.duration), np.full(size, 293.15), "BDF", jac=slope,
        rtol=1e-6, atol=1e-4,
    )  # fmt: skip


LIMITS = {"1,000 draws over 1,000 times one": 0.1, "slope in the length": 1.1, "one draw over an integrator": 1.0}
"""Most that each ratio may be."""


def main() -> None:
    """Print the times, and hold the ratios."""
    case = rm.example_case()
    [history] = case.histories
    follow(case, history, 21, 1)  # what is loaded and solved once
    single, many = seconds(lambda: follow(case, history, 21, 1)), seconds(lambda: follow(case, history, 1000), 3)
    whole = seconds(lambda: run_history(case, history, 1000), 1)
    steps = seconds(lambda: integrated(case, history), 3)
    print(f"{history.duration / 3600:.1f} h, 1 draw: {single:.3f} s (processor); by an integrator {steps:.3f} s")
    print(f"{history.duration / 3600:.1f} h, 1000 draws: {many:.2f} s, with restarts {whole:.2f} s")
    # a day of its own: from standstill to standstill, so that it can be repeated
    day = history.segments[:5]
    lengths, times = np.array([1, 2, 4, 8, 16]), []
    for count in lengths:
        longer = replace(history, segments=day * int(count))
        times.append(seconds(lambda longer=longer: follow(case, longer, 200), 3))
    slope = np.polyfit(np.log(lengths[1:]), np.log(times[1:]), 1)[0]
    print(f"200 draws of {lengths} days: {np.round(times, 2)} s, slope {slope:.2f}")
    found = dict(zip(LIMITS, (many / (1000 * single), slope, single / steps), strict=True))
    for name, value in found.items():
        print(f"{name}: {value:.2f} (at most {LIMITS[name]:g})")
    raise SystemExit(any(value > LIMITS[name] for name, value in found.items()))


if __name__ == "__main__":
    main()
