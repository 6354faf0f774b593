"""What a ring does at its two edges, as influence coefficients that broadcast: displacement and hoop stress."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats, floats
from rimmodel.elastic.ring import Ring, _difference, _log_ratio


@dataclass(frozen=True)
class EdgeLoads:
    """One response of a ring, in its own unit, per unit of each load; fields broadcast.

    Attributes
    ----------
    pressure, traction : array, unit of response per Pa
        Bore pressure and outside traction, + pushes or pulls outward.
    speed_squared : array, unit of response per rad2/s2
    """

    pressure: Floats
    traction: Floats
    speed_squared: Floats

    def total(self, pressure: ArrayLike, traction: ArrayLike, speed_squared: ArrayLike) -> Floats:
        """The response under all three loads together.

        Parameters
        ----------
        pressure, traction : float or array, Pa
        speed_squared : float or array, rad2/s2

        Returns
        -------
        array, unit of response
        """
        p, q, x = (floats(load) for load in (pressure, traction, speed_squared))
        response: Floats = self.pressure * p + self.traction * q + self.speed_squared * x
        return response


@dataclass(frozen=True)
class RingEdges:
    """Influence coefficients at the edges: displacement in m and hoop stress in Pa per unit load."""

    bore_displacement: EdgeLoads
    outer_displacement: EdgeLoads
    bore_hoop_stress: EdgeLoads
    outer_hoop_stress: EdgeLoads


def ring_edges(ring: Ring) -> RingEdges:
    """Everything that a ring does at its two edges, as coefficients that broadcast with the fields of the ring.

    The same field as `Ring.state`, evaluated at the edges in closed form: a study of a million rims needs one
    call. For a solid disc only the outer coefficients have a meaning; the bore ones are zero.

    Returns
    -------
    RingEdges
        Per bore pressure (1/Pa), per outside traction (1/Pa) and per speed squared (s2/rad2).

    Lame's ring of b/a = 2 has a bore hoop stress of (b^2 + a^2)/(b^2 - a^2) = 5/3 per pressure:

    >>> print(f"{ring_edges(Ring(1.0, 2.0, 206e9, 0.3, 7850.0)).bore_hoop_stress.pressure:.4f}")
    1.6667
    """
    a, b = floats(ring.inner_radius), floats(ring.outer_radius)
    nu, m = floats(ring.poisson_ratio), floats(ring.hoop_stiffness_factor)
    k, t, log_t = np.sqrt(m), a / b, _log_ratio(a, b)
    hollow = t > 0
    some_solid = not hollow.all()

    def of_bore(value: Floats, of_solid: float) -> Floats:
        return np.where(hollow, value, of_solid) if some_solid else value

    rise = np.exp(of_bore(k * log_t, -np.inf))  # t^k
    full = -np.expm1(of_bore(2 * k * log_t, -np.inf))  # 1 - t^(2k)
    lame = k * (2 - full) / full
    spin = floats(ring.density) * b * b
    shape = (3 + nu * m) / (k + 3)
    relief = shape * of_bore(_difference(t, log_t, k, 3), 0.0)
    pull = 2 * k * rise / full
    bore_power = of_bore(rise / of_bore(t, 1.0), 0.0)  # t^(k-1)
    bore_hoop = EdgeLoads(lame, pull / of_bore(t, np.inf), spin * (relief * (3 + lame) - shape * bore_power + t * t))
    outer_hoop = EdgeLoads(pull * t, lame, spin * (1 - shape + relief * pull * t))
    to_bore = a / (floats(ring.young_modulus) * m)
    to_outer = b / (floats(ring.young_modulus) * m)
    return RingEdges(
        EdgeLoads(to_bore * (lame + nu * m), to_bore * bore_hoop.traction, to_bore * bore_hoop.speed_squared),
        EdgeLoads(to_outer * outer_hoop.pressure, to_outer * (lame - nu * m), to_outer * outer_hoop.speed_squared),
        bore_hoop,
        outer_hoop,
    )
