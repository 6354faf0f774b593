"""The WHAT IF part of the page in a browser: it follows what is moved, and nothing that is signed changes."""

import base64
import hashlib
import html
import json
import re
import shutil
import subprocess
from dataclasses import replace

import pytest

import rimmodel as rm
from rimmodel.behaviour.contact.speeds import interference_for_float_speed
from rimmodel.behaviour.quantities import evaluate, interval_text, print_unit
from rimmodel.planning.present import present_case
from rimmodel.rotor.case.case import EXAMPLES, read_case
from rimmodel.units import RPM, ZERO_CELSIUS
from rimmodel.verdict.judge import verdict_of_interval
from rimmodel.verdict.output.what_if import POLICY, SCRIPT, script_data, what_if
from rimmodel.verdict.output.window import table as window_table
from tests.built_in import example_review, write_example
from tests.verdict.browser import browse, needs_browser

MOST_BYTES = 80_000
NEW = (EXAMPLES / "new_case.toml").read_text(encoding="utf-8")

MEETING = """<!doctype html><meta charset="utf-8">
<iframe id="frame" src="out/review.html" style="width:900px;height:900px"></iframe><pre id="seen"></pre>
<script>
const seen = {};
frame.onload = () => {
  const page = frame.contentDocument, at = name => page.getElementById("what-if-" + name);
  const hear = (part, kind) => part.dispatchEvent(new frame.contentWindow.Event(kind, { bubbles: true }));
  const set = (name, value, which = 1) => {
    const input = at(name).querySelectorAll("input")[which]; input.focus();
    input.value = value; hear(input, "input"); };
  const choose = (name, value) => { at(name).value = value; hear(at(name), "change"); };
  const signed = () => { const copy = page.body.cloneNode(true);
    copy.querySelectorAll("#what-if .live").forEach(part => part.remove()); return copy.textContent; };
  const cells = (name, column) => [...at(name).tBodies[0].rows].map(row => row.cells[column].textContent);
  const shown = () => ({ states: cells("states", 2), starts: cells("states", 1), values: cells("findings", 3),
    spans: cells("findings", 4), words: cells("findings", 5),
    left: at("interference_left").querySelectorAll("input")[1].value });
  const note = name => at(name).querySelector(".note").textContent;
  const before = signed();
  const same = name => { seen[name] = { ...shown(), same: signed() === before }; };
  STEPS
  document.getElementById("seen").textContent = JSON.stringify(seen);
};
</script>
"""

STEPS = """
  same("start");
  set("interference_left", "2.15"); set("hoop_stiffness_factor", "0.8"); set("rim_temperature", "31");
  set("spider_temperature", "26"); set("stator_temperature", "33"); set("flux_density", "0.9", 0); same("measured");
  set("interference_left", "99"); same("beyond"); seen.beyond.note = note("interference_left");
  hear(at("interference_left").querySelectorAll("input")[1], "blur"); seen.beyond.sprung = note("interference_left");
  set("interference_left", ""); same("empty"); seen.empty.note = note("interference_left");
  at("reset").click(); same("reset");
  set("knee", "150.5"); same("knee");
  at("reset").click();
  set("interference_left", "0.2"); same("loose");
  at("reset").click();
  choose("base", "1"); seen.drawn = shown(); seen.drawn.basis = at("basis").textContent;
  set("interference_left", "2.5"); choose("condition", "hot"); set("rim_temperature", "70"); set("flux_density", "1.0");
  seen.drawn_hot = shown();
  at("reset").click(); set("knee", "190"); seen.drawn_knee = shown();
  set("interference_left", "0"); set("flux_density", "1.5"); set("rim_temperature", "140"); seen.shut = shown();
  choose("base", "0"); choose("condition", "cold"); same("back");
  choose("condition", "hot"); set("rim_temperature", "63"); seen.warmer = shown();
  const controls = [...page.querySelectorAll("#what-if-moved :is(input, select, button)")];
  const named = part => part.labels.length || part.hasAttribute("aria-labelledby") || part.textContent.length > 0;
  seen.controls = controls.map(part => [part.tagName, part.tabIndex, named(part)]);
  at("reset").click();
  const later = frame.contentWindow.setTimeout; // the summary is written after a pause; here at once
  frame.contentWindow.setTimeout = work => work();
  const summary = (left) => { set("interference_left", left); return at("summary").textContent; };
  seen.window = { inside: summary("2.00"), edge: summary("UPPER_EDGE"), above: summary("3.50"),
    below: summary("0.50") };
  at("reset").click(); set("knee", "300"); seen.window.knee = at("summary").textContent;
  frame.contentWindow.setTimeout = later;
  seen.live = at("summary").getAttribute("aria-live");
"""


