"""The spinning disc whose thickness varies with radius, in plane stress, by one-dimensional finite elements.

Stress is constant through the thickness and the line load ``h s_r`` balances across a step. In truth the overhang of
a step is held by one side only: against axisymmetric finite elements a hub, web and flange with overhangs of 0.02 m
on radial depths of 0.3 m err by 0.6 %, with 0.09 m by 5 %; a hub of 0.60 m on a web of 0.12 m, which overhangs by more
than its radial depth, has its bore growth 16 % too large and the outside growth 9 % too small. Give such a hub the
length that it can engage, or take its growth from a finite-element report.

Source: thin disc equations in Timoshenko & Goodier, Theory of Elasticity: 3rd ed., Art. 32, and 1951, Art. 135.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rimmodel.arrays import Floats, require
from rimmodel.elastic.radial_elements import Profile, polynomials, solve
from rimmodel.elastic.ring import RingState

# On such an element degree 10 meets the free solution 1/r to 1e-12 (its ellipse of convergence: 18^-10).
_ELEMENT_RATIO = 1.25
_PLACES = 17
"""Radii looked at along one element."""
_MATERIAL = ("young_modulus", "poisson_ratio", "density", "thermal_expansion")


@dataclass(frozen=True)
class Disc:
    """A disc of thickness piecewise linear in radius, solid or bored, in plane stress.

    Parameters
    ----------
    radii : array (radius,), m
        From bore to outside; a radius given twice is a step in thickness. A first radius of zero is a solid disc.
    thicknesses : array (radius,), m
        Positive.
    young_modulus : float or array (zone,), Pa
        One for all, as the three below, or one per zone: a zone lies between two successive radii that differ.
    poisson_ratio : float or array (zone,), -
    density : float or array (zone,), kg/m3
    thermal_expansion : float or array (zone,), 1/K
    degree : int
        Polynomial degree of the elements, 1 or more.
    subdivision : int
        Into how many parts every element is cut beyond the built-in grading.

    Raises
    ------
    ValueError
        Radii out of order, a thickness that is not positive, lengths that do not match, a material value out of its
        range; the text names it.

    """

    radii: ArrayLike
    thicknesses: ArrayLike
    young_modulus: ArrayLike
    poisson_ratio: ArrayLike
    density: ArrayLike
    thermal_expansion: ArrayLike = 0.0
    degree: int = 10
    subdivision: int = 1

    def __post_init__(self) -> None:
        radii, thicknesses = np.asarray(self.radii, dtype=float), np.asarray(self.thicknesses, dtype=float)
        if radii.ndim != 1 or radii.shape != thicknesses.shape or radii.size < 2:
            raise ValueError(
                f"radii and thicknesses have shapes {radii.shape} and {thicknesses.shape}; "
                "they must be two lists of one length, two or more"
            )
        require(np.isfinite(radii) & (radii >= 0), "radii", radii, "m", "zero or positive")
        require(np.isfinite(thicknesses) & (thicknesses > 0), "thicknesses", thicknesses, "m", "positive")
        step = np.diff(radii)
        require(step >= 0, "radii", radii[1:], "m", "in rising order from bore to outside")
        require(step[[0, -1]] > 0, "radii", radii[[0, -1]], "m", "given once at the bore and once at the outside")
        require((step[1:] > 0) | (step[:-1] > 0), "radii", radii[1:-1], "m", "given at most twice (a step)")
        modulus, nu, density = (self._by_zone(name) for name in ("young_modulus", "poisson_ratio", "density"))
        require(np.isfinite(modulus) & (modulus > 0), "young_modulus", modulus, "Pa", "positive")
        require((nu > -1) & (nu <= 0.5), "poisson_ratio", nu, "", "above -1 and at most 0.5")
        require(np.isfinite(density) & (density >= 0), "density", density, "kg/m3", "zero or positive")
        expansion = self._by_zone("thermal_expansion")
        require(np.isfinite(expansion), "thermal_expansion", expansion, "1/K", "finite")
        for name in ("degree", "subdivision"):
            require(getattr(self, name) >= 1, name, getattr(self, name), "", "1 or more")

    def state(
        self,
        radius: ArrayLike,
        speed: ArrayLike = 0.0,
        inner_pressure: ArrayLike = 0.0,
        outer_traction: ArrayLike = 0.0,
        temperature: ArrayLike | tuple[ArrayLike, ArrayLike] = 0.0,
    ) -> RingState:
        """Stresses and displacement at `radius` under spin, edge loads and temperature; all arguments broadcast.

        Parameters
        ----------
        radius : float or array, m
            Between bore and outside. At a step, where stress jumps, the values are those just outside it.
        speed : float or array, rad/s
        inner_pressure : float or array, Pa
            On the bore over the thickness there, + pushes outward; a solid disc has none.
        outer_traction : float or array, Pa
            On the outside over the thickness there, + pulls outward.
        temperature : float or array, or a pair (bore, outside), K
            Rise above the stress-free state; a pair varies linearly with radius, from centre or bore to outside.

        Raises
        ------
        ValueError
            A radius outside the disc; a bore pressure on a solid disc.

        A solid disc of even thickness carries (3 + nu)/8 rho w^2 b^2 at its centre, 32.4 MPa at 100 m/s:

        >>> disc = Disc([0.0, 1.0], [0.2, 0.2], 206e9, 0.3, 7850.0)
        >>> print(f"{disc.state(0.0, speed=100.0).hoop_stress / 1e6:.2f}")
        32.38

        """
        fields = self._unit_fields(np.asarray(radius, dtype=float))
        return self._loaded(fields, speed, inner_pressure, outer_traction, temperature)

    def along_radius(
        self,
        speed: float = 0.0,
        inner_pressure: float = 0.0,
        outer_traction: float = 0.0,
        temperature: float | tuple[float, float] = 0.0,
    ) -> tuple[Floats, RingState]:
        """Radii from bore to outside that leave out no peak, and the state there; loads as in `state`.

        Every element has its two ends among them, so that a step stands there twice: with the stress of its inner and
        of its outer side. Between them radii are dense enough for a smooth largest stress to 1e-3.

        Parameters
        ----------
        speed : float, rad/s
        inner_pressure : float, Pa
        outer_traction : float, Pa
        temperature : float, or a pair (bore, outside), K

        Returns
        -------
        radius : array (place,), m
        state : RingState

        Across a step from 0.2 m to 0.1 m the line load balances, and the radial stress doubles:

        >>> disc = Disc([0.5, 1.0, 1.0, 1.5], [0.2, 0.2, 0.1, 0.1], 206e9, 0.3, 7850.0)
        >>> radius, state = disc.along_radius(outer_traction=1e6)
        >>> inner, outer = np.flatnonzero(np.isclose(radius, 1.0))
        >>> print(f"{state.radial_stress[outer] / state.radial_stress[inner]:.6f}")
        2.000000
        """
        profile = self._profile
        part = (1.0 - np.cos(np.linspace(0.0, np.pi, _PLACES))) / 2
        radius = profile.start[:, None] + (profile.end - profile.start)[:, None] * part
        radius[:, -1] = profile.end
        element = np.broadcast_to(np.arange(profile.start.size)[:, None], radius.shape).reshape(-1)
        fields = self._unit_fields(radius.reshape(-1), element)
        return radius.reshape(-1), self._loaded(fields, speed, inner_pressure, outer_traction, temperature)

    def _loaded(
        self,
        fields: tuple[Floats, Floats, Floats],
        speed: ArrayLike,
        inner_pressure: ArrayLike,
        outer_traction: ArrayLike,
        temperature: ArrayLike | tuple[ArrayLike, ArrayLike],
    ) -> RingState:
        """The fields per unit of each load, summed up under the loads."""
        radii = np.asarray(self.radii, dtype=float)
        require(
            (radii[0] > 0) | (np.asarray(inner_pressure) == 0), "inner_pressure", inner_pressure, "Pa", "0: no bore"
        )
        pair = temperature if isinstance(temperature, tuple) else (temperature, temperature)
        bore, outside = (np.asarray(value, dtype=float) for value in pair)
        loads = (np.asarray(speed, dtype=float) ** 2, inner_pressure, outer_traction, bore, outside - bore)
        totals = (sum(field[..., i] * np.asarray(load) for i, load in enumerate(loads)) for field in fields)
        return RingState(*map(np.asarray, totals))

    def _by_zone(self, name: str) -> Floats:
        """The material values, one per zone."""
        zones = int(np.count_nonzero(np.diff(np.asarray(self.radii, dtype=float))))
        values = np.asarray(getattr(self, name), dtype=float)
        if values.shape not in ((), (1,), (zones,)):
            raise ValueError(f"{name} has shape {values.shape}; it must be one value, or one for each of {zones} zones")
        by_zone: Floats = np.broadcast_to(values, (zones,))
        return by_zone

    @cached_property
    def _profile(self) -> Profile:
        radii, thicknesses = np.asarray(self.radii, dtype=float), np.asarray(self.thicknesses, dtype=float)
        zones = np.flatnonzero(np.diff(radii))
        columns = radii[zones], radii[zones + 1], thicknesses[zones], thicknesses[zones + 1]
        return Profile(*columns, zone=np.arange(zones.size)).graded(_ELEMENT_RATIO).subdivided(self.subdivision)

    @cached_property
    def _unit_displacements(self) -> Floats:
        """Displacement (element, point, load) per speed squared, edge loads, temperature and its linear rise."""
        points, weights = np.polynomial.legendre.leggauss(self.degree + 4)
        profile = self._profile
        half = (profile.end - profile.start)[:, np.newaxis] / 2
        part = (points + 1) / 2
        r = profile.start[:, np.newaxis] + 2 * half * part
        thickness = profile.thickness(part)
        modulus, nu, density, expansion = (self._by_zone(name)[profile.zone, np.newaxis] for name in _MATERIAL)
        weight = (weights * half * r * thickness)[:, np.newaxis, :]

        values, slopes = polynomials(points, self.degree)
        radial = slopes / half[..., np.newaxis]
        hoop = values / r[..., np.newaxis]
        plane = (modulus / (1 - nu**2))[..., np.newaxis]
        across = np.swapaxes(radial + nu[..., np.newaxis] * hoop, 1, 2)
        along = np.swapaxes(hoop + nu[..., np.newaxis] * radial, 1, 2)
        stiffness = plane * ((across * weight) @ radial + (along * weight) @ hoop)

        warm = modulus / (1 - nu) * expansion
        rise = (r - profile.start[0]) / (profile.end[-1] - profile.start[0])
        load = np.zeros((*stiffness.shape[:2], 5))
        load[..., 0] = np.einsum("eg,gp->ep", weight[:, 0] * density * r, values)
        load[0, 0, 1] = profile.start[0] * profile.start_thickness[0]
        load[-1, -1, 2] = profile.end[-1] * profile.end_thickness[-1]
        for column, shape in ((3, np.ones_like(r)), (4, rise)):
            load[..., column] = np.einsum("eg,egp->ep", weight[:, 0] * warm * shape, radial + hoop)
        return solve(stiffness, load, fixed_start=bool(profile.start[0] == 0))

    def _unit_fields(self, radius: Floats, element: NDArray[np.intp] | None = None) -> tuple[Floats, Floats, Floats]:
        """Radial stress, hoop stress and displacement at `radius`, each per unit of each load (last axis).

        In the elements given, or in those where the radii lie: at a step the one outside it.
        """
        profile = self._profile
        inner, outer = profile.start[0], profile.end[-1]
        slack = 1e-12 * outer  # an edge radius that went through arithmetic still counts as the edge
        require((radius >= inner - slack) & (radius <= outer + slack), "radius", radius, "m", "within the disc")
        if element is None:
            element = np.clip(np.searchsorted(profile.start, radius, side="right") - 1, 0, profile.start.size - 1)
        start, length = profile.start[element], (profile.end - profile.start)[element]
        x = 2 * (radius - start) / length - 1
        moved = self._unit_displacements[element]
        values, slopes = polynomials(x, self.degree)
        u = np.einsum("...p,...pl->...l", values, moved)
        radial = np.einsum("...p,...pl->...l", slopes, moved) * (2 / length)[..., np.newaxis]
        r = radius[..., np.newaxis]
        hoop = np.where(r > 0, u / np.where(r > 0, r, 1.0), radial)
        modulus, nu, _, expansion = (self._by_zone(name)[profile.zone[element], np.newaxis] for name in _MATERIAL)
        free = np.zeros((*radius.shape, 5))
        free[..., 3] = expansion[..., 0]
        free[..., 4] = expansion[..., 0] * (radius - inner) / (outer - inner)
        radial, hoop, plane = radial - free, hoop - free, modulus / (1 - nu**2)
        return plane * (radial + nu * hoop), plane * (hoop + nu * radial), u
