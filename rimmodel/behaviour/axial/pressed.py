"""Which slices press, for many states at once: one small complementarity problem each, solved exactly."""

from __future__ import annotations

import numpy as np

from rimmodel.arrays import Floats, floats

_ROUND_OFF = 1e-11
_PATIENCE = 3
"""Rounds without fewer wrong slices before only the last of them changes."""


def pressed_slices(compliance: Floats, wanted: Floats) -> tuple[Floats, Floats]:
    """Pressures p >= 0 and clearances ``A p - wanted >= 0`` of which one is zero at every slice.

    Block pivoting: all slices that are wrong change at once while that makes them fewer, else only the last of them,
    which cannot cycle (Murty, Linear Complementarity, ch. 3, from memory). As in
    `rimmodel.behaviour.keys.complementarity`, here for any number of states side by side.

    Parameters
    ----------
    compliance : array (..., n, n), m/Pa
        A, symmetric and positive definite: there is exactly one answer. Broadcasts with the states.
    wanted : array (..., n), m
        Interference left with nothing pressed; a state with NaN stays NaN.

    Returns
    -------
    pressure : array (..., n), Pa
    clearance : array (..., n), m

    Raises
    ------
    ArithmeticError
        The pivoting does not end, as with a compliance that is not positive definite.

    Two slices that do not touch each other, one tight by 1 m and one open by 1 m:

    >>> pressure, clearance = pressed_slices(np.eye(2), np.array([1.0, -1.0]))
    >>> print(pressure, clearance)
    [1. 0.] [0. 1.]
    """
    n = wanted.shape[-1]
    shape = np.broadcast_shapes(compliance.shape[:-1], wanted.shape)
    flat = np.broadcast_to(wanted, shape).reshape(-1, n)
    matrix = np.broadcast_to(compliance, (*shape, n)).reshape(-1, n, n)
    # most states press everywhere or nowhere: these two need no search
    pressure = np.einsum("...ij,...j->...i", np.linalg.inv(compliance), wanted)
    pressure = np.broadcast_to(pressure, shape).reshape(-1, n).copy()
    clearance = np.zeros(flat.shape)
    with np.errstate(invalid="ignore"):
        nowhere, everywhere = (flat <= 0.0).all(axis=-1), (pressure >= 0.0).all(axis=-1)
    pressure[nowhere], clearance[nowhere] = 0.0, -flat[nowhere]
    known = np.isfinite(flat).all(axis=-1)
    pressure[~known] = clearance[~known] = np.nan
    left = np.flatnonzero(known & ~nowhere & ~everywhere)
    seated = flat[left] > 0.0
    fewest, patience = np.full(left.size, n + 1), np.full(left.size, _PATIENCE)
    for _ in range(50 * n + 50):
        if not left.size:
            break
        pushed, open_ = _balance(matrix[left], flat[left], seated)
        far = _ROUND_OFF * np.abs(flat[left]).max(axis=-1, keepdims=True)
        hard = _ROUND_OFF * np.abs(pushed).max(axis=-1, keepdims=True)
        wrong = np.where(seated, pushed < -hard, open_ < -far)
        count = wrong.sum(axis=-1)
        done = count == 0
        pressure[left[done]], clearance[left[done]] = np.maximum(pushed[done], 0.0), np.maximum(open_[done], 0.0)
        patience = np.where(count < fewest, _PATIENCE, patience - 1)
        fewest = np.minimum(fewest, count)
        single = np.zeros_like(wrong)
        single[np.arange(left.size), n - 1 - np.argmax(wrong[:, ::-1], axis=-1)] = True
        seated = (seated ^ np.where((patience > 0)[:, None], wrong, single & wrong))[~done]
        left, fewest, patience = left[~done], fewest[~done], patience[~done]
    if left.size:
        raise ArithmeticError("slices: no set of seated slices was found; is the compliance positive definite?")
    return pressure.reshape(shape), clearance.reshape(shape)


def _balance(
    matrix: Floats, wanted: Floats, seated: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]
) -> tuple[Floats, Floats]:
    """Pressures with exactly these slices seated, right or not, and the clearances that they leave."""
    both = seated[:, :, None] & seated[:, None, :]
    scale = np.abs(matrix).max(axis=(-1, -2))[:, None, None]
    closed = np.where(both, matrix, 0.0) + np.where(seated[:, :, None], 0.0, scale * np.eye(matrix.shape[-1]))
    pushed = np.linalg.solve(closed, np.where(seated, wanted, 0.0)[..., None])[..., 0]
    return floats(pushed), np.where(seated, 0.0, np.einsum("bij,bj->bi", matrix, pushed) - wanted)
