"""Lift-off plane by plane and sensor by sensor: as a table, as rows, and in sentences."""

from __future__ import annotations

from typing import Any

import numpy as np

from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.evidence.measured.spread import KneeSpread, TwoEnds
from rimmodel.units import in_mm, in_print, in_rpm, mm, number

MEANING = (
    "A spread between planes means a taper of the fit or uneven growth along the rim, not another mean: in "
    "axisymmetric finite elements of such rims single planes let go from 10 % below to 13 % above the mean, which "
    "stayed right to 0.3 %."
)
"""What a difference between planes stands for; own finite elements of rims with 0.2 mm of taper and uneven growth."""

BY_ITSELF, TOGETHER = "fitted by itself", "fitted together"
"""Which fit a number of planes comes from: a knee of its own points alone, or one fit of all planes or sensors."""

TWO_FITS = (
    "A plane fitted by itself is a knee of its own points alone; differences come from one fit of all planes, or of "
    "all sensors, together, in which the noise that they share drops out. They need not equal the difference of the "
    "knees of planes fitted by themselves."
)
"""Why a difference between planes is not that of the lift-offs of the planes."""

SMALLEST = 1e-4
"""Chance below which its size says no more."""


SURE = 3.0
"""Standard uncertainties from which a tilt is worth a sentence."""


def chance(value: float) -> str:
    """A probability in a sentence.

    Parameters
    ----------
    value : float, -

    >>> chance(0.4258), chance(0.003), chance(1e-9)
    ('0.43', '0.003', 'below 0.0001')
    """
    return "below 0.0001" if value < SMALLEST else f"{value:.2g}" if value < 0.1 else f"{value:.2f}"


def spreads_table(measurement: Measurement) -> dict[str, Any]:
    """Lift-off of every plane and sensor, and what two planes say of taper and tilt."""
    ends = measurement.ends
    return {
        "knee_spread": {row.of: _spread_table(row) for row in measurement.spreads},
        "two_ends": None if ends is None else _ends_table(ends),
        "spread_in_words": spread_sentences(measurement),
    }


def _spread_table(spread: KneeSpread) -> dict[str, Any]:
    return {
        "how": TOGETHER,
        "common_rpm": number(spread.common, "speed"),
        "p_value": number(spread.p_value),
        "differ": spread.differ,
        "knees": [
            {
                "name": one.name,
                "float_speed_rpm": number(one.float_speed, "speed"),
                "less_others_rpm": number(one.difference, "speed"),
                "less_others_interval_rpm": [number(end, "speed") for end in one.interval],
                "p_value": number(one.p_value),
            }
            for one in spread.knees
        ],
    }


def _ends_table(ends: TwoEnds) -> dict[str, Any]:
    return {
        "first": ends.first,
        "last": ends.last,
        "how": TOGETHER,
        "last_less_first_rpm": number(ends.difference, "speed"),
        "last_less_first_interval_rpm": [number(end, "speed") for end in ends.interval],
        "interference_last_less_first_mm": number(ends.interference, "length"),
        "interference_last_less_first_interval_mm": [number(end, "length") for end in ends.interference_interval],
        "cone_mm": number(ends.cone, "length"),
        "tilt_mm": number(ends.tilt, "length"),
        "tilt_uncertainty_mm": number(ends.tilt_uncertainty, "length"),
        "tilt_angle_deg": number(in_print(ends.tilt_angle, "angle")) if np.isfinite(ends.tilt_angle) else None,
        "meaning": MEANING,
    }


def spread_rows(measurement: Measurement) -> list[tuple[str, str]]:
    """Differences between planes, and the largest between sensors, name and words."""
    rows = []
    for spread in measurement.spreads:
        if spread.of == "plane" and measurement.ends is not None:
            ends = measurement.ends
            words = _difference(ends.difference, ends.interval)
            rows.append((f"{ends.last} minus {ends.first}", f"{words}, {TOGETHER}"))
        elif spread.of == "plane":
            rows += [
                (f"{one.name} minus others", f"{_difference(one.difference, one.interval)}, {TOGETHER}")
                for one in spread.knees
            ]
        else:
            one = min(spread.knees, key=lambda knee: knee.p_value)
            words = _difference(one.difference, one.interval)
            rows.append(("most unlike of sensors", f"{one.name}, {words} from the others"))
    return rows


def _difference(value: float, interval: tuple[float, float]) -> str:
    low, high = interval
    ends = f"{_signed(low)} to {_signed(high)} rpm"
    if not np.isfinite([low, high]).all():
        ends = (
            f"above {_signed(low)} rpm"
            if np.isfinite(low)
            else f"below {_signed(high)} rpm"
            if np.isfinite(high)
            else "no bound"
        )
    return f"{_signed(value)} rpm ({ends})"


def _signed(speed: float) -> str:
    return f"{round(in_rpm(speed), 1) + 0.0:+.1f}"


def spread_sentences(measurement: Measurement) -> list[str]:
    """Whether planes, and sensors, lift off together, which end lets go first, and what that means."""
    said = []
    for spread in measurement.spreads:
        words = f"chance of a difference as large from equal ones: {chance(spread.p_value)}"
        if not spread.differ:
            said.append(f"The {spread.of}s lift off together as far as this run shows ({words}).")
        elif spread.of == "plane" and measurement.ends is not None:
            said.append(f"{_first(measurement.ends)} ({words}). {MEANING}")
        elif spread.of == "plane":
            said.append(f"The planes do not lift off together ({words}). {MEANING}")
        else:
            said.append(
                f"The sensors do not show one lift-off ({words}): check those that stand apart for calibration, "
                "mounting and what they look at."
            )
    if any(spread.of == "plane" for spread in measurement.spreads):
        said.append(TWO_FITS)
    ends = measurement.ends
    if ends is not None and (ends.differ or ends.tilt > SURE * ends.tilt_uncertainty):
        said += _cone_and_tilt(ends)
    return said


def _first(ends: TwoEnds) -> str:
    low, high = ends.interval
    sure = f" ({in_rpm(low):.1f} to {in_rpm(high):.1f} rpm)" if np.isfinite([low, high]).all() else ""
    amount = f"{in_mm(ends.interference):.2f}"
    return (
        f"Plane {ends.first} lets go first, {in_rpm(ends.difference):.1f} rpm{sure} before plane {ends.last}: as much "
        f"as {amount} mm less interference at that end, if the rim grows alike at both"
    )


def _cone_and_tilt(ends: TwoEnds) -> list[str]:
    wider, other = (ends.first, ends.last) if ends.cone >= 0.0 else (ends.last, ends.first)
    words = (
        f"From the slowest to the fastest speed the rotor grew {mm(abs(ends.cone), '.3f')} more at plane {wider} than "
        f"at plane {other} (taper)"
    )
    if np.isfinite([ends.tilt, ends.tilt_uncertainty]).all():
        words += (
            f", and its axis moved {mm(ends.tilt, '.3f')} at one against the other (tilt, standard uncertainty "
            f"{mm(ends.tilt_uncertainty, '.3f')})"
        )
    return [f"{words}."]
