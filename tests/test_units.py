"""The door between text and SI: what it lets in, with values a hand can check, and what it refuses, in words."""

import ast
import math
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import rimmodel
from rimmodel.units import (
    KINDS,
    PRINT,
    RPM,
    UnitError,
    conversion,
    in_mm,
    in_print,
    in_rpm,
    mm,
    mpa,
    number,
    parse_difference,
    parse_quantity,
    rpm,
    with_unit,
)

# by definition: 1 in = 25.4 mm, 1 lb = 0.45359237 kg, 1 lbf = 1 lb x 9.80665 m/s2 (international yard and pound, 1959)
PSI = 0.45359237 * 9.80665 / 0.0254**2


@pytest.mark.derived
@pytest.mark.parametrize(
    ("text", "kind", "expected"),
    [
        ("1.5 mm", "small length", 0.0015),
        ("1.5mm", "small length", 0.0015),
        ("  -2e-1  mm ", "small length", -0.0002),
        (".5 m", "length", 0.5),
        ("40 mil", "small length", 40 * 25.4e-6),
        ("40 thou", "small length", 40 * 25.4e-6),
        ("13 ft", "length", 13 * 0.3048),
        ("5 µm", "small length", 5e-6),  # micro sign
        ("5 μm", "small length", 5e-6),  # Greek mu
        ("0.055 m^2", "area", 0.055),
        ("55 cm2", "area", 0.0055),
        ("2e5 N/mm^2", "elastic modulus", 2e11),
        ("29.9e6 psi", "elastic modulus", 29.9e6 * PSI),
        ("206 GPa", "elastic modulus", 206e9),
        ("3.4 t", "mass", 3400.0),
        ("7.85 g/cm^3", "density", 7850.0),
        ("12e-6 1/K", "thermal expansion", 12e-6),
        ("12 um/m/K", "thermal expansion", 12e-6),
        ("60 degC", "temperature", 333.15),
        ("60 °C", "temperature", 333.15),
        ("140 degF", "temperature", 333.15),
        ("140 °F", "temperature", 333.15),
        ("333.15 K", "temperature", 333.15),
        ("60 rpm", "speed", 2 * math.pi),
        ("60 1/min", "speed", 2 * math.pi),
        ("60 rev/min", "speed", 2 * math.pi),
        ("1 rps", "speed", 2 * math.pi),
        ("1 rev/s", "speed", 2 * math.pi),
        ("6.5 rad/s", "speed", 6.5),
        ("180 deg", "angle", math.pi),
        ("0 MPa", "stress", 0.0),
    ],
)
def test_reads_one_number_with_one_unit(text, kind, expected):
    assert parse_quantity(text, kind) == pytest.approx(expected, rel=1e-13, abs=0.0)


@pytest.mark.parametrize(
    ("text", "kind", "words"),
    [
        ("1,5 mm", "small length", "decimal point as '.'"),
        ("1 500 mm", "length", "without blanks"),
        ("1'500 mm", "length", "not one number with one unit"),
        ("13 ft + 2 in", "length", "sums and powers are not evaluated"),
        ("9**9**7 mm", "length", "sums and powers are not evaluated"),
        ("2*3 mm", "length", "not one number with one unit"),
        ("__import__('os') mm", "length", "not a number with a unit"),
        ("nan mm", "length", "not a number with a unit"),
        ("inf mm", "length", "not a number with a unit"),
        ("1e999 mm", "length", "not a finite number"),
        ("", "length", "not a number with a unit"),
        ("mm", "length", "not a number with a unit"),
        ("1.5", "length", "has no unit"),
        (1.5, "length", "has no unit"),
        (True, "length", "has no unit"),
        (None, "length", "has no unit"),
        ("1.5 kg", "length", "does not measure a length"),
        ("5 degC", "length", "does not measure a length"),
        ("1.5 mtr", "length", "did you mean 'metre'"),
        ("1.5 Mm", "length", "did you mean 'mm'"),
        ("1.5 km", "length", "unknown"),
        ("3 KN", "force", "did you mean 'kN'"),
        ("40 mil", "angle", "does not measure an angle"),  # a mil is a length here, and no angle
        ("2.5 Hz", "speed", "write 'rpm' or 'rad/s'"),
        ("2.5 1/s", "speed", "write 'rpm' or 'rad/s'"),
        ("3 m m", "length", "not one number with one unit"),
        ("1.5 mm # bore", "length", "not one number with one unit"),
    ],
)
def test_refuses_what_is_not_one_number_with_one_unit(text, kind, words):
    with pytest.raises(UnitError, match=re.escape(words)) as caught:
        parse_quantity(text, kind)
    assert all(word in str(caught.value) for word in str(text).split()[-1:])  # what is wrong is repeated


