"""The one door between engineering units and SI floats.

Inside rimmodel every number is an SI float. Text such as ``"1.5 mm"`` becomes one here, and nowhere else:
one number, one unit from the list in ``units.txt``, the right dimension, finite, and within a range in which
such a quantity of a large machine can lie. What does not fit is refused in words, never guessed.

The units of print go out by the same door: `in_print` and `number` for tables and figures whose heads name the unit,
`rpm`, `mm` and their like for words. A constant of a module is written as ``1.5 * MILLIMETRE``.
"""

from __future__ import annotations

import difflib
import math
import re
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, overload

if TYPE_CHECKING:
    from collections.abc import Callable

    import pint

    from rimmodel.arrays import Floats, Numbers

RPM = 2.0 * math.pi / 60.0
MILLIMETRE = 1e-3
MEGAPASCAL = 1e6
GIGAPASCAL = 1e9
KILONEWTON = 1e3
TONNE = 1e3
DEGREE = math.pi / 180.0
ZERO_CELSIUS = 273.15
"""Kelvin at 0 degC."""


class UnitError(ValueError):
    """A text that is not one finite number with one known unit of the right kind."""


@dataclass(frozen=True)
class Kind:
    """What sort of quantity a text must hold: its dimension and the range that is plausible here.

    Parameters
    ----------
    lowest, highest : float, SI
    smallest : float, SI
        A value other than zero is at least this in size: 180 mPa lies between -1e11 and 1e11 Pa, but is no stress.
    """

    name: str
    si_unit: str
    example: str
    lowest: float
    highest: float
    smallest: float = 0.0

    @property
    def one(self) -> str:
        """The name with its article."""
        return f"{'an' if self.name[0] in 'ae' else 'a'} {self.name}"


def _kinds(*rows: tuple[str, str, str, float, float] | tuple[str, str, str, float, float, float]) -> dict[str, Kind]:
    return {row[0]: Kind(*row) for row in rows}


KINDS = _kinds(
    ("length", "m", "1750 mm", -100.0, 100.0),
    ("small length", "m", "1.5 mm", -0.5, 0.5),
    ("area", "m^2", "0.055 m^2", -100.0, 100.0),
    ("surface", "m^2", "250 m^2", -1e5, 1e5),
    ("second moment of area", "m^4", "2e-4 m^4", -100.0, 100.0),
    ("mass", "kg", "3.4 t", -1e8, 1e8),
    ("density", "kg/m^3", "7850 kg/m^3", -3e4, 3e4),
    ("elastic modulus", "Pa", "206 GPa", 1e10, 2e12),
    ("shear modulus", "Pa", "16 GPa", 1e8, 2e11),
    ("stack modulus", "Pa", "2 GPa", 0.0, 3e11),
    ("strength", "Pa", "450 MPa", 1e6, 1e10),
    ("stress", "Pa", "180 MPa", -1e11, 1e11, 1e3),
    ("thermal expansion", "1/K", "12e-6 1/K", -1e-4, 1e-4),
    ("temperature", "K", "60 degC", 173.15, 773.15),
    ("rate of temperature", "K/s", "10 K/h", -1.0, 1.0),
    ("stiffness", "N/m", "2.5e9 N/m", -1e16, 1e16),
    ("speed", "rad/s", "136.4 rpm", -3000.0, 3000.0),
    ("flux density", "T", "0.95 T", -3.0, 3.0),
    ("voltage", "V", "4 V", -1e3, 1e3),
    ("current", "A", "4 mA", -1e3, 1e3),
    ("frequency", "Hz", "50 Hz", -1000.0, 1000.0),
    ("angle", "rad", "30 deg", -1000.0, 1000.0),
    ("time", "s", "12.5 s", -1e12, 1e12),
    ("torque", "N*m", "4e6 N*m", -1e12, 1e12),
    ("inertia", "kg*m^2", "6e6 kg*m^2", -1e12, 1e12),
    ("force", "N", "850 kN", -1e12, 1e12),
    ("power", "W", "80 kW", -1e12, 1e12),
    ("heat transfer", "W/m^2/K", "40 W/m^2/K", -1e6, 1e6),
    ("thermal conductance", "W/K", "400 W/K", -1e9, 1e9),
    ("thermal conductivity", "W/m/K", "45 W/m/K", -1e4, 1e4),
    ("specific heat", "J/kg/K", "470 J/kg/K", -1e5, 1e5),
)


