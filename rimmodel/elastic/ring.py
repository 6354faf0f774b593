"""The rotating thick ring in plane stress, isotropic or polar orthotropic.

Radial stress of the free terms is ``A r^(k-1) + B r^(-k-1)`` with ``k = sqrt(E_hoop/E_radial)``; spin adds a
term in r^2, a linear temperature one in r. Written out like that the field divides by ``k - 3`` (spin), by
``k - 2`` (temperature) and by ``1 - (a/b)^(2k)``. Here each particular term is combined with the free term that
it degenerates to, and every difference of powers is taken by ``expm1``, so the same lines serve k = 1, 2 and 3,
a ring of b/a = 1.0005 and the solid disc.

Source: Timoshenko & Goodier, Theory of Elasticity (3rd ed.), Arts. 28 and 32 (isotropic); Lekhnitskii, Anisotropic
Plates, rotating disc of cylindrical anisotropy (orthotropic; form from memory). Both are derived again in
`rimmodel.elastic.symbolic`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rimmodel.arrays import Floats, floats, require


@dataclass(frozen=True)
class RingState:
    """Stresses and radial displacement of a ring, each of the broadcast shape.

    Attributes
    ----------
    radial_stress, hoop_stress : array, Pa
        + tension.
    radial_displacement : array, m
        + outward.
    """

    radial_stress: Floats
    hoop_stress: Floats
    radial_displacement: Floats


@dataclass(frozen=True)
class Ring:
    """A ring (or, with ``inner_radius = 0``, a solid disc) of constant thickness in plane stress.

    Parameters
    ----------
    inner_radius, outer_radius : float or array, m
    young_modulus : float or array, Pa
        The RADIAL modulus; the hoop modulus is `hoop_stiffness_factor` times it.
    poisson_ratio : float or array, -
        Hoop strain per radial strain under radial stress, with its sign turned.
    density : float or array, kg/m3
    hoop_stiffness_factor : float or array, -
        E_hoop / E_radial; 1 is isotropic.
    thermal_expansion : float or array, 1/K

    Raises
    ------
    ValueError
        A radius, modulus, density or factor out of its range, or not a number; the text names it.
    """

    inner_radius: ArrayLike
    outer_radius: ArrayLike
    young_modulus: ArrayLike
    poisson_ratio: ArrayLike
    density: ArrayLike
    hoop_stiffness_factor: ArrayLike = 1.0
    thermal_expansion: ArrayLike = 0.0

    def __post_init__(self) -> None:
        inner, outer = np.asarray(self.inner_radius), np.asarray(self.outer_radius)
        nu, factor = np.asarray(self.poisson_ratio), np.asarray(self.hoop_stiffness_factor)
        require(inner >= 0, "inner_radius", inner, "m", "zero or positive")
        require((outer > inner) & np.isfinite(outer), "outer_radius", outer, "m", "larger than inner_radius")
        require(np.asarray(self.young_modulus) > 0, "young_modulus", self.young_modulus, "Pa", "positive")
        require(np.asarray(self.density) >= 0, "density", self.density, "kg/m3", "zero or positive")
        require(factor > 0, "hoop_stiffness_factor", factor, "", "positive")
        # positive strain energy of the plane law: nu^2 E_hoop < E_radial
        require(nu * nu * factor < 1, "poisson_ratio", nu, "", "below 1/sqrt(hoop_stiffness_factor) in size")
        require(np.isfinite(self.thermal_expansion), "thermal_expansion", self.thermal_expansion, "1/K", "finite")

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
            Between the two radii.
        speed : float or array, rad/s
        inner_pressure : float or array, Pa
            On the bore, + pushes outward.
        outer_traction : float or array, Pa
            On the outside, + pulls outward.
        temperature : float or array, or a pair (bore, outside), K
            Rise above the stress-free state; a pair varies linearly with radius.

        Raises
        ------
        ValueError
            A radius outside the ring; the centre of a solid disc that is softer in the hoop direction, where
            the stress grows without bound (`radial_displacement` answers there).

        A thin ring of steel at 100 rad/s and 1 m carries rho w^2 R^2 = 78.5 MPa:

        >>> ring = Ring(0.9999, 1.0001, 206e9, 0.3, 7850.0)
        >>> print(f"{ring.state(1.0, speed=100.0).hoop_stress / 1e6:.1f}")
        78.5
        """
        r, solid = self._checked_radius(radius)
        if np.any(solid & (r == 0) & (np.asarray(self.hoop_stiffness_factor) < 1)):
            raise ValueError(
                "radius 0 m of a solid disc with hoop_stiffness_factor below 1: the stress there is unbounded; "
                "ask for a radius above zero, or for radial_displacement"
            )
        return self._field(r, speed, inner_pressure, outer_traction, temperature)

    def radial_displacement(
        self,
        radius: ArrayLike,
        speed: ArrayLike = 0.0,
        inner_pressure: ArrayLike = 0.0,
        outer_traction: ArrayLike = 0.0,
        temperature: ArrayLike | tuple[ArrayLike, ArrayLike] = 0.0,
    ) -> Floats:
        """Radial displacement in m, arguments as in `state`; answers at the centre of any solid disc (zero).

        A free ring warmed by 50 K grows by alpha r T:

        >>> ring = Ring(1.0, 2.0, 206e9, 0.3, 7850.0, thermal_expansion=12e-6)
        >>> print(f"{ring.radial_displacement(2.0, temperature=50.0) * 1e3:.2f} mm")
        1.20 mm
        """
        r, _ = self._checked_radius(radius)
        away = np.where(r > 0, r, floats(self.outer_radius))
        u = self._field(away, speed, inner_pressure, outer_traction, temperature).radial_displacement
        return np.where(r > 0, u, 0.0)

    def _checked_radius(self, radius: ArrayLike) -> tuple[Floats, NDArray[np.bool_]]:
        r = floats(radius)
        inner, outer = np.asarray(self.inner_radius), np.asarray(self.outer_radius)
        slack = 1e-12 * outer  # an edge radius that went through arithmetic still counts as the edge
        require((r >= inner - slack) & (r <= outer + slack), "radius", r, "m", "within the ring")
        return r, inner == 0

    def _field(
        self,
        r: Floats,
        speed: ArrayLike,
        inner_pressure: ArrayLike,
        outer_traction: ArrayLike,
        temperature: ArrayLike | tuple[ArrayLike, ArrayLike],
    ) -> RingState:
        a, b = floats(self.inner_radius), floats(self.outer_radius)
        nu, m = (
            floats(self.poisson_ratio),
            floats(self.hoop_stiffness_factor),
        )
        e_radial = floats(self.young_modulus)
        k = np.sqrt(m)
        s, t = r / b, a / b
        log_s, log_t = _log_ratio(r, b), _log_ratio(a, b)

        # free terms: bore pressure 1 with a free outside, outside traction 1 with a free bore
        full = -np.expm1(2 * k * log_t)
        with np.errstate(divide="ignore", invalid="ignore"):
            bore = np.where(s > 0, (t / s) ** (k + 1), 0.0) / full
            ratio = np.where(s > 0, (t / s) ** (2 * k), 0.0)
        inward = np.where(s > 0, -np.expm1(2 * k * log_s), 1.0)
        gap = np.where(t > 0, -np.expm1(2 * k * (log_t - np.where(s > 0, log_s, 0.0))), 1.0)
        rise = s ** (k - 1) / full
        radial_p, hoop_p = -bore * inward, k * bore * (2 - inward)
        radial_q, hoop_q = rise * gap, k * rise * (1 + ratio)

        # spin and temperature gradient: the particular term that vanishes outside, its bore value taken off
        warm, gradient = self._temperature(r, temperature)
        spin = np.asarray(self.density) * np.asarray(speed) ** 2 * b**2
        slope = e_radial * np.asarray(self.thermal_expansion) * gradient * b * m / (k + 2)
        spin_shape = (3 + nu * m) / (k + 3)
        spin_s, slope_s = _difference(s, log_s, k, 3), _difference(s, log_s, k, 2)
        # a solid disc has no bore to relieve
        spin_t, slope_t = (np.where(t > 0, _difference(t, log_t, k, n), 0.0) for n in (3, 2))
        inner_load = np.asarray(inner_pressure) + spin * spin_shape * spin_t + slope * slope_t
        outer_load = np.asarray(outer_traction)
        power = s ** (k - 1)
        radial = radial_p * inner_load + radial_q * outer_load + spin * spin_shape * spin_s + slope * slope_s
        hoop = (
            hoop_p * inner_load
            + hoop_q * outer_load
            + spin * (spin_shape * (3 * spin_s - power) + s**2)
            + slope * (2 * slope_s - power)
        )
        strain = (hoop / m - nu * radial) / e_radial + np.asarray(self.thermal_expansion) * warm
        return RingState(*np.broadcast_arrays(radial, hoop, r * strain))

    def _temperature(self, r: Floats, temperature: ArrayLike | tuple[ArrayLike, ArrayLike]) -> tuple[Floats, Floats]:
        """Rise at `r` (K) and its gradient (K/m)."""
        if not isinstance(temperature, tuple):
            return floats(temperature), np.asarray(0.0)
        bore, outside = (floats(value) for value in temperature)
        a, b = np.asarray(self.inner_radius), np.asarray(self.outer_radius)
        gradient = (outside - bore) / (b - a)
        return bore + gradient * (r - a), gradient


def _log_ratio(r: Floats, b: Floats) -> Floats:
    """log(r/b) without the loss that forming r/b first brings to a thin ring; -inf at r = 0."""
    with np.errstate(divide="ignore"):
        return -np.log1p((b - r) / np.where(r > 0, r, 0.0))


def _difference(s: Floats, log_s: Floats, k: Floats, n: int) -> Floats:
    """(s^(n-1) - s^(k-1)) / (k - n), through its removable singularity at k = n."""
    x = (k - n) * np.where(s > 0, log_s, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        relative = np.where(x == 0, 1.0, np.expm1(x) / np.where(x == 0, 1.0, x))
        centre = np.where(k > 1, 0.0, np.where(k == 1, 1.0 / (n - 1), np.inf))
        return np.where(s > 0, -(s ** (n - 1)) * np.where(s > 0, log_s, 0.0) * relative, centre)
