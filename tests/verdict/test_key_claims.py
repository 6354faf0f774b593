"""First key and centring as claims and requirements: with the shims of the case and how well they are known."""

import json
from dataclasses import replace

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.behaviour.keys.named_speeds import key_speed, shim_scatter
from rimmodel.behaviour.keys.run import key_run
from rimmodel.behaviour.keys.tolerance import key_study
from rimmodel.behaviour.quantities import evaluate, quantity_values
from rimmodel.planning.predicted import predicted_interval
from rimmodel.planning.shrink_window import shrink_window
from rimmodel.rotor.case.case import EXAMPLES, CaseError, parse_case
from rimmodel.rotor.tolerance import Tolerance
from rimmodel.units import in_rpm
from rimmodel.verdict.assess import assess
from rimmodel.verdict.judge import judge
from rimmodel.verdict.output.tables import table as review_table
from rimmodel.verdict.output.text import text as review_text

TEXT = (EXAMPLES / "quillmere.toml").read_text(encoding="utf-8")
ASKED = """
[claims.first_key_speed]
value = "{claim}"
condition = "cold"
[requirements.centred]
quantity = "centring_speed"
condition = "cold"
at_least = "1.05 x rated"
"""
KNOWN = TEXT.replace('key_width = "260 mm"', 'key_width = "260 mm"\nkey_interference_tolerance = "0.1 mm"')


def case_of(text, claim="150 rpm", records=False):
    case = parse_case((text + ASKED.format(claim=claim)).encode(), "unit.toml", EXAMPLES / "quillmere.toml")
    return case if records else replace(case, records=())


def rows_of(review):
    return {row.name: row for row in review.findings if row.name in ("first_key_speed", "centred")}


@pytest.mark.parametrize("name", ["cold", "hot"])
def test_one_rotor_has_the_speeds_of_its_path(name):
    case = rm.example_case()
    marks = key_run(case.rotor, case.conditions[name]).event_speeds
    assert evaluate("first_key_speed", case.rotor, case.conditions[name]) == pytest.approx(marks.first_lift_off)
    lost = min(mark for mark in (marks.centring_lost, marks.one_sided) if mark is not None)
    assert evaluate("centring_speed", case.rotor, case.conditions[name]) == pytest.approx(lost)


@pytest.mark.independent
@pytest.mark.parametrize("quantity", ["first_key_speed", "centring_speed"])
def test_of_many_rotors_none_is_shown_to_hold_longer_than_it_does(quantity):
    case = rm.example_case()
    cold = case.conditions["cold"]
    several = np.array([1.2e-3, 1.7e-3, 2.1e-3, 2.6e-3])
    found = quantity_values(case.rotor.with_interference(several), cold, [quantity])[quantity]
    each = np.array([evaluate(quantity, case.rotor.with_interference(one), cold) for one in several])
    assert np.all(found <= each * (1 + 1e-9))
    assert found == pytest.approx(each, rel=5e-3)


def test_the_first_key_of_a_rotor_that_is_loose_lets_go_at_standstill_and_guides_keep_it_centred():
    case = rm.example_case()
    cold = case.conditions["cold"]
    assert evaluate("first_key_speed", case.rotor.with_interference(0.0), cold) == 0.0
    guides = replace(case.rotor.fit, tangential_clearance=None, guide_stiffness=2e10)
    assert evaluate("centring_speed", replace(case.rotor, fit=guides), cold) == np.inf


@pytest.mark.independent
@pytest.mark.parametrize("speed", ["first key", "centring"])
def test_the_worth_of_scatter_is_that_of_a_study_of_other_sets(speed):
    case, tolerance = rm.example_case(), Tolerance("fit.key_interference", 2.1e-3, "normal", 5e-5)
    cold, draw = case.conditions["cold"], np.random.default_rng(3)
    low, high = shim_scatter(case.rotor, cold, speed, tolerance, 0.8)
    sets = np.array(case.rotor.fit.key_interference) + draw.normal(0.0, 5e-5, (512, 14))
    study = key_study(case.rotor, cold, sets)
    each = study.first_lift_off if speed == "first key" else np.minimum(study.centring_lost, study.one_sided)
    ends = [float(key_speed(case.rotor.with_interference(2.1e-3 + one), cold, speed)) for one in (low, high)]
    assert ends == pytest.approx(np.quantile(each, [0.1, 0.9]), rel=4e-3)
    assert np.mean((each > ends[0]) & (each < ends[1])) == pytest.approx(0.8, abs=0.06)


