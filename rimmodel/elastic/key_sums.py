"""Sums over all harmonics of what the answer to a high harmonic tends to, A_1/n + ... + A_4/n^4, in closed form."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.elastic.key_pressure import KeyPressure


def limit_at(limit: Floats, n: Floats) -> Floats:
    """A_1/n + A_2/n^2 + A_3/n^3 + A_4/n^4; by definition.

    Parameters
    ----------
    limit : array (4, ...), m/Pa
    n : float or array (...), -

    Returns
    -------
    array (...), m/Pa

    >>> float(limit_at(np.array([1.0, 2.0, 4.0, 8.0]), np.float64(2.0)))
    2.0
    """
    return np.asarray((((limit[3] / n + limit[2]) / n + limit[1]) / n + limit[0]) / n)


def limit_sum(limit: Iterable[Floats], apart: Floats, patch: Floats, pressure: KeyPressure) -> Floats:
    """Sum over n >= 1 of (A_1/n + ... + A_4/n^4) cos(n apart) times the square of the transform of a pressure.

    Under an even pressure the transform is sin(n patch/2)/(n patch/2). Derived here.

    Parameters
    ----------
    limit : array (4, ...), m/Pa
        A_1 to A_4.
    apart, patch : array (...), rad
        Angle from key to key, and that which a key takes.

    Returns
    -------
    array (...), m/Pa

    >>> from rimmodel.elastic.key_pressure import EVEN
    >>> n = np.arange(1.0, 200_000.0)
    >>> by_force = np.sum(np.cos(0.5 * n) / n * np.sinc(n * 0.1 / np.pi) ** 2)
    >>> found = limit_sum(np.array([1.0, 0.0, 0.0, 0.0]), np.float64(0.5), np.float64(0.2), EVEN)
    >>> bool(abs(found - by_force) < 1e-9)
    True
    """
    steps = pressure.steps / patch[..., None]
    products = _sine_products(limit, apart, patch[..., None] * pressure.edges[1:])
    return np.asarray((steps[..., None, :] @ products @ steps[..., :, None])[..., 0, 0])


def limit_panels(limit: Iterable[Floats], patch: Floats, edges: Floats) -> Floats:
    """Sum over n >= 1 of (A_1/n + ... + A_4/n^4) times the transforms of two pairs of panels. Derived here.

    Parameters
    ----------
    limit : array (4, ...), m/Pa
        A_1 to A_4.
    patch : array (...), rad
    edges : array (K + 1,), -
        Of panels, as in `KeyPressure`.

    Returns
    -------
    array (..., K, K), m/Pa

    >>> whole = limit_panels(np.array([1.0, 0.0, 0.0, 0.0]), np.float64(0.2), np.array([0.0, 0.5]))
    >>> n = np.arange(1.0, 200_000.0)
    >>> bool(abs(whole[0, 0] - np.sum(np.sinc(n * 0.1 / np.pi) ** 2 / n)) < 1e-9)
    True
    """
    place = np.asarray(patch)[..., None] * edges
    products = _sine_products(limit, np.zeros(()), place[..., 1:])
    grown = np.zeros((*products.shape[:-2], edges.size, edges.size))
    grown[..., 1:, 1:] = products
    width = np.diff(place)
    return np.asarray(np.diff(np.diff(grown, axis=-1), axis=-2) / (width[..., :, None] * width[..., None, :]))


def block_panels(edges: Floats) -> Floats:
    """Return the yield of pairs of panels on the end of a block as wide as the key, beyond that of an even pressure.

    Per SMEARED pressure on N keys of a bore of radius a, in ``4a/(N E)``, E the modulus of the block drawn over all of
    the length. Its flanks stay straight, so that ``p cos(2 pi m x/w)`` moves its end by ``p w/(pi m E)`` as it moves a
    half plane. Derived here: the mean of pressure times yield is the sum over m of T_m^2/m, that of keys which touch.

    Parameters
    ----------
    edges : array (K + 1,), -
        Of the panels, as in `KeyPressure`.

    Returns
    -------
    array (K, K), -
        Symmetric.

    >>> bool(abs(block_panels(np.array([0.0, 0.5]))[0, 0]) < 1e-15)     # an even pressure makes no waves
    True
    """
    return limit_panels(np.array([1.0, 0.0, 0.0, 0.0]), np.asarray(2.0 * np.pi), edges)


def _sine_products(limit: Iterable[Floats], apart: Floats, place: Floats) -> Floats:
    """Sum over n >= 1 of (A_1/n^3 + ... + A_4/n^6) cos(n apart) sin(n x) sin(n y) for all pairs of places; (..., K, K).

    The three factors are a quarter of four cosines.
    """
    x, y, middle = place[..., :, None], place[..., None, :], np.asarray(apart)[..., None, None]
    angles = np.stack(np.broadcast_arrays(middle + x - y, middle - x + y, middle + x + y, middle - x - y))
    total = np.zeros(())
    for A, sums in zip(limit, _cosine_sums(angles), strict=True):
        total = total + 0.25 * np.asarray(A)[..., None, None] * (sums[0] + sums[1] - sums[2] - sums[3])
    return total


def _cosine_sums(angle: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Sum over n >= 1 of (cos(n x) - 1)/n^k for k = 3, 4, 5, 6.

    Even k: Bernoulli polynomials (Abramowitz & Stegun 27.8, from memory). Odd k: -log(2 sin(x/2)) integrated
    twice and four times, its regular part as the series sum_j zeta(2j)/j (x/2pi)^2j, which at pi falls as 4^-j.
    """
    x = np.mod(angle, 2.0 * np.pi)
    x = np.minimum(x, 2.0 * np.pi - x)
    square, log = x**2, np.log(np.where(x > 0.0, x, 1.0))
    ratio = square / (2.0 * np.pi) ** 2
    third, fifth = np.zeros_like(x), np.zeros_like(x)
    for j in range(24, 0, -1):
        factor = _zeta(2 * j) / (j * (2 * j + 1) * (2 * j + 2))
        third = (third + factor) * ratio
        fifth = (fifth + factor / ((2 * j + 3) * (2 * j + 4))) * ratio
    pi = np.pi
    return (
        square * (0.5 * log - 0.75 - third),
        square * (-(pi**2) / 12.0 + x * (pi / 12.0 - x / 48.0)),
        square * (-0.5 * _zeta(3) + square * (25.0 / 288.0 - log / 24.0 + fifth)),
        square * (-(pi**4) / 180.0 + square * (pi**2 / 144.0 + x * (-pi / 240.0 + x / 1440.0))),
    )


@cache
def _zeta(order: int) -> float:
    """Riemann's zeta; scipy.special is loaded on the first call, not on import."""
    from scipy.special import zeta

    return float(zeta(order))
