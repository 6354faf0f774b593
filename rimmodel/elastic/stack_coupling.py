"""A stack as rings one upon the other: what shear and bending of its section do between them.

The section moves outward by w(z) and tilts by phi(z), both of the whole depth h of the ring. With the shear modulus G
and the axial modulus E_z of the pressed stack, per length of circumference::

    Q = (5/6) G h (w' - phi),    M = D phi',    D = E_z h^3/(12 (1 - nu^2 E_z/E_t))
    M' + Q = 0,    Q = M = 0 at both ends

Nothing keeps the sheets level: a rim whose radius changes linearly along its length is a cone, whose sheets are tilted
all alike. It strains neither shear nor bending, so a linear taper is not evened out by any stiffness of the stack.
Derived here (Timoshenko's beam, whose elastic foundation is the hoop stiffness of the ring); held against axisymmetric
finite elements in ``validation/slices_finite_elements.py``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats, floats, require
from rimmodel.elastic.ring import Ring

SHEAR_SHARE = 5.0 / 6.0
"""Of a rectangular section, which carries its shear unevenly (textbook: Timoshenko)."""

_STRAIGHT = 1e-9


def stack_coupling(
    ring: Ring, length: ArrayLike, slices: int, shear_modulus: ArrayLike, axial_modulus: ArrayLike
) -> Floats:
    """Pressure on the bore of each slice by which the stack resists that slices move outward unevenly.

    The tilt of each face between two slices is condensed; slices of one thickness t. With the difference d of
    neighbours and the eigenvectors V of the path of faces, ``K = d^T V m V^T d/t``, each mode in series
    ``1/m = t/(5/6 G h) + t^3/(D tau)``, tau = 2 - 2 cos(pi j/(n - 1)); per area of the bore all of it times R/a.
    Derived here from the equations of the module.

    Parameters
    ----------
    ring : Ring
        Of the rim.
    length : float or array (...), m
        Of the stack.
    slices : int
        n, 1 and more.
    shear_modulus, axial_modulus : float or array (...), Pa
        Of the stack across its sheets, over the gross section; zero where it has none.

    Returns
    -------
    array (..., slices, slices), Pa/m
        Symmetric; zero for a shift of all and for a cone.

    Raises
    ------
    ValueError
        An axial modulus far beyond that of any steel.

    Two slices make a cone whatever they do. Three that do not bend (rigid axial modulus), 5/6 G h R/a = 1.2 N/m, each
    t = 1/3 m thick, resist w = (0, 1, 0) by shear alone, d = (1, -1): K = d^T d 1.2/t^2, 2 x 1.2 x 9 in the middle.

    >>> thin = Ring(1000.0, 1001.0, 206e9, 0.0, 7850.0)
    >>> modulus = 1.2 * 1000.0 / 1000.5 / SHEAR_SHARE
    >>> print(f"{np.abs(stack_coupling(thin, 1.0, 2, modulus, 1e30)).max():.3f}")
    0.000
    >>> print(f"{stack_coupling(thin, 1.0, 3, modulus, 1e30)[1, 1]:.3f}")
    21.600
    """
    modes = _modes(ring, length, slices, shear_modulus, axial_modulus)
    coupling = modes.step.T @ (modes.stiff[..., None] * modes.step)
    return floats(coupling / modes.thickness[..., None, None])


def spin_curl(ring: Ring, length: ArrayLike, slices: int, shear_modulus: ArrayLike, axial_modulus: ArrayLike) -> Floats:
    """Pressure per speed squared by which the ends of a spinning stack curl, on the bore of each slice, + outward.

    Spin thins the ring more at its bore than outside: the sum of its stresses falls over the depth by S', and a section
    that stays plane bends by ``phi' = nu S'/E_r`` (weighed as a bending moment), ``M = D (phi' - nu S'/E_r)``. With
    ``M = 0`` at the free ends the stack bends there alone, as the hoop holds the rest. Derived here from the equations
    of the module; for an isotropic thin ring S' = -(1 + nu) rho R w^2.

    Parameters
    ----------
    ring : Ring
        Of the rim.
    length : float or array (...), m
        Of the stack.
    slices : int
        1 and more.
    shear_modulus, axial_modulus : float or array (...), Pa
        As in `stack_coupling`.

    Returns
    -------
    array (..., slices), Pa s2
        Sums to zero.

    Steel that does not thin when it is pulled does not curl, and the ends of one that does turn inward:

    >>> print(np.abs(spin_curl(Ring(3.6, 4.0, 206e9, 0.0, 7850.0), 1.8, 6, 8e10, 2e11)).max())
    0.0
    >>> print(np.sign(spin_curl(Ring(3.6, 4.0, 206e9, 0.3, 7850.0), 1.8, 6, 8e10, 2e11)))
    [-1.  1.  1.  1.  1. -1.]
    """
    modes = _modes(ring, length, slices, shear_modulus, axial_modulus)
    if slices < 3 or not np.any(np.asarray(ring.poisson_ratio)):
        return np.zeros((*np.shape(modes.thickness), slices))
    ends = np.zeros(slices - 1)
    ends[0], ends[-1] = -1.0, 1.0
    with np.errstate(divide="ignore", invalid="ignore"):
        per_tau = np.where(modes.tau > _STRAIGHT, modes.stiff / np.where(modes.tau > _STRAIGHT, modes.tau, 1.0), 0.0)
    couple = (per_tau * (modes.basis.T @ ends)) @ modes.step
    return floats(couple * (_free_bend(ring) * modes.thickness)[..., None])


@dataclass(frozen=True)
class _Modes:
    """The path of faces between slices in its eigenvectors: stiffness of each with shear and bending in series."""

    thickness: Floats
    tau: Floats
    basis: Floats
    step: Floats
    stiff: Floats


def _modes(ring: Ring, length: ArrayLike, slices: int, shear_modulus: ArrayLike, axial_modulus: ArrayLike) -> _Modes:
    a, b = floats(ring.inner_radius), floats(ring.outer_radius)
    depth, around = b - a, 0.5 * (a + b) / a
    thickness = floats(length) / slices
    shear, axial = floats(shear_modulus), floats(axial_modulus)
    hoop = floats(ring.young_modulus) * floats(ring.hoop_stiffness_factor)
    held = 1.0 - floats(ring.poisson_ratio) ** 2 * axial / hoop
    require(
        held > 0.0, "axial_modulus", axial, "Pa", "below the hoop modulus of the ring over its Poisson ratio squared"
    )
    bending = axial * depth**3 / (12.0 * held) * around / thickness**3
    shearing = SHEAR_SHARE * shear * depth * around / thickness
    faces = slices - 1
    mode = np.arange(faces)
    tau = 2.0 - 2.0 * np.cos(np.pi * mode / max(faces, 1))
    bends = bending[..., None] * np.where(tau > _STRAIGHT, tau, 0.0)
    shears = shearing[..., None]
    with np.errstate(divide="ignore", invalid="ignore"):
        series = bends * shears / (bends + shears)
    stiff = np.where((bends > 0.0) & (shears > 0.0), series, 0.0)
    basis = np.cos(np.pi * mode * (mode[:, None] + 0.5) / max(faces, 1)) * np.sqrt(
        np.where(mode == 0, 1.0, 2.0) / max(faces, 1)
    )
    return _Modes(thickness, tau, basis, basis.T @ np.diff(np.eye(slices), axis=0), floats(stiff))


def _free_bend(ring: Ring) -> Floats:
    """Curvature per speed squared of a section that spins free of axial stress, 1/m s2: weighed as a moment."""
    a, b = floats(ring.inner_radius), floats(ring.outer_radius)
    place, weight = np.polynomial.legendre.leggauss(6)
    middle, half = 0.5 * (a + b), 0.5 * (b - a)
    moment = floats(0.0)
    for at, share in zip(place, weight, strict=True):
        state = ring.state(middle + half * at, speed=1.0)
        moment = moment + share * at * (state.hoop_stress + state.radial_stress)
    return floats(1.5 * floats(ring.poisson_ratio) / floats(ring.young_modulus) * moment / half)
