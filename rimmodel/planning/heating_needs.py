"""What the heating of a rim must reach: interference, tolerances, clearance, what spreads and thermometers may take."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.quantities import evaluate
from rimmodel.elastic import ring_edges
from rimmodel.elastic.wall_heating import restrained_stress, thermal_wave
from rimmodel.planning.predicted import standard_errors
from rimmodel.rotor import UNIFORM_COLD, Rotor
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.heating import RimHeating
from rimmodel.rotor.thermal import Thermal

CONFIDENCE = 0.95


@dataclass(frozen=True)
class Part:
    """One part of the growth that must be reached.

    Attributes
    ----------
    amount : float, m
    """

    name: str
    amount: float
    why: str


@dataclass(frozen=True)
class SpreadLimit:
    """A limit of spread with the stress that it stands for.

    Attributes
    ----------
    spread : float, K
    stress : float, Pa
        Largest size.
    allowed : float, Pa
        NaN where the yield strength of the rim is not given.
    """

    name: str
    spread: float
    stress: float
    allowed: float
    why: str


def needed_inputs(case: Case) -> tuple[RimHeating, Thermal, float, int]:
    """Heating, thermal data, insertion clearance and number of keys of a case.

    Returns
    -------
    heating : RimHeating
    thermal : Thermal
    clearance : float, m
    count : int

    Raises
    ------
    ValueError
        One of them is not given, or the rim does not grow.
    """
    fit = case.rotor.fit
    if case.heating is None:
        raise ValueError("the case has no [heating]: heaters, covers, limits and work; 'rimmodel new FILE' shows it")
    if case.thermal is None:
        raise ValueError("the case has no [thermal]: heat capacities and surfaces; 'rimmodel new FILE' shows it")
    if fit.assembly_clearance is None:
        raise ValueError("the case has no fit.assembly_clearance: radial play wanted over the keys while they go in")
    if case.rotor.key_count is None:
        raise ValueError("the case has no fit.key_count: the time to fit depends on the number of keys")
    if not float(np.asarray(case.rotor.rim.material.thermal_expansion)) > 0:
        raise ValueError("the thermal_expansion of the rim is zero: it cannot be heated over its keys")
    return case.heating, case.thermal, float(fit.assembly_clearance), int(np.asarray(case.rotor.key_count))


def key_interferences(rotor: Rotor, heating: RimHeating, count: int) -> Floats:
    """Radial interference of every key that is to go in; another mean moves all alike.

    Returns
    -------
    array (key,), m
    """
    mean = float(np.asarray(rotor.fit.interference))
    keys = np.full(count, mean) if rotor.fit.key_interference is None else floats(rotor.fit.key_interference)
    wanted = mean if heating.interference is None else float(heating.interference)
    return floats(keys - keys.mean() + wanted)


def allowances(rotor: Rotor, heating: RimHeating, count: int, clearance: float) -> tuple[Part, ...]:
    """All that the growth must hold besides the interference of a key, with 95 % confidence for all keys together.

    Half of the 5 % is left to what keys share and half to the worst of them. Derived here.

    Parameters
    ----------
    clearance : float, m
        Wanted while keys go in.

    Returns
    -------
    tuple of Part
    """
    from scipy.special import ndtri

    fit, a = rotor.fit, float(np.asarray(rotor.rim.inner_radius))
    expansion = float(np.asarray(rotor.rim.material.thermal_expansion))
    shared = standard_errors(CONFIDENCE)
    per_kelvin = a * expansion
    tolerance = shared * float(np.asarray(fit.interference_tolerance)) / 2
    reading = shared * per_kelvin * float(heating.temperature_uncertainty)
    each = float(ndtri(((1 + CONFIDENCE) / 2) ** (1 / count))) * float(np.asarray(fit.key_interference_tolerance)) / 2
    around = float(thermal_wave(a, expansion, float(heating.around_spread) / 2, 2))
    rows = [
        Part("insertion clearance", clearance, "fit.assembly_clearance"),
        Part(
            "tolerance of the interference and error of the temperatures",
            float(np.hypot(tolerance, reading)),
            f"both at 95 %, independent: {1e3 * tolerance:.2f} and {1e3 * reading:.2f} mm",
        ),
        Part(
            "colder end of the rim",
            per_kelvin * float(heating.height_spread) / 2,
            "half of the spread from top to bottom",
        ),
        Part("shape of the bore", around, "spread around the rim, twice around: a alpha dT/6"),
    ]
    if each > 0:
        rows.insert(2, Part("tolerance of single keys", each, f"95 % for all {count} keys together"))
    return tuple(rows)


def spread_limits(case: Case, heating: RimHeating) -> tuple[SpreadLimit, ...]:
    """The three limits of spread with the stress of each in the sheets.

    Through the depth the temperature is a parabola, hot side 2/3 of the spread above the mean; around the rim the worst
    is a hot place, which carries half of ``E alpha dT``; from top to bottom the same half where studs and ledge hold
    the rim upright, none where it may tilt. Source: Timoshenko & Goodier, ch. 13 (from memory).

    Returns
    -------
    tuple of SpreadLimit
    """
    steel = case.rotor.rim.material
    modulus, expansion = float(np.asarray(steel.young_modulus)), float(np.asarray(steel.thermal_expansion))
    strength = getattr(steel, "yield_strength", None)
    share = float(np.asarray(case.limits.share_of_yield("standstill")))
    allowed = np.nan if strength is None else share * float(np.asarray(strength))
    rows = (
        ("bore to outside", float(heating.depth_spread), 2 / 3, "parabola through the depth, hot side: 2/3 E alpha dT"),
        ("top to bottom", float(heating.height_spread), 0.5, "rim held upright: E alpha dT/2; none where it may tilt"),
        ("around the rim", float(heating.around_spread), 0.5, "a hot place: E alpha dT/2"),
    )
    return tuple(
        SpreadLimit(
            name, spread, float(np.abs(restrained_stress(modulus, expansion, part * spread))), float(allowed), why
        )
        for name, spread, part, why in rows
    )


def outside_growth(case: Case, interference: float) -> tuple[float, float, float]:
    """Growth of the rim outside by the fit, cold and at rest: what is measured once the rim has cooled.

    Parameters
    ----------
    interference : float, m
        Mean over the keys.

    Returns
    -------
    expected, low, high : float, m
        The last two over the tolerance of the interference at 95 %.
    """
    rotor = case.rotor.without_settlement()
    half = standard_errors(CONFIDENCE) * float(np.asarray(rotor.fit.interference_tolerance)) / 2
    per_pressure = float(np.asarray(ring_edges(rotor.rim.ring).outer_displacement.pressure))
    expected, low, high = (
        per_pressure * evaluate("contact_pressure_at_standstill", rotor.with_interference(value), UNIFORM_COLD)
        for value in (interference, interference - half, interference + half)
    )
    return expected, low, high
