"""One pass through a recording: what it holds, which rows cannot be used, and a sample of the rest.

Batches of rows come from polars as they are read, so a recording larger than memory is surveyed as well.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from rimmodel.evidence.chart.shared_columns import AXIS_GAPS, AXIS_SPEEDS
from rimmodel.evidence.recording.column_names import NUMBERS, WORDS
from rimmodel.units import KINDS, ZERO_CELSIUS, celsius, mm, rpm, with_unit

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    import polars
    from numpy.typing import NDArray

COLDEST, WARMEST = ZERO_CELSIUS - 60.0, ZERO_CELSIUS + 250.0
"""K; no machine runs outside of this."""

IMPOSSIBLE_TEMPERATURE = "is outside of -60 to 250 degC"

BATCH_ROWS = 250_000
TEMPERATURES = tuple(name for name, kind in NUMBERS.items() if kind == "temperature")
SAMPLE_ROWS = 400_000
"""Readings kept in memory to find holds, ramps and outlier limits; below this all of them are."""


@dataclass
class Fault:
    """Rows that cannot be used for one reason.

    Attributes
    ----------
    value : str
        Of the first row.
    least : float, SI
    """

    count: int = 0
    first_row: int = -1
    value: str = ""
    least: float = np.inf


@dataclass
class Survey:
    """What one pass through the rows of a recording has found.

    Attributes
    ----------
    lowest, highest : dict of float, SI
        By column: speeds in rad/s, gaps in m, times in s.
    """

    rows: int = 0
    blank_rows: int = 0
    faults: dict[str, Fault] = field(default_factory=dict)
    words: dict[str, set[str]] = field(default_factory=lambda: {name: set() for name in WORDS})
    lowest: dict[str, float] = field(default_factory=dict)
    highest: dict[str, float] = field(default_factory=dict)
    times_backwards: int = 0
    sample: list[polars.DataFrame] = field(default_factory=list)
    usable_rows: list[polars.DataFrame] = field(default_factory=list)

    @property
    def kept(self) -> int:
        """Rows that are left."""
        return self.rows - sum(fault.count for fault in self.faults.values())


def batches(frame: polars.LazyFrame) -> Iterator[polars.DataFrame]:
    """Rows of a lazy frame in file order, a few hundred thousand at a time."""
    return frame.collect_batches(chunk_size=BATCH_ROWS, maintain_order=True, engine="streaming")


@dataclass(frozen=True)
class Rule:
    """What a column must hold for a row to be usable: finite numbers in a range.

    Parameters
    ----------
    column : str
        Name.
    lowest, highest : float, SI
        Both are allowed, unless `above_lowest`, which shuts out the lowest itself.
    below, above : str
        What is reported of a value below or above.
    required : bool
        A row without a value is not usable.
    whole : bool
        Only whole numbers.
    """

    column: str
    lowest: float = -np.inf
    highest: float = np.inf
    below: str = "is too small"
    above: str = "is too large"
    above_lowest: bool = False
    required: bool = True
    whole: bool = False

    def breaches(self) -> list[tuple[str, polars.Expr]]:
        """Return sentences that begin with the column, each with an expression that is true where it applies."""
        import polars as pl

        value = pl.col(self.column)
        missing = ~value.is_finite()
        low = value <= self.lowest if self.above_lowest else value < self.lowest
        if self.whole:
            low = low | (value != value.floor())
        return [
            (f"{self.column} is missing or not a finite number", missing.fill_null(self.required)),
            (f"{self.column} {self.below}", low.fill_null(False)),
            (f"{self.column} {self.above}", (value > self.highest).fill_null(False)),
        ]

    def holds(self, column: Column) -> bool:
        """Find quickly whether a whole column keeps the rule, from its extremes and sum."""
        if not column.finite or (self.required and (column.nulls or column.empty)):
            return False
        above = column.low > self.lowest if self.above_lowest else column.low >= self.lowest
        return bool(above and column.high <= self.highest) and (not self.whole or column.whole)


@dataclass(frozen=True)
class Column:
    """What one batch of a number column holds.

    Attributes
    ----------
    low, high : float, SI
    finite : bool
        Shown by the sum, which every nan or infinity changes.
    """

    low: float
    high: float
    nulls: int
    finite: bool
    whole: bool
    empty: bool

    @classmethod
    def of(cls, values: polars.Series) -> Column:
        """Look through the values once each for low, high and sum."""
        low: Any = values.min()
        high: Any = values.max()
        if low is None:
            return cls(np.inf, -np.inf, values.null_count(), True, True, True)
        finite = math.isfinite(values.sum())
        return cls(float(low), float(high), values.null_count(), finite, values.dtype.is_integer(), False)


def rules_for(names: list[str], *, is_change: bool, largest_gap: float, pole_count: int | None) -> list[Rule]:
    """Say what makes a row of a recording usable.

    Parameters
    ----------
    names : list of str
        Columns of the frame.
    is_change : bool
        Changes of gap may have either sign; gaps may not.
    largest_gap : float, m
        Larger readings are no gaps.
    pole_count : int or None
        Poles are numbered from 1 to this.

    Returns
    -------
    list of Rule
        For the columns that are there.
    """
    top = KINDS["speed"].highest
    too_large = f"is larger than {mm(largest_gap, '.6g')}"
    rules = [
        Rule("speed", 0.0, top, "is negative", f"is larger than {rpm(top, '.6g')}"),
        Rule("gap", -largest_gap, largest_gap, f"is below {mm(-largest_gap, '.6g')}", too_large)
        if is_change
        else Rule("gap", 0.0, largest_gap, "is zero or negative", too_large, above_lowest=True),
        Rule("gap_error", 0.0, largest_gap, "is negative", too_large, required=False),
        Rule("time"),
        *(Rule(name) for name in (*AXIS_SPEEDS, *AXIS_GAPS)),
        *(Rule(name, COLDEST, WARMEST, *2 * (IMPOSSIBLE_TEMPERATURE,), required=False) for name in TEMPERATURES),
        Rule("pole", 1.0, pole_count or np.inf, *2 * ("is out of range",), required=False, whole=True),
        Rule("turn", -np.inf, np.inf, *2 * ("is no whole number",), required=False, whole=True),
    ]
    return [rule for rule in rules if rule.column in names]


def usable(rules: list[Rule], faults: Iterable[str]) -> polars.Expr:
    """Return an expression that is true for the rows without any of the faults that a survey has found."""
    import polars as pl

    breaches = [breach for rule in rules for text, breach in rule.breaches() if text in faults]
    blank = pl.all_horizontal(pl.col(rule.column).is_null() for rule in rules)
    return ~pl.any_horizontal(*breaches, blank)


def survey(frame: polars.LazyFrame, rules: list[Rule], rows_expected: int, *, keep: bool = False) -> Survey:
    """Go once through all rows of a frame in SI units.

    Parameters
    ----------
    frame : polars.LazyFrame
        Columns speed (rad/s), gap (m) and any of the optional columns.
    rules : list of Rule
        From `rules_for`.
    rows_expected : int
        Roughly how many rows there are; sets the share of the sample.
    keep : bool
        Hold on to all usable rows, which saves reading them again.

    Returns
    -------
    Survey
        Counts, first rows, ranges, names used, and a random sample in file order (seeded: the same each time).
    """
    import polars as pl

    found = Survey()
    share = min(1.0, SAMPLE_ROWS / rows_expected)
    random = np.random.default_rng(20_001)
    last_time = -np.inf
    for batch in batches(frame):
        for name in WORDS:
            if name in batch.columns:
                found.words[name].update(batch[name].unique().cast(pl.String).drop_nulls().to_list())
        kept = _set_aside(found, batch, rules)
        if "time" in kept.columns and kept.height:
            times = kept["time"].to_numpy()
            found.times_backwards += int(np.count_nonzero(times[1:] < times[:-1])) + bool(times[0] < last_time)
            last_time = times[-1]
        if keep:
            found.usable_rows.append(kept)
        if share < 1.0:
            # by chance, not every n-th row: sensors and poles follow each other in a fixed rhythm
            kept = kept[np.flatnonzero(random.random(kept.height) < share)]
        found.sample.append(kept)
    return found


def _set_aside(found: Survey, batch: polars.DataFrame, rules: list[Rule]) -> polars.DataFrame:
    """Count the unusable rows of a batch under their first reason, and return the others."""
    import polars as pl

    start, found.rows = found.rows + found.blank_rows, found.rows + batch.height
    columns = _columns(batch)
    if all(rule.holds(columns[rule.column]) for rule in rules):
        _widen(found, columns)
        return batch
    blank = batch.select(pl.all_horizontal(pl.all().is_null()).alias("blank"))["blank"]
    found.blank_rows, found.rows = found.blank_rows + int(blank.sum()), found.rows - int(blank.sum())
    left = ~blank
    for rule in rules:
        for text, breach in rule.breaches():
            mask = batch.select(breach.alias("mask"))["mask"] & left
            left = left & ~mask
            if mask.any():
                values = batch[rule.column].cast(pl.Float64).to_numpy()
                _count(found.faults.setdefault(text, Fault()), start, mask.to_numpy(), values, rule.column)
    kept = batch.filter(left)
    _widen(found, _columns(kept))
    return kept


def _columns(batch: polars.DataFrame) -> dict[str, Column]:
    return {name: Column.of(batch[name]) for name, kind in batch.schema.items() if kind.is_numeric()}


def _count(fault: Fault, start: int, mask: NDArray[np.bool_], values: NDArray[np.float64], name: str) -> None:
    """Add the marked rows of a batch to the rows with this fault."""
    rows = np.flatnonzero(mask)
    fault.count += rows.size
    fault.least = min(fault.least, float(np.min(values[rows])))
    if fault.first_row < 0:
        fault.first_row = start + int(rows[0])
        fault.value = _printed(name, float(values[rows[0]]))


def _printed(name: str, value: float) -> str:
    """One value with its unit, as messages show it."""
    if np.isnan(value):
        return "no number"
    if np.isinf(value):
        return "no finite number"
    if name in TEMPERATURES:
        return celsius(value, ".6g")
    if name in ("speed", "gap", "gap_error"):
        return with_unit(value, "speed" if name == "speed" else "length", ".6g")
    return f"{value:.6g}{' s' if name == 'time' else ''}"


def _widen(found: Survey, columns: dict[str, Column]) -> None:
    """Take the number columns of a batch into the ranges found so far."""
    for name, column in columns.items():
        if not column.empty:
            found.lowest[name] = min(column.low, found.lowest.get(name, np.inf))
            found.highest[name] = max(column.high, found.highest.get(name, -np.inf))
