"""Shape of bore and pole faces in a condition at a speed, harmonic by harmonic, and what nobody has measured.

A seated rim is held by keys and spider as well as by its own bending (K_n + 1/C_s per bore area), a floating rim by
bending alone, and its centre by tangential guides alone; waves that are shorter than two key pitches slip between the
keys. Spin x S_n and pull k_mag act on the whole shape as in `rimmodel.behaviour.contact.shape`::

    w_n = w_0n K/(K + x S_n - k_mag),     K = K_n (+ 1/C_s where seated; guides for n = 1)

What is not measured is taken off in the worst place at the full assembly tolerance, the pole faces' as an oval, which
a floating rim magnifies most.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Complex, Floats, Numbers, floats
from rimmodel.behaviour.contact.coefficients import Coefficients
from rimmodel.behaviour.contact.shape import bending_stiffness, pull_stiffness, spin_stiffness
from rimmodel.behaviour.contact.state import Contact
from rimmodel.rotor import REFERENCE_TEMPERATURE, Condition, Rotor

OVAL = 2


@dataclass(frozen=True)
class Shapes:
    """Waves of bore and pole faces, and what may lie anywhere; fields broadcast with the rotor.

    Attributes
    ----------
    mean_gap : array (...), m
    bore : complex array (..., H + 1), m
        Harmonics of the bore about the axis of rotation, + outward, from 0 (nothing) on; on the stator.
    faces : complex array (..., H + 1), m
        The same of the pole faces, in the turning frame.
    anywhere : array (...), m
        What is taken off besides, wherever the gap is least; NaN where no bound is known.
    """

    mean_gap: Floats
    bore: Complex
    faces: Complex
    anywhere: Floats


def bore_shape(rotor: Rotor, condition: Condition) -> Complex:
    """Harmonics of the bore about the axis of rotation: survey, offset of the centre, growth that is held back.

    By definition of the inputs; a bore seen from an axis that is off by e has the radius R - e cos(theta - angle) to
    first order (the error is below e^2/(2 R), a ten-thousandth of a millimetre for a millimetre).

    Returns
    -------
    complex array (..., H + 1), m

    An offset of 0.2 mm towards 90 deg on the stator leaves the bore 0.2 mm nearer there:

    >>> import rimmodel as rm
    >>> from dataclasses import replace
    >>> from rimmodel.rotor import Assembly
    >>> case = rm.example_case()
    >>> off = replace(case.rotor, assembly=Assembly(centre_offset=0.2e-3, centre_offset_angle=np.pi / 2))
    >>> print(f"{1e3 * bore_shape(off, case.conditions['cold'])[1].imag:.6f}")
    0.200000
    """
    assembly = rotor.assembly
    waves = [(row.harmonic, row.amplitude * np.exp(-1j * row.harmonic * row.phase)) for row in assembly.stator_shape]
    if assembly.stator_restraint:
        expansion = rotor.air_gap.stator_thermal_expansion
        alpha = floats(rotor.rim.material.thermal_expansion if expansion is None else expansion)
        free = alpha * floats(rotor.stator_bore_radius) * (floats(condition.stator_temperature) - REFERENCE_TEMPERATURE)
        waves += [
            (row.harmonic, -row.share * free * np.exp(-1j * row.harmonic * row.phase))
            for row in assembly.stator_restraint
        ]
    if assembly.centre_offset is not None:
        waves.append((1, -floats(assembly.centre_offset) * np.exp(-1j * floats(assembly.centre_offset_angle))))
    return _stacked(waves)


def _stacked(waves: list[tuple[int, object]]) -> Complex:
    """Harmonics along the last axis from pairs of harmonic and amplitude; two of one harmonic add up."""
    highest = max((n for n, _ in waves), default=0)
    sums: list[Complex] = [np.zeros((), dtype=np.complex128)] * (highest + 1)
    for n, amplitude in waves:
        sums[n] = sums[n] + np.asarray(amplitude, dtype=np.complex128)
    return np.stack(np.broadcast_arrays(*sums), axis=-1)


def effective_gap(rotor: Rotor, gap: Floats) -> Floats:
    """Gap across which the field changes when the rotor moves: slots and iron add a constant length to it.

    ``g + (k_C k_s - 1) g_cold`` with the Carter factor k_C and the saturation factor k_s at the cold gap; what slots
    add hardly changes with the gap (textbook: Carter). Derived here.

    Parameters
    ----------
    gap : array, m

    Returns
    -------
    array, m

    With a Carter factor of 1.25 a cold gap of 16 mm counts as 20 mm, and 12 mm as 16 mm:

    >>> import rimmodel as rm
    >>> from dataclasses import replace
    >>> from rimmodel.rotor import Assembly
    >>> rotor = replace(rm.example_case().rotor, assembly=Assembly(carter_factor=1.25))
    >>> print(f"{1e3 * effective_gap(rotor, floats(12e-3)):.1f} mm")
    16.0 mm
    """
    more = floats(rotor.assembly.carter_factor) * floats(rotor.assembly.saturation_factor) - 1.0
    return floats(gap + more * floats(rotor.air_gap.cold))


def magnification(
    rotor: Rotor, condition: Condition, model: Coefficients, state: Contact, speed_squared: Floats, harmonic: int
) -> Floats:
    """Shape of a harmonic at a speed over that as built: the formula of the module, derived there.

    Parameters
    ----------
    speed_squared : array, rad2/s2
    harmonic : int
        1 and more.

    Returns
    -------
    array, -
        NaN where nothing holds it: the pull or, for harmonic 1, the spin takes over.

    At standstill without a field every shape is that as built:

    >>> import rimmodel as rm
    >>> from rimmodel.behaviour.contact.coefficients import coefficients
    >>> from rimmodel.behaviour.contact.state import contact
    >>> rotor, cold, still = rm.example_case().rotor, rm.example_case().conditions["cold"], floats(0.0)
    >>> model = coefficients(rotor, cold)
    >>> print(float(magnification(rotor, cold, model, contact(model, still), still, 2)))
    1.0
    """
    area = np.pi * floats(rotor.rim.inner_radius) * floats(rotor.rim.length)
    held = bending_stiffness(rotor, harmonic)
    if harmonic == 1:
        held = held + (0.0 if rotor.fit.tangential_clearance else floats(rotor.fit.guide_stiffness) / area)
    count = rotor.key_count
    if count is None or harmonic <= float(np.min(np.asarray(count))) / 2:
        seated = state.residual_interference > 0.0
        carrier = floats(model.spider.compliance)
        with np.errstate(divide="ignore"):
            held = held + np.where(seated, 1.0 / np.maximum(carrier, 1e-300), 0.0)
    pull = pull_stiffness(rotor, condition, state.air_gap) * state.air_gap / effective_gap(rotor, state.air_gap)
    rest = held + speed_squared * spin_stiffness(rotor, harmonic) - pull
    still = (speed_squared == 0) & (pull == 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        gain = np.where(rest > 0.0, held / np.where(rest > 0.0, rest, 1.0), np.nan)
    return np.where(still, 1.0, gain) + np.where(np.isnan(state.air_gap), np.nan, 0.0)


def shapes(rotor: Rotor, condition: Condition, model: Coefficients, state: Contact, speed_squared: Floats) -> Shapes:
    """Bore and pole faces of a smeared rim in a state; derived in the module and the functions that it calls.

    Parameters
    ----------
    speed_squared : array, rad2/s2

    Where nobody has measured anything 5 % of the cold gap is taken off for each of five: circularity of bore and pole
    faces, both leans (each half, about mid-height) and the centre; 4 x 5 % of 16 mm:

    >>> import rimmodel as rm
    >>> from rimmodel.behaviour.contact.coefficients import coefficients
    >>> from rimmodel.behaviour.contact.state import contact
    >>> from dataclasses import replace
    >>> from rimmodel.rotor import Assembly
    >>> case, still = rm.example_case(), floats(0.0)
    >>> rotor = replace(case.rotor, assembly=Assembly(), rim=replace(case.rotor.rim, shape=()))
    >>> model = coefficients(rotor, case.conditions["cold"])
    >>> found = shapes(rotor, case.conditions["cold"], model, contact(model, still), still)
    >>> print(f"{1e3 * found.anywhere:.1f} mm")
    3.2 mm
    """
    rows = []

    def gain(harmonic: int) -> Floats:
        return magnification(rotor, condition, model, state, speed_squared, harmonic)

    for wave in rotor.rim.shape:
        with np.errstate(invalid="ignore"):
            now = wave.amplitude * np.where(wave.harmonic == 1, np.nan_to_num(gain(1), nan=1.0), gain(wave.harmonic))
        rows.append((wave.harmonic, now * np.exp(-1j * wave.harmonic * wave.phase)))
    loose = state.residual_interference <= 0.0
    play = rotor.fit.tangential_clearance
    runs_off = loose & np.isnan(gain(1)) & ~np.isnan(state.air_gap)
    anywhere = np.where(runs_off, np.nan if play is None else floats(play), 0.0) + not_placed(rotor, gain(OVAL))
    return Shapes(state.air_gap, bore_shape(rotor, condition), _stacked(rows), floats(anywhere))


def not_placed(rotor: Rotor, oval_gain: Floats) -> Floats:
    """What is taken off wherever the gap is least: orbit, leans, and the full tolerance of what is not measured.

    By definition of the inputs.

    Parameters
    ----------
    oval_gain : array, -
        Magnification of an oval rotor, which its circularity counts with where it has not been measured.

    Returns
    -------
    array, m

    Nothing measured but an orbit of 0.1 mm: 5 % of 16 mm for the bore, the faces, the centre and two half leans:

    >>> import rimmodel as rm
    >>> from dataclasses import replace
    >>> from rimmodel.rotor import Assembly
    >>> rotor = replace(rm.example_case().rotor, assembly=Assembly(orbit=0.1e-3))
    >>> print(f"{1e3 * not_placed(rotor, floats(1.0)):.1f} mm")
    3.3 mm
    """
    assembly, cold = rotor.assembly, floats(rotor.air_gap.cold)
    found = _or_tolerance(assembly.centre_offset, assembly.concentricity_share, cold, known=0.0)
    found = found + floats(0.0 if assembly.orbit is None else assembly.orbit)
    found = found + 0.5 * _or_tolerance(assembly.stator_lean, assembly.stator_verticality_share, cold)
    found = found + 0.5 * _or_tolerance(assembly.rotor_lean, assembly.rotor_verticality_share, cold)
    if not assembly.stator_shape:
        found = found + floats(assembly.stator_circularity_share) * cold
    if not rotor.rim.shape:
        found = found + floats(assembly.rotor_circularity_share) * cold * np.maximum(oval_gain, 1.0)
    return floats(found)


def _or_tolerance(stated: Numbers | None, share: Numbers, cold: Floats, known: float | None = None) -> Floats:
    """A length as stated (or `known` in its place, where it counts elsewhere), or the share of the cold gap."""
    if stated is None:
        return floats(share) * cold
    return floats(stated if known is None else known)
