"""The least-squares engine against certified data of the NIST Statistical Reference Datasets, and a second opinion.

Data, certified values and standard errors as in the public copies of the data files that general numerical libraries
test themselves with (three copies compared; Norris is also in scipy's test data). NIST/ITL StRD, nonlinear:
Misra1a (Misra 1978), Thurber (1979), MGH09 (Kowalik & Osborne 1978), DanWood (Daniel & Wood 1980); linear: Norris,
Longley (J. W. Longley, JASA 62 (1967) 819).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import least_squares

from rimmodel.evidence.backfit.least_squares import covariance, fit_batch, jacobian

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Certified:
    """A data set with its model, two starts, and what NIST certifies."""

    model: Callable[[Floats, Floats], Floats]
    """Parameters (fit, parameter) and x to values (fit, point)."""
    x: Floats
    y: Floats
    starts: Floats
    values: Floats
    errors: Floats
    sum_of_squares: float

    def residuals(self, some: Floats) -> Floats:
        return self.y - self.model(some, self.x)

    @property
    def scale(self) -> Floats:
        return np.abs(self.values)


def _misra(p: Floats, x: Floats) -> Floats:
    return p[:, :1] * (1 - np.exp(-p[:, 1:] * x))


def _thurber(p: Floats, x: Floats) -> Floats:
    top = p[:, :4] @ x ** np.arange(4)[:, None]
    return top / (1 + p[:, 4:] @ x ** np.arange(1, 4)[:, None])


def _mgh09(p: Floats, x: Floats) -> Floats:
    return p[:, :1] * (x**2 + x * p[:, 1:2]) / (x**2 + x * p[:, 2:3] + p[:, 3:])


def _danwood(p: Floats, x: Floats) -> Floats:
    return p[:, :1] * x ** p[:, 1:]


MISRA1A = Certified(
    _misra,
    np.array([77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0]),
    np.array([10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78]),
    np.array([[500.0, 1e-4], [250.0, 5e-4]]),
    np.array([2.3894212918e02, 5.5015643181e-04]),
    np.array([2.7070075241e00, 7.2668688436e-06]),
    1.2455138894e-01,
)
THURBER = Certified(
    _thurber,
    np.array(
        [-3.067, -2.981, -2.921, -2.912, -2.840, -2.797, -2.702, -2.699, -2.633, -2.481, -2.363, -2.322, -1.501, -1.460,
         -1.274, -1.212, -1.100, -1.046, -0.915, -0.714, -0.566, -0.545, -0.400, -0.309, -0.109, -0.103, 0.010, 0.119,
         0.377, 0.790, 0.963, 1.006, 1.115, 1.572, 1.841, 2.047, 2.200]
    ),
    np.array(
        [80.574, 84.248, 87.264, 87.195, 89.076, 89.608, 89.868, 90.101, 92.405, 95.854, 100.696, 101.060, 401.672,
         390.724, 567.534, 635.316, 733.054, 759.087, 894.206, 990.785, 1090.109, 1080.914, 1122.643, 1178.351,
         1260.531, 1273.514, 1288.339, 1327.543, 1353.863, 1414.509, 1425.208, 1421.384, 1442.962, 1464.350, 1468.705,
         1447.894, 1457.628]
    ),
    np.array([[1000.0, 1000.0, 400.0, 40.0, 0.7, 0.3, 0.03], [1300.0, 1500.0, 500.0, 75.0, 1.0, 0.4, 0.05]]),
    np.array(
        [1.2881396800e03, 1.4910792535e03, 5.8323836877e02, 7.5416644291e01, 9.6629502864e-01, 3.9797285797e-01,
         4.9727297349e-02]
    ),
    np.array(
        [4.6647963344e00, 3.9571156086e01, 2.8698696102e01, 5.5675370270e00, 3.1333340687e-02, 1.4984928198e-02,
         6.5842344623e-03]
    ),
    5.6427082397e03,
)  # fmt: skip
MGH09 = Certified(
    _mgh09,
    np.array([4.0, 2.0, 1.0, 0.5, 0.25, 0.167, 0.125, 0.1, 0.0833, 0.0714, 0.0625]),
    np.array([0.1957, 0.1947, 0.1735, 0.16, 0.0844, 0.0627, 0.0456, 0.0342, 0.0323, 0.0235, 0.0246]),
    np.array([[25.0, 39.0, 41.5, 39.0], [0.25, 0.39, 0.415, 0.39]]),
    np.array([1.9280693458e-01, 1.9128232873e-01, 1.2305650693e-01, 1.3606233068e-01]),
    np.array([1.1435312227e-02, 1.9633220911e-01, 8.0842031232e-02, 9.0025542308e-02]),
    3.0750560385e-04,
)
DANWOOD = Certified(
    _danwood,
    np.array([1.309, 1.471, 1.490, 1.565, 1.611, 1.680]),
    np.array([2.138, 3.421, 3.597, 4.340, 4.882, 5.660]),
    np.array([[1.0, 5.0], [0.7, 4.0]]),
    np.array([7.6886226176e-01, 3.8604055871e00]),
    np.array([1.8281973860e-02, 5.1726610913e-02]),
    4.3173084083e-03,
)
NORRIS = Certified(
    lambda p, x: p[:, :1] + p[:, 1:] * x,
    np.array(
        [0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0, 447.5,
         11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2,
         669.1, 448.9, 0.5]
    ),
    np.array(
        [0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3, 448.9,
         10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9,
         668.4, 449.2, 0.2]
    ),
    np.array([[0.0, 0.0], [5.0, 2.0]]),
    np.array([-0.262323073774029, 1.00211681802045]),
    np.array([0.232818234301152, 0.429796848199937e-03]),
    26.6173985294224,
)  # fmt: skip
LONGLEY_Y = np.array(
    [60323, 61122, 60171, 61187, 63221, 63639, 64989, 63761, 66019, 67857, 68169, 66513, 68655, 69564, 69331, 70551.0]
)
LONGLEY_X = np.array(
    [
        [83.0, 88.5, 88.2, 89.5, 96.2, 98.1, 99.0, 100.0, 101.2, 104.6, 108.4, 110.8, 112.6, 114.2, 115.7, 116.9],
        [234289, 259426, 258054, 284599, 328975, 346999, 365385, 363112, 397469, 419180, 442769, 444546, 482704, 502601,
         518173, 554894],
        [2356, 2325, 3682, 3351, 2099, 1932, 1870, 3578, 2904, 2822, 2936, 4681, 3813, 3931, 4806, 4007],
        [1590, 1456, 1616, 1650, 3099, 3594, 3547, 3350, 3048, 2857, 2798, 2637, 2552, 2514, 2572, 2827],
        [107608, 108632, 109773, 110929, 112075, 113270, 115094, 116219, 117388, 118734, 120445, 121950, 123366, 125368,
         127852, 130081],
        list(range(1947, 1963)),
    ]
)  # fmt: skip
LONGLEY = Certified(
    lambda p, x: p[:, :1] + p[:, 1:] @ x,
    LONGLEY_X,
    LONGLEY_Y,
    np.array([[0.0] * 7, [1.0] * 7]),
    np.array(
        [-3482258.63459582, 15.0618722713733, -0.358191792925910e-01, -2.02022980381683, -1.03322686717359,
         -0.511041056535807e-01, 1829.15146461355]
    ),
    np.array(
        [890420.383607373, 84.9149257747669, 0.334910077722432e-01, 0.488399681651699, 0.214274163161675,
         0.226073200069370, 455.478499142212]
    ),
    836424.055505915,
)  # fmt: skip
SETS = {
    "Misra1a": (MISRA1A, 1e-7),
    "Thurber": (THURBER, 1e-6),
    "MGH09": (MGH09, 1e-5),
    "DanWood": (DANWOOD, 1e-7),
    "Norris": (NORRIS, 1e-8),
    "Longley": (LONGLEY, 1e-5),
}
"""Data set and relative accuracy asked of estimates; standard errors are asked for to 1e-5."""


@pytest.mark.published
@pytest.mark.parametrize("name", SETS)
def test_certified_values_and_standard_errors_from_both_starts(name: str) -> None:
    known, close = SETS[name]
    fit = fit_batch(known.residuals, known.starts, known.scale, steps=400, tolerance=1e-13)
    assert fit.converged.all()
    np.testing.assert_allclose(fit.parameters, np.broadcast_to(known.values, fit.parameters.shape), rtol=close)
    np.testing.assert_allclose(fit.sum_of_squares, known.sum_of_squares, rtol=1e-8)
    freedom = len(known.y) - len(known.values)
    variance = np.diag(covariance(known.residuals, fit.parameters[0], known.scale))
    errors = np.sqrt(variance * fit.sum_of_squares[0] / freedom)
    np.testing.assert_allclose(errors, known.errors, rtol=1e-5)


@pytest.mark.independent
@pytest.mark.parametrize("name", ["Misra1a", "Thurber", "DanWood"])
def test_second_opinion_of_scipy(name: str) -> None:
    known, _ = SETS[name]
    size = known.scale  # its differences are for parameters of order one
    theirs = least_squares(
        lambda p: known.residuals((p * size)[None])[0],
        known.starts[1] / size,
        jac="3-point",
        xtol=1e-14,
        ftol=1e-14,
        gtol=1e-14,
    )
    ours = fit_batch(known.residuals, known.starts[1:], size, steps=200, tolerance=1e-13)
    np.testing.assert_allclose(ours.parameters[0], theirs.x * size, rtol=1e-6)
    np.testing.assert_allclose(ours.sum_of_squares[0], 2 * theirs.cost, rtol=1e-9)
    wanted = np.linalg.inv(theirs.jac.T @ theirs.jac) * np.outer(size, size)
    np.testing.assert_allclose(covariance(known.residuals, theirs.x * size, size), wanted, rtol=1e-6)


@pytest.mark.independent
def test_round_off_of_the_sum_does_not_stop_a_fit_short_of_the_minimum() -> None:
    """A sum of squares is flat to round-off where parameters are still 1e-7 off; the orthogonal solution is not."""
    starts = NORRIS.values * np.random.default_rng(7).uniform(-20.0, 20.0, (200, 2))
    exact = np.linalg.lstsq(np.stack([np.ones_like(NORRIS.x), NORRIS.x], axis=1), NORRIS.y, rcond=None)[0]
    calls = []

    def residuals(p: Floats) -> Floats:
        calls.append(len(p))
        return NORRIS.residuals(p)

    fit = fit_batch(residuals, starts, NORRIS.scale, steps=400, tolerance=1e-13)
    assert fit.converged.all()
    np.testing.assert_allclose(fit.parameters, np.broadcast_to(exact, (200, 2)), rtol=2e-9)
    # a line needs a handful of steps of five evaluations each; a fit that hunts in round-off takes tens
    assert sum(calls) < 200 * 5 * 8


@pytest.mark.derived
def test_jacobian_of_a_known_function() -> None:
    at = np.array([[0.7, 2.0], [1.3, 0.5]])
    x = np.linspace(0.1, 1.0, 5)
    slope = jacobian(lambda p: _danwood(p, x), at, np.ones(2), np.array([0, 1]))
    # d(b1 x^b2): x^b2 and b1 x^b2 ln x
    np.testing.assert_allclose(slope[..., 0], x ** at[:, 1:], rtol=1e-8)
    np.testing.assert_allclose(slope[..., 1], at[:, :1] * x ** at[:, 1:] * np.log(x), rtol=1e-7)


@pytest.mark.derived
def test_fixed_parameters_stay_and_the_rest_is_the_fit_without_them() -> None:
    x = np.array([0.0, 1.0, 2.0, 4.0])
    y = np.array([1.0, 2.5, 2.0, 5.5])
    fit = fit_batch(
        lambda p: y - p[:, :1] - p[:, 1:] * x, [[0.5, 9.0], [3.0, 9.0]], [1.0, 1.0], free=[False, True], steps=100
    )
    np.testing.assert_allclose(fit.parameters[:, 0], [0.5, 3.0])
    # slope through a fixed level c: sum x (y - c) / sum x^2
    wanted = [np.sum(x * (y - level)) / np.sum(x**2) for level in (0.5, 3.0)]
    np.testing.assert_allclose(fit.parameters[:, 1], wanted, rtol=1e-8)


@pytest.mark.derived
def test_nothing_free_leaves_the_start_and_its_sum() -> None:
    fit = fit_batch(lambda p: p - 3.0, [[1.0, 5.0]], [1.0, 1.0], free=[False, False])
    assert fit.parameters.tolist() == [[1.0, 5.0]]
    assert fit.sum_of_squares.tolist() == [8.0]


@pytest.mark.derived
def test_a_direction_that_the_data_do_not_see_has_a_huge_variance() -> None:
    def residuals(p: Floats) -> Floats:
        return (p[:, :1] + p[:, 1:] - 2.0) * np.ones(5)

    variance = np.diag(covariance(residuals, np.array([1.0, 1.0]), np.ones(2)))
    assert np.isfinite(variance).all()
    assert (variance > 1e12).all()


@pytest.mark.derived
def test_a_batch_fits_each_as_it_would_alone() -> None:
    starts = np.vstack([MISRA1A.starts, [[300.0, 3e-4]]])
    together = fit_batch(MISRA1A.residuals, starts, MISRA1A.scale, steps=200)
    for place, start in enumerate(starts):
        alone = fit_batch(MISRA1A.residuals, start[None], MISRA1A.scale, steps=200)
        np.testing.assert_allclose(together.parameters[place], alone.parameters[0], rtol=1e-7)
