"""Shares of variance, intervals were a cause known, and the questions that follow, against sums that a hand can do."""

import json
import math
from dataclasses import replace

import pytest

from rimmodel.behaviour.quantities import evaluate
from rimmodel.rotor.case.case import EXAMPLES, parse_case
from rimmodel.rotor.requirements import Claim
from rimmodel.rotor.tolerance import Correlation, Tolerance
from rimmodel.verdict import review
from rimmodel.verdict.judge import Finding, judge, verdict_of_interval
from rimmodel.verdict.output.tables import table as review_table
from rimmodel.verdict.questions import WORTH_ASKING, _effect, _of_records, questions, questions_table
from rimmodel.verdict.shares import (
    deciding_side,
    interval_if_known,
    shares,
    verdict_at_worst,
    verdict_if_known,
)
from tests.built_in import example_review

NEW = (EXAMPLES / "new_case.toml").read_text(encoding="utf-8")
WARM = '[conditions.warm]\nrim_temperature = "30 degC"\nspider_temperature = "22 degC"\n'
CASE = parse_case((NEW + WARM).encode(), "unit.toml")
Z95 = 1.959964  # two-sided normal quantile, from any table


def finding(parts, best=10.0, threshold=9.0, at_least=True, beyond=0.0):
    """A finding by test whose sides are those of its parts in quadrature, and `beyond` wider by another reading."""
    low, high = (math.hypot(*(ends[side] for ends in parts.values())) for side in (0, 1))
    interval = (best - low - beyond, best + high + beyond)
    return Finding(
        "gap_at_rated", "claim", "gap_at_rated", "cold", threshold, threshold, at_least, 0.95, best, (9.0, 11.0),
        best, interval, "the machine fitted to 'run'", verdict_of_interval(interval, threshold, at_least),
        None, None, "", parts,
    )  # fmt: skip


# ------------------------------------------------------------------------------------------- by test


@pytest.mark.derived
@pytest.mark.parametrize(
    ("threshold", "at_least", "side", "expected"),
    [
        (9.0, True, 0, {"b": 16 / 25, "a": 9 / 25}),
        (12.0, True, 1, {"a": 144 / 169, "b": 25 / 169}),
        (12.0, False, 1, {"a": 144 / 169, "b": 25 / 169}),
        (9.0, False, 0, {"b": 16 / 25, "a": 9 / 25}),
    ],
)
def test_shares_are_of_the_variance_of_the_side_that_faces_the_limit(threshold, at_least, side, expected):
    # independent causes add as variances (JCGM 100:2008, 5.1.2): 3 and 4 below, 12 and 5 above
    found = finding({"a": (3.0, 12.0), "b": (4.0, 5.0)}, threshold=threshold, at_least=at_least)
    assert deciding_side(found) == side
    assert shares(CASE, found) == pytest.approx(expected)
    assert list(shares(CASE, found)) == list(expected)


@pytest.mark.derived
def test_a_cause_that_leaves_a_side_open_has_all_of_it():
    found = finding({"a": (3.0, 3.0), "b": (math.inf, 4.0)})
    assert shares(CASE, found) == {"b": 1.0}
    assert interval_if_known(CASE, found, "b") == pytest.approx((7.0, 13.0))
    assert interval_if_known(CASE, found, "a") == pytest.approx((-math.inf, 14.0))


def test_without_any_uncertainty_there_is_nothing_to_share_out():
    assert shares(CASE, finding({"a": (0.0, 0.0)})) == {}
    assert shares(CASE, replace(finding({"a": (1.0, 1.0)}), parts={}, measured=None)) == {}


@pytest.mark.derived
@pytest.mark.parametrize("beyond", [0.0, 2.0])
def test_an_interval_without_a_cause_is_that_of_the_others(beyond):
    found = finding({"a": (3.0, 3.0), "b": (4.0, 4.0), "c": (12.0, 12.0)}, beyond=beyond)
    assert interval_if_known(CASE, found, "c") == pytest.approx((5.0 - beyond, 15.0 + beyond))
    half = math.sqrt(9 + 16 + 36)
    assert interval_if_known(CASE, found, "c", 0.5) == pytest.approx((10 - half - beyond, 10 + half + beyond))


