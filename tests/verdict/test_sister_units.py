"""Sister units of a fleet: pooled beside their own verdicts, refused where they are unlike, and never hidden."""

import json
import re
from dataclasses import replace

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.behaviour.quantities import plain_name
from rimmodel.evidence.synthetic import Run, virtual_run
from rimmodel.rotor.alike import Design
from rimmodel.rotor.case.case import EXAMPLES
from rimmodel.units import RPM, in_mm, in_rpm
from rimmodel.verdict.family import INTERFERENCE, WHO_IS_HURT, Bound, Measured, Unit, fleet_family
from rimmodel.verdict.output.family import family_html, family_lines, family_table, family_text
from rimmodel.verdict.output.fleet import fleet, fleet_csv, fleet_html
from rimmodel.verdict.output.fleet import table as fleet_table
from rimmodel.verdict.output.fleet import text as fleet_text

TRUE = {"unit_1.toml": 1.62e-3, "unit_2.toml": 1.70e-3, "unit_3.toml": 1.66e-3}
SPEEDS = tuple(np.linspace(30.0, 190.0, 17) * RPM)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("sisters")
    text = (EXAMPLES / "quillmere.toml").read_text(encoding="utf-8")
    text = re.sub(
        r"(?ms)^\[\[records\]\].*?(?=^\[tolerances\])", '[[records]]\nfile = "RUN"\ncondition = "cold"\n\n', text
    )
    text = re.sub(r"(?ms)^\[thermal\].*?(?=^\[claims)", "", text)
    rotor, cold = rm.example_case().rotor, rm.example_case().conditions["cold"]
    for seed, (name, left) in enumerate(TRUE.items(), 1):
        truth = replace(rotor.with_interference(left), fit=replace(rotor.fit, interference=left, key_interference=None))
        run = Run(SPEEDS, run_down=False, sensors_per_plane=2, readings=2, offset=0.0, seed=seed)
        virtual_run(truth, cold, run).write_csv(place / f"{name}.csv")
        (place / name).write_text(text.replace("RUN", f"{name}.csv"), encoding="utf-8")
    heavier = text.replace('mass = "3.7 t"', 'mass = "4.1 t"').replace("RUN", "unit_9.csv")
    (place / "unlike.toml").write_text(heavier, encoding="utf-8")
    (place / "unit_9.csv").write_text((place / "unit_1.toml.csv").read_text(encoding="utf-8") + "\n", encoding="utf-8")
    (place / "no_run.toml").write_text(re.sub(r"(?ms)^\[\[records\]\].*?(?=^\[tol)", "", text), encoding="utf-8")
    return place


@pytest.fixture(scope="module")
def found(folder):
    return fleet(folder, pooled_verdicts=True)


def test_units_of_one_design_are_pooled_beside_their_own_verdicts(found):
    family = found.family
    assert family is not None
    assert not found.faulty
    assert family.members == tuple(TRUE)
    assert "poles.mass is 4100 kg against 3700 kg (may differ by 2 %)" in family.refused["unlike.toml"]
    reason = "its case differs from unit_1.toml, with which most units agree: poles.mass is"
    assert family.refused["unlike.toml"].startswith(reason)
    assert family.refused["no_run.toml"] == "it has no recording"
    (row,) = (one for one in family.numbers if one.name == INTERFERENCE)
    for place, true in enumerate(TRUE.values()):
        low, high = row.intervals[place]
        assert low <= true <= high
        own = row.alone[place].interval
        assert high - low < own[1] - own[0]
    assert {row.name for row in family.numbers} == {INTERFERENCE, "float speed, cold", "float speed, hot"}
    assert {one.file: one.alone for one in family.verdicts}.keys() == set(TRUE)


def test_a_number_that_one_unit_has_is_headed_in_the_singular(found):
    (row,) = (one for one in found.family.numbers if one.name == INTERFERENCE)
    for count, words in ((1, "[mm], 1 unit;"), (2, "[mm], 2 units;")):
        alone = replace(row, files=row.files[:count], alone=row.alone[:count])
        ((heading, _),) = family_lines(replace(found.family, numbers=(alone,)))
        assert words in heading


def test_the_verdict_of_a_row_is_that_of_the_unit_alone(folder, found):
    (alone,) = (row for row in found.rows if row.file == "unit_2.toml")
    review = rm.review(rm.read_case(folder / "unit_2.toml"))
    own = {
        f"{'claim' if row.role == 'claim' else f'requirement {row.name}'}: {plain_name(row.quantity)}, {row.condition}":
        row.verdict for row in review.findings
    }  # fmt: skip
    assert alone.verdict == own[alone.decisive]


