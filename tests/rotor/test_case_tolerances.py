"""Tolerances in the case file: what they mean in SI, and every fault in words."""

import math
import tomllib

import jsonschema
import pytest

from rimmodel.rotor.case.case import EXAMPLES, CaseError, parse_case
from rimmodel.rotor.case.format import case_schema
from rimmodel.units import UnitError, parse_difference

BASE = (EXAMPLES / "quillmere.toml").read_text(encoding="utf-8").partition("[tolerances]")[0]


def with_tolerances(text, base=BASE):
    return parse_case(f"{base}\n{text}".encode(), "unit.toml")


def faults_of(text, base=BASE):
    with pytest.raises(CaseError) as caught:
        with_tolerances(text, base)
    return "\n".join(caught.value.faults)


@pytest.mark.parametrize(
    ("line", "centre", "standard", "half_width"),
    [
        ('"rim.hoop_stiffness_factor" = {standard = 0.04}', 0.85, 0.04, math.inf),
        ('"rim.hoop_stiffness_factor" = {half_width = 0.08}', 0.85, 0.04, math.inf),
        ('"poles.mass" = {distribution = "uniform", half_width = "1.5 %"}', 3700.0, 55.5 / math.sqrt(3), 55.5),
        ('"air_gap.cold" = {distribution = "triangular", half_width = "0.6 mm"}', 0.016, 6e-4 / math.sqrt(6), 6e-4),
        ('"conditions.hot.rim_temperature" = {standard = "2 degC"}', 331.15, 2.0, math.inf),
        ('"materials.rim_steel.young_modulus" = {distribution = "truncated normal", standard = "2 GPa", '
         'half_width = "6 GPa"}', 206e9, 2e9, 6e9),
        ('"speeds.rated" = {standard = "0.5 rpm"}', 125 * math.pi / 30, 0.5 * math.pi / 30, math.inf),
    ],
)  # fmt: skip
def test_a_tolerance_is_read_in_si(line, centre, standard, half_width):
    text = f"[tolerances]\n{line}"
    *_, found = with_tolerances(text).tolerances
    assert (found.centre, found.standard) == pytest.approx((centre, standard), rel=1e-12)
    assert found.half_width == pytest.approx(half_width)
    jsonschema.validate(tomllib.loads(f"{BASE}\n{text}"), case_schema())


def test_the_tolerance_of_the_fit_counts_without_being_named_again():
    (found,) = with_tolerances("").tolerances
    assert (found.name, found.distribution) == ("fit.interference", "normal")
    assert found.standard == pytest.approx(0.05e-3)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('"rim.lenth" = {standard = "1 mm"}', ["tolerances.rim.lenth", "did you mean 'rim.length'"]),
        ('"poles.count" = {standard = 1.0}', ["tolerances.poles.count", "a count has no tolerance"]),
        ('"poles.radial_stiffness" = {standard = "5 %"}', ["the case gives no poles.radial_stiffness"]),
        ('"rim.length" = {standard = 0.01}', ["tolerances.rim.length", "text with a unit"]),
        ('"rim.length" = {standard = "1 MPa"}', ["tolerances.rim.length", "does not measure a length"]),
        ('"rim.length" = {standard = "-1 mm"}', ["tolerances.rim.length", "above zero"]),
        ('"rim.length" = {standard = "x %"}', ["'x %' is not a share"]),
        ('"rim.length" = {}', ["one of standard and half_width"]),
        ('"rim.length" = {standard = "1 mm", half_width = "2 mm"}', ["not both"]),
        ('"rim.length" = {distribution = "truncated normal", standard = "1 mm"}', ["needs both"]),
        ('"rim.length" = {distribution = "gauss", standard = "1 mm"}', ["tolerances.rim.length.distribution", "gauss"]),
        ('"rim.length" = {width = "1 mm"}', ["tolerances.rim.length.width: unknown key"]),
        ('"rim.stacking_factor" = {standard = 0.02}', ["reaches 1.09", "above 0 and at most 1", "truncated normal"]),
        ('"fit.interference" = {standard = "0.05 mm"}', ["fit.interference_tolerance states it too"]),
        ('rim.length = {standard = "1 mm"}', ["tolerances.rim"]),
    ],
)
def test_a_faulty_tolerance_names_key_value_and_rule(text, words):
    said = faults_of(f"[tolerances]\n{text}")
    assert all(word in said for word in words), said


PAIR = '[tolerances]\n"rim.length" = {standard = "1 mm"}\n"poles.mass" = {standard = "1 %"}\n'


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([(["rim.length", "poles.mas"], 0.5)], ["correlations[1].between", "did you mean 'poles.mass'"]),
        ([(["rim.length", "rim.length"], 0.5)], ["two different numbers"]),
        ([(["rim.length", "poles.mass"], 1.0)], ["correlations[1].coefficient"]),
        ([(["rim.length"], 0.5)], ["correlations[1].between"]),
        ([(["rim.length", "poles.mass"], 0.5), (["poles.mass", "rim.length"], 0.1)], ["each pair once"]),
        ([(["rim.length", "poles.mass"], 0.9), (["poles.mass", "fit.interference"], 0.9),
          (["rim.length", "fit.interference"], -0.9)], ["not positive definite"]),
    ],
)  # fmt: skip
def test_a_faulty_correlation_is_said(rows, words):
    text = PAIR + "".join(f"[[correlations]]\nbetween = {pair}\ncoefficient = {value}\n" for pair, value in rows)
    said = faults_of(text)
    assert all(word in said for word in words), said


def test_each_key_needs_their_number():
    given = BASE[: BASE.index("[spider]")] + (
        '[spider]\nkind = "given"\nradial_stiffness = "4e10 N/m"\ngrowth = "0.1 mm"\ngrowth_speed = "150 rpm"\n\n'
    ) + BASE[BASE.index("[fit]") :].replace("key_count = 14\n", "")  # fmt: skip
    text = '[tolerances]\n"fit.key_interference" = {standard = "0.05 mm"}'
    assert "give fit.key_count" in faults_of(text, given)
    assert with_tolerances(text).tolerances[-1].name == "fit.key_interference"


def test_a_profile_is_solved_for_one_material():
    spider = (
        '[spider]\nkind = "disc"\nmaterial = "spider_steel"\nprofile = [["0.6 m", "0.4 m"], ["3.62 m", "0.2 m"]]\n\n'
    )
    base = BASE[: BASE.index("[spider]")] + spider + BASE[BASE.index("[fit]") :]
    said = faults_of('[tolerances]\n"materials.spider_steel.density" = {standard = "1 %"}', base)
    assert "solved for one material" in said


def test_a_difference_of_temperatures_has_no_zero_point():
    assert parse_difference("5 degC", "temperature") == parse_difference("5 K", "temperature") == 5.0
    for text in ("5", "1,5 mm", 3.0, "1e9 K"):
        with pytest.raises(UnitError):
            parse_difference(text, "temperature")
