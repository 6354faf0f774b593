"""Every number that a command prints stands in its JSON and rounds alike.

A text is taken apart row by row, each row held against the key of JSON where its number belongs. Sentences must stand
in JSON word for word. What is left then holds no digit, so no number of a text escapes; those of fixed words are
listed.
"""

import json
import re
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

import rimmodel as rm
from rimmodel.behaviour.heat.restart import REST_TIMES
from rimmodel.behaviour.quantities import plain_name
from rimmodel.planning.duty import run_duty
from rimmodel.planning.proving_run import run_plan
from rimmodel.planning.shrink_window import shrink_window
from rimmodel.verdict.output.duty import table as duty_table
from rimmodel.verdict.output.duty import text as duty_text
from rimmodel.verdict.output.fit import comparison_table, fit_table
from rimmodel.verdict.output.fit import text as fit_text
from rimmodel.verdict.output.keys import run_keys
from rimmodel.verdict.output.keys import table as keys_table
from rimmodel.verdict.output.keys import text as keys_text
from rimmodel.verdict.output.plan import table as plan_table
from rimmodel.verdict.output.plan import text as plan_text
from rimmodel.verdict.output.pooled import pooled_table, pooled_text
from rimmodel.verdict.output.study import table as study_table
from rimmodel.verdict.output.study import text as study_text
from rimmodel.verdict.output.window import table as window_table
from rimmodel.verdict.output.window import text as window_text
from rimmodel.verdict.tolerance_study import run_study
from tests.verdict.printed_numbers import assert_same, json_numbers, printed
from tests.verdict.ten_cases import CASES, reviewed

CASE = rm.example_case()
N = r"([+-]?\d[\d,]*(?:\.\d+)?)"
"""A number in a pattern."""


def in_json(table):
    """As a reader of the file finds it."""
    return json.loads(json.dumps(table, allow_nan=False))


class Text:
    """A text from which rows are taken until nothing is left."""

    def __init__(self, text):
        self.left = text

    def take(self, pattern):
        """All matches, which go; a blank of the pattern stands for blanks and line ends, N for a number."""
        written = re.compile(pattern.replace(r"\ ", " ").replace(" ", r"\s+").replace("#", N), re.MULTILINE)
        found = list(written.finditer(self.left))
        self.left = written.sub("\n", self.left)
        return found

    def one(self, pattern):
        (found,) = self.take(pattern)
        return found

    def hold(self, pattern, *values):
        """The one match holds these numbers, as JSON has them."""
        assert_same(pattern, {"text": plain(self.one(pattern).groups()), "json": json_numbers(list(values))})

    def nothing_left(self, table, *fixed):
        """Without the sentences of JSON and the fixed words, no number is left."""
        left = bare(self.left)
        for sentence in sorted({*sentences(table), *fixed}, key=len, reverse=True):
            left = left.replace(bare(sentence), "|")
        assert not re.search(r"\d", left), left


def bare(words):
    """Lines break at blanks and hyphens, so neither counts."""
    return "".join(words.split())


def plain(numbers):
    return [number.replace(",", "").lstrip("+") for number in numbers]


def sentences(table):
    """Strings of JSON that are long enough to be looked for."""
    if isinstance(table, str):
        return [table] if len(table) > 12 else []
    inner = table.values() if isinstance(table, dict) else table if isinstance(table, list) else []
    return [sentence for value in inner for sentence in sentences(value)]


# ------------------------------------------------------------------------------------------------- fit


def fit_rows(run):
    """Numbers of JSON by the label of their row in the text."""
    rows = {
        f"float speed, {condition}": [entry["float_speed_rpm"], *entry["float_speed_interval_rpm"]]
        for condition, entry in run["float_speed_by_condition"].items()
    }
    rows["effective interference"] = [run["interference_mm"], *run["interference_interval_mm"]]
    rows["hoop stiffness factor"] = [run["hoop_stiffness_factor"], *run["hoop_stiffness_factor_interval"]]
    rows["lift-off, all points"] = [run["lift_off_in_run_rpm"], *run["lift_off_in_run_interval_rpm"]]
    for label, key in (("run-up", "up"), ("run-down", "down")):
        if entry := run["directions"].get(key):
            rows[label] = [entry["float_speed_rpm"], *entry["float_speed_interval_rpm"]]
    for plane, entry in run["planes"].items():
        rows[f"plane {plane}"] = [entry["float_speed_rpm"], *entry["float_speed_interval_rpm"]]
    if ends := run["two_ends"]:
        rows[f"{ends['last']} minus {ends['first']}"] = [
            ends["last_less_first_rpm"], *ends["last_less_first_interval_rpm"],
        ]  # fmt: skip
    if run["down_less_up_interval_rpm"] is not None:
        rows["run-down minus run-up"] = [run["down_less_up_rpm"], *run["down_less_up_interval_rpm"]]
    return rows


