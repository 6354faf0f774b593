"""What was understood of a recording: every column as written and as taken, its range, what was left out and why."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any

import numpy as np

from rimmodel.evidence.recording.delimited import RecordingError
from rimmodel.evidence.recording.recording import Recording
from rimmodel.evidence.reduction.rotor_shape import RotorShape, rotor_shape
from rimmodel.evidence.reduction.turns import turns
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.requirements import CaseRecord
from rimmodel.units import PRINT, in_print, in_rpm, number
from rimmodel.verdict.records import check_records, understood_records

__all__ = ["check_table", "text", "understood"]

WIDTH = 100
FIRST_READINGS = 3
LONGEST_LINE = 96
_PRINTED = {"speed": "speed", "gap": "length", "gap_change": "length", "gap_error": "length", "angle": "angle",
            "rotor_angle": "angle"}  # fmt: skip
_GAPS = ("gap", "gap_change")


def check_table(case: Case, recording: Recording) -> dict[str, Any]:
    """Everything that was understood, as a plain table for JSON.

    Parameters
    ----------
    case : Case
        Of the machine.
    recording : Recording
        Opened against it.
    """
    gaps, others = _ranges(recording)
    return {
        "label": recording.label,
        "file": recording.source,
        "columns": [_column(recording, place, gaps, others) for place in range(len(recording.understood))],
        "rows": recording.rows,
        "rows_used": recording.rows - sum(many for _, many, _ in recording.dropped),
        "left_out": [{"reason": why, "rows": many, "first": line} for why, many, line in recording.dropped],
        "first_lines": list(recording.first_lines),
        "first_readings": _first_readings(recording),
        "notes": list(recording.notes),
        "pole_by_pole": _pole_by_pole(case, recording),
    }


def understood(case: Case, records: Sequence[CaseRecord] | None = None) -> tuple[list[dict[str, Any]], list[str]]:
    """What is understood of recordings as tables, and what keeps a review from using those that were given.

    Parameters
    ----------
    case : Case
        Of the machine.
    records : sequence of CaseRecord, optional
        In place of those of the case.

    Raises
    ------
    ValueError
        A recording that cannot be understood, or a record of the case that a review could not use.
    """
    found, faults = (check_records(case), []) if records is None else understood_records(case, records)
    return [check_table(case, recording) for _, recording in found], faults


def _ranges(
    recording: Recording,
) -> tuple[dict[tuple[str, str, int | None], tuple[Any, ...]], dict[str, tuple[Any, ...]]]:
    """Lowest, highest and number of the gaps of each sensor, and of every other column of numbers."""
    import polars as pl

    names = [name for name in ("sensor", "plane", "pole") if name in recording.columns]
    if names == ["pole"] or not any(entry.pole is not None for entry in recording.understood):
        names = [name for name in names if name != "pole"]
    numbers = [name for name, kind in recording.sample.schema.items() if kind.is_numeric() and name != "gap"]
    reach = (pl.col("gap").min().alias("low"), pl.col("gap").max().alias("high"), pl.len().alias("many"))
    keys = [
        pl.col(name).cast(pl.String if name != "pole" else pl.Int64).fill_null("" if name != "pole" else 0)
        for name in names
    ]
    table = recording.table.group_by(keys).agg(*reach) if keys else recording.table.select(*reach)
    gaps: dict[tuple[str, str, int | None], tuple[Any, ...]] = {}
    for row in table.collect(engine="streaming").iter_rows(named=True):
        pole = int(row["pole"]) if "pole" in names else None
        gaps[row.get("sensor", ""), row.get("plane", ""), pole] = (row["low"], row["high"], row["many"])
    found = recording.table.select(
        *(getattr(pl.col(name), what)().alias(f"{what} {name}") for name in numbers for what in ("min", "max", "count"))
    ).collect(engine="streaming")
    others = {name: tuple(found[f"{what} {name}"][0] for what in ("min", "max", "count")) for name in numbers}
    return gaps, others


def _column(
    recording: Recording,
    place: int,
    gaps: dict[tuple[str, str, int | None], tuple[Any, ...]],
    others: dict[str, tuple[Any, ...]],
) -> dict[str, Any]:
    """The row of the table of one column, by its place among those that were understood."""
    entry = recording.understood[place]
    if entry.meaning in _GAPS:
        wide = bool(entry.sensor or entry.plane or entry.pole is not None)
        mine = [reach for (sensor, plane, pole), reach in gaps.items()
                if not wide or (_is_named(entry.sensor, sensor) and _is_named(entry.plane, plane)
                                and entry.pole in (None, pole))]  # fmt: skip
    else:
        mine = [others[entry.meaning]] if others.get(entry.meaning, (None,))[0] is not None else []
    kind = _PRINTED.get(entry.meaning, "temperature" if entry.meaning.endswith("_temperature") else None)
    low, high = (min(reach[0] for reach in mine), max(reach[1] for reach in mine)) if mine else (None, None)
    unit = PRINT[kind].name if kind else "s" if entry.meaning in ("time", "date") else ""
    return {
        "column": entry.column,
        "meaning": entry.meaning,
        "sensor": entry.sensor or None,
        "plane": entry.plane or None,
        "angle_deg": None if entry.angle is None else round(in_print(entry.angle, "angle"), 9),
        "pole": entry.pole,
        "unit": entry.unit or None,
        "basis": entry.basis,
        "lowest": None if low is None else number(low, kind),
        "highest": None if high is None else number(high, kind),
        "range_unit": unit or None,
        "readings": sum(reach[2] for reach in mine) if mine else None,
    }


def _is_named(wanted: str, name: str) -> bool:
    """Whether a sensor or plane is the wanted, where any is; spellings of a name are one name."""
    return not wanted or " ".join(wanted.casefold().split()) == " ".join(name.casefold().split())


def _first_readings(recording: Recording) -> list[dict[str, Any]]:
    """The first readings as they were understood, in units of print."""
    rows = []
    for row in recording.table.head(FIRST_READINGS).collect().iter_rows(named=True):
        shown: dict[str, Any] = {}
        for name, value in row.items():
            kind = _PRINTED.get(name, "temperature" if name.endswith("_temperature") else None)
            unit = {"speed": "_rpm", "gap": "_mm", "gap_error": "_mm", "angle": "_deg", "time": "_s"}
            key = name + unit.get(name, "_degC" if kind == "temperature" else "")
            shown[key] = number(value, kind) if isinstance(value, float) else value
        rows.append(shown)
    return rows


def _pole_by_pole(case: Case, recording: Recording) -> dict[str, Any] | None:
    """Turns, and the shape of the rotor against speed with the mean of every pole; None without poles."""
    if not recording.poles:
        return None
    found = turns(recording, pole_count=int(case.rotor.poles.count))
    shapes = []
    by_plane, notes = _shapes(case, recording)
    for plane, shape in by_plane.items():
        for i in range(shape.speed.size):
            first, second = shape.rotor.eccentricity, shape.rotor.ovality
            shapes.append({
                "plane": plane or None,
                "direction": str(shape.direction[i]) or None,
                "speed_rpm": float(in_rpm(float(shape.speed[i]))),
                "mean_gap_mm": number(shape.mean[i], "length"),
                "eccentricity_mm": number(first.amplitude[i], "length"),
                "eccentricity_angle_deg": number(first.phase[i], "angle"),
                "ovality_mm": number(second.amplitude[i], "length"),
                "ovality_angle_deg": number(second.phase[i], "angle"),
                "largest_minus_smallest_radius_mm": number(
                    shape.rotor.circles.largest_minus_smallest_radius[i], "length"
                ),
                "pole_gap_mm": [number(gap, "length") for gap in shape.mean[i] - shape.rotor.deviation[i]],
            })  # fmt: skip
    return {
        "turns": int(found.number.size),
        "turns_missing": found.missing,
        "turns_doubled": found.doubled,
        "turns_whole": int(np.count_nonzero(found.whole.all(axis=1))),
        "notes": [*found.notes, *notes],
        "poles": [
            {
                "sensor": sensor or None,
                "plane": plane or None,
                "mean_gap_mm": [number(gap, "length") for gap in found.pole_gap[unit]],
            }
            for unit, (sensor, plane) in enumerate(found.units)
        ],
        "by_speed": shapes,
    }


def _shapes(case: Case, recording: Recording) -> tuple[dict[str, RotorShape], list[str]]:
    """Shape of the rotor by plane, and why there is none."""
    if recording.is_change:
        return {}, ["Changes of gap do not show the shape of the rotor."]
    shapes, notes = {}, []
    for plane in recording.planes or ("",):
        try:
            shapes[plane] = rotor_shape(
                recording,
                plane=plane,
                pole_count=int(case.rotor.poles.count),
                nominal_gap=float(case.rotor.air_gap.cold),
                face_radius=float(case.rotor.poles.face_radius),
            )
        except RecordingError as error:
            notes.append(f"No shape of the rotor: {error}.")
    return shapes, notes


def text(table: dict[str, Any]) -> str:
    """The same for a terminal.

    Parameters
    ----------
    table : dict
        From `check_table`.
    """
    lines = [f"{table['label']} ({table['file']}): {table['rows_used']} of {table['rows']} readings used", ""]
    lines += _aligned(
        [("column", "meaning", "sensor", "unit", "range", "readings", "basis"), *map(_row, table["columns"])]
    )
    lines += ["", "left out:"]
    lines += [f"  {row['rows']} readings: {row['reason']} (first in line {row['first']})" for row in table["left_out"]]
    lines += [] if table["left_out"] else ["  nothing"]
    if table["first_lines"]:
        lines += ["", "first lines as written:"]
        lines += [f"  {_cut(line)}" for line in table["first_lines"]]
    lines += ["", "first readings as understood:"]
    lines += [f"  {', '.join(_named(name, value) for name, value in row.items())}" for row in table["first_readings"]]
    lines += ["", "what was found and guessed:"]
    for note in table["notes"]:
        lines += textwrap.wrap(f"- {note}", WIDTH, initial_indent="  ", subsequent_indent="    ")
    return "\n".join([*lines, *_poles_text(table["pole_by_pole"])])


def _row(column: dict[str, Any]) -> tuple[str, ...]:
    named = [column["sensor"] or "", f"plane {column['plane']}" if column["plane"] else "",
             "" if column["angle_deg"] is None else f"at {column['angle_deg']:g} deg",
             "" if column["pole"] is None else f"pole {column['pole']}"]  # fmt: skip
    reach = ""
    if column["lowest"] is not None:
        reach = f"{column['lowest']:.6g} to {column['highest']:.6g} {column['range_unit'] or ''}".rstrip()
    unit = column["unit"] or ""
    many = "" if column["readings"] is None else str(column["readings"])
    meaning = column["meaning"] if column["meaning"] != "not used" else "NOT USED"
    return (
        column["column"] or "(no name)",
        meaning,
        ", ".join(filter(None, named)),
        unit,
        reach,
        many,
        column["basis"],
    )


def _aligned(rows: list[tuple[str, ...]]) -> list[str]:
    """Rows of text with columns of equal width; a column without any text is left out."""
    kept = [place for place in range(len(rows[0])) if any(row[place] for row in rows[1:])]
    widths = [max(len(row[place]) for row in rows) for place in kept]
    return [
        "  " + "  ".join(f"{row[place]:{width}}" for place, width in zip(kept, widths, strict=True)).rstrip()
        for row in rows
    ]


def _cut(line: str) -> str:
    plain = line.replace("\t", "  ")
    return plain if len(plain) <= LONGEST_LINE else f"{plain[: LONGEST_LINE - 4]} ..."


def _named(name: str, value: Any) -> str:
    base, _, unit = name.rpartition("_")
    if unit in ("rpm", "mm", "deg", "s", "degC") and base:
        return f"{base} {value:.6g} {unit}" if isinstance(value, float) else f"{base} missing"
    return f"{name} {value}"


def _poles_text(found: dict[str, Any] | None) -> list[str]:
    """Turns, and the shape of the rotor against speed."""
    if found is None:
        return []
    lines = ["", "pole by pole:", f"  {found['turns']} turns, {found['turns_whole']} of them whole at every sensor; "
             f"{found['turns_missing']} missing, {found['turns_doubled']} doubled"]  # fmt: skip
    for note in found["notes"]:
        lines += textwrap.wrap(f"- {note}", WIDTH, initial_indent="  ", subsequent_indent="    ")
    if found["by_speed"]:
        head = ("plane", "direction", "speed", "mean gap", "eccentricity", "ovality", "largest minus smallest")
        rows = [
            (row["plane"] or "", row["direction"] or "", f"{row['speed_rpm']:.1f} rpm", _mm(row["mean_gap_mm"]),
             _mm(row["eccentricity_mm"]), _mm(row["ovality_mm"]), _mm(row["largest_minus_smallest_radius_mm"]))
            for row in found["by_speed"]
        ]  # fmt: skip
        lines += ["  shape of the rotor against speed (the mean of every pole with --json):", *_aligned([head, *rows])]
    return lines


def _mm(value: float | None) -> str:
    return "" if value is None else f"{value:.3f} mm"
