"""A recording of air gap against speed that has been read and checked."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from rimmodel.evidence.recording.understood import UnderstoodColumn
from rimmodel.units import in_rpm, rpm

if TYPE_CHECKING:
    import polars


@dataclass(frozen=True)
class Recording:
    """A checked recording in SI units.

    Parameters
    ----------
    source : str
        File name as given, or "data frame".
    label : str
        The caller's name for it, such as "before correction".
    table : polars.LazyFrame
        Usable rows: speed (rad/s), gap (m), and where present gap_error (standard error of the gap, m), time (s),
        angle (rad), and temperatures of rim, spider, pole and stator (K, such as rim_temperature), sensor, plane,
        direction ("up" or "down"), excitation (text), pole (from 1).
    is_change : bool
        True when the file gave the change of gap from its slowest point, not the gap.
    rows : int
        Rows in the source, blank lines not counted.
    dropped : tuple of (str, int, int)
        Reason, count and first line (first row from 1 for a frame) of the rows that are not in the table.
    sensors, planes : tuple of str
        Names found, in natural order; empty where the column is missing.
    poles : tuple of int
        Lowest and highest pole number found; empty where the column is missing.
    directions : tuple of str
        "up" and "down" as found; empty where the column is missing.
    speed_range : pair of float, rad/s
        Lowest and highest speed.
    notes : tuple of str
        What was found and what was left out and why, in plain sentences.
    sample : polars.DataFrame
        All rows of the table, or a random part of a long table, in file order.
    understood : tuple of UnderstoodColumn
        What each column of the source was taken for, and what was guessed.
    first_lines : tuple of str
        The head and the first rows of a text file as written.
    """

    source: str
    label: str
    table: polars.LazyFrame = field(repr=False, compare=False)
    is_change: bool
    rows: int
    dropped: tuple[tuple[str, int, int], ...]
    sensors: tuple[str, ...]
    planes: tuple[str, ...]
    poles: tuple[int, ...]
    directions: tuple[str, ...]
    speed_range: tuple[float, float]
    notes: tuple[str, ...]
    sample: polars.DataFrame = field(repr=False, compare=False)
    understood: tuple[UnderstoodColumn, ...] = field(default=(), repr=False)
    first_lines: tuple[str, ...] = field(default=(), repr=False)

    def __repr__(self) -> str:
        gone = sum(count for _, count, _ in self.dropped)
        named = "".join(
            f", {len(some)} {what}" for some, what in ((self.sensors, "sensors"), (self.planes, "planes")) if some
        )
        return (
            f"Recording({self.source!r}: {self.rows} rows, {gone} left out; speed "
            f"{in_rpm(self.speed_range[0]):.4g} to {rpm(self.speed_range[1], '.4g')}{named})"
        )

    @property
    def columns(self) -> tuple[str, ...]:
        """Names of the columns that the recording has."""
        return tuple(self.sample.columns)
