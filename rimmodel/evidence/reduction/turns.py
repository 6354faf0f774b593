"""Turn by turn: mean gap of every turn at every sensor, and turns that are missing, doubled or not whole.

A turn is counted by the recording itself where it has a column for it; else a new turn begins where the pole numbers
start again, and time and speed show how many turns lie between. A turn that lacks a pole has no mean: the pole that is
missing would shift it by its own height.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rimmodel.arrays import Floats, Mask
from rimmodel.evidence.recording.delimited import RecordingError, count

if TYPE_CHECKING:
    import polars
    from numpy.typing import NDArray

    from rimmodel.evidence.recording.recording import Recording

    Whole = NDArray[np.int64]

MOST_CELLS = 60_000_000
"""Turns times sensors times poles up to which they are counted one by one."""


@dataclass(frozen=True)
class Turns:
    """Every turn of a recording.

    Parameters
    ----------
    number : int array (turn,)
        As recorded, or counted from 1.
    speed : float array (turn,), rad/s
    time : float array (turn,), s
        Of the first reading; nan where not recorded.
    gap : float array (turn, unit), m
        Mean over the poles; nan where the turn is not whole, or recorded twice with different readings.
    whole : bool array (turn, unit)
        Every pole is there.
    pole_gap : float array (unit, pole), m
        Mean of each pole over all whole turns, at all speeds together.
    units : tuple of (str, str)
        Sensor and plane.
    missing, doubled : int
        Turns.
    notes : tuple of str
        What is missing, doubled or not whole, and where it begins; empty when nothing is.
    """

    number: Whole
    speed: Floats
    time: Floats
    gap: Floats
    whole: Mask
    pole_gap: Floats
    units: tuple[tuple[str, str], ...]
    missing: int
    doubled: int
    notes: tuple[str, ...]


def turns(recording: Recording, *, pole_count: int | None = None) -> Turns:
    """Take a recording with poles apart into turns.

    Parameters
    ----------
    recording : Recording
        With poles; with the number of the turn, or with its rows in the order in which they were read.
    pole_count : int, optional
        Poles on the rotor; the highest number in the recording when not given.

    Raises
    ------
    RecordingError
        No poles, or too many turns to be counted one by one.

    >>> import polars
    >>> from rimmodel.evidence.recording.read import read_recording
    >>> frame = polars.DataFrame({"speed [rpm]": [60.0, 60.0, 90.0, 90.0], "gap [mm]": [15.0, 14.8, 14.9, 14.7],
    ...                           "pole": [1, 2, 1, 2], "turn": [7, 7, 9, 9]})
    >>> found = turns(read_recording(frame))
    >>> (found.gap[:, 0] * 1e3).round(3), found.missing, found.notes
    (array([14.9, 14.8]), 1, ('1 turn is missing (first after turn 7).',))
    """
    if not recording.poles:
        raise RecordingError(f"{recording.source} has no poles: its turns cannot be distinguished")
    poles = pole_count or recording.poles[1]
    wanted = [n for n in ("gap", "speed", "time", "sensor", "plane", "pole", "turn") if n in recording.columns]
    rows = recording.table.select(wanted).collect()
    rows = rows.filter(rows["pole"].is_not_null())
    unit, units = _units(rows)
    index, number = _turn_of(rows, unit, len(units))
    size = len(number) * len(units) * poles
    if size > MOST_CELLS:
        raise RecordingError(
            f"{recording.source}: {len(number)} turns of {len(units)} sensors and {poles} poles are too many to be "
            "counted one by one; cut the recording into pieces"
        )
    pole = rows["pole"].to_numpy() - 1
    cell = (index * len(units) + unit) * poles + pole
    gap = rows["gap"].to_numpy()
    readings = np.bincount(cell, minlength=size)
    total = np.bincount(cell, gap, size)
    shape = (len(number), len(units), poles)
    with np.errstate(invalid="ignore", divide="ignore"):
        each = (total / readings).reshape(shape)
    readings = readings.reshape(shape)
    whole: Mask = np.all(readings > 0, axis=2)
    twice = (readings > 1).sum(axis=2) > poles // 2
    differ = twice & _differ(cell, gap, each, readings)
    mean = np.where(whole & ~differ, each.mean(axis=2), np.nan)
    first = np.full(len(number), -1)
    first[index[::-1]] = np.arange(index.size)[::-1]
    time = rows["time"].to_numpy()[first] if "time" in rows.columns else np.full(len(number), np.nan)
    speed = np.bincount(index, rows["speed"].to_numpy()) / np.bincount(index)
    counted = "turn" in rows.columns
    missing, where, repeats = _missing(number, time, speed, counted=counted)
    doubled = int(np.count_nonzero(twice.any(axis=1))) + repeats
    with np.errstate(invalid="ignore"):
        kept = np.where((whole & ~differ)[:, :, None], each, np.nan)
        seen = np.isfinite(kept).sum(axis=0)
        pole_gap = np.nansum(kept, axis=0) / np.where(seen, seen, np.nan)
    notes = (
        *_missing_notes(missing, where, number),
        *_doubled_notes(twice, differ, repeats, number),
        *_part_notes(whole, readings, number, poles, units),
        *(
            []
            if counted or "time" in rows.columns
            else ["Without time or number of the turn, missing turns cannot be found."]
        ),
    )
    return Turns(number, speed, time, mean, whole, pole_gap, units, missing, doubled, notes)


def turn_faults(recording: Recording, pole_count: int | None = None) -> tuple[str, ...]:
    """Notes of `turns` on what is missing, doubled or not whole; empty where the recording has no poles."""
    if not recording.poles or not {"turn", "time"} & set(recording.columns):
        return ()
    return turns(recording, pole_count=pole_count).notes


def _units(rows: polars.DataFrame) -> tuple[Whole, tuple[tuple[str, str], ...]]:
    """Number of each row's sensor in its plane, and their names."""
    import polars as pl

    names = [pl.col(name).cast(pl.String).fill_null("") if name in rows.columns else pl.lit("").alias(name)
             for name in ("sensor", "plane")]  # fmt: skip
    named = rows.select(*names) if rows.height else rows
    kinds = named.unique(maintain_order=True).with_row_index("unit")
    if kinds.height == 1:
        return np.zeros(rows.height, dtype=np.int64), ((str(kinds["sensor"][0]), str(kinds["plane"][0])),)
    unit = named.join(kinds, on=["sensor", "plane"], how="left", maintain_order="left")["unit"]
    return unit.cast(pl.Int64).to_numpy(), tuple(zip(kinds["sensor"], kinds["plane"], strict=True))


