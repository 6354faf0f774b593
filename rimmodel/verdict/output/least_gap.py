"""The least gap as tables, text and figures: predicted, shown by single poles, and what was taken off unmeasured."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from rimmodel.behaviour import sweep
from rimmodel.behaviour.least_gap.states import TakenOff
from rimmodel.evidence.reduction.amplitude import Amplitude
from rimmodel.evidence.reduction.bore_split import PlaneGap
from rimmodel.planning.acceptance import AcceptanceRow, acceptance
from rimmodel.planning.least_gap import LeastGapAt, LeastGapCurve
from rimmodel.plotting import gap_around_chart, least_gap_chart
from rimmodel.rotor.case.case import Case
from rimmodel.units import in_mm, in_print, in_rpm, mm, number, rpm
from rimmodel.verdict.output.along import along_drawings, along_statements, along_table, along_text
from rimmodel.verdict.output.drawer import Drawing, drawing
from rimmodel.verdict.records import PlanesOf

LOCAL_PRACTICE = (
    "A predicted or measured least gap does not clear a machine to run: the maker's instructions, local practice and "
    "licensed engineers decide, and trips on gap and vibration are proven beforehand."
)
LEFT_OUT = (
    "Not in it: a pole or wedge that stands out between sensors, tilt of single poles, motion of the core and of the "
    "shaft at other frequencies than the speed beyond the orbit stated, and whatever changed since the survey."
)


def table(case: Case, curve: LeastGapCurve, records: Sequence[PlanesOf]) -> dict[str, Any]:
    """Columns and rows for JSON: rpm, mm, deg, kN; null where there is no number."""
    return {
        "condition": curve.condition,
        "confidence": curve.confidence,
        "key_by_key": curve.keyed,
        "speed_rpm": _listed(curve.speed, "speed"),
        "mean_gap_mm": _listed(curve.mean, "length"),
        "least_gap_mm": _listed(curve.gap, "length"),
        "least_gap_low_mm": _listed(curve.low, "length"),
        "least_gap_high_mm": _listed(curve.high, "length"),
        "at": {row.name: _named(row) for row in curve.at},
        "along_the_rim": None if curve.along is None else along_table(curve.along),
        "taken_off": [
            {"what": row.what, "mm": number(row.amount, "length"), "measured": row.measured} for row in curve.taken_off
        ],
        "acceptance": [_acceptance_table(row) for row in acceptance_of(case, records)],
        "records": [
            {
                "label": row.label,
                "condition": row.condition,
                "planes": {plane: plane_table(found) for plane, found in row.planes.items()},
            }
            for row in records
        ],
        "witness_marks": [
            {
                "gap_mm": number(float(mark.gap), "length"),
                "mark": mark.mark,
                "highest_speed_rpm": number(float(mark.highest_speed), "speed"),
                "condition": mark.condition or case.condition()[0],
                "place": mark.place,
            }
            for mark in case.witness_marks
        ],
        "statements": statements(case, curve, records),
    }


def acceptance_of(case: Case, records: Sequence[PlanesOf]) -> tuple[AcceptanceRow, ...]:
    """The assembly tolerances against the survey and the first recording of single poles, as delivered."""
    if not records:
        return acceptance(case)
    first = records[0]
    slowest = min(float(found.speed.min()) for found in first.planes.values())
    expected = float(sweep(case.rotor, case.conditions[first.condition], slowest).air_gap)
    return acceptance(case, first.planes, first.label, expected)


def _acceptance_table(row: AcceptanceRow) -> dict[str, Any]:
    return {
        "what": row.what,
        "key": f"assembly.{row.key}",
        "allowed_mm": number(row.allowed, "length"),
        "found_mm": None if row.found is None else [number(end, "length") for end in row.found],
        "verdict": row.verdict,
        "basis": row.basis,
        "source": row.source,
    }


def acceptance_rows(case: Case, records: Sequence[PlanesOf]) -> list[tuple[str, ...]]:
    """Cells of each assembly tolerance: words, allowed mm, found mm, verdict, basis."""
    return [
        (row.what, _gap(row.allowed), _found_words(row.found), row.verdict, row.basis)
        for row in acceptance_of(case, records)
    ]


def _found_words(found: tuple[float, float] | None) -> str:
    if found is None:
        return "not determined"
    low, high = found
    if low == high:
        return _gap(low)
    return f"{in_mm(low):.2f} to {_gap(high)}" if np.isfinite(high) else f"above {_gap(low)}"


def _listed(values: Any, kind: str) -> list[float | None]:
    return [number(float(value), kind) for value in np.asarray(values, dtype=float)]


def _named(row: LeastGapAt) -> dict[str, Any]:
    standing, once, twice = (number(float(np.abs(part)), "force") for part in row.force)
    return {
        "speed_rpm": number(row.speed, "speed"),
        "mean_gap_mm": number(row.mean, "length"),
        "least_gap_mm": number(row.gap, "length"),
        "interval_mm": [number(end, "length") for end in row.interval],
        "stator_angle_deg": number(row.stator_angle, "angle"),
        "rotor_angle_deg": number(row.rotor_angle, "angle"),
        "shaft_stiffness_left": number(row.margin),
        "net_pull_kN": {"standing": standing, "once_per_turn": once, "twice_per_turn": twice},
    }


def plane_table(found: PlaneGap) -> dict[str, Any]:
    """One sensor plane for JSON: a row for each speed point."""
    return {
        "sensors": found.sensors,
        "bore_harmonics_seen": list(range(1, found.sight.highest + 1)),
        "bore_harmonics_not_seen": {str(n): other for n, other in found.sight.reads_as.items()},
        "not_seen_bound_mm": number(found.errors.unseen, "length"),
        "points": [
            {
                "speed_rpm": number(float(found.speed[i]), "speed"),
                "direction": str(found.direction[i]),
                "mean_gap_mm": number(float(found.mean[i]), "length"),
                "least_gap_mm": number(float(found.least[i]), "length"),
                "interval_mm": [number(float(found.low[i]), "length"), number(float(found.high[i]), "length")],
                "stator_angle_deg": number(float(found.stator_angle[i]), "angle"),
                "pole": int(found.pole[i]),
                "centre_offset_mm": _amplitude(found.offset, i),
                "bore_ovality_mm": _amplitude(found.bore_oval, i),
                "once_per_turn_mm": _amplitude(found.once_per_turn, i),
                "once_per_turn_change_mm": _amplitude(found.once_change, i),
                "rotor_ovality_mm": _amplitude(found.rotor_oval, i),
            }
            for i in range(found.speed.size)
        ],
    }


def _amplitude(found: Amplitude, i: int) -> dict[str, Any] | None:
    """Amplitude with its interval; None where it cannot be determined."""
    if not np.isfinite(found.size[i]):
        return None
    return {
        "amplitude": number(float(found.size[i]), "length"),
        "interval": [number(float(found.low[i]), "length"), number(float(found.high[i]), "length")],
        "crest_deg": number(float(found.crest[i]), "angle"),
    }


def statements(case: Case, curve: LeastGapCurve, records: Sequence[PlanesOf]) -> list[str]:
    """What is assumed, what was not measured, what sensors cannot see, and who decides: in sentences."""
    guessed = [row for row in curve.taken_off if not row.measured]
    said = []
    taken = [row for row in guessed if row.amount > 0.0]
    if taken:
        rows = "; ".join(f"{row.what}: {mm(row.amount)}" for row in taken)
        said.append(f"Not measured, taken off at the full assembly tolerance at standstill: {rows}.")
    said += [
        f"Not stated and not taken off: {row.what}. The least gap is narrower by whatever it is."
        for row in guessed
        if row.amount == 0.0
    ]
    said.append(
        "The rim is followed key by key; its band is that of the even fit."
        if curve.keyed
        else "Shims count as even: no single keys are described, or all are alike."
    )
    if case.rotor.assembly.shaft_stiffness is None:
        said.append("Shaft and bearings count as rigid: their stiffness is not stated, and the net pull moves nothing.")
    lost = [row.name for row in curve.at if not np.isfinite(row.gap)]
    if lost:
        said.append(
            f"No least gap at {', '.join(lost)} in '{curve.condition}': the pull takes over gap, shape or shaft, or "
            "nothing bounds where the loose rim goes. Do not run there on this prediction."
        )
    if curve.along is not None:
        said += along_statements(case, curve.along)
    for record in records:
        for plane, found in record.planes.items():
            said += [f"'{record.label}'{f', plane {plane}' if plane else ''}: {text}" for text in sight_words(found)]
    return [*said, LEFT_OUT, LOCAL_PRACTICE]


def sight_words(found: PlaneGap) -> list[str]:
    """What the sensors of a plane see of the bore and what not, in sentences."""
    seen = found.sight.highest
    count = f"{found.sensors} sensors of known angle"
    first = (
        f"{count} show the bore in harmonics 1 to {seen}."
        if seen > 1
        else f"{count} show harmonic 1 of the bore, the offset, alone."
        if seen
        else f"{count} do not show the shape of the bore, nor its offset."
    )
    alike = [f"{n} reads as {'the mean' if m == 0 else m}" for n, m in found.sight.reads_as.items() if m is not None]
    blind = [str(n) for n, m in found.sight.reads_as.items() if m is None]
    hidden = "; ".join([*alike, *([f"{', '.join(blind)} cannot be determined"] if blind else [])])
    if not hidden:
        return [first]
    bound = f"they may move it by {mm(found.errors.unseen)} to each side, which the interval holds downwards"
    return [first, f"Harmonics that they cannot see are not zero: {hidden}; {bound}."]


def text(case: Case, curve: LeastGapCurve, records: Sequence[PlanesOf]) -> str:
    """The least gap for a terminal."""
    lines = [f"{'':12}{'speed':>12}{'mean gap':>12}{'least gap':>12}   {'interval':20}{'at stator':>10}"]
    for name, speed, mean, gap, ends, place in named_rows(curve):
        cells = (f"{speed} rpm", *(value if value == "none" else f"{value} mm" for value in (mean, gap, ends)))
        where = place if place == "none" else f"{place} deg"
        lines.append(f"{name:12}{cells[0]:>12}{cells[1]:>12}{cells[2]:>12}   {cells[3]:20}{where:>10}")
    if curve.along is not None:
        lines += ["", *along_text(curve.along, curve.speed)]
    lines += ["", "taken off the mean gap at standstill:"]
    lines += [f"    {what:36}{amount:>7} mm   {how}" for what, amount, how in taken_rows(curve)]
    lines += ["", "assembly tolerances, mm:"]
    for what, allowed, found_, verdict, basis in acceptance_rows(case, records):
        lines.append(f"    {what:64}{allowed:>6}{found_:>16}   {verdict}{f', {basis}' if basis else ''}")
    for record in records:
        for plane, found in record.planes.items():
            lines += [
                "",
                f"'{record.label}' ({record.condition}){f', plane {plane}' if plane else ''}:",
                *_plane_lines(found),
            ]
    for mark in case.witness_marks:
        place = f", {mark.place}" if mark.place else ""
        lines += [
            "",
            f"mark at {mm(float(mark.gap))}{place}: {mark.mark} in a run up to {rpm(float(mark.highest_speed))}",
        ]
    return "\n".join([*lines, "", *(f"- {text}" for text in statements(case, curve, records))])


def named_rows(curve: LeastGapCurve) -> list[tuple[str, ...]]:
    """Cells of each named speed: name, rpm, mean gap, least gap and interval in mm, place in deg."""
    return [
        (
            row.name,
            f"{in_rpm(row.speed):.1f}",
            _gap(row.mean),
            _gap(row.gap),
            _interval_words(*row.interval).removesuffix(" mm"),
            f"{in_print(row.stator_angle, 'angle'):.0f}" if np.isfinite(row.stator_angle) else "none",
        )
        for row in curve.at
    ]


def taken_rows(curve: LeastGapCurve) -> list[tuple[str, str, str]]:
    """Cells of what is taken off: words, mm, whether it was measured."""
    return [(row.what, _gap(row.amount), _how(row)) for row in curve.taken_off]


def _how(row: TakenOff) -> str:
    return "stated" if row.measured else ("not measured: full tolerance" if row.amount else "not stated")


def _gap(value: float) -> str:
    return f"{in_mm(value):.2f}" if np.isfinite(value) else "none"


def _interval_words(low: float, high: float) -> str:
    return f"{in_mm(low):.2f} to {mm(high)}" if np.isfinite([low, high]).all() else "none"


def _plane_lines(found: PlaneGap) -> list[str]:
    """The slowest and the fastest point of a plane."""
    lines = []
    for i in sorted({int(np.argmin(found.speed)), int(np.argmax(found.speed))}, key=lambda place: found.speed[place]):
        where = f"{in_print(float(found.stator_angle[i]), 'angle'):.0f} deg, pole {int(found.pole[i])}"
        lines.append(
            f"    {rpm(float(found.speed[i]))}: least gap {mm(float(found.least[i]))} "
            f"({_interval_words(float(found.low[i]), float(found.high[i]))}) at {where}"
        )
        for words, part in (
            ("offset of bore and axis, standing", found.offset),
            ("ovality of the bore", found.bore_oval),
            ("once per turn: eccentricity and orbit", found.once_per_turn),
            ("its change from the slowest point", found.once_change),
            ("ovality of the rotor", found.rotor_oval),
        ):
            known = np.isfinite(part.size[i])
            value = (
                f"{mm(float(part.size[i]))} ({_interval_words(float(part.low[i]), float(part.high[i]))})"
                if known
                else "cannot be determined"
            )
            lines.append(f"        {words:40}{value}")
    return lines


def drawings(case: Case, curve: LeastGapCurve, records: Sequence[PlanesOf]) -> dict[str, Drawing]:
    """Drawings by name: around the stator at named speeds, and against speed with the planes of the same condition."""
    around = [
        gap_around_chart.Curve(
            f"{row.name}, {rpm(row.speed, '.0f')}", in_print(curve.angle, "angle"), in_mm(row.profile)
        )
        for row in curve.at
        if np.isfinite(row.profile).all()
    ]
    band = least_gap_chart.Band(
        curve.condition, in_rpm(curve.speed), *(in_mm(v) for v in (curve.mean, curve.gap, curve.low, curve.high))
    )
    points = [
        least_gap_chart.Points(
            f"{record.label}{f', plane {plane}' if plane else ''}", direction, in_rpm(found.speed[chosen]),
            *(in_mm(values[chosen]) for values in (found.least, found.low, found.high)),
        )
        for record in records
        if record.condition == curve.condition
        for plane, found in record.planes.items()
        for direction in ("up", "down", "")
        if (chosen := found.direction == direction).any()
    ]  # fmt: skip
    first = case.condition()[0]
    marks = [
        least_gap_chart.Mark(
            f"{mark.mark}, {mm(float(mark.gap))}", in_rpm(float(mark.highest_speed)), in_mm(float(mark.gap))
        )
        for mark in case.witness_marks
        if (mark.condition or first) == curve.condition
    ]
    named = {name: in_rpm(float(value)) for name, value in case.rotor.speeds.named.items()}
    figures: dict[str, Drawing] = {"least_gap_speed": drawing(least_gap_chart.draw, band, points, marks, named)}
    if around:
        figures["least_gap_angle"] = drawing(gap_around_chart.draw, around)
    if curve.along is not None:
        figures |= along_drawings(case, curve.along)
    return figures
