"""How fast a history is followed, and that its cost grows with its length: run by hand.

    python -m tests.benchmarks.duty_speed

The history of the built-in case with a single draw of the heat exchange, the same with 1,000 draws, and 200 draws of
histories that repeat a day up to 16 times: the slope of the logarithms of time over length.
"""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np

import rimmodel as rm
from rimmodel.behaviour.heat.course import even_start, heat_course, heat_model
from rimmodel.behaviour.heat.draws import middle_first
from rimmodel.behaviour.heat.fit_course import fit_course
from rimmodel.behaviour.heat.run import history_steps


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


def main() -> None:
    """Print the times."""
    case = rm.example_case()
    [history] = case.histories
    follow(case, history, 21, 1)  # what is loaded and solved once
    print(f"{history.duration / 3600:.1f} h, 1 draw: {seconds(lambda: follow(case, history, 21, 1)):.3f} s (processor)")
    print(f"{history.duration / 3600:.1f} h, 1000 draws: {seconds(lambda: follow(case, history, 1000), 3):.2f} s")
    # a day of its own: from standstill to standstill, so that it can be repeated
    day = history.segments[:5]
    lengths, times = np.array([1, 2, 4, 8, 16]), []
    for count in lengths:
        longer = replace(history, segments=day * int(count))
        times.append(seconds(lambda longer=longer: follow(case, longer, 200), 3))
    slope = np.polyfit(np.log(lengths[1:]), np.log(times[1:]), 1)[0]
    print(f"200 draws of {lengths} days: {np.round(times, 2)} s, slope {slope:.2f}")


if __name__ == "__main__":
    main()