@pytest.mark.derived
@pytest.mark.parametrize(
    ("a", "b", "half", "exact", "words"),
    [
        (0.5, 1.2, "holds", "holds", "with half the uncertainty it would hold if the best value stays"),
        (0.9, 1.2, "not shown", "holds", "with half the uncertainty still not shown; known exactly, it would hold"),
        (1.1, 0.6, "not shown", "not shown", "still not shown even if this were known exactly"),
    ],
)
def test_what_an_answer_would_do_to_what_is_not_shown(a, b, half, exact, words):
    found = finding({"a": (a, a), "b": (b, b)})  # 1 above the limit
    assert found.verdict == "not shown"
    assert verdict_if_known(CASE, found, "b", 0.5) == half
    assert verdict_if_known(CASE, found, "b") == exact
    assert words in _effect(CASE, found, "b", 0.5)


@pytest.mark.derived
@pytest.mark.parametrize(
    ("threshold", "at_least", "verdict", "worst"),
    [
        (7.9, True, "holds", "holds"),  # 10 - 1 - 1 = 8
        (8.2, True, "holds", "not shown"),  # 10 - sqrt(2) = 8.59
        (11.8, True, "does not hold", "not shown"),
        (12.1, True, "does not hold", "does not hold"),
        (11.8, False, "holds", "not shown"),
        (12.1, False, "holds", "holds"),
    ],
)
def test_the_worst_answer_against_what_is_decided(threshold, at_least, verdict, worst):
    found = finding({"a": (1.0, 1.0), "b": (1.0, 1.0)}, threshold=threshold, at_least=at_least)
    assert found.verdict == verdict
    assert verdict_at_worst(CASE, found, "a") == worst
    changes = (
        "would leave it not shown"
        if worst == "not shown"
        else "no answer within the range that the case allows (95 %) changes that"
    )
    assert changes in _effect(CASE, found, "a", 0.5)


def test_no_answer_frees_a_finding_while_the_case_is_in_doubt():
    held = replace(finding({"a": (0.1, 0.1)}), verdict="not shown")
    assert "while the case itself is in doubt" in _effect(CASE, held, "a", 1.0)


# ------------------------------------------------------------------------------------------- on the drawing


DRAWN, RIM, SPIDER = 50e-6, 3.0 * 12e-6 * 2.0, 3.0 * 12e-6 * 1.0  # m: the interference; bore radius, expansion, K
LEFT = Claim("residual_interference_at_standstill", 1.0e-3, "warm")  # linear in interference and both temperatures


def linear_case(correlation):
    warm = CASE.conditions["warm"]
    rows = (
        Tolerance("fit.interference", CASE.rotor.fit.interference, "normal", DRAWN),
        Tolerance("conditions.warm.rim_temperature", warm.rim_temperature, "normal", 2.0),
        Tolerance("conditions.warm.spider_temperature", warm.spider_temperature, "normal", 1.0),
    )
    pair = Correlation(("conditions.warm.rim_temperature", "conditions.warm.spider_temperature"), correlation)
    return replace(CASE, tolerances=rows, correlations=(pair,) if correlation else ())


@pytest.mark.derived
def test_shares_of_a_linear_sum_are_those_of_its_variances():
    case = linear_case(0.0)
    found = judge(case, LEFT, None)
    total = DRAWN**2 + RIM**2 + SPIDER**2
    assert shares(case, found) == pytest.approx(
        {
            "fit.interference": DRAWN**2 / total,
            "conditions.warm.rim_temperature": RIM**2 / total,
            "conditions.warm.spider_temperature": SPIDER**2 / total,
        },
        rel=1e-6,
    )
    low, high = interval_if_known(case, found, "conditions.warm.rim_temperature")
    assert (high - low) / 2 == pytest.approx(Z95 * math.hypot(DRAWN, SPIDER), rel=1e-6)
    low, high = interval_if_known(case, found, "fit.interference", 0.5)
    assert (high - low) / 2 == pytest.approx(Z95 * math.hypot(DRAWN / 2, RIM, SPIDER), rel=1e-6)


@pytest.mark.derived
def test_causes_that_vary_together_are_one():
    case = linear_case(0.6)  # rim and spider move the fit against each other: r enters with a minus
    found = judge(case, LEFT, None)
    both = RIM**2 + SPIDER**2 - 2 * 0.6 * RIM * SPIDER
    name = "conditions.warm.rim_temperature + conditions.warm.spider_temperature"
    assert shares(case, found)[name] == pytest.approx(both / (both + DRAWN**2), rel=1e-6)
    low, high = interval_if_known(case, found, name)
    assert (high - low) / 2 == pytest.approx(Z95 * DRAWN, rel=1e-6)
    low, high = interval_if_known(case, found, "fit.interference")
    assert (high - low) / 2 == pytest.approx(Z95 * math.sqrt(both), rel=1e-6)


