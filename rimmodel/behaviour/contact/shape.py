"""The shape of the rim: bending holds it, spin rounds it or throws it out, magnetic pull drives it on.

Harmonic n of the outside, per bore area: bending stiffness K_n, spin x S_n, pull k_mag against both. n = 1 is the
sideways shift, which nothing elastic holds. Spin and pull act on the whole shape, bending only on its change::

    w = w_0 K_n/(K_n + x S_n - k_mag),     S_n = mu_r (n^2-3) + mu_p [(n^2-3) + 2 ((r_p-R)/R) (n^2-1)]

S_n is that of a thin inextensible ring (mu: mass per bore area of rim r and poles p, R mean radius of the rim). It
is good while the waves are long against the depth of the rim, n below R/h; it grows as n^2 and K_n as n^4, so the
higher ones hardly feel it. The pull takes the flux density where it is largest: no saturation, no Carter factor.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rimmodel.arrays import Complex, Floats, floats
from rimmodel.behaviour.contact.coefficients import MAGNETIC_CONSTANT, coefficients
from rimmodel.behaviour.contact.state import contact
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.rim import Rim


def bending_stiffness(rotor: Rotor, harmonic: ArrayLike) -> Floats:
    """Return K_n, bore pressure per bore displacement of each harmonic; zero for n = 1.

    Exact in plane stress but for the bending stiffness factor; derived in `rimmodel.elastic.harmonics`.

    Parameters
    ----------
    harmonic : float or array, -
        n, whole, 1 and more; broadcasts with the fields of the rotor.

    Returns
    -------
    array, Pa/m

    >>> import rimmodel as rm
    >>> print(bending_stiffness(rm.example_case().rotor, [1, 2]).round(-7))    # thin: 9 E_hoop h^3/(12 R^4) = 5.0e7
    [       0. 50000000.]
    """
    n = floats(harmonic)
    ring = rotor.rim.harmonic_ring
    return np.where(n > 1.0, 1.0 / ring.compliance(np.maximum(n, 2.0)), 0.0)


def spin_stiffness(rotor: Rotor, harmonic: ArrayLike) -> Floats:
    """Return S_n, bore pressure per bore displacement and speed squared; below zero throws out.

    Derived here for a thin ring.

    Parameters
    ----------
    harmonic : float or array, -
        n, whole, 1 and more; broadcasts with the fields of the rotor.

    Returns
    -------
    array, kg/m2

    The sideways shift is thrown out by the whole mass M, -M/(pi a L):

    >>> import rimmodel as rm
    >>> rotor = rm.example_case().rotor
    >>> area = np.pi * rotor.rim.inner_radius * rotor.rim.length
    >>> bool(np.isclose(spin_stiffness(rotor, 1), -floating_mass(rotor) / area))
    True
    """
    n = floats(harmonic)
    rim, poles = rotor.rim, rotor.poles
    bore = 2.0 * np.pi * floats(rim.inner_radius) * floats(rim.length)
    mean = 0.5 * (floats(rim.inner_radius) + floats(rim.slot_bottom_radius))
    own = n**2 - 3.0

    def hung(radius: Floats) -> Floats:
        lever = (radius - mean) / mean
        return floats(own + 2.0 * lever * (n**2 - 1.0))

    on_ring = floats(poles.count) * floats(poles.mass) * hung(floats(poles.mass_radius))
    teeth = tooth_mass(rim)
    if np.any(teeth):
        on_ring = on_ring + teeth * hung(0.5 * (floats(rim.slot_bottom_radius) + floats(rim.outer_radius)))
    return floats(((rim_mass(rim) - teeth) * own + on_ring) / bore)


def pull_stiffness(rotor: Rotor, condition: Condition, gap: ArrayLike) -> Floats:
    """Return k_mag, the bore pressure per displacement with which the field draws the rim out.

    ``B^2/(2 mu0 g) (r_face/a)(L_face/L)``, B the peak in that gap: at constant current the pull grows
    as 1/g^3. Times pi a L it is the unbalanced pull per eccentricity, ``pi r_face L_face B^2/(2 mu0 g)``. Derived here.

    Parameters
    ----------
    gap : float or array, m
        Mean.

    Returns
    -------
    array, Pa/m

    1 T in 16 mm is 1/(2 x 1.2566e-6 x 0.016) = 24.87 MPa/m, times 4.58/3.62 and 1.80/1.85:

    >>> import rimmodel as rm
    >>> from dataclasses import replace
    >>> case = rm.example_case()
    >>> print(f"{pull_stiffness(case.rotor, replace(case.conditions['cold'], flux_density=1.0), 16e-3) / 1e6:.2f}")
    30.61
    """
    flux, g = floats(condition.flux_density), floats(gap)
    if condition.excitation == "constant current":
        flux = flux * floats(rotor.air_gap.cold) / g
    face = floats(rotor.poles.face_radius) / floats(rotor.rim.inner_radius)
    return floats(flux**2 / (2.0 * MAGNETIC_CONSTANT * g) * face * floats(rotor.face_length) / floats(rotor.rim.length))


def rim_mass(rim: Rim) -> Floats:
    """Mass of the rim without poles: gross volume less the slots, times the stacking factor, by definition.

    Parameters
    ----------
    rim : Rim
        The pole roots that fill its slots belong to the poles, as far as `slot_share` separates slots from teeth.

    Returns
    -------
    array, kg

    pi (4.06^2 - 3.62^2) 1.85 m3 x 0.97 x 7850 kg/m3:

    >>> import rimmodel as rm
    >>> print(f"{rim_mass(rm.example_case().rotor.rim) / 1e3:.1f} t")
    149.5 t
    """
    volume = np.pi * (floats(rim.slot_bottom_radius) ** 2 - floats(rim.inner_radius) ** 2) * floats(rim.length)
    return floats(rim.stacking_factor) * floats(rim.material.density) * volume + tooth_mass(rim)


def tooth_mass(rim: Rim) -> Floats:
    """Mass of the teeth between the pole slots, by definition: their share of the annulus outside the slot bottom.

    Returns
    -------
    array, kg

    Half of an annulus from 3.97 m to 4.06 m, pi (4.06^2 - 3.97^2) 1.85 m3 x 0.97 x 7850 kg/m3 / 2:

    >>> import rimmodel as rm
    >>> from dataclasses import replace
    >>> slotted = replace(rm.example_case().rotor.rim, slot_depth=0.09, slot_share=0.5)
    >>> print(f"{tooth_mass(slotted) / 1e3:.2f} t")
    15.99 t
    """
    annulus = np.pi * (floats(rim.outer_radius) ** 2 - floats(rim.slot_bottom_radius) ** 2) * floats(rim.length)
    steel = floats(rim.stacking_factor) * floats(rim.material.density) * (1.0 - floats(rim.slot_share))
    return floats(steel * annulus)


def floating_mass(rotor: Rotor) -> Floats:
    """Mass of all that floats, rim and poles, by definition.

    Returns
    -------
    array, kg

    48 poles of 3.7 t on the rim of `rim_mass`, 149.5 t:

    >>> import rimmodel as rm
    >>> print(f"{floating_mass(rm.example_case().rotor) / 1e3:.1f} t")
    327.1 t
    """
    return floats(rim_mass(rotor.rim) + floats(rotor.poles.count) * floats(rotor.poles.mass))


def as_built(rim: Rim, highest: int) -> Complex:
    """Harmonics of the outside as built: the shape is Re sum amplitude exp(i n theta), by definition.

    Parameters
    ----------
    highest : int
        Harmonic.

    Returns
    -------
    complex array (highest + 1,), m
        From harmonic 0.

    >>> import rimmodel as rm
    >>> from dataclasses import replace
    >>> from rimmodel.rotor.rim import ShapeHarmonic
    >>> oval = replace(rm.example_case().rotor.rim, shape=(ShapeHarmonic(2, 1e-3),))
    >>> as_built(oval, 2).real.tolist()
    [0.0, 0.0, 0.001]
    """
    amplitude = np.zeros(highest + 1, dtype=np.complex128)
    for wave in rim.shape:
        if wave.harmonic <= highest:
            amplitude[wave.harmonic] += wave.amplitude * np.exp(-1j * wave.harmonic * wave.phase)
    return amplitude


def profile(amplitude: Complex, angle: ArrayLike) -> Floats:
    """Return the shape at each angle from its harmonics, by definition Re sum amplitude exp(i n theta).

    Parameters
    ----------
    amplitude : complex array (..., n), m
        Harmonics 0, 1, 2, ...
    angle : array (angle,), rad

    Returns
    -------
    array (..., angle), m

    >>> print(profile(np.array([1.0, 0.0, 0.5]), [0.0, np.pi / 2]))
    [1.5 0.5]
    """
    n = np.arange(amplitude.shape[-1])
    return floats((amplitude @ np.exp(1j * n[:, None] * floats(angle))).real)


@dataclass(frozen=True)
class FreeShape:
    """The rim by itself, off its keys, at n speeds and in harmonics 2, 3, ... (H of them).

    Attributes
    ----------
    speed : array (n,), rad/s
    harmonic : array (H,), -
    margin : array (n, H), -
        (K_n + x S_n - k_mag)/K_n, zero where the pull takes over.
    magnification : array (n, H), -
        Its inverse; infinite, as the amplitude, from there on.
    amplitude : array (n, H), m
        The as-built one times that.
    seated : bool array (n,)
        Speeds at which the keys of an even fit hold the shape, so that the rim does not have it yet.
    overtaken : array (H,), rad/s
        Lowest speed at which the pull exceeds a harmonic's stiffness, inf where it never does in the range.
    """

    speed: Floats
    harmonic: Floats
    margin: Floats
    magnification: Floats
    amplitude: Floats
    seated: NDArray[np.bool_]
    overtaken: Floats
    notes: tuple[str, ...]


def free_shape(rotor: Rotor, condition: Condition, speed: ArrayLike, highest: int = 8) -> FreeShape:
    """Shape of the floating rim against speed, harmonic by harmonic.

    Parameters
    ----------
    rotor : Rotor
        Of scalar fields; `rim.shape` is the shape as built.
    speed : array (n,), rad/s
        Rising. `overtaken` is read between neighbours by a straight line in speed squared.
    highest : int
        Highest harmonic, 2 or more.

    Without a field and at rest a rim has the shape it was built with:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> print(free_shape(case.rotor, case.conditions["cold"], [0.0], highest=3).magnification)
    [[1. 1.]]
    """
    omega, n = np.atleast_1d(floats(speed)), np.arange(2.0, highest + 1.0)
    state = contact(coefficients(rotor, condition), omega**2)
    pull = pull_stiffness(rotor, condition, state.air_gap)[:, None]
    bending, spin = bending_stiffness(rotor, n), spin_stiffness(rotor, n) * (omega**2)[:, None]
    margin = (bending + spin - pull) / bending
    with np.errstate(divide="ignore"):
        gain = np.where(margin > 0.0, 1.0 / np.where(margin > 0.0, margin, 1.0), np.inf)
    built = np.abs(as_built(rotor.rim, highest)[2:])
    amplitude = np.where(built > 0.0, built * np.where(built > 0.0, gain, 0.0), 0.0)
    overtaken = _first_zero(omega**2, margin)
    notes = [
        f"pull exceeds the stiffness of harmonic {int(k)} of the free rim from {np.sqrt(x):.4g} rad/s on"
        for k, x in zip(n, overtaken, strict=True)
        if np.isfinite(x)
    ]
    if np.isnan(state.air_gap).any():
        notes.append("the mean pull closes the gap within this range; no shape is given there")
    return FreeShape(
        omega, n, margin, gain, amplitude, state.residual_interference > 0.0, np.sqrt(overtaken), tuple(notes)
    )


def _first_zero(x: Floats, rows: Floats) -> Floats:
    """Lowest x at which each column is zero or below, on straight lines between samples; inf when none is."""
    below = rows <= 0.0
    first = np.argmax(below, axis=0)
    before, column = np.maximum(first - 1, 0), np.arange(rows.shape[1])
    high, low = rows[before, column], rows[first, column]
    share = np.where(first > 0, high / np.where(high > low, high - low, 1.0), 0.0)
    return np.where(below.any(axis=0), x[before] + share * (x[first] - x[before]), np.inf)


def minimum_gap(mean_gap: ArrayLike, rotor_shape: Complex, stator_shape: Complex | None = None) -> Floats:
    """Return the least radial gap met anywhere on the bore in one turn.

    In a turn every place of the rotor passes every place of the bore, so the highest of one meets the lowest of the
    other; derived here. Read at 1440 angles.

    Parameters
    ----------
    mean_gap : float or array (...), m
    rotor_shape : complex array (..., n), m
        Harmonics of the pole faces, + outward, n = 1 the eccentricity.
    stator_shape : complex array (..., n), m, optional
        The same of the bore, + outward, standing still.

    Returns
    -------
    array (...), m

    >>> print(f"{minimum_gap(10e-3, np.array([0.0, 1e-3])) * 1e3:.3f}")
    9.000
    """
    angle = np.linspace(0.0, 2.0 * np.pi, 1440, endpoint=False)
    rotor = profile(np.asarray(rotor_shape, dtype=np.complex128), angle).max(axis=-1)
    stator = 0.0 if stator_shape is None else profile(np.asarray(stator_shape, dtype=np.complex128), angle).min(axis=-1)
    return floats(floats(mean_gap) - rotor + stator)
