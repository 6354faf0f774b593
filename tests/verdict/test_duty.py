"""A history with all that is possible: verdicts, readings that narrow or contradict, text and JSON, bad input."""

import json
from dataclasses import replace

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.behaviour.contact.speeds import float_speed
from rimmodel.behaviour.heat.agreed import agreed_heat, reading_weights
from rimmodel.behaviour.heat.run import run_history
from rimmodel.planning.duty import find_history, run_duty
from rimmodel.planning.predicted import predicted_interval
from rimmodel.rotor.axial import Axial
from rimmodel.rotor.history import History, Reading, Segment
from rimmodel.units import RPM
from rimmodel.verdict.output.duty import drawings, event_entry, event_words, margin_words
from rimmodel.verdict.output.duty import table as duty_table
from rimmodel.verdict.output.duty import text as duty_text
from rimmodel.verdict.output.duty_words import restart_sentences, thermometer_sentence
from tests.plotting.drawn import axes_of, panels_in

CASE = rm.example_case()
HISTORY = CASE.histories[0]
DRAWS = 60


def with_history(**changes):
    return replace(CASE, histories=(replace(HISTORY, **changes),))


@pytest.fixture(scope="module")
def drawn():
    return run_duty(CASE, draws=DRAWS)


def read_from(run, draw, hours, places, uncertainty=1.0):
    """Readings as one draw of a run would show them."""
    rows = []
    for hour in hours:
        moment = int(np.argmin(np.abs(run.course.heat.time - hour * 3600)))
        time = float(run.course.heat.time[moment])
        for place in places:
            empty = Reading(time, place, 300.0, uncertainty)
            value = float(run.course.heat.state[draw, moment] @ reading_weights(run.model.network, empty))
            rows.append(replace(empty, temperature=value))
    return tuple(rows)


@pytest.mark.derived
def test_in_its_steady_state_the_float_speed_has_the_interval_of_the_review(drawn):
    low, high = predicted_interval(CASE, "float_speed", "hot", 0.95)
    assert drawn.steady_interval == (low, high)
    # the same ends come out of the history itself, once it is followed until it is warmed through
    long = replace(HISTORY, segments=(HISTORY.segments[0], replace(HISTORY.segments[1], duration=3e7)), start="hot")
    course = run_duty(replace(CASE, histories=(long,)), draws=DRAWS).run.course
    assert course.float_speed[:, -1].min() == pytest.approx(low, rel=1e-6)
    assert course.float_speed[:, -1].max() == pytest.approx(high, rel=1e-6)
    middle = float(float_speed(CASE.rotor, CASE.conditions["hot"]).speed)
    assert course.float_speed[0, -1] == pytest.approx(middle, rel=1e-9)


def test_a_margin_that_the_mean_along_the_rim_keeps_is_not_shown_where_one_end_lifts_off_before():
    even = with_history(float_speed_ratio=0.5)
    tapered = replace(even, rotor=replace(CASE.rotor, axial=Axial(interference_taper=0.4e-3)))
    [kept], [margin] = run_duty(even, draws=DRAWS).margins, run_duty(tapered, draws=DRAWS).margins
    assert (kept.verdict, margin.verdict) == ("holds", "not shown")
    assert (margin.low, margin.high) == (kept.low, kept.high)
    assert "one end lifts off before" in margin_words(margin)
    [missed] = run_duty(replace(tapered, histories=with_history(float_speed_ratio=2.0).histories), draws=DRAWS).margins
    assert missed.verdict == "does not hold"


@pytest.mark.parametrize(("ratio", "verdict"), [(0.5, "holds"), (1.0, "not shown"), (2.0, "does not hold")])
def test_a_margin_holds_only_for_all_that_is_possible(ratio, verdict):
    [margin] = run_duty(with_history(float_speed_ratio=ratio), draws=DRAWS).margins
    assert margin.verdict == verdict
    assert (margin.low >= ratio) == (verdict == "holds")
    assert (margin.high < ratio) == (verdict == "does not hold")
    assert verdict in margin_words(margin)


def test_a_least_gap_is_asked_with_what_is_not_known_of_the_gap():
    case = with_history(float_speed_ratio=None, minimum_gap=15.0e-3)
    [margin] = run_duty(case, draws=DRAWS).margins
    lowest = run_history(CASE, HISTORY, DRAWS).course.air_gap.min()
    assert margin.low < lowest - 0.1e-3  # two standard uncertainties of the cold gap are 0.2 mm
    assert margin.verdict == "not shown"