def test_scatter_of_shims_widens_the_prediction():
    case, bare = case_of(KNOWN), case_of(TEXT)
    low, high = predicted_interval(case, "first_key_speed", "cold", 0.95)
    best = evaluate("first_key_speed", case.rotor, case.conditions["cold"])
    assert low < 0.985 * best
    assert low < best < high
    assert predicted_interval(bare, "first_key_speed", "cold", 0.95) == (-np.inf, np.inf)
    alone = predicted_interval(bare, "float_speed", "cold", 0.95)
    assert predicted_interval(case, "float_speed", "cold", 0.95) == pytest.approx(alone, rel=2e-3)


@pytest.mark.parametrize(
    ("claim", "verdict"), [("150 rpm", "holds"), ("182 rpm", "not shown"), ("200 rpm", "does not hold")]
)
def test_a_claim_is_weighed_with_the_scatter_of_the_shims(claim, verdict):
    case = case_of(KNOWN, claim)
    row = judge(case, next(row for row in case.claims if row.quantity == "first_key_speed"), None)
    assert (row.verdict, row.at_least) == (verdict, True)


def test_a_review_prints_what_it_says_of_them():
    review = assess(case_of(KNOWN))
    row = rows_of(review)["first_key_speed"]
    assert row.verdict == "holds"
    assert "speed at which the first key lifts off" in review_text(review)
    table = json.loads(json.dumps(review_table(review)))
    (printed,) = [one for one in table["claims"] if one["quantity"] == "first_key_speed"]
    assert (printed["unit"], printed["verdict"]) == ("rpm", "holds")
    assert printed["predicted"] == pytest.approx(in_rpm(row.predicted), rel=1e-3)


def test_nothing_is_shown_where_the_case_does_not_say_how_well_its_shims_are_known():
    rows = rows_of(assess(case_of(TEXT)))
    for row in rows.values():
        assert row.verdict == "not shown"
        assert "give fit.key_interference_tolerance" in row.reason


def test_a_recording_speaks_of_them_with_the_scatter_of_the_shims():
    case = case_of(KNOWN, records=True)
    # the first recording decides about a claim
    rows = rows_of(assess(replace(case, records=case.records[:1], histories=())))
    claim = rows["first_key_speed"]
    assert claim.interval is not None
    assert claim.interval[0] < claim.measured < claim.interval[1]
    below, above = claim.parts["single shims"]
    assert below > above > 0.0
    assert claim.interval[0] <= claim.measured - below


def test_a_requirement_of_them_bounds_the_shrink_window():
    edges = {edge.name: edge for edge in shrink_window(case_of(KNOWN)).edges}
    case, low = case_of(KNOWN), edges["centred"].low
    cold = case.conditions["cold"]
    rated = float(case.rotor.speeds.rated)
    speed = evaluate("centring_speed", case.rotor.with_interference(low), cold)
    assert 1.0 < speed / (1.05 * rated) < 1.05  # the scatter of the shims on top
    unknown = {edge.name: edge for edge in shrink_window(case_of(TEXT)).edges}["centred"]
    assert unknown.nowhere
    assert "does not say how well single shims are known" in unknown.note


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (
            'key_width = "260 mm"\n',
            "",
            "asks for speed at which the first key lifts off; the case gives no fit.key_width",
        ),
        ("claims.first_key_speed", "claims.first_key_sped", "did you mean 'first_key_speed'?"),
        (
            'value = "150 rpm"\n',
            'value = "150 mm"\n',
            "claims.first_key_speed.value: unit 'mm' does not measure a speed",
        ),
    ],
)
def test_a_case_that_states_it_wrongly_is_refused(old, new, words):
    text = (TEXT + ASKED.format(claim="150 rpm")).replace(old, new)
    with pytest.raises(CaseError) as caught:
        parse_case(text.encode(), "unit.toml")
    assert words in str(caught.value)
