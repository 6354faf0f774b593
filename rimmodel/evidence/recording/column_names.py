"""Names of the columns that a recording may have, what they measure, and which of them a header stands for."""

from __future__ import annotations

import re

from rimmodel.evidence.chart.shared_columns import AXIS_GAPS, AXIS_SPEEDS

NUMBERS = {
    "speed": "speed",
    "gap": "small length",
    "gap_change": "small length",
    "gap_error": "small length",
    "time": "time",
    "angle": "angle",
    "rim_temperature": "temperature",
    "spider_temperature": "temperature",
    "pole_temperature": "temperature",
    "stator_temperature": "temperature",
    **dict.fromkeys(AXIS_SPEEDS, "speed"),
    **dict.fromkeys(AXIS_GAPS, "small length"),
}
"""Columns with a unit, and what they measure."""


WORDS = ("sensor", "plane", "direction", "excitation")


COUNTS = ("pole", "turn")
"""Columns of whole numbers."""


_ALL = (*NUMBERS, *WORDS, *COUNTS)


HEADER = re.compile(r"\s*(?P<name>[^\[\]]*?)\s*(?:\[\s*(?P<unit>[^\[\]]*?)\s*\])?\s*")


def column_name(header: str) -> str | None:
    """Name of the column that a header stands for, None where a recording has no such column.

    >>> column_name("Rim temperature [degC]"), column_name("remark")
    ('rim_temperature', None)
    """
    match = HEADER.fullmatch(header)
    name = re.sub(r"[\s_-]+", "_", match["name"].lower()) if match else ""
    return name if name in _ALL else None
