"""Virtual runs with a knee that several tests look at, fitted once."""

from tests.benchmarks.knee_calibration import Family, measure, virtual_runs
from tests.once import once

COUNT = 250


def plain_runs():
    """Fits of runs with noise alone, which is not known."""
    return once("fits of runs with noise alone", lambda: measure(virtual_runs(Family(), COUNT)))
