"""The whole machine, as far as float speed and air gap need it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from rimmodel.arrays import Numbers
from rimmodel.rotor.air_gap import AirGap
from rimmodel.rotor.assembly import Assembly
from rimmodel.rotor.axial import Axial
from rimmodel.rotor.conditions import Condition, Speeds
from rimmodel.rotor.poles import Poles
from rimmodel.rotor.quantity import varied
from rimmodel.rotor.rim import Rim
from rimmodel.rotor.shrink_fit import ShrinkFit
from rimmodel.rotor.spider import ArmSpider, DiscSpider, Spider
from rimmodel.tabular import in_brief
from rimmodel.units import probably_meant, rpm, with_unit

FASTEST_RIM = 300.0
"""m/s at the rim outside at rated speed: the hoop stress of bare steel, density times its square, is 700 MPa there."""


class RotorError(ValueError):
    """Parts that do not fit together; `faults` names every key, its value and its rule."""

    def __init__(self, faults: list[str]) -> None:
        self.faults = tuple(faults)
        super().__init__("Rotor: " + "; ".join(faults))


@dataclass(frozen=True)
class Rotor:
    """Rim, poles, spider, fit, air gap, assembly and axial differences; speeds are those at which a reviewer asks.

    Any field may be an array.
    """

    rim: Rim
    poles: Poles
    spider: Spider
    fit: ShrinkFit
    air_gap: AirGap
    speeds: Speeds
    assembly: Assembly = field(default_factory=Assembly)
    axial: Axial = field(default_factory=Axial)

    def __post_init__(self) -> None:
        faults = geometry_faults(self)
        if faults:
            raise RotorError([f"{key} {text}" for key, text in faults])

    def __repr__(self) -> str:
        inner, outer = (in_brief(radius, "length", 0) for radius in (self.rim.inner_radius, self.rim.outer_radius))
        return (
            f"Rotor(rim radius {inner} and {outer}, {np.max(self.poles.count):g} poles, interference "
            f"{in_brief(self.fit.interference, 'length')}, rated {in_brief(self.speeds.rated, 'speed', 1)})"
        )

    def with_interference(self, interference: Numbers) -> Rotor:
        """The same rotor with another radial interference (m)."""
        return replace(self, fit=replace(self.fit, interference=interference))

    @property
    def face_length(self) -> Numbers:
        """Axial length of the pole faces, m."""
        return self.rim.length if self.poles.face_length is None else self.poles.face_length

    @property
    def stator_bore_radius(self) -> Numbers:
        """Pole face plus cold gap, m."""
        return self.poles.face_radius + self.air_gap.cold

    @property
    def key_count(self) -> Numbers | None:
        """Number of keys: given, or one at each arm; None when neither is known."""
        if self.fit.key_count is not None:
            return self.fit.key_count
        return self.spider.count if isinstance(self.spider, ArmSpider) else None

    def differs_along(self, condition: Condition) -> bool:
        """Whether anything differs along the rim, by what the case states.

        >>> import rimmodel as rm
        >>> case = rm.example_case()
        >>> case.rotor.differs_along(case.conditions["cold"])
        False
        """
        axial = self.axial
        short = axial.pole_length is not None and np.any(np.asarray(axial.pole_length) < np.asarray(self.rim.length))
        taper = axial.interference_taper is not None and np.any(np.asarray(axial.interference_taper) != 0.0)
        moved = axial.pole_length is not None and np.any(np.asarray(axial.pole_rise) != 0.0)
        return bool(taper or short or moved or np.any(np.asarray(condition.rim_temperature_taper) != 0.0))

    def without_settlement(self) -> Rotor:
        """The same rotor with nothing lost since assembly: for interferences that were measured as they are."""
        return replace(self, fit=replace(self.fit, settlement=0.0, stack_growth=0.0))

    def settled_to(self, interference: Numbers, stack_share: Numbers = 0.0) -> Rotor:
        """The rotor as assembled, with so much lost since that a given interference is left.

        The cold gap is that of the assembled rotor. What keys and shims have lost opens the gap of the seated rim and
        leaves that of the floating rim; where the stack has grown instead, the floating rim is larger for good.

        Parameters
        ----------
        interference : float or array, m
            Radial.
        stack_share : float or array, -
            Share of the loss that is growth of the stack. Interference that was gained is never growth.
        """
        lost = np.asarray(self.fit.interference) - np.asarray(interference)
        grown = np.asarray(stack_share) * np.maximum(lost, 0.0)
        return varied(self, fit=varied(self.fit, settlement=lost - grown, stack_growth=grown))

    def shimmed(self, extra: Numbers) -> Rotor:
        """A rotor that is built, with shims thicker by so much: a rim that floats stays where it was.

        Shims take the seated rim and its pole faces outward, by what they bend the ring; they do what settlement does,
        the other direction. `with_interference` is another design instead, which is assembled to the same cold gap.

        Parameters
        ----------
        extra : float or array, m
            Radial; below zero shims are taken out.
        """
        settlement = np.asarray(self.fit.settlement) - np.asarray(extra)
        return varied(self, fit=varied(self.fit, settlement=settlement))


def geometry_faults(rotor: Rotor) -> list[tuple[str, str]]:
    """Rules that tie one part to another, as pairs of the key and what is wrong with it."""
    rules = (
        *_pole_rules(rotor), *_spider_rules(rotor), *_speed_rules(rotor), *_gap_rules(rotor), *_key_rules(rotor),
        *_axial_rules(rotor),
    )  # fmt: skip
    return [(key, text) for ok, key, text in rules if not np.all(np.asarray(ok))]


def _mm(value: Numbers) -> str:
    return with_unit(np.asarray(value).flat[0], "length", "g")


def _pole_rules(rotor: Rotor) -> Iterator[tuple[object, str, str]]:
    rim, poles = rotor.rim, rotor.poles
    face, mass = np.asarray(poles.face_radius), np.asarray(poles.mass_radius)
    yield (
        face > np.asarray(rim.outer_radius),
        "poles.face_radius",
        f"is {_mm(poles.face_radius)}; it must be larger than rim.outer_radius, {_mm(rim.outer_radius)}",
    )
    yield (
        (mass > np.asarray(rim.inner_radius)) & (mass < face),
        "poles.mass_radius",
        f"is {_mm(poles.mass_radius)}; it must lie between the rim bore, {_mm(rim.inner_radius)}, "
        f"and the pole face, {_mm(poles.face_radius)}",
    )


def _spider_rules(rotor: Rotor) -> Iterator[tuple[object, str, str]]:
    spider, bore = rotor.spider, np.asarray(rotor.rim.inner_radius)
    if isinstance(spider, DiscSpider):
        yield (
            np.asarray(spider.inner_radius) < bore,
            "spider.bore_radius" if spider.profile is None else "spider.profile",
            f"{'is' if spider.profile is None else 'starts at'} {_mm(spider.inner_radius)}; it must "
            f"{'be' if spider.profile is None else 'start'} below rim.inner_radius, {_mm(rotor.rim.inner_radius)}",
        )
    if isinstance(spider, DiscSpider) and spider.profile is not None:
        end = spider.profile[-1][0]
        yield (
            np.abs(end - bore) <= 0.5e-3,
            "spider.profile",
            f"ends at {_mm(end)}; it must end at rim.inner_radius, {_mm(rotor.rim.inner_radius)}",
        )
    if isinstance(spider, ArmSpider):
        yield (
            np.asarray(spider.hub_radius) < bore,
            "spider.hub_radius",
            f"is {_mm(spider.hub_radius)}; it must be below rim.inner_radius, {_mm(rotor.rim.inner_radius)}",
        )


def _gap_rules(rotor: Rotor) -> Iterator[tuple[object, str, str]]:
    gap = rotor.air_gap
    if gap.stator_bore_radius is not None:
        yield (
            np.abs(np.asarray(gap.stator_bore_radius) - np.asarray(rotor.stator_bore_radius)) <= 0.5e-3,
            "air_gap.cold",
            f"is {_mm(gap.cold)}, and with poles.face_radius {_mm(rotor.poles.face_radius)} makes a bore of "
            f"{_mm(rotor.stator_bore_radius)}, but air_gap.stator_bore_radius is {_mm(gap.stator_bore_radius)}; "
            "they must agree within 0.5 mm",
        )
    for name in ("centre_offset", "orbit", "stator_lean", "rotor_lean"):
        value = getattr(rotor.assembly, name)
        if value is not None:
            yield (
                np.asarray(value) < np.asarray(gap.cold),
                f"assembly.{name}",
                f"is {_mm(value)}; it must be below the cold gap, {_mm(gap.cold)}",
            )
    if gap.minimum_allowed is not None:
        yield (
            np.asarray(gap.minimum_allowed) < np.asarray(gap.cold),
            "air_gap.minimum_allowed",
            f"is {_mm(gap.minimum_allowed)}; it must be below the cold gap, {_mm(gap.cold)}",
        )


def _key_rules(rotor: Rotor) -> Iterator[tuple[object, str, str]]:
    if np.any(np.isfinite(rotor.fit.key_stiffness)):
        yield (
            rotor.key_count is not None,
            "fit.key_stiffness",
            "is per key, but the number of keys is not known; give fit.key_count",
        )


def _axial_rules(rotor: Rotor) -> Iterator[tuple[object, str, str]]:
    axial, rim = rotor.axial, rotor.rim
    length, steel = np.asarray(rim.length), rim.material
    if axial.pole_length is not None:
        yield (
            np.asarray(axial.pole_length) <= 1.2 * length,
            "axial.pole_length",
            f"is {_mm(axial.pole_length)}; it must be at most 1.2 times rim.length, {_mm(rim.length)}",
        )
    yield (
        np.abs(np.asarray(axial.pole_rise)) <= 0.25 * length,
        "axial.pole_rise",
        f"is {_mm(axial.pole_rise)}; it must be at most a quarter of rim.length, {_mm(rim.length)}, up or down",
    )
    young = np.max(np.asarray(steel.young_modulus))
    solid = {"shear_modulus": young / (2.0 * (1.0 + np.min(np.asarray(steel.poisson_ratio)))), "axial_modulus": young}
    for name, most in solid.items():
        pair = getattr(axial, name)
        if pair is not None:
            yield (
                pair[1] <= 1.01 * most,
                f"axial.{name}",
                f"reaches {with_unit(pair[1], 'stack modulus', '.4g')}; it must be at most that of the solid steel, "
                f"{with_unit(float(most), 'stack modulus', '.4g')}",
            )


def _speed_rules(rotor: Rotor) -> Iterator[tuple[object, str, str]]:
    rated = float(np.max(rotor.speeds.rated))
    around = float(np.max(np.asarray(rotor.speeds.rated) * np.asarray(rotor.rim.outer_radius)))
    yield around <= FASTEST_RIM, "speeds.rated", _too_fast(rated, around)


def _too_fast(rated: float, around: float) -> str:
    """Words for a rated speed at which no rim of steel holds: most likely rpm given as rad/s."""
    meant = probably_meant(rated, "speed", lambda value: around * value / rated <= FASTEST_RIM) if rated else ""
    return (
        f"is {rated:.5g} rad/s ({rpm(rated, '.5g')}), which is {around:.4g} m/s at rim.outer_radius; "
        f"it must be at most {FASTEST_RIM:g} m/s{meant}"
    )
