"""The table [axial] of a case: what is read, what is refused, what varies with a tolerance."""

import re
import tomllib
from dataclasses import replace

import pytest

from rimmodel.behaviour.study.rotor_model import Asked, case_inputs, rotor_model
from rimmodel.rotor import Axial
from rimmodel.rotor.case.case import EXAMPLES, CaseError, parse_case

TEXT = (EXAMPLES / "quillmere.toml").read_text(encoding="utf-8")
TABLE = """[axial]
interference_taper = "0.2 mm"
pole_length = "1.7 m"
pole_rise = "-50 mm"
shear_modulus = ["0.5 GPa", "8 GPa"]
spider_yields = "local"
slices = 24
"""
STATED = f"{TEXT}\n{TABLE}"


def test_what_is_stated_is_read():
    axial = parse_case(STATED.encode(), "unit.toml").rotor.axial
    assert (axial.interference_taper, axial.pole_length, axial.pole_rise) == pytest.approx((0.2e-3, 1.7, -0.05))
    assert (axial.shear_modulus, axial.axial_modulus) == ((0.5e9, 8e9), None)
    assert (axial.spider_yields, axial.slices) == ("local", 24)
    assert parse_case(TEXT.encode(), "unit.toml").rotor.axial == Axial()


def test_the_lines_of_a_new_case_are_a_table_that_is_read():
    new = (EXAMPLES / "new_case.toml").read_text(encoding="utf-8")
    block = re.search(r"# \[axial\].*?\n\n", new, re.DOTALL)[0]
    table = re.sub(r"(?m)^# ", "", block)
    assert set(tomllib.loads(table)["axial"]) == set(Axial.__dataclass_fields__)
    read = parse_case(f"{new}\n{table}".encode(), "unit.toml").rotor.axial
    assert (read.pole_length, read.axial_modulus) == (1.4, (5e9, 60e9))
    warmer = new.replace("# rim_temperature_taper", "rim_temperature_taper")
    assert parse_case(warmer.encode(), "unit.toml").conditions["hot"].rim_temperature_taper == pytest.approx(4.0)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"0.2 mm"', '"2 cm"', "axial.interference_taper is '2 cm'"),
        ('"0.2 mm"', '"0.2"', "has no unit"),
        ('"1.7 m"', '"2.5 m"', "axial.pole_length is 2500 mm; it must be at most 1.2 times rim.length, 1850 mm"),
        ('"-50 mm"', '"-0.5 m"', "axial.pole_rise is -500 mm; it must be at most a quarter of rim.length"),
        ('"0.5 GPa", "8 GPa"', '"8 GPa", "0.5 GPa"', "axial.shear_modulus is 8 GPa, 0.5 GPa; it must be a pair"),
        ('["0.5 GPa", "8 GPa"]', '["8 GPa"]', "it must be a pair"),
        ('"8 GPa"]', '"110 GPa"]', "axial.shear_modulus reaches 110 GPa; it must be at most that of the solid steel"),
        ('"0.5 GPa", "8 GPa"', '"0.5 mm", "8 GPa"', "axial.shear_modulus[1]"),
        ('"local"', '"locally"', "did you mean 'local'"),
        ("slices = 24", "slices = 1", "it must be a whole number of 2 or more"),
        ("slices = 24", "slices = 500", "axial.slices is 500"),
        ("pole_rise", "pole_raise", "axial.pole_raise: unknown key; did you mean 'pole_rise'?"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(old, new, words):
    assert old in TABLE
    with pytest.raises(CaseError) as refused:
        parse_case(f"{TEXT}\n{TABLE.replace(old, new)}".encode(), "unit.toml")
    assert len(refused.value.faults) == 1
    assert words in refused.value.faults[0]


@pytest.mark.parametrize("written", ['"50 K"', '"-41 K"', '"3 mm"'])
def test_a_taper_of_temperature_that_cannot_be_is_refused(written):
    hot = TEXT.replace("[conditions.hot]", f"[conditions.hot]\nrim_temperature_taper = {written}")
    with pytest.raises(CaseError, match="rim_temperature_taper"):
        parse_case(hot.encode(), "unit.toml")


def test_first_lift_off_is_asked_of_a_case_that_states_its_shims():
    asked = '\n[requirements.seated]\nquantity = "first_lift_off"\nat_least = "150 rpm"\ncondition = "hot"\n'
    with pytest.raises(CaseError, match=r"axial\.interference_taper"):
        parse_case((TEXT + asked).encode(), "unit.toml")
    case = parse_case((STATED + asked).encode(), "unit.toml")
    assert case.requirements[-1].quantity == "first_lift_off"


def test_the_taper_has_a_tolerance_that_a_study_draws_from():
    more = re.sub(r"(?m)^(\[tolerances\].*)$", r'\1\n"axial.interference_taper" = { standard = "0.05 mm" }', TEXT)
    case = parse_case(f"{more}\n{TABLE}".encode(), "unit.toml")
    assert "axial.interference_taper" in case_inputs(case).names
    model = rotor_model(case, (Asked("first_lift_off", "cold"),))
    rotor, _ = model.machine({"axial.interference_taper": 0.4e-3})
    assert rotor.axial == replace(case.rotor.axial, interference_taper=0.4e-3)