@dataclass(frozen=True)
class PrintUnit:
    """The unit in which a kind of quantity is printed.

    Parameters
    ----------
    size : float, SI
    decimals : int or None
        As many are shown where nothing else is asked for; None shows four significant digits.
    zero : float, SI
        Its value at the zero of the unit.
    """

    name: str
    size: float
    decimals: int | None = None
    zero: float = 0.0

    @overload
    def of(self, value: float) -> float: ...
    @overload
    def of(self, value: Floats) -> Floats: ...
    def of(self, value: Numbers) -> Numbers:
        """A value (SI) in this unit."""
        return (value - self.zero) / self.size

    def text(self, value: Numbers, form: str | None = None) -> str:
        """A value (SI; an array has one element) in words, with the unit."""
        if form is None:
            form = ".4g" if self.decimals is None else f".{self.decimals}f"
        return f"{float(self.of(value)):{form}} {self.name}"


PRINT = {
    "length": PrintUnit("mm", MILLIMETRE, 2),
    "small length": PrintUnit("mm", MILLIMETRE, 2),
    "speed": PrintUnit("rpm", RPM, 1),
    "stress": PrintUnit("MPa", MEGAPASCAL, 1),
    "strength": PrintUnit("MPa", MEGAPASCAL, 1),
    "elastic modulus": PrintUnit("GPa", GIGAPASCAL),
    "stack modulus": PrintUnit("GPa", GIGAPASCAL),
    "temperature": PrintUnit("degC", 1.0, 0, ZERO_CELSIUS),
    "force": PrintUnit("kN", KILONEWTON, 0),
    "torque": PrintUnit("kN m", KILONEWTON, 0),
    "power": PrintUnit("kW", 1e3, 0),
    "angle": PrintUnit("deg", DEGREE),
    "mass": PrintUnit("t", TONNE),
    "inertia": PrintUnit("t m2", TONNE),
}
"""By kind of ``KINDS``; the other kinds are printed in SI."""

_NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?"
_NAME = r"[A-Za-zµμ°_]+(?:(?:\^|\*\*)-?\d|[2-4])?"
_QUANTITY = re.compile(rf"\s*(?P<number>{_NUMBER})\s*(?P<unit>.*?)\s*", re.DOTALL)
_UNIT = re.compile(rf"(?:1|{_NAME})(?:\s*[*/]\s*{_NAME}){{0,5}}")
"""Up to six named units with small whole powers: nothing that has to be worked out, however short it is written."""

_LONGEST_UNIT, _LONGEST_TEXT = 60, 120
_PER_MINUTE = ("1/min", "r/min", "rev/min", "min^-1", "min-1", "/min")


def parse_quantity(text: object, kind: str) -> float:
    """Read one number with one unit, such as ``"1.5 mm"``, and return it in SI.

    Parameters
    ----------
    text : str
        A number with a decimal point, then a unit of ``units.txt``; powers as ``m^2``, quotients as ``N/m``.
    kind : str
        A key of ``KINDS``: fixes the dimension and the plausible range.

    Returns
    -------
    float, SI
        Temperatures in kelvin, speeds in rad/s.

    Raises
    ------
    UnitError
        No number, decimal comma, blank inside the number, arithmetic, unknown unit, wrong dimension,
        not finite, or outside the plausible range; the text says which and what to write.

    >>> parse_quantity("1.5 mm", "length")
    0.0015
    >>> round(parse_quantity("60 degC", "temperature"), 2)
    333.15
    >>> round(parse_quantity("60 rpm", "speed"), 6)
    6.283185

    """
    wanted = KINDS[kind]
    if isinstance(text, bool) or not isinstance(text, str):
        raise UnitError(f"{text!r} has no unit; write text with a unit, such as {wanted.example!r}")
    _refuse_long(text, wanted)
    match = _QUANTITY.fullmatch(text)
    if match is None:
        raise UnitError(f"{text!r} is not a number with a unit; write for example {wanted.example!r}")
    unit = match["unit"]
    if not unit:
        raise UnitError(f"{text!r} has no unit; write for example {wanted.example!r}")
    if not _UNIT.fullmatch(unit):
        raise UnitError(f"{text!r} is not one number with one unit{_hint(unit)}; for example {wanted.example!r}")
    scale, offset = conversion(unit, kind)
    number = match["number"]
    value = float(number) * scale + offset
    if not math.isfinite(value):
        raise UnitError(f"{text!r} is not a finite number")
    if not wanted.lowest <= value <= wanted.highest:
        raise UnitError(
            f"{text!r} is {value:.6g} {wanted.si_unit}, outside the plausible range for this {kind} "
            f"({wanted.lowest:.4g} to {wanted.highest:.4g} {wanted.si_unit}){_other_case(number, unit, kind)}"
        )
    if 0.0 < abs(value) < wanted.smallest:
        raise UnitError(
            f"{text!r} is {value:.6g} {wanted.si_unit}, less than any {kind} of such a machine "
            f"({wanted.smallest:.4g} {wanted.si_unit}){_other_case(number, unit, kind)}"
        )
    return value


