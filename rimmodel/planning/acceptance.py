"""Assembly tolerances of the gap: the six rows of the published table, each replaceable, against survey and recording.

A survey speaks first, at face value; without it the slowest point of a recording, with its interval. What neither shows
is "not measured", never within.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Interval, Numbers, floats
from rimmodel.behaviour.least_gap.states import gap_off_mean
from rimmodel.evidence.reduction.bore_split import PlaneGap
from rimmodel.planning.predicted import standard_errors
from rimmodel.rotor.case.case import Case

WITHIN, EXCEEDED, NOT_SHOWN, NOT_MEASURED = "within", "exceeded", "not shown", "not measured"


@dataclass(frozen=True)
class AcceptanceRow:
    """One tolerance and what is known of it.

    Attributes
    ----------
    what : str
        Definition in words.
    key : str
        Of the share in ``[assembly]``.
    allowed : float, m
    found : pair of float or None, m
        Interval of what was measured; one value twice where a survey states it.
    verdict : str
        "within", "exceeded", "not shown" or "not measured".
    basis : str
        "survey", a recording by its label, or nothing.
    source : str
        Of the tolerance.
    """

    what: str
    key: str
    allowed: float
    found: Interval | None
    verdict: str
    basis: str
    source: str


def acceptance(
    case: Case, planes: Mapping[str, PlaneGap] | None = None, label: str = "", expected: float | None = None
) -> tuple[AcceptanceRow, ...]:
    """The six assembly tolerances of a case.

    Parameters
    ----------
    planes : mapping of str to PlaneGap, optional
        Of a recording, by sensor plane; its slowest points speak for standstill.
    label : str
        Of that recording.
    expected : float, m, optional
        Mean gap that the case expects at the slowest point, from which the recorded mean may be off.
    """
    assembly, rotor = case.rotor.assembly, case.rotor
    slow = {name: int(np.argmin(found.speed)) for name, found in (planes or {}).items()}
    pairs = [(found, slow[name]) for name, found in (planes or {}).items()]
    offsets = [(found.offset.low[i], found.offset.high[i]) for found, i in pairs]
    ovals = [(float(found.bore_oval.low[i]), np.inf) for found, i in pairs]
    faces = [_about(found.circularity[i], found.circularity_error[i], found.confidence) for found, i in pairs]
    means = [] if expected is None else [_off(found, i, expected) for found, i in pairs]
    bore = gap_off_mean(assembly.stator_shape) if assembly.stator_shape else None
    poles = gap_off_mean([wave for wave in rotor.rim.shape if wave.harmonic > 1]) if rotor.rim.shape else None
    rows: tuple[tuple[str, str, Numbers | None, list[tuple[float, float]]], ...] = (
        ("mean gap off its nominal value", "gap_share", None, means),
        ("radius of the bore off its mean", "stator_circularity_share", bore, ovals),
        ("radius of the pole faces off its mean, eccentricity taken out", "rotor_circularity_share", poles, faces),
        ("lean of the bore over its length", "stator_verticality_share", assembly.stator_lean, []),
        ("lean of the pole faces over their length", "rotor_verticality_share", assembly.rotor_lean, []),
        ("axis of rotation off the centre of the bore", "concentricity_share", assembly.centre_offset, offsets),
    )
    return tuple(_row(case, (what, key), surveyed, recorded, label) for what, key, surveyed, recorded in rows)


def _row(
    case: Case,
    named: tuple[str, str],
    surveyed: Numbers | None,
    recorded: list[tuple[float, float]],
    label: str,
) -> AcceptanceRow:
    (what, key), assembly = named, case.rotor.assembly
    allowed = float(getattr(assembly, key)) * float(case.rotor.air_gap.cold)
    found: Interval | None = None
    known = [(low, high) for low, high in recorded if np.isfinite(low)]
    if surveyed is not None:
        found = (float(surveyed), float(surveyed))
    elif known:  # the worst plane counts
        found = (float(max(low for low, _ in known)), float(max(high for _, high in known)))
    basis = "" if found is None else ("survey" if surveyed is not None else label)
    return AcceptanceRow(what, key, allowed, found, _verdict(found, allowed), basis, assembly.source(key))


def _verdict(found: Interval | None, allowed: float) -> str:
    if found is None:
        return NOT_MEASURED
    if found[1] <= allowed:
        return WITHIN
    return EXCEEDED if found[0] > allowed else NOT_SHOWN


def _about(value: float, error: float, confidence: float) -> tuple[float, float]:
    half = standard_errors(confidence) * float(error)
    return max(float(value) - half, 0.0), float(value) + half


def _off(found: PlaneGap, i: int, expected: float) -> tuple[float, float]:
    """Between which the mean gap of a plane is off from what is expected, m: level of its sensors included."""
    level = float(np.hypot(found.errors.common, found.errors.one / np.sqrt(max(found.sensors, 1))))
    off = abs(float(floats(found.mean[i])) - expected)
    return _about(off, level, found.confidence)