def _turn_of(rows: polars.DataFrame, unit: Whole, units: int) -> tuple[Whole, Whole]:
    """Place of each row's turn, and the numbers of the turns."""
    if "turn" in rows.columns and not rows["turn"].null_count():
        number, index = np.unique(rows["turn"].to_numpy(), return_inverse=True)
        return index.astype(np.int64), number.astype(np.int64)
    pole = rows["pole"].to_numpy().astype(np.int64)
    order = np.argsort(unit, kind="stable")  # file order within each sensor
    steps, same = np.diff(pole[order]), np.diff(unit[order]) == 0
    forward = np.count_nonzero(steps[same] > 0) >= np.count_nonzero(steps[same] < 0)
    again = (steps <= 0) if forward else (steps >= 0)
    starts = np.concatenate([[0], np.cumsum(again & same)])
    first = np.zeros(units, dtype=np.int64)
    first[unit[order][np.concatenate([[True], ~same])]] = starts[np.concatenate([[True], ~same])]
    index = np.empty(pole.size, dtype=np.int64)
    index[order] = starts - first[unit[order]]
    return index, np.arange(1, int(index.max()) + 2)


def _differ(cell: Whole, gap: Floats, each: Floats, readings: Whole) -> Mask:
    """Where a pole of a turn was read several times with different readings."""
    turns_, units, poles = each.shape
    odd = np.zeros(turns_ * units, dtype=bool)
    several = readings.ravel()[cell] > 1
    apart = np.abs(gap[several] - each.ravel()[cell[several]]) > 1e-12
    odd[cell[several][apart] // poles] = True
    return odd.reshape(turns_, units)


def _missing(number: Whole, time: Floats, speed: Floats, *, counted: bool) -> tuple[int, int, int]:
    """Number of turns missing, place of the turn before the first, and turns that stand twice by their times."""
    if number.size < 2:
        return 0, 0, 0
    if counted:
        steps = np.diff(number) - 1
        return int(steps.sum()), int(np.argmax(steps > 0)), 0
    if not np.isfinite(time).all():
        return 0, 0, 0
    passed = np.diff(time) * speed[:-1] / (2.0 * np.pi)  # a turn lasts as long as its own speed says
    if np.median(passed) > 1.5 or np.median(passed) < 0.5:
        return 0, 0, 0  # every n-th turn is recorded, or times are no times of turns
    steps = np.maximum(np.round(passed).astype(int) - 1, 0)
    return int(steps.sum()), int(np.argmax(steps > 0)), int(np.count_nonzero(passed < 0.5))


def _missing_notes(missing: int, where: int, number: Whole) -> list[str]:
    is_are = "is" if missing == 1 else "are"
    return [f"{count(missing, 'turn')} {is_are} missing (first after turn {number[where]})."] if missing else []


def _doubled_notes(twice: Mask, differ: Mask, repeats: int, number: Whole) -> list[str]:
    notes = []
    for mask, words in (
        (twice & ~differ, "and counted once"),
        (differ & twice, "with different readings, and not used for means of turns"),
    ):
        rows = mask.any(axis=1)
        if rows.any():
            many = int(np.count_nonzero(rows))
            notes.append(f"{count(many, 'turn')} recorded twice {words} (first: turn {number[int(np.argmax(rows))]}).")
    if repeats:
        notes.append(f"{count(repeats, 'turn')} within half a turn of the turn before, as if recorded twice.")
    return notes


def _part_notes(
    whole: Mask, readings: Whole, number: Whole, poles: int, units: tuple[tuple[str, str], ...]
) -> list[str]:
    seen = readings.sum(axis=2) > 0
    part = seen & ~whole
    if not part.any():
        return []
    turn, unit = (int(place) for place in np.argwhere(part)[0])
    lacking = np.flatnonzero(readings[turn, unit] == 0) + 1
    named = f" at {units[unit][0]}" if units[unit][0] else ""
    shown = ", ".join(map(str, lacking[:6])) + (", ..." if lacking.size > 6 else "")
    return [
        f"{count(int(np.count_nonzero(part)), 'reading')} of a turn without all {poles} poles, not used for means of "
        f"turns (first: turn {number[turn]}{named} lacks pole {shown})."
    ]
