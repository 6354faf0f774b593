"""Rim and spider while the rim is heated for its keys: a network with heaters, covers and what the spider takes.

Rim and spider are the lines of `rimmodel.behaviour.heat.lines`, their temperatures sums of a few polynomials. The rim
loses heat from its outside and both ends to the air of the hall, and from its bore to the spider, on all of the surface
of that: the spider warms, which takes back part of the growth. Nothing turns, no field, no losses but these.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.contact.spider import spider_expansion
from rimmodel.behaviour.heat.draws import spread
from rimmodel.behaviour.heat.lines import Line, rim_line, spider_line
from rimmodel.elastic.heat_elements import node_shares, orthonormal_polynomials
from rimmodel.elastic.heat_steps import HeatModes, heat_modes
from rimmodel.elastic.thermal_stress import thermal_stress
from rimmodel.rotor import REFERENCE_TEMPERATURE, Rotor
from rimmodel.rotor.heating import RimHeating
from rimmodel.rotor.thermal import Thermal

ELEMENTS, RIM_DEGREE, SPIDER_DEGREE = 96, 7, 9
"""Elements through the depth of the rim and along the spider, and the degree of the polynomials on them."""

STATIONS = 24
"""Parts of the depth between which the temperature is taken as straight for spread, stress and growth."""

COVERED, OPEN = "covered_heat_transfer", "open_heat_transfer"
LOOSE, SEATED = "contact_conductance", "seated_conductance"
"""Rim to spider while keys are loose, and once they hold."""


@dataclass(frozen=True)
class HeatedRim:
    """The network with every draw of its exchange. Temperatures of the nodes are ``basis @ coordinates``.

    Attributes
    ----------
    basis : array (node, coordinate), SI
        In (J/K)^-1/2, orthonormal in the heat capacity.
    capacity : array (node,), SI
        In J/K: rim from bore to outside, then spider, then poles where they have a temperature of their own.
    values : dict of str to array (draw,), SI
        Of the ranges, by name; the middle first.
    covered, opened, seated : HeatModes
        With the covers of heating, as they are while keys are fitted, and so with keys that hold; over draws.
    covered_air, opened_air : array (draw, coordinate), SI
        What the air of the hall puts in.
    heater : array (coordinate,), SI
        What 1 W into the rim puts in.
    stations : array (station, coordinate), SI
        Temperatures through the depth of the rim.
    rim_mean, spider_mean : array (coordinate,), SI
        Means that govern growth.
    growth_per_kelvin : pair of float, SI
        Of the rim bore, and of the spider, m/K.
    hoop_per_temperature : array (station, station), SI
        Of the free rim, Pa per K.
    stored_in_rim : float, SI
        Heat capacity of the rim with what hangs on it, J/K.
    lost_by_rim : float, W/K
        Exchange of the rim in the middle of all ranges, covered, with the air and with a spider that stays cold.
    """

    basis: Floats
    capacity: Floats
    values: Mapping[str, Floats]
    covered: HeatModes
    opened: HeatModes
    seated: HeatModes
    covered_air: Floats
    opened_air: Floats
    heater: Floats
    stations: Floats
    rim_mean: Floats
    spider_mean: Floats
    growth_per_kelvin: tuple[float, float]
    hoop_per_temperature: Floats
    stored_in_rim: float
    lost_by_rim: float

    @property
    def draws(self) -> int:
        """Number of machines that are possible."""
        return len(self.covered_air)

    def even(self, temperature: float) -> Floats:
        """Coordinates (draw, coordinate) of one temperature throughout.

        Parameters
        ----------
        temperature : float, K
        """
        one = (np.full(len(self.capacity), temperature) * self.capacity) @ self.basis
        return np.tile(one, (self.draws, 1))

    def growth(self, state: Floats) -> Floats:
        """Radial growth (...) of the rim bore over that of the spider, free of each other, since 20 degC throughout.

        Parameters
        ----------
        state : array (..., coordinate), SI

        Returns
        -------
        array (...), m
        """
        rim, spider = self.growth_per_kelvin
        mean, beneath = state @ self.rim_mean, state @ self.spider_mean
        return floats(rim * (mean - REFERENCE_TEMPERATURE) - spider * (beneath - REFERENCE_TEMPERATURE))

    def mean(self, state: Floats) -> Floats:
        """Mean temperature (...) of the rim, by which its bore grows, K.

        Parameters
        ----------
        state : array (..., coordinate), SI
        """
        return floats(state @ self.rim_mean)

    def spider(self, state: Floats) -> Floats:
        """Mean temperature (...) of the spider, by which it grows, K.

        Parameters
        ----------
        state : array (..., coordinate), SI
        """
        return floats(state @ self.spider_mean)

    def spread(self, state: Floats) -> Floats:
        """Largest minus smallest temperature (...) through the depth of the rim, K.

        Parameters
        ----------
        state : array (..., coordinate), SI
        """
        return floats(np.ptp(state @ self.stations.T, axis=-1))

    def stress(self, state: Floats) -> Floats:
        """Largest size (...) of the hoop stress in the free rim by its uneven temperature, Pa.

        Parameters
        ----------
        state : array (..., coordinate), SI
        """
        return floats(np.abs(state @ (self.hoop_per_temperature @ self.stations).T).max(axis=-1))

    def cooled(self, state: Floats, time: Floats) -> Floats:
        """Every machine (draw, moment, coordinate) after the power went off, covers as while keys are fitted, SI.

        Parameters
        ----------
        state : array (draw, coordinate), SI
        time : array (moment,), s
        """
        return self.opened.after(state, self.opened_air, time)


def possible_values(heating: RimHeating, thermal: Thermal) -> dict[str, Floats]:
    """Every range in its middle, then each at either end with the rest in the middle, then all corners.

    Power, time and growth rise or fall with each range throughout, so that their extremes lie at corners. What keys
    that hold conduct goes with what loose keys do. Derived here.

    Returns
    -------
    dict of str to array (draw,), SI

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> found = possible_values(case.heating, case.thermal)
    >>> len(found["heater_share"]), bool(found["heater_share"].min() == case.heating.heater_share[0])
    (77, True)
    """
    spans = dict(heating.spans)
    if heating.poles == "fitted" and thermal.pole_conductance is not None:
        spans["pole_conductance"] = thermal.pole_conductance
    names = list(spans)
    rows = [np.full(len(names), 0.5)]
    for place in range(len(names)):
        for end in (0.0, 1.0):
            row = np.full(len(names), 0.5)
            row[place] = end
            rows.append(row)
    corners = np.indices((2,) * len(names)).reshape(len(names), -1).T.astype(float)
    table = np.vstack([*rows, corners])
    seated = spread({SEATED: thermal.contact_conductance}, table[:, [names.index(LOOSE)]])
    return spread(spans, table) | seated


def heated_rim(
    rotor: Rotor, thermal: Thermal, heating: RimHeating, elements: int = ELEMENTS, extra_degree: int = 0
) -> HeatedRim:
    """The network of a heated rim; the numbers of the machine must be scalars.

    Source: `rimmodel.elastic.heat_elements` and `rimmodel.elastic.heat_steps`.

    Parameters
    ----------
    elements : int
        Of rim and of spider, each.
    extra_degree : int
        Of the polynomials, beyond those of the house.

    Returns
    -------
    HeatedRim

    Raises
    ------
    ValueError
        What the kind of spider needs is not given in `thermal`.

    An even rim over an even spider at 20 degC grows by a alpha dT, 3.62 m x 12e-6 x 60 K:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> model = heated_rim(case.rotor, case.thermal, case.heating)
    >>> rise = 60.0 * (model.even(1.0)[0] @ model.basis.T > 0)
    >>> rise[97:] = 0.0
    >>> print(f"{model.growth(((293.15 + rise) * model.capacity) @ model.basis) * 1e3:.4f} mm")
    2.6064 mm
    """
    values = possible_values(heating, thermal)
    rim, spider = rim_line(rotor, thermal, elements), spider_line(rotor, thermal, elements)
    poles = _poles(rotor, thermal, heating)
    own = poles is not None and thermal.pole_conductance is not None
    outer = rim.outer + 2 * node_shares(rim.place, 2 * np.pi * rim.place)  # outside with both ends
    if poles is not None and not own:
        rim.capacity[-1] += poles[0]
        outer[-1] += poles[1]
    inner, size = len(rim.place), len(rim.place) + len(spider.place)
    nodes = size + own
    capacity, loss, surface = np.zeros(nodes), np.zeros(nodes), np.zeros(nodes)
    capacity[:inner], capacity[inner:size], loss[:inner], surface[inner:size] = (
        rim.capacity, spider.capacity, outer, spider.outer
    )  # fmt: skip
    if own and poles is not None:
        capacity[-1], loss[-1] = poles
    basis = np.zeros((nodes, 0))
    degree = min(SPIDER_DEGREE + extra_degree, len(spider.place) - 1)
    basis = _beside(basis, 0, orthonormal_polynomials(rim.place, rim.capacity, RIM_DEGREE + extra_degree))
    basis = _beside(basis, inner, orthonormal_polynomials(spider.place, spider.capacity, degree))
    if own:
        basis = _beside(basis, size, np.full((1, 1), capacity[-1] ** -0.5))
    conduction = np.zeros((nodes, nodes))
    conduction[:inner, :inner], conduction[inner:size, inner:size] = rim.conduction, spider.conduction
    fixed = basis.T @ conduction @ basis + _bore_to_spider(basis, rim.bore, surface, values["bore_heat_transfer"])
    if own:
        seats = float(np.asarray(rotor.poles.count)) * values["pole_conductance"]
        fixed = fixed + _joined(basis, inner - 1, size, seats)
    modes, airs = [], []
    for cover, contact in ((COVERED, LOOSE), (OPEN, LOOSE), (OPEN, SEATED)):
        out = values[cover][:, np.newaxis] * loss + values["spider_heat_transfer"][:, np.newaxis] * surface
        matrix = fixed + _joined(basis, 0, size - 1, values[contact]) + (basis.T * out[:, np.newaxis, :]) @ basis
        modes.append(heat_modes(np.ones(basis.shape[1]), matrix))
        airs.append(floats(out * float(heating.air)) @ basis)
    seen = np.arange(0, inner, max(1, (inner - 1) // STATIONS))
    seen[-1] = inner - 1
    inside = thermal_stress(rotor.rim.ring, rim.place[seen])
    a = float(np.asarray(rotor.rim.inner_radius))
    per_rim = float(inside.growth_per_temperature[0].sum())
    return HeatedRim(
        basis, capacity, values, modes[0], modes[1], modes[2], airs[0], airs[1],
        _heated_at(heating.heated_at, rim) @ basis[:inner],
        basis[seen],
        inside.growth_per_temperature[0] / per_rim @ basis[seen],
        spider.mean @ basis[inner:size],
        (per_rim, a * float(spider_expansion(rotor))),
        inside.hoop_per_temperature,
        float(capacity[:inner].sum() + capacity[size:].sum()),
        float(
            values[COVERED][0] * loss.sum()
            + values["bore_heat_transfer"][0] * rim.bore.sum()
            + values["contact_conductance"][0]
        ),
    )  # fmt: skip


def _poles(rotor: Rotor, thermal: Thermal, heating: RimHeating) -> tuple[float, float] | None:
    """Heat capacity (J/K) and surface (m2) of all poles; None where they are removed."""
    if heating.poles == "removed":
        return None
    count = float(np.asarray(rotor.poles.count))
    mass = float(np.asarray(rotor.poles.mass))
    return count * mass * float(thermal.pole_specific_heat), count * float(thermal.pole_surface)


def _beside(basis: Floats, row: int, part: Floats) -> Floats:
    """A basis with the columns of one more part, which begins at a row."""
    more = np.zeros((len(basis), part.shape[1]))
    more[row : row + len(part)] = part
    return np.hstack([basis, more])


def _joined(basis: Floats, first: int, second: int, conductance: Floats) -> Floats:
    """A conductance (draw,) between two nodes, on the coordinates."""
    apart = basis[first] - basis[second]
    return floats(conductance[:, np.newaxis, np.newaxis] * np.outer(apart, apart))


def _bore_to_spider(basis: Floats, bore: Floats, surface: Floats, film: Floats) -> Floats:
    """Exchange of the rim bore with all of the spider, by shares of its surface, on the coordinates."""
    share = surface / surface.sum()
    apart = basis[0] - basis  # (node, coordinate)
    return floats(film[:, np.newaxis, np.newaxis] * bore.sum() * (apart.T @ (share[:, np.newaxis] * apart)))


def _heated_at(where: str, rim: Line) -> Floats:
    """Shares (node of the rim,) of the heat that is put in."""
    ends = np.eye(len(rim.place))
    if where == "even":
        area = node_shares(rim.place, rim.place)
        return floats(area / area.sum())
    if where == "both":  # a cable or blanket around the section: by surface
        inner, outer = rim.place[0], rim.place[-1]
        return floats((inner * ends[0] + outer * ends[-1]) / (inner + outer))
    return floats(ends[0] if where == "bore" else ends[-1])
