"""Temperatures of a network against time, exact while its conductances and sources stay.

``C dT/dt = -K T + f`` with C diagonal and K symmetric. With ``A = C^-1/2 K C^-1/2 = V diag(rate) V^T`` every mode
answers by itself, ``q = q_0 e^(-rate t) + g t phi_1(rate t)``, ``phi_1(x) = (1 - e^-x)/x``, through rate zero, the mean
of a body without exchange. The integral of the temperatures over time is as exact, with
``phi_2(x) = (x - 1 + e^-x)/x^2``; it gives the heat that every exchange has carried, and closes the balance of heat.

Source: expansion by modes, Carslaw & Jaeger, Conduction of Heat in Solids (2nd ed.), ch. 3; phi functions as in
exponential integrators, Hochbruck & Ostermann, Acta Numerica 19 (2010) (both from memory). Derived here for networks.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats, floats, require

_SERIES_BELOW = 1e-3
"""Where the two functions are summed as series: five terms leave 1e-18 there."""


@dataclass(frozen=True)
class HeatModes:
    """A network by its modes.

    Attributes
    ----------
    rate : array (..., mode), 1/s
        How fast each mode dies away, zero or above, slowest first.
    shape : array (..., node, mode), -
        Orthonormal after scaling by the root of the heat capacity.
    root_capacity : array (node,), SI
        Root of the heat capacity of each node, in J/K.
    """

    rate: Floats
    shape: Floats
    root_capacity: Floats

    def after(self, start: ArrayLike, source: ArrayLike, time: ArrayLike, readings: ArrayLike | None = None) -> Floats:
        """Temperatures at times after the start, or sums of them; exact.

        Parameters
        ----------
        start : array (..., node), K
        source : array (..., node), W
            Heat put into each node, with that of the air: conductance to the air times its temperature.
        time : array (time,), s
            Zero or above.
        readings : array (reading, node), -, optional
            Weights of sums, such as means: these are returned in place of all temperatures.

        Returns
        -------
        array (..., time, node or reading), K
        """
        return self._back(*self._modal(start, source), floats(time), readings, integral=False)

    def integral(self, start: ArrayLike, source: ArrayLike, time: ArrayLike) -> Floats:
        """Integral of the temperatures from the start to times after it; exact. Arguments as in `after`.

        Returns
        -------
        array (..., time, node), SI
            In K s.
        """
        return self._back(*self._modal(start, source), floats(time), None, integral=True)

    def for_each(self) -> HeatModes:
        """The same modes with one more axis before the last, so that each network answers to several starts."""
        return HeatModes(self.rate[..., np.newaxis, :], self.shape[..., np.newaxis, :, :], self.root_capacity)

    def _modal(self, start: ArrayLike, source: ArrayLike) -> tuple[Floats, Floats]:
        begun = np.einsum("...nm,...n->...m", self.shape, floats(start) * self.root_capacity)
        driven = np.einsum("...nm,...n->...m", self.shape, floats(source) / self.root_capacity)
        return floats(begun), floats(driven)

    def _back(
        self, begun: Floats, driven: Floats, time: Floats, readings: ArrayLike | None, *, integral: bool
    ) -> Floats:
        require(time >= 0, "time", time, "s", "zero or above")
        t = np.atleast_1d(time)[:, np.newaxis]
        x = self.rate[..., np.newaxis, :] * t
        lost = np.expm1(-x)
        first = _phi_1(x, lost)
        if integral:
            modal = begun[..., np.newaxis, :] * t * first + driven[..., np.newaxis, :] * t**2 * _phi_2(x, lost)
        else:
            modal = begun[..., np.newaxis, :] * (1.0 + lost) + driven[..., np.newaxis, :] * t * first
        shown: Floats = self.shape / self.root_capacity[:, np.newaxis]
        if readings is not None:
            shown = floats(floats(readings) @ shown)
        return floats(modal @ np.swapaxes(shown, -1, -2))


def heat_modes(capacity: ArrayLike, conductance: ArrayLike) -> HeatModes:
    """Modes of a network, from one symmetric eigenvalue problem.

    Parameters
    ----------
    capacity : array (node,), SI
        Heat capacity of each node in J/K, above zero.
    conductance : array (..., node, node), W/K
        Symmetric: conduction between the nodes, with the conductance to the air on the diagonal.

    Returns
    -------
    HeatModes

    Raises
    ------
    ValueError
        A heat capacity that is not above zero.

    A body of 1000 J/K that loses 2 W/K falls by a factor e in 500 s:

    >>> modes = heat_modes([1000.0], [[2.0]])
    >>> print(f"{modes.after([50.0], [0.0], [500.0])[0, 0] * np.e:.9f}")
    50.000000000
    """
    stored = floats(capacity)
    require(stored > 0, "capacity", stored, "J/K", "above zero")
    root = np.sqrt(stored)
    rate, shape = np.linalg.eigh(floats(conductance) / (root[:, np.newaxis] * root))
    return HeatModes(floats(np.maximum(rate, 0.0)), floats(shape), root)  # rounding alone makes a rate negative


def steady(conductance: ArrayLike, source: ArrayLike) -> Floats:
    """Temperatures in which a network comes to rest: ``K T = f``, by definition.

    Parameters
    ----------
    conductance : array (..., node, node), W/K
    source : array (..., node), W

    Returns
    -------
    array (..., node), K

    10 W through 2 W/K:

    >>> steady([[2.0]], [10.0]).tolist()
    [5.0]
    """
    return floats(np.linalg.solve(floats(conductance), floats(source)[..., np.newaxis])[..., 0])


def _phi_1(x: Floats, lost: Floats) -> Floats:
    """(1 - e^-x)/x, from x and e^-x - 1."""
    small = x < _SERIES_BELOW
    with np.errstate(divide="ignore", invalid="ignore"):
        found = -lost / x
    near = x[small]
    found[small] = 1 - near / 2 * (1 - near / 3 * (1 - near / 4))
    return floats(found)


def _phi_2(x: Floats, lost: Floats) -> Floats:
    """(x - 1 + e^-x)/x^2, from x and e^-x - 1."""
    small = x < 1e-2  # the difference loses digits sooner: six terms to 1e-16
    with np.errstate(divide="ignore", invalid="ignore"):
        found = (x + lost) / (x * x)
    near = x[small]
    found[small] = (1 - near / 3 * (1 - near / 4 * (1 - near / 5 * (1 - near / 6 * (1 - near / 7))))) / 2
    return floats(found)
