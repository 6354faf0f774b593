"""What is known to differ between our model and a deck, and by how much at most.

The bounds are estimates from first principles; none is fitted to a result of a deck.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from rimmodel.behaviour import sweep
from rimmodel.rotor import UNIFORM_COLD, ArmSpider, DiscSpider, Rotor
from rimmodel.second_opinion.states import States

PUNCH = (1.5 - 2 * np.log(2)) * 2 / np.pi
"""Displacement of a half-plane under an even pressure less that under a rigid flat face, force over modulus and length.

Mean of the one less the other: (2/pi)(3/2 - 2 ln 2). The pressure on an elastic arm lies between.
"""

SECOND_ORDER = "interference and growth are drawn to their size"


@dataclass(frozen=True)
class Cause:
    """Something that differs.

    Attributes
    ----------
    most : float, -
        Per cent of the quantity.
    of_load : bool
        Whether it is in the loads, so that it moves the float speed, or in the contact alone.
    """

    words: str
    most: float
    of_load: bool = False

    def times(self, factor: float) -> Cause:
        """The same of a quantity on which it acts so many times as much."""
        return replace(self, most=self.most * float(factor))


def causes(rotor: Rotor, states: States, key_by_key: bool = False) -> tuple[Cause, ...]:
    """What differs between ours and a deck of a rotor, in per cent of its contact pressure or of its loads.

    Parameters
    ----------
    states : States
        Read from the deck.
    key_by_key : bool
        Whether single keys are compared, not their mean.
    """
    rim, fit = rotor.rim, rotor.fit
    a, length = float(rim.inner_radius), float(rim.length)
    depth = (
        abs(float(fit.interference)) / a + float(np.ptp(states.bore[states.seated])) / a if states.seated.any() else 0
    )
    found = [Cause(SECOND_ORDER, 200.0 * depth, True)]
    angle = float(rim.slot_flank_angle)
    if float(rim.slot_depth) and abs(angle - np.pi / 2) > 1e-6:
        share = np.pi / float(rotor.poles.count) * (1 - float(rim.slot_share)) / np.tan(angle)
        found.append(Cause("slots that a slanting flank wedges open are not in the deck", 100 * share, True))
    if rotor.key_count is None or fit.key_width is None or not states.pressure.max() > 0:
        return tuple(found)
    found += _of_keys(rotor, states, a, length)
    if key_by_key:
        found.append(
            Cause("tension of the fit stiffens the rim between its keys, second order", _stiffened(rotor, states))
        )
        found.append(Cause("ours moves the rim sideways as a rigid body and stiffens its waves as a thin ring", 0.5))
    return tuple(found)


def _of_keys(rotor: Rotor, states: States, a: float, length: float) -> list[Cause]:
    """What the contact of single keys adds, in per cent of the contact pressure."""
    count, width, steel = float(rotor.key_count or 1), float(rotor.fit.key_width or 0), rotor.rim.material
    force = 2 * np.pi * a * length * float(states.pressure[0]) / count
    left = float(rotor.fit.interference)  # of which each cause takes a share
    modulus = float(rotor.rim.stacking_factor) * float(steel.young_modulus)
    soft = 1 / np.sqrt(float(rotor.rim.hoop_stiffness_factor))
    shear = rotor.rim.shear_modulus
    soft *= 1.0 if shear is None else np.sqrt(modulus / (2 * (1 + float(steel.poisson_ratio))) / float(shear))
    uneven = PUNCH * soft * force / (modulus * length)
    spider = rotor.spider
    found: list[Cause] = []
    if isinstance(spider, DiscSpider) and spider.profile is not None:
        young = float(spider.material.young_modulus)
        dent = _deep(spider.profile, force, young, width, 2 * np.pi * a / count)
        found.append(Cause("the dent of a disc reaches where it has another thickness", 100 * dent / left))
    if isinstance(spider, ArmSpider):
        found.append(Cause("flanks of an arm bulge under its key, and stay straight in ours", 100 * uneven / left))
    if isinstance(spider, ArmSpider) and spider.hub_length is not None:
        radius = float(spider.hub_radius)
        dent = _dent(force, spider.material, float(spider.hub_length), 2 * np.pi * radius / count, width * radius / a)
        found.append(Cause("the hub dents under the arms, which ours spreads around it", 100 * dent / left))
    if float(rotor.rim.bending_stiffness_factor) != 1.0:
        solid = replace(rotor, rim=replace(rotor.rim, bending_stiffness_factor=1.0))
        pressure = [float(sweep(one, UNIFORM_COLD, 0.0).contact_pressure) for one in (solid, rotor)]
        most = 100 * abs(pressure[0] / pressure[1] - 1) if pressure[1] else 0.0
        found.append(Cause("the bending stiffness factor of the stack is not in the deck", most))
    return found


def _deep(profile: tuple[tuple[float, float], ...], force: float, modulus: float, width: float, pitch: float) -> float:
    """By how much (m) a profiled disc dents otherwise than over the thickness that it has outside.

    A force F on a half plane of thickness t strains the line under it by ``2 F/(pi E t r)`` at the depth r; added up
    from half a key to a pitch deep with the thickness there, and with that outside.
    """
    radius, thickness = np.array(profile).T
    depth = np.geomspace(0.5 * width, pitch, 200)
    there = 1 / np.interp(radius[-1] - depth, radius, thickness) - 1 / thickness[-1]
    return float(2 * force / (np.pi * modulus) * np.trapezoid(np.abs(there) / depth, depth))


def _stiffened(rotor: Rotor, states: States) -> float:
    """Per cent by which hoop tension of the fit at standstill stiffens the wave of the rim between its keys.

    A thin ring of tension T bends in wave n with ``E I (n^2 - 1)^2/R^4``; the tension adds ``T (n^2 - 1)/R^2``.
    """
    rim, n = rotor.rim, float(rotor.key_count or 2)
    inner, outer = float(rim.inner_radius), float(rim.slot_bottom_radius)
    depth, mean = outer - inner, 0.5 * (inner + outer)
    hoop = float(rim.stacking_factor) * float(rim.material.young_modulus) * float(rim.hoop_stiffness_factor)
    tension = float(states.pressure[0]) * inner / depth
    return 100 * 12 * tension / hoop * (mean / depth) ** 2 / (n**2 - 1)


def _bent(rotor: Rotor, force: float, width: float) -> float:
    """By how much (m) a key is stiffer that presses where the rim is pressed, not evenly, on a rim that bends over it.

    Between keys at a pitch l a thin rim is a clamped beam of moment ``F l/12``; over the width w of a key it bows by
    ``M w^2/(8 E I)``, 0.3 of that in the root mean square. A bed that is pressed by d takes the square of it over d
    off the mean. Half of the interference is taken for d.
    """
    rim, count = rotor.rim, float(rotor.key_count or 2)
    inner, outer = float(rim.inner_radius), float(rim.slot_bottom_radius)
    hoop = float(rim.stacking_factor) * float(rim.material.young_modulus) * float(rim.hoop_stiffness_factor)
    moment = force * 2 * np.pi * inner / count / 12
    bow = 0.3 * moment * width**2 / (8 * hoop * float(rim.length) * (outer - inner) ** 3 / 12)
    return bow**2 / (0.5 * float(rotor.fit.interference))


def _dent(force: float, steel: object, thickness: float, pitch: float, width: float) -> float:
    """Mean displacement (m) under patches of even pressure on a half-plane beyond that of the mean pressure.

    A wave ``p cos(k x)`` moves the edge by ``2 p/(E k)``; the waves of patches of width w at a pitch l sum up to
    ``2 F/(pi E t) sum sinc^2(m w/l)/m``. A ring of finite depth bends besides, so that half as much again is allowed.
    """
    m = np.arange(1, 2000)
    waves = float(np.sum(np.sinc(m * width / pitch) ** 2 / m))
    return 1.5 * 2 * force / (np.pi * float(steel.young_modulus) * thickness) * waves  # type: ignore[attr-defined]
