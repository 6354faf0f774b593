"""The tables of a case for limits, torque, duty, load rejection and plan, and the spider by its profile."""

import re
import tomllib

import jsonschema
import pytest

from rimmodel.rotor.allowances import Limits, ProvingRun
from rimmodel.rotor.case.case import EXAMPLES, CaseError, parse_case
from rimmodel.rotor.case.format import case_schema
from rimmodel.units import RPM

NEW = (EXAMPLES / "new_case.toml").read_text(encoding="utf-8")
BARE = re.sub(r"(?ms)^\[(plan|limits|torque|load_rejection)\].*?(?=^\[)", "", NEW)
ALL = """
[limits]
rated_share_of_yield = 0.4
shrinking_rim_temperature = "120 degC"
[torque]
rated = "5e6 N*m"
fault = "3e7 N*m"
friction_coefficient = 0.12
carried_by = "friction"
[load_rejection]
inertia = "3.2e6 kg*m^2"
torque = "5e6 N*m"
decay_time = "8 s"
braking_torque = "4e5 N*m"
[plan]
highest_speed = "1.3 x rated"
sensor_noise = "0.02 mm"
points = 24
[[duty]]
from = "standstill"
to = "rated"
count = 20000
[[duty]]
from = "0.9 x rated"
to = "200 rpm"
count = 50.0
"""


def faults_of(text):
    with pytest.raises(CaseError) as caught:
        parse_case(text.encode(), "unit.toml")
    return "\n".join(caught.value.faults)


def test_every_table_is_read():
    case = parse_case((BARE + ALL).encode(), "unit.toml")
    assert case.limits.rated_share_of_yield == 0.4
    assert case.limits.shrinking_rim_temperature == pytest.approx(393.15)
    assert case.torque.fault == pytest.approx(3e7)
    assert case.torque.carried_by == "friction"
    assert case.load_rejection.inertia == pytest.approx(3.2e6)
    assert case.plan.highest_speed == pytest.approx(1.3 * 150 * RPM)
    assert case.plan.points == 24
    first, second = case.duty
    assert (first.start, first.end, first.count) == (0.0, pytest.approx(150 * RPM), 20000)
    assert (second.start, second.end) == (pytest.approx(135 * RPM), pytest.approx(200 * RPM))


def test_every_table_may_be_left_out():
    case = parse_case(BARE.encode(), "unit.toml")
    assert case.limits == Limits()
    assert case.plan == ProvingRun()
    assert (case.torque, case.load_rejection, case.duty) == (None, None, ())


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('rated = "5e6 N*m"\nfault', "fault", "torque.rated: missing (rated torque)"),
        ('"friction"', '"luck"', "torque.carried_by is 'luck'"),
        ("friction_coefficient = 0.12", "friction_coefficient = -0.1", "torque.friction_coefficient is -0.1"),
        ('decay_time = "8 s"', 'decay_time = "0 s"', "load_rejection.decay_time is '0 s'"),
        ('"3.2e6 kg*m^2"', '"3.2e6 kg"', "load_rejection.inertia"),
        ("points = 24", "points = 4", "plan.points is 4; it must be a whole number of 6 or more"),
        ('"1.3 x rated"', '"1.3 x runaway"', "plan.highest_speed is '1.3 x runaway'; the case gives no speeds.runaway"),
        ("rated_share_of_yield = 0.4", "rated_share_of_yeld = 0.4", "did you mean 'rated_share_of_yield'"),
        ("rated_share_of_yield = 0.4", "rated_share_of_yield = 1.4", "limits.rated_share_of_yield is 1.4"),
        ('from = "standstill"', 'from = "standstil"', "did you mean 'standstill'"),
        ('to = "rated"', 'to = "runaway"', "duty[1].to is 'runaway'; the case gives no speeds.runaway"),
        ('to = "200 rpm"', 'to = "100 rpm"', "duty[2].to is 100 rpm; it must be faster than from, 135 rpm"),
        ('from = "0.9 x rated"', 'from = "-5 rpm"', "duty[2].from is '-5 rpm'; it must be zero or above"),
        ("count = 20000", "count = 0", "duty[1].count is 0"),
        ("count = 20000\n", "", "duty[1].count: missing"),
        ("[[duty]]", "[duty]", "duty: it must be a list of tables"),
    ],
)
def test_what_is_wrong_is_named_with_its_key(old, new, words):
    text = (
        ALL
        if old != "[[duty]]"
        else ALL.split("[[duty]]")[0] + '[[duty]]\nfrom = "standstill"\nto = "rated"\ncount = 1\n'
    )
    assert old in text
    assert words in faults_of(BARE + text.replace(old, new, 1))


DISC = '[spider]\nkind = "disc"\nmaterial = "steel"\n'
PROFILE = 'profile = [["0.6 m", "0.5 m"], ["1.1 m", "0.5 m"], ["1.1 m", "0.25 m"], ["3 m", "0.25 m"]]\n'


def with_spider(table):
    # a disc by its profile takes no tolerances of its steel
    exact = re.sub(r"(?ms)^\[tolerances\].*?(?=^\[|\Z)", "", NEW)
    return re.sub(r"(?ms)^\[spider\].*?(?=^\[)", table, exact)


def test_a_profile_is_read_and_the_schema_takes_it():
    text = with_spider(DISC + PROFILE)
    spider = parse_case(text.encode(), "unit.toml").rotor.spider
    assert spider.profile == ((0.6, 0.5), (1.1, 0.5), (1.1, 0.25), (3.0, 0.25))
    assert (spider.inner_radius, spider.outer_thickness) == (0.6, 0.25)
    validator = jsonschema.Draft202012Validator(case_schema())
    validator.validate(tomllib.loads(text))
    validator.validate(tomllib.loads(BARE + ALL))
    assert list(validator.iter_errors(tomllib.loads(text.replace('["3 m", "0.25 m"]', '["3 m"]'))))


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (
            '["1.1 m", "0.5 m"]',
            '["0.5 m", "0.5 m"]',
            "spider.profile row 2 has radius 0.5 m, row 1 0.6 m; radii must rise",
        ),
        ('"0.25 m"]]', '"0 m"]]', "spider.profile row 4 has thickness 0 m; it must be above zero"),
        ('["3 m"', '["2.9 m"', "spider.profile ends at 2900 mm; it must end at rim.inner_radius, 3000 mm"),
        ('["3 m", "0.25 m"]', '["3 m"]', "spider.profile[4] is ['3 m']"),
        ('["3 m", "0.25 m"]', '["3 m", "0.25"]', "spider.profile[4][2]"),
        (
            "profile = ",
            'thickness = "0.2 m"\nprofile = ',
            "spider.profile takes the place of bore_radius and thickness",
        ),
        (
            PROFILE,
            'bore_radius = "0.5 m"\n',
            "spider.thickness is missing; give bore_radius and thickness, or a profile",
        ),
        (PROFILE, 'bore_radius = "0.5 m"\nthickness = "0 m"\n', "spider.thickness is '0 m'"),
    ],
)
def test_a_wrong_profile_is_named_with_its_row(old, new, words):
    assert old in DISC + PROFILE
    assert words in faults_of(with_spider((DISC + PROFILE).replace(old, new)))
