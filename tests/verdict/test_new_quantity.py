"""A quantity that the house does not have, registered in one place, is claimed, required, studied and printed."""

import json
from dataclasses import replace

import numpy as np
import pytest

from rimmodel.behaviour.limits.machine import checks
from rimmodel.behaviour.quantities import evaluate, interval_text, quantity_text, quantity_values
from rimmodel.planning.shrink_window import shrink_window
from rimmodel.rotor import UNIFORM_COLD
from rimmodel.rotor.case.case import EXAMPLES, CaseError, example_case, parse_case
from rimmodel.rotor.case.format import case_schema
from rimmodel.rotor.quantity import POSITIVE
from rimmodel.rotor.registry import QUANTITIES, Limit, Quantity, find_quantity, quantity_names, register
from rimmodel.units import KILONEWTON, PrintUnit
from rimmodel.verdict.assess import assess
from rimmodel.verdict.limits import check_text
from rimmodel.verdict.output.limits import limits_table
from rimmodel.verdict.output.study import table as study_table
from rimmodel.verdict.output.study import text as study_text
from rimmodel.verdict.output.tables import table as review_table
from rimmodel.verdict.output.text import text as review_text
from rimmodel.verdict.tolerance_study import run_study

TEXT = (EXAMPLES / "quillmere.toml").read_text(encoding="utf-8")
ASKED = """
[claims.key_force_at_rated]
value = "900 kN"
condition = "cold"
[requirements.seated]
quantity = "key_force_at_standstill"
condition = "cold"
at_least = "1000 kN"
"""
LARGEST = 1e7


def _key_force(state):
    rim, keys = state.rotor.rim, state.rotor.key_count
    return state.contact.contact_pressure * 2 * np.pi * rim.inner_radius * rim.length / keys


@pytest.fixture
def key_force():
    """The mean force on a key: an invented quantity, printed with a decimal more than others of its kind."""
    entry = Quantity(
        "key_force",
        "force",
        "mean force on a key",
        _key_force,
        unit=PrintUnit("kN", KILONEWTON, 1),
        rule=POSITIVE,
        studied_at="overspeed",
        slip_of_floor=lambda rotor, value: "asks for more than a key can carry" if value > LARGEST else "",
    )
    yield register(entry)
    del QUANTITIES["key_force"]


@pytest.fixture
def case(key_force):
    return parse_case((TEXT + ASKED).encode(), "unit.toml", EXAMPLES / "quillmere.toml")


def by_hand(case, speed):
    """Of the contact pressure over the bore of the rim, shared by 14 keys."""
    pressure = evaluate(f"contact_pressure_at_{speed}", case.rotor, case.conditions["cold"])
    return pressure * 2 * np.pi * case.rotor.rim.inner_radius * case.rotor.rim.length / 14


def test_it_is_predicted_for_a_rotor_and_for_many(case):
    rotor, cold = case.rotor, case.conditions["cold"]
    assert evaluate("key_force_at_rated", rotor, cold) == pytest.approx(by_hand(case, "rated"), rel=1e-12)
    several = rotor.with_interference(np.array([1.0e-3, 2.1e-3]))
    found = quantity_values(several, cold, ["key_force_at_rated"])["key_force_at_rated"]
    assert found.shape == (2,)
    assert found[1] == pytest.approx(by_hand(case, "rated"), rel=1e-12)


def test_it_is_claimed_required_judged_and_printed(case):
    review = assess(replace(case, records=case.records[:1], histories=()))
    rows = {row.name: row for row in review.findings}
    claim, seated = rows["key_force_at_rated"], rows["seated"]
    assert (claim.stated, seated.stated) == (pytest.approx(9e5), pytest.approx(1e6))
    assert claim.at_least
    assert claim.predicted == pytest.approx(by_hand(case, "rated"), rel=1e-12)
    assert claim.predicted_interval[0] < claim.predicted < claim.predicted_interval[1]
    assert claim.interval is not None  # a recording of the gap speaks of it
    shown = f"{claim.predicted / KILONEWTON:.1f} kN"
    assert quantity_text("key_force_at_rated", claim.predicted) == shown
    assert "mean force on a key at rated, cold" in review_text(review)
    table = json.loads(json.dumps(review_table(review)))
    (row,) = [row for row in table["claims"] if row["quantity"] == "key_force_at_rated"]
    assert (row["unit"], row["predicted"]) == ("kN", pytest.approx(claim.predicted / 1e3))


