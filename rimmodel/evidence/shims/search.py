"""The search for the most probable shims: least squares with kinks where keys lift off, and so with false minima."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats

_STEPS = 25
_TRUST = (30.0, 10.0, 3.0, 1.0)
_REACH = 8.0
"""Standard deviations by which fresh starts are thrown off."""
_RESTARTS = 5
"""Fresh starts without a better end after which the search is over."""

Whitened = Callable[[Floats], tuple[Floats, Floats]]
"""Misfit of the readings and its sensitivity, in standard deviations, at given key interferences."""


@dataclass(frozen=True)
class Search:
    """Where a search ended, and how.

    Attributes
    ----------
    keys : array (N,), m
        Interferences.
    misfit : array (reading,), -
        Of the readings, in standard deviations.
    tilt : array (reading, N), 1/m
        Sensitivity of the misfit there.
    cost : float, -
    """

    keys: Floats
    misfit: Floats
    tilt: Floats
    cost: float
    settled: bool


def most_probable(whitened: Whitened, sheet: Floats, spread: float) -> list[Search]:
    """Ends of the search, the most probable one first.

    Which keys are seated at a speed depends on what is sought, so there are false minima. The readings are trusted
    by and by, at first as if their noise were 30 times what it is, which smooths the path from the sheet; then the
    search starts again from places around the best place, farthest along what is known least; the same places each
    time.

    Parameters
    ----------
    whitened : callable
        Misfit and its sensitivity, as in `Search`, at given interferences.
    sheet : array (N,), m
        Interferences of the keying sheet.
    spread : float, m
        Their standard deviation.
    """
    keys = sheet
    for wide in _TRUST:
        best = _gauss_newton(whitened, sheet, spread, keys, wide)
        keys = best.keys
    rng, idle, ends = np.random.default_rng(0), 0, [best]
    while idle < _RESTARTS:
        gain, pattern = np.linalg.eigh(best.tilt.T @ best.tilt * spread**2)
        reach = spread * np.minimum(_REACH / np.sqrt(1.0 + gain), 1.0)
        start = best.keys + pattern @ (reach * rng.normal(size=sheet.size))
        for wide in _TRUST[-2:]:
            other = _gauss_newton(whitened, sheet, spread, start, wide)
            start = other.keys
        idle = 0 if other.cost < best.cost - 1.0 else idle + 1
        if all(np.max(np.abs(other.keys - end.keys)) > 0.02 * spread for end in ends) or other.cost < best.cost:
            ends.append(other)
        best = min(ends, key=lambda end: end.cost)
    return sorted(ends, key=lambda end: end.cost)


def covariance_about(ends: list[Search], spread: float) -> Floats:
    """Covariance about the first end, every other one counted by how probable it is.

    Parameters
    ----------
    spread : float, m
        Standard deviation of an interference on the sheet.

    Returns
    -------
    array (N, N), m2
    """
    size = ends[0].keys.size
    weight = np.exp(-0.5 * (np.array([end.cost for end in ends]) - ends[0].cost))
    total = np.zeros((size, size))
    for share, end in zip(weight / weight.sum(), ends, strict=True):
        away = end.keys - ends[0].keys
        total += share * (np.linalg.inv(end.tilt.T @ end.tilt + np.eye(size) / spread**2) + np.outer(away, away))
    return total


def _gauss_newton(whitened: Whitened, sheet: Floats, spread: float, keys: Floats, wide: float) -> Search:
    """Least squares of misfit/wide and of the distance from the sheet, by halved Gauss-Newton steps."""
    misfit, tilt = whitened(keys)

    def cost(rest: Floats, at: Floats) -> float:
        return float(rest @ rest / wide**2 + (at - sheet) @ (at - sheet) / spread**2)

    now = cost(misfit, keys)
    for _ in range(_STEPS):
        pull = tilt.T @ misfit / wide**2 + (keys - sheet) / spread**2
        step = -np.linalg.solve(tilt.T @ tilt / wide**2 + np.eye(keys.size) / spread**2, pull)
        if float(np.max(np.abs(step))) <= 1e-3 * spread:
            return Search(keys, misfit, tilt, now, True)
        for share in 0.5 ** np.arange(7.0):
            new_misfit, new_tilt = whitened(keys + share * step)
            if cost(new_misfit, keys + share * step) < now:
                break
        else:
            # no step helps any more: at a kink, where a key lifts off exactly at a measured speed
            return Search(keys, misfit, tilt, now, bool(np.max(np.abs(step)) <= 0.05 * spread))
        keys, misfit, tilt = keys + share * step, new_misfit, new_tilt
        now = cost(misfit, keys)
    return Search(keys, misfit, tilt, now, False)