@pytest.fixture(scope="module")
def review():
    return example_review()


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("meeting")
    write_example(place / "out")
    return place


@pytest.fixture(scope="module")
def seen(folder, review):
    upper = window_table(review.case, review.window)["high_with_confidence_mm"]
    steps = STEPS.replace("UPPER_EDGE", f"{upper:.2f}")
    (folder / "meeting.html").write_text(MEETING.replace("STEPS", steps), encoding="utf-8")
    shown = browse(
        folder / "meeting.html", folder, "--allow-file-access-from-files", "--virtual-time-budget=8000", "--dump-dom"
    )
    return json.loads(html.unescape(re.search(r'<pre id="seen">(.*?)</pre>', shown, re.DOTALL)[1]))


def page_of(folder):
    return (folder / "out" / "review.html").read_text(encoding="utf-8")


def test_the_part_is_small_and_loads_sends_and_stores_nothing(folder):
    page = page_of(folder)
    part = page[page.index('<div id="what-if"') : page.rindex("</script>")]
    assert len(part.encode()) < MOST_BYTES
    assert not re.search(r"(?:src|href)\s*=\s*[\"']?(?:https?:|//)", part)
    words = (
        r"fetch|XMLHttpRequest|WebSocket|EventSource|sendBeacon|Worker|import|eval|Function|Storage|indexedDB|cookie"
    )
    assert not re.search(rf"\b(?:{words})\b\s*[(.]|innerHTML|document\.write", SCRIPT)


def test_the_policy_allows_this_script_and_no_other(folder):
    page = page_of(folder)
    scripts = re.findall(r"<script>(.*?)</script>", page, re.DOTALL)
    digest = base64.b64encode(hashlib.sha256(scripts[0].encode()).digest()).decode()
    assert len(scripts) == 1
    assert f"script-src 'sha256-{digest}'" in html.unescape(page)
    assert "default-src 'none'" in POLICY
    assert "unsafe-inline'" not in POLICY.partition("script-src")[2]


NAME = '"</script><b>&"'


def test_names_of_a_case_stay_text(tmp_path):
    (tmp_path / "unit.toml").write_text(
        NEW.replace("[conditions.cold]", f"[conditions.{NAME}]").replace('"cold"', NAME), "utf-8"
    )
    found = what_if(rm.review(read_case(tmp_path / "unit.toml")))
    assert "<" not in script_data(found)
    assert json.loads(script_data(found)) == found.data
    assert "</script><b>&" in found.data["conditions"]


def test_what_is_not_followed_is_named(tmp_path):
    asked = '\n[requirements.yields_late]\nquantity = "first_yield_speed"\nat_least = "1.2 x overspeed"\n'
    (tmp_path / "unit.toml").write_text(NEW + asked, "utf-8")
    case = read_case(tmp_path / "unit.toml")
    found = what_if(rm.review(case))
    assert "first yield speed" in found.left_out
    assert found.data["bases"][0]["findings"][-1]["why"] == "not followed here"


# ------------------------------------------------------------------------------------------------- in a browser


@needs_browser
def test_whatever_is_moved_nothing_signed_changes(seen):
    for name in ("start", "measured", "beyond", "empty", "reset", "knee", "loose", "back"):
        assert seen[name]["same"], name
    assert seen["measured"]["states"] != seen["start"]["states"]
    assert seen["back"] == seen["start"]
    assert seen["reset"] == seen["start"]


@needs_browser
def test_unmoved_it_shows_the_numbers_and_verdicts_of_the_review(seen, review):
    assert seen["start"]["states"] == seen["start"]["starts"]
    same = {"holds": "would be met", "does not hold": "would not be met", "not shown": "would stay open"}
    judged = [
        (row, seen["start"]["words"][place], seen["start"]["spans"][place])
        for place, row in enumerate(review.findings)
        if seen["start"]["words"][place].startswith("would")
    ]
    assert len(judged) == 3
    for row, words, span in judged:
        assert words == same[row.verdict]
        assert span == interval_text(row.quantity, row.interval)
    assert seen["drawn"]["words"] == [
        same[verdict_of_interval(row.predicted_interval, row.threshold, row.at_least)] for row in review.findings
    ]
    assert seen["drawn"]["basis"] == "as drawn, condition cold"


