"""The lowest point of a closed curve: against closed forms, brute grids and an optimiser."""

import numpy as np
import pytest

from rimmodel.elastic.lowest_point import lowest_point


def curve(waves, angle):
    n = np.arange(len(waves))
    return (waves[:, None] * np.exp(1j * n[:, None] * angle)).real.sum(axis=0)


@pytest.mark.derived
@pytest.mark.parametrize(("mean", "offset"), [(16.0, 0.8), (9.0, 8.999), (1.0, 1e-9)])
def test_an_eccentric_circle_is_least_on_the_line_of_centres(mean, offset):
    for direction in (0.0, 1.234, 3.9):
        value, angle = lowest_point([mean, offset * np.exp(-1j * direction)])
        assert value == pytest.approx(mean - offset, abs=1e-12)
        assert np.cos(angle - direction) == pytest.approx(-1.0, abs=1e-12)


@pytest.mark.independent
def test_random_shapes_of_eight_harmonics_against_a_brute_grid():
    rng = np.random.default_rng(7)
    waves = rng.normal(size=(30, 9)) + 1j * rng.normal(size=(30, 9))
    waves[:, 0] = 16.0
    value, angle = lowest_point(waves)
    fine = np.linspace(0.0, 2.0 * np.pi, 100_000, endpoint=False)  # its own error: 204 x 2 h^2/8 = 2e-7
    brute = np.array([curve(row, fine).min() for row in waves])
    assert np.all(value <= brute + 1e-12)
    assert value == pytest.approx(brute, abs=1e-6)
    assert [curve(row, np.array([at]))[0] for row, at in zip(waves, angle, strict=True)] == pytest.approx(value)


@pytest.mark.independent
def test_nearly_equal_minima_are_told_apart():
    """Two minima of an oval that differ by a millionth: scipy's scalar minimiser on each finds the same lower one."""
    from scipy.optimize import minimize_scalar

    for small in (1e-6, -1e-6, 1e-9):
        waves = np.array([0.0, small, 1.0, 0.0, 0.3])

        def height(angle, waves=waves):
            return curve(waves, np.array([angle]))[0]

        fine = np.linspace(0.0, 2.0 * np.pi, 33)
        found = [
            minimize_scalar(height, bounds=(at - 0.2, at + 0.2), method="bounded", options={"xatol": 1e-10}).fun
            for at in fine
        ]
        assert lowest_point(waves)[0] == pytest.approx(min(found), abs=1e-12)


def test_a_stack_has_the_shape_of_its_rows_and_a_constant_has_no_place():
    value, angle = lowest_point(np.full((2, 3, 1), 4.0))
    assert value.shape == angle.shape == (2, 3)
    assert np.all(value == 4.0)
    flat, where = lowest_point([5.0, 0.0, 0.0])
    assert (float(flat), np.isfinite(where)) == (5.0, True)


@pytest.mark.parametrize("waves", [[], 3.0, [1.0, np.nan], [1.0, np.inf]])
def test_what_is_no_curve_is_refused(waves):
    with pytest.raises(ValueError, match="amplitude"):
        lowest_point(waves)
