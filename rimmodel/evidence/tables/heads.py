"""What the head of a column says: speed, time, the gap of a sensor, in which plane, at which angle, in which unit.

Only words whose meaning is certain are taken. A head with a word that is not known, such as "seal gap", is left
unused and reported, never taken for the nearest that is known.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from rimmodel.evidence.tables.unit_words import Unit, bare_unit, is_date_form, plain_letters, split_unit, unit_named

_SPEED = {"speed", "rpm", "drehzahl", "vitesse", "velocidad", "velocita", "velocità", "rotspeed", "rotationspeed", "n"}
_BESIDE_SPEED = {"rotor", "rotational", "rotation", "unit", "shaft", "machine", "turbine", "generator", "actual",
                 "measured", "act", "avg", "ist", "mean", "average", "signal", "de", "of", "the", "relative", "rel",
                 "percent", "pct", "nn"}  # fmt: skip
_OF_RATED = {"rated", "nominal"}
_GAP = {"gap", "airgap", "luftspalt", "spalt", "entrefer", "entrehierro", "traferro"}
_BESIDE_GAP = {"air", "mean", "avg", "average", "mittel", "mittelwert", "moyen", "medio", "sensor", "probe", "sonde",
               "at", "channel", "ch", "no", "nr", "turn", "value", "measured", "stator", "rotor", "of",
               "the"}  # fmt: skip
_CHANGE = {"change", "delta", "variation", "änderung", "d"}
_STATISTIC = {"min", "minimum", "max", "maximum", "std", "stdev", "sigma", "rms", "peak", "span", "range", "p2p", "pp",
              "median", "quality", "status", "valid", "count", "alarm", "limit", "trip"}  # fmt: skip
_TIME = {"time", "zeit", "temps", "tiempo", "tempo", "timestamp", "datetime", "clock", "uhrzeit", "heure", "hora",
         "elapsed", "t", "zeitstempel", "horodatage"}  # fmt: skip
_BESIDE_TIME = {"stamp", "date", "of", "day", "local", "utc", "relative", "rel", "run", "and", "datum", "from", "start",
                "since", "serial", "excel", "unix", "epoch"}  # fmt: skip
_DATE = {"date", "datum", "fecha", "data", "jour"}
_STEMS = {"g", "ag", "gap", "s", "sensor", "probe", "sonde", "channel", "ch", "geber", "ls", "airgap"}
_SURE_STEMS = {"g", "ag", "gap", "ls", "airgap"}
_UPPER, _LOWER = {"upper", "top", "oben", "obere", "superior"}, {"lower", "bottom", "unten", "untere", "inferior"}
_MIDDLE = {"middle", "mid", "mitte", "mittlere"}
_PLACES = {"rim": "rim", "kranz": "rim", "rotorkranz": "rim", "spider": "spider", "pole": "pole", "pol": "pole",
           "winding": "", "stator": "stator", "core": "stator"}  # fmt: skip
_WORD_COLUMNS = {
    "sensor": {"sensor", "probe", "transducer", "sonde", "geber", "sensor name", "sensor id", "probe id", "capteur"},
    "plane": {"plane", "sensor plane", "ebene", "plan"},
    "direction": {"direction", "up down", "richtung", "sens"},
    "excitation": {"excitation", "field", "erregung"},
    "pole": {"pole", "pole no", "pole nr", "pole number", "pole index", "pole id", "pol", "pol nr", "polnummer"},
    "turn": {"turn", "turn no", "turn number", "rev", "rev no", "revolution", "revolution no", "umdrehung", "tour",
             "revolution number", "turn count", "turn counter"},
    "rotor_angle": {"rotor angle", "pole angle", "angle of pole", "shaft angle", "key phasor angle", "rotorwinkel"},
    "angle": {"angle", "sensor angle", "azimuth", "winkel", "sensor position", "angular position"},
    "gap_error": {"gap error", "standard error of gap"},
}  # fmt: skip
_ANGLE = re.compile(
    r"(?<![^\W_])(?<![.,])(?P<sign>(?:(?<=\s)|(?<=@)|^)[-+\u2212\u2013])?(\d{1,3}(?:[.,]\d+)?)[\s_]*(?:°(?!\s*[cf]\b)|deg(?:rees?)?\b|deg(?=_))",
    re.I,
)
_POLE = re.compile(r"(?<![^\W_])(?:pole|pol|polo|pôle)[\s_.-]*(?:no|nr|number)?[\s_.#-]*0*(\d{1,3})(?!\d)", re.I)
_PLANE = re.compile(r"(?<![^\W_])(?:plane|ebene|level)[\s_.:-]*([a-z]|\d{1,2})(?![^\W_])", re.I)


@dataclass(frozen=True)
class Head:
    """What the head of a column says.

    Parameters
    ----------
    text : str
        As written.
    meaning : str
        One of ``record_columns.MEANINGS``; "not used" where it says nothing of use.
    unit : str
        As written, empty where there is none.
    sensor, plane : str
        Empty where not stated.
    angle : float or None, deg
        Of the sensor.
    why : str
        Why it is not used, or what was guessed.
    is_guess : bool
        The name alone is not certain; it is taken only with other columns alike.
    """

    text: str
    meaning: str
    unit: str = ""
    sensor: str = ""
    plane: str = ""
    angle: float | None = None
    pole: int | None = None
    why: str = ""
    is_guess: bool = False


def read_head(text: str, unit_below: str = "") -> Head:
    """Understand one head.

    Parameters
    ----------
    text : str
        As written, with its unit or without.
    unit_below : str
        What stands in a row of units below it.

    >>> head = read_head("Air gap 3 upper 45° (mm)")
    >>> head.meaning, head.sensor, head.plane, head.angle, head.unit
    ('gap', 'Air gap 3', 'upper', 45.0, 'mm')
    >>> read_head("Seal gap [mm]").meaning, read_head("n_rpm").meaning
    ('not used', 'speed')
    """
    name, unit = split_unit(text)
    name, unit, words = _without_bare_unit(name, unit, unit_below)
    head = Head(text, "not used", unit)
    if not words:
        return replace(head, why="it has no name" if not text.strip() else "only a unit stands there")
    for read in (_as_temperature, _as_word_column, _as_speed, _as_time, _as_gap):
        found = read(head, name, words)
        if found is not None:
            return found
    return replace(head, why="its name says nothing of speed, time, gap or temperature")


def _without_bare_unit(name: str, unit: str, unit_below: str) -> tuple[str, str, list[str]]:
    """Name, unit and words of a name from which a unit without brackets has been taken."""
    if not unit:
        for family in ("speed", "gap", "time", "temperature", "angle"):
            shorter, bare = bare_unit(name, family)
            if bare and _family(_words(shorter)) in (family, ""):
                if family != "gap" and not _family(_words(shorter)):
                    continue
                name, unit = shorter, bare
                break
    elif is_date_form(unit):
        return name, unit, _words(name)
    return name, unit or unit_below.strip("[](){}<> "), _words(name)


def _words(name: str) -> list[str]:
    """Words and numbers of a name in small letters, parted where small and capital letters or digits meet."""
    parted = re.sub(r"(?<=[a-zäöüéè])(?=[A-Z])", " ", name)
    return re.findall(r"[^\W\d_]+|\d+", plain_letters(parted))


def _family(words: list[str]) -> str:
    found = set(words)
    if any(word.startswith("temp") and word not in _TIME for word in words):
        return "temperature"
    if found & _SPEED:
        return "speed"
    if found & _GAP or (len(words) >= 2 and words[0] in _STEMS and words[1].isdigit()):
        return "gap"
    if found & (_TIME | _DATE):
        return "time"
    return "angle" if found & {"angle", "winkel", "azimuth"} else ""


def _as_temperature(head: Head, name: str, words: list[str]) -> Head | None:
    if not any(word.startswith("temp") and word not in ("tempo", "temps") for word in words):
        return None
    places = {_PLACES[word] for word in words if word in _PLACES} - {""}
    others = [w for w in words if w not in _PLACES and not w.startswith("temp") and w not in ("of", "the", "mean")]
    if len(places) != 1 or "winding" in words or others:
        return replace(head, why="a temperature, but not of rim, spider, pole or stator alone")
    return replace(head, meaning=f"{places.pop()}_temperature")


def _as_word_column(head: Head, name: str, words: list[str]) -> Head | None:
    joined = " ".join(words)
    for meaning, names in _WORD_COLUMNS.items():
        if joined in names or joined == meaning.replace("_", " "):
            return replace(head, meaning=meaning)
    return None


def _as_speed(head: Head, name: str, words: list[str]) -> Head | None:
    if not set(words) & _SPEED or (not set(words) & (_SPEED - {"n"}) and set(words) & (_GAP | _STEMS)):
        return None
    unit = unit_named(head.unit)
    share = unit is not None and unit.kind == "share"
    known = _SPEED | _BESIDE_SPEED | (_OF_RATED if share or {"percent", "pct"} & set(words) else set())
    others = [word for word in words if word not in known]
    if others or set(words) & _STATISTIC:
        return replace(
            head, why=f"it is a speed with {', '.join(map(repr, others or words))}, which need not be the rotor"
        )
    if "n" in words and not set(words) & (_SPEED - {"n"}) and not head.unit:
        return replace(head, why="'n' without a unit need not be a speed")
    stated = head.unit or ("rpm" if "rpm" in words else "%" if {"percent", "pct"} & set(words) else "")
    return replace(head, meaning="speed", unit=stated)


def _as_time(head: Head, name: str, words: list[str]) -> Head | None:
    found = set(words)
    if found <= _TIME | _BESIDE_TIME | _DATE and found & (_TIME | _DATE | {"stamp", "serial", "epoch"}):
        return replace(head, meaning="time" if found & (_TIME | {"stamp", "serial", "epoch"}) else "date")
    return None


def _as_gap(head: Head, name: str, words: list[str]) -> Head | None:
    """The gap of a sensor, with what its name says of plane, angle and pole."""
    plain, angle, pole, plane = name, None, None, ""
    unclear = ""
    if match := _ANGLE.search(plain):
        angle = None if match["sign"] else float(match[2].replace(",", "."))
        unclear = "the sign of its angle is not clear, so no angle is taken from it" if match["sign"] else ""
        plain = plain[: match.start()] + " " + plain[match.end() :]
    if match := _POLE.search(plain):
        pole, plain = int(match[1]), plain[: match.start()] + " " + plain[match.end() :]
    if match := _PLANE.search(plain):
        plane, plain = match[1], plain[: match.start()] + " " + plain[match.end() :]
    rest = _words(plain)
    for group, called in ((_UPPER, "upper"), (_LOWER, "lower"), (_MIDDLE, "middle")):
        if not plane and set(rest) & group:
            plane = called
            plain = re.sub(rf"(?<![^\W\d_])(?:{'|'.join(group)})(?![^\W\d_])", " ", plain, flags=re.IGNORECASE)
            rest = [word for word in rest if word not in group]
    is_pole = pole is not None and not [word for word in rest if word not in _GAP | _BESIDE_GAP | _STEMS]
    core = [word for word in rest if word in _STEMS or word not in _BESIDE_GAP]
    stem = len(core) == 2 and core[0] in _STEMS and core[1].isdigit()
    if not set(rest) & _GAP and not stem and not (is_pole and (not rest or rest[0] in _STEMS | _GAP)):
        return None
    if set(rest) & _STATISTIC:
        return replace(head, why="it is not the mean gap")
    change = set(rest) & _CHANGE
    odd = [w for w in rest if w not in _GAP | _BESIDE_GAP | _CHANGE | _STEMS and not w.isdigit() and len(w) > 2]
    if odd:
        return replace(head, why=f"a gap with {', '.join(map(repr, odd))}, which need not be the air gap")
    unit = unit_named(head.unit)
    if unit is not None and unit.kind not in ("length", "voltage", "current"):
        return replace(head, meaning="gap", why="its unit does not measure a length")
    named = re.sub(r"(?<=\s)[-_@,;:]+|[-_@,;:]+(?=\s)", " ", f" {plain} ")
    sensor = " ".join(named.split()) if any(w.isdigit() or len(w) == 1 or w in _STEMS - _GAP for w in rest) else ""
    if not sensor and (angle is not None or plane) and pole is None:
        sensor = " ".join(filter(None, (plane, f"{angle:g} deg" if angle is not None else "")))
    guess = stem and core[0] not in _SURE_STEMS
    return replace(head, meaning="gap_change" if change else "gap", sensor=sensor, plane=plane, angle=angle, pole=pole,
                   why=unclear, is_guess=guess)  # fmt: skip


def unit_of(head: Head) -> Unit | None:
    """The unit that a head states, where it is one that is known."""
    return unit_named(head.unit)
