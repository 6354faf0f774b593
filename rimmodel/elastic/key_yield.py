"""How rim and support yield at equal keys that stay in touch with both, and the pressure under them."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats, floats
from rimmodel.elastic.harmonics import HarmonicRing
from rimmodel.elastic.key_compliance import dented_panels, scalloped_panels
from rimmodel.elastic.key_pressure import EDGES, EVEN, KeyPressure, conforming, spring_panels, yield_under
from rimmodel.elastic.key_sums import block_panels


@dataclass(frozen=True)
class KeySupport:
    """What yields under equal keys beside the rim: a disc, blocks as wide as the keys, springs that stand side by side.

    No disc is one of infinite modulus, no block and no springs are zeros. All fields broadcast.

    Parameters
    ----------
    disc_bore, disc_outside : float or array, m
    disc_ratio : float or array, -
        Poisson's.
    disc_modulus : float or array, Pa
        Of the disc drawn over all of the length.
    block : float or array, m/Pa
        Factor of `block_panels`.
    springs : float or array, m/Pa
        Yield of the springs per smeared pressure.
    """

    disc_bore: ArrayLike
    disc_outside: ArrayLike
    disc_ratio: ArrayLike
    disc_modulus: ArrayLike
    block: ArrayLike
    springs: ArrayLike

    def panels(self, key_count: ArrayLike, key_width: ArrayLike) -> Floats:
        """Yield of panels per smeared pressure on panels, beyond that of an even pressure, (..., K, K) m/Pa.

        Parameters
        ----------
        key_count : float or array, -
        key_width : float or array, m
        """
        modulus, block, springs = (
            floats(one)[..., None, None] for one in (self.disc_modulus, self.block, self.springs)
        )
        even = np.diag(spring_panels(EDGES)) - 1.0
        return floats(self.disc_panels(key_count, key_width) / modulus + block * block_panels(EDGES) + springs * even)

    def disc_panels(self, key_count: ArrayLike, key_width: ArrayLike) -> Floats:
        """The same, (..., K, K) m, of a disc of unit modulus that is as thick as the rim is long.

        Parameters
        ----------
        key_count : float or array, -
        key_width : float or array, m
        """
        if np.isinf(self.disc_modulus).all():
            return np.zeros((EDGES.size - 1,) * 2)
        disc = self.disc_bore, self.disc_outside, 1.0, self.disc_ratio
        return dented_panels(*disc, key_count, key_width, EDGES)


@dataclass(frozen=True)
class KeyYield:
    """Yield at equal keys per smeared pressure beyond that of an even pressure, and the pressure under a key.

    Attributes
    ----------
    rim, support : array, m/Pa
        Of the rim outward, of the support inward.
    disc : array, m
        Of a disc of unit modulus under the pressure, by which `on` has that of another.
    block : array, -
        The same of a block.
    pressure : KeyPressure
        Even by default, as where the keys are not known.
    """

    rim: Floats = field(default_factory=lambda: floats(0.0))
    support: Floats = field(default_factory=lambda: floats(0.0))
    disc: Floats = field(default_factory=lambda: floats(0.0))
    block: Floats = field(default_factory=lambda: floats(0.0))
    pressure: KeyPressure = EVEN

    @classmethod
    def of(cls, ring: HarmonicRing, key_count: ArrayLike, key_width: ArrayLike, support: KeySupport) -> KeyYield:
        """Of a ring on a support, m/Pa.

        Parameters
        ----------
        key_count : float or array, -
        key_width : float or array, m
        """
        rim = scalloped_panels(ring, key_count, key_width, EDGES)
        pressure = conforming(rim + support.panels(key_count, key_width))
        disc = yield_under(pressure, support.disc_panels(key_count, key_width))
        found = cls(yield_under(pressure, rim), disc, disc, yield_under(pressure, block_panels(EDGES)), pressure)
        return found.on(support)

    def on(self, support: KeySupport) -> KeyYield:
        """The same pressure on a support of the same kind, m/Pa: to first order of what these change."""
        modulus, block, springs = (floats(value) for value in (support.disc_modulus, support.block, support.springs))
        own = self.disc / modulus + self.block * block + self.pressure.unevenness * springs
        return replace(self, support=floats(own))
