"""Case files: what is accepted, every fault with key, value and rule, the JSON Schema, and units that do not matter."""

import json
import re
import tomllib

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rimmodel.behaviour import float_speed
from rimmodel.rotor.case.case import EXAMPLES, UNNAMED_CONDITION, CaseError, example_case, parse_case, read_case
from rimmodel.rotor.case.format import case_schema
from rimmodel.units import RPM

NEW = (EXAMPLES / "new_case.toml").read_text(encoding="utf-8")

# every key that a case file may hold from the start, spider apart, in the simplest values that agree
EVERY_KEY = """
title = "Every key"
[materials.steel]
young_modulus = "206 GPa"
poisson_ratio = 0.3
density = "7850 kg/m^3"
thermal_expansion = "12e-6 1/K"
yield_strength = "500 MPa"
ultimate_strength = "650 MPa"
[rim]
material = "steel"
inner_radius = "3 m"
outer_radius = "3.4 m"
length = "1.5 m"
stacking_factor = 1.0
hoop_stiffness_factor = 1.0
net_section_factor = 1.0
[poles]
count = 40
mass = "3 t"
mass_radius = "3.62 m"
face_radius = "3.85 m"
face_length = "1.45 m"
radial_stiffness = "4e9 N/m"
[fit]
interference = "1.8 mm"
interference_tolerance = "0.1 mm"
friction_interference = "0.02 mm"
settlement = "0.3 mm"
key_stiffness = "2e10 N/m"
key_count = 12
[air_gap]
cold = "15 mm"
stator_bore_radius = "3.865 m"
minimum_allowed = "8 mm"
stator_thermal_expansion = "12e-6 1/K"
[speeds]
rated = "150 rpm"
overspeed = "1.4 x rated"
runaway = "300 rpm"
[conditions.cold]
[conditions.hot]
rim_temperature = "55 degC"
spider_temperature = "48 degC"
pole_temperature = "80 degC"
stator_temperature = "65 degC"
flux_density = "0.9 T"
excitation = "constant voltage"
[claims.float_speed]
value = "1.3 x rated"
condition = "cold"
[claims.gap_at_overspeed]
value = "12 mm"
condition = "cold"
[claims.rim_stress_at_runaway]
value = "360 MPa"
[requirements.floats_late]
quantity = "float_speed"
condition = "hot"
at_least = "1.15 x rated"
confidence = 0.9
[requirements.stays_whole]
quantity = "rim_stress_at_runaway"
at_most = "370 MPa"
[[records]]
file = "one.csv"
condition = "cold"
label = "before correction"
direction = "up"
"""
SPIDERS = {
    "disc": 'kind = "disc"\nmaterial = "steel"\nbore_radius = "0.6 m"\nthickness = "0.25 m"',
    "arms": 'kind = "arms"\nmaterial = "steel"\ncount = 12\narm_area = "0.05 m^2"\nhub_radius = "1.1 m"\n'
    'tip_mass = "150 kg"\nhub_bore_radius = "0.5 m"\nhub_length = "1.2 m"',
    "given": 'kind = "given"\nmaterial = "steel"\nradial_stiffness = "4e10 N/m"\ngrowth = "0.1 mm"\n'
    'growth_speed = "150 rpm"',
}


def parse(text):
    return parse_case(text.encode(), "unit.toml")


def changed(old, new, text=NEW):
    """The text with one line changed; fails when the line is not there, so that no test passes by mistake."""
    assert text.count(old) == 1, old
    return text.replace(old, new)


def faults_of(text):
    with pytest.raises(CaseError) as caught:
        parse(text)
    return caught.value.faults


@pytest.mark.parametrize("kind", SPIDERS)
def test_every_key_is_accepted_and_stored(kind):
    case = parse(EVERY_KEY + f"[spider]\n{SPIDERS[kind]}\n")
    rotor = case.rotor
    assert rotor.rim.inner_radius == 3.0
    assert rotor.poles.mass == 3000.0
    assert rotor.fit.settlement == pytest.approx(0.3e-3)
    assert rotor.speeds.overspeed == pytest.approx(1.4 * 150 * RPM)
    assert rotor.speeds.runaway == pytest.approx(300 * RPM)
    assert case.conditions["hot"].pole_temperature == pytest.approx(353.15)
    assert case.conditions["hot"].excitation == "constant voltage"
    assert case.conditions["cold"].flux_density == 0.0
    assert [claim.value for claim in case.claims] == pytest.approx([1.3 * 150 * RPM, 12e-3, 360e6])
    assert case.requirements[0].confidence == 0.9
    assert case.requirements[1].at_most == pytest.approx(370e6)
    assert case.records[0].label == "before correction"


