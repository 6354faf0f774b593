"""Printed charts of few points: what is read off them carries smooth errors that nobody stated."""

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.behaviour import sweep
from rimmodel.evidence.knee.fit import fit_knee
from rimmodel.evidence.knee.points import FEWEST_BY_SCATTER
from rimmodel.evidence.measured.measure import measure
from rimmodel.evidence.recording.read import read_recording
from rimmodel.units import RPM, in_mm

CASE = rm.example_case()
COLD = CASE.conditions["cold"]
SPEEDS = np.array([20.0, 60.0, 90.0, 120.0, 160.0, 185.0, 204.0])


def chart(path, speeds, error=None):
    """Gaps of the rotor of the case as they are printed, without any noise."""
    gap = in_mm(sweep(CASE.rotor, COLD, speeds * RPM).air_gap)
    head = "speed [rpm], gap [mm]" + ("" if error is None else ", gap_error [mm]")
    tail = "" if error is None else f", {error}"
    path.write_text("\n".join([head, *(f"{n:g}, {y:.3f}{tail}" for n, y in zip(speeds, gap, strict=True))]) + "\n")
    return read_recording(path)


@pytest.mark.parametrize("count", [5, 6, 7])
def test_few_readings_without_a_stated_error_bound_nothing(tmp_path, count):
    found = measure(CASE.rotor, COLD, chart(tmp_path / "chart.csv", SPEEDS[-count:]))
    assert found.verdict == "not resolvable"
    assert found.float_speed_interval == (0.0, np.inf)
    assert not np.isfinite(found.interference_interval).any()
    assert any("gap_error" in reason for reason in found.reasons)


def test_one_speed_read_twice_says_nothing_of_the_error_of_the_others(tmp_path):
    """Two readings of one speed may agree by chance, or because their error is the same."""
    place = tmp_path / "chart.csv"
    chart(place, SPEEDS[-6:])
    speed, gap = place.read_text().splitlines()[-1].split(",")
    place.write_text(f"{place.read_text()}{speed}, {float(gap) + 0.0005:.4f}\n")
    found = measure(CASE.rotor, COLD, read_recording(place))
    assert found.float_speed_interval == (0.0, np.inf)


def test_a_stated_error_lets_few_readings_show_what_they_can(tmp_path):
    found = measure(CASE.rotor, COLD, chart(tmp_path / "chart.csv", SPEEDS, error=0.01))
    assert np.isfinite(found.float_speed_interval).any() or found.float_speed_interval[0] > 0.0
    assert not any("gap_error" in reason for reason in found.reasons)


@pytest.mark.derived
def test_scatter_counts_from_eight_readings_on():
    x = np.arange(float(FEWEST_BY_SCATTER))
    bent = -x - 2.0 * np.maximum(x - 4.0, 0.0) + 0.01 * np.array([1, -1, 1, -1, -1, 1, -1, 1.0])
    assert fit_knee(x, bent).verdict == "resolved"
    assert fit_knee(x[:-1], bent[:-1]).verdict == "not resolvable"
    assert any("8 points or more" in reason for reason in fit_knee(x[:-1], bent[:-1]).reasons)
    # separate samples, or an error of each that is known, are another matter
    assert fit_knee(x[:-1], bent[:-1], sigma=0.01).verdict == "resolved"