def hold_fit(text, run):
    label = re.escape(run["label"])
    assert text.one(rf"^{label} \((\w+)\): ([A-Z ]+)$").groups() == (run["condition"], run["verdict"].upper())
    for name, values in fit_rows(run).items():
        words = text.one(rf"^[^\S\n]{{4,6}}{re.escape(name)}[^\S\n]{{2,}}(.*)$")[1]
        if words in ("not resolvable", "above tested range", "already floating"):
            assert run["verdict"] != "resolved" or not name.startswith(("float speed", "lift-off")), (label, name)
        else:
            assert_same((label, name), {"text": printed(words), "json": json_numbers(values)})
    if level := run["gap_level"]:
        seen = text.one(r"gap level less expected # mm, standard uncertainty # mm \(at this interference\)")
        nearest = min((level["difference_mm"][cause] for cause in level["interference_lost_by"]), key=abs)
        assert_same("gap level", {
            "text": plain(seen.groups()), "json": [nearest, level["standard_uncertainty_mm"]],
        })  # fmt: skip
    for row in run["apparent_shifts"]:
        start = rf"{re.escape(row['cause'])}  {re.escape(row['assumed'])}"
        if row["float_speed_shift_rpm"] is None:
            text.one(f"{start} no knee is left")
        else:
            text.hold(f"{start} # rpm # mm$", row["float_speed_shift_rpm"], row["interference_shift_mm"])
    found = text.one(r"The rim (lifts off|shows no)([\s\S]*?)\.\n")
    own = run["float_speed_by_condition"][run["condition"]]
    ends = json_numbers([own["float_speed_rpm"], *own["float_speed_interval_rpm"]])
    if found[1] == "lifts off":
        numbers = re.match(r"[\s\S]*?confidence", found[2])[0]
        assert_same((label, "lifts off"), {"text": printed(numbers), "json": [*ends, 100 * run["confidence"]]})
    elif spoken := re.findall(rf"(?:above|below)\s+{N}\s+rpm", found[2]):
        assert set(spoken) <= {f"{end:.1f}" for end in ends}, (spoken, ends)


@pytest.mark.parametrize(
    "name", ["two records", "a record that decides nothing", "seated only", "floating only", "the stack has grown"]
)
def test_fit(name):
    found = reviewed(name)
    table = in_json({
        "records": [fit_table(run) for run in found.measurements],
        "comparisons": [comparison_table(row) for row in found.comparisons],
    })  # fmt: skip
    assert name in CASES
    blocks = [Text(fit_text([run], [])) for run in found.measurements]
    for text, run in zip(blocks, table["records"], strict=True):
        hold_fit(text, run)
        text.nothing_left(run)
    for row, change in zip(found.comparisons, table["comparisons"], strict=True):
        text = Text(fit_text([], [row]))
        text.hold(
            r"interference changed by # mm \(# to # mm\)",
            change["interference_change_mm"],
            *change["interference_change_interval_mm"],
        )
        text.hold(
            r"the float speed by # rpm \(# to # rpm\)",
            change["float_speed_change_rpm"],
            *change["float_speed_change_interval_rpm"],
        )
        text.hold("expected # mm", change["expected_change_mm"])
        text.nothing_left(change)


def test_pooled_runs():
    found = reviewed("two records").pooled
    text, table = Text(pooled_text(found)), in_json(pooled_table(found))
    text.hold(
        r"hoop stiffness factor # \(# to #\)", table["hoop_stiffness_factor"], *table["hoop_stiffness_factor_interval"]
    )
    text.hold(
        r"\(chi-squared # with # degrees of freedom, chance # %\)",
        table["chi_squared"], table["degrees_of_freedom"], table["chance_percent"],
    )  # fmt: skip
    assert int(text.one("^# runs of one machine")[1]) == len(table["runs"])
    for run in table["runs"]:
        label = re.escape(run["label"])
        text.hold(
            rf"{label}: effective interference # mm \(# to # mm\); pooled # mm \(# to # mm\)",
            run["interference_mm"], *run["interference_interval_mm"],
            run["pooled_interference_mm"], *run["pooled_interference_interval_mm"],
        )  # fmt: skip
    rows = text.take(r"lift-off in the run # rpm \(# to # rpm\); pooled # rpm \(# to # rpm\)")
    for row, run in zip(rows, table["runs"], strict=True):
        numbers = [run["lift_off_in_run_rpm"], *run["lift_off_in_run_interval_rpm"], run["pooled_lift_off_in_run_rpm"],
                   *run["pooled_lift_off_in_run_interval_rpm"]]  # fmt: skip
        assert_same(run["label"], {"text": plain(row.groups()), "json": json_numbers(numbers)})
    text.nothing_left(table)


