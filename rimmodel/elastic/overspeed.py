"""A free ring between first yield and collapse, and what is left of that when it stands still again.

Perfectly plastic material after Tresca with the associated flow rule. The bore yields first and a plastic zone
``a <= r <= c`` grows outward. In it the hoop stress is the yield strength; the plastic strain is hoop (with as much
axial thinning), none radial, so ``du/dr = (s_r - nu Y)/E`` integrates inward from the elastic zone. That zone starts
at c from the known stresses there, which serves down to nothing as c nears the outside.

The same lines hold for ``hoop_stiffness_factor < 1``, where the elastic law is orthotropic and yield is not: by the
signs shown in `rimmodel.elastic.plasticity` yield still starts at the bore, and ``r`` times the plastic strain falls
outward to zero. A ring stiffer in the hoop direction is refused, since it may yield elsewhere first; so is a solid
disc, for which a perfectly plastic Tresca solution with zero displacement at the centre does not exist (Gamer,
1983-84, from memory).

Tresca is the safe side: after von Mises (`rimmodel.elastic.von_mises`) collapse comes up to 7 % of speed later and less
growth stays, 0.2 to 0.6 of this where Tresca collapses. One exception: the bore of a thick orthotropic ring (b/a above
1.5) that has barely yielded keeps up to 12 % more (hoop_stiffness_factor 0.4, b/a 8; 4 % at 0.7).

Source: Hill, The Mathematical Theory of Plasticity (1950); Chakrabarty, Theory of Plasticity, rotating discs (both
from memory). Derived here with outside traction and orthotropic elasticity.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rimmodel.arrays import Floats, require
from rimmodel.elastic.plasticity import _loads, first_yield_speed, fully_plastic_speed
from rimmodel.elastic.ring import Ring, RingState


@dataclass(frozen=True)
class ElasticPlasticState:
    """A ring at an overspeed, and at standstill after it.

    Attributes
    ----------
    residual : RingState
        Holds for unloading without reverse yield; where `reverse_yield` is true it does not.
    plastic_strain : array, -
        Of the hoop, at the asked radii.
    plastic_radius : array, m
        The outer edge of the plastic zone; the bore radius when nothing yields.
    reverse_yield : bool array
    """

    loaded: RingState
    residual: RingState
    plastic_strain: Floats
    plastic_radius: Floats
    reverse_yield: NDArray[np.bool_]


@dataclass(frozen=True)
class PermanentGrowth:
    """What stays after an overspeed.

    Attributes
    ----------
    bore, outer : array, m
        Radial growth of each edge.
    plastic_radius : array, m
        How far it yielded, from the axis.
    reverse_yield : bool array
    note : str
        Says in words whether the ring yields again, in compression, on return to standstill.
    """

    bore: Floats
    outer: Floats
    plastic_radius: Floats
    reverse_yield: NDArray[np.bool_]
    note: str


def permanent_growth(
    ring: Ring, yield_strength: ArrayLike, speed: ArrayLike, traction_per_speed_squared: ArrayLike = 0.0
) -> PermanentGrowth:
    """Radial growth in m that stays at standstill after a free ring has been at `speed`; everything broadcasts.

    Below first yield it is zero. Unloading is elastic: the loaded displacement less the elastic displacement at the
    same speed. Beyond sqrt(2) times the first-yield speed the bore would yield in compression on return; that only
    happens in thick rings (b/a above about 5 without traction), and the result says so.

    Parameters
    ----------
    ring : Ring
        With a bore, and `hoop_stiffness_factor` up to 1.
    yield_strength : float or array, Pa
        Of the smeared section.
    speed : float or array, rad/s
        Up to the fully plastic speed.
    traction_per_speed_squared : float or array, Pa s2
        Outside traction over speed squared.

    Raises
    ------
    ValueError
        A speed above the fully plastic one, where no growth is the answer; a solid disc; a ring stiffer in the hoop
        direction; a yield strength or traction out of range.

    The elastic part of a thin ring holds the yielded part to the end: when yield has just reached the outside, only
    (1 + nu) (Y/E) (b - a)/2 stays (derived here), which is 1.3 x 1500 x 0.0005 = 0.98 um at 1 m:

    >>> ring = Ring(1.0, 1.001, 200e9, 0.3, 7850.0)
    >>> left = permanent_growth(ring, 300e6, fully_plastic_speed(ring, 300e6))
    >>> print(f"{left.bore * 1e6:.2f} um; {left.note}")
    0.98 um; unloads elastically
    """
    inner, outer = np.asarray(ring.inner_radius, dtype=float), np.asarray(ring.outer_radius, dtype=float)
    bore = elastic_plastic_state(ring, inner, yield_strength, speed, traction_per_speed_squared)
    edge = elastic_plastic_state(ring, outer, yield_strength, speed, traction_per_speed_squared)
    return PermanentGrowth(
        bore.residual.radial_displacement,
        edge.residual.radial_displacement,
        bore.plastic_radius,
        bore.reverse_yield,
        in_words(bore.reverse_yield),
    )


def elastic_plastic_state(
    ring: Ring,
    radius: ArrayLike,
    yield_strength: ArrayLike,
    speed: ArrayLike,
    traction_per_speed_squared: ArrayLike = 0.0,
) -> ElasticPlasticState:
    """Stresses and displacement of a free ring at an overspeed and at standstill after it; everything broadcasts.

    Parameters
    ----------
    radius : float or array, m
        Between the two radii.
    yield_strength, speed, traction_per_speed_squared : as in `permanent_growth`
        Which also lists what is refused.

    At the fully plastic speed the hoop stress is the yield strength from bore to outside:

    >>> ring = Ring(1.0, 2.0, 200e9, 0.3, 7850.0)
    >>> state = elastic_plastic_state(ring, [1.0, 1.5, 2.0], 300e6, fully_plastic_speed(ring, 300e6))
    >>> print(np.round(state.loaded.hoop_stress / 1e6, 3))
    [300. 300. 300.]
    """
    strength, pull = _loads(yield_strength, traction_per_speed_squared)
    squared = np.asarray(speed, dtype=float) ** 2
    refuse_ring(ring)
    refuse_speed(speed, fully_plastic_speed(ring, strength, pull))
    elastic = ring.state(radius, speed, outer_traction=pull * squared)
    first = first_yield_speed(ring, strength, "tresca", pull) ** 2
    front = _plastic_radius(ring, strength, pull, squared)
    beyond = squared > first
    yielded, strain = _yielded_field(ring, np.asarray(radius, dtype=float), front, strength, squared)
    loaded = [np.where(beyond, part, whole) for whole, part in zip(_fields(elastic), yielded, strict=True)]
    residual = [part - whole for whole, part in zip(_fields(elastic), loaded, strict=True)]
    return ElasticPlasticState(
        RingState(*loaded),
        RingState(*residual),
        np.where(beyond, strain, 0.0),
        np.where(beyond, front, ring.inner_radius),
        squared > 2 * first,  # the bore then unloads by more than twice the yield strength
    )


def _fields(state: RingState) -> tuple[Floats, Floats, Floats]:
    return state.radial_stress, state.hoop_stress, state.radial_displacement


def _plastic_radius(ring: Ring, strength: Floats, traction: Floats, speed_squared: Floats) -> Floats:
    """Radius to which the ring has yielded: that from which the elastic zone meets the traction outside."""

    def outside(front: Floats) -> Floats:
        edge = _plastic_radial_stress(ring, front, strength, speed_squared)
        return elastic_zone(ring, ring.outer_radius, front, edge, strength, speed_squared)[0]

    return bisected_front(ring, outside, traction * speed_squared)


def bisected_front(ring: Ring, outside: Callable[[Floats], Floats], traction: Floats) -> Floats:
    """Front at which the radial stress outside meets the traction there; the stress rises with the front.

    Parameters
    ----------
    outside : callable
        Radial stress at the outside (Pa) of a front (m), of the shape of the front.
    traction : array, Pa

    Returns
    -------
    array, m
        Between bore and outside, by 54 halvings.

    A stress of a million pascal per metre of front reaches 1.25 MPa at 1.25 m:

    >>> ring = Ring(1.0, 2.0, 206e9, 0.3, 7850.0)
    >>> print(f"{bisected_front(ring, lambda front: 1e6 * front, np.asarray(1.25e6)):.4f}")
    1.2500
    """
    a, b = np.asarray(ring.inner_radius, dtype=float), np.asarray(ring.outer_radius, dtype=float)
    low, high = np.asarray(0.0), np.asarray(1.0)
    for _ in range(54):
        middle = (low + high) / 2
        short = outside(a + (b - a) * middle) < traction
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    front: Floats = a + (b - a) * (low + high) / 2
    return front


def _plastic_radial_stress(ring: Ring, radius: Floats, strength: Floats, speed_squared: Floats) -> Floats:
    """From equilibrium with the hoop stress at yield and a free bore."""
    a = np.asarray(ring.inner_radius, dtype=float)
    spin: Floats = np.asarray(ring.density, dtype=float) * speed_squared * (radius**2 + radius * a + a * a) / 3
    radial: Floats = (radius - a) / radius * (strength - spin)
    return radial


def elastic_zone(
    ring: Ring, radius: ArrayLike, front: Floats, radial: Floats, hoop: Floats, speed_squared: Floats
) -> tuple[Floats, Floats]:
    """Stresses in the elastic zone, continued from those at the front by the elastic solution.

    Parameters
    ----------
    radius : float or array, m
        At or outside the front.
    front : array, m
    radial, hoop : array, Pa
        Radial and hoop stress at the front.
    speed_squared : array, rad2/s2

    Returns
    -------
    tuple of array, Pa
        Radial and hoop stress.

    Lame at standstill: from -1 and 5/3 MPa at 1 m to 0 and 2/3 MPa at 2 m, as b/a = 2 asks for.

    >>> ring, front = Ring(1.0, 2.0, 206e9, 0.3, 7850.0), np.asarray(1.0)
    >>> radial, hoop = elastic_zone(ring, 2.0, front, np.asarray(-3.0), np.asarray(5.0), np.asarray(0.0))
    >>> print(f"{abs(radial):.6f} {hoop:.6f}")
    0.000000 2.000000
    """
    nu, m = np.asarray(ring.poisson_ratio, dtype=float), np.asarray(ring.hoop_stiffness_factor, dtype=float)
    k, spin = np.sqrt(m), np.asarray(ring.density, dtype=float) * speed_squared
    spin_radial, spin_hoop = spin * (3 + nu * m) / (m - 9), spin * (1 + 3 * nu) * m / (m - 9)
    free_radial, free_hoop = radial - spin_radial * front**2, (hoop - spin_hoop * front**2) / k
    r = np.asarray(radius, dtype=float)
    y = r / front
    rising, falling = (free_radial + free_hoop) / 2 * y ** (k - 1), (free_radial - free_hoop) / 2 * y ** (-k - 1)
    return rising + falling + spin_radial * r**2, k * (rising - falling) + spin_hoop * r**2


def _yielded_field(
    ring: Ring, radius: Floats, front: Floats, strength: Floats, speed_squared: Floats
) -> tuple[tuple[Floats, Floats, Floats], Floats]:
    """Stresses and displacement, and the plastic hoop strain, on either side of the front."""
    a, nu = np.asarray(ring.inner_radius, dtype=float), np.asarray(ring.poisson_ratio, dtype=float)
    e_radial = np.asarray(ring.young_modulus, dtype=float)
    e_hoop = e_radial * ring.hoop_stiffness_factor
    within = radius < front
    inside, outside = np.minimum(radius, front), np.maximum(radius, front)

    edge = _plastic_radial_stress(ring, front, strength, speed_squared)
    radial, hoop = elastic_zone(ring, outside, front, edge, strength, speed_squared)
    radial = np.where(within, _plastic_radial_stress(ring, inside, strength, speed_squared), radial)
    hoop = np.where(within, strength, hoop)
    path, turns = front - inside, np.log1p((front - inside) / inside)
    spin = np.asarray(ring.density) * speed_squared / 3
    cubes = path * (front**2 + front * inside + inside**2) / 3
    stretch = strength * (path - a * turns) - spin * (cubes - a**3 * turns) - nu * strength * path
    at_front = front * (strength / e_hoop - nu * edge / e_radial)
    elastic_strain = hoop / e_hoop - nu * radial / e_radial
    displacement = np.where(within, at_front - stretch / e_radial, radius * elastic_strain)
    return (radial, hoop, displacement), np.where(within, displacement / radius - elastic_strain, 0.0)


def refuse_ring(ring: Ring) -> None:
    """Raise ValueError for a ring whose plastic zone need not start at the bore, or does not exist."""
    inner, factor = np.asarray(ring.inner_radius), np.asarray(ring.hoop_stiffness_factor)
    require(inner > 0, "inner_radius", inner, "m", "positive: a solid disc has no perfectly plastic solution")
    rule = "at most 1 here: a ring stiffer in the hoop direction may yield first away from the bore"
    require(factor <= 1, "hoop_stiffness_factor", factor, "", rule)


def refuse_speed(speed: ArrayLike, limit: Floats) -> None:
    """Refuse a speed above the fully plastic one.

    Parameters
    ----------
    speed : float or array, rad/s
    limit : array, rad/s
        The fully plastic speed.

    Raises
    ------
    ValueError
        Names the first speed that is above its limit.
    """
    reached, most = np.broadcast_arrays(np.asarray(speed, dtype=float), limit)
    too_fast = ~(np.abs(reached) <= most * (1 + 1e-12))
    if np.any(too_fast):
        raise ValueError(
            f"speed is {reached[too_fast].flat[0]:g} rad/s; it must not exceed the fully plastic speed of "
            f"{most[too_fast].flat[0]:g} rad/s: above it the ring has no equilibrium and its growth no limit"
        )


def in_words(reverse: NDArray[np.bool_]) -> str:
    """What a reader must know about the return to standstill."""
    if not np.any(reverse):
        return "unloads elastically"
    which = "the bore" if reverse.ndim == 0 else f"the bore in {int(reverse.sum())} of {reverse.size} cases"
    return (
        f"{which} yields in compression on return to standstill; the growth given leaves that out and is then "
        "larger than what stays"
    )