# ------------------------------------------------------------------------------------------- the questions


@pytest.fixture(scope="module")
def drawn():
    return review(CASE)


@pytest.fixture(scope="module")
def tested():
    return example_review()


def test_what_the_case_leaves_open_is_asked_and_what_it_states_is_not(drawn):
    asked = {row.about for row in questions(drawn)}
    assert {"fit.key_stiffness", "poles.radial_stiffness", "spider.hub_bore_radius", "spider.tip_mass"} <= asked
    text = NEW.replace('# key_stiffness = "2e10 N/m"', 'key_stiffness = "2e10 N/m"')
    text = text.replace("# tip_mass =", "tip_mass =").replace("# radial_stiffness = ", "radial_stiffness = ")
    stated = parse_case((text + WARM).encode(), "unit.toml")
    left = {row.about for row in questions(replace(drawn, case=stated))}
    assert asked - left == {"fit.key_stiffness", "poles.radial_stiffness", "spider.tip_mass"}


@pytest.mark.parametrize("which", ["drawn", "tested"])
def test_every_cause_above_a_tenth_is_asked_about_once(which, request):
    result = request.getfixturevalue(which)
    asked = [row.about for row in questions(result)]
    assert len(asked) == len(set(asked))
    above = {
        cause
        for row in result.findings
        for cause, share in shares(result.case, row).items()
        if share > WORTH_ASKING
    }  # fmt: skip
    assert above
    assert above <= set(asked)
    for row in questions(result):
        assert row.question
        assert row.effect
        assert not {"nan", "inf"} & set(row.effect.split())


def test_a_sensor_that_the_case_is_silent_on_is_asked_about_with_what_was_taken(tested):
    found = {row.about: row for row in questions(tested)}
    assert "0.1 mm" in found["level of the sensors and cold gap"].question
    assert "no sensor_gain" in found["gain of the sensors"].question
    said = [row | {"sensor_gain": 0.002} for row in tested.case.as_read["records"]]
    stated = replace(tested, case=replace(tested.case, as_read=tested.case.as_read | {"records": said}))
    assert "gain of the sensors" in _of_records(tested)
    assert "gain of the sensors" not in _of_records(stated)
    assert "gain of the sensors" not in {row.about for row in questions(stated)}  # its share is small


def test_a_record_that_decides_nothing_brings_a_question_for_another(tested):
    bad = replace(tested.measurements[-1], disqualified=("a sensor contradicts the others",))
    asked = questions(replace(tested, measurements=(*tested.measurements[:-1], bad)))
    assert "a sensor contradicts the others" in next(row.question for row in asked if row.about == "recording")


def test_the_questions_stand_in_the_json(drawn):
    table = json.loads(json.dumps(review_table(drawn), allow_nan=False))
    assert table["questions"] == questions_table(questions(drawn))
    assert table["questions"][0].keys() == {"about", "question", "share_of_variance", "effect"}


@pytest.mark.derived
def test_what_yielding_poles_would_do_to_a_gap_is_worked_out():
    # cold, without field: the centrifugal force of one pole over its stiffness closes the gap further
    poles, rated = CASE.rotor.poles, float(CASE.rotor.speeds.overspeed)
    closer = poles.mass * poles.mass_radius * rated**2 / 5e10
    gap = float(evaluate("gap_at_overspeed", CASE.rotor, CASE.conditions["cold"]))
    claim = Claim("gap_at_overspeed", gap - 0.1 * closer, "cold")
    case = replace(CASE, claims=(claim,), requirements=(), tolerances=CASE.tolerances[:1], correlations=())
    found = replace(review(case), findings=(judge(case, claim, None),))
    (asked,) = (row for row in questions(found) if row.about == "poles.radial_stiffness")
    assert f"{1e3 * (gap - closer):.2f} mm on the drawing, not {1e3 * gap:.2f} mm" in asked.effect


def test_a_stated_settlement_of_unknown_cause_is_asked_about(drawn):
    lost = replace(CASE.rotor.fit, settlement=0.3e-3)
    for settlement_of, asked in (("unknown", True), ("keys", False)):
        fit = replace(lost, settlement_of=settlement_of)
        found = replace(drawn, case=replace(CASE, rotor=replace(CASE.rotor, fit=fit)))
        assert ("fit.settlement_of" in {row.about for row in questions(found)}) == asked
