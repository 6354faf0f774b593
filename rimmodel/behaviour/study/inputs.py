"""What varies in a study, and the step from points of the unit cube to values."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats, floats
from rimmodel.rotor.tolerance import Correlation, correlation_matrix

Table = Mapping[str, Floats]
"""Samples by the name of the quantity, arrays (sample,) in SI."""

Model = Callable[[Table], Mapping[str, Floats]]
"""Outputs by name for a table of inputs: a function of arrays. To work in other processes it must be picklable."""


class Marginal(Protocol):
    """The distribution of one input; `Tolerance` is one."""

    @property
    def name(self) -> str: ...  # noqa: D102
    @property
    def centre(self) -> float: ...  # noqa: D102
    @property
    def standard_uncertainty(self) -> float: ...  # noqa: D102
    def quantile(self, probability: Floats) -> Floats: ...  # noqa: D102


@dataclass(frozen=True)
class Inputs:
    """Distributions of the inputs, their correlations, and a table whose rows are drawn whole.

    Attributes
    ----------
    drawn : dict of array (row,), SI
        Such a table of samples by name: a posterior, or any measured set. It takes one dimension of the unit cube, so
        what is correlated in its rows stays correlated.
    """

    marginals: tuple[Marginal, ...] = ()
    correlations: tuple[Correlation, ...] = ()
    drawn: dict[str, Floats] = field(default_factory=dict)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of all inputs: those with a distribution, then those of the table."""
        return (*(row.name for row in self.marginals), *self.drawn)

    @property
    def dimensions(self) -> int:
        """Coordinates that one sample takes."""
        return len(self.marginals) + bool(self.drawn)

    @property
    def rows(self) -> int:
        """Rows of the drawn table."""
        return len(next(iter(self.drawn.values()))) if self.drawn else 0

    def values(self, cube: Floats) -> dict[str, Floats]:
        """Values (sample,), SI, by name for points (dimension, sample) of the unit cube."""
        uniform = self._correlated(cube)
        table = {row.name: row.quantile(u) for row, u in zip(self.marginals, uniform, strict=False)}
        if self.drawn:
            row = np.minimum((cube[-1] * self.rows).astype(np.int64), self.rows - 1)
            table |= {name: column[row] for name, column in self.drawn.items()}
        return table

    def _correlated(self, cube: Floats) -> Floats:
        """Uniform coordinates of the marginals with the correlations in: those of a Gaussian copula."""
        if not self.correlations:
            return cube
        from scipy.special import ndtr, ndtri

        names = tuple(row.name for row in self.marginals)
        tied = sorted({names.index(name) for pair in self.correlations for name in pair.between})
        matrix = correlation_matrix(names, self.correlations)[np.ix_(tied, tied)]
        uniform = cube.copy()
        scores = ndtri(cube[tied])
        factor = np.linalg.cholesky(matrix)
        # summed by hand: a matrix product may add in another order on another machine
        uniform[tied] = [ndtr(sum(factor[i, j] * scores[j] for j in range(i + 1))) for i in range(len(tied))]
        return uniform

    def central(self) -> dict[str, float]:
        """The stated value of each input, SI; of a drawn table the means."""
        table = {row.name: row.centre for row in self.marginals}
        return table | {name: float(np.mean(column)) for name, column in self.drawn.items()}

    def covariance(self) -> Floats:
        """Covariance (input, input) in the order of `names`, each in the unit of the two inputs."""
        spread = np.array([row.standard_uncertainty for row in self.marginals])
        known = len(spread)
        whole = np.zeros((len(self.names), len(self.names)))
        names = tuple(row.name for row in self.marginals)
        whole[:known, :known] = correlation_matrix(names, self.correlations) * np.outer(spread, spread)
        if self.drawn:
            whole[known:, known:] = np.cov(np.array(list(self.drawn.values())), bias=True)
        return whole

    def groups(self) -> dict[str, tuple[int, ...]]:
        """Coordinates of the unit cube in independent groups: correlated inputs, the keys, and a table act as one."""
        names = [row.name for row in self.marginals]
        group = {name: {place} for place, name in enumerate(names)}
        keyed = [(name, other) for name in names for other in names if _stem(name) == _stem(other)]
        for one, other in [*keyed, *(pair.between for pair in self.correlations)]:
            joined = group[one] | group[other]
            for place in joined:
                group[names[place]] = joined
        found: dict[str, tuple[int, ...]] = {}
        for name in names:
            members = tuple(sorted(group[name]))
            found[" + ".join(dict.fromkeys(_stem(names[place]) for place in members))] = members
        if self.drawn:
            found[" + ".join(self.drawn)] = (len(names),)
        return found


def with_table(inputs: Inputs, table: Mapping[str, ArrayLike]) -> Inputs:
    """The same inputs with a table of samples in the place of the distributions of its quantities.

    Parameters
    ----------
    table : mapping of str to array (n,), SI

    Raises
    ------
    ValueError
        Columns not of one length, not finite, or correlated with what stays outside.

    >>> with_table(Inputs(), {"fit.interference": [1.9e-3, 2.0e-3]}).rows
    2
    """
    columns = {name: floats(column) for name, column in table.items()}
    sizes = {column.shape for column in columns.values()}
    if len(sizes) != 1 or len(next(iter(sizes))) != 1 or next(iter(sizes)) == (0,):
        raise ValueError(f"table of samples has columns of shape {sorted(sizes)}; they must be of one length")
    for name, column in columns.items():
        if not np.isfinite(column).all():
            raise ValueError(f"table of samples: {name} has values that are not finite")
    for pair in inputs.correlations:
        if len(set(pair.between) & columns.keys()) == 1:
            raise ValueError(
                f"{pair.between[0]} and {pair.between[1]} are correlated; the table of samples must hold both or none"
            )
    kept = tuple(row for row in inputs.marginals if _stem(row.name) not in columns)
    tied = tuple(pair for pair in inputs.correlations if not set(pair.between) & columns.keys())
    return Inputs(kept, tied, columns)


def _stem(name: str) -> str:
    """The key of a name such as ``fit.key_interference[3]``."""
    return name.partition("[")[0]
