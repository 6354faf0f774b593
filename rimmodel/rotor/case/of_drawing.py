"""Keys of a case for what drawings give: diameters in place of radii, and numbers that the others must agree with."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from rimmodel.rotor.case.drawing import stated_faults
from rimmodel.rotor.case.stated import Stated
from rimmodel.rotor.conditions import Condition
from rimmodel.rotor.rim_sides import take_rim_sides
from rimmodel.rotor.rotor import Rotor
from rimmodel.rotor.shrink_fit import MEAN_AGREES_WITHIN
from rimmodel.rotor.spider import ArmSpider, DiscSpider, Spider
from rimmodel.units import celsius, in_mm, mm

RADII_AGREE_WITHIN = 0.5e-3
"""Metres by which half a diameter may miss the radius beside it: what drawings round to."""


def resolve_diameters(where: str, stored: type[Any], table: dict[str, Any], faults: list[str]) -> None:
    """Turn the diameters of a table into radii, and take them out; both may stand where they agree."""
    for field in fields(stored):
        diameter = field.metadata.get("diameter")
        if diameter is None:
            continue
        twice, radius = table.pop(diameter, None), table.get(field.name)
        allowed = MEAN_AGREES_WITHIN if where == "fit" else RADII_AGREE_WITHIN
        if twice is None:
            if radius is None and field.name in _needed(stored):
                faults.append(f"{where}.{field.name}: missing ({field.metadata['meaning']}); or give {diameter}")
        elif radius is None:
            table[field.name] = twice / 2
        elif abs(twice / 2 - radius) > allowed:
            faults.append(
                f"{where}.{diameter} is {mm(twice, 'g')}, half of it {mm(twice / 2, 'g')}; but "
                f"{where}.{field.name} is {mm(radius, 'g')}; they must agree within "
                f"{mm(allowed, 'g')}, or give one of the two"
            )


def _needed(stored: type[Any]) -> set[str]:
    """Fields that no other key can give but the diameter."""
    from dataclasses import MISSING

    return {
        field.name
        for field in fields(stored)
        if field.default is MISSING and not (field.metadata.get("from_gap") or field.metadata.get("derived"))
    }


def read_stated(tables: dict[str, dict[str, Any] | None], rotor: dict[str, Any] | None) -> Stated:
    """What the case states besides, taken out of the tables of rim and speeds."""
    rim, speeds = tables["rim"] or {}, tables["speeds"] or {}
    rotor = rotor or {}
    return Stated(rim.pop("mass", None), speeds.pop("frequency", None), rotor.get("inertia"), rotor.get("gd2"))


def check_stated(rotor: Rotor, stated: Stated, faults: list[str]) -> None:
    """Add a fault for each stated number that masses, radii or speeds contradict, and for poles inside the rim.

    A book's thin ring may carry its load at its own radius; the poles of a machine stand outside their seat.
    """
    centre, outside = float(rotor.poles.mass_radius), float(rotor.rim.outer_radius)
    if not centre > outside:
        faults.append(
            f"poles.mass_radius is {mm(centre, 'g')}; it must be outside the rim, {in_mm(outside):g} "
            "mm: it is that of a pole with its winding"
        )
    faults += stated_faults(rotor, stated)


def mean_spider_temperature(spider: Spider, bore_radius: float, hub: float, rim: float) -> float:
    """Mean that governs the growth of a spider whose temperature is linear in radius from hub to rim bore.

    A disc of constant thickness grows outside like its area mean ``2 int(T r dr)/(b^2 - a^2)``; a profile weighs the
    zones by their stiffness, and is solved. Arms grow by their length mean; the hub from which they start has the hub
    temperature throughout. A spider given by its stiffness has no known shape: the arithmetic mean.

    Parameters
    ----------
    bore_radius : float, m
        Of the rim.
    hub, rim : float, K
        At the bore of the disc, or at the hub; and at the rim bore.

    Returns
    -------
    float, K
    """
    if isinstance(spider, DiscSpider) and spider.profile is not None:
        return hub + (rim - hub) * _profile_share(spider, bore_radius)
    if isinstance(spider, DiscSpider):
        inner = float(spider.inner_radius)
        # for T linear in r: mean = T_a + (T_b - T_a) (a + 2 b) / (3 (a + b))
        return hub + (rim - hub) * (inner + 2 * bore_radius) / (3 * (inner + bore_radius))
    if isinstance(spider, ArmSpider):
        share = float(spider.hub_radius) / bore_radius
        return share * hub + (1 - share) * (hub + rim) / 2
    return (hub + rim) / 2


def _profile_share(spider: DiscSpider, bore_radius: float) -> float:
    """Growth outside by a temperature that rises from 0 at the bore to 1 outside, over that of 1 throughout."""
    from rimmodel.elastic import Disc

    steel = spider.material
    radii, thicknesses = zip(*(spider.profile or ()), strict=True)
    disc = Disc(radii, thicknesses, float(steel.young_modulus), float(steel.poisson_ratio), 0.0, 1.0 / bore_radius)
    return float(disc.state(radii[-1], temperature=(0.0, 1.0)).radial_displacement)


def read_conditions(group: dict[str, dict[str, Any]], rotor: Rotor | None, faults: list[str]) -> dict[str, Condition]:
    """Conditions from their checked tables; the temperatures of two sides become the means of rim and spider."""
    return {name: Condition(**_condition(name, dict(table), rotor, faults)) for name, table in group.items()}


def _condition(name: str, table: dict[str, Any], rotor: Rotor | None, faults: list[str]) -> dict[str, Any]:
    take_rim_sides(name, table, None if rotor is None else rotor.rim, faults)
    hub, rim = table.pop("spider_hub_temperature", None), table.pop("spider_rim_temperature", None)
    where = f"conditions.{name}"
    if hub is None and rim is None:
        return table
    if hub is None or rim is None:
        lacking = "spider_hub_temperature" if hub is None else "spider_rim_temperature"
        faults.append(f"{where}.{lacking}: missing; give both sides of the spider, or spider_temperature alone")
    elif rotor is not None:
        mean = mean_spider_temperature(rotor.spider, float(rotor.rim.inner_radius), hub, rim)
        given = table.get("spider_temperature")
        if given is not None and abs(given - mean) > 0.5:
            faults.append(
                f"{where}.spider_temperature is {celsius(given, 'g')}, but hub and rim side make a mean of "
                f"{celsius(mean, '.4g')}; they must agree within 0.5 K, or leave spider_temperature out"
            )
        table["spider_temperature"] = mean
    return table
