"""How the columns of a foreign table are to be understood: what each holds, and what its cells are written like."""

from __future__ import annotations

from dataclasses import dataclass, field

from rimmodel.rotor.quantity import COUNT, FINITE, Checked, plain, quantity, text

MEANINGS = (
    "speed", "gap", "gap_change", "gap_error", "time", "date", "sensor", "plane", "angle", "pole", "rotor_angle",
    "turn", "direction", "excitation", "rim_temperature", "spider_temperature", "pole_temperature",
    "stator_temperature", "not used",
)  # fmt: skip
"""What a column can be."""

DATE_ORDERS = ("day first", "month first")
MARKS = (".", ",")
THOUSANDS = (".", ",", " ", "'", "none")


@dataclass(frozen=True)
class ColumnUse(Checked):
    """What one column of a table holds; a gap where nothing else is stated.

    A calibration turns a signal into a gap: gain times reading plus offset, or a table of readings and gaps between
    which lines are drawn.
    """

    meaning: str | None = field(default=None, metadata=text("what the column holds; gap when absent", MEANINGS))
    sensor: str | None = field(default=None, metadata=text("name of the sensor whose gaps it holds"))
    plane: str | None = field(default=None, metadata=text("plane of that sensor"))
    angle: float | None = field(
        default=None, metadata=quantity("angle", FINITE, "of that sensor, in the direction of rotation")
    )
    pole: str | None = field(default=None, metadata=text("number of the pole whose gaps it holds"))
    unit: str | None = field(default=None, metadata=text("of the cells, such as 'mm', 'mil', 'V', 'mA', 'rpm'"))
    gain: str | None = field(default=None, metadata=text("gap for one unit of the signal, such as '2.5 mm/V'"))
    offset: str | None = field(default=None, metadata=text("gap at a signal of zero, such as '-1.0 mm'"))
    table: tuple[tuple[str, str], ...] | None = None


@dataclass(frozen=True)
class CellStyle(Checked):
    """How the cells of a table are written, where the file itself leaves it open."""

    date_order: str | None = field(default=None, metadata=text("of dates such as 12/11/2026", DATE_ORDERS))
    decimal_mark: str | None = field(default=None, metadata=text("of numbers such as 14.742", MARKS))
    thousands_mark: str | None = field(default=None, metadata=text("between thousands, or 'none'", THOUSANDS))
    header_line: int | None = field(default=None, metadata=plain(COUNT, "line or row of the column names, from 1"))


@dataclass(frozen=True)
class ColumnMap:
    """What is stated of the columns of one recording, by their names as written; ``*`` stands for any characters."""

    columns: tuple[tuple[str, ColumnUse], ...] = ()
    cells: CellStyle = CellStyle()

    def __bool__(self) -> bool:
        return bool(self.columns) or self.cells != CellStyle()
