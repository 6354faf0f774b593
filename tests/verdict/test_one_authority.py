"""Text, page and JSON of ten cases show one number for one label: they are read back as a reader would and compared.

Each output is taken apart by itself into labels and the numbers printed at them. A number agrees with another when both
round to the same at the coarser of their decimals; the outputs are held against each other, so no expected number is
stored here.
"""

import json
import re
from collections import defaultdict
from functools import cache
from html.parser import HTMLParser

import pytest

from rimmodel.behaviour.quantities import plain_name, print_unit
from rimmodel.verdict.output.details import details
from rimmodel.verdict.output.details import table as details_table
from rimmodel.verdict.output.fit import text as fit_text
from rimmodel.verdict.output.page import page
from rimmodel.verdict.output.tables import table as review_table
from rimmodel.verdict.output.text import text as review_text
from tests.verdict.printed_numbers import agree, assert_same, json_numbers, printed
from tests.verdict.ten_cases import CASES, reviewed


@cache
def outputs(name):
    """Text, page and JSON of a case, and its review."""
    found = reviewed(name)
    behind = details(found)
    names = ["gap_chart", "speed_chart", "drivers", "limits", "window", "plan", "load_rejection", "change"]
    names += ["duty_1", "restart_1"]
    names += ["key_forces", "key_map", *(f"{kind}_{n}" for kind in ("knee", "likelihood") for n in (1, 2))]
    table = json.loads(json.dumps(review_table(found) | details_table(found, behind), allow_nan=False))
    text = review_text(found) + "\n\n" + fit_text(found.measurements, found.comparisons)
    return text, Page(page(found, dict.fromkeys(names, "<svg></svg>"), behind)), table


class Page(HTMLParser):
    """Tables of a page by the heading above them, as rows of cell texts; paragraphs and list items besides."""

    def __init__(self, html):
        super().__init__(convert_charrefs=True)
        self.tables, self.lines, self.headings = defaultdict(list), [], []
        self.cells, self.words, self.heading, self.sub = [], [], "", ""
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        if tag == "tr":
            self.cells = []
        if tag in ("td", "th", "p", "li", "h1", "h2", "h3"):
            self.words = []
        if tag == "br":
            self.words.append(" | ")

    def handle_data(self, data):
        self.words.append(data)

    def handle_endtag(self, tag):
        said = " ".join("".join(self.words).split())
        if tag in ("td", "th"):
            self.cells.append(said)
        elif tag == "tr":
            self.tables[self.heading + self.sub].append(self.cells)
        elif tag == "h2":
            self.heading, self.sub = re.sub(r"^Annex \d+: ", "", said), ""
            self.headings.append(said)
        elif tag == "h3":
            self.sub = f" / {said}"
        elif tag in ("p", "li"):
            self.lines.append(said)


HEAD = re.compile(
    r"^(?P<role>claim|requirement) ?(?P<name>[\w ]*): (?P<what>.+), (?P<condition>\w+): (?P<verdict>[A-Z ]+)$"
)


def findings_of_text(text):
    found, label = {}, None
    for line in text.splitlines():
        head = HEAD.match(line)
        if head:
            label = (head["role"], head["name"], head["what"], head["condition"])
            assert label not in found, f"{label} stands twice"
            found[label] = {"verdict": head["verdict"].lower()}
        elif label and (row := re.match(r"    (stated|predicted|by test) +(.*)", line)):
            found[label][row[1]] = row[2]
        elif not line.strip():
            label = None
    return found


OVER_A_HISTORY = "requirement over a whole history"


def findings_of_page(shown):
    found = {}
    rows = shown.tables["Claims and requirements"]
    heads = rows[0]
    for cells in rows[1:]:
        if len(cells) == 1:
            continue
        what, _, role = cells[0].partition(" | ")
        if role == OVER_A_HISTORY:  # of fewer cells; read by a test of its own
            continue
        role, _, name = role.partition(": ")
        label = (role, name, *what.rsplit(", ", 1))
        assert label not in found, f"{label} stands twice"
        found[label] = dict(zip(heads, cells, strict=True))
    return found


def findings_of_json(table):
    return {
        (role, row["name"] if role == "requirement" else "", plain_name(row["quantity"]), row["condition"]): row
        for role in ("claim", "requirement")
        for row in table[f"{role}s"]
    }


