"""The rim along its length as tables, text and figures: lift-off by slices, what is left, the gap at each plane."""

from __future__ import annotations

from typing import Any

import numpy as np

from rimmodel.arrays import Floats, Interval
from rimmodel.behaviour.axial.along import AxialCurve
from rimmodel.plotting import left_along_chart, lift_along_chart
from rimmodel.rotor.case.case import Case
from rimmodel.units import in_mm, in_rpm, number, rpm, with_unit
from rimmodel.verdict.output.drawer import Drawing, drawing


def along_table(along: AxialCurve) -> dict[str, Any]:
    """For JSON: rpm, mm, MPa, m; pairs are the least and the most over what is not known of stack and spider."""
    return {
        "height_m": [number(float(value)) for value in along.height],
        "float_speed_of_the_mean_rpm": number(along.float_speed, "speed"),
        "first_lift_off_rpm": _pair(along.first, "speed"),
        "last_lift_off_rpm": _pair(along.last, "speed"),
        "first_contact_in_run_down_rpm": _pair(along.seats, "speed"),
        "seated_in_run_down_rpm": _pair(along.seated, "speed"),
        "lift_off_rpm": _pairs(along.each, "speed"),
        "at": {
            row.name: {
                "speed_rpm": number(row.speed, "speed"),
                "contact_pressure_MPa": _pairs(row.contact_pressure, "stress"),
                "residual_interference_mm": _pairs(row.residual_interference, "length"),
            }
            for row in along.at
        },
        "planes": {
            plane.name: {
                "height_m": number(plane.height),
                "least_gap_mm": _pairs(plane.least_gap, "length"),
            }
            for plane in along.planes
        },
    }


def _pair(values: Interval, kind: str) -> list[float | None]:
    return [number(value, kind) for value in values]


def _pairs(values: Floats, kind: str) -> list[list[float | None]]:
    return [[number(float(value), kind) for value in side] for side in values]


def plane_rows(along: AxialCurve, speed: Floats) -> list[tuple[str, ...]]:
    """Cells of each plane: its name, height, and the least gap at each named speed, in mm.

    Parameters
    ----------
    speed : array (speed,), rad/s
        Of the planes.
    """
    places = [int(np.argmin(np.abs(speed - row.speed))) for row in along.at]
    return [
        (plane.name, f"{plane.height:.2f} m", *(_span(plane.least_gap[:, place]) for place in places))
        for plane in along.planes
    ]


def left_rows(along: AxialCurve) -> list[tuple[str, ...]]:
    """Cells of each named speed: name, rpm, interference left at lower end, middle and upper end in mm."""
    last = along.height.size - 1
    return [
        (
            row.name,
            f"{in_rpm(row.speed):.1f}",
            *(_span(row.residual_interference[:, place]) for place in (0, (last + 1) // 2, last)),
        )
        for row in along.at
    ]


def _span(ends: Floats) -> str:
    """Both ends in mm; one number where they print alike."""
    if not np.isfinite(ends).all():
        return "gap shut"
    low, high = (f"{in_mm(float(end)):.2f}" for end in ends)
    return low if low == high else f"{low} to {high}"


def speeds_words(ends: Interval) -> str:
    """A pair of speeds in words; a single one where both print alike.

    Parameters
    ----------
    ends : pair of float, rad/s
    """
    if np.isnan(ends).any():
        return "no speed: the magnetic pull closes the gap before"
    low, high = (rpm(end) if np.isfinite(end) else "never" for end in ends)
    return low if low == high else f"{low.removesuffix(' rpm') if np.isfinite(ends[1]) else low} to {high}"


def along_statements(case: Case, along: AxialCurve) -> list[str]:
    """What differs along the rim and what is not known of it, in sentences."""
    axial, words = case.rotor.axial, []
    words.append(
        f"Along the rim, '{along.condition}', as drawn: the first place lifts off at {speeds_words(along.first)}, the "
        f"last at {speeds_words(along.last)}; the float speed of the mean, {speeds_words((along.float_speed,) * 2)}, "
        "lies between and is not that of the first."
    )
    if any(end.straight for end in along.stacks):
        words.append(
            "How the spider yields along the rim is "
            + ("stated: bars that stay straight on discs at both ends." if axial.spider_yields == "ends" else
               "not stated: both count, each place by itself and bars that stay straight on discs at both ends.")
        )  # fmt: skip
    stiff = sorted({float(end.shear_modulus) for end in along.stacks})
    words.append(
        "Shear stiffness of the stack across its sheets is "
        + ("not stated" if axial.shear_modulus is None else "stated as a range" if len(stiff) > 1 else "stated")
        + f": {' to '.join(with_unit(value, 'stack modulus', '.3g') for value in stiff)}"
        + (", from nothing to solid steel." if axial.shear_modulus is None else ".")
    )
    if axial.interference_taper is None:
        words.append("Shims count as even along the rim: axial.interference_taper is not stated.")
    if axial.pole_length is None:
        words.append("Poles count as pressing on the whole length of the rim: axial.pole_length is not stated.")
    words.append(
        "Sheets are free to tilt, so no stiffness of the stack evens out a linear taper. Not in it: tolerances of the "
        "case, ends that curl with heat through the depth of the rim, bending of poles and studs, a spider whose own "
        "growth or stiffness differs along its length."
    )
    return words


def along_text(along: AxialCurve, speed: Floats) -> list[str]:
    """The rim along its length for a terminal, in lines.

    Parameters
    ----------
    speed : array (speed,), rad/s
        Of the planes.
    """
    lines = [
        "along the rim, least to most over what is not known of stack and spider:",
        f"    first place without contact     {speeds_words(along.first)}",
        f"    none with contact from          {speeds_words(along.last)}",
        f"    float speed of the mean         {speeds_words((along.float_speed,) * 2)}",
        f"    in run-down, first contact      {speeds_words(along.seats)}",
        f"    in run-down, contact everywhere {speeds_words(along.seated)}",
        "",
        f"    interference left, mm{'':8}{'lower end':>18}{'middle':>18}{'upper end':>18}",
    ]
    for name, at, *cells in left_rows(along):
        lines.append(f"    {name:12}{at + ' rpm':>17}{''.join(f'{cell:>18}' for cell in cells)}")
    lines += ["", f"    least gap, mm{'':16}{''.join(f'{row.name:>18}' for row in along.at)}"]
    for name, height, *cells in plane_rows(along, speed):
        lines.append(f"    {name:12}{height:>17}{''.join(f'{cell:>18}' for cell in cells)}")
    return lines


def along_drawings(case: Case, along: AxialCurve) -> dict[str, Drawing]:
    """Drawings by name: what is left of the fit along the rim, and the speed at which each height lifts off."""
    curves = [
        (f"{row.name}, {rpm(row.speed, '.0f')}", *in_mm(row.residual_interference))
        for row in along.at
        if np.isfinite(row.residual_interference).all()
    ]
    named = {name: in_rpm(float(value)) for name, value in case.rotor.speeds.named.items()}
    lifts = (in_rpm(along.each[0]), in_rpm(along.each[1]), in_rpm(along.float_speed))
    figures: dict[str, Drawing] = {"lift_off_along": drawing(lift_along_chart.draw, along.height, *lifts, named)}
    if curves:
        figures["left_along"] = drawing(left_along_chart.draw, along.height, curves)
    return figures
