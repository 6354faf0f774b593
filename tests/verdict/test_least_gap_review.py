"""The least gap in a review: required, judged by the machine, by single poles and by marks; printed as in JSON."""

import json
import re
from dataclasses import replace
from functools import cache
from math import isfinite

import numpy as np
import pytest

from rimmodel.behaviour.quantities import evaluate
from rimmodel.evidence.measured.least_gaps import shown_at, touched_bound, unseen_bore
from rimmodel.evidence.measured.machine import ByTest
from rimmodel.evidence.reduction.amplitude import Amplitude
from rimmodel.evidence.reduction.bore_split import PlaneGap, SensorErrors, sight
from rimmodel.planning.least_gap import least_gap_curve
from rimmodel.planning.predicted import predicted_interval
from rimmodel.rotor import Assembly
from rimmodel.rotor.case.case import EXAMPLES, CaseError, parse_case
from rimmodel.rotor.case.doubts import case_doubts
from rimmodel.rotor.requirements import WitnessMark
from rimmodel.verdict.assess import assess
from rimmodel.verdict.judge import judge
from rimmodel.verdict.output.least_gap import statements
from rimmodel.verdict.output.least_gap import table as least_gap_table
from rimmodel.verdict.output.least_gap import text as least_gap_text
from rimmodel.verdict.records import planes_of_records
from rimmodel.verdict.single_poles import with_poles
from tests.verdict.printed_numbers import agree, printed

TEXT = (EXAMPLES / "quillmere.toml").read_text(encoding="utf-8")
ASKED = """
[requirements.least_gap_at_overspeed]
quantity = "least_gap_at_overspeed"
condition = "cold"
at_least = "{value}"
"""


@cache
def case_of(value="11 mm", more=""):
    return parse_case((TEXT + ASKED.format(value=value) + more).encode(), "unit.toml", EXAMPLES / "quillmere.toml")


def requirement(case):
    (row,) = [row for row in case.requirements if row.quantity == "least_gap_at_overspeed"]
    return row


def plane(speed, low, high):
    none = Amplitude(*(np.full(len(speed), np.nan) for _ in range(5)))
    n = len(speed)
    return PlaneGap(
        np.array(speed), np.full(n, "up"), np.full(n, 14e-3), none, none, none, none, none,
        np.zeros(n), np.zeros(n),
        np.array(high), np.array(low), np.array(high), np.zeros(n), np.ones(n, int), sight(np.arange(6.0)), 6,
        SensorErrors(0, 0, 0, 0), 0.95,
    )  # fmt: skip


def test_it_is_required_and_judged_on_the_safe_side_of_the_mean_gap():
    case = replace(case_of(), records=())
    row = next(row for row in assess(case, []).findings if row.quantity == "least_gap_at_overspeed")
    mean = evaluate("gap_at_overspeed", case.rotor, case.conditions["cold"])
    assert row.predicted < mean - 1e-3
    assert row.verdict == "holds"
    low, high = row.predicted_interval
    assert low < row.predicted < high or low <= high


def test_single_poles_of_the_run_can_only_make_it_narrower():
    """The second run of the invented machine reads every pole at overspeed."""
    case = case_of()
    case = replace(case, records=case.records[-1:], histories=())
    row = next(row for row in assess(case).findings if row.quantity == "least_gap_at_overspeed")
    assert "single poles" in row.measured_how
    (record,) = planes_of_records(case, None)
    shown = shown_at(record.planes, float(case.rotor.speeds.overspeed))
    assert row.interval[0] <= shown[0]
    assert row.interval[1] <= shown[1]


def known(low, high):
    return (ByTest(0.5 * (low + high), (low, high), {}, {}), "the machine"), (low, high)


@pytest.mark.parametrize(
    ("poles", "expected"),
    [
        ((9e-3, 10e-3), (9e-3, 10e-3)),  # narrower
        ((13e-3, 14e-3), (11e-3, 12e-3)),  # wider: the machine stays
        ((10e-3, 13e-3), (10e-3, 12e-3)),
    ],
)
def test_the_more_cautious_end_counts_on_each_side(poles, expected):
    case = case_of()
    speed = float(case.rotor.speeds.overspeed)
    found, how = with_poles(
        case, "least_gap_at_overspeed", "cold", known(11e-3, 12e-3), {"": plane([speed], [poles[0]], [poles[1]])}
    )
    assert found.interval == pytest.approx(expected)
    assert found.best <= found.interval[1]
    assert how == "the machine, single poles"


