"""What the decks draw of a rotor: rows of steel from bore to outside, and loads, straight from the case.

Nothing here is worked out by a formula of elasticity. A deck draws one slice of 1 mm of the length of the rim. What
does not fill that length (a disc, arms, the steel of a stack) is drawn over all of it with so much of its modulus and
of its density.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.rotor import ArmSpider, Condition, DiscSpider, GivenSpider, Rotor
from rimmodel.rotor.blocks import array_shape
from rimmodel.rotor.conditions import REFERENCE_TEMPERATURE
from rimmodel.rotor.shrink_fit import key_list_fault
from rimmodel.second_opinion.steel import Steel

MAGNETIC_CONSTANT = 4e-7 * np.pi
"""H/m."""

RIGID_CONTACT = 1e16
"""Pa/m: faces sink into each other by 1e-6 mm under 10 MPa."""

ROD_HOOP = 1e-6
"""Hoop over radial modulus of what carries no hoop stress: arms side by side, teeth between slots."""

PINHOLE = 1e-3
"""Of the bore radius: hole that stands for the axis of a solid disc; it moves the outside by a millionth."""

COLUMN = 0.05
"""Of the bore radius: how long the columns are that stand for a spider which is given by its stiffness."""

POLE_LAYER = 2e-3
"""Of the rim outside: thickness of the layer that stands for the mass of the poles."""

SEAT_ROW = 0.04
"""Of the width of a key: height of the row of a disc on which it sits.