def test_what_is_open_names_two_thermometers(drawn):
    sentence, required = restart_sentences(drawn)
    head = "Earliest restart by float speed alone, with the float speed kept above "
    assert sentence.startswith(f"{head}1 x rated (125 rpm)")
    assert required.startswith("Requirement 'no_float_in_service' asks for more, 1.15 x rated. Earliest restart")
    assert "kept above 1.15 x rated (143.8 rpm)" in required
    assert "safe" not in sentence + required
    again = duty_table(drawn)["restart"]["restart_keeps_ratio_again_from_h"]
    assert f"{np.ceil(again * 10) / 10:.1f} h after the stop; before that" in sentence
    said = thermometer_sentence(drawn)
    decided = drawn.thermometers.decided
    assert said.startswith("Two thermometers, read" if decided >= 0.05 else "No two thermometers would decide it")
    assert (f"in {100 * decided:.0f} % of the machines" in said) == (decided >= 0.05)
    assert all(place in said for place in drawn.thermometers.places)
    assert drawn.thermometers.after < drawn.thermometers.before
    safe = run_duty(with_history(float_speed_ratio=0.5), draws=DRAWS)
    assert thermometer_sentence(safe) == ""
    assert ": at once; that margin is kept after any time at rest up to 168 h" in restart_sentences(safe)[0]
    calm = replace(safe, case=replace(CASE, requirements=()))
    assert len(restart_sentences(calm)) == 1


def test_holds_at_no_time_at_rest_is_not_left_beside_a_margin_that_is_lost(drawn):
    """Float speeds of two draws by hand: the margin is kept as it stops, lost for a day and a half, then kept."""
    hours = np.array([0.0, 0.1, 1.0, 36.0, 48.0])
    speed = drawn.run.restart.speed
    lowest = speed * np.array([[1.01, 0.99, 0.8, 1.02, 1.1], [1.2, 1.1, 1.1, 1.2, 1.2]])

    def said(lowest):
        found = replace(drawn.run.restart, time=3600.0 * hours, lowest=lowest, ratio=1.0)
        return restart_sentences(replace(drawn, run=replace(drawn.run, restart=found)))[0]

    words = said(lowest)
    assert "36.0 h after the stop; before that, the margin is kept at the very moment of the stop alone" in words
    assert "('holds' at 0 h at rest) and not shown to be kept any more 6 min later" in words
    assert "at any time" not in words
    never = np.where(hours < 1.0, 0.9, lowest / speed) * speed
    assert "a hot restart is not shown to keep that margin at any time" in said(never)
    for_an_hour = np.where(hours < 1.0, 1.1, lowest / speed) * speed
    assert "a hot restart keeps that margin up to 6 min after the stop" in said(for_an_hour)


def test_what_hardly_ever_happens_is_counted_and_never_0_percent(drawn):
    event = next(row for row in drawn.run.events if row.kind == "peak key force")
    said = {count: event_words(replace(event, share=count / 1200), 1200)[2] for count in (1, 6, 12, 600, 1194, 1199)}
    assert [text.rpartition("; ")[2].removesuffix(" cases worked out") for text in said.values()] == [
        "in 1 of the 1200", "in 6 of the 1200", "in 1 % of the", "in 50 % of the", "in 1194 of the 1200",
        "in 1199 of the 1200",
    ]  # fmt: skip
    assert event_words(replace(event, share=0.0), 1200)[2].endswith("in none of the 1200 cases worked out")
    assert event_entry(drawn, event)["cases"] == len(drawn.run.course.float_speed)


def test_what_happens_as_a_segment_begins_happens_in_the_cases_in_which_it_does():
    """The field comes on with the load, and its pull lifts a loose rim off between the two segments."""
    short = History("short", (Segment("start", 300.0, 125 * RPM), Segment("load", 60.0, 125 * RPM, 1.0, True)), "cold")
    run = run_history(CASE, short, DRAWS, None, CASE.rotor.with_interference(0.9e-3))
    left, segment = run.course.residual_interference, run.course.heat.segment
    begins = int(np.argmax(segment == 1))
    lifted = (left[:, begins - 1] >= 0) & (left[:, begins] < 0)
    assert lifted[0], "the first case shows the event"
    [event] = [row for row in run.events if row.kind == "floats"]
    assert event.share == lifted.mean() > 0.0


@pytest.mark.derived
def test_readings_narrow_the_ranges_and_keep_the_truth():
    truth, draw = run_history(CASE, HISTORY, DRAWS), 7
    readings = read_from(truth, draw, (13.0, 14.2), ("rim_bore", "spider", "stator"))
    case = with_history(readings=readings)
    agreed = agreed_heat(case, case.histories[0], DRAWS)
    assert agreed.contradiction == ""
    assert agreed.misfit < 1e-12  # the draw that was read is among those that are looked at
    found = run_duty(case, draws=DRAWS)
    true = truth.course.float_speed[draw]
    nominal = found.run.course.float_speed[: len(agreed.values["air_rise"])]
    assert np.all(nominal.min(axis=0) <= true * (1 + 1e-9))
    assert np.all(nominal.max(axis=0) >= true * (1 - 1e-9))
    # text and JSON say what the readings leave of each range, and the truth is in it
    rows = {row["name"]: row for row in duty_table(found)["ranges"]}
    for name, column in truth.model.values.items():
        low, high = rows[name]["left_by_readings"]
        assert rows[name]["low"] - 1e-9 <= low <= column[draw] * (1 + 1e-9)
        assert column[draw] * (1 - 1e-9) <= high <= rows[name]["high"] + 1e-9
    assert duty_text(found).count("left by the readings") == len(rows)
    before = np.ptp(truth.course.float_speed, axis=0)
    after = np.ptp(nominal, axis=0)
    resting = truth.course.heat.segment >= 4
    assert np.mean(after[resting]) < 0.7 * np.mean(before[resting])