def parse_difference(text: object, kind: str) -> float:
    """Read the size of a difference between two quantities of a kind, such as a standard uncertainty, in SI.

    A difference of temperatures is as many kelvin as degrees Celsius.

    Parameters
    ----------
    text : str
        A number with a unit, as for `parse_quantity`.
    kind : str
        A key of ``KINDS``.

    Returns
    -------
    float, SI

    Raises
    ------
    UnitError
        As `parse_quantity`, except that the plausible range is that of differences.

    >>> parse_difference("5 degC", "temperature")
    5.0
    """
    wanted = KINDS[kind]
    if isinstance(text, str):
        _refuse_long(text, wanted)
    match = _QUANTITY.fullmatch(text) if isinstance(text, str) else None
    if match is None or not _UNIT.fullmatch(match["unit"]):
        unit = "K" if kind == "temperature" else wanted.si_unit
        raise UnitError(f"{text!r} is not one number with one unit; write text with a unit, such as '0.1 {unit}'")
    value = float(match["number"]) * conversion(match["unit"], kind)[0]
    if not abs(value) <= wanted.highest - wanted.lowest:
        raise UnitError(f"{text!r} is {value:.6g} {wanted.si_unit}, more than any two values of this {kind} can differ")
    return value


@overload
def in_print(value: float, kind: str) -> float: ...
@overload
def in_print(value: Floats, kind: str) -> Floats: ...
def in_print(value: Numbers, kind: str) -> Numbers:
    """A value in its unit of print, for tables and figures that name the unit in their heads.

    Parameters
    ----------
    value : float or array, SI
    kind : str
        A key of ``PRINT``.

    Returns
    -------
    float or array, unit of print

    >>> in_print(0.0123, "length")
    12.3
    """
    return PRINT[kind].of(value)


@overload
def in_rpm(speed: float) -> float: ...
@overload
def in_rpm(speed: Floats) -> Floats: ...
def in_rpm(speed: Numbers) -> Numbers:
    """`in_print` of a speed.

    Parameters
    ----------
    speed : float or array, rad/s

    Returns
    -------
    float or array, rpm
    """
    return in_print(speed, "speed")


@overload
def in_mm(length: float) -> float: ...
@overload
def in_mm(length: Floats) -> Floats: ...
def in_mm(length: Numbers) -> Numbers:
    """`in_print` of a length.

    Parameters
    ----------
    length : float or array, m

    Returns
    -------
    float or array, mm
    """
    return in_print(length, "length")


def number(value: Numbers | None, kind: str | None = None) -> float | None:
    """A float for JSON: None for what is not a finite number.

    Parameters
    ----------
    value : float or array or None, SI
        An array of one element.
    kind : str or None
        A key of ``PRINT``, to have it in the unit of print.

    Returns
    -------
    float or None, unit of print

    >>> number(0.0123, "length"), number(math.inf)
    (12.3, None)
    """
    if value is None or not math.isfinite(value):
        return None
    return float(value if kind is None else in_print(value, kind))


def with_unit(value: Numbers, kind: str, form: str | None = None) -> str:
    """A number in words, with its unit of print.

    Parameters
    ----------
    value : float or array, SI
        An array of one element.
    kind : str
        A key of ``PRINT``.
    form : str or None
        Format of the number; that of ``PRINT`` when None.

    >>> with_unit(206e9, "elastic modulus"), with_unit(0.0123, "length", ".1f")
    ('206 GPa', '12.3 mm')
    """
    return PRINT[kind].text(value, form)


def rpm(speed: Numbers, form: str | None = None) -> str:
    """`with_unit` of a speed.

    Parameters
    ----------
    speed : float or array, rad/s
    """
    return with_unit(speed, "speed", form)


def mm(length: Numbers, form: str | None = None) -> str:
    """`with_unit` of a length.

    Parameters
    ----------
    length : float or array, m
    """
    return with_unit(length, "length", form)


def mpa(stress: Numbers, form: str | None = None) -> str:
    """`with_unit` of a stress.

    Parameters
    ----------
    stress : float or array, Pa
    """
    return with_unit(stress, "stress", form)


def celsius(temperature: Numbers, form: str | None = None) -> str:
    """`with_unit` of a temperature.

    Parameters
    ----------
    temperature : float or array, K
    """
    return with_unit(temperature, "temperature", form)


