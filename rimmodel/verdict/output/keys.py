"""The rotor key by key, as tables, text and figures; when the smeared ring is enough."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from rimmodel.behaviour.contact.shape import profile
from rimmodel.behaviour.keys.run import KeyRun, key_run
from rimmodel.plotting.keys import ForceCurve, KeyMark, RimOutline, force_chart, key_map, rim_chart
from rimmodel.plotting.style import to_svg
from rimmodel.rotor import Condition
from rimmodel.rotor.case.case import Case
from rimmodel.units import DEGREE, KILONEWTON, MILLIMETRE, RPM
from rimmodel.verdict.output.fit import number

ENOUGH_KEYS = 16
"""From so many keys on an even fit may be taken as smeared: the rim scallops by a few percent at most (derived)."""

EVEN = 0.02
"""Share of the mean by which shims may differ and still count as even."""


def keys_are_known(case: Case) -> bool:
    """Whether the case describes its keys well enough to be followed one by one."""
    return case.rotor.fit.key_width is not None and case.rotor.key_count is not None


def run_keys(case: Case, condition: Condition) -> KeyRun:
    """Follow the rotor of a case key by key to its highest speed. Raises `ValueError`, naming what the case lacks."""
    if not keys_are_known(case):
        raise ValueError(
            f"{case.title!r}: key by key takes fit.key_width and the number of keys (fit.key_count, or spider arms); "
            "add them to the case"
        )
    return key_run(case.rotor, condition)


def smeared_is_enough(case: Case) -> str:
    """One sentence: whether the smeared ring serves this machine or the keys must be looked at one by one."""
    count, keys = case.rotor.key_count, case.rotor.fit.key_interference
    if count is None:
        return "the number of keys is not known: only the smeared ring can be computed"
    spread = 0.0 if keys is None else float(np.ptp(np.asarray(keys)) / np.mean(np.asarray(keys)))
    uneven = f"shims differ by {100 * spread:.0f} % of their mean"
    if spread > EVEN:
        return f"{uneven}: first and last key lift off at different speeds, look at them key by key"
    if count >= ENOUGH_KEYS:
        return f"{count:.0f} keys with even shims: the smeared ring is enough"
    return (
        f"{count:.0f} keys with even shims: they lift off together, at the float speed of the smeared ring, but the "
        "rim scallops between them and presses less than the smeared ring says"
    )


def _rpm(speed: float | None) -> float | None:
    return None if speed is None else number(speed / RPM)


def _listed(values: Any, size: float) -> Any:
    if np.ndim(values) > 1:
        return [_listed(row, size) for row in values]
    return [number(float(value) / size) for value in values]


def keys_table(run: KeyRun) -> dict[str, Any]:
    """Columns for JSON: speeds in rpm, forces in kN, lengths in mm, keys counted from 1."""
    marks = run.landmarks
    return {
        "speed_rpm": _listed(run.speed, RPM),
        "key_angle_deg": _listed(run.key_angle, DEGREE),
        "key_force_kN": _listed(run.key_force, KILONEWTON),
        "centre_mm": _listed(run.centre, MILLIMETRE),
        "ovality_mm": _listed(run.ovality, MILLIMETRE),
        "mean_gap_mm": _listed(run.mean_gap, MILLIMETRE),
        "eccentricity_mm": _listed(run.eccentricity, MILLIMETRE),
        "minimum_gap_mm": _listed(run.minimum_gap, MILLIMETRE),
        "events": [{"speed_rpm": event.speed / RPM, "key": event.key, "kind": event.kind} for event in run.events],
        "landmarks": {
            "first_lift_off_rpm": _rpm(marks.first_lift_off),
            "centring_lost_rpm": _rpm(marks.centring_lost),
            "last_lift_off_rpm": _rpm(marks.last_lift_off),
            "one_sided_rpm": _rpm(marks.one_sided),
            "shape_lost_rpm": _rpm(marks.shape_lost),
            "mean_float_rpm": _rpm(marks.mean_float),
        },
        "notes": list(run.notes),
    }


def keys_text(run: KeyRun) -> str:
    """Landmarks, events and notes for a terminal."""
    lines = [f"{name:38}{value}" for name, value in landmark_rows(run)]
    lines += [
        "",
        "events:",
        *(f"    {event.speed / RPM:8.2f} rpm  key {event.key:2d}  {event.kind}" for event in run.events),
    ]
    if not run.events:
        lines.append("    none")
    return "\n".join([*lines, "", *(f"- {note}" for note in run.notes)])


def landmark_rows(run: KeyRun) -> list[tuple[str, str]]:
    """Name and speed of each landmark, the smeared float speed first."""
    marks = run.landmarks
    rows = (
        ("float speed of the mean interference", marks.mean_float),
        ("first key lifts off", marks.first_lift_off),
        ("rim leans on keys of one side", marks.one_sided),
        ("centring lost", marks.centring_lost),
        ("last key lifts off", marks.last_lift_off),
    )
    return [(name, _speed(value)) for name, value in rows]


def _speed(value: float | None) -> str:
    return "none" if value is None or not math.isfinite(value) else f"{value / RPM:.1f} rpm"


def key_figures(case: Case, run: KeyRun) -> dict[str, str]:
    """SVG by name: key forces against speed, the map of keys, the shape of the rim at chosen speeds."""
    speed = run.speed / RPM
    marks = [KeyMark(event.speed / RPM, event.key, event.kind) for event in run.events]
    forces = [
        ForceCurve(f"{number}", speed, run.key_force[:, number - 1] / KILONEWTON)
        for number in range(1, len(run.key_angle) + 1)
    ]
    named = {name: float(value) / RPM for name, value in case.rotor.speeds.named.items()}
    figures = {
        "key_forces": to_svg(force_chart(forces, marks, named)),
        "key_map": to_svg(key_map(speed, run.key_angle / DEGREE, run.key_force / KILONEWTON, marks, named)),
    }
    turn = np.linspace(0.0, 2 * np.pi, 361)
    outlines = []
    for name, value in case.rotor.speeds.from_standstill.items():
        at = int(np.argmin(np.abs(run.speed - value)))
        harmonics = run.outer_harmonics[at].copy()
        harmonics[0] = 0.0
        if np.isfinite(harmonics).all():
            outlines.append(RimOutline(f"{name}, {speed[at]:.0f} rpm", turn, profile(harmonics, turn) / MILLIMETRE))
    if outlines:
        figures["rim_shape"] = to_svg(rim_chart(outlines, float(case.rotor.rim.outer_radius), run.key_angle))
    return figures