def test_it_bounds_the_shrink_window(case):
    (edge,) = [edge for edge in shrink_window(case).edges if edge.name == "seated"]
    low = case.rotor.with_interference(edge.low)
    assert evaluate("key_force_at_standstill", low, case.conditions["cold"]) == pytest.approx(1e6, rel=1e-6)


def test_it_is_studied_unasked_and_as_asked(case):
    done = run_study(case, 2**13, index_samples=0)
    names = [row.name for row in done.asked]
    assert "key_force_at_overspeed, hot" in names  # by its entry
    assert {"key_force_at_rated, cold", "key_force_at_standstill, cold"} < set(names)
    assert "mean force on a key at overspeed, hot" in study_text(done)
    (row,) = [row for row in study_table(done)["outputs"] if row["quantity"] == "key_force_at_rated"]
    assert row["unit"] == "kN"
    assert row["mean"] == pytest.approx(by_hand(case, "rated") / 1e3, rel=0.02)


def test_a_slip_of_it_blocks_the_verdict(case):
    (claim,) = [row for row in case.claims if row.quantity == "key_force_at_rated"]
    (found,) = [
        row
        for row in assess(replace(case, claims=(replace(claim, value=2 * LARGEST),), records=()), []).findings
        if row.role == "claim"
    ]
    assert found.verdict == "not shown"
    assert "asks for more than a key can carry" in found.reason


def test_the_schema_holds_it_only_while_it_is_registered(key_force):
    assert "key_force_at_runaway" in json.dumps(case_schema())
    del QUANTITIES["key_force"]
    assert "key_force" not in json.dumps(case_schema())
    register(key_force)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("claims.key_force_at_rated", "claims.key_farce_at_rated", "did you mean 'key_force_at_rated'?"),
        ('"key_force_at_standstill"', '"key_force"', "requirements.seated.quantity is 'key_force'"),
        ('"900 kN"', '"900 mm"', "claims.key_force_at_rated.value: unit 'mm' does not measure a force"),
        ('"900 kN"', '"0 kN"', "claims.key_force_at_rated.value is '0 kN'; it must be above zero"),
    ],
)
def test_a_case_that_states_it_wrongly_is_refused(key_force, old, new, words):
    with pytest.raises(CaseError) as caught:
        parse_case((TEXT + ASKED.replace(old, new)).encode(), "unit.toml")
    assert words in str(caught.value)


def test_what_it_needs_is_asked_for(key_force):
    QUANTITIES["key_force"] = replace(key_force, needs=("rim.shear_modulus",))
    bare = "\n".join(line for line in TEXT.splitlines() if not line.startswith("shear_modulus"))
    with pytest.raises(
        CaseError, match=r"key_force_at_rated asks for mean force on a key; the case gives no rim\.shear"
    ):
        parse_case((bare + ASKED).encode(), "unit.toml")
    case = example_case()
    rotor = replace(case.rotor, rim=replace(case.rotor.rim, shear_modulus=None))
    with pytest.raises(ValueError, match=r"key_force_at_rated: the case gives no rim\.shear_modulus"):
        quantity_values(rotor, case.conditions["cold"], ["key_force_at_rated"])


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"name": "gap"}, "registered already"),
        ({"name": "gap_at_rated"}, "without '_at_'"),
        ({"name": "two words"}, "one word"),
        ({"name": "other", "kind": "warmth"}, "has the kind 'warmth'"),
        ({"name": "other", "kind": "density", "unit": None}, "needs a unit of print: density has none"),
        ({"name": "other", "kind": "temperature", "unit": None}, "whose zero is not that of SI"),
    ],
)
def test_an_entry_that_cannot_be_asked_for_is_refused(key_force, change, words):
    with pytest.raises(ValueError, match=words):
        register(replace(key_force, **change))