def printed(rotor, condition, carrier):
    """The rows of the table of states as the library computes and prints them."""
    names = [("float_speed", RPM, 1)]
    for at in ("standstill", "rated", "overspeed", "runaway"):
        names += [(f"gap_at_{at}", 1e-3, 2), (f"residual_interference_at_{at}", 1e-3, 2)]
        names += [(f"contact_pressure_at_{at}", 1e6, 2), (f"rim_stress_at_{at}", 1e6, 1)]
    return [f"{evaluate(name, rotor, condition) / size:.{decimals}f}" for name, size, decimals in names]


def stiff(rotor, hoop):
    return replace(rotor, rim=replace(rotor.rim, hoop_stiffness_factor=hoop))


@needs_browser
@pytest.mark.independent
def test_moved_numbers_are_those_of_the_library(seen, review):
    case = review.case
    present = present_case(case, review.measurements[-1])[0].rotor
    cold = replace(
        case.conditions["cold"], rim_temperature=ZERO_CELSIUS + 31, spider_temperature=ZERO_CELSIUS + 26,
        stator_temperature=ZERO_CELSIUS + 33, flux_density=0.9,
    )  # fmt: skip
    fit = present.fit
    shimmed = replace(fit, settlement=fit.interference - fit.stack_growth - 2.15e-3)
    assert seen["measured"]["states"] == printed(replace(stiff(present, 0.8), fit=shimmed), cold, case.rotor)
    hot = replace(case.conditions["hot"], rim_temperature=ZERO_CELSIUS + 70, flux_density=1.0)
    assert seen["drawn_hot"]["states"] == printed(case.rotor.with_interference(2.5e-3), hot, case.rotor)


@needs_browser
@pytest.mark.independent
def test_a_measured_knee_becomes_the_interference_that_it_implies(seen, review):
    case = review.case
    assert seen["knee"]["states"][0] == "150.5"
    needed = float(interference_for_float_speed(case.rotor, case.conditions["cold"], 190 * RPM))
    assert seen["drawn_knee"]["left"] == f"{needed * 1e3:.2f}"
    drawn = case.rotor.with_interference(needed)
    assert seen["drawn_knee"]["states"] == printed(drawn, case.conditions["hot"], case.rotor)


@needs_browser
@pytest.mark.independent
def test_a_case_that_is_changed_and_reviewed_again_lands_where_the_part_pointed(seen, tmp_path):
    for file in EXAMPLES.glob("quillmere*"):
        shutil.copy(file, tmp_path / file.name)
    unit = tmp_path / "quillmere.toml"
    text = unit.read_text(encoding="utf-8")
    assert text.count('rim_temperature = "58 degC"') == 1
    unit.write_text(text.replace('rim_temperature = "58 degC"', 'rim_temperature = "63 degC"'), encoding="utf-8")
    again = rm.review(read_case(unit))
    for place, row in enumerate(again.findings):
        if row.role == "claim":
            continue
        unit_of_print = print_unit(row.quantity)
        assert seen["warmer"]["values"][place] == unit_of_print.text(row.measured)
        low, high = (float(value) for value in re.findall(r"[\d.]+", seen["warmer"]["spans"][place]))
        own = [float(unit_of_print.of(end)) for end in row.interval]
        # the span is that of the review, shifted, and not worked out again: a tenth of its width either side
        assert (low, high) == pytest.approx(own, abs=0.1 * (own[1] - own[0]))
    same = {"holds": "would be met", "does not hold": "would not be met", "not shown": "would stay open"}
    assert seen["warmer"]["words"][2:] == [same[row.verdict] for row in again.findings[2:]]


@needs_browser
def test_an_entry_beyond_the_ends_or_none_is_not_applied_and_says_so(seen):
    assert seen["beyond"]["states"] == seen["measured"]["states"] == seen["empty"]["states"]
    assert re.fullmatch(r"99 not applied: from [\d.]+ to [\d.]+", seen["beyond"]["note"])
    assert seen["beyond"]["sprung"] == seen["beyond"]["note"]
    assert seen["empty"]["note"].startswith("review: ")


