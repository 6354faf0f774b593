"""A rim that differs along its length in review and least-gap: what is said, what may not hold, text as in JSON."""

import json
import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from rimmodel.behaviour.axial.lift_off import first_lift_off
from rimmodel.behaviour.contact.speeds import float_speed
from rimmodel.planning.least_gap import least_gap_curve
from rimmodel.rotor.case.case import EXAMPLES, parse_case
from rimmodel.units import RPM
from rimmodel.verdict.along import along_the_rim, worst_place
from rimmodel.verdict.assumptions import assumptions
from rimmodel.verdict.judge import judge
from rimmodel.verdict.output.least_gap import (
    drawings as least_gap_drawings,
)
from rimmodel.verdict.output.least_gap import (
    statements,
)
from rimmodel.verdict.output.least_gap import (
    table as least_gap_table,
)
from rimmodel.verdict.output.least_gap import (
    text as least_gap_text,
)

TEXT = (EXAMPLES / "quillmere.toml").read_text(encoding="utf-8")


@cache
def case_of(axial="", asked=""):
    table = f"\n[axial]\n{axial}\nslices = 16\n" if axial else ""
    return replace(parse_case((TEXT + table + asked).encode(), "unit.toml", EXAMPLES / "quillmere.toml"), records=())


def required(quantity, value, condition="cold"):
    return f'\n[requirements.asked]\nquantity = "{quantity}"\ncondition = "{condition}"\nat_least = "{value}"\n'


def found(axial, quantity, value):
    case = case_of(axial, required(quantity, value))
    return judge(case, case.requirements[-1], None)


TAPERED = 'interference_taper = "0.6 mm"'


def test_a_float_speed_that_only_the_mean_has_is_not_shown():
    even, tapered = found("", "float_speed", "170 rpm"), found(TAPERED, "float_speed", "170 rpm")
    assert even.verdict == "holds"
    assert tapered.verdict == "not shown"
    assert tapered.predicted == even.predicted
    assert "not shown to be met all along the rim" in tapered.reason
    first = float(first_lift_off(case_of(TAPERED).rotor, case_of(TAPERED).conditions["cold"]))
    assert first < 170 * RPM
    assert f"{first / RPM:.1f} rpm" in tapered.reason


def test_a_float_speed_that_all_of_the_rim_has_holds_and_says_so():
    row = found('interference_taper = "0.02 mm"', "float_speed", "150 rpm")
    assert row.verdict == "holds"
    assert "the first place along the rim lifts off at" in row.reason


def test_what_does_not_hold_stays_so():
    assert found(TAPERED, "float_speed", "220 rpm").verdict == "does not hold"


def test_the_least_pressed_place_decides_about_the_fit():
    mean = found("", "residual_interference_at_rated", "0.7 mm")
    worst = found(TAPERED, "residual_interference_at_rated", "0.7 mm")
    assert mean.verdict == "holds"
    assert worst.verdict == "not shown"
    case = case_of(TAPERED)
    assert worst_place(case, "residual_interference_at_rated", case.conditions["cold"]) < 0.7e-3
    assert worst_place(case, "gap_at_rated", case.conditions["cold"]) is None


@pytest.mark.parametrize("predicted", [float("nan"), float("inf"), 0.0])
def test_a_mean_without_a_number_shows_nothing(predicted):
    case = case_of(TAPERED)
    row = replace(found(TAPERED, "float_speed", "170 rpm"), predicted=predicted, verdict="holds")
    assert along_the_rim(case, row).verdict == "not shown"


def test_first_lift_off_is_judged_by_itself():
    row = found(TAPERED, "first_lift_off", "150 rpm")
    case = case_of(TAPERED)
    assert row.predicted == float(first_lift_off(case.rotor, case.conditions["cold"]))
    low, high = row.predicted_interval
    assert low < row.predicted < high


