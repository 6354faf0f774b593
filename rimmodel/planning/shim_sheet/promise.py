"""What a set of shims can be promised to reach: errors of reading, of pieces and of the machine, drawn together.

How the errors of neighbouring keys or of pieces from one sheet go together is not known, and a smooth error bends the
rim far more than one that changes from key to key. So readings are drawn independent, alike between neighbours, and
wrong by one oval, pieces independent and alike, and the worst of the six is what is promised.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats, Mask, Places, floats

Pressing = Callable[[float], tuple[Floats, Floats]]
"""From speed squared to influence (N, N) N/m and rest (N,) N of the key forces."""

CONFIDENCE = 0.95
DRAWS = 4000
"""Of each of the six kinds of errors."""
READ = ("independent", "neighbours", "oval")
"""How errors of readings go together."""
SEED = 18
_GRID = 41


@dataclass(frozen=True)
class ShimErrors:
    """Standard uncertainties of what a shim sheet rests on.

    Attributes
    ----------
    level : float, m
        Common to the readings of all keys.
    reading, piece : float, m
        Of one key, of one piece.
    correlation : float, -
        Of the readings of neighbouring keys, where they are alike.
    relative : dict of str to float, -
        Of the speed of the first lift-off in each condition, relative, from what else is not known of the machine.
    covariance : array (N, N) or None, m2
        Of the readings, where it is known: then in place of `reading` and `correlation`.
    """

    level: float
    reading: float
    piece: float
    correlation: float
    relative: Mapping[str, float]
    covariance: Floats | None = None

    def of_reading(self, keys: int, kind: str) -> Floats:
        """Covariance (N, N) of the readings, m2, without the level.

        Parameters
        ----------
        kind : str
            As in `READ`.
        """
        if self.covariance is not None:
            return self.covariance
        number = np.arange(keys)
        apart = np.abs(number[:, None] - number)
        if kind == "oval":
            return floats(self.reading**2 * np.cos(4.0 * np.pi * apart / keys))
        strength = self.correlation if kind == "neighbours" else 0.0
        return floats(self.reading**2 * strength ** np.minimum(apart, keys - apart))


@dataclass(frozen=True)
class Promise:
    """What holds together with a confidence.

    Attributes
    ----------
    confidence : float, -
        That all of it holds.
    deviation : float, m
        At most, of the outside at any pole from the mean circle about the axis, at standstill.
    first_lift_off : dict of str to float, rad/s
        At least, by condition; NaN where nothing can be promised.
    """

    confidence: float
    deviation: float
    first_lift_off: dict[str, float]


def drawn_errors(errors: ShimErrors, pieces: Places, out: Mask) -> list[Floats]:
    """Errors (n, N) of the interferences after shimming, m: one table for each kind of errors.

    Parameters
    ----------
    pieces : int array (N, T)
        New pieces of each thickness behind each key.
    out : bool array (N,)
        Where a present pack of known thickness is taken out.

    Returns
    -------
    list of array (n, N), m
    """
    rng = np.random.Generator(np.random.Philox(key=SEED))
    keys, kinds = pieces.shape
    tables = []
    for kind in READ:
        square, axes = np.linalg.eigh(errors.of_reading(keys, kind))
        root = axes * np.sqrt(np.maximum(square, 0.0))
        for one_sheet in (False, True):
            total = rng.standard_normal((DRAWS, keys)) @ root.T + errors.level * rng.standard_normal((DRAWS, 1))
            old = rng.standard_normal((DRAWS, keys)) * np.sqrt(out)
            own = (
                rng.standard_normal((DRAWS, kinds)) @ pieces.T
                if one_sheet
                else rng.standard_normal((DRAWS, keys)) * np.sqrt(pieces.sum(axis=1))
            )
            tables.append(floats(total + errors.piece * (old + own)))
    return tables


def promised(
    keys: Floats,
    outline: tuple[Floats, Floats],
    pressings: Mapping[str, Pressing],
    highest: Mapping[str, float],
    errors: ShimErrors,
    tables: list[Floats],
    confidence: float,
) -> Promise:
    """Limits that deviation and first lift-offs keep together, the mean interference beside them.

    The confidence is shared among the statements (Bonferroni), so that all hold at once.

    Parameters
    ----------
    keys : array (N,), m
        Interferences after shimming.
    outline : array (P, N), - and array (P,), m
        Influence on the deviation of the outside at the poles, and what is there without.
    pressings : dict of str to callable
        By condition.
    highest : dict of str to float, rad2/s2
        Speed squared up to which a lift-off is looked for.
    tables : list of array (n, N), m
        As `drawn_errors` makes them.
    confidence : float, -
    """
    matrix, rest = outline
    share = (1.0 - confidence) / (2 + len(pressings))
    deviations = [np.abs((keys + table) @ matrix.T + rest).max(axis=1) for table in tables]
    deviation = max(float(np.quantile(row, 1.0 - share, method="higher")) for row in deviations)
    speeds = {}
    factors = np.random.Generator(np.random.Philox(key=SEED + 1)).standard_normal(DRAWS)
    for name, pressing in pressings.items():
        spread = errors.relative[name]
        if not np.isfinite(spread):
            speeds[name] = float("nan")
            continue
        rows = [
            np.sqrt(first_lift_offs(keys + table, pressing, highest[name])) * np.maximum(1.0 + spread * factors, 0.0)
            for table in tables
        ]
        speeds[name] = min(float(np.quantile(row, share, method="lower")) for row in rows)
    return Promise(confidence, deviation, speeds)


def first_lift_offs(keys: Floats, pressing: Pressing, highest: float) -> Floats:
    """Speed squared at which the first key of each set comes loose, `highest` where none does.

    Forces are taken as straight between 41 speeds squared: they bend by spin in the modes of the rim alone.

    Parameters
    ----------
    keys : array (n, N), m
    highest : float, rad2/s2

    Returns
    -------
    array (n,), rad2/s2
    """
    grid = np.linspace(0.0, highest, _GRID)
    out = np.full(len(keys), highest)
    open_, before = np.ones(len(keys), dtype=bool), None
    for step, x in enumerate(grid):
        influence, rest = pressing(float(x))
        force = keys @ influence.T + rest
        loose = open_ & (force.min(axis=1) <= 0.0)
        if loose.any():
            if before is None:
                out[loose] = 0.0
            else:
                start, end = before[loose], force[loose]
                with np.errstate(divide="ignore", invalid="ignore"):
                    part = np.where(end <= 0.0, start / (start - end), 1.0).min(axis=1)
                out[loose] = grid[step - 1] + part * (x - grid[step - 1])
            open_ &= ~loose
        before = force
        if not open_.any():
            break
    return out