As high as half a key is wide, a row makes a disc on twelve keys 0.6 % too stiff."""

NEXT_TO_NOTHING = 1e-6
"""kg/m3, of what weighs nothing."""


@dataclass(frozen=True)
class Rows:
    """Steel of a part, row by row from the inside out.

    Parameters
    ----------
    radii : array (n,), m
    steel : tuple of Steel (n - 1,)
    under_keys : tuple of bool (n - 1,)
        Whether a row stands under the keys alone, or goes all round.
    """

    radii: Floats
    steel: tuple[Steel, ...]
    under_keys: tuple[bool, ...]

    @property
    def raised_share(self) -> Floats:
        """Share of the interference by which each row of nodes, with those between, is drawn further out.

        A column on a foot of its own is moved as a whole, which leaves its length and stiffness; what goes all round is
        stretched in its last row.
        """
        share = np.zeros(2 * len(self.steel) + 1)
        share[-2:] = 0.5, 1.0
        return np.ones_like(share) if self.under_keys[0] else share

    def sets(self) -> dict[Steel, list[int]]:
        """Rows by their steel."""
        found: dict[Steel, list[int]] = {}
        for row, steel in enumerate(self.steel):
            found.setdefault(steel, []).append(row)
        return found


@dataclass(frozen=True)
class Loads:
    """Loads of one state, on the slice as on the whole rim.

    Attributes
    ----------
    speed : float, rad/s
    outside : float, Pa
        Poles and field on the rim outside, + outward.
    tip : float, Pa
        Masses at the tips of arms, on the area of the contact, + outward.
    foot : float, m
        Radial movement of the feet of the spider, where they are not part of the deck.
    """

    speed: float
    outside: float
    tip: float
    foot: float


@dataclass(frozen=True)
class Drawing:
    """A rotor in a condition as the decks draw it.

    Parameters
    ----------
    rotor : Rotor
        Of scalar fields.
    condition : Condition
        Of scalar fields.
    keyed : bool
        Whether the spider meets the rim at its keys, or all round.
    """

    rotor: Rotor
    condition: Condition
    keyed: bool

    def __post_init__(self) -> None:
        if array_shape(self.rotor, self.condition) != ():
            raise ValueError("rotor or condition holds arrays; a deck draws one rotor: give scalars")

    @property
    def bore(self) -> float:
        """Radius of the rim bore, m."""
        return float(self.rotor.rim.inner_radius)

    @property
    def outside(self) -> float:
        """Radius of the rim outside, m."""
        return float(self.rotor.rim.outer_radius)

    @property
    def length(self) -> float:
        """Axial length of the rim, m."""
        return float(self.rotor.rim.length)

    @property
    def key_count(self) -> int:
        """Number of keys."""
        return int(self.rotor.key_count or 0)

    @property
    def key_width(self) -> float:
        """Width of a key along the bore, m."""
        return float(self.rotor.fit.key_width or 0.0)

    @property
    def pitch(self) -> float:
        """Angle from key to key, rad."""
        return 2 * np.pi / self.key_count

    @property
    def patch(self) -> float:
        """Angle that a key takes, rad."""
        return self.key_width / self.bore

    @property
    def interference(self) -> float:
        """Mean radial interference of the drawing, less what is lost since assembly, m."""
        fit = self.rotor.fit
        return float(fit.interference) - float(fit.settlement) - float(fit.stack_growth)

    @property
    def key_interference(self) -> Floats:
        """The same of each key, m."""
        listed = self.rotor.fit.key_interference
        each = np.zeros(self.key_count) if listed is None else np.asarray(listed, dtype=float)
        return np.asarray(self.interference + each - each.mean())

    @property
    def contact_stiffness(self) -> float:
        """Pressure per depth by which the contact closes, Pa/m: keys and shims, and at most a stiff penalty."""
        key = float(self.rotor.fit.key_stiffness)
        if not np.isfinite(key):
            return RIGID_CONTACT
        area = self.key_width * self.length if self.keyed else 2 * np.pi * self.bore * self.length / self.key_count
        return min(key / area, RIGID_CONTACT)

    @property
    def rim_rise(self) -> float:
        """Mean of the rim over the temperature at which it was assembled, K."""
        return float(self.condition.rim_temperature) - REFERENCE_TEMPERATURE

    @property
    def spider_rise(self) -> float:
        """Of the spider, K."""
        return float(self.condition.spider_temperature) - REFERENCE_TEMPERATURE

    def rim_rises(self, radius: Floats) -> Floats:
        """Temperature of the rim at a radius (m) over that of assembly, K: linear, with the stated mean over the area.

        The teeth are as warm as the slot bottom.
        """
        a, b = self.bore, float(self.rotor.rim.slot_bottom_radius)
        centroid = 2 / 3 * (b**3 - a**3) / (b**2 - a**2)
        slope = float(self.condition.rim_temperature_rise) / (b - a)
        return np.asarray(self.rim_rise + slope * (np.minimum(radius, b) - centroid))

    def rim_rows(self, ring_rows: int = 12, with_poles: bool = False) -> Rows:
        """Ring and teeth: the steel fraction of the stack scales modulus and density, the teeth carry no hoop stress.

        With poles their mass is a thin layer on the outside, which carries no hoop stress either.
        """
        rim, steel = self.rotor.rim, self.rotor.rim.material
        stack, bottom = float(rim.stacking_factor), float(rim.slot_bottom_radius)
        modulus, ratio = stack * float(steel.young_modulus), float(steel.poisson_ratio)
        shear = None if rim.shear_modulus is None else float(rim.shear_modulus)
        density, expansion = stack * float(steel.density), float(steel.thermal_expansion)
        ring = Steel(modulus, ratio, density, expansion, float(rim.hoop_stiffness_factor), shear)
        radii = self.bore + (bottom - self.bore) * np.linspace(0.0, 1.0, ring_rows + 1) ** 1.3
        rows = (ring,) * ring_rows
        if float(rim.slot_depth):
            share = 1.0 - float(rim.slot_share)
            rows += (Steel(share * modulus, 0.0, share * density, expansion, ROD_HOOP),) * 4
            radii = np.append(radii, np.linspace(bottom, self.outside, 5)[1:])
        if with_poles:
            rows += (Steel(modulus, 0.0, self._pole_mass / self._pole_layer, expansion, ROD_HOOP),)
            radii = np.append(radii, self.outside * (1 + POLE_LAYER))
        return Rows(radii, rows, (False,) * len(rows))

    @property
    def _pole_mass(self) -> float:
        """Of all poles, kg."""
        return float(self.rotor.poles.count) * float(self.rotor.poles.mass)

    @property
    def _pole_layer(self) -> float:
        """Volume of the layer that stands for the poles, m3."""
        return np.pi * self.outside**2 * ((1 + POLE_LAYER) ** 2 - 1) * self.length

    def spider_rows(self, coarse: bool = False) -> Rows:
        """Hub, arms, disc, or columns of the given stiffness; without keys what stands apart is spread all round."""
        spider = self.rotor.spider
        if isinstance(spider, DiscSpider):
            return self._disc(spider, 14 if coarse else 24)
        if isinstance(spider, ArmSpider):
            return self._arms(spider, 5 if coarse else 12, 4 if coarse else 8)
        return self._columns(spider)

    def _disc(self, spider: DiscSpider, every: int) -> Rows:
        a, steel = self.bore, spider.material
        profile = spider.profile or tuple((float(r), float(spider.outer_thickness)) for r in (spider.inner_radius, a))
        inner = max(profile[0][0], PINHOLE * a)
        edges, thicknesses = [inner], []
        for (start, thick), (end, thin) in pairwise(profile):
            low, high = max(start, inner), min(end, a)
            if high <= low:
                continue
            rows = max(3, int(np.ceil(every * (high - low) / a)))
            first = SEAT_ROW * self.key_width if self.keyed and high == a else (high - low) / rows
            radii = high - steps(high - low, first, (high - low) / rows)[::-1]
            edges += list(radii[1:])
            thicknesses += list(np.interp(0.5 * (radii[:-1] + radii[1:]), [start, end], [thick, thin]))
        edges[-1] = a
        shares = np.array(thicknesses) / self.length
        return Rows(np.array(edges), tuple(_share_of(steel, share) for share in shares), (False,) * shares.size)

    def _arms(self, spider: ArmSpider, rows: int, hub_rows: int) -> Rows:
        start, steel = float(spider.hub_radius), spider.material
        radii = np.geomspace(start, self.bore, rows + 1)
        area = float(spider.count) * float(spider.arm_area)
        stiff, heavy = area / self._area(_stiff_radius(radii)), area / self._area(0.5 * (radii[:-1] + radii[1:]))
        arms = tuple(
            Steel(
                float(steel.young_modulus) * stiffness,
                float(steel.poisson_ratio) if self.keyed else 0.0,
                float(steel.density) * mass,
                float(steel.thermal_expansion),
                1.0 if self.keyed else ROD_HOOP,
            )
            for stiffness, mass in zip(stiff, heavy, strict=True)
        )
        if spider.hub_bore_radius is None or spider.hub_length is None:
            return Rows(radii, arms, (True,) * rows)
        hub = np.linspace(max(float(spider.hub_bore_radius), PINHOLE * start), start, hub_rows + 1)
        whole = _share_of(steel, float(spider.hub_length) / self.length)
        return Rows(np.append(hub[:-1], radii), (whole,) * hub_rows + arms, (False,) * hub_rows + (True,) * rows)

    def _columns(self, spider: GivenSpider) -> Rows:
        radii = np.linspace((1 - COLUMN) * self.bore, self.bore, 4)
        moduli = float(spider.radial_stiffness) * COLUMN * self.bore / self._area(_stiff_radius(radii))
        steel = tuple(Steel(m, 0.0, NEXT_TO_NOTHING, 0.0, 1.0 if self.keyed else ROD_HOOP) for m in moduli)
        return Rows(radii, steel, (True,) * moduli.size)

    def _area(self, radius: Floats) -> Floats:
        """Section (m2) at a radius (m) over which arms or columns are drawn: between flanks of keys, or all round."""
        around = self.key_count * self.patch if self.keyed else 2 * np.pi
        return np.asarray(around * radius * self.length)

    @property
    def on_feet(self) -> bool:
        """Whether the inner edge of the spider is moved by hand: arms on a rigid hub, a spider given by its growth."""
        return self.spider_rows().under_keys[0]

    def loads(self, speed: float, with_poles: bool = False) -> Loads:
        """Loads at a speed (rad/s); of poles that are drawn as a mass only what their standing further out adds."""
        rotor, condition = self.rotor, self.condition
        poles, x = rotor.poles, speed**2
        arm, outside = float(poles.mass_radius), self.outside
        if with_poles:
            arm -= outside * (1 + POLE_LAYER + POLE_LAYER**2 / 3) / (1 + POLE_LAYER / 2)
            outside *= 1 + POLE_LAYER
        area = 2 * np.pi * outside * self.length
        pull = float(condition.flux_density) ** 2 / (4 * MAGNETIC_CONSTANT)
        pull *= 2 * np.pi * float(poles.face_radius) * float(rotor.face_length) / area
        outward = self._pole_mass * arm * x / area + pull
        seat = self.key_count * self.key_width if self.keyed else 2 * np.pi * self.bore
        spider, tip, foot = rotor.spider, 0.0, 0.0
        if isinstance(spider, ArmSpider):
            tip = float(spider.count) * float(spider.tip_mass) * self.bore * x / (seat * self.length)
            foot = float(spider.material.thermal_expansion) * self.spider_rise * float(spider.hub_radius)
        if isinstance(spider, GivenSpider):
            expansion = float((spider.material or rotor.rim.material).thermal_expansion)
            foot = float(spider.growth) * x / float(spider.growth_speed) ** 2 + expansion * self.spider_rise * self.bore
        return Loads(speed, outward, tip, foot)


def steps(width: float, first: float, largest: float) -> Floats:
    """From 0 to `width`, steps growing by 1.6 from `first` to `largest`, stretched to fit.

    Parameters
    ----------
    width, first, largest : float, m
        Or all of them rad.

    Returns
    -------
    array, m

    >>> print(steps(1.0, 0.2, 0.5))
    [0.         0.19607843 0.50980392 1.        ]
    """
    sizes = [first]
    while sum(sizes) < width * (1 - 1e-9):
        sizes.append(min(1.6 * sizes[-1], largest))
    edges = np.concatenate([[0.0], np.cumsum(sizes)])
    return np.asarray(edges * width / edges[-1])


def _stiff_radius(radii: Floats) -> Floats:
    """Radius (m) of the straight rod that is as stiff as each row of a wedge: the logarithmic mean."""
    return np.asarray(np.diff(radii) / np.diff(np.log(radii)))


def _share_of(steel: object, share: float) -> Steel:
    """So much of a solid steel over the length of the rim."""
    young, ratio, density, expansion = (
        float(getattr(steel, name)) for name in ("young_modulus", "poisson_ratio", "density", "thermal_expansion")
    )
    return Steel(young * share, ratio, density * share, expansion)


def keys_known(rotor: Rotor) -> bool:
    """Whether number and width of the keys are known, so that they can be drawn.

    Raises
    ------
    ValueError
        The list of their interferences has another length.
    """
    wrong = key_list_fault(rotor.fit.key_interference, rotor.key_count)
    if wrong is not None and rotor.fit.key_width is not None:
        raise ValueError(wrong)
    return rotor.key_count is not None and rotor.fit.key_width is not None


def deck_speeds(rotor: Rotor) -> dict[str, float]:
    """Speeds of the decks by name, rad/s: those of the case, and three beyond them, where a rim is sure to be loose.

    Two between standstill and rated speed, so that a straight line in speed squared can be seen to be straight.

    Returns
    -------
    dict of str to float, rad/s
        Slowest first.
    """
    rated, highest = float(rotor.speeds.rated), float(rotor.speeds.highest)
    named = {name: float(speed) for name, speed in rotor.speeds.from_standstill.items()}
    between = {"0.5 x rated": 0.5 * rated, "0.75 x rated": 0.75 * rated}
    beyond = {"1.3 x highest": 1.3 * highest, "1.6 x highest": 1.6 * highest, "2 x highest": 2 * highest}
    every = sorted((named | between | beyond).items(), key=lambda pair: pair[1])
    return dict(every)