@needs_browser
def test_a_loose_or_shut_machine_is_named_and_never_met(seen):
    assert seen["loose"]["words"][2] == "would not be met"
    assert "none: gap shut" not in seen["loose"]["states"]
    assert seen["shut"]["states"][0] in ("at standstill", "none: gap shut")
    text = json.dumps(seen)
    assert "NaN" not in text
    assert "Infinity" not in text
    assert not re.search(
        r'"(?:holds|does not hold|not shown)"',
        json.dumps([seen[name]["words"] for name in ("start", "measured", "loose", "shut")]),
    )


@needs_browser
def test_an_interference_outside_the_shrink_window_is_named_in_the_bold_line(seen, folder, review):
    low, high = (window_table(review.case, review.window)[f"{end}_with_confidence_mm"] for end in ("low", "high"))
    number = re.search(r"Annex (\d+): Shims and shrink window", page_of(folder))[1]
    words = f"OUTSIDE the shrink window of Annex {number} ({low:.2f} to {high:.2f} mm"
    assert low < 2.0
    assert 2.0 < high < 3.5
    for name in ("above", "below", "knee"):
        assert words in seen["window"][name], name
    for name in ("inside", "edge"):
        assert "OUTSIDE" not in seen["window"][name]
        assert "WHAT IF, not a verdict" in seen["window"][name]
    assert re.search(r"\.what-if output \{[^}]*font-weight: 700", page_of(folder))


def test_a_closed_or_open_window_reaches_the_script(review):
    closed = replace(review, window=replace(review.window, exists=False, low_sure=-float("inf")))
    found = what_if(closed).data["window"]
    assert (found["exists"], found["low"], found["words"]) == (False, None, "the shrink window")


@needs_browser
def test_every_control_takes_the_keyboard_and_has_a_name(seen):
    assert len(seen["controls"]) > 18
    assert all(focus >= 0 and named for _, focus, named in seen["controls"])
    assert {tag for tag, _, _ in seen["controls"]} == {"INPUT", "SELECT", "BUTTON"}
    assert seen["live"] == "polite"


@needs_browser
@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="needs pdftotext (poppler)")
def test_paper_holds_the_inputs_of_the_review_whatever_was_moved(folder):
    moved = """<script>addEventListener("load", () => { for (const name of ["interference_left", "knee"]) {
      const input = document.getElementById("what-if-" + name).querySelectorAll("input")[1];
      input.value = "1.23"; input.dispatchEvent(new Event("input")); } });</script></body>"""
    page = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", page_of(folder)).replace("</body>", moved)
    (folder / "moved.html").write_text(page, encoding="utf-8")
    browse(folder / "moved.html", folder, "--no-pdf-header-footer", f"--print-to-pdf={folder / 'moved.pdf'}")
    done = subprocess.run(
        ["pdftotext", "-layout", folder / "moved.pdf", "-"], check=True, capture_output=True, text=True
    )
    part = done.stdout[done.stdout.index("WHAT IF: nothing here is a verdict") :]
    assert "On paper this part shows what the model makes of the inputs of the review" in part
    assert re.search(r"float speed +171\.4 +rpm", part)
    for words in ("would", "1.23", "Back to the inputs", "1.2 rpm"):
        assert words not in part, words


WITHOUT = """<!doctype html><meta charset="utf-8">
<iframe id="frame" sandbox="allow-same-origin" src="out/review.html" style="width:900px;height:900px"></iframe>
<pre id="seen"></pre><script>
frame.onload = () => {
  const page = frame.contentDocument, part = page.getElementById("what-if-without");
  const live = [...page.querySelectorAll("#what-if .live")];
  seen.textContent = JSON.stringify({ words: part.textContent, height: part.offsetHeight,
    live: live.filter(one => one.offsetHeight > 0).length, of: live.length,
    states: [...page.getElementById("what-if-states").tBodies[0].rows].map(row => row.cells[1].textContent) });
};
</script>
"""


@needs_browser
def test_without_scripts_the_page_says_so_and_holds_the_inputs_of_the_review(folder, seen):
    (folder / "without.html").write_text(WITHOUT, encoding="utf-8")
    shown = browse(
        folder / "without.html", folder, "--allow-file-access-from-files", "--virtual-time-budget=8000", "--dump-dom"
    )
    found = json.loads(html.unescape(re.search(r'<pre id="seen">(.*?)</pre>', shown, re.DOTALL)[1]))
    assert found["words"].startswith("Sliders need JavaScript")
    assert found["height"] > 0
    assert found["of"] > 20
    assert found["live"] == 0
    assert found["states"] == seen["start"]["states"]
