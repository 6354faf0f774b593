"""What every column of a foreign table is taken for: from its head, or as stated; and the units of its numbers.

A table serves as a recording when one column is the speed and others are gaps. Columns that could be two things, or
that could be wrong by a unit, are refused with what would settle them.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from rimmodel.evidence.recording.delimited import RecordingError, shown
from rimmodel.evidence.tables.heads import Head
from rimmodel.evidence.tables.unit_words import SIZE, is_date_form, plain_letters, unit_named
from rimmodel.rotor.record_columns import ColumnMap
from rimmodel.units import DEGREE, UnitError, conversion

_KINDS = {"speed": "speed", "gap": "small length", "gap_change": "small length", "gap_error": "small length",
          "time": "time", "angle": "angle", "rotor_angle": "angle"}  # fmt: skip
_SIGNALS = {"voltage": "voltage", "current": "current"}
NOT_USED = "not used"
GAPS = ("gap", "gap_change")
TEXTS = ("sensor", "plane", "direction", "excitation")
COUNTS = ("pole", "turn")
_PARTED = 16
"""More columns P1, P2, ... than this are poles rather than probes, or the other; nobody can know."""

WHERE = "in a file for --columns, or in the record of the case"


@dataclass(frozen=True)
class Column:
    """A column that is used, or not used for a reason.

    Parameters
    ----------
    position : int
        From 0.
    head : str
        As written.
    meaning : str
        One of ``record_columns.MEANINGS``.
    unit : str
        As it was understood; empty where there is none.
    basis : str
        "header", "stated", or how it was guessed.
    angle : float or None, rad
    gain, offset : str or None
        Of its calibration, as stated.
    table : tuple of pairs of str or None
        Of its calibration, as stated.
    """

    position: int
    head: str
    meaning: str
    unit: str = ""
    basis: str = "header"
    sensor: str = ""
    plane: str = ""
    angle: float | None = None
    pole: int | None = None
    gain: str | None = None
    offset: str | None = None
    table: tuple[tuple[str, str], ...] | None = None


def heads_serve(heads: Sequence[Head], stated: ColumnMap) -> bool:
    """Whether heads, with what is stated of them, are those of a recording: a speed and a gap."""
    return heads_have(heads, stated, "speed") and heads_have(heads, stated, *GAPS)


def heads_have(heads: Sequence[Head], stated: ColumnMap, *meanings: str) -> bool:
    """Whether one of the heads, with what is stated of them, has one of the meanings."""
    for head in heads:
        found = stated_use(head.text, stated)
        if (head.meaning if found is None else found[1].meaning or "gap") in meanings:
            return True
    return False


def stated_use(head: str, stated: ColumnMap) -> tuple[str, Any] | None:
    """What is stated of a column, with the name under which it is: the name itself, or a pattern with ``*``."""
    plain = plain_letters(head)
    for name, use in stated.columns:
        if plain_letters(name) == plain:
            return name, use
    for name, use in stated.columns:
        match = _pattern(name).fullmatch(plain) if "*" in name else None
        if match:
            part = match[1].strip("_- .")
            return name, replace(
                use,
                sensor=use.sensor.replace("*", part) if use.sensor else use.sensor,
                pole=use.pole.replace("*", part) if use.pole else use.pole,
                plane=use.plane.replace("*", part) if use.plane else use.plane,
            )
    return None


def _pattern(name: str) -> re.Pattern[str]:
    return re.compile("(.+)".join(re.escape(part) for part in plain_letters(name).split("*", 1)))


def plan_columns(source: str, heads: Sequence[Head], stated: ColumnMap) -> tuple[Column, ...]:
    """Decide what every column is.

    Parameters
    ----------
    source : str
        Name of the recording, for messages.
    heads : sequence of Head
        By position.
    stated : ColumnMap
        Which goes before what the heads say.

    Raises
    ------
    RecordingError
        No speed, no gap, a meaning twice, or a name stated that the table does not have.
    """
    refuse_unknown(source, heads, stated)
    for head in heads:
        if not "".join(head.text.split()).isprintable():
            raise RecordingError(f"{source}: header {shown(head.text)} contains a control character; type it again")
    columns = [_column(source, place, head, stated) for place, head in enumerate(heads)]
    columns = _sensors_alike(source, columns, heads)
    gaps = [column for column in columns if column.meaning in GAPS]
    if not any(column.meaning == "speed" for column in columns):
        raise RecordingError(no_column(source, "speed", heads))
    if not gaps:
        raise RecordingError(no_column(source, "gap", heads))
    columns = _one_kind_of_gap(columns)
    _refuse_twins(source, columns)
    return tuple(columns)


def refuse_unknown(source: str, heads: Sequence[Head], stated: ColumnMap) -> None:
    """Refuse names stated that the table does not have. Raises RecordingError."""
    used = {found[0] for head in heads if (found := stated_use(head.text, stated))}
    for name, _ in stated.columns:
        if name not in used:
            listed = ", ".join(shown(head.text) for head in heads[:12])
            raise RecordingError(
                f"{source}: the columns stated hold {name!r}, which the table does not have (columns found: {listed}); "
                "write the name as in the table, with its unit"
            )


def _column(source: str, place: int, head: Head, stated: ColumnMap) -> Column:
    found = stated_use(head.text, stated)
    if found is None:
        angle = None if head.angle is None else head.angle * DEGREE
        basis = head.why if head.meaning == NOT_USED else "; ".join(filter(None, ("header", head.why)))
        return Column(place, head.text, head.meaning, head.unit, basis, head.sensor, head.plane, angle, head.pole)
    _, use = found
    meaning = use.meaning or "gap"
    pole = head.pole if head.meaning in GAPS else None
    if use.pole is not None:
        if not use.pole.strip().isdigit():
            raise RecordingError(
                f"{source}: column {shown(head.text)}: pole is stated as {use.pole!r}; it must be a number"
            )
        pole = int(use.pole)
    own = head if meaning in GAPS and head.meaning in GAPS else Head(head.text, NOT_USED, head.unit)
    angle = use.angle if use.angle is not None else None if own.angle is None else own.angle * DEGREE
    sensor = use.sensor or own.sensor or (head.text if meaning in GAPS and pole is None else "")
    return Column(
        place,
        head.text,
        meaning,
        use.unit or head.unit,
        "stated",
        sensor,
        use.plane or own.plane,
        angle,
        pole,
        use.gain,
        use.offset,
        use.table,
    )


def _sensors_alike(source: str, columns: list[Column], heads: Sequence[Head]) -> list[Column]:
    """Columns such as S1, S2 are sensors where several stand in one unit of length; a single column is not enough."""
    guessed = [
        c
        for c, head in zip(columns, heads, strict=True)
        if c.basis != "stated" and head.is_guess and head.meaning in GAPS
    ]
    units = {column.unit for column in guessed}
    named = [column for column in columns if column.meaning in GAPS and column not in guessed]
    if guessed and (named or len(guessed) < 2 or len(units) > 1):
        why = "its name alone does not say that it is a gap; state it by --columns if it is"
        columns = [replace(c, meaning=NOT_USED, basis=why) if c in guessed else c for c in columns]
    elif guessed:
        columns = [
            replace(c, basis="guess: sensors by their names and common unit") if c in guessed else c for c in columns
        ]
    parted = [c for c in columns if c.meaning in GAPS and c.pole is None and c.basis != "stated"
              and re.search(r"(?<![^\W_])[pP][ _.-]?\d+", c.head)]  # fmt: skip
    if len(parted) > _PARTED:
        raise RecordingError(
            f"{source}: columns {shown(parted[0].head)} to {shown(parted[-1].head)} can be {len(parted)} poles or "
            f"{len(parted)} probes; state {line_to_state(re.sub('[0-9]+', '*', parted[0].head), pole='*')} or "
            f'sensor = "P*" {WHERE}'
        )
    return columns


def _one_kind_of_gap(columns: list[Column]) -> list[Column]:
    """Gaps go before changes of gap where a table holds both; a mean of all goes after the sensors that make it."""
    gaps = [column for column in columns if column.meaning == "gap"]
    if gaps:
        why = "the table holds the gap itself"
        columns = [replace(c, meaning=NOT_USED, basis=why) if c.meaning == "gap_change" else c for c in columns]
    named = [column for column in gaps if column.sensor or column.pole is not None]
    if named and len(named) < len(gaps):
        why = "the table holds the gaps of the sensors"
        columns = [
            replace(c, meaning=NOT_USED, basis=why) if c.meaning == "gap" and c not in named else c for c in columns
        ]
    return columns


def _refuse_twins(source: str, columns: Sequence[Column]) -> None:
    seen: dict[tuple[object, ...], Column] = {}
    for column in columns:
        if column.meaning == NOT_USED:
            continue
        angle = column.angle if column.meaning in GAPS else None
        key = (column.meaning, column.sensor, column.plane, column.pole, angle if column.sensor == "" else None)
        if key in seen:
            if seen[key].head == column.head:
                raise RecordingError(f"{source}: column {column.head!r} appears twice; keep only one")
            raise RecordingError(
                f"{source}: columns {shown(seen[key].head)} and {shown(column.head)} are both {column.meaning}"
                f"{f' of sensor {column.sensor}' if column.sensor else ''}; keep one, or state "
                f"{line_to_state(column.head, meaning=NOT_USED)} {WHERE}"
            )
        seen[key] = column


def no_column(source: str, name: str, heads: Sequence[Head]) -> str:
    """What to say where a table has no speed or no gap."""
    unit = "rpm" if name == "speed" else "mm"
    listed = ", ".join(shown(head.text) for head in heads[:12])
    return (
        f"{source}: no column is known to be the {name} (columns found: {listed}); head it '{name} [{unit}]', or state "
        f"{to_state(heads, name)} {WHERE}"
    )


def to_state(heads: Sequence[Head], name: str) -> str:
    """The line that states the likeliest of the columns that are not understood."""
    likely = [head for head in heads if head.text and head.meaning == NOT_USED]
    kinds = ("speed", "share", "frequency") if name == "speed" else ("length", "voltage", "current")
    near = [head for head in likely if (found := unit_named(head.unit)) and found.kind in kinds] or likely
    unit = (near[0].unit if near else "") or ("rpm" if name == "speed" else "mm")
    return line_to_state(near[0].text if near else "NAME", meaning=name, unit=unit)


def line_to_state(head: str, **keys: str) -> str:
    """The line by which a column is stated, as it stands in a file for --columns and in a record.

    >>> print(line_to_state("AI 01", meaning="gap", unit="mm"))
    columns."AI 01" = { meaning = "gap", unit = "mm" }
    """
    name = head.replace("\\", "\\\\").replace('"', '\\"')
    return f'columns."{name}" = {{ {", ".join(f"{key} = {chr(34)}{value}{chr(34)}" for key, value in keys.items())} }}'


def scale_of(source: str, column: Column) -> tuple[float, float]:
    """Scale and offset by which the numbers of a column become SI; of a signal, volts or amperes.

    Parameters
    ----------
    source : str
        Name of the recording, for messages.
    column : Column
        With its unit.

    Returns
    -------
    scale, offset : float, SI

    Raises
    ------
    RecordingError
        The unit is missing, unknown, or of another kind.
    """
    kind = _KINDS.get(column.meaning, "temperature" if column.meaning.endswith("_temperature") else "")
    if not kind:
        return 1.0, 0.0
    if not column.unit:
        raise RecordingError(no_unit(source, column, kind))
    unit = unit_named(column.unit)
    name = unit.name if unit else column.unit
    if unit and column.meaning in GAPS and unit.kind in _SIGNALS:
        kind = _SIGNALS[unit.kind]
    if name in SIZE:
        wanted = {"small length": "length", "time": "time"}.get(kind)
        if unit is None or unit.kind != wanted:
            raise RecordingError(
                f"{source}: column {shown(column.head)}: unit {column.unit!r} does not measure a {column.meaning}"
            )
        return SIZE[name], 0.0
    if unit and unit.name == "1/s":
        raise RecordingError(
            f"{source}: column {shown(column.head)}: {column.unit!r} can be turns per second or radians per second; "
            f"state {line_to_state(column.head, meaning='speed', unit='rps')} or 'rad/s' {WHERE}"
        )
    try:
        return conversion(name, kind)
    except UnitError as error:
        raise RecordingError(f"{source}: column {shown(column.head)}: {error}") from error


def no_unit(source: str, column: Column, kind: str, low: float | None = None, high: float | None = None) -> str:
    """What to say where a column has no unit: with its numbers, what they would be in each unit.

    Parameters
    ----------
    kind : str
        A key of ``units.KINDS``.
    low, high : float or None, unit of value
        Smallest and largest number in the column.
    """
    readings = {
        "small length": (("mm", 1.0), ("0.1 mm", 0.1), ("mil", 0.0254), ("um", 1e-3), ("in", 25.4)),
        "speed": (("rpm", 1.0), ("rps", 60.0), ("rad/s", 9.5493)),
    }.get(kind, ())
    words, unit = "", {"small length": "mm", "speed": "rpm", "angle": "deg", "time": "s"}.get(kind, "degC")
    if readings and low is not None and high is not None:
        words = f": {low:.5g} to {high:.5g} is " + ", or ".join(
            f"{low * size:.4g} to {high * size:.4g} {unit} in {name}" for name, size in readings
        )
    return (
        f"{source}: column {shown(column.head)} has no unit{words}; write for example '{column.meaning} [{unit}]' "
        f"in the header, or state {line_to_state(column.head, meaning=column.meaning, unit=unit)} {WHERE}"
    )


def is_form_of_time(column: Column) -> bool:
    """Whether the unit of a column shows how its dates or clock times are written."""
    return is_date_form(column.unit)
