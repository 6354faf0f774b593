"""Doubts about a case: what is legal but does not look like a machine, named, and whether it stops a verdict."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rimmodel.rotor.case.drawing import drawing
from rimmodel.rotor.conditions import REFERENCE_TEMPERATURE
from rimmodel.rotor.registry import quantity_at
from rimmodel.rotor.requirements import Claim, Requirement
from rimmodel.rotor.spider import ArmSpider, DiscSpider, GivenSpider
from rimmodel.rotor.tolerance import PER_KEY
from rimmodel.units import in_print, mm, with_unit

if TYPE_CHECKING:
    from rimmodel.rotor.case.case import Case

SPIDER_OVER_RIM = (15.0, 30.0)
"""K by which the spider may be hotter than the rim: a remark above the first, no verdict above the second."""
RIM_OVER_SPIDER = 40.0
HOT = (95.0, 115.0)
"""degC of rim or spider: a remark above the first, no verdict above the second."""
STRONG_FIELD = (1.15, 1.3)
TOLERANCE_OF_CLAIM = 0.25


@dataclass(frozen=True)
class Doubt:
    """One doubt about a case.

    Attributes
    ----------
    name : str
        The key or the derived number that is doubted.
    text : str
        What is odd, against what, and what to do.
    blocks : bool
        So odd that no claim or requirement that it concerns may hold.
    condition, item : str or None
        The one condition, or the one claim or requirement by its key, that it concerns; all when both are None.
    """

    name: str
    text: str
    blocks: bool
    condition: str | None = None
    item: str | None = None

    def __str__(self) -> str:
        return self.text

    def concerns(self, condition: str, item: str) -> bool:
        """Whether a claim or requirement (by its key) in a condition is concerned."""
        return self.condition in (None, condition) and self.item in (None, item)


def item_key(item: Claim | Requirement) -> str:
    """The key of a claim or a requirement in the case file."""
    return f"claims.{item.quantity}" if isinstance(item, Claim) else f"requirements.{item.name}"


def blocking_doubt(case: Case, item: Claim | Requirement) -> Doubt | None:
    """The first doubt for which a claim or a requirement may not hold, or None."""
    name, _ = case.condition(item.condition)
    found = (doubt for doubt in case_doubts(case) if doubt.blocks and doubt.concerns(name, item_key(item)))
    return next(found, None)


def case_doubts(case: Case) -> tuple[Doubt, ...]:
    """Every doubt about a case, those that stop a verdict first."""
    lines = drawing(case.rotor, case.stated, "interference_on_diameter" in case.as_read.get("fit", {}))
    found = [Doubt(line.name, line.remark, line.blocks) for line in lines if line.remark]
    found += [*_spider(case), *_materials(case), *_others(case)]
    for name in case.conditions:
        found += _condition(case, name)
    items: list[Claim | Requirement] = [*case.claims, *case.requirements]
    for item in items:
        found += _item(case, item)
    return tuple(sorted(found, key=lambda doubt: not doubt.blocks))


def _outside(
    name: str, value: float, usual: tuple[float, float], possible: tuple[float, float], text: str
) -> list[Doubt]:
    """A doubt where a value (SI) lies outside the usual band."""
    if usual[0] <= value <= usual[1]:
        return []
    return [Doubt(name, f"{name}: {text}", not possible[0] <= value <= possible[1])]


def _spider(case: Case) -> list[Doubt]:
    rotor = case.rotor
    spider, a, length = rotor.spider, float(rotor.rim.inner_radius), float(rotor.rim.length)
    if isinstance(spider, ArmSpider):
        hub = float(spider.hub_radius)
        around = float(spider.count) * float(spider.arm_area) / (2 * np.pi * hub * length)
        share = float(spider.count) * float(spider.arm_area) / (2 * np.pi * a * length)
        tips = float(spider.count) * float(spider.tip_mass)
        ring = 2 * np.pi * a * length
        return [
            *_outside(
                "spider.arm_area", around, (0.0, 0.5), (0.0, 1.0),
                f"all arms take up {100 * around:.3g} % of the circumference of the hub on the rim length; "
                "check area, unit and number",
            ),
            *_outside(
                "spider.arm_area", share, (0.004, np.inf), (0.0008, np.inf),
                f"all arms take up {100 * share:.2g} % of the rim bore; 1 to 5 % is usual; check area, unit and number",
            ),
            *_outside(
                "spider.hub_radius", hub / a, (0.1, 0.85), (0.03, 0.97),
                f"the hub takes up {100 * hub / a:.3g} % of the radius of the rim bore; check both (radius, not "
                f"diameter)",
            ),
            *_outside(
                "spider.tip_mass", tips / ring, (0.0, 600.0), (0.0, 2500.0),
                f"all tips weigh {with_unit(tips, 'mass')}; it must be the mass at one arm, check the unit",
            ),
        ]  # fmt: skip
    if isinstance(spider, DiscSpider):
        share = float(spider.outer_thickness) / length
        return _outside(
            "spider.thickness", share, (0.03, 1.2), (0.005, 2.0),
            f"the disc is {100 * share:.3g} % as thick as the rim is long; it is the axial thickness of all plates",
        )  # fmt: skip
    return _given(spider, a, length, case)


def _given(spider: GivenSpider, a: float, length: float, case: Case) -> list[Doubt]:
    steel = spider.material or case.rotor.rim.material
    modulus, density = float(steel.young_modulus), float(steel.density)
    stiffness = float(spider.radial_stiffness) / (modulus * length)
    spin = density * a**3 * float(spider.growth_speed) ** 2 / modulus
    share = float(spider.growth) / spin
    return [
        *_outside(
            "spider.radial_stiffness", stiffness, (0.01, 9.0), (0.002, 12.0),
            f"it is {stiffness:.3g} of Young's modulus times rim length; 0.05 to 3 is usual for the total of all "
            f"arms; check the unit",
        ),
        *_outside(
            "spider.growth", share, (0.1, 1.2), (0.02, 2.5),
            f"it is {share:.3g} of that of a free steel ring of the rim bore at growth_speed; a disc has 0.18, arms "
            "0.3 to 0.8; check growth (radial) and growth_speed",
        ),
    ]  # fmt: skip


def _materials(case: Case) -> list[Doubt]:
    found, rotor = [], case.rotor
    for part, steel in (("rim", rotor.rim.material), ("spider", rotor.spider.material)):
        if steel is None or steel.thermal_expansion:
            continue
        hot = [name for name, state in case.conditions.items() if not _uniform_cold(state)]
        found += [
            Doubt(
                f"{part} thermal_expansion",
                f"the material of the {part} has no thermal_expansion, so the temperatures of condition '{name}' do "
                "not act on it; give it (steel has 12e-6 1/K)",
                True,
                condition=name,
            )
            for name in hot
        ]
    if float(rotor.rim.stacking_factor) < 0.9:
        found.append(
            Doubt(
                "rim.stacking_factor",
                f"rim.stacking_factor is {float(rotor.rim.stacking_factor):g}; 0.93 to 0.99 is usual (from memory, "
                "confirm); holes and ducts count here only to the extent that they remove mass",
                False,
            )
        )
    return found


def _uniform_cold(state: object) -> bool:
    return all(
        value is None or abs(float(value) - REFERENCE_TEMPERATURE) < 0.5
        for value in (getattr(state, f"{part}_temperature") for part in ("rim", "spider", "pole", "stator"))
    )


def _others(case: Case) -> list[Doubt]:
    fit, found = case.rotor.fit, []
    interference = float(fit.interference)
    if float(fit.settlement) > interference > 0:
        found.append(
            Doubt(
                "fit.settlement",
                f"fit.settlement is {mm(fit.settlement, 'g')}, more than the interference of "
                f"{mm(interference, 'g')}: nothing is left of the fit; check the unit",
                False,
            )
        )
    if interference > 0 and float(fit.interference_tolerance) > 0.5 * interference:
        found.append(
            Doubt(
                "fit.interference_tolerance",
                f"fit.interference_tolerance is {mm(fit.interference_tolerance, 'g')} for an "
                f"interference of {mm(interference, 'g')}; it is a half-width, check the unit",
                False,
            )
        )
    if case.load_rejection is not None:
        from rimmodel.rotor.case.drawing import rotor_inertia

        own, given = rotor_inertia(case.rotor), float(case.load_rejection.inertia)
        low, high = 0.8, 2.5
        if not low <= given / own <= high:
            found.append(
                Doubt(
                    "load_rejection.inertia",
                    f"load_rejection.inertia is {with_unit(given, 'inertia', '.5g')}, {given / own:.3g} times "
                    f"that of rim, poles and spider, {with_unit(own, 'inertia', '.5g')}; {low:g} to {high:g} is "
                    f"expected; check masses and radii, and that it is J, a quarter of GD2",
                    True,
                )
            )
    return found


def _condition(case: Case, name: str) -> list[Doubt]:
    state, found = case.conditions[name], []
    rim, spider = float(state.rim_temperature), float(state.spider_temperature)
    where = f"conditions.{name}"
    for part, value in (("rim", rim), ("spider", spider)):
        celsius = in_print(value, "temperature")
        if celsius > HOT[0]:
            text = (
                f"{where}.{part}_temperature is {celsius:.4g} degC; {part}s run at 30 to 80 degC (from memory, "
                "confirm); check degC against degF"
            )
            found.append(Doubt(f"{where}.{part}_temperature", text, celsius > HOT[1], condition=name))
    if spider - rim > SPIDER_OVER_RIM[0]:
        text = (
            f"in condition '{name}' the spider is {spider - rim:.3g} K hotter than the rim, which tightens the fit; in "
            "service the rim is 5 to 15 K hotter than the spider (from memory, confirm); check both temperatures"
        )
        found.append(Doubt(f"{where}.spider_temperature", text, spider - rim > SPIDER_OVER_RIM[1], condition=name))
    if rim - spider > RIM_OVER_SPIDER:
        text = (
            f"in condition '{name}' the rim is {rim - spider:.3g} K hotter than the spider; 5 to 15 K in service, 40 "
            "to 80 K while shrinking (from memory, confirm); check both temperatures"
        )
        found.append(Doubt(f"{where}.rim_temperature", text, False, condition=name))
    field = float(np.asarray(state.flux_density))
    if field > STRONG_FIELD[0] or 0 < field < 0.3:
        text = (
            f"{where}.flux_density is {field:g} T; the peak fundamental in the gap is 0.8 to 1.05 T (follows from "
            "usual machines, from memory); check that it is not a tooth value, an RMS value or a no-load value"
        )
        blocks = field > STRONG_FIELD[1] or field < 0.1
        found.append(Doubt(f"{where}.flux_density", text, blocks, condition=name))
    return found


def _item(case: Case, item: Claim | Requirement) -> list[Doubt]:
    """Bounds that anything meets: they hold by a slip."""
    key, found = item_key(item), []
    values = [item.value] if isinstance(item, Claim) else [item.at_least, item.at_most]
    value = float(next(value for value in values if value is not None))

    def doubt(text: str) -> None:
        found.append(Doubt(key, f"{key} {text}", True, item=key))

    if isinstance(item, Claim) and item.tolerance > TOLERANCE_OF_CLAIM:
        doubt(f"counts as met within a tolerance of {item.tolerance:g}, a share of its value; 0.05 is 5 %")
    asked = quantity_at(item.quantity).quantity
    slips = [
        asked.slip_of_floor if isinstance(item, Claim) or item.at_least is not None else None,
        asked.slip_of_ceiling if isinstance(item, Claim) or item.at_most is not None else None,
    ]
    if asked.of_keys and not any(row.name == PER_KEY for row in case.tolerances):
        doubt(
            f"is the {asked.words}, which depends on the tightest and the loosest shim; the case does not say how well "
            "single shims are known: give fit.key_interference_tolerance"
        )
    for slip in slips:
        if slip is not None and (why := slip(case.rotor, value)):
            doubt(why)
    return found