def test_an_interval_has_a_unit_of_two_words_once(key_force):
    QUANTITIES["key_force"] = replace(key_force, kind="torque", unit=None)
    assert interval_text("key_force_at_rated", (1e6, 2e6)) == "1000 to 2000 kN m"


def test_every_name_is_found_and_no_other():
    assert all(find_quantity(name) is not None for name in quantity_names())
    for name in ("gap", "gap_at_", "gap_at_noon", "float_speed_at_rated", "_at_rated", ""):
        assert find_quantity(name) is None


SHARE = "[limits]\nkey_share = 0.5\n"


@pytest.fixture
def limited(key_force):
    """The same quantity with a limit of its own: a share of what the interference would press on 14 rigid keys."""
    limit = Limit(
        "key_share",
        0.4,
        "force on a key over 2500 kN",
        "invented",
        lambda rotor: None if rotor.fit.key_width is None else 2.5e6,
        "fit.key_width",
    )
    QUANTITIES["key_force"] = replace(key_force, limit=limit, less_is_better=True)
    return limit


def test_its_limit_is_checked_printed_and_bounds_the_window(limited):
    case = parse_case((TEXT + ASKED).encode(), "unit.toml", EXAMPLES / "quillmere.toml")
    found = assess(replace(case, records=()), [])
    rows = {row.at: row for row in found.checks if row.name == "mean force on a key"}
    assert list(rows) == ["standstill", "rated", "overspeed", "runaway"]
    still = rows["standstill"]
    assert (float(still.limit), still.at_most, still.source) == (pytest.approx(1e6), True, "invented")
    forces = [
        evaluate("key_force_at_standstill", case.rotor, state) for state in (*case.conditions.values(), UNIFORM_COLD)
    ]
    assert float(still.value) == pytest.approx(max(forces), rel=1e-12)
    (row,) = [row for row in limits_table(found.checks) if row["name"] == still.name and row["at"] == "standstill"]
    assert (row["unit"], row["limit"]) == ("kN", pytest.approx(1000.0))
    assert check_text(still.limit, still) == "1,000 kN"
    (edge,) = [edge for edge in found.window.edges if (edge.name, edge.at) == (still.name, "standstill")]
    pressed = evaluate(
        "key_force_at_standstill", case.rotor.with_interference(edge.high), case.conditions[edge.condition]
    )
    assert pressed == pytest.approx(1e6, rel=1e-6)


def test_a_case_replaces_its_limit(limited):
    text = f"{TEXT}\n{SHARE}"
    case = parse_case(text.encode(), "unit.toml")
    assert case.limits.of_quantity(limited) == (0.5, "stated in the case")
    assert case.limits == replace(case.limits, of_quantities=(("key_share", 0.5),))
    with pytest.raises(
        CaseError, match=r"limits\.key_share is -0\.5 \(force on a key over 2500 kN\); it must be above zero"
    ):
        parse_case(text.replace("key_share = 0.5", "key_share = -0.5").encode(), "unit.toml")
    assert "key_share" in json.dumps(case_schema())


def test_a_limit_without_its_reference_is_not_checked(limited):
    rotor = replace(example_case().rotor, fit=replace(example_case().rotor.fit, key_width=None))
    rows = [row for row in checks(rotor, example_case().conditions) if row.name == "mean force on a key"]
    assert {row.missing for row in rows} == {"fit.key_width"}
    QUANTITIES["key_force"] = replace(QUANTITIES["key_force"], needs=("rim.shear_modulus",))
    bare = replace(example_case().rotor, rim=replace(example_case().rotor.rim, shear_modulus=None))
    rows = [row for row in checks(bare, example_case().conditions) if row.name == "mean force on a key"]
    assert {row.missing for row in rows} == {"rim.shear_modulus"}


def test_a_limit_whose_key_is_taken_is_refused(limited, key_force):
    for key in ("key_share", "arm_share_of_yield"):
        with pytest.raises(ValueError, match=f"limit '{key}': there is one of that name"):
            register(replace(key_force, name="other", limit=replace(limited, key=key)))


def test_without_it_the_key_is_unknown(key_force):
    with pytest.raises(CaseError, match=r"limits\.key_share: unknown key"):
        parse_case(f"{TEXT}\n{SHARE}".encode(), "unit.toml")
