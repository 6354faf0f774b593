"""Where a free spinning ring first yields, when it yields throughout, and what an overspeed leaves behind.

Load is spin and an outside traction that grows with speed squared (what hangs on the ring); the bore is free.
The material is perfectly plastic. `yield_strength` is compared with the smeared stress of the ring: the caller
takes stacking and net section off it first.

For ``hoop_stiffness_factor <= 1`` the hoop stress of a free ring is largest at the bore and falls outward, and no
radial stress exceeds it (derived here: with D = s_t - m s_r > 0 at the bore, r s_t' = -D - m nu rho w^2 r^2 < 0 and
r D' >= -(1 + m) D keep it so). There both criteria are the bore hoop stress. A ring that is stiffer in the hoop
direction may carry its peak inside, and is searched.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats, require
from rimmodel.elastic.ring import Ring, RingState

Criterion = Literal["tresca", "von mises"]


def first_yield_speed(
    ring: Ring,
    yield_strength: ArrayLike,
    criterion: Criterion = "tresca",
    traction_per_speed_squared: ArrayLike = 0.0,
) -> Floats:
    """Speed in rad/s at which the most stressed point of a free ring reaches yield; everything broadcasts.

    Parameters
    ----------
    yield_strength : float or array, Pa
        Of the smeared section.
    criterion : "tresca" or "von mises"
        The third principal stress (axial) is zero.
    traction_per_speed_squared : float or array, Pa s2
        Outside traction over speed squared, zero or positive.

    Returns
    -------
    array, rad/s
        Infinite where neither mass nor traction loads the ring.

    Raises
    ------
    ValueError
        Yield strength not positive, traction negative, an unknown criterion; a solid disc softer in the hoop
        direction, whose centre stress is unbounded.

    A thin ring yields at sqrt(yield/rho)/R: 314 MPa over 7850 kg/m3 is 200 m/s.

    >>> print(f"{first_yield_speed(Ring(0.9999, 1.0001, 206e9, 0.3, 7850.0), 314e6):.1f}")
    200.0

    """
    equivalent = _criterion(criterion)
    strength, traction = _loads(yield_strength, traction_per_speed_squared)
    inner, factor = np.asarray(ring.inner_radius, dtype=float), np.asarray(ring.hoop_stiffness_factor)
    if np.any((inner == 0) & (factor < 1)):
        raise ValueError(
            "inner_radius is 0 m with hoop_stiffness_factor below 1: the stress at the centre is unbounded at any "
            "speed; give the bore its radius, or the factor 1"
        )

    def stress(radius: Floats) -> Floats:
        return equivalent(ring.state(radius, 1.0, outer_traction=traction))

    peak = stress(inner) if np.all(factor <= 1) else _peak(stress, ring)
    with np.errstate(divide="ignore"):
        speed: Floats = np.sqrt(strength / peak)
    return speed


def fully_plastic_speed(ring: Ring, yield_strength: ArrayLike, traction_per_speed_squared: ArrayLike = 0.0) -> Floats:
    """Speed in rad/s at which a free ring yields through its whole section, in perfect plasticity after Tresca.

    The hoop stress is then the yield strength everywhere, and the section balance gives
    ``yield (b - a) = w^2 [b q/w^2 + rho (b^3 - a^3)/3]``. A limit load does not depend on elastic constants, so
    this holds for an orthotropic ring and for a solid disc too. Von Mises would yield a slightly higher speed.

    Parameters
    ----------
    yield_strength, traction_per_speed_squared : as in `first_yield_speed`

    Returns
    -------
    array, rad/s

    Raises
    ------
    ValueError
        Yield strength not positive, or traction negative.

    Source: Hill, The Mathematical Theory of Plasticity (1950), and Nadai, Theory of Flow and Fracture of Solids
    (both from memory); by the section balance derived here. A solid disc: w b sqrt(rho/yield) = sqrt(3).

    >>> print(f"{fully_plastic_speed(Ring(0.0, 1.0, 206e9, 0.3, 7850.0), 7850.0):.4f}")
    1.7321

    """
    strength, traction = _loads(yield_strength, traction_per_speed_squared)
    a, b = np.asarray(ring.inner_radius, dtype=float), np.asarray(ring.outer_radius, dtype=float)
    load = np.asarray(ring.density) * (b - a) * (b * b + a * b + a * a) / 3 + b * traction
    with np.errstate(divide="ignore"):
        speed: Floats = np.sqrt(strength * (b - a) / load)
    return speed


def _criterion(name: Criterion) -> Callable[[RingState], Floats]:
    if name == "tresca":
        return _tresca
    if name == "von mises":
        return _von_mises
    raise ValueError(f'criterion is "{name}"; it must be "tresca" or "von mises"')


def _tresca(state: RingState) -> Floats:
    radial, hoop = state.radial_stress, state.hoop_stress
    return np.maximum(np.abs(radial - hoop), np.maximum(np.abs(radial), np.abs(hoop)))


def _von_mises(state: RingState) -> Floats:
    radial, hoop = state.radial_stress, state.hoop_stress
    equivalent: Floats = np.sqrt(radial**2 - radial * hoop + hoop**2)
    return equivalent


def _loads(yield_strength: ArrayLike, traction: ArrayLike) -> tuple[Floats, Floats]:
    strength, pull = np.asarray(yield_strength, dtype=float), np.asarray(traction, dtype=float)
    require((strength > 0) & np.isfinite(strength), "yield_strength", strength, "Pa", "positive")
    require(
        (pull >= 0) & np.isfinite(pull), "traction_per_speed_squared", pull, "Pa s2/rad2", "zero or positive (outward)"
    )
    return strength, pull


def _peak(stress: Callable[[Floats], Floats], ring: Ring) -> Floats:
    """Largest `stress` over the ring: one look at 65 radii, crowded at the bore, then ever closer looks.

    The largest of several absolute values has its kinks where it is least, so the peak is an edge or a smooth top,
    and the error of its value is the square of the last spacing (1e-7 of the ring).
    """
    inner, outer = np.asarray(ring.inner_radius, dtype=float), np.asarray(ring.outer_radius, dtype=float)
    peak = stress(inner)
    low, high, count = np.zeros(peak.shape), np.ones(peak.shape), 65
    for _ in range(10):
        place = np.linspace(low, high, count)
        values = stress(inner + (outer - inner) * place**3)
        best = np.take_along_axis(place, values.argmax(axis=0)[np.newaxis], axis=0)[0]
        peak = np.maximum(peak, values.max(axis=0))
        spacing = (high - low) / (count - 1)
        low, high, count = np.maximum(best - spacing, 0.0), np.minimum(best + spacing, 1.0), 9
    return peak