# ------------------------------------------------------------------------------------------------- keys


@pytest.mark.parametrize("condition", CASE.conditions)
def test_keys(condition):
    run = run_keys(CASE, CASE.conditions[condition])
    text, table = Text(keys_text(run)), in_json(keys_table(run))
    labels = {
        "float speed of the mean interference": "mean_float_rpm",
        "first key lifts off": "first_lift_off_rpm",
        "rim rests on keys of one side": "one_sided_rpm",
        "centring lost": "centring_lost_rpm",
        "last key lifts off": "last_lift_off_rpm",
    }
    for label, key in labels.items():
        words = text.one(f"^{label} (.*)$")[1]
        assert_same(label, {"text": printed(words), "json": json_numbers(table["landmarks"][key])})
    events = text.take("^ # rpm key # (lift-off|re-seating)$")
    assert len(events) == len(table["events"]) > 0
    for seen, event in zip(events, table["events"], strict=True):
        assert (int(seen[2]), seen[3]) == (event["key"], event["kind"])
        assert_same(event["kind"], {"text": [seen[1]], "json": [event["speed_rpm"]]})
    text.nothing_left(table)


# ------------------------------------------------------------------------------------------------- window


def test_window():
    for case in (CASE, replace(CASE, rotor=CASE.rotor.with_interference(1.2e-3))):
        window = shrink_window(case)
        text, table = Text(window_text(case, window)), in_json(window_table(case, window))
        text.hold("interference: # mm below, # mm above$", table["margin_below_mm"], table["margin_above_mm"])
        warm = table["heating"]
        text.hold(
            r"rim heated to # degC mean, spider at # degC \(# mm play\)",
            warm["rim_temperature_degC"],
            warm["spider_temperature_degC"],
            warm["clearance_mm"],
        )
        keys = text.one(r"each with its own interference\): ([\d:,\s]+?)\n\n")[1]
        assert_same("by key", {
            "text": re.findall(r"\d+:\s+(\d+)", keys), "json": warm["rim_temperature_per_key_degC"],
        })  # fmt: skip
        shown = 0
        for edge in table["edges"]:
            at = ", ".join(part for part in (edge["at"], edge["condition"]) if part)
            rows = text.take(rf"^ {re.escape(edge['name'])} \({at}\) (.*?) \+-# (.*)$")
            shown += len(rows)
            for row in rows:
                span, half, source = row.groups()
                assert source == edge["source"]
                low, high = ([] if end is None else [end] for end in (edge["low_mm"], edge["high_mm"]))
                assert_same((edge["name"], "span"), {"text": printed(span), "json": [*(low or [0.0]), *high]})
                assert_same((edge["name"], "half"), {"text": [half], "json": [edge["half_width_mm"]]})
        assert shown >= 5
        rest = text.one("^ # more are met from 0 to # mm")
        assert int(rest[1]) == len(table["edges"]) - shown
        assert_same("widest", {"text": [rest[2]], "json": [table["widest_mm"]]})
        text.nothing_left(table)


# ------------------------------------------------------------------------------------------------- plan


@pytest.mark.parametrize("condition", CASE.conditions)
def test_plan(condition):
    plan = run_plan(CASE, condition)
    text, table = Text(plan_text(CASE, plan)), in_json(plan_table(CASE, plan))
    text.hold(
        r"agreed up to # rpm; lift-off expected at # rpm \(# to # rpm at 95 %\)",
        table["highest_speed_rpm"],
        table["float_speed_rpm"],
        *table["float_speed_interval_rpm"],
    )
    rows = text.take(r"^ # #(\*?) # # # to # # # #$")
    assert [row[3] == "*" for row in rows] == table["fine"]
    columns = ("speed_rpm", "over_rated", "gap_mm", "gap_low_mm", "gap_high_mm", "hold_gap_mm", "stop_gap_mm",
               "stop_single_gap_mm")  # fmt: skip
    for number, row in enumerate(rows):
        step, speed, _, *others = row.groups()
        assert int(step) == number + 1
        assert_same(number, {"text": [speed, *others], "json": [table[name][number] for name in columns]})
    text.hold("and run-down, noise # mm", table["sensor_noise_mm"])
    reach = stats.norm.ppf(0.975)
    for row in table["precision"]:
        half = reach * row["standard_uncertainty_rpm"]
        speed = row["float_speed_rpm"]
        seen = text.one(rf"^ a float speed of ({speed:.0f}) rpm to \+-# rpm \(95 %, # %\)$")
        assert_same(speed, {"text": plain(seen.groups()), "json": [speed, half, 100 * half / speed]})
    text.nothing_left(table, "95 % of rotors", "holds of 2 to 5 min, 20 to 50 turns averaged", "known to 15 and 50 %")