def test_another_speed_says_nothing():
    case = case_of()
    found, how = with_poles(
        case, "least_gap_at_overspeed", "cold", known(11e-3, 12e-3), {"": plane([1.0], [1e-3], [2e-3])}
    )
    assert found.interval == (11e-3, 12e-3)
    assert how == "the machine"


def test_a_touched_mark_bounds_it_from_above_and_a_clear_mark_does_not():
    case = replace(case_of(), witness_marks=(WitnessMark(10e-3, "touched", 15.0),))
    found, how = with_poles(case, "least_gap_at_overspeed", "cold", known(9e-3, 12e-3), {})
    assert found.interval == (9e-3, 10e-3)
    assert "touched" in how
    against, _ = with_poles(case, "least_gap_at_overspeed", "cold", known(11e-3, 12e-3), {})
    assert against.interval == (-np.inf, 10e-3)  # the machine is wrong: no lower end is left
    clear = replace(case, witness_marks=(WitnessMark(10e-3, "clear", 15.0),))
    assert with_poles(clear, "least_gap_at_overspeed", "cold", known(9e-3, 12e-3), {})[0].interval == (9e-3, 12e-3)
    marks = case.witness_marks
    assert touched_bound(marks, "cold", "cold", 10.0) == np.inf  # touched in a faster run
    assert touched_bound(marks, "hot", "cold", 15.0) == np.inf
    assert touched_bound(marks, "cold", "cold", 15.0) == 10e-3


def test_a_touched_mark_decides_where_there_is_no_recording():
    mark = '[[witness_marks]]\ngap = "10.5 mm"\nmark = "touched"\nhighest_speed = "overspeed"\ncondition = "cold"\n'
    case = replace(case_of("11 mm", mark), records=())
    row = judge(case, requirement(case), None)
    assert row.verdict == "does not hold"
    assert row.interval == (-np.inf, pytest.approx(10.5e-3))
    assert "touched" in row.reason


def test_what_sensors_do_not_see_is_the_survey_above_or_the_tolerance():
    rotor = case_of().rotor
    cold = case_of().conditions["cold"]
    assert unseen_bore(rotor, cold, 2) == pytest.approx(0.05e-3)  # harmonic 3 of the survey
    assert unseen_bore(rotor, cold, 3) == 0.0
    bare = replace(rotor, assembly=Assembly())
    assert unseen_bore(bare, cold, 3) == pytest.approx(0.05 * 16e-3)


@cache
def shown():
    case = case_of()
    curve = least_gap_curve(case, "cold", case.conditions["cold"])
    records = planes_of_records(case, None)
    return case, curve, records


def test_every_number_of_the_text_stands_in_json():
    case, curve, records = shown()
    table = json.loads(json.dumps(least_gap_table(case, curve, records), allow_nan=False))
    text = least_gap_text(case, curve, records)
    for sentence in table["statements"]:
        assert f"- {sentence}" in text
        text = text.replace(f"- {sentence}", "")
    values = []

    def collect(part):
        if isinstance(part, dict):
            list(map(collect, part.values()))
        elif isinstance(part, list):
            list(map(collect, part))
        elif isinstance(part, int | float) and not isinstance(part, bool):
            values.append(float(part))

    collect(table)
    for row in text.splitlines():
        for number in printed(row):
            assert any(agree(number, value) for value in values), (number, row)
    for name, row in table["at"].items():
        (line,) = re.findall(rf"^{name} .*$", text, re.MULTILINE)
        numbers = [
            row["speed_rpm"],
            row["mean_gap_mm"],
            row["least_gap_mm"],
            *row["interval_mm"],
            row["stator_angle_deg"],
        ]
        assert all(agree(a, b) for a, b in zip(printed(line), numbers, strict=True)), line


