"""Mean hoop stress of a ring and the burst speed that goes with it.

A ductile ring bursts when its mean hoop stress comes near the ultimate strength (Robinson, Bursting tests of steam
turbine disk wheels, Transactions of the ASME 66 (1944); from memory, confirm in your copy).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats, floats, require
from rimmodel.elastic.ring import Ring


def mean_hoop_stress(
    ring: Ring, speed: ArrayLike = 0.0, inner_pressure: ArrayLike = 0.0, outer_traction: ArrayLike = 0.0
) -> Floats:
    """Mean over the section of the hoop stress in Pa, smeared; all arguments and fields broadcast.

    Parameters
    ----------
    ring : Ring
        Its stiffness does not matter.
    speed : float or array, rad/s
    inner_pressure, outer_traction : float or array, Pa
        On bore and outside, + pushes or pulls outward.

    Returns
    -------
    array, Pa

    Notes
    -----
    Balance of one half: ``(b - a) s_mean = a p + b q + rho w^2 (b^3 - a^3)/3``.

    A ring of 1 to 2 m at 100 rad/s without edge loads: 7850 x 1e4 x 7/3 = 183.2 MPa.

    >>> print(f"{mean_hoop_stress(Ring(1.0, 2.0, 206e9, 0.3, 7850.0), 100.0) / 1e6:.1f}")
    183.2

    """
    a, b = floats(ring.inner_radius), floats(ring.outer_radius)
    spin = floats(ring.density) * floats(speed) ** 2 * (a * a + a * b + b * b) / 3
    mean: Floats = (a * floats(inner_pressure) + b * floats(outer_traction)) / (b - a) + spin
    return mean


def burst_speed_ratio(mean_stress: ArrayLike, ultimate_strength: ArrayLike, share: ArrayLike = 1.0) -> Floats:
    """Burst speed over the speed at which the mean hoop stress is `mean_stress`, for loads that grow with its square.

    Parameters
    ----------
    mean_stress : float or array, Pa
        Positive; of the net section where that bursts.
    ultimate_strength : float or array, Pa
    share : float or array, -
        Mean hoop stress at burst over ultimate strength, 0.85 to 1 by Robinson.

    Returns
    -------
    array, -
        ``sqrt(share S_u / s_mean)``.

    Raises
    ------
    ValueError
        A stress, strength or share that is not positive.

    >>> print(f"{burst_speed_ratio(200e6, 800e6):.2f}")
    2.00

    """
    for name, value, unit in (
        ("mean_stress", mean_stress, "Pa"),
        ("ultimate_strength", ultimate_strength, "Pa"),
        ("share", share, ""),
    ):
        require(floats(value) > 0, name, value, unit, "positive")
    ratio: Floats = np.sqrt(floats(share) * floats(ultimate_strength) / floats(mean_stress))
    return ratio
