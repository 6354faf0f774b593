"""Teeth between the pole slots of a rim: they carry no hoop stress, hang on the slot bottom, and stretch a little.

A tooth takes a constant share of the circumference from the slot bottom ``c`` to the outside ``b``. Whatever the poles
pull is taken as brought in at the outside: in truth it enters along the flanks of the slots, so that the stretch is
an upper bound. How far a slot flank yields locally is not in it; it belongs to the radial stiffness of the pole.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats, floats


@dataclass(frozen=True)
class Teeth:
    """Radial teeth all round a ring, as so many rods.

    Parameters
    ----------
    root_radius, outer_radius : float or array, m
        Slot bottom and outside of the teeth; the same where there are no slots.
    young_modulus : float or array, Pa
    density : float or array, kg/m3
    share : float or array, -
        Of the circumference that is tooth.
    """

    root_radius: ArrayLike
    outer_radius: ArrayLike
    young_modulus: ArrayLike
    density: ArrayLike
    share: ArrayLike = 1.0

    @property
    def traction_per_speed_squared(self) -> Floats:
        """Pull of the teeth on the ring under them per speed squared, in Pa s2.

        ``share rho (b^3 - c^3)/(3 c)``, what the mass of the teeth weighs in the spin; derived here.

        Teeth from 3.97 m to 4.06 m, half of them steel of 7850 kg/m3: 0.5 x 7850 x (66.923 - 62.571)/11.91:

        >>> print(f"{Teeth(3.97, 4.06, 206e9, 7850.0, 0.5).traction_per_speed_squared:.0f}")
        1434
        """
        c, b = floats(self.root_radius), floats(self.outer_radius)
        traction: Floats = floats(self.share) * floats(self.density) * (b - c) * (b * b + b * c + c * c) / (3 * c)
        return traction

    @property
    def stretch_per_traction(self) -> Floats:
        """Stretch per traction that what hangs outside puts on the ring, in m/Pa.

        ``c ln(b/c)/(share E)``, a rod that widens with radius; derived here.

        >>> print(f"{Teeth(1.0, np.e, 2.0, 0.0, 0.5).stretch_per_traction:.3f}")  # 1/(0.5 x 2)
        1.000
        """
        c, b = floats(self.root_radius), floats(self.outer_radius)
        stretch: Floats = c * np.log1p((b - c) / c) / (floats(self.share) * floats(self.young_modulus))
        return stretch

    @property
    def stretch_per_speed_squared(self) -> Floats:
        """Stretch of the teeth under their own spin per speed squared, in m s2.

        ``rho/(3 E) [b^3 ln(b/c) - (b^3 - c^3)/3]``; derived here.

        >>> print(f"{Teeth(1.0, np.e, 1.0, 9.0).stretch_per_speed_squared:.3f}")  # 3 e^3 - (e^3 - 1) = 2 e^3 + 1
        41.171
        """
        c, b = floats(self.root_radius), floats(self.outer_radius)
        cubes = (b - c) * (b * b + b * c + c * c) / 3
        stretch: Floats = (
            floats(self.density) / (3 * floats(self.young_modulus)) * (b**3 * np.log1p((b - c) / c) - cubes)
        )
        return stretch


def wedging(flank_angle: ArrayLike, count: ArrayLike, share: ArrayLike = 1.0) -> Floats:
    """Hoop force in the ring under the slots over that which the radial pull of what hangs in them needs.

    A flank at an angle to the radius is pressed sideways by ``(P/2) cot(angle)`` against a tooth, and the ring carries
    that back under the slot. Spread over the pitch the ring has ``share (P/2) cot`` of it beside the mean
    ``count P/(2 pi)``: ``1 + (pi/count) share cot(angle)``. Derived here, without friction, which would make it less;
    an upper bound against finite elements, where the tooth leaves a part of it to its own root.

    Parameters
    ----------
    flank_angle : float or array, rad
        Between flank and radius; a right angle does not wedge.
    count : float or array, -
        Of slots.
    share : float or array, -
        Of the circumference that is tooth.

    Returns
    -------
    array, -

    With cot 45 deg = 1, 40 slots and half of the circumference tooth: 1 + 0.5 pi/40:

    >>> print(f"{wedging(np.pi / 4, 40, 0.5):.5f}")
    1.03927
    """
    factor: Floats = 1.0 + np.pi / floats(count) * floats(share) / np.tan(floats(flank_angle))
    return factor