@pytest.mark.parametrize("name", CASES)
def test_requirements_over_histories_read_the_same_on_the_page_and_in_json(name):
    _, shown, table = outputs(name)
    rows = [cells for cells in shown.tables["Claims and requirements"][1:] if cells[0].endswith(f" | {OVER_A_HISTORY}")]
    assert len(rows) == len(table["requirements_over_histories"])
    for cells, row in zip(rows, table["requirements_over_histories"], strict=True):
        assert cells[0] == f"{row['name']}, history {row['history']} | {OVER_A_HISTORY}"
        assert_same((row["name"], "stated"), {"page": printed(cells[1]), "json": json_numbers(row["at_least"])})
        span = cells[2].partition(" | ")[0]
        assert_same((row["name"], "span"), {"page": printed(span), "json": json_numbers(row["interval"])})
        assert cells[-1] == row["verdict"]


@pytest.mark.parametrize("name", CASES)
def test_claims_and_requirements_read_the_same_in_text_page_and_json(name):
    text, shown, table = outputs(name)
    texts, cells, rows = findings_of_text(text), findings_of_page(shown), findings_of_json(table)
    assert texts.keys() == cells.keys() == rows.keys()
    assert len(rows) >= 3
    for label, row in rows.items():
        line, cell = texts[label], cells[label]
        speed = print_unit(row["quantity"]).name == "rpm"
        assert line["verdict"] == cell["verdict"] == row["verdict"], label
        stated, _, margins = line["stated"].partition("; margin ")
        assert_same((label, "stated"), {
            "text": printed(stated), "page": printed(cell["stated"]), "json": json_numbers(row["stated"]),
        })  # fmt: skip
        percent = [100 * margin for margin in json_numbers([row["margin"], row["acceptance_margin"]])]
        both = printed(cell["margin against | what is stated"])
        accepted = printed(cell.get("margin against | acceptance value", ""))
        against = re.sub(r"against .*? with its", "", margins)
        assert_same((label, "margins"), {
            "text": printed(against), "page": both + accepted[:1], "json": percent,
        })  # fmt: skip
        if row["acceptance_margin"] is not None:
            value = printed(re.search(r"against (.*?) with its", margins)[1])
            assert_same((label, "acceptance"), {
                "text": value, "page": accepted[1:], "json": json_numbers(row["acceptance_value"]),
            })  # fmt: skip
        best, _, interval = line["predicted"].partition("(")
        interval, _, confidence = interval.partition(" at ")
        assert_same((label, "confidence"), {"text": printed(confidence), "json": [100 * row["confidence"]]})
        assert_same((label, "predicted"), {
            "text": printed(best), "page": printed(cell["predicted | from drawing"]),
            "json": json_numbers(row["predicted"]),
        })  # fmt: skip
        assert_same((label, "predicted interval"), {
            "text": printed(interval), "json": json_numbers(row["predicted_interval"], speed=speed),
        })  # fmt: skip
        by_test = re.sub(r", (the machine|').*", "", line.get("by test", ""))
        best, _, interval = by_test.rpartition("(")
        assert_same((label, "by test"), {
            "text": printed(best), "page": printed(cell["by test"]), "json": json_numbers(row["measured"]),
        })  # fmt: skip
        ends = cell["interval by test"].partition(" | ")[0]
        assert_same((label, "interval by test"), {
            "text": printed(interval), "page": printed(ends), "json": json_numbers(row["interval"], speed=speed),
        })  # fmt: skip
        reasons = [said for said in shown.lines if said.startswith(" ".join(part for part in label[:2] if part) + ",")]
        assert any(row["reason"] in said for said in reasons), label


@pytest.mark.parametrize("name", CASES)
def test_the_headline_is_one_and_names_what_the_verdicts_say(name):
    text, shown, table = outputs(name)
    headline = table["headline"]
    assert "".join(text.split()).startswith("".join(f"{table['title']}{headline}".split()))  # lines break at hyphens
    assert headline in shown.lines
    verdicts = {row["name"]: row["verdict"] for row in table["requirements"]}
    for sentence, verdict in (
        ("Requirements that do not hold: ", "does not hold"),
        ("Requirements not shown: ", "not shown"),
    ):
        stands = re.search(f"{sentence}(.*?)\\.", headline)
        assert set(stands[1].split(", ") if stands else []) == {
            key for key, said in verdicts.items() if said == verdict
        }


