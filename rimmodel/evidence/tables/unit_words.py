"""Units as the heads of columns spell them, and where in a head the unit stands.

What is written is matched with a list; a unit that is not on it is none. Capital letters do not count, so nothing is
on the list that means something else in capitals.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

_SPELT: dict[tuple[str, str], str] = {
    ("rpm", "speed"): "rpm|r.p.m.|r.p.m|u/min|upm|1/min|min-1|min^-1|/min|r/min|rev/min|revs/min|tr/min|giri/min|"
    "rev per minute|revolutions per minute|turns per minute",
    ("rps", "speed"): "rps|rev/s|r/s|u/s|tr/s",
    ("rad/s", "speed"): "rad/s|rad/sec|rad s-1|rad*s-1|rads",
    ("deg/s", "speed"): "deg/s|°/s|degrees/s",
    ("Hz", "frequency"): "hz|hertz",
    ("Hz of the grid", "frequency"): "hz of the grid|grid hz|electrical hz|hz electrical",
    ("1/s", "frequency"): "1/s|s-1|s^-1|/s",
    ("% of rated", "share"): "%|pct|percent|per cent|% of rated|% rated|%rated|% of nominal|% nn|%nn|% n_rated",
    ("per unit", "share"): "pu|p.u.|p.u|per unit",
    ("mm", "length"): "mm|millimeter|millimetre|millimeters|millimetres",
    ("um", "length"): "um|µm|micron|microns|micrometer|micrometre|micrometers|micrometres",
    ("cm", "length"): "cm|centimeter|centimetre",
    ("m", "length"): "m|meter|metre|meters|metres",
    ("mil", "length"): "mil|mils|thou|1/1000 in|0.001 in|0.001 inch",
    ("in", "length"): 'in|inch|inches|"',
    ("ft", "length"): "ft|foot|feet",
    ("0.1 mm", "length"): "0.1 mm|0.1mm|0,1 mm|0,1mm|1/10 mm|1/10mm",
    ("0.01 mm", "length"): "0.01 mm|0.01mm|0,01 mm|0,01mm|1/100 mm|1/100mm",
    ("s", "time"): "s|sec|secs|second|seconds|sek|sekunden|secondes|segundos",
    ("ms", "time"): "ms|msec|millisecond|milliseconds",
    ("min", "time"): "min|mins|minute|minutes|minuten|minutos",
    ("h", "time"): "h|hr|hrs|hour|hours|std|stunden|heures|horas",
    ("d", "time"): "d|day|days|tage|jours|dias",
    ("deg", "angle"): "deg|°|degree|degrees",
    ("rad", "angle"): "rad|radian|radians",
    ("degC", "temperature"): "degc|°c|deg c|deg. c|celsius|c|grad c",
    ("degF", "temperature"): "degf|°f|deg f|deg. f|fahrenheit|f",
    ("K", "temperature"): "k|kelvin",
    ("V", "voltage"): "v|volt|volts|vdc|v dc",
    ("mV", "voltage"): "mv|millivolt|millivolts",
    ("mA", "current"): "ma|milliampere|milliamperes|milliamp|ma dc",
    ("A", "current"): "a|amp|ampere|amperes",
}

SIZE = {"0.1 mm": 1e-4, "0.01 mm": 1e-5, "d": 86400.0}
"""SI sizes of the units that are no units elsewhere in this library: m, m and s."""

_DASHES = {"⁻": "-", "\N{MINUS SIGN}": "-", "\N{EN DASH}": "-", "¹": "1", "μ": "µ", "º": "°", "˚": "°", "·": "*"}
_BRACKETS = re.compile(r"[\[({<]\s*([^\[\](){}<>]*?)\s*[\])}>]")
_DATE_LETTERS = re.compile(r"(?:[dmyjhsa]{1,4}[\s./:,-]*)+(?:[.,]?[0fszxn]{1,6})?", re.IGNORECASE)
_LONGEST = 40
_OTHERS_IN_CAPITALS = ("MV", "MA", "Mm", "MM/S")
_BARE = {"speed": ("speed", "share", "frequency"), "gap": ("length",), "time": ("time",),
         "temperature": ("temperature",), "angle": ("angle",)}  # fmt: skip
_TOO_SHORT = {"m", "a", "v", "d", "in", "k"}
"""Not read as units behind a bar or a blank: "gap_m" is as well the mean, "gap in" a preposition."""


@dataclass(frozen=True)
class Unit:
    """A unit that is known, and what it measures."""

    name: str
    kind: str


UNITS = {spelling: Unit(*key) for key, words in _SPELT.items() for spelling in words.split("|")}


def plain_letters(text: str) -> str:
    """A head with compatible forms of its letters, single blanks, and no capital letters.

    >>> plain_letters(" Drehzahl  [min⁻¹]")
    'drehzahl [min-1]'
    """
    text = "".join(_DASHES.get(letter, letter) for letter in unicodedata.normalize("NFC", text))
    return " ".join(text.replace("\ufeff", "").split()).casefold().replace("μ", "µ")


def unit_named(text: str) -> Unit | None:
    """The unit that a text spells, None where it spells none.

    >>> unit_named("MIN-1"), unit_named("1/10 mm"), unit_named("upper")
    (Unit(name='rpm', kind='speed'), Unit(name='0.1 mm', kind='length'), None)
    """
    if len(text) > _LONGEST or text.strip("[](){}<> ") in _OTHERS_IN_CAPITALS:
        return None
    return UNITS.get(plain_letters(text).strip("[](){}<> "))


def is_date_form(text: str) -> bool:
    """Whether a text shows how dates or clock times are written, as in dd.mm.yyyy hh:mm:ss.

    >>> is_date_form("dd/mm/yyyy hh:mm:ss"), is_date_form("hh:mm"), is_date_form("mm")
    (True, True, False)
    """
    text = plain_letters(text).strip("[](){}<> ")
    marks = any(mark in text for mark in ":/-.")
    return len(text) <= _LONGEST and marks and bool(_DATE_LETTERS.fullmatch(text)) and text not in UNITS


def split_unit(head: str) -> tuple[str, str]:
    """Name and unit of the head of a column, as written; the unit is empty where there is none in brackets.

    A pair of brackets that holds neither a unit nor the form of a date belongs to the name, unless it is square.

    >>> split_unit("Air gap 1 (mm)"), split_unit("G1 (upper)"), split_unit("speed [furlongs]")
    (('Air gap 1', 'mm'), ('G1 (upper)', ''), ('speed', 'furlongs'))
    """
    found = list(_BRACKETS.finditer(head))
    for match in reversed(found):
        text = match[1]
        if unit_named(text) or is_date_form(text) or match[0][0] == "[":
            name = (head[: match.start()] + " " + head[match.end() :]).strip()
            return " ".join(name.split()), text
    return " ".join(head.split()), ""


def bare_unit(name: str, family: str) -> tuple[str, str]:
    """Name and unit where the unit stands behind the name without brackets, as in gap_mm, gap/mm, gap mm.

    Parameters
    ----------
    name : str
        Of the column.
    family : str
        Speed, gap, time, temperature or angle: what the name says that it measures.

    >>> bare_unit("airgap_01_mm", "gap"), bare_unit("gap_m", "gap"), bare_unit("n / min-1", "speed")
    (('airgap_01', 'mm'), ('gap_m', ''), ('n', 'min-1'))
    """
    for match in re.finditer(r"(?<=[^\s_/,;.-])\s*(?P<mark>[\s_/,;.-])\s*(?=\S)", name):
        tail = name[match.end() :]
        tail = tail.replace("_", "/") if family == "speed" else tail
        unit = unit_named(tail)
        if unit is None or unit.kind not in (*_BARE[family], "voltage", "current"):
            continue
        if match["mark"] != "/" and plain_letters(tail) in _TOO_SHORT:
            continue
        return name[: match.start()].strip(), tail
    return name, ""
