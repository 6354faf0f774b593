"""Collapse of a free ring and what an overspeed leaves in it, by von Mises' criterion: integrated, not closed.

The companion of `rimmodel.elastic.overspeed`, which does the same after Tresca in closed form and is the safer of the
two but for thick orthotropic rings. Steel lies nearer to von Mises.

In the plastic zone the hoop stress follows from the radial stress, ``s_t = s_r/2 + sqrt(Y^2 - 3/4 s_r^2)``, so that
equilibrium alone gives all stresses from the free bore outward, and with them the growth of the outside. Inside,
plastic strains are taken in the ratio of the final deviators, ``e_r/e_t = (2 s_r - s_t)/(2 s_t - s_r)`` (Hencky's
deformation theory). The flow rule followed through the run-up leaves up to 0.5 % less at the bore and the same outside
(incremental finite elements, b/a up to 4, 90 % of the range from first yield to collapse).

Source: Hill, The Mathematical Theory of Plasticity (1950), ch. 2 and 3 (from memory); derived here.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats, require
from rimmodel.elastic.overspeed import (
    PermanentGrowth,
    bisected_front,
    elastic_zone,
    in_words,
    refuse_ring,
    refuse_speed,
)
from rimmodel.elastic.plasticity import _loads, first_yield_speed, fully_plastic_speed
from rimmodel.elastic.ring import Ring

_STEPS = 32  # of fourth order over the plastic zone, evenly in log radius


def fully_plastic_speed_von_mises(
    ring: Ring, yield_strength: ArrayLike, traction_per_speed_squared: ArrayLike = 0.0
) -> Floats:
    """Speed in rad/s at which a free ring yields through its whole section after von Mises.

    Parameters
    ----------
    ring : Ring
        With a bore; its elastic constants do not matter.
    yield_strength, traction_per_speed_squared : as in `first_yield_speed`

    Returns
    -------
    array, rad/s
        Between Tresca's and sqrt(2/sqrt(3)) = 1.075 times it.

    Raises
    ------
    ValueError
        A solid disc, a yield strength that is not positive or a negative traction.

    A thin ring has no radial stress and collapses as Tresca says, at sqrt(yield/rho)/R:

    >>> print(f"{fully_plastic_speed_von_mises(Ring(0.9999, 1.0001, 206e9, 0.3, 7850.0), 314e6):.1f}")
    200.0

    """
    strength, traction = _loads(yield_strength, traction_per_speed_squared)
    a, b = np.asarray(ring.inner_radius, dtype=float), np.asarray(ring.outer_radius, dtype=float)
    require(a > 0, "inner_radius", a, "m", "positive: the integration starts at a bore")
    low = fully_plastic_speed(ring, strength, traction) ** 2
    high = low * 2 / np.sqrt(3)
    for _ in range(52):
        middle = (low + high) / 2
        slow = _integrated(ring, a, b, (np.asarray(0.0), np.asarray(0.0)), strength, middle)[0] > traction * middle
        low, high = np.where(slow, middle, low), np.where(slow, high, middle)
    speed: Floats = np.sqrt((low + high) / 2)
    return speed


def permanent_growth_von_mises(
    ring: Ring, yield_strength: ArrayLike, speed: ArrayLike, traction_per_speed_squared: ArrayLike = 0.0
) -> PermanentGrowth:
    """Radial growth in m that stays at standstill after a free ring has been at `speed`, after von Mises.

    Arguments, result, limits and errors as in `permanent_growth`, with the fully plastic speed of von Mises.

    Less than after Tresca:

    >>> from rimmodel.elastic.overspeed import permanent_growth
    >>> ring, speed = Ring(1.0, 2.0, 206e9, 0.3, 7850.0), 125.0
    >>> bool(permanent_growth_von_mises(ring, 320e6, speed).bore < permanent_growth(ring, 320e6, speed).bore)
    True

    """
    strength, pull = _loads(yield_strength, traction_per_speed_squared)
    refuse_ring(ring)
    refuse_speed(speed, fully_plastic_speed_von_mises(ring, strength, pull))
    a, b = np.asarray(ring.inner_radius, dtype=float), np.asarray(ring.outer_radius, dtype=float)
    squared = np.asarray(speed, dtype=float) ** 2
    none = np.asarray(0.0)

    def edge(front: Floats) -> Floats:
        return _integrated(ring, a, front, (none, none), strength, squared)[0]

    def outside(front: Floats) -> tuple[Floats, Floats]:
        radial = edge(front)
        return elastic_zone(ring, b, front, radial, _hoop_stress(radial, strength), squared)

    front = bisected_front(ring, lambda place: outside(place)[0], pull * squared)
    radial = edge(front)
    at_front = front * _elastic_strains(ring, radial, _hoop_stress(radial, strength))[1]
    bore = _integrated(ring, front, a, (radial, at_front), strength, squared)[1]
    outer = b * _elastic_strains(ring, *outside(front))[1]
    first = first_yield_speed(ring, strength, "von mises", pull) ** 2
    beyond, reverse = squared > first, squared > 4 * first
    elastic = [ring.radial_displacement(radius, speed, outer_traction=pull * squared) for radius in (a, b)]
    return PermanentGrowth(
        np.where(beyond, bore - elastic[0], 0.0),
        np.where(beyond, outer - elastic[1], 0.0),
        np.where(beyond, front, a),
        reverse,
        in_words(reverse),
    )


def _hoop_stress(radial: Floats, strength: Floats) -> Floats:
    hoop: Floats = radial / 2 + np.sqrt(strength**2 - 0.75 * radial**2)
    return hoop


def _elastic_strains(ring: Ring, radial: Floats, hoop: Floats) -> tuple[Floats, Floats]:
    """Radial and hoop strain."""
    nu, modulus = np.asarray(ring.poisson_ratio, dtype=float), np.asarray(ring.young_modulus, dtype=float)
    factor = np.asarray(ring.hoop_stiffness_factor, dtype=float)
    return (radial - nu * hoop) / modulus, (hoop / factor - nu * radial) / modulus


def _integrated(
    ring: Ring, start: Floats, end: Floats, state: tuple[Floats, Floats], strength: Floats, speed_squared: Floats
) -> tuple[Floats, Floats]:
    """Radial stress (Pa) and displacement (m) at `end` of a plastic zone from those at `start`, Runge-Kutta."""
    spin = np.asarray(ring.density, dtype=float) * speed_squared
    step = np.log(end / start) / _STEPS

    def slope(r: Floats, radial: Floats, u: Floats) -> tuple[Floats, Floats]:
        """Both per log radius."""
        hoop = _hoop_stress(radial, strength)
        along, across = _elastic_strains(ring, radial, hoop)
        plastic = (u / r - across) * (2 * radial - hoop) / (2 * hoop - radial)
        return hoop - radial - spin * r**2, r * (along + plastic)

    radial, u = state
    for count in range(_STEPS):
        first, half, last = (start * np.exp(step * (count + part)) for part in (0.0, 0.5, 1.0))
        k1, l1 = slope(first, radial, u)
        k2, l2 = slope(half, radial + step / 2 * k1, u + step / 2 * l1)
        k3, l3 = slope(half, radial + step / 2 * k2, u + step / 2 * l2)
        k4, l4 = slope(last, radial + step * k3, u + step * l3)
        radial = radial + step / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
        u = u + step / 6 * (l1 + 2 * l2 + 2 * l3 + l4)
    return radial, u