def test_readings_that_no_draw_comes_near_are_bred_for():
    # a draw that lies between all corners is found by moving along differences of others
    truth = run_history(CASE, HISTORY, 400)
    readings = read_from(truth, 399, (3.0, 9.0, 13.0), ("rim_bore", "rim_outer", "spider", "hub"), uncertainty=0.4)
    case = with_history(readings=readings)
    agreed = agreed_heat(case, case.histories[0], DRAWS)
    assert agreed.contradiction == ""
    assert len(agreed.values["air_rise"]) >= DRAWS / 3


def test_readings_that_contradict_show_nothing():
    readings = read_from(run_history(CASE, HISTORY, DRAWS), 0, (13.0, 14.2), ("rim_bore", "spider"))
    wrong = (replace(readings[0], temperature=readings[0].temperature - 15.0), *readings[1:])
    found = run_duty(with_history(readings=wrong), draws=DRAWS)
    assert f"rim bore at {wrong[0].time / 3600:.2f} h" in found.refusal
    assert "contradict the model" in found.refusal
    assert {row.verdict for row in found.margins} == {"not shown"}
    assert thermometer_sentence(found) == ""
    table = duty_table(found)
    assert table["restart"]["restart_keeps_ratio_again_from_h"] is None
    assert set(table["restart"]["lock_out"]["rated"]) == {"not shown"}


def test_a_doubt_that_blocks_the_case_shows_nothing():
    strong = replace(CASE.conditions["hot"], flux_density=1.35)  # of 0.8 to 1.05 T that machines have
    case = replace(CASE, conditions={**CASE.conditions, "hot": strong})
    found = run_duty(case, draws=DRAWS)
    assert "the case is in doubt" in found.refusal
    assert {row.verdict for row in found.margins} == {"not shown"}


def test_text_json_and_figures_are_whole(drawn):
    text, table = duty_text(drawn), duty_table(drawn)
    json.dumps(table, allow_nan=False)
    for word in ("nan", "inf "):
        assert word not in text
    assert {"time_h", "speed_rpm", "float_speed_rpm", "events", "restart", "margins", "sentences"} <= table.keys()
    assert len(table["time_h"]) == len(table["float_speed_rpm"]["middle"]) == len(table["speed_rpm"])
    for event in table["events"]:
        assert f"{event['time_h']:.3f}" in text
    flat = " ".join(text.split())
    for sentence in table["sentences"]:
        assert sentence in flat
    assert set(drawings(drawn)) == {"duty", "restart"}
    assert table["heat_imbalance"] < 1e-10
    assert all(row["left_by_readings"] is None for row in table["ranges"])
    assert table["steady_float_speed_interval_rpm"][0] == pytest.approx(drawn.steady_interval[0] / RPM)


def test_the_command_prints_and_writes_the_same(rim, tmp_path):
    code, out, err = rim("duty", "--draws", "50", "--json", "--out", tmp_path)
    assert code == 0
    assert (tmp_path / "duty.json").read_text(encoding="utf-8") == out
    assert all(name in err for name in ("duty.txt", "duty.json", "duty.svg", "restart.svg"))
    drawn = {name: draw() for name, draw in drawings(run_duty(CASE, draws=50)).items()}
    for name in ("duty", "restart"):
        svg = (tmp_path / f"{name}.svg").read_text(encoding="utf-8")
        assert panels_in(svg) == len(axes_of(drawn[name]))
    code, out, err = rim("duty", "--draws", "50", "--out", tmp_path)
    assert code == 2
    assert "already exists" in err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--draws", "3"), "--draws is 3; it must be from 40 to 20000"),
        (("--history", "stop"), "no history 'stop'; there are: stop_and_restart"),
        (("--out", ""), "--out is given without a name"),
    ],
)
def test_bad_words_end_in_one_line(rim, words, said):
    code, out, err = rim("duty", *words)
    assert (code, out) == (2, "")
    assert said in err
    assert len(err.splitlines()) == 1


def test_a_case_without_histories_says_where_to_find_one():
    with pytest.raises(ValueError, match=r"has no \[histories.NAME\]"):
        find_history(replace(CASE, histories=()))


@pytest.mark.derived
def test_times_of_a_restart_with_another_ratio_are_those_at_which_every_draw_keeps_it(drawn):
    found = drawn.run.restart
    for ratio in (0.9, 1.0, 1.05, 1.15, 5.0):
        kept = np.all(found.lowest >= ratio * found.speed, axis=0)
        until, again = found.windows(ratio)
        assert np.isinf(until) == kept.all()
        assert np.isnan(again) == (not kept[-1])
        if np.isfinite(again) and again > 0:
            assert kept[found.time >= again].all()
            assert not kept[np.flatnonzero(found.time == again)[0] - 1]
