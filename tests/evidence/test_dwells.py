"""Cutting a run into holds, pieces of ramp and groups of equal speed."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from invented_runs import LEVELS, history

from rimmodel.evidence.reduction.dwells import points_by_speed, points_in_time


def test_slow_ramps_are_not_taken_for_holds() -> None:
    time = np.arange(0.0, 20_000.0, 5.0)
    speed = np.interp(time, [0.0, 20_000.0], [5.0, 200.0])
    found = points_in_time(time, speed)
    assert not found.steady.any()
    assert set(found.direction.tolist()) == {1}


def test_a_slow_rise_and_fall_is_no_hold_and_holds_in_slow_ramps_are_found() -> None:
    time = np.arange(0.0, 6000.0, 0.5)
    found = points_in_time(time, np.interp(time, [0.0, 3000.0, 6000.0], [0.0, 200.0, 0.0]))
    assert found.steady.sum() <= 1  # at the very top the speed does stay within the tolerance
    assert (found.direction == 1).sum() == pytest.approx(60, abs=3)
    assert (found.direction == -1).sum() == pytest.approx(60, abs=3)
    corners, speeds = [0.0, 2000.0, 2600.0, 4600.0, 5200.0, 6000.0], [0.0, 100.0, 100.0, 200.0, 200.0, 200.0]
    found = points_in_time(time, np.interp(time, corners, speeds))
    assert found.steady.sum() == 2


@pytest.mark.parametrize("noise", [0.05, 0.5, 1.0])
def test_noise_of_the_speed_signal_does_not_tear_holds(noise: float) -> None:
    time, speed = history([*LEVELS, *LEVELS[-2::-1]])
    for seed in range(5):
        found = points_in_time(time, speed + noise * np.random.default_rng(seed).standard_normal(time.size))
        assert found.direction[found.steady].tolist() == [1] * 7 + [-1] * 6


@settings(deadline=None, max_examples=40)
@given(st.lists(st.floats(1.0, 200.0), min_size=2, max_size=60))
def test_every_block_belongs_to_one_point_and_points_are_never_empty(speeds: list[float]) -> None:
    speed = np.array(speeds)
    found = points_by_speed(speed, np.zeros(speed.size, dtype=int))
    assert set(found.of_block.tolist()) == set(range(found.steady.size))


@settings(deadline=None, max_examples=25)
@given(st.lists(st.floats(5.0, 200.0), min_size=2, max_size=8), st.floats(0.2, 2.0))
def test_history_in_any_shape_is_cut_completely(levels: list[float], step: float) -> None:
    time, speed = history(levels, step=step)
    found = points_in_time(time, speed)
    assert set(found.of_block.tolist()) == set(range(found.steady.size))
    assert found.direction.shape == found.steady.shape
    assert np.isin(found.direction, (-1, 0, 1)).all()


@pytest.mark.parametrize("readings", [2, 3, 4, 5])
def test_steps_read_a_few_times_each_stay_apart(readings):
    # 22 steps, half a minute or more between readings, as a chart recorder or a log by hand gives them
    steps = np.linspace(2.0, 24.0, 22)
    speed = np.repeat(steps, readings)
    time = np.concatenate([start + 150.0 / readings * (np.arange(readings) + 0.5) for start in 210.0 * np.arange(22)])
    points = points_in_time(time, speed)
    assert points.steady.sum() == 22
    assert np.array_equal(points.of_block, np.repeat(np.arange(22), readings))