@pytest.mark.parametrize(
    ("text", "kind", "words"),
    [
        ("450 mPa", "strength", "did you mean 'MPa'"),
        ("5 mPa", "stress", "did you mean 'MPa'"),
        ("-180 mPa", "stress", "did you mean 'MPa'"),
        ("206000 mPa", "elastic modulus", "did you mean 'MPa'"),
        ("206 mPa", "elastic modulus", "check the unit"),  # 206 MPa would be no modulus either
    ],
)
def test_small_letter_of_a_pressure_is_found_out(text, kind, words):
    with pytest.raises(UnitError, match=words):
        parse_quantity(text, kind)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("206 MPa", "elastic modulus"),
        ("55 K", "temperature"),
        ("600 degC", "temperature"),
        ("2 m", "small length"),
        ("9 T", "flux density"),
        ("12 1/K", "thermal expansion"),
        ("1e6 rpm", "speed"),
    ],
)
def test_refuses_an_implausible_size_with_its_range(text, kind):
    with pytest.raises(UnitError, match="plausible range") as caught:
        parse_quantity(text, kind)
    assert text in str(caught.value)
    assert KINDS[kind].si_unit in str(caught.value)


@pytest.mark.parametrize("kind", KINDS)
def test_the_example_of_every_kind_is_read(kind):
    assert math.isfinite(parse_quantity(KINDS[kind].example, kind))


@pytest.mark.parametrize("kind", KINDS)
def test_the_si_unit_of_every_kind_is_a_scale_of_one(kind):
    assert conversion(KINDS[kind].si_unit, kind) == (1.0, 0.0)


@given(number=st.floats(-99.0, 99.0), unit=st.sampled_from([("m", 1.0), ("mm", 1e-3), ("in", 0.0254), ("ft", 0.3048)]))
def test_a_length_is_its_number_times_its_unit(number, unit):
    name, size = unit
    assert parse_quantity(f"{number!r} {name}", "length") == pytest.approx(number * size, rel=1e-14, abs=1e-300)


@given(celsius=st.floats(-90.0, 400.0))
def test_celsius_and_fahrenheit_agree(celsius):
    fahrenheit = celsius * 9 / 5 + 32
    of_celsius = parse_quantity(f"{celsius!r} degC", "temperature")
    assert parse_quantity(f"{fahrenheit!r} degF", "temperature") == pytest.approx(of_celsius, rel=1e-12)


@given(text=st.text(max_size=12))
def test_any_text_gives_a_number_or_a_unit_error(text):
    try:
        value = parse_quantity(text, "length")
    except UnitError:
        return
    assert math.isfinite(value)


@pytest.mark.parametrize(
    "unit",
    [
        "9**9**9*mm",
        "mm^99999999",
        "mm^9^9^9",
        "1e9999999*mm",
        "((((mm))))",
        "*".join(["mm"] * 3000),
        "mm*m/m*m/m*m/m",
        "2*mm",
        "mm + mm",
        "m" * 100_000,
        "",
    ],
)
def test_a_unit_that_would_have_to_be_worked_out_is_refused_at_once(unit):
    with pytest.raises(UnitError, match="is not written as a unit") as caught:
        conversion(unit, "small length")
    assert len(str(caught.value)) < 300


@pytest.mark.parametrize("text", ["9" * 400 + " mm", "1" + " " * 200_000 + "mm", "1 " + "m" * 200_000])
def test_a_text_too_long_for_a_quantity_is_refused_at_once(text):
    for parse in (parse_quantity, parse_difference):
        with pytest.raises(UnitError, match="too long for one number") as caught:
            parse(text, "length")
        assert len(str(caught.value)) < 300