def label_rows(rows):
    """Two-column rows by label; a label that stands twice in one table is an error."""
    found = {}
    for cells in rows:
        assert cells[0] not in found, f"{cells[0]!r} stands twice"
        found[cells[0]] = cells[1]
    return found


def runs_of_text(text):
    """Rows of the text of the fit by record and label."""
    found = {}
    for block in text.split("\n\n"):
        head = re.match(r"(\w+) \(cold\): [A-Z ]+$", block.splitlines()[0]) if block else None
        if head:
            rows = [row for line in block.splitlines() if (row := re.match(r" {4,6}(\S.*?)(?: {2,}(.*))?$", line))]
            found[head[1]] = {row[1]: row[2] or "" for row in rows if not row[1].startswith("- ")}
    return found


@pytest.mark.parametrize("name", [name for name in CASES if name != "no record"])
def test_each_run_reads_the_same_in_text_page_and_json(name):
    text, shown, table = outputs(name)
    blocks = runs_of_text(text)
    assert len(blocks) == len(table["measurements"])
    for number, run in enumerate(table["measurements"], 1):
        said, place = blocks[run["label"]], f"Evidence of run {number}: {run['label']}"
        sure = label_rows(shown.tables[f"{place} / Including all uncertainties"])
        alone = label_rows(shown.tables[f"{place} / From the noise of the run alone"])
        assert {*sure, *alone} <= said.keys()
        for label, words in (sure | alone).items():
            assert said[label] == words
        for condition, entry in run["float_speed_by_condition"].items():
            values = json_numbers([entry["float_speed_rpm"], *entry["float_speed_interval_rpm"]], speed=True)
            assert_same(condition, {"page": printed(sure[f"float speed, {condition}"]), "json": values})
        values = json_numbers([run["interference_mm"], *run["interference_interval_mm"]])
        assert_same("interference", {"page": printed(sure["effective interference"]), "json": values})
        values = json_numbers([run["lift_off_in_run_rpm"], *run["lift_off_in_run_interval_rpm"]], speed=True)
        if printed(alone["lift-off, all points"]):
            assert_same("lift-off in run", {"page": printed(alone["lift-off, all points"]), "json": values})
        # its condition carries the float speed, once
        own = run["float_speed_by_condition"][run["condition"]]
        assert (own["float_speed_rpm"], own["float_speed_interval_rpm"]) == (
            run["float_speed_rpm"], run["float_speed_interval_rpm"],
        )  # fmt: skip
        start = rf"In '{run['label']}' \(cold\) (?:the rim|it) lifts off at "
        lifts = re.search(start + r"([\d.]+) rpm \(([\d.]+) to ([\d.]+) rpm", table["headline"])
        if lifts:
            assert_same("headline", {"text": list(lifts.groups()), "json": json_numbers(
                [run["float_speed_rpm"], *run["float_speed_interval_rpm"]])})  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_a_float_speed_has_one_value_wherever_it_stands(name):
    """By condition and by what it rests on, through verdicts, runs, plan, load rejection, keys and predictions."""
    text, shown, table = outputs(name)
    found = defaultdict(dict)
    for condition, entry in table["conditions"].items():
        if entry["float_speed_rpm"] is not None:
            found[condition, "as drawn"]["json"] = entry["float_speed_rpm"]
    for condition, speed in re.findall(r"^    (\w+) +lifts off at ([\d.]+) rpm", text, re.MULTILINE):
        found[condition, "as drawn"]["text"] = speed
    notes = [cells[1] for cells in shown.tables["Predictions"] if len(cells) == 2]
    for condition, note in zip(table["conditions"], notes, strict=True):
        if (speed := re.match(r"lifts off at ([\d.]+) rpm", note)) is not None:
            found[condition, "as drawn"]["page"] = speed[1]
    for row in table["claims"] + table["requirements"]:
        if row["quantity"] == "float_speed" and row["predicted"] is not None:
            found[row["condition"], "as drawn"][f"predicted for {row['name']}"] = row["predicted"]
    runs = table["measurements"]
    for run in runs:
        for condition, entry in run["float_speed_by_condition"].items():
            if entry["float_speed_rpm"] is not None:
                found[condition, run["label"]]["run"] = entry["float_speed_rpm"]
    for role, number in (("claims", 0), ("requirements", -1)):
        for row in table[role]:
            if row["quantity"] == "float_speed" and row["measured"] is not None:
                found[row["condition"], runs[number]["label"]][f"by test for {row['name']}"] = row["measured"]
    measured = re.fullmatch(r"as measured in '(\w+)'", table["basis"])
    basis = measured[1] if measured else "as drawn"
    plan, rejection, keys = table["plan"], table["load_rejection"], table["keys"]
    if plan is not None and plan["float_speed_rpm"] is not None:
        found[plan["condition"], basis]["plan"] = plan["float_speed_rpm"]
    for condition, entry in rejection["conditions"].items():
        if entry["float_speed_rpm"] is not None:
            found[condition, basis]["load rejection"] = entry["float_speed_rpm"]
    if keys is not None and basis == "as drawn":
        found[keys["condition"], basis]["keys"] = keys["landmarks"]["mean_float_rpm"]
        (row,) = [cells for cells in shown.tables["Key by key"] if cells[0].startswith("float speed")]
        found[keys["condition"], basis]["keys on the page"] = printed(row[1])[0]
    assert any(len(places) > 2 for places in found.values())
    for label, places in found.items():
        values = list(places.values())
        for value in values[1:]:
            near = agree(values[0], value) or (
                isinstance(value, float)
                and isinstance(values[0], float)
                and value == pytest.approx(values[0], abs=0.02)
            )
            assert near, (label, places)


