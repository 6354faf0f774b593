"""Rim and spider as lines of heat: capacity, conduction and surface at nodes along the radius."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from rimmodel.arrays import Floats, floats
from rimmodel.elastic import Disc
from rimmodel.elastic.heat_elements import conduction_matrix, node_shares
from rimmodel.rotor import ArmSpider, DiscSpider, Rotor
from rimmodel.rotor.thermal import Thermal


@dataclass(frozen=True)
class Line:
    """Nodes along the radius of rim or spider.

    Attributes
    ----------
    place : array (node,), m
        Radius.
    capacity : array (node,), SI
        Heat capacity in J/K.
    conduction : array (node, node), SI
        In W/K.
    bore, outer : array (node,), m2
        Surface of the bore, and of the outside of a rim or of all of a spider.
    mean : array (node,), -
        Weights of the mean temperature that governs growth.
    """

    place: Floats
    capacity: Floats
    conduction: Floats
    bore: Floats
    outer: Floats
    mean: Floats


def rim_line(rotor: Rotor, thermal: Thermal, elements: int) -> Line:
    """The rim from its bore to the bottom of its slots, with its teeth at the outside; the mean is that of the area.

    Heat flows along the sheets, in the steel share of the stack. Source: `rimmodel.elastic.heat_elements`.

    Returns
    -------
    Line
    """
    rim = rotor.rim
    inner, outer, top, length, stacking = (
        _number(value)
        for value in (rim.inner_radius, rim.slot_bottom_radius, rim.outer_radius, rim.length, rim.stacking_factor)
    )
    heat = _number(rim.material.density) * float(thermal.specific_heat)
    place = np.linspace(inner, outer, elements + 1)
    section = 2 * np.pi * place * length * stacking
    capacity = heat * node_shares(place, section)
    capacity[-1] += heat * stacking * np.pi * (top**2 - outer**2) * length * (1 - _number(rim.slot_share))
    ends = np.eye(elements + 1)[[0, -1]] * 2 * np.pi * length
    conduction = conduction_matrix(place, float(thermal.thermal_conductivity) * section)
    return Line(place, capacity, conduction, ends[0] * inner, ends[1] * top, _area_mean(place))


def spider_line(rotor: Rotor, thermal: Thermal, elements: int) -> Line:
    """The spider from hub or bore to the rim: arms along their length, a disc on both faces, a given one as one body.

    The hub of arms has the temperature of their roots. Source: `rimmodel.elastic.heat_elements`.

    Returns
    -------
    Line

    Raises
    ------
    ValueError
        What the kind of spider needs is not given.
    """
    spider, a = rotor.spider, _number(rotor.rim.inner_radius)
    if isinstance(spider, ArmSpider):
        return _arms(spider, a, thermal, elements)
    if isinstance(spider, DiscSpider):
        return _disc(spider, a, thermal, elements)
    if thermal.spider_mass is None or thermal.spider_surface is None:
        raise ValueError(
            "thermal: spider_mass and spider_surface are missing; a spider given by its stiffness needs them"
        )
    body = np.ones(1)
    capacity = body * float(thermal.spider_mass) * float(thermal.specific_heat)
    return Line(body * a, capacity, np.zeros((1, 1)), 0 * body, body * float(thermal.spider_surface), body)


def _arms(spider: ArmSpider, a: float, thermal: Thermal, elements: int) -> Line:
    if thermal.arm_perimeter is None:
        raise ValueError("thermal: arm_perimeter is missing; a spider of arms needs the girth of one arm")
    hub, count, area = (_number(value) for value in (spider.hub_radius, spider.count, spider.arm_area))
    heat = float(thermal.specific_heat)
    place = np.linspace(hub, a, elements + 1)
    along = node_shares(place, np.ones_like(place))
    capacity = _number(spider.material.density) * heat * count * area * along
    capacity[-1] += count * _number(spider.tip_mass) * heat
    capacity[0] += float(thermal.hub_mass or 0.0) * heat
    mean = along / a
    mean[0] += hub / a
    conduction = conduction_matrix(place, np.full_like(place, float(thermal.thermal_conductivity) * count * area))
    return Line(place, capacity, conduction, 0 * place, count * float(thermal.arm_perimeter) * along, mean)


def _disc(spider: DiscSpider, a: float, thermal: Thermal, elements: int) -> Line:
    even = _number(spider.outer_thickness)
    profile = spider.profile or ((_number(spider.inner_radius), even), (a, even))
    radii, thicknesses = (floats(column) for column in zip(*profile, strict=True))
    place = _places(radii, elements)
    size = np.diff(place) * 1e-6  # a step in thickness is taken by the element on its side
    sides = np.stack([place[:-1] + size, place[1:] - size])
    deep = np.interp(sides, radii, thicknesses).mean(axis=0)  # (element,), m
    section = 2 * np.pi * place
    heat = _number(spider.material.density) * float(thermal.specific_heat)
    capacity, matrix = np.zeros_like(place), np.zeros((len(place), len(place)))
    for element, thickness in enumerate(deep):
        part = slice(element, element + 2)
        capacity[part] += heat * thickness * node_shares(place[part], section[part])
        through = float(thermal.thermal_conductivity) * thickness * section[part]
        matrix[part, part] += conduction_matrix(place[part], through)
    mean = _area_mean(place) if spider.profile is None else _profile_mean(spider, radii, thicknesses, place)
    return Line(place, capacity, matrix, 0 * place, 2 * node_shares(place, section), mean)


def _number(value: object) -> float:
    return float(np.asarray(value))


def _area_mean(place: Floats) -> Floats:
    area = node_shares(place, place)
    return floats(area / area.sum())


def _places(radii: Floats, elements: int) -> Floats:
    """Nodes of a disc: its own radii, with the zones between them cut evenly."""
    own = np.unique(radii)
    size = (own[-1] - own[0]) / elements
    cuts = [np.linspace(start, end, 1 + max(1, round((end - start) / size)))[:-1] for start, end in pairwise(own)]
    return np.append(np.concatenate(cuts), own[-1])


def _profile_mean(spider: DiscSpider, radii: Floats, thicknesses: Floats, place: Floats) -> Floats:
    """Weights of the mean that governs the growth of a profile: each element warmed alone, by what it does outside."""
    steel = spider.material
    added = np.setdiff1d(place, radii)
    order = np.argsort(np.concatenate([radii, added]), kind="stable")
    cut = np.concatenate([radii, added])[order]
    deep = np.concatenate([thicknesses, np.interp(added, radii, thicknesses)])[order]
    disc = Disc(cut, deep, _number(steel.young_modulus), _number(steel.poisson_ratio), 0.0)
    # by reciprocity: growth outside per temperature is the sum of stresses by a pull there, times the volume
    middle = (place[:-1] + place[1:]) / 2
    pulled = disc.state(middle, outer_traction=1.0)
    size = np.diff(place) * 1e-6
    beside = np.interp(np.stack([place[:-1] + size, place[1:] - size]), radii, thicknesses).mean(axis=0)
    share = (pulled.radial_stress + pulled.hoop_stress) * beside * middle * np.diff(place)
    weights = np.zeros_like(place)
    weights[:-1] += share / 2
    weights[1:] += share / 2
    return floats(weights / weights.sum())
