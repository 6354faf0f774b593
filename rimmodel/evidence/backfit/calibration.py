"""How far a sum of squares may rise within an interval, where a knee was searched for: by simulation, value by value.

For a number that enters smoothly the rise follows chi-squared of one (or F). A knee does not: where it would leave
little trace, and beyond the tested range, chance bends of the noise compete with the true value, and the rise that
chance explains is larger. The distribution of the rise is simulated here with each value taken for true in turn.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats

DRAWS = 1000
"""Simulated data sets; the coverage of a 95 % interval is then known to 0.7 %."""

SEED = 31


def rise_limits(
    residuals: Floats, tangents: Floats, confidence: float, degrees_of_freedom: int | None, wanted: NDArray[np.bool_]
) -> Floats:
    """Rise of the sum of squares that a true value stays below with probability `confidence`.

    Parameters
    ----------
    residuals : array (value, row), -
        Of the best fit with each value held, priors as rows of their own, in units of their noise.
    tangents : array (value, row, column), -
        Directions in which the other unknowns move the rows of each fit; zero columns count for nothing.
    confidence : float, -
    degrees_of_freedom : int or None
        Of the estimate of noise; None when the noise is known.
    wanted : bool array (value,)
        Values whose limit is asked for.

    Returns
    -------
    array (value,), -
        Never below the quantile of chi-squared (or F), and that where no limit is wanted.

    Notes
    -----
    Data are drawn about the fit of one value; with them each value is fitted anew, its other unknowns linearised
    about their fit. The rise is the sum at the true value less the least of all. Inversion of a parametric bootstrap
    test (Davison & Hinkley, Bootstrap Methods and their Application, sec. 5.6; from memory); written out here.

    One column for one number: no search, and the limit is that of chi-squared.

    >>> import numpy as np
    >>> at = np.linspace(-6.0, 6.0, 241)
    >>> limits = rise_limits(at[:, None] * np.ones(4) / 2, np.zeros((241, 4, 1)), 0.95, None, np.abs(at) < 0.01)
    >>> bool(3.84 < limits[120] < 4.3)
    True
    """
    noise = np.random.default_rng(SEED).standard_normal((DRAWS, residuals.shape[1]))
    power = np.einsum("dr,dr->d", noise, noise)
    least_here = np.einsum("vr,vr->v", residuals, residuals).min()
    basis = _orthonormal(tangents)
    limits = np.full(len(residuals), regular_rise(confidence, degrees_of_freedom))
    trues = np.flatnonzero(wanted)
    along = residuals @ noise.T
    at_true, least = _least_sums(residuals, basis, noise, along, trues)
    for place, true in enumerate(trues):
        rise = at_true[place] - least[place]
        if degrees_of_freedom is not None:  # the noise is estimated from the fit itself: so it is in each draw
            rise *= least_here / (power - 2.0 * along[true] + least[place])
        limits[true] = max(limits[true], float(np.quantile(rise, confidence)))
    return limits


def _least_sums(
    residuals: Floats, basis: Floats, noise: Floats, along: Floats, trues: NDArray[np.intp]
) -> tuple[Floats, Floats]:
    """Sum of squares at the true value, and the least of all values, (true, draw), less what all have in common.

    Value by value with all true ones at once: the sums of one value are a product of small matrices.
    """
    at_true, sums = np.empty((2, len(trues), len(noise)))
    least = np.full_like(sums, np.inf)
    for value, directions in enumerate(basis):
        away = residuals[value] - residuals[trues]
        shift = away @ directions
        apart = np.einsum("tr,tr->t", away, away) - np.einsum("tc,tc->t", shift, shift)
        moved = noise @ directions
        constant = 2.0 * along[value] - np.einsum("dc,dc->d", moved, moved)
        np.matmul(-2.0 * shift, moved.T, out=sums)
        sums += constant
        sums += apart[:, None]
        np.minimum(least, sums, out=least)
        here = trues == value
        at_true[here] = sums[here]
    return at_true, least


def _orthonormal(tangents: Floats) -> Floats:
    """Orthonormal columns that span those given, value by value; zero where a column adds nothing."""
    size = np.sqrt(np.einsum("vrc,vrc->vc", tangents, tangents))
    scaled = tangents / np.where(size > 0, size, 1.0)[:, None, :]
    left, singular, _ = np.linalg.svd(scaled, full_matrices=False)
    basis: Floats = left * (singular > 1e-9)[:, None, :]
    return basis


def regular_rise(confidence: float, degrees_of_freedom: int | None) -> float:
    """Rise of the sum of squares within the interval of a number that enters smoothly: chi-squared of one, or F.

    Parameters
    ----------
    confidence : float, -
    degrees_of_freedom : int or None
        Of the estimate of noise; None when the noise is known.

    Returns
    -------
    float, -

    >>> round(regular_rise(0.95, None), 4), round(regular_rise(0.95, 10), 4)
    (3.8415, 4.9646)
    """
    from scipy.special import ndtri, stdtrit

    tail = (1 + confidence) / 2
    quantile = ndtri(tail) if degrees_of_freedom is None else stdtrit(max(degrees_of_freedom, 1), tail)
    return float(quantile**2)