@pytest.mark.parametrize("name", CASES)
def test_shims_and_the_interference_that_is_there_read_the_same(name):
    text, shown, table = outputs(name)
    shims = table["shims"]
    assert shims["statement"] in shown.lines
    assert shims["statement"] in " ".join(text.split())
    assert table["window"]["shims"] == shims
    if shims["present_mm"] is None:  # a recording that leaves open what there is: where to end, and no change
        assert shims["statement"].startswith(f"Shims: no change is stated ({shims['basis']}).")
        assert not table["basis"].startswith("as measured in")
        assert shims["best"] is None
    else:
        present = printed(re.search(r"relative to ([\d.]+) mm", shims["statement"])[1])
        assert_same("present", {"text": present, "shims": [f"{shims['present_mm']:.2f}"],
                                "window": [table["window"]["present_mm"]]})  # fmt: skip
    for kind in ("least", "confident", "best", "most"):
        said = re.search(rf"\b{kind} (?:([+-]?[\d.]+) mm \()?([\d.]+) mm\b", shims["statement"])
        assert (said is None) == (shims[kind] is None), kind
        if said is not None:
            assert (said[1] is None) == (shims["present_mm"] is None), kind
            change = [said[1].lstrip("+")] if said[1] else []
            values = json_numbers([shims[kind]["change_mm"], shims[kind]["interference_mm"]])
            assert_same(kind, {"text": [*change, said[2]], "json": values})
    if table["basis"].startswith("as measured in"):
        (run,) = [run for run in table["measurements"] if table["basis"] == f"as measured in '{run['label']}'"]
        assert_same("present", {"shims": [f"{shims['present_mm']:.2f}"], "run": [run["interference_mm"]]})
        left = re.findall(r"The effective interference is (?:now )?([\d.]+) mm", table["headline"])
        assert_same("headline", {"headline": left[-1:], "json": [run["interference_mm"]]})


@pytest.mark.parametrize("name", CASES)
def test_no_label_stands_twice(name):
    _, shown, table = outputs(name)
    assert len(shown.headings) == len(set(shown.headings))
    assert all(f"Annex {number}: " in heading for number, heading in enumerate(shown.headings[4:], 1))
    checks = [(row["name"], row["at"], row["condition"], row["limit"], row["missing"]) for row in table["limits"]]
    assert len(checks) == len(set(checks))
    rows = [tuple(cells[:2]) for cells in shown.tables["Limits"][1:]]
    assert len(rows) == len(set(rows)) == len([row for row in table["limits"] if row["missing"] is None])
    for heading in ("Drawing data derived from the case", "Inputs as read", "Key by key"):
        label_rows([cells for cells in shown.tables[heading] if len(cells) > 1])
    for row in table["claims"] + table["requirements"]:
        shares = [cause["share_of_variance"] for cause in row["what_decides"] if cause["share_of_variance"]]
        assert not shares or sum(shares) == pytest.approx(1.0)