def test_text_page_and_json_hold_the_same_numbers(found):
    table = json.loads(json.dumps(fleet_table(found), allow_nan=False))["family"]
    text, page = fleet_text(found), fleet_html(found)
    for number, row in zip(table["numbers"], found.family.numbers, strict=True):
        digits = 3 if number["unit"] == "mm" else 1
        block = text[text.index(f"{number['name']} [{number['unit']}]") :].splitlines()
        spread = [number["spread"], *number["spread_interval"]]
        assert re.findall(r"\d+\.\d+", block[0]) == [f"{value:.{digits}f}" for value in spread]
        assert f"{number['name']} [{number['unit']}], {len(number['units'])} units" in page
        for line, unit in zip(block[2:], number["units"], strict=False):
            values = [unit["alone"], *unit["alone_interval"], unit["with_family"], *unit["with_family_interval"],
                      *unit["predicted_by_others_interval"]]  # fmt: skip
            expected = [f"{value:.{digits}f}" for value in values] + [f"{unit['chance_percent']:.1f}"]
            assert re.findall(r"-?\d+\.\d+", line.replace(unit["file"], "")) == expected
            assert all(f"{value:.{digits}f}" in page for value in values)
        printed = in_mm if number["unit"] == "mm" else in_rpm
        assert number["units"][0]["alone"] == pytest.approx(printed(row.alone[0].best))
    assert table["caution"] == WHO_IS_HURT
    assert "".join(WHO_IS_HURT.split()) in "".join(text.split())
    assert WHO_IS_HURT in page
    assert "as_sister" not in json.dumps(table)
    assert "unit_1.toml" in fleet_csv(found)


def _unit(file, best, *, at_least=None, verdict="not shown", **changes):
    case = rm.example_case()
    numbers = {"float speed, cold": Measured(best, 0.2, 0.1, (best - 0.45, best + 0.45))}
    bounds = () if at_least is None else (Bound("no_float", "cold", at_least, True, 0.95, verdict, False),)
    return Unit(file, Design.of(case.rotor, case.conditions), 2.1e-3, numbers, bounds, **changes)


def test_a_bad_unit_among_good_sisters_gets_no_better_verdict():
    good = [_unit(f"good_{number}", 18.0 + 0.02 * number, at_least=16.5, verdict="holds") for number in range(5)]
    bad = _unit("bad", 16.3, at_least=16.5)
    family = fleet_family([*good, bad], verdicts=True)
    row = next(one for one in family.verdicts if one.file == "bad")
    assert (row.alone, row.pooled) == ("not shown", "not shown")
    assert "stands apart" in row.reason
    assert "not pooled: stands apart" in family_text(family)
    worse = _unit("bad", 17.6, at_least=18.2, verdict="does not hold")
    row = next(one for one in fleet_family([*good, worse], verdicts=True).verdicts if one.file == "bad")
    assert row.pooled == "does not hold"


def test_verdicts_with_a_family_are_only_given_when_asked_for():
    units = [_unit(f"unit_{number}", 18.0 + 0.1 * number, at_least=17.75) for number in range(4)]
    assert fleet_family(units).verdicts == ()
    asked = fleet_family(units, verdicts=True)
    assert {row.alone for row in asked.verdicts} == {"not shown"}
    assert "holds" in {row.pooled for row in asked.verdicts}
    assert "with its family" in family_html(asked)
    assert family_table(asked)["verdicts"][0]["alone"] == "not shown"


def test_too_few_and_unlike_conditions_are_refused_with_the_reason():
    one, two, three = (_unit(f"unit_{number}", 18.0) for number in range(3))
    assert fleet_family([one]) is None
    assert "2 units; a family needs at least 3" in fleet_family([one, two]).not_pooled["float speed, cold"]
    warm = {**three.design.conditions["cold"]}
    key = "conditions.cold.rim_temperature"
    warm[key] = replace(warm[key], value=warm[key].value + 5.0)
    other = replace(three, design=replace(three.design, conditions={**three.design.conditions, "cold": warm}))
    assert f"{key} is 298.15 K against 293.15 K (may differ by 1 K)" in str(fleet_family([one, two, other]).not_pooled)
