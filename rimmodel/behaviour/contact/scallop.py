"""What rim and spider yield more on single keys than under an even pressure: the rim scallops, a disc dents.

Contact pressure and the slope of the gap of a seated rim feel it; the float speed of an even fit does not.
"""

from __future__ import annotations

from dataclasses import astuple
from functools import lru_cache
from typing import Any

import numpy as np

from rimmodel.arrays import Floats, floats
from rimmodel.elastic import HarmonicRing, dented_compliance, ring_edges, scalloped_compliance
from rimmodel.rotor import DiscSpider, Rotor
from rimmodel.rotor.blocks import array_shape, map_arrays

MOST_EXACT = 64
"""Rotors up to which each gets its own sum over harmonics (0.3 ms); more share that of their mean."""


def key_compliance(rotor: Rotor) -> Floats:
    """Radial displacement of rim and disc at the keys per smeared contact pressure beyond that of an even pressure.

    Zero where the width or the number of the keys is not known. By definition the sum of `scallop_compliance` and
    `dent_compliance`.

    Returns
    -------
    array, m/Pa

    On arms the rim alone has such a share:

    >>> import rimmodel as rm
    >>> rotor = rm.example_case().rotor
    >>> bool(key_compliance(rotor) == scallop_compliance(rotor))
    True
    """
    return floats(scallop_compliance(rotor) + dent_compliance(rotor))


def scallop_compliance(rotor: Rotor) -> Floats:
    """Radial displacement of the rim at its keys per smeared contact pressure beyond that of an even pressure.

    Zero where the width or the number of the keys is not known. ``2 sum C_{mN} sinc^2`` of the rim's own harmonics
    (derived at `rimmodel.elastic.scalloped_compliance`). Beyond `MOST_EXACT` rotors in one call the share of the even
    compliance is that of the mean rotor: 10 % of hoop stiffness move it by less than one part in a hundred of the
    rim's compliance.

    Returns
    -------
    array, m/Pa

    Keys that touch each other press evenly, and nothing is left to scallop:

    >>> import rimmodel as rm
    >>> from dataclasses import replace
    >>> rotor = rm.example_case().rotor
    >>> pitch = 2 * np.pi * rotor.rim.inner_radius / rotor.key_count
    >>> closed = replace(rotor, fit=replace(rotor.fit, key_width=pitch))
    >>> bool(abs(scallop_compliance(closed)) < 1e-8 * scallop_compliance(rotor))
    True
    """
    width, count = rotor.fit.key_width, rotor.key_count
    if width is None or count is None:
        return floats(0.0)
    rim = rotor.rim
    even = _even(rotor)
    shape = array_shape(rim, width, count)
    if shape == ():  # asked many times for the same rotor
        ring = tuple(None if value is None else float(value) for value in astuple(rim.harmonic_ring))
        return floats(_at_keys(ring, float(np.asarray(count)), float(np.asarray(width)), float(even)) - even)
    if int(np.prod(shape)) <= MOST_EXACT:
        return floats(scalloped_compliance(rim.harmonic_ring, count, width, even) - even)
    mean = map_arrays(rotor, np.mean)
    number = float(np.mean(np.asarray(count)))
    share = scalloped_compliance(mean.rim.harmonic_ring, round(number), float(np.mean(np.asarray(width))), _even(mean))
    return floats((share / _even(mean) - 1.0) * even)


def dent_compliance(rotor: Rotor) -> Floats:
    """Inward displacement of a disc at its keys per smeared contact pressure beyond that of an even pressure.

    ``2 sum D_{mN} sinc^2`` of the disc's own harmonics (derived at `rimmodel.elastic.dented_compliance`), over the
    thickness that it has outside: a dent reaches no deeper than a pitch of the keys. Zero for arms and for a spider
    that is given by its stiffness, and where the width or the number of the keys is not known. Beyond `MOST_EXACT`
    rotors in one call the geometry is that of the mean rotor; modulus and thickness are each rotor's own.

    Returns
    -------
    array, m/Pa

    >>> import rimmodel as rm
    >>> float(dent_compliance(rm.example_case().rotor))
    0.0
    """
    width, count, spider = rotor.fit.key_width, rotor.key_count, rotor.spider
    if width is None or count is None or not isinstance(spider, DiscSpider):
        return floats(0.0)
    steel, radius = spider.material, rotor.rim.inner_radius
    share = floats(rotor.rim.length) / (floats(spider.outer_thickness) * floats(steel.young_modulus))
    places = (spider.inner_radius, radius, width, count, steel.poisson_ratio)
    shape = np.broadcast_shapes(*(np.shape(value) for value in places))
    if shape and int(np.prod(shape)) <= MOST_EXACT:
        return floats(dented_compliance(spider.inner_radius, radius, 1.0, steel.poisson_ratio, count, width) * share)
    bore, outside, wide, number, ratio = (float(np.mean(np.asarray(value))) for value in places)
    return floats(_dents(bore, outside, wide, round(number), ratio) * share)


@lru_cache(maxsize=64)
def _dents(bore: float, outside: float, width: float, count: int, poisson_ratio: float) -> float:
    """Of a disc of unit modulus."""
    return float(dented_compliance(bore, outside, 1.0, poisson_ratio, count, width))


@lru_cache(maxsize=64)
def _at_keys(ring: tuple[Any, ...], count: float, width: float, even: float) -> float:
    return float(scalloped_compliance(HarmonicRing(*ring), count, width, even))


def _even(rotor: Rotor) -> Floats:
    return ring_edges(rotor.rim.ring).bore_displacement.pressure
