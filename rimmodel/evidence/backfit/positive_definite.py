"""Inverses and determinants of very many small positive definite matrices at once.

A library call for each of a hundred thousand matrices of three rows spends nearly all of its time on calling. Here each
entry of the factors is one array operation over all matrices.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from rimmodel.arrays import Floats


def inverse_and_size(matrix: Floats) -> tuple[Floats, Floats]:
    """Return inverses (..., n, n) of positive definite matrices and half the logarithm of each determinant.

    By Cholesky factors. A matrix that rounding has left without a positive pivot is inverted by elimination instead.

    Parameters
    ----------
    matrix : array (..., n, n), -
        Symmetric; the lower triangle counts.

    Returns
    -------
    inverse : array (..., n, n), -
    size : array (...,), -

    >>> inverse, size = inverse_and_size(np.array([[4.0, 2.0], [2.0, 2.0]]))
    >>> inverse.tolist(), round(float(np.exp(2.0 * size)), 12)
    ([[0.5, -0.5], [-0.5, 1.0]], 4.0)
    """
    rows = range(matrix.shape[-1])
    lower: dict[tuple[int, int], Floats] = {}
    back: dict[tuple[int, int], Floats] = {}  # of the inverse of the lower factor
    size = np.zeros(matrix.shape[:-2])
    with np.errstate(invalid="ignore", divide="ignore"):
        for column in rows:
            pivot = np.sqrt(matrix[..., column, column] - _sum(lower[column, k] ** 2 for k in range(column)))
            back[column, column] = 1.0 / pivot
            size = size + np.log(pivot)
            for row in range(column + 1, len(rows)):
                crossed = _sum(lower[row, k] * lower[column, k] for k in range(column))
                lower[row, column] = (matrix[..., row, column] - crossed) / pivot
        for column in rows:
            for row in range(column + 1, len(rows)):
                known = _sum(lower[row, k] * back[k, column] for k in range(column, row))
                back[row, column] = -known * back[row, row]
    inverse = np.empty(matrix.shape)
    for row in rows:
        for column in range(row + 1):
            entry = _sum(back[k, row] * back[k, column] for k in range(row, len(rows)))
            inverse[..., row, column] = inverse[..., column, row] = entry
    lost = ~np.isfinite(size)
    if lost.any():
        inverse[lost], size[lost] = np.linalg.inv(matrix[lost]), 0.5 * np.linalg.slogdet(matrix[lost])[1]
    return inverse, size


def _sum(terms: Iterable[Floats]) -> Floats:
    return sum(terms, start=np.zeros(()))
