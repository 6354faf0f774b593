"""Rings of rimmodel.elastic shrunk over each other, by matching their displacements at every interface."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rimmodel.elastic import Ring, RingState, ring_edges

Floats = NDArray[np.float64]


def interface_pressures(
    rings: Ring,
    interference: ArrayLike = 0.0,
    speed: float = 0.0,
    inner_pressure: float = 0.0,
    outer_traction: float = 0.0,
    temperature: ArrayLike | tuple[ArrayLike, ArrayLike] = 0.0,
) -> Floats:
    """Pressure on every face of a stack of rings, bore first.

    Parameters
    ----------
    rings : Ring
        Fields of shape (n,), from the inside out: the outside of one is the bore of the next.
    interference : float or array (n - 1,), m
        Radial, by which each ring is too large for the next.
    speed, inner_pressure, outer_traction : float
        rad/s, Pa, Pa; on the whole stack.
    temperature : float, array (n,), or a pair of them, K
        As in `Ring.state`, for each ring.

    Returns
    -------
    array (n + 1,), Pa
        Positive where two faces press on each other.

    """
    count, edges = np.size(rings.inner_radius), ring_edges(rings)
    outside, bore = edges.outer_displacement, edges.bore_displacement
    free_outside = rings.radial_displacement(rings.outer_radius, temperature=temperature)
    free_bore = rings.radial_displacement(rings.inner_radius, temperature=temperature)
    free_outside, free_bore = free_outside + outside.speed_squared * speed**2, free_bore + bore.speed_squared * speed**2
    # u(bore of the next ring) - u(outside of this one) = interference, for the pressures between them
    here, after = np.arange(count - 1), np.arange(1, count)
    matrix = np.zeros((count - 1, count + 1))
    matrix[here, here] = -outside.pressure[:-1]
    matrix[here, after] = bore.pressure[1:] + outside.traction[:-1]
    matrix[here, after + 1] = -bore.traction[1:]
    known = np.asarray(interference) - (free_bore[1:] - free_outside[:-1])
    known = known - matrix[:, 0] * inner_pressure + matrix[:, -1] * outer_traction
    between = np.linalg.solve(matrix[:, 1:-1], known)
    return np.concatenate([[inner_pressure], between, [-outer_traction]])


def states(
    rings: Ring,
    radius: ArrayLike,
    pressures: Floats,
    speed: float = 0.0,
    temperature: ArrayLike | tuple[ArrayLike, ArrayLike] = 0.0,
) -> RingState:
    """State of each ring of a stack at one radius of its own, shape (n,), under the pressures on its faces (Pa)."""
    return rings.state(radius, speed, pressures[:-1], -pressures[1:], temperature)