@pytest.mark.derived
@pytest.mark.parametrize("unit", ["rpm", "1/min", "r/min", "rev/min", "min^-1", "min-1", "/min"])
def test_turns_in_a_minute_have_many_names_in_headers(unit):
    assert conversion(unit, "speed") == (pytest.approx(2 * math.pi / 60, rel=1e-15), 0.0)


def test_rpm_is_a_turn_in_a_minute():
    assert parse_quantity("1 rpm", "speed") == pytest.approx(RPM, rel=1e-15)


@pytest.mark.derived
@pytest.mark.parametrize("kind", PRINT)
def test_the_unit_of_print_is_the_unit_of_that_name(kind):
    """Size and zero of a unit of print against the list of units that is read with pint."""
    unit = PRINT[kind]
    scale, zero = conversion(unit.name.replace("kN m", "kN*m").replace("t m2", "t*m^2"), kind)
    assert (scale, zero) == (pytest.approx(unit.size, rel=1e-13), pytest.approx(unit.zero, abs=1e-9))


@pytest.mark.derived
def test_numbers_go_out_in_units_of_print():
    assert in_rpm(2 * math.pi) == pytest.approx(60.0, rel=1e-15)
    assert in_mm(np.array([1.0, 0.0254])) == pytest.approx([1000.0, 25.4])
    assert in_print(333.15, "temperature") == pytest.approx(60.0)
    assert number(np.asarray(math.pi), "angle") == pytest.approx(180.0)
    assert [number(value, "length") for value in (None, math.nan, math.inf, -math.inf)] == [None] * 4


@pytest.mark.derived
def test_words_carry_their_unit():
    assert (rpm(2 * math.pi), mm(np.asarray(0.01234)), mpa(180e6, ".0f")) == ("60.0 rpm", "12.34 mm", "180 MPa")
    assert with_unit(3400.0, "mass", ".2f") == "3.40 t"


SIZES = {"RPM", "MILLIMETRE", "MEGAPASCAL", "GIGAPASCAL", "KILONEWTON", "TONNE", "DEGREE"}
THOUSANDS = {"1e-09", "1e-06", "0.001", "1000.0", "1000000.0", "1000000000.0", "1000", "1000000"}
PACKAGE = Path(rimmodel.__file__).parent
MODULES = [path.relative_to(PACKAGE).as_posix() for path in sorted(PACKAGE.rglob("*.py")) if path.name != "units.py"]


def conversions_to_print(text: str) -> list[str]:
    """Divisions by the size of a unit, and numbers in words that are scaled by thousands, in the text of a module."""
    nodes = list(ast.walk(ast.parse(text)))
    in_words = {id(node.value) for node in nodes if isinstance(node, ast.FormattedValue)}
    found = []
    for node in (node for node in nodes if isinstance(node, ast.BinOp)):
        right, sign = ast.unparse(node.right), type(node.op)
        scaled = id(node) in in_words and sign in (ast.Div, ast.Mult) and right in THOUSANDS
        if scaled or (sign is ast.Div and right in SIZES) or (sign is ast.Sub and right == "ZERO_CELSIUS"):
            found.append(ast.unparse(node))
    return found


@pytest.mark.parametrize(
    "text", ["x / MILLIMETRE", "f'{x / RPM:.1f} rpm'", "x - ZERO_CELSIUS", "f'{x * 1e3:g} mm'", "f'{x / 1e6} MPa'"]
)
def test_a_conversion_to_print_is_found(text):
    assert conversions_to_print(text)


@pytest.mark.parametrize("layer", sorted({module.partition("/")[0] for module in MODULES}))
def test_units_of_print_are_made_by_units_alone(layer):
    modules = [module for module in MODULES if module.partition("/")[0] == layer]
    found = {module: conversions_to_print((PACKAGE / module).read_text(encoding="utf-8")) for module in modules}
    assert found
    assert {module: conversions for module, conversions in found.items() if conversions} == {}