def test_the_spider_material_may_be_left_out_only_where_the_spider_is_given():
    given_spider = SPIDERS["given"].replace('material = "steel"\n', "")
    assert parse(EVERY_KEY + f"[spider]\n{given_spider}\n").rotor.spider.material is None
    for kind in ("disc", "arms"):
        text = EVERY_KEY + "[spider]\n" + SPIDERS[kind].replace('material = "steel"\n', "")
        assert faults_of(text) == ("spider.material: missing (name of a table under [materials])",)


def test_without_conditions_there_is_one_at_20_degrees_without_field():
    text = re.sub(r"(?ms)^\[conditions\.cold\].*?(?=^\[claims)", "", NEW)
    text = re.sub(r'(?m)^condition = "\w+"', "", text)
    case = parse(text)
    name, condition = case.condition()
    assert name == UNNAMED_CONDITION
    assert (condition.rim_temperature, condition.flux_density) == (pytest.approx(293.15), 0.0)


def test_any_two_of_face_gap_and_bore_give_the_third():
    without_cold = changed('cold = "15 mm" ', 'stator_bore_radius = "3.865 m" ')
    assert parse(without_cold).rotor.air_gap.cold == pytest.approx(15e-3, rel=1e-9)
    without_face = changed('face_radius = "3.85 m"', "", changed('cold = "15 mm" ', 'cold = "15 mm"\n' + BORE))
    assert parse(without_face).rotor.poles.face_radius == pytest.approx(3.85, rel=1e-12)
    agreeing = changed('cold = "15 mm" ', 'cold = "15.4 mm"\n' + BORE)
    assert parse(agreeing).rotor.air_gap.cold == pytest.approx(15.4e-3)


BORE = 'stator_bore_radius = "3.865 m" '


@pytest.mark.parametrize("text", [NEW.replace("\n", "\r\n"), "\ufeff" + NEW])
def test_windows_line_ends_and_a_byte_order_mark_are_no_faults(text):
    assert parse(text).title == "My unit"


def test_the_digest_follows_every_byte():
    one, other = parse(NEW), parse(NEW + "\n")
    assert len(one.digest) == 64
    assert one.digest == parse(NEW).digest != other.digest


