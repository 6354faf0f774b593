"""Nonlinear least squares for many starts, or many fixed values, at once.

Levenberg-Marquardt steps by QR, each fit of the batch with its own damping; one call of the model serves all of
them. A profile of a likelihood is a batch of fits, and so is a multi-start.

Near the minimum a sum of squares changes with the square of the error, so that two sums differ by round-off alone
while parameters still carry the root of it. There the sums cannot say whether a step is good; what the linear model
expects to gain can. A step that promises next to nothing is therefore the last, and is taken unless the sum rises by
more than round-off.

Source: Marquardt, SIAM J. Appl. Math. 11 (1963) 431; Nocedal & Wright, Numerical Optimization, 2nd ed., sec. 10.3;
the rule to stop after Bates & Watts, Technometrics 23 (1981) 179.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rimmodel.arrays import Floats

Residuals = Callable[[Floats], Floats]
"""From parameters (fit, parameter) to weighted residuals (fit, point)."""

LIGHT = 1e-2
"""Damping below which a step is nearly that of Gauss and Newton: it says how far the minimum is."""

ROUND_OFF = 1e-12
"""Relative rise of a sum of squares that may be round-off: of the residuals themselves and of the sum."""


@dataclass(frozen=True)
class BatchFit:
    """Fits of a batch.

    Attributes
    ----------
    parameters : array (fit, parameter), unit of each parameter
    sum_of_squares : array (fit,), -
    converged : bool array (fit,)
        Whether each settled.
    """

    parameters: Floats
    sum_of_squares: Floats
    converged: NDArray[np.bool_]


def fit_batch(
    residuals: Residuals,
    start: ArrayLike,
    scale: ArrayLike,
    *,
    free: ArrayLike | None = None,
    steps: int = 60,
    tolerance: float = 1e-10,
) -> BatchFit:
    """Minimise the sum of squared residuals from every start.

    Parameters
    ----------
    residuals : callable
        Parameters (fit, parameter) to residuals (fit, point), each already divided by its uncertainty. It is called
        with stacks of several perturbed copies of the batch, so it must broadcast over the first axis.
    start : array (fit, parameter), unit of each parameter
    scale : array (parameter,), unit of each parameter
        Size of a change that matters, for each parameter; sets the steps of the numerical derivative.
    free : bool array (parameter,), optional
        Parameters to adjust; the others keep their start values.
    tolerance : float, -
        Settled when a step changes no parameter by more than this times (its scale plus its size), or when the sum
        of squares falls, or is expected to fall, by no more than this times itself.

    A straight line through three points that lie on it:

    >>> import numpy as np
    >>> x, y = np.array([0.0, 1.0, 2.0]), np.array([1.0, 3.0, 5.0])
    >>> fit = fit_batch(lambda p: y - p[:, :1] - p[:, 1:] * x, [[0.0, 0.0]], [1.0, 1.0])
    >>> np.round(fit.parameters, 6).tolist()
    [[1.0, 2.0]]
    """
    at = np.array(start, dtype=float, ndmin=2)
    size = np.asarray(scale, dtype=float)
    columns = np.flatnonzero(np.ones(at.shape[1], dtype=bool) if free is None else np.asarray(free, dtype=bool))
    value = residuals(at)
    cost = np.einsum("fi,fi->f", value, value)
    settled = np.zeros(len(at), dtype=bool)
    damping = np.full(len(at), 1e-3)
    for _ in range(steps):
        busy = np.flatnonzero(~settled)
        if not len(busy) or not len(columns):
            break
        slope = jacobian(residuals, at[busy], size, columns)
        step = _damped_step(slope, value[busy], damping[busy])
        tried = at[busy]
        tried[:, columns] += step
        new = residuals(tried)
        new_cost = np.einsum("fi,fi->f", new, new)
        better = new_cost <= cost[busy]
        light = damping[busy] < LIGHT
        level = light & (_expected_gain(slope, value[busy], step) <= tolerance * cost[busy])
        take = better | (level & (new_cost <= cost[busy] * (1.0 + ROUND_OFF)))
        small = np.all(np.abs(step) <= tolerance * (size[columns] + np.abs(at[busy][:, columns])), axis=1)
        flat = light & better & (cost[busy] - new_cost <= tolerance * new_cost)
        took = busy[take]
        at[took], value[took], cost[took] = tried[take], new[take], new_cost[take]
        damping[busy] = np.clip(np.where(better, damping[busy] * 0.1, damping[busy] * 8.0), 1e-12, 1e12)
        settled[busy] = small | flat | level | (damping[busy] >= 1e12)
    return BatchFit(at, cost, settled)


def jacobian(residuals: Residuals, at: Floats, scale: Floats, columns: NDArray[np.intp]) -> Floats:
    """Derivatives of the residuals by central differences.

    Parameters
    ----------
    residuals : callable
        As in `fit_batch`.
    at : array (fit, parameter), unit of each parameter
    scale : array (parameter,), unit of each parameter
    columns : int array (column,)
        Parameters by which to take the derivatives.

    Returns
    -------
    array (fit, point, column), unit of 1/parameter
    """
    width = 1e-4 * (scale[columns] + np.abs(at[:, columns]) * 1e-2)
    moves = np.zeros((2, len(columns), *at.shape))
    for place, column in enumerate(columns):
        moves[0, place, :, column], moves[1, place, :, column] = width[:, place], -width[:, place]
    values = residuals((at + moves).reshape(-1, at.shape[1])).reshape(2, len(columns), len(at), -1)
    slope: Floats = (values[0] - values[1]) / (2.0 * width.T[:, :, None])
    return slope.transpose(1, 2, 0)


def covariance(residuals: Residuals, at: Floats, scale: ArrayLike) -> Floats:
    """Linearised covariance at one solution, for residuals of unit variance.

    Directions that the data do not see have infinite variance; they come out as very large numbers, as if seen a
    hundred million times less well than the best: what numerical derivatives distinguish from nothing.

    Parameters
    ----------
    residuals : callable
        As in `fit_batch`.
    at, scale : array (parameter,), unit of each parameter

    Returns
    -------
    array (parameter, parameter), unit of the products
    """
    size = np.asarray(scale, dtype=float)
    slope = jacobian(residuals, at[None], size, np.arange(len(at)))[0] * size
    _, singular, directions = np.linalg.svd(slope, full_matrices=False)
    inverse = 1.0 / np.maximum(singular, 1e-8 * singular.max(initial=1e-300))
    root = directions.T * inverse
    found: Floats = (root @ root.T) * np.outer(size, size)
    return found


def _damped_step(slope: Floats, value: Floats, damping: Floats) -> Floats:
    """Solve (J'J + damping diag(J'J)) step = -J'r for each fit, by QR of J with the damping rows below it."""
    count = slope.shape[-1]
    norms = np.sqrt(np.einsum("fij,fij->fj", slope, slope))
    norms = np.where(norms > 0, norms, 1.0)
    scaled = slope / norms[:, None, :]
    rows = np.sqrt(damping)[:, None, None] * np.eye(count)
    q, r = np.linalg.qr(np.concatenate([scaled, rows], axis=1))
    right = -np.einsum("fij,fi->fj", q[:, : value.shape[1]], value)
    step: Floats = np.linalg.solve(r, right[..., None])[..., 0] / norms
    return step


def _expected_gain(slope: Floats, value: Floats, step: Floats) -> Floats:
    """By how much a step lowers the sum of squares of each fit, were the model linear; not as a difference of sums."""
    change = np.einsum("fij,fj->fi", slope, step)
    gain: Floats = -np.einsum("fi,fi->f", 2.0 * value + change, change)
    return gain
