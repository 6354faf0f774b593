"""What is claimed of a machine, what is required of it, and which records speak for it."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from rimmodel.rotor.conditions import Speeds
from rimmodel.rotor.quantity import (
    FINITE,
    NOT_NEGATIVE,
    PART,
    POSITIVE,
    Bounds,
    Checked,
    Rule,
    plain,
    quantity,
    text,
    value_text,
)
from rimmodel.rotor.record_columns import ColumnMap
from rimmodel.rotor.registry import quantity_at, quantity_names

_OF_A_SPEED = re.compile(r"\s*(?P<factor>\d+(?:\.\d*)?|\.\d+)\s*x\s*(?P<name>rated|overspeed|runaway)\s*")


SENSOR_OFFSET = 0.1e-3
"""Standard uncertainty (m) of the level of the mean gap of several sensors when the case says nothing (from memory)."""

SENSOR_GAIN = 0.005
"""Standard uncertainty of the sensitivity of gap sensors, as a share, when the case says nothing (from memory)."""

RUN_TEMPERATURE = 0.5
"""Standard uncertainty (K) of rim over spider temperature in a run against its condition, when the case says
nothing (common practice, no source)."""


HEAT_GAIN = 0.15
"""Standard uncertainty, as a share, of how far the mean temperature of rim, spider or stator moves with what was
recorded of it, when the case says nothing: a few sensors stand for a body that is not warmed through (common
practice, no source)."""


CONFIDENCE = Rule(
    "from 0.5 to 0.99", lambda value: (value >= 0.5) & (value <= 0.99), (("minimum", 0.5), ("maximum", 0.99))
)
TOLERATED = Rule(PART.words, PART.holds, (("minimum", 0), ("exclusiveMaximum", 1)))
GAIN = Rule(
    "0 or above and below 0.5", lambda value: (value >= 0) & (value < 0.5), (("minimum", 0), ("exclusiveMaximum", 0.5))
)
HEAT_SHARE = Rule(
    "above 0 and at most 0.5", lambda value: (value > 0) & (value <= 0.5), (("exclusiveMinimum", 0), ("maximum", 0.5))
)
DIRECTIONS = ("up", "down")


@dataclass(frozen=True)
class Claim(Checked):
    """A maker's statement of one quantity.

    Its value (SI) obeys the rule of the quantity. The contract may allow a tolerance; without one a claim is taken at
    its word.
    """

    quantity: str = field(metadata=text("", quantity_names, of_group=True))
    value: float = field(metadata=plain(FINITE, "text with a unit, or a ratio such as '1.49 x rated'", written=str))
    condition: str | None = field(
        default=None, metadata=text("name of a table under [conditions]; the first when absent")
    )
    tolerance: float = field(default=0.0, metadata=plain(TOLERATED, "share of the value within which it counts as met"))

    def __post_init__(self) -> None:
        super().__post_init__()
        _obeys("Claim", self.quantity, "value", self.value)


@dataclass(frozen=True)
class Requirement(Checked):
    """A bound that a quantity must keep.

    One of `at_least` and `at_most` (SI), to be shown with a confidence.
    """

    name: str = field(metadata=text("", of_group=True))
    quantity: str = field(metadata=text("", quantity_names))
    condition: str | None = field(
        metadata=text("name of a table under [conditions]; the first when absent", absent=None)
    )
    at_least: float | None = field(metadata=plain(FINITE, "", written=str, absent=None))
    at_most: float | None = field(metadata=plain(FINITE, "", written=str, absent=None))
    confidence: float = field(
        default=0.95, metadata=plain(CONFIDENCE, "of the two-sided interval that decides, from 0.5 to 0.99")
    )

    def __post_init__(self) -> None:
        super().__post_init__()
        if (self.at_least is None) == (self.at_most is None):
            raise ValueError("Requirement: give either at_least or at_most")
        _obeys("Requirement", self.quantity, "at_least", self.at_least)
        _obeys("Requirement", self.quantity, "at_most", self.at_most)


def _obeys(what: str, name: str, key: str, value: float | None) -> None:
    quantity = quantity_at(name).quantity
    if value is not None and not quantity.rule.holds(value):
        raise ValueError(f"{what}: {key} is {value_text(value, quantity.kind)}; it must be {quantity.rule.words}")


@dataclass(frozen=True)
class CaseRecord(Checked):
    """A recording of a run."""

    file: str = field(metadata=text("CSV, Parquet or workbook (.xlsx), relative to the case file"))
    condition: str | None = field(
        default=None, metadata=text("name of a table under [conditions]; needed where there are several")
    )
    label: str = field(default="", metadata=text(""))
    direction: str | None = field(default=None, metadata=text("where it has one only", DIRECTIONS))
    expected_change: float | None = field(
        default=None,
        metadata=quantity(
            "small length", FINITE, "radial interference that the shims should have added since the record before"
        ),
    )
    sensor_offset: float = field(
        default=SENSOR_OFFSET,
        metadata=quantity("small length", NOT_NEGATIVE, "standard uncertainty of the level of the mean gap"),
    )
    one_sensor_offset: float | None = field(
        default=None,
        metadata=quantity(
            "small length",
            NOT_NEGATIVE,
            "standard uncertainty of the level of one sensor, each by itself; sensor_offset when absent",
        ),
    )
    sensor_gain: float = field(
        default=SENSOR_GAIN, metadata=plain(GAIN, "standard uncertainty of the sensitivity, as a share")
    )
    temperature_uncertainty: float = field(
        default=RUN_TEMPERATURE,
        metadata=quantity(
            "temperature",
            NOT_NEGATIVE,
            "standard uncertainty of rim over spider temperature in this run",
            difference="0.5 K",
        ),
    )
    temperatures: str | None = field(
        default=None,
        metadata=text("CSV, Parquet or workbook of temperatures against time, by the clock of the recording"),
    )
    temperature_gain: float = field(
        default=HEAT_GAIN,
        metadata=plain(
            HEAT_SHARE, "standard uncertainty of how far mean temperatures move with recorded ones, as a share"
        ),
    )
    sheet: str | None = field(default=None, metadata=text("of a workbook; needed where several sheets hold something"))
    columns: ColumnMap = field(default=ColumnMap())
    columns_file: str | None = field(default=None)


MARKS = ("touched", "clear")


@dataclass(frozen=True)
class WitnessMark(Checked):
    """What a wire, a wax point or a strip in the gap has shown after a run up to a speed.

    A mark that was touched bounds the least gap of that run from above. One that stayed clear bounds the gap at its own
    place alone.
    """

    gap: float = field(
        metadata=quantity(
            "small length", POSITIVE, "gap that the mark leaves to the rotor", bounds=Bounds(0.1e-3, 0.08)
        )
    )
    mark: str = field(metadata=text("what it showed", MARKS))
    highest_speed: float = field(
        metadata=quantity("speed", POSITIVE, "of the run: a name, '1.2 x rated' or text with a unit", written=str)
    )
    condition: str | None = field(
        default=None, metadata=text("name of a table under [conditions]; the first when absent")
    )
    place: str = field(default="", metadata=text("in words"))


def ratio_of_speed(text: str) -> tuple[float, str] | None:
    """Factor and speed of a text such as ``"1.15 x rated"``; None when the text is not of that form.

    Returns
    -------
    factor : float, -
    speed : str

    >>> ratio_of_speed("1.15 x rated")
    (1.15, 'rated')
    """
    match = _OF_A_SPEED.fullmatch(text)
    return (float(match["factor"]), match["name"]) if match else None


def resolve_ratio(factor: float, name: str, speeds: Speeds) -> float | None:
    """Speed of a ratio, or None when the machine has no speed of that name.

    Parameters
    ----------
    factor : float, -

    Returns
    -------
    float or None, rad/s
    """
    speed = speeds.named.get(name)
    return None if speed is None else float(speed) * factor
