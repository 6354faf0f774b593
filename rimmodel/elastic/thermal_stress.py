"""Stress and growth of a ring by any temperature along its depth, as a matrix on the temperatures at several radii.

The temperature is the broken line through the nodes. Displacement by polynomials of high degree on the elements
between them, polar orthotropic in plane stress, free at both edges. Source: virtual work, as in
`rimmodel.elastic.radial_elements`; for even stiffness Timoshenko & Goodier, Theory of Elasticity (3rd ed.), Art. 151.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats, floats, require
from rimmodel.elastic.radial_elements import polynomials, solve
from rimmodel.elastic.ring import Ring

_DEGREE = 8
"""On elements of a ratio of radii up to 1.3 it meets the free solutions r^k and r^-k to 1e-10."""
_RATIO = 1.3


@dataclass(frozen=True)
class ThermalStress:
    """What the temperatures at the nodes do to the free ring.

    Attributes
    ----------
    radius : array (node,), m
    hoop_per_temperature : array (node, node), SI
        Hoop stress at each node (first axis) by the rise of temperature at each node, Pa per K.
    growth_per_temperature : array (2, node), SI
        Of bore and outside, m per K.
    """

    radius: Floats
    hoop_per_temperature: Floats
    growth_per_temperature: Floats

    def hoop_stress(self, temperature: ArrayLike) -> Floats:
        """Hoop stress at the nodes, + tension.

        Parameters
        ----------
        temperature : array (..., node), K
            Rise above any even temperature.

        Returns
        -------
        array (..., node), Pa
        """
        stress: Floats = floats(temperature) @ self.hoop_per_temperature.T
        return stress


def thermal_stress(ring: Ring, radius: ArrayLike) -> ThermalStress:
    """Stress and growth of a free ring by the temperatures at radii from its bore to its outside.

    Parameters
    ----------
    ring : Ring
        Single numbers, not arrays; with a bore.
    radius : array (node,), m
        Rising from bore to outside.

    Returns
    -------
    ThermalStress

    Raises
    ------
    ValueError
        Radii that do not run from bore to outside, in rising order.

    A thin ring of steel that is 100 K hotter outside is pulled at its bore by E alpha 100 K / 2:

    >>> ring = Ring(0.9995, 1.0005, 200e9, 0.3, 7850.0, thermal_expansion=1e-5)
    >>> found = thermal_stress(ring, [0.9995, 1.0005])
    >>> print(f"{found.hoop_stress([0.0, 100.0])[0] / 1e6:.1f} MPa")
    100.0 MPa
    """
    nodes = floats(radius)
    a, b = float(np.asarray(ring.inner_radius)), float(np.asarray(ring.outer_radius))
    ends = np.abs(nodes[[0, -1]] - [a, b]) <= 1e-9 * b
    require(ends, "radius", nodes[[0, -1]], "m", "from the bore to the outside of the ring")
    require(np.diff(nodes) > 0, "radius", nodes[1:], "m", "in rising order")
    cuts = max(1, int(np.ceil(np.log(np.max(nodes[1:] / nodes[:-1])) / np.log(_RATIO))))
    fine = np.concatenate([np.linspace(s, e, cuts + 1)[:-1] for s, e in pairwise(nodes)])
    edges = np.append(fine, nodes[-1])
    hats = np.array([np.interp(edges, nodes, row) for row in np.eye(len(nodes))]).T  # (edge, node)
    moved = _displacements(ring, edges, hats)
    values, slopes = polynomials(np.array([-1.0, 1.0]), _DEGREE)
    length = np.diff(edges)[:, np.newaxis, np.newaxis]
    u = np.einsum("xp,epn->exn", values, moved)
    radial = np.einsum("xp,epn->exn", slopes, moved) * 2 / length
    warm = float(np.asarray(ring.thermal_expansion)) * np.stack([hats[:-1], hats[1:]], axis=1)
    r = np.stack([edges[:-1], edges[1:]], axis=1)[..., np.newaxis]
    modulus, nu, m = (
        float(np.asarray(value)) for value in (ring.young_modulus, ring.poisson_ratio, ring.hoop_stiffness_factor)
    )
    hoop = m * modulus / (1 - m * nu**2) * (u / r - warm + nu * (radial - warm))
    at = np.append(np.arange(0, len(edges) - 1, cuts), len(edges) - 2)  # the element that each node starts, or ends
    side = np.append(np.zeros(len(nodes) - 1, dtype=int), 1)
    return ThermalStress(nodes, hoop[at, side], np.stack([u[0, 0], u[-1, 1]]))


def _displacements(ring: Ring, edges: Floats, hats: Floats) -> Floats:
    """Coefficients (element, polynomial, node) of the displacement by a unit temperature at each node."""
    points, weights = np.polynomial.legendre.leggauss(_DEGREE + 2)
    half = np.diff(edges)[:, np.newaxis] / 2
    r = edges[:-1, np.newaxis] + half * (points + 1)
    modulus, nu, m, expansion = (
        float(np.asarray(value))
        for value in (ring.young_modulus, ring.poisson_ratio, ring.hoop_stiffness_factor, ring.thermal_expansion)
    )
    plane = modulus / (1 - m * nu**2)
    values, slopes = polynomials(points, _DEGREE)
    radial = slopes / half[..., np.newaxis]
    hoop = values / r[..., np.newaxis]
    weight = (weights * half * r * plane)[..., np.newaxis]
    # s_r = plane (e_r + m nu e_t), s_t = m plane (e_t + nu e_r)
    by_radial, by_hoop = weight * (radial + m * nu * hoop), weight * m * (hoop + nu * radial)
    stiffness = np.swapaxes(radial, 1, 2) @ by_radial + np.swapaxes(hoop, 1, 2) @ by_hoop
    part = (points + 1) / 2
    warm = hats[:-1, np.newaxis] * (1 - part)[:, np.newaxis] + hats[1:, np.newaxis] * part[:, np.newaxis]
    load = np.swapaxes(by_radial + by_hoop, 1, 2) @ (expansion * warm)
    return solve(stiffness, load, fixed_start=bool(edges[0] == 0))
