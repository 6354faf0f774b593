"""The machine as a network of heat: rim by elements through its depth, spider as a fin, poles, stator core, air.

Rim and spider are lines of linear elements (`rimmodel.elastic.heat_elements`) whose temperatures are sums of a few
polynomials; the stator core is one body, and so are the poles where they have a temperature of their own, else their
heat capacity hangs on the rim outside. Air has no heat capacity. Losses enter at the outside of the rim, where the
poles sit, in the stator core, and with the air that is warmed before it reaches the spider. They are not inputs: they
are those that hold the rated machine at the temperatures of its steady condition (`rimmodel.behaviour.heat.losses`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.heat.lines import Line, rim_line, spider_line
from rimmodel.elastic.heat_elements import orthonormal_polynomials
from rimmodel.rotor import Rotor
from rimmodel.rotor.thermal import Thermal

ELEMENTS, RIM_DEGREE, SPIDER_DEGREE = 96, 5, 9
"""Elements through the depth of the rim and along the spider, and the degree of the polynomials on them."""

Values = Mapping[str, Floats]
"""Heat exchange by the name of its range in `Thermal`: arrays (draw,) in SI."""


@dataclass(frozen=True)
class HeatNetwork:
    """What of the network no range touches. Temperatures of the nodes are ``basis @ coordinates``.

    Attributes
    ----------
    basis : array (node, coordinate), SI
        In (J/K)^-1/2, orthonormal in the heat capacity: every coordinate has the heat capacity 1.
    capacity : array (node,), SI
        In J/K.
    conduction : array (coordinate, coordinate), SI
        In 1/s; rim and spider apart from each other.
    bore_surface, outer_surface, spider_surface : array (node,), m2
        What meets the air, of rim bore, of rim outside with poles, and of the spider.
    means : array (4, node), -
        Weights of the temperatures that a `Condition` takes: rim, spider, stator, poles.
    rim, spider : slice
        Nodes of the rim, bore first, and of the spider, from its hub or bore to the rim.
    pole : int or None
        Node of the poles where they have a temperature of their own.
    radius : array (node,), m
        Of the nodes of the rim.
    """

    basis: Floats
    capacity: Floats
    conduction: Floats
    bore_surface: Floats
    outer_surface: Floats
    spider_surface: Floats
    means: Floats
    rim: slice
    spider: slice
    pole: int | None
    stator: int
    radius: Floats

    @property
    def rim_outside(self) -> int:
        """Node of the rim outside."""
        return int(self.rim.stop) - 1

    @property
    def spider_rim(self) -> int:
        """Node of the spider at the rim bore."""
        return int(self.spider.stop) - 1

    def node(self, number: int) -> Floats:
        """Weights (node,), dimensionless, that pick one node."""
        return floats(np.eye(len(self.capacity))[number])

    def coordinates(self, temperature: Floats) -> Floats:
        """Coordinates (..., coordinate) of temperatures (..., node), K, each in the root of K J."""
        return floats((temperature * self.capacity) @ self.basis)


def heat_network(rotor: Rotor, thermal: Thermal, elements: int = ELEMENTS, extra_degree: int = 0) -> HeatNetwork:
    """The network of a machine; its numbers must be scalars.

    Source: `rimmodel.elastic.heat_elements`.

    Parameters
    ----------
    elements : int
        Of rim and of spider, each.
    extra_degree : int
        Of the polynomials, beyond those of the house.

    Returns
    -------
    HeatNetwork

    The rim of the example stores 0.97 x 7850 x 470 x pi (4.06^2 - 3.62^2) x 1.85 = 70 MJ/K, 48 poles of 3.7 t at
    430 J/kg/K another 76 MJ/K:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> network = heat_network(case.rotor, case.thermal)
    >>> print(f"{network.capacity[network.rim].sum() / 1e6:.0f} MJ/K")
    147 MJ/K
    """
    rim, spider = rim_line(rotor, thermal, elements), spider_line(rotor, thermal, elements)
    count = float(np.asarray(rotor.poles.count))
    poles = count * float(np.asarray(rotor.poles.mass)) * float(thermal.pole_specific_heat)
    own = thermal.pole_conductance is not None
    at_poles = count * float(thermal.pole_surface)
    rim.capacity[-1] += 0.0 if own else poles
    rim.outer[-1] += 0.0 if own else at_poles
    bodies = [poles] if own else []
    bodies.append(rim.capacity.sum())  # of the stator: only the heat in it scales with this, not its temperature
    inner, size = len(rim.capacity), len(rim.capacity) + len(spider.capacity)
    basis = _blocks(
        orthonormal_polynomials(rim.place, rim.capacity, RIM_DEGREE + extra_degree),
        orthonormal_polynomials(
            spider.place, spider.capacity, min(SPIDER_DEGREE + extra_degree, len(spider.place) - 1)
        ),
        *(np.full((1, 1), body**-0.5) for body in bodies),
    )
    conduction = _blocks(rim.conduction, spider.conduction, np.zeros((len(bodies), len(bodies))))
    apart = np.zeros(len(bodies))
    at_pole = np.where(np.arange(len(bodies)) == 0, at_poles if own else 0.0, 0.0)
    single = np.eye(len(basis))
    rim_mean = np.concatenate([rim.mean, 0 * spider.mean, apart])
    spider_mean = np.concatenate([0 * rim.mean, spider.mean, apart])
    return HeatNetwork(
        basis,
        np.concatenate([rim.capacity, spider.capacity, bodies]),
        basis.T @ conduction @ basis,
        np.concatenate([rim.bore, 0 * spider.outer, apart]),
        np.concatenate([rim.outer, 0 * spider.outer, at_pole]),
        np.concatenate([0 * rim.outer, spider.outer, apart]),
        np.vstack([rim_mean, spider_mean, single[-1], single[size] if own else rim_mean]),
        slice(0, inner),
        slice(inner, size),
        size if own else None,
        len(basis) - 1,
        rim.place,
    )


def _blocks(*parts: Floats) -> Floats:
    """The parts along the diagonal of one matrix."""
    whole = np.zeros((sum(len(part) for part in parts), sum(part.shape[1] for part in parts)))
    row = column = 0
    for part in parts:
        whole[row : row + len(part), column : column + part.shape[1]] = part
        row, column = row + len(part), column + part.shape[1]
    return whole


def exchange(network: HeatNetwork, films: Values) -> Floats:
    """Conductance of every node to its air: heat transfer times surface, by definition.

    Parameters
    ----------
    films : mapping of str to array (draw,), SI
        Heat transfer in W/m2/K at "bore", "outer" and "spider", and the conductance of the stator core in W/K.

    Returns
    -------
    array (draw, node), SI
        In W/K.

    >>> import rimmodel as rm
    >>> network = heat_network(rm.example_case().rotor, rm.example_case().thermal)
    >>> one = np.ones(1)
    >>> found = exchange(network, {"bore": one, "outer": 0 * one, "spider": 0 * one, "stator": 0 * one})
    >>> print(f"{found.sum() / (2 * np.pi * 3.62):.2f}")
    1.85
    """
    parts = _films(network)
    return floats(sum(floats(films[name])[..., np.newaxis] * surface for name, surface in parts.items()))


def _films(network: HeatNetwork) -> dict[str, Floats]:
    """What multiplies each film, by node."""
    return {
        "bore": network.bore_surface,
        "outer": network.outer_surface,
        "spider": network.spider_surface,
        "stator": network.node(network.stator),
    }


def exchange_matrix(network: HeatNetwork, films: Values) -> Floats:
    """The same as a matrix on the coordinates, by definition.

    Parameters
    ----------
    films : mapping of str to array (draw,), SI

    Returns
    -------
    array (draw, coordinate, coordinate), 1/s

    An even film of 1 W/m2/K over a spider of even temperature takes its surface times that temperature:

    >>> import rimmodel as rm
    >>> network = heat_network(rm.example_case().rotor, rm.example_case().thermal)
    >>> none, one = np.zeros(1), np.ones(1)
    >>> matrix = exchange_matrix(network, {"bore": none, "outer": none, "spider": one, "stator": none})
    >>> even = network.coordinates(np.ones(len(network.capacity)))
    >>> print(f"{(even @ matrix[0] @ even) / network.spider_surface.sum():.9f}")
    1.000000000
    """
    basis = network.basis
    parts = {name: basis.T @ (surface[:, np.newaxis] * basis) for name, surface in _films(network).items()}
    return floats(sum(floats(films[name])[..., np.newaxis, np.newaxis] * part for name, part in parts.items()))


def connected(network: HeatNetwork, values: Values, thermal: Thermal, rotor: Rotor) -> Floats:
    """Conduction on the coordinates with the contacts of rim and spider and of poles and rim, by definition.

    Parameters
    ----------
    values : mapping of str to array (draw,), SI

    Returns
    -------
    array (draw, coordinate, coordinate), SI
        In 1/s.

    A contact adds nothing to an even temperature:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> network = heat_network(case.rotor, case.thermal)
    >>> matrix = connected(network, {"contact_conductance": np.array([5e3])}, case.thermal, case.rotor)
    >>> bool(np.abs(matrix @ network.coordinates(np.full(len(network.capacity), 300.0))).max() < 1e-9)
    True
    """
    matrix = network.conduction + _between(network, 0, network.spider_rim, values["contact_conductance"])
    if network.pole is None or thermal.pole_conductance is None:
        return matrix
    poles = float(np.asarray(rotor.poles.count)) * floats(values["pole_conductance"])
    return matrix + _between(network, network.rim_outside, network.pole, poles)


def _between(network: HeatNetwork, first: int, second: int, conductance: Floats) -> Floats:
    """A conductance (draw,) between two nodes, on the coordinates."""
    apart = network.basis[first] - network.basis[second]
    return floats(floats(conductance)[..., np.newaxis, np.newaxis] * np.outer(apart, apart))


__all__ = ["HeatNetwork", "Line", "Values", "connected", "exchange", "exchange_matrix", "heat_network"]