# ------------------------------------------------------------------------------------------------- study


def test_study():
    result = run_study(CASE, 2048, index_samples=1024)
    text, table = Text(study_text(result)), in_json(study_table(result))
    seen = text.one(r"^# samples \((\w+), seed #\)$")
    assert (int(seen[1]), seen[2], int(seen[3])) == (table["samples"], table["method"], table["seed"])
    for row in table["outputs"]:
        unit = f" {row['unit']}" if row["unit"] != "-" else ""
        label = re.escape(f"{plain_name(row['quantity'])}, {row['condition']}")
        text.hold(
            rf"^{label} #{unit} #{unit} # to # #{unit}(?: \*)?$",
            row["mean"],
            row["standard_deviation"],
            *row["interval_95"],
            row["linear"]["standard_uncertainty"],
        )
    for row in table["chances"]:
        ends = [100 * end for end in row["interval_95"]]
        if row["samples_met"] == row["samples"]:
            text.hold(f"^{row['name']} all # to # %$", *ends)
        else:
            text.hold(f"^{row['name']} # % # to # %$", 100 * row["probability"], *ends)
    first = table["outputs"][0]["sobol_indices"]
    shown = 0
    for row in first:
        for seen in text.take(rf"^{re.escape(row['input'])} # % # %$"):
            assert_same(row["input"], {
                "text": plain(seen.groups()), "json": [100 * row["first"], 100 * row["total"]],
            })  # fmt: skip
            shown += 1
    assert shown >= 5
    text.nothing_left(table, "95 % of all")


# ------------------------------------------------------------------------------------------------- duty


def shown_rest(hours):
    return f"{60 * hours:.0f} min" if 0 < hours < 1 else f"{hours:g} h"


def test_duty():
    found = run_duty(CASE, draws=40)
    text, table = Text(duty_text(found)), in_json(duty_table(found))
    text.hold("^History 'stop_and_restart', # h,", table["duration_h"])
    rows = text.take(r"^ (\d+\.\d{3}) (\d+) ([a-z]+)\s([\s\S]*?)(?=\n[^\S\n]+\d+\.\d{3} |\nrim afloat)")
    for seen, event in zip(rows, table["events"], strict=True):
        time, segment, kind, words = seen.groups()
        assert_same(kind, {"text": [time, segment], "json": [event["time_h"], float(event["segment"])]})
        assert kind == event["kind"]
        numbers = [value for value in [event["value"], *event["interval"]] if value is not None]
        if event["share"] < 1:  # as a count of cases where a percentage would round to none or all
            rounds = round(100 * event["share"]) in (0, 100)
            numbers += [event["share"] * event["cases"], event["cases"]] if rounds else [100 * event["share"]]
        assert_same(event["event"], {"text": printed(words), "json": numbers})
    text.hold("^rim afloat for # to # s in total", *table["afloat_s"])
    restart = table["restart"]
    # the text shows round times at rest; JSON has those besides between which the answer was looked for
    names = list(restart["lock_out"])
    places = [place for place, hours in enumerate(restart["rest_h"]) if 3600 * hours in REST_TIMES]
    assert len(places) == len(REST_TIMES)
    text.hold("stays above # x each speed$", restart["float_speed_ratio"])
    text.hold("^ at rest float speed, rpm " + " ".join(f"{name} #" for name in names), *restart["speed_rpm"].values())
    verdict = "(holds|does not hold|not shown)"
    for place in places:
        rest = shown_rest(restart["rest_h"][place])
        seen = text.one(rf"^ {rest} # to # " + " ".join(verdict for _ in names) + "$")
        low, high, *said = seen.groups()
        assert_same(rest, {"text": [low, high], "json": restart["lowest_float_speed_rpm"][place]})
        assert said == [restart["lock_out"][name][place] for name in names]
    for row in table["ranges"]:
        seen = text.one(rf"^ {row['name']} ([\d.e+-]+) to ([\d.e+-]+) {re.escape(row['unit'])} ")
        assert [float(end) for end in seen.groups()] == pytest.approx([row["low"], row["high"]], rel=5e-4)
    text.nothing_left(table, "W/m^2/K")
    assert np.all(np.diff(table["time_h"]) >= 0.0)