@pytest.mark.parametrize(
    ("old", "new", "faults"),
    [
        # unknown and misspelt keys and tables
        ("hoop_stiffness_factor", "hoop_stifness_factor",
         ["rim.hoop_stifness_factor: unknown key; did you mean 'hoop_stiffness_factor'?"]),
        ("net_section_factor", "frobnication", ["rim.frobnication: unknown key"]),
        ("[speeds]", "[speed]", ["speed: unknown key; did you mean 'speeds'?", "[speeds]: missing table"]),
        ("[claims.float_speed]", "[claims.flot_speed]",
         ["claims.flot_speed: unknown quantity", "did you mean 'float_speed'?"]),
        ('quantity = "float_speed"', 'quantity = "flotspeed"',
         ["requirements.no_float_in_service.quantity is 'flotspeed'", "did you mean 'float_speed'?"]),
        ('excitation = "constant current" ', 'excitation = "constant curent" ',
         ["conditions.hot.excitation is 'constant curent'", "did you mean 'constant current'?"]),
        ('kind = "arms"\n', 'kind = "arm"\n', ["spider.kind is 'arm'", "did you mean 'arms'?"]),
        ('kind = "arms"\nmaterial = "steel"', 'kind = "arms"\nmaterial = "stel"',
         ["spider.material is 'stel'", "did you mean 'steel'?"]),
        ('condition = "hot"', 'condition = "hott"',
         ["requirements.no_float_in_service.condition is 'hott'", "did you mean 'hot'?"]),
        # geometry
        ('outer_radius = "3.4 m"', 'outer_radius = "2.9 m"',
         ["rim.outer_radius is 2.9 m", "inner_radius 3.0 m", "larger than the bore"]),
        ('inner_radius = "3 m"', 'inner_radius = "-3 m"', ["rim.inner_radius is '-3 m'", "above zero"]),
        ('inner_radius = "3 m"', 'inner_radius = "0 m"', ["rim.inner_radius is '0 m'", "above zero"]),
        ('face_radius = "3.85 m"', 'face_radius = "3.1 m"',
         ["poles.face_radius is 3100 mm", "larger than rim.outer_radius, 3400 mm"]),
        ('mass_radius = "3.62 m"', 'mass_radius = "4 m"', ["poles.mass_radius is 4000 mm", "the pole face, 3850 mm"]),
        ('\nhub_radius = "1.1 m"', '\nhub_radius = "3.2 m"', ["spider.hub_radius is 3200 mm", "rim.inner_radius"]),
        ('cold = "15 mm" ', 'cold = "15 mm"\nstator_bore_radius = "3.8656 m" ',
         ["air_gap.cold is 15 mm", "bore of 3865 mm", "stator_bore_radius is 3865.6 mm", "within 0.5 mm"]),
        ('cold = "15 mm" ', 'stator_bore_radius = "3.8 m" ',
         ["air_gap.stator_bore_radius is 3.8 m", "larger than poles.face_radius, 3.85 m"]),
        ('cold = "15 mm" ', "", ["give two of poles.face_radius, air_gap.cold and air_gap.stator_bore_radius"]),
        ('cold = "15 mm" ', 'cold = "-15 mm" ', ["air_gap.cold is '-15 mm'", "above zero"]),
        ('minimum_allowed = "8 mm"', 'minimum_allowed = "18 mm"', ["air_gap.minimum_allowed is 18 mm", "15 mm"]),
        ("# hub_length", "hub_length", ["spider: give both hub_bore_radius and hub_length"]),
        ("# stator_core_depth", "stator_core_depth", ["air_gap: give both stator_core_depth"]),
        # numbers and units
        ('length = "1.5 m"                     #', "length = 1.5 #", ["rim.length", "1.5 has no unit", "such as"]),
        ('length = "1.5 m"                     #', 'length = "1,5 m" #', ["rim.length", "'1,5 m'", "'.'"]),
        ('length = "1.5 m"                     #', 'length = "nan m" #', ["rim.length", "'nan m' is not a number"]),
        ('length = "1.5 m"                     #', "length = inf #", ["rim.length", "inf has no unit"]),
        ('length = "1.5 m"                     #', 'length = "1.5 kg" #', ["rim.length", "'kg' does not measure"]),
        ("stacking_factor = 0.97", "stacking_factor = nan", ["rim.stacking_factor is nan", "finite"]),
        ("stacking_factor = 0.97", "stacking_factor = inf", ["rim.stacking_factor is inf", "finite"]),
        ("stacking_factor = 0.97", "stacking_factor = 1.2", ["rim.stacking_factor is 1.2", "at most 1"]),
        ("stacking_factor = 0.97", "stacking_factor = 0", ["rim.stacking_factor is 0", "above 0"]),
        ("stacking_factor = 0.97", 'stacking_factor = "97 %"', ["rim.stacking_factor is '97 %'", "without quotes"]),
        ("poisson_ratio = 0.3", "poisson_ratio = 0.5", ["materials.steel.poisson_ratio is 0.5", "below 0.5"]),
        ("count = 40", "count = 1", ["poles.count is 1", "2 or more"]),
        ("count = 40", "count = 40.0", ["poles.count is 40.0", "whole number"]),
        ("count = 40", 'count = "40"', ["poles.count is '40'", "without decimals, quotes"]),
        ('young_modulus = "206 GPa"', 'young_modulus = "206 MPa"', ["materials.steel.young_modulus", "plausible"]),
        ('yield_strength = "500 MPa" ', 'yield_strength = "500 mPa" ', ["yield_strength", "did you mean 'MPa'"]),
        # speeds, claims and requirements
        ('rated = "150 rpm"', 'rated = "-150 rpm"', ["speeds.rated is '-150 rpm'", "above zero"]),
        ('rated = "150 rpm"', 'rated = "2.5 Hz"', ["speeds.rated", "'Hz'", "'rpm' or 'rad/s'"]),
        ('overspeed = "1.4 x rated"', 'overspeed = "0.9 x rated"', ["speeds.overspeed is 135 rpm", "rated, 150 rpm"]),
        ('overspeed = "1.4 x rated"', 'overspeed = "-210 rpm"', ["speeds.overspeed is -210 rpm", "above zero"]),
        ('overspeed = "1.4 x rated"', 'overspeed = "1.4 x runaway"', ["speeds.overspeed", "a multiple of rated"]),
        ('# runaway = "2 x rated"', 'runaway = "200 rpm"', ["speeds.runaway is 200 rpm", "overspeed, 210 rpm"]),
        ('value = "1.3 x rated"', 'value = "-200 rpm"', ["claims.float_speed.value is '-200 rpm'", "above zero"]),
        ('value = "1.3 x rated"', 'value = "0 x rated"', ["claims.float_speed.value is '0 x rated'", "above zero"]),
        ('value = "1.3 x rated"', 'value = "2 x runaway"', ["claims.float_speed.value", "gives no speeds.runaway"]),
        ('value = "1.3 x rated"', 'value = "13 mm"', ["claims.float_speed.value", "'mm' does not measure a speed"]),
        ('value = "1.3 x rated"', "value = 1.3", ["claims.float_speed.value is 1.3", "text in quotes"]),
        ("[claims.float_speed]", '[claims.gap_at_runaway]\nvalue = "9 mm"\n[claims.float_speed]',
         ["claims.gap_at_runaway is asked at runaway", "gives no speeds.runaway"]),
        ('at_least = "1.1 x rated"', 'at_most = "2 x rated"\nat_least = "1.1 x rated"', ["either at_least or at_most"]),
        ('at_least = "1.1 x rated"', "", ["requirements.no_float_in_service", "either at_least or at_most"]),
        ("# confidence = 0.95", "confidence = 95", ["no_float_in_service.confidence is 95", "0.99"]),
        # shapes of tables
        ('title = "My unit"', "", ["title: missing"]),
        ('title = "My unit"', "title = 5", ["title: it is 5", "text"]),
        ('title = "My unit"', 'records = 5\ntitle = "x"', ["records: it must be a list"]),
        ('title = "My unit"', 'records = [5]\ntitle = "x"', ["records[1] is 5", "table"]),
        ("[speeds]", "[[speeds]]", ["speeds is [", "must be a table [speeds]"]),
    ],
)  # fmt: skip
def test_a_fault_names_key_value_and_rule(old, new, faults):
    found = "\n".join(faults_of(changed(old, new)))
    for words in faults:
        assert words in found