def test_the_review_says_that_the_first_place_lifts_off_before_the_mean():
    case = case_of(TAPERED)
    (said,) = [text for text in assumptions(case) if "along its length in 'cold'" in text]
    speeds = [float(value) for value in re.findall(r"(\d+\.\d) rpm", said)]
    cold = case.conditions["cold"]
    expected = [float(first_lift_off(case.rotor, cold)), float(float_speed(case.rotor, cold).speed)]
    assert speeds == pytest.approx([value / RPM for value in expected], abs=0.051)
    assert speeds[0] < speeds[1]
    assert not [text for text in assumptions(case_of()) if "along its length" in text]


def test_least_gap_says_lift_off_planes_and_what_is_not_known():
    case = case_of('interference_taper = "0.4 mm"\npole_length = "1.6 m"')
    curve = least_gap_curve(case, "cold", case.conditions["cold"])
    table = json.loads(json.dumps(least_gap_table(case, curve, []), allow_nan=False))
    along = table["along_the_rim"]
    assert along["first_lift_off_rpm"][0] < along["float_speed_of_the_mean_rpm"] < along["last_lift_off_rpm"][0]
    assert along["first_lift_off_rpm"][0] <= along["first_lift_off_rpm"][1]
    lower, upper = (along["planes"][name] for name in ("lower", "upper"))
    assert lower["height_m"] < upper["height_m"]
    low_ends = np.array([plane["least_gap_mm"][0] for plane in along["planes"].values()], dtype=float)
    assert low_ends.min(axis=0) == pytest.approx(np.array(table["least_gap_mm"], dtype=float), abs=0.02)
    assert (low_ends >= np.array(table["least_gap_mm"], dtype=float) - 1e-9).all()
    text, words = least_gap_text(case, curve, []), " ".join(statements(case, curve, []))
    low, high = along["first_lift_off_rpm"]
    assert f"first place without contact     {low:.1f} to {high:.1f} rpm" in text
    assert "not stated: 0 GPa to 79.2 GPa, from nothing to solid steel" in words
    assert "How the spider yields along the rim is not stated" in words
    assert "nan" not in text
    assert {"left_along", "lift_off_along"} <= least_gap_drawings(case, curve, []).keys()


def test_without_differences_nothing_is_said_of_the_length():
    case = case_of()
    curve = least_gap_curve(case, "cold", case.conditions["cold"])
    assert curve.along is None
    assert least_gap_table(case, curve, [])["along_the_rim"] is None
    assert "along the rim" not in least_gap_text(case, curve, [])


def test_where_the_pull_closes_the_gap_there_are_words_and_no_numbers():
    case = case_of(TAPERED)
    strong = replace(case.conditions["hot"], flux_density=10.0)
    case = replace(case, conditions={**case.conditions, "hot": strong})
    curve = least_gap_curve(case, "hot", strong)
    json.dumps(least_gap_table(case, curve, []), allow_nan=False)
    text = least_gap_text(case, curve, [])
    assert "no speed: the magnetic pull closes the gap before" in text
    assert "nan" not in text
    for draw in least_gap_drawings(case, curve, []).values():
        draw()


@pytest.mark.parametrize("name", ["first_key_speed", "centring_speed"])
def test_a_speed_of_single_keys_does_not_hold_where_the_rim_differs_along_its_length(name):
    text = TEXT.replace("[fit]", '[fit]\nkey_interference_tolerance = "0.05 mm"', 1)
    text += f"\n[axial]\n{TAPERED}\nslices = 16\n{required(name, '100 rpm')}"
    case = replace(parse_case(text.encode(), "unit.toml", EXAMPLES / "quillmere.toml"), records=())
    row = judge(case, case.requirements[-1], None)
    assert row.predicted_interval[0] > 100 * RPM
    assert row.verdict == "not shown"
    assert "one end of a key lifts off before" in row.reason


def test_a_first_place_by_the_mean_of_uneven_keys_does_not_hold():
    row = found(TAPERED, "first_lift_off", "100 rpm")
    assert row.verdict == "not shown"
    assert "it takes the mean of the keys, which lie from 2.00 mm to 2.20 mm" in row.reason
