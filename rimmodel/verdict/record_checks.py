"""A recording against its case before anything is made of it: its poles, speeds, gaps, field, and whether it is new."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from rimmodel.evidence.recording.delimited import RecordingError
from rimmodel.evidence.recording.read import read_recording
from rimmodel.evidence.recording.recording import Recording
from rimmodel.evidence.recording.slips import likely_length, likely_speed
from rimmodel.evidence.recording.source import content_digest
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.case.case import Case, unstated_condition
from rimmodel.rotor.requirements import CaseRecord
from rimmodel.units import mm, rpm

FASTEST_READING = 1.5
"""Times the highest speed that the case names: faster is a wrong unit (rpm read as rad/s is 9.5 times too fast)."""

SLOWEST_RUN = 0.2
"""Share of rated speed that a run must reach: growth there is 4 % of that at rated speed, from which nothing can be
read, while revolutions per second and rad/s under rpm stay below it."""

WIDEST_READING = 1.5
"""Times the cold gap: no reading of a gap can be wider than that; hot stators and ovality stay far below."""

NARROWEST_RUN = 0.6
"""Share of the cold gap that the wider readings of a run, near standstill, must reach."""

CONTRARY = 0.01
"""Share of rows with the wrong excitation that is taken for strays."""

WITHOUT_FIELD = ("off", "no", "none", "0", "0.0", "0 %", "0%", "0 a", "false", "unexcited", "not excited", "without",
                 "without field", "no field", "de-energised", "de-energized", "deenergised", "deenergized")  # fmt: skip
WITH_FIELD = ("on", "yes", "full", "true", "excited", "with", "with field", "field", "rated", "100 %", "100%",
              "energised", "energized")  # fmt: skip


def open_record(case: Case, record: CaseRecord, path: Path) -> Recording:
    """Read a recording against the case: its poles, its speeds, its gaps and its field.

    Raises
    ------
    RecordingError
        It cannot be a recording of this machine in the condition that the record names.
    """
    recording = read_recording(
        path,
        label=record.label,
        direction=record.direction,
        largest_gap=WIDEST_READING * float(case.rotor.air_gap.cold),
        pole_count=int(case.rotor.poles.count),
        sheet=record.sheet,
        temperatures=temperature_file(record, path),
        columns=record.columns,
        rated_speed=float(case.rotor.speeds.rated),
    )
    if record.condition is None and len(case.conditions) > 1:
        raise RecordingError(
            f"{path}: its condition is not stated; {unstated_condition(case.conditions)} (--condition)"
        )
    name, condition = case.condition(record.condition)
    _refuse_speeds(case.rotor, recording)
    _refuse_gaps(case.rotor, recording)
    _refuse_field(name, condition, recording)
    return recording


def temperature_file(record: CaseRecord, path: Path) -> Path | None:
    """The table of temperatures of a record, which stands beside its recording; None where it names none."""
    if record.temperatures is None:
        return None
    return path.parent / record.temperatures


def _refuse_speeds(rotor: Rotor, recording: Recording) -> None:
    """Refuse speeds that are out of the range of the machine at either end."""
    fastest, named, rated = recording.speed_range[1], float(rotor.speeds.highest), float(rotor.speeds.rated)
    if fastest > FASTEST_READING * named:
        raise RecordingError(
            f"{recording.source}: speeds reach {rpm(fastest, '.6g')}, {fastest / named:.3g} times the highest speed "
            f"of the case ({rpm(named, '.6g')}){likely_speed(fastest, 0.3 * rated, named)}; check the unit of the "
            "speed column, or name a higher speed in [speeds]"
        )
    if fastest < SLOWEST_RUN * rated:
        hint = likely_speed(fastest, 0.3 * rated, FASTEST_READING * named)
        raise RecordingError(
            f"{recording.source}: speeds reach {rpm(fastest, '.4g')} only, {fastest / rated:.2g} of rated "
            f"({rpm(rated, '.6g')}){hint}; check the unit of the speed column: nothing can be read "
            f"from a run below {SLOWEST_RUN:g} of rated speed"
        )


def _refuse_gaps(rotor: Rotor, recording: Recording) -> None:
    """Refuse gaps far below that of the machine, and gaps headed as changes."""
    cold = float(rotor.air_gap.cold)
    gap, speed = (recording.sample[name].to_numpy() for name in ("gap", "speed"))
    if not recording.is_change:
        wide = float(np.quantile(gap, 0.9))
        if wide < NARROWEST_RUN * cold:
            raise RecordingError(
                f"{recording.source}: nine in ten gaps are below {mm(wide, '.4g')}, {wide / cold:.2g} of the "
                f"cold gap ({mm(cold, '.4g')}){likely_length(wide / cold)}; check the unit of the gap column; "
                "changes of gap are headed gap_change"
            )
        return
    slow = np.abs(gap[speed <= speed.min() + 0.05 * (speed.max() - speed.min())])
    start = float(np.median(slow))
    if start > NARROWEST_RUN * cold:
        raise RecordingError(
            f"{recording.source}: the change of gap is {mm(start, '.4g')} at the slowest speed, where it "
            f"starts from 0 (the cold gap is {mm(cold, '.4g')}); head the column gap where it holds gaps, or "
            "check its unit"
        )


def _refuse_field(name: str, condition: Condition, recording: Recording) -> None:
    """Refuse an excited run under a condition without field, and the other case."""
    import polars as pl

    if "excitation" not in recording.columns:
        return
    field = bool(np.any(np.asarray(condition.flux_density) > 0.0))
    counts = recording.sample.group_by(pl.col("excitation").cast(pl.String)).len()
    contrary = {word: many for word, many in counts.iter_rows() if word and _excited(word) is (not field)}
    total = sum(contrary.values())
    if total <= CONTRARY * recording.sample.height:
        return
    words = ", ".join(repr(word) for word in sorted(contrary))
    stated = "has a field" if field else "has no field (flux_density is 0)"
    raise RecordingError(
        f"{recording.source}: excitation is {words} in {total} of {recording.sample.height} rows, but condition "
        f"{name!r} {stated}; name the condition of the run in the record, and keep rows with and without field in "
        f"separate files"
    )


def _excited(word: str) -> bool | None:
    """Whether a word or a number stands for a field; None where it cannot be known."""
    plain = word.strip().lower()
    if plain in WITHOUT_FIELD:
        return False
    if plain in WITH_FIELD:
        return True
    try:
        return float(plain.split()[0].rstrip("%")) != 0.0
    except (ValueError, IndexError):
        return None


def refuse_twins(files: Sequence[tuple[CaseRecord, Path]]) -> None:
    """Refuse one recording under two names: what it says twice is no second piece of evidence.

    Parameters
    ----------
    files : sequence of (CaseRecord, Path)
        In order; a path that is no file is passed over.

    Raises
    ------
    RecordingError
        Two of them hold the same bytes.
    """
    seen: dict[bytes, tuple[int, Path]] = {}
    for number, (record, path) in enumerate(files, 1):
        if not path.is_file():
            continue
        content = content_digest(path, record.sheet)
        if content in seen:
            first, other = seen[content]
            raise RecordingError(
                f"{path}: record {number} is identical to record {first} ({other}); name the file of the other run, "
                f"or remove one of the two records"
            )
        seen[content] = (number, path)