def test_first_yield_is_asked_only_of_a_rim_with_a_yield_strength():
    text = re.sub(r"(?m)^yield_strength.*$", "", NEW)
    text = changed("[claims.float_speed]", '[claims.first_yield_speed]\nvalue = "300 rpm"\n[claims.float_speed]', text)
    assert faults_of(text) == (
        "claims.first_yield_speed asks for first yield speed; the material of the rim gives no yield_strength",
    )


def test_all_faults_are_reported_at_once():
    text = changed("count = 40", "count = 0")
    text = changed('outer_radius = "3.4 m"', 'outer_radius = "2.9 m"', text)
    text = changed("minimum_allowed", "minimum_alowed", text)
    text = changed('interference_tolerance = "0.1 mm"', 'interference_tolerance = "0,1 mm"', text)
    text = changed('overspeed = "1.4 x rated"', 'overspeed = "0.9 x rated"', text)
    text = changed('condition = "hot"', 'condition = "hott"', text)
    assert sorted(re.split("[ :]", fault)[0] for fault in faults_of(text)) == [
        "air_gap.minimum_alowed",
        "fit.interference_tolerance",
        "poles.count",
        "requirements.no_float_in_service.condition",
        "rim.outer_radius",
        "speeds.overspeed",
    ]


def test_faults_of_geometry_stand_beside_those_of_other_tables():
    text = changed('face_radius = "3.85 m"', 'face_radius = "3.1 m"')
    found = faults_of(changed("# confidence = 0.95", "confidence = 95", text))
    assert [fault.split()[0] for fault in found] == [
        "requirements.no_float_in_service.confidence",
        "poles.face_radius",
        "poles.mass_radius",
    ]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty"),
        (b" \n\t\n", "is empty"),
        (b"\x00\x01\x02\xff", "binary"),
        ("title".encode("utf-16"), "UTF-16"),
        ("title = 'Größe'".encode("latin-1"), "not a text file in UTF-8"),
        (b"title = ", "not valid TOML"),
        (b"title = 'a'\ntitle = 'b'\n", "line 2"),
        (b"a = " + b"[" * 5000, "nested too deeply"),
    ],
)
def test_a_file_that_is_no_case_is_refused_in_words(content, words):
    with pytest.raises(CaseError, match=re.escape(words)) as caught:
        parse_case(content, "unit.toml")
    assert str(caught.value).startswith("unit.toml: 1 fault\n")


def test_a_missing_file_a_directory_and_a_place_below_a_file_are_named(tmp_path):
    plain = tmp_path / "plain.toml"
    plain.write_text(NEW, encoding="utf-8")
    for path, words in ((tmp_path / "none.toml", "no such file"), (tmp_path, "directory"), (plain / "x", "Not a dir")):
        with pytest.raises(CaseError, match=words) as caught:
            read_case(path)
        assert str(path) in str(caught.value)


