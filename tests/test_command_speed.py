"""Commands against loading numpy, scipy and matplotlib, leniently: only on a machine that has nothing else to do."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.benchmarks.command_speed import LARGEST_RATIO, best_times, commands, ratios

LENIENT = 2.0
"""The bars of the benchmark are for the best of many rounds on a quiet machine."""


@pytest.mark.skipif("RIMMODEL_SPEED" not in os.environ, reason="set RIMMODEL_SPEED on a quiet machine")
def test_no_command_takes_twice_its_time(tmp_path: Path) -> None:
    found = ratios(best_times(commands(tmp_path), repeats=2))
    slow = {name: round(ratio, 2) for name, ratio in found.items() if ratio > LENIENT * LARGEST_RATIO[name]}
    assert not slow


@pytest.mark.derived
def test_a_ratio_is_a_time_over_that_of_the_yardstick() -> None:
    assert ratios({"yardstick": 0.5, "fit": 2.0, "help": 0.5}) == {"fit": 4.0, "help": 1.0}
