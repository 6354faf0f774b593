"""What rim and spider yield more on single keys than under an even pressure: the rim scallops, the spider dents.

Contact pressure and the slope of the gap of a seated rim feel it; the float speed of an even fit does not. Under each
key the pressure is the one under which rim, key and spider stay in touch
(`rimmodel.elastic.key_pressure.conforming`). For that a
disc yields as the disc it is, an arm as a block of its section, and a spider that is given by its stiffness as springs
do: of where its yield sits nothing is known, and if it is not at the face of the key, a thin rim on few keys presses a
few per cent more.
"""

from __future__ import annotations

from dataclasses import fields, replace
from functools import lru_cache
from typing import Any

import numpy as np

from rimmodel.arrays import Floats, Numbers, floats
from rimmodel.elastic import HarmonicRing, KeySupport, KeyYield, ring_edges
from rimmodel.rotor import ArmSpider, DiscSpider, Rotor
from rimmodel.rotor.blocks import array_shape, map_arrays

MOST_EXACT = 64
"""Rotors up to which each gets its own sums over harmonics (1 ms); more share those of their mean."""


def key_compliance(rotor: Rotor) -> Floats:
    """Radial displacement of rim and spider at the keys per smeared contact pressure beyond that of an even pressure.

    Zero where the width or the number of the keys is not known. By definition the sum of the two of `key_yield`.

    Returns
    -------
    array, m/Pa

    Keys that touch each other press evenly, and nothing is left to scallop:

    >>> import rimmodel as rm
    >>> from dataclasses import replace
    >>> rotor = rm.example_case().rotor
    >>> pitch = 2 * np.pi * rotor.rim.inner_radius / rotor.key_count
    >>> closed = replace(rotor, fit=replace(rotor.fit, key_width=pitch))
    >>> bool(abs(key_compliance(closed)) < 1e-6 * key_compliance(rotor))
    True
    """
    found = key_yield(rotor)
    return floats(found.rim + found.support)


def key_yield(rotor: Rotor) -> KeyYield:
    """What rim and spider yield more at single keys, and how these press.

    The rim by ``2 sum C_{mN} T_{mN}^2`` of its own harmonics (derived at `rimmodel.elastic.scalloped_compliance`), a
    disc likewise over the thickness that it has outside: a dent reaches no deeper than a pitch of the keys. Zero where
    the width or the number of the keys is not known. Beyond `MOST_EXACT` rotors in one call the pressure under a key
    and the geometry are those of the mean rotor, and so is the share of the rim's even compliance (10 % of hoop
    stiffness move that by less than one part in a hundred of it); moduli, thickness and springs are each rotor's own.

    >>> import rimmodel as rm
    >>> pressure = key_yield(rm.example_case().rotor).pressure
    >>> bool(pressure.unevenness > 0.0)                               # it presses more at the edges of a key
    True
    """
    width, count = rotor.fit.key_width, rotor.key_count
    if width is None or count is None:
        return KeyYield()
    ring, support = rotor.rim.harmonic_ring, _support(rotor, count, width)
    shape = array_shape(ring, support, *(np.asarray(value) for value in (count, width)))
    if shape and int(np.prod(shape)) <= MOST_EXACT:
        return KeyYield.of(ring, count, width, support)
    number, wide = (float(np.mean(np.asarray(value))) for value in (count, width))
    found = _of_numbers(_mean(ring), float(round(number)), wide, _mean(support)).on(support)
    if not shape:
        return found
    share = found.rim / _even(map_arrays(rotor, np.mean))
    return replace(found, rim=floats(share * _even(rotor)))


def support_panels(rotor: Rotor) -> tuple[Floats, Floats] | None:
    """Edges of panels in widths of a key, and the yield of its support panel by panel beyond that of an even pressure.

    By definition that of which `key_yield` takes the mean under its pressure. None where the keys are not known.

    Returns
    -------
    edges : array (K + 1,), -
    panels : array (..., K, K), m/Pa

    >>> import rimmodel as rm
    >>> rotor = rm.example_case().rotor
    >>> found, (_, panels) = key_yield(rotor), support_panels(rotor)
    >>> bool(np.isclose(found.pressure.share @ panels @ found.pressure.share, found.support))
    True
    """
    width, count = rotor.fit.key_width, rotor.key_count
    if width is None or count is None:
        return None
    return key_yield(rotor).pressure.edges, _support(rotor, count, width).panels(count, width)


def _support(rotor: Rotor, count: Numbers, width: Numbers) -> KeySupport:
    spider, rim = rotor.spider, rotor.rim
    a, length, number = floats(rim.inner_radius), floats(rim.length), floats(count)
    around = 2.0 * np.pi * a * length
    keys = around / (number * rotor.fit.key_stiffness)
    if isinstance(spider, DiscSpider):
        steel = spider.material
        modulus = steel.young_modulus * floats(spider.outer_thickness) / length
        return KeySupport(spider.inner_radius, a, steel.poisson_ratio, modulus, 0.0, keys)
    if isinstance(spider, ArmSpider):
        # no key sits on more than solid steel
        solid = np.minimum(floats(spider.count) * spider.arm_area / (number * floats(width) * length), 1.0)
        return KeySupport(0.0, a, 0.0, np.inf, 4.0 * a / (number * solid * spider.material.young_modulus), keys)
    return KeySupport(0.0, a, 0.0, np.inf, 0.0, keys + around / floats(spider.radial_stiffness))


@lru_cache(maxsize=64)
def _of_numbers(ring: HarmonicRing, count: float, width: float, support: KeySupport) -> KeyYield:
    """Of numbers, which are asked many times for the same rotor."""
    return KeyYield.of(ring, count, width, support)


def _mean(stored: Any) -> Any:
    """The same dataclass of floats, the mean of what is an array."""
    values = (getattr(stored, each.name) for each in fields(stored))
    return type(stored)(*(None if value is None else float(np.mean(np.asarray(value))) for value in values))


def _even(rotor: Rotor) -> Floats:
    return ring_edges(rotor.rim.ring).bore_displacement.pressure
