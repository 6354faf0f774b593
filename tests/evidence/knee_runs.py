"""Virtual runs with a knee that several tests look at, fitted once."""

from functools import cache

from tests.benchmarks.knee_calibration import Family, measure, virtual_runs

COUNT = 250


@cache
def plain_runs():
    """Fits of runs with noise alone, which is not known."""
    return measure(virtual_runs(Family(), COUNT))