def test_the_curve_agrees_with_the_quantity_and_its_interval():
    case, curve, _ = shown()
    for row in curve.at:
        assert row.gap == pytest.approx(
            evaluate(f"least_gap_at_{row.name}", case.rotor, case.conditions["cold"]), abs=3e-7
        )
        assert np.nanmin(row.profile) == pytest.approx(row.gap, abs=2e-6)
    low, high = predicted_interval(case, "least_gap_at_rated", "cold", 0.95)
    rated = next(row for row in curve.at if row.name == "rated")
    assert high - low == pytest.approx(rated.interval[1] - rated.interval[0], rel=0.15)


def test_the_statements_name_what_is_guessed_and_who_decides():
    case, curve, records = shown()
    text = " ".join(statements(case, curve, records))
    assert (
        "Not measured, taken off at the full assembly tolerance at standstill: shape of the pole faces: 0.80 mm" in text
    )
    assert "local practice" in text
    assert "cannot see are not zero" in text
    bare = replace(case, rotor=replace(case.rotor, assembly=Assembly(), rim=replace(case.rotor.rim, shape=())))
    words = " ".join(statements(bare, least_gap_curve(bare, "cold", bare.conditions["cold"]), []))
    assert "Not stated and not taken off: orbit of the shaft" in words
    assert "count as rigid" in words


def test_a_state_that_nothing_holds_has_no_number_and_says_so():
    case = case_of()
    weak = replace(case, rotor=replace(case.rotor, assembly=replace(case.rotor.assembly, shaft_stiffness=2e8)))
    curve = least_gap_curve(weak, "hot", weak.conditions["hot"])
    assert not isfinite(curve.at[-1].gap)
    table = json.loads(json.dumps(least_gap_table(weak, curve, []), allow_nan=False))
    assert table["at"]["runaway"]["least_gap_mm"] is None
    assert any("Do not run there" in line for line in table["statements"])
    assert "nan" not in least_gap_text(weak, curve, [])


def test_a_least_gap_that_anything_meets_is_a_slip():
    doubts = case_doubts(case_of("0.5 mm"))
    assert any("less than a twentieth of the cold gap" in doubt.text for doubt in doubts)


def test_the_orbit_must_be_stated_where_a_least_gap_is_required():
    text = TEXT.replace('orbit = "0.15 mm"\n', "") + ASKED.format(value="11 mm")
    with pytest.raises(CaseError, match=r"asks for least air gap; the case gives no assembly\.orbit"):
        parse_case(text.encode(), "unit.toml")


MARK = '[[witness_marks]]\ngap = "3 mm"\nmark = "touched"\nhighest_speed = "overspeed"\n'


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"3 mm"', '"30 mm"', "witness_marks[1].gap is 30 mm; it must be below the cold gap, 16 mm"),
        ('"3 mm"', '"3 m"', "witness_marks[1].gap"),
        ('"touched"', '"scratched"', "it must be 'touched' or 'clear'"),
        ('"overspeed"', '"standstill"', "a mark needs a run"),
        ('"overspeed"', '"overspead"', "did you mean 'overspeed'?"),
        ("[[witness_marks]]", "[witness_marks]", "it must be a list of tables, each headed [[witness_marks]]"),
        ("gap =", "gapp =", "unknown key"),
    ],
)
def test_a_mark_that_is_stated_wrongly_is_refused(old, new, words):
    with pytest.raises(CaseError) as caught:
        parse_case((TEXT + MARK.replace(old, new)).encode(), "unit.toml")
    assert words in str(caught.value)


def test_the_command_prints_draws_and_refuses(rim, tmp_path):
    code, out, err = rim("least-gap", "--json", "--out", tmp_path)
    assert code == 0
    table = json.loads(out)
    assert {
        "title",
        "condition",
        "speed_rpm",
        "least_gap_mm",
        "at",
        "taken_off",
        "records",
        "statements",
    } <= table.keys()
    assert len(table["speed_rpm"]) == len(table["least_gap_mm"])
    assert {path.name for path in tmp_path.iterdir()} == {"least_gap_speed.svg", "least_gap_angle.svg"}
    assert "wrote" in err
    code, out, err = rim("least-gap", "--condition", "warm")
    assert (code, out) == (2, "")
    assert "no condition 'warm'" in err
