"""Split a table of two crossed factors into mean, row part, column part and rest, with cells that may be missing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rimmodel.arrays import Floats

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


@dataclass(frozen=True)
class TwoWay:
    """table = mean + row[i] + column[j] + residual[i, j]; parts sum to zero; nan where nothing was known.

    Attributes
    ----------
    mean : float, unit of table
    row : array (rows,), unit of table
    column : array (columns,), unit of table
    residual : array (rows, columns), unit of table
    """

    mean: float
    row: Floats
    column: Floats
    residual: Floats

    @property
    def spread(self) -> float:
        """Standard deviation of the residual, in its unit, with its degrees of freedom; nan when none is left."""
        known = np.isfinite(self.residual)
        rows, columns = int(known.any(axis=1).sum()), int(known.any(axis=0).sum())
        freedom = int(known.sum()) - rows - columns + 1
        return float(np.sqrt(np.nansum(self.residual**2) / freedom)) if freedom > 0 else float("nan")


def two_way(table: ArrayLike) -> TwoWay:
    """Fit the additive model by least squares.

    Parameters
    ----------
    table : array (rows, columns), unit of table
        NaN for a missing cell.

    Returns
    -------
    TwoWay
        With no cell missing these are the plain means of rows and columns. With missing cells a row that lacks
        its largest column is not pulled down by it. Assumes that the missing cells follow the same sums, and that rows
        and columns are connected (every row shares a column with another).

    The normal equations are solved after the rows are eliminated; of all solutions that of least norm is taken,
    whose column parts sum to zero (textbook additive two-way layout without interaction).

    >>> parts = two_way([[1.0, 2.0, 3.0], [11.0, 12.0, np.nan]])
    >>> parts.row.round(9), parts.column.round(9), round(parts.mean, 9)
    (array([-5.,  5.]), array([-1.,  0.,  1.]), 7.0)

    """
    values = np.asarray(table, dtype=float)
    known = np.isfinite(values)
    rows, columns = known.any(axis=1), known.any(axis=0)
    row, column = np.full(rows.size, np.nan), np.full(columns.size, np.nan)
    if not columns.any():
        return TwoWay(float("nan"), row, column, np.full(values.shape, np.nan))
    filled = np.where(known, values, 0.0)[np.ix_(rows, columns)]
    weight = known[np.ix_(rows, columns)].astype(float)
    count = weight.sum(axis=1)
    matrix = np.diag(weight.sum(axis=0)) - (weight / count[:, None]).T @ weight
    right = (filled - weight * (filled.sum(axis=1) / count)[:, None]).sum(axis=0)
    part = np.linalg.lstsq(matrix, right, rcond=1e-9)[0]
    level = (filled - weight * part).sum(axis=1) / count
    mean = float(level.mean())
    row[rows], column[columns] = level - mean, part
    return TwoWay(mean, row, column, values - mean - row[:, None] - column[None, :])