@cache
def conversion(unit: str, kind: str) -> tuple[float, float]:
    """Scale and offset that turn numbers in `unit` into SI: ``value * scale + offset``.

    Parameters
    ----------
    unit : str
        Of ``units.txt``.
    kind : str
        A key of ``KINDS``.

    Returns
    -------
    scale, offset : float, SI

    Raises
    ------
    UnitError
        A unit that is not in ``units.txt``, is an expression to be worked out, or has another dimension than the kind.

    >>> conversion("mm", "length")
    (0.001, 0.0)
    """
    wanted = KINDS[kind]
    if unit in ("Hz", "1/s") and kind == "speed":
        raise UnitError(
            f"unit {unit!r} can be read as turns or as radians per second, or as the frequency of the grid; "
            "write 'rpm' or 'rad/s', or 'rps' for turns per second"
        )
    if unit in _PER_MINUTE and kind == "speed":
        unit = "rpm"
    if len(unit) > _LONGEST_UNIT or not _UNIT.fullmatch(unit):
        shown = unit if len(unit) <= _LONGEST_UNIT else unit[:_LONGEST_UNIT] + "..."
        raise UnitError(
            f"unit {shown!r} is not written as a unit; {wanted.one} has a unit as in {wanted.example!r}, "
            "at most six names joined by * or /, each with a power such as ^2"
        )
    registry = _registry()
    try:
        parsed = registry.Unit(re.sub(r"(?<=[A-Za-z])(?=[2-4])", "**", unit.replace("^", "**")))
    except Exception as error:
        near = _same_letters(unit) or difflib.get_close_matches(unit, _unit_names(), n=1, cutoff=0.6)
        hint = f"; did you mean {near[0]!r}?" if near else ""
        raise UnitError(f"unit {unit!r} is unknown{hint} ({wanted.one} is written like {wanted.example!r})") from error
    si = registry.Unit(wanted.si_unit.replace("^", "**"))
    if parsed.dimensionality != si.dimensionality:
        raise UnitError(
            f"unit {unit!r} does not measure {wanted.one}; write it in {wanted.si_unit} "
            f"or a multiple, such as {wanted.example!r}"
        )
    zero = float(registry.Quantity(0.0, parsed).to(si).magnitude)
    one = float(registry.Quantity(1.0, parsed).to(si).magnitude)
    return (one - zero if zero else one), zero


def probably_meant(value: float, kind: str, fits: Callable[[float], bool]) -> str:
    """Words for the unit in which a bare number was probably meant, empty where none makes it fit.

    Parameters
    ----------
    value : float, SI
        What stands where an SI value should.
    kind : str
        A key of ``KINDS``.
    fits : callable
        Whether an SI value is plausible.

    >>> probably_meant(58.0, "temperature", lambda kelvin: 250.0 < kelvin < 400.0)
    '; numbers are SI: if 58 degC is meant, it is 331.15 K'
    """
    unit = PRINT.get(kind)
    if unit and fits(value * unit.size + unit.zero):
        meant = f"{value * unit.size + unit.zero:.6g} {KINDS[kind].si_unit}"
        return f"; numbers are SI: if {value:g} {unit.name} is meant, it is {meant}"
    return ""


def _refuse_long(text: str, wanted: Kind) -> None:
    if len(text) > _LONGEST_TEXT:
        raise UnitError(
            f"{text[:40]!r}... has {len(text):,} characters, too long for one number with one unit; "
            f"for example {wanted.example!r}"
        )


def _hint(unit: str) -> str:
    """Say what is probably wrong with the part of a text that follows its first number."""
    if re.match(r",\d", unit):
        return " (write the decimal point as '.')"
    if re.match(r"\d", unit):
        return " (write the number without blanks inside)"
    if re.search(r"[+\-]|\*\*\d", unit):
        return " (sums and powers are not evaluated here)"
    return ""


def _other_case(number: str, unit: str, kind: str) -> str:
    """Suggest the unit that differs only by capital letters and fits, the usual slip between mPa and MPa."""
    for name in _same_letters(unit):
        with suppress(UnitError):
            scale, offset = conversion(name, kind)
            if KINDS[kind].lowest <= float(number) * scale + offset <= KINDS[kind].highest:
                return f"; did you mean {name!r}?"
    return f"; check the unit, {KINDS[kind].one} is written like {KINDS[kind].example!r}"


def _same_letters(unit: str) -> list[str]:
    return [name for name in _unit_names() if name != unit and name.lower() == unit.lower()]


@cache
def _unit_names() -> tuple[str, ...]:
    lines = (Path(__file__).parent / "units.txt").read_text(encoding="utf-8").splitlines()
    rows = [line.split(";")[0] + " = " + line.split("=", 2)[-1] for line in lines if "=" in line and line[0] != "#"]
    words = {word.strip() for row in rows for word in row.split("=")}
    return tuple(sorted(word for word in words if re.fullmatch(_NAME, word)))


@cache
def _registry() -> pint.UnitRegistry[float]:
    # pint takes about 0.2 s to load, so it is imported with the first text quantity, not before
    import pint

    return pint.UnitRegistry(Path(__file__).parent / "units.txt", autoconvert_offset_to_baseunit=True)