def test_an_unknown_condition_is_answered_with_the_near_one():
    with pytest.raises(KeyError, match=r"the case has: cold, hot; did you mean 'cold'"):
        example_case().condition("colt")


# ------------------------------------------------------------------------------------------------ JSON Schema


@pytest.fixture(scope="module")
def validator():
    schema = case_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    json.dumps(schema, allow_nan=False)
    return jsonschema.Draft202012Validator(schema)


@pytest.mark.independent
@pytest.mark.parametrize("name", ["quillmere.toml", "new_case.toml"])
def test_the_schema_accepts_the_shipped_cases(validator, name):
    validator.validate(tomllib.loads((EXAMPLES / name).read_text(encoding="utf-8")))


@pytest.mark.independent
@pytest.mark.parametrize("kind", SPIDERS)
def test_the_schema_accepts_every_key(validator, kind):
    validator.validate(tomllib.loads(EVERY_KEY + f"[spider]\n{SPIDERS[kind]}\n"))


@pytest.mark.independent
@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("hoop_stiffness_factor", "hoop_stifness_factor"),
        ("[speeds]", "[speed]"),
        ('kind = "arms"\n', 'kind = "arm"\n'),
        ("[claims.float_speed]", "[claims.flot_speed]"),
        ("count = 40", 'count = "40"'),
        ('inner_radius = "3 m"', "inner_radius = 3"),
    ],
)
def test_the_schema_rejects_what_the_reader_rejects(validator, old, new):
    text = changed(old, new)
    assert list(validator.iter_errors(tomllib.loads(text)))
    assert faults_of(text)


def test_every_key_of_the_schema_stands_in_the_case_to_fill_in():
    schema = case_schema()
    keys = set(schema["properties"])
    for name, table in schema["$defs"].items():
        keys |= set() if name == "Claims" else set(table.get("properties", {}))
    assert sorted(key for key in keys if not re.search(rf"\b{key}\b", NEW)) == []


def test_every_optional_line_of_the_case_to_fill_in_is_right_as_it_stands():
    text = re.sub(r"(?m)^# (?=\w+ = |\[)", "", NEW)
    case = parse(text)
    assert len(text) < len(NEW) - 50
    assert case.rotor.rim.bending_stiffness_factor == 0.7
    assert len(case.rotor.fit.key_interference) == case.rotor.fit.key_count == 12
    assert case.records[0].direction == "up"
    jsonschema.validate(tomllib.loads(text), case_schema())


# ------------------------------------------------------------------------------------- units do not matter


def written(value, size, unit):
    return f"{value / size!r} {unit}"


LENGTH = st.sampled_from([("m", 1.0), ("mm", 1e-3), ("in", 0.0254), ("cm", 1e-2)])
PRESSURE = st.sampled_from([("MPa", 1e6), ("Pa", 1.0), ("GPa", 1e9), ("psi", 0.45359237 * 9.80665 / 0.0254**2)])
SPEED = st.sampled_from([("rpm", RPM), ("rad/s", 1.0)])
MASS = st.sampled_from([("kg", 1.0), ("t", 1e3), ("lb", 0.45359237)])


@pytest.mark.independent
@given(data=st.data())
def test_swapping_units_changes_nothing(data):
    def put(text, key, value, units):
        unit, size = data.draw(units)
        return re.sub(rf'(?m)^{key} = "[^"]*"', f'{key} = "{written(value, size, unit)}"', text, count=1)

    text = NEW
    lengths = {"inner_radius": 3.0, "outer_radius": 3.4, "length": 1.5, "mass_radius": 3.62, "face_radius": 3.85,
               "hub_radius": 1.1, "interference": 1.8e-3, "interference_tolerance": 1e-4, "cold": 15e-3,
               "minimum_allowed": 8e-3}  # fmt: skip
    for key, value in lengths.items():
        text = put(text, key, value, LENGTH)
    text = put(put(text, "young_modulus", 206e9, PRESSURE), "yield_strength", 5e8, PRESSURE)
    text = put(put(text, "mass", 3000.0, MASS), "rated", 150 * RPM, SPEED)
    warm = data.draw(st.sampled_from(["55 degC", "328.15 K", "131 degF"]))
    text = text.replace('rim_temperature = "55 degC"', f'rim_temperature = "{warm}"')
    ours, plain = parse(text), parse(NEW)
    for name in ("cold", "hot"):
        expected = float(float_speed(plain.rotor, plain.conditions[name]).speed)
        assert float(float_speed(ours.rotor, ours.conditions[name]).speed) == pytest.approx(expected, rel=1e-9)
