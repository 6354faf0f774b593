"""Series that share the knee of the mean gap: what is taken out of them, and how they sharpen the interval."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

import rimmodel as rm
from rimmodel.behaviour import float_speed
from rimmodel.evidence.backfit.expected import expected_slopes
from rimmodel.evidence.backfit.fit import OWN_CONDITION, back_fit
from rimmodel.evidence.backfit.shared_knee import Series, broken_line_design, broken_line_rest, shape_series
from rimmodel.evidence.knee.fit import fit_knee
from rimmodel.evidence.recording.read import read_recording
from rimmodel.evidence.reduction.rotor_shape import rotor_shape
from rimmodel.evidence.reduction.speed_points import speed_points
from rimmodel.evidence.synthetic import Run, virtual_run
from rimmodel.units import MILLIMETRE, RPM

CASE = rm.example_case()
COLD = CASE.conditions["cold"]
SPEED = np.linspace(20.0, 230.0, 22) * RPM
KNEE = float(float_speed(CASE.rotor, COLD).speed) ** 2


def bent(knee: float, *, noise: float = 0.0, seed: int = 1) -> NDArray[np.float64]:
    rng = np.random.default_rng(seed)
    return (
        1e-6 * np.minimum(SPEED**2 - knee, 0.0)
        + 5e-6 * np.maximum(SPEED**2 - knee, 0.0)
        + noise * rng.normal(size=len(SPEED))
    )


@pytest.mark.independent
@given(knee=st.floats(5.0, 560.0), seed=st.integers(0, 99))
def test_the_rest_is_that_of_ordinary_least_squares(knee: float, seed: int) -> None:
    series = Series("any", SPEED, bent(200.0, noise=1e-4, seed=seed), 2e-5)
    place = SPEED**2 - knee
    columns = np.stack([np.ones_like(place), np.minimum(place, 0.0), np.maximum(place, 0.0)], axis=1)
    coefficients = np.linalg.lstsq(columns / 100.0, series.value, rcond=None)[0] / 100.0
    wanted = (series.value - columns @ coefficients) / series.sigma
    found = broken_line_rest(series, np.array([knee]))[0]
    np.testing.assert_allclose(found @ found, wanted @ wanted, rtol=1e-6)


@pytest.mark.derived
def test_a_knee_beyond_the_data_leaves_a_straight_line() -> None:
    series = Series("straight", SPEED, 3.0 - 2e-3 * SPEED**2, 1.0)
    rest = broken_line_rest(series, np.array([-5.0, 0.0, 1e4]))
    np.testing.assert_allclose(rest, 0.0, atol=1e-9)
    assert np.isfinite(broken_line_design(series, np.array([-5.0, 1e4]))).all()


@pytest.mark.derived
def test_the_true_knee_leaves_nothing_and_any_other_something() -> None:
    knees = np.linspace(100.0, 500.0, 41)
    rest = broken_line_rest(Series("bent", SPEED, bent(300.0), 1e-6), knees)
    sums = np.einsum("fi,fi->f", rest, rest)
    assert knees[np.argmin(sums)] == 300.0
    assert sums.min() < 1e-6 < 1.0 < np.sort(sums)[1]


@pytest.fixture(scope="module")
def per_pole() -> tuple[object, object]:
    """Points and shape of a run of the example whose rim wanders and turns oval once it is free."""
    run = Run(
        speeds=tuple(SPEED), run_down=False, planes=("upper",), sensors_per_plane=4, readings=3, per_pole=True,
        noise=0.3 * MILLIMETRE, eccentricity=0.1 * MILLIMETRE, ovality=0.1 * MILLIMETRE,
        eccentricity_when_free=0.8 * MILLIMETRE, ovality_when_free=0.6 * MILLIMETRE, seed=4,
    )  # fmt: skip
    recording = read_recording(virtual_run(CASE.rotor, COLD, run))
    return speed_points(recording), rotor_shape(recording, plane="upper")


@pytest.mark.derived
def test_components_bend_at_the_knee_and_tell_their_noise(per_pole: tuple[object, object]) -> None:
    rows = shape_series(per_pole[1])  # type: ignore[arg-type]
    assert [series.name for series in rows] == [
        f"{name}, {part} part" for name in ("eccentricity", "ovality") for part in ("cosine", "sine")
    ]
    # a harmonic of 48 poles is 2/48 of a sum, so its noise is sqrt(2/48) of that of a pole, whose own is the mean of
    # 4 sensors times 3 readings
    wanted = 0.3 * MILLIMETRE * np.sqrt(2 / 48) / np.sqrt(4 * 3)
    for series in rows:
        assert series.sigma == pytest.approx(wanted, rel=0.45)
    amplitude = np.hypot(rows[0].value, rows[1].value)
    free = SPEED.max() ** 2 - KNEE
    expected = (0.1 + 0.8 * np.maximum(rows[0].speed ** 2 - KNEE, 0.0) / free) * MILLIMETRE
    np.testing.assert_allclose(amplitude, expected, atol=6 * wanted)


@pytest.mark.derived
def test_series_that_share_the_knee_sharpen_the_interval(per_pole: tuple[object, object]) -> None:
    points, shape = per_pole
    # the mean gap alone is spoiled on purpose: as a machine with few sensors would give it
    rng = np.random.default_rng(9)
    points = replace(points, gap=points.gap + 0.05 * MILLIMETRE * rng.normal(size=len(points.gap)))  # type: ignore[type-var,attr-defined]
    knee = fit_knee(points.speed**2, points.gap, expected_slopes=expected_slopes(CASE.rotor, COLD))
    alone = back_fit(CASE.rotor, COLD, points, knee)
    shared = back_fit(CASE.rotor, COLD, points, knee, series=shape_series(shape))  # type: ignore[arg-type]
    truth = np.sqrt(KNEE)
    for fit in (alone, shared):
        low, high = fit.float_speed_interval[OWN_CONDITION]
        assert low < truth < high
        assert fit.interference_interval[0] < CASE.rotor.fit.interference < fit.interference_interval[1]
    assert np.ptp(shared.float_speed_interval[OWN_CONDITION]) < 0.4 * np.ptp(alone.float_speed_interval[OWN_CONDITION])
    assert np.ptp(shared.interference_interval) < np.ptp(alone.interference_interval)


@pytest.mark.derived
def test_too_few_speeds_make_no_series(per_pole: tuple[object, object]) -> None:
    shape = per_pole[1]
    ovality = shape.rotor.ovality  # type: ignore[attr-defined]
    amplitude = np.where(np.arange(len(shape.speed)) < 7, ovality.amplitude, np.nan)  # type: ignore[attr-defined]
    short = replace(shape, rotor=replace(shape.rotor, ovality=replace(ovality, amplitude=amplitude)))  # type: ignore[type-var,attr-defined]
    assert [series.name[:4] for series in shape_series(short)] == ["ecce", "ecce"]  # type: ignore[arg-type]
