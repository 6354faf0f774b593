"""The rotor key by key, as tables, text and figures; when the smeared ring is enough."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from rimmodel.behaviour.contact.shape import profile
from rimmodel.behaviour.keys.run import KeyRun, key_run
from rimmodel.plotting import key_force_chart, key_map, key_marks, rim_chart, shape_chart
from rimmodel.rotor import Condition
from rimmodel.rotor.case.case import Case
from rimmodel.units import in_mm, in_print, in_rpm, number, rpm
from rimmodel.verdict.output.drawer import Drawing, drawing

WIDTH = 100

ENOUGH_KEYS = 16
"""From so many keys on an even fit may be taken as smeared: the rim scallops by a few percent at most (derived)."""

EVEN = 0.02
"""Share of the mean by which shims may differ and still count as even."""


def keys_are_known(case: Case) -> bool:
    """Whether the case describes its keys well enough to be followed one by one."""
    return case.rotor.fit.key_width is not None and case.rotor.key_count is not None


def require_keys(case: Case) -> None:
    """Refuse a case whose keys cannot be followed one by one. Raises `ValueError`, naming what it lacks."""
    if not keys_are_known(case):
        raise ValueError(
            f"{case.title!r}: key by key needs fit.key_width and the number of keys (fit.key_count, or spider arms); "
            "add them to the case"
        )


def run_keys(case: Case, condition: Condition) -> KeyRun:
    """Follow the rotor of a case key by key to its highest speed. Raises `ValueError`, naming what the case lacks."""
    require_keys(case)
    return key_run(case.rotor, condition)


def smeared_is_enough(case: Case) -> str:
    """One sentence: whether the smeared ring serves this machine or the keys must be looked at one by one."""
    count, keys = case.rotor.key_count, case.rotor.fit.key_interference
    if count is None:
        return "the number of keys is not known: only the smeared ring can be computed"
    spread = 0.0 if keys is None else float(np.ptp(np.asarray(keys)) / np.mean(np.asarray(keys)))
    uneven = f"shims differ by {100 * spread:.0f} % of their mean"
    if spread > EVEN:
        return f"{uneven}: the first and last keys lift off at different speeds, so consider them key by key"
    if count >= ENOUGH_KEYS:
        return f"{count:.0f} keys with even shims: the smeared ring is enough"
    return (
        f"{count:.0f} keys with even shims: they lift off together, at the float speed of the smeared ring, but the "
        f"rim scallops between them and its contact pressure is lower than that of the smeared ring"
    )


def _listed(values: Any, kind: str) -> Any:
    if np.ndim(values) > 1:
        return [_listed(row, kind) for row in values]
    return [number(float(value), kind) for value in values]


def table(run: KeyRun) -> dict[str, Any]:
    """Columns for JSON: speeds in rpm, forces in kN, lengths in mm, keys counted from 1."""
    marks = run.event_speeds
    return {
        "speed_rpm": _listed(run.speed, "speed"),
        "key_angle_deg": _listed(run.key_angle, "angle"),
        "key_force_kN": _listed(run.key_force, "force"),
        "centre_mm": _listed(run.centre, "length"),
        "ovality_mm": _listed(run.ovality, "length"),
        "mean_gap_mm": _listed(run.mean_gap, "length"),
        "eccentricity_mm": _listed(run.eccentricity, "length"),
        "minimum_gap_mm": _listed(run.minimum_gap, "length"),
        "events": [{"speed_rpm": in_rpm(event.speed), "key": event.key, "kind": event.kind} for event in run.events],
        "landmarks": {
            "first_lift_off_rpm": number(marks.first_lift_off, "speed"),
            "centring_lost_rpm": number(marks.centring_lost, "speed"),
            "last_lift_off_rpm": number(marks.last_lift_off, "speed"),
            "one_sided_rpm": number(marks.one_sided, "speed"),
            "shape_lost_rpm": number(marks.shape_lost, "speed"),
            "mean_float_rpm": number(marks.mean_float, "speed"),
        },
        "notes": list(run.notes),
    }


def text(run: KeyRun, before: Sequence[str] = ()) -> str:
    """Characteristic speeds, events and notes for a terminal, after notes on what they stand for."""
    lines = [_bulleted(before), ""] if before else []
    lines += [f"{name:38}{value}" for name, value in speed_rows(run)]
    lines += [
        "",
        "events:",
        *(f"    {rpm(event.speed, '8.2f')}  key {event.key:2d}  {event.kind}" for event in run.events),
    ]
    if not run.events:
        lines.append("    none")
    return "\n".join([*lines, "", _bulleted(run.notes)])


def _bulleted(notes: Iterable[str]) -> str:
    """Notes for a terminal, each a paragraph."""
    return "\n".join(
        textwrap.fill(note, WIDTH, initial_indent="- ", subsequent_indent="  ", break_on_hyphens=False)
        for note in notes
    )


def speed_rows(run: KeyRun) -> list[tuple[str, str]]:
    """Name and speed of each characteristic speed, the smeared float speed first."""
    marks = run.event_speeds
    return [
        ("float speed of the mean interference", _speed(marks.mean_float)),
        ("first key lifts off", _speed(marks.first_lift_off)),
        ("rim rests on keys of one side", _speed(marks.one_sided)),
        ("centring lost", _centring_words(marks.one_sided, marks.centring_lost)),
        ("last key lifts off", _speed(marks.last_lift_off)),
    ]


def _centring_words(one_sided: float | None, lost: float | None) -> str:
    """Where the keys no longer centre the rim: as the pull overcomes them, or as it comes to rest on those of one side.

    Parameters
    ----------
    one_sided, lost : float or None, rad/s
    """
    if one_sided is None or (lost is not None and lost <= one_sided):
        return _speed(lost)
    return "with that: keys of one side do not centre it" if lost is None else f"{_speed(lost)}, off centre before"


def _speed(value: float | None) -> str:
    return "not reached" if value is None or not math.isfinite(value) else rpm(value)


def drawings(case: Case, run: KeyRun) -> dict[str, Drawing]:
    """Drawings by name: key forces against speed, the map of keys, the shape of the rim at chosen speeds."""
    speed = in_rpm(run.speed)
    marks = [key_marks.Mark(in_rpm(event.speed), event.key, event.kind) for event in run.events]
    forces = [
        key_force_chart.Curve(f"{number}", speed, in_print(run.key_force[:, number - 1], "force"))
        for number in range(1, len(run.key_angle) + 1)
    ]
    named = {name: in_rpm(float(value)) for name, value in case.rotor.speeds.named.items()}
    figures: dict[str, Drawing] = {
        "key_forces": drawing(key_force_chart.draw, forces, marks, named),
        "key_map": drawing(
            key_map.draw, speed, in_print(run.key_angle, "angle"), in_print(run.key_force, "force"), marks, named
        ),
    }
    turn = np.linspace(0.0, 2 * np.pi, 361)
    outlines = []
    for name, value in case.rotor.speeds.from_standstill.items():
        at = int(np.argmin(np.abs(run.speed - value)))
        harmonics = run.outer_harmonics[at].copy()
        harmonics[0] = 0.0
        if np.isfinite(harmonics).all():
            outlines.append(shape_chart.Curve(f"{name}, {speed[at]:.0f} rpm", turn, in_mm(profile(harmonics, turn))))
    if outlines:
        figures["rim_shape"] = drawing(rim_chart.draw, outlines, float(case.rotor.rim.outer_radius), run.key_angle)
    return figures
