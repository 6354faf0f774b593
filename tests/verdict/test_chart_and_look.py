"""The commands `digitise` and `fit --so-far`, from files to what is printed."""

import html
import json
import re
import shutil
import subprocess
from dataclasses import replace

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.behaviour import float_speed, sweep
from rimmodel.rotor.case.case import EXAMPLES
from rimmodel.units import RPM, in_mm, in_rpm
from tests.evidence.chart_pictures import BOX, draw, plain

CASE = rm.example_case()
COLD = CASE.conditions["cold"]
UNIT = EXAMPLES / "quillmere.toml"


def toml(table):
    """A description as TOML, as far as the tests need it."""
    lines = [f"{key} = {json.dumps(value)}" for key, value in table.items() if not isinstance(value, dict)]
    for name, inner in table.items():
        if isinstance(inner, dict):
            lines += [f"[{name}]", *(f"{key} = {json.dumps(value)}" for key, value in inner.items())]
    return "\n".join(lines) + "\n"


@pytest.fixture
def machine_chart(tmp_path):
    """A chart of the built-in machine, cold, and its description."""
    speed = np.linspace(10.0, 205.0, 400)
    gap = in_mm(sweep(CASE.rotor, COLD, speed * RPM).air_gap)
    box = (0.0, 220.0, float(np.floor(gap.min())), float(np.ceil(gap.max())))
    pixel = draw(tmp_path / "chart.png", [(speed, gap, {"color": "#1f77b4"})], box)
    marks = [[*pixel(x, y), x, y] for x in box[:2] for y in box[2:]]
    table = {"crossings": marks, "speed": {"unit": "rpm"}, "gap": {"unit": "mm"}, "curve": {"colour": "#1f77b4"}}
    (tmp_path / "axes.toml").write_text(toml(table), encoding="utf-8")
    return tmp_path


@pytest.mark.independent
def test_a_chart_becomes_a_recording_that_fit_reads_with_its_axes(machine_chart, rim):
    code, out, err = rim("digitise", machine_chart / "chart.png", machine_chart / "axes.toml", "--out",
                         machine_chart / "run.csv")  # fmt: skip
    assert (code, out) == (0, "")
    assert "wrote" in err
    head = (machine_chart / "run.csv").read_text(encoding="utf-8")
    assert head.startswith("# read off chart.png")
    assert "speed [rpm],gap [mm],gap_error [mm],axis_speed_1 [rpm],axis_gap_1 [mm]" in head
    code, out, err = rim("fit", UNIT, machine_chart / "run.csv", "--condition", "cold", "--json")
    assert code == 0, err
    found = json.loads(out)
    truth = in_rpm(float(float_speed(CASE.rotor, COLD).speed))
    low, high = found["lift_off_in_run_interval_rpm"]
    assert low <= truth <= high
    assert 0.2 < high - low < 6.0
    assert any("read off a chart" in note for note in found["notes"])


def test_the_table_is_printed_as_csv_and_as_json(machine_chart, rim):
    code, out, err = rim("digitise", machine_chart / "chart.png", machine_chart / "axes.toml")
    assert code == 0
    assert out.count("\n") > 40
    assert "own" in err
    code, out, _ = rim("digitise", machine_chart / "chart.png", machine_chart / "axes.toml", "--json")
    table = json.loads(out)
    assert table["quantity"] == "gap"
    assert len(table["points"]["gap [mm]"]) == 40


def test_marks_may_be_given_as_options_in_per_cent_too(tmp_path, rim):
    table = plain(tmp_path / "chart.png")
    corners = {(x, y): (u, v) for u, v, x, y in table["crossings"]}
    words = []
    for x in BOX[:2]:
        u, v = corners[x, BOX[2]]
        words += ["--speed", f"{u:.2f},{v:.2f} = {x / 1.5:.6g} %"]
    for y in BOX[2:]:
        u, v = corners[0.0, y]
        words += ["--gap", f"{u:.2f},{v:.2f} = {y:g} mm"]
    code, out, err = rim("digitise", tmp_path / "chart.png", *words, "--rated", "150 rpm", "--colour", "#d62728")
    assert code == 0, err
    rows = [line.split(",") for line in out.splitlines() if line[:1].isdigit()]
    assert float(rows[-1][0]) == pytest.approx(224.0, abs=3.0)


def test_the_page_holds_the_picture_loads_nothing_and_keeps_names_harmless(tmp_path, rim):
    table = plain(tmp_path / "a<b>&.png")
    assert table
    code, _, err = rim("digitise", tmp_path / "a<b>&.png", "--page", tmp_path / "marks.html")
    assert code == 0, err
    page = (tmp_path / "marks.html").read_text(encoding="utf-8")
    assert "a&lt;b&gt;&amp;.png" in page
    assert "a<b>" not in page
    assert "data:image/png;base64," in page
    assert "default-src 'none'" in html.unescape(page)
    assert not re.search(r"(src|href)\s*=\s*[\"']?(https?:|//)", page)
    assert not re.search(r"\b(fetch|XMLHttpRequest|WebSocket|import)\b\s*[(.]", page)


@pytest.mark.skipif(shutil.which("chromium") is None, reason="needs a browser")
def test_clicks_on_the_page_become_a_description_that_is_read(tmp_path, rim):
    table = plain(tmp_path / "chart.png")
    rim("digitise", tmp_path / "chart.png", "--page", tmp_path / "marks.html")
    clicks = "".join(f"click({u}, {v}); fill(0, '{x:g}'); fill(1, '{y:g}');\n" for u, v, x, y in table["crossings"])
    script = f"""<script>
    window.addEventListener("load", () => setTimeout(() => {{
      const fill = (place, text) => {{ const field = document.querySelectorAll("#rows tr:last-child input")[place];
        field.value = text; field.dispatchEvent(new Event("input")); }};
      const click = (column, row) => {{ const box = picture.getBoundingClientRect();
        picture.dispatchEvent(new MouseEvent("click", {{ clientX: box.left + column + 0.5, clientY: box.top + row + 0.5,
          bubbles: true }})); }};
      {clicks}
      at("colour").value = "#d62728"; write();
      document.title = at("text").value;
    }}, 300));</script></body>"""
    page = (tmp_path / "marks.html").read_text(encoding="utf-8").replace("</body>", script)
    (tmp_path / "clicked.html").write_text(page, encoding="utf-8")
    shown = subprocess.run(
        ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--virtual-time-budget=4000", "--dump-dom",
         (tmp_path / "clicked.html").as_uri()], capture_output=True, text=True, timeout=120, check=True,
    ).stdout  # fmt: skip
    text = re.search(r"<title>(.*?)</title>", shown, re.DOTALL)[1].replace("&amp;", "&")
    (tmp_path / "axes.toml").write_text(text, encoding="utf-8")
    code, out, err = rim("digitise", tmp_path / "chart.png", tmp_path / "axes.toml")
    assert code == 0, err
    assert "40 points read off" in out


def part_of_a_run(path, share, *, timed=True):
    speed = np.array([8, 35, 50, 65, 80, 95, 110, 120, 128, 136, 145, 153, 160, 167, 174, 180, 186, 193, 199, 204.0])
    noise = 0.008 * np.random.default_rng(3).normal(size=len(speed))
    gap = in_mm(sweep(CASE.rotor, COLD, speed * RPM).air_gap) + noise
    rows = [f"{10 * t},{n:g},{g:.4f},up" for t, (n, g) in enumerate(zip(speed, gap, strict=True))]
    rows = (
        rows[: int(share * len(speed))] if timed else [row.partition(",")[2] for row in rows[: int(share * len(speed))]]
    )
    head = f"{'time [s],' if timed else ''}speed [rpm],gap [mm],direction\n"
    path.write_text(head + "\n".join(rows) + "\n", encoding="utf-8")


def test_a_look_says_what_is_shown_and_which_speed_would_tell_most(tmp_path, rim):
    truth = in_rpm(float(float_speed(CASE.rotor, COLD).speed))
    for share, shown in ((0.5, "seated"), (1.0, "lift-off")):
        part_of_a_run(tmp_path / "run.csv", share)
        code, out, err = rim("fit", UNIT, tmp_path / "run.csv", "--condition", "cold", "--so-far", "--json")
        assert code == 0, err
        look = json.loads(out)["so_far"][0]
        assert look["shown"] == shown
        low, high = look["lift_off_interval_rpm"]
        assert low < truth
        assert high is None or truth < high < 204.0
        assert (look["next"]["speed_rpm"] in look["next"]["compared_rpm"]) == look["next"]["worth_a_reading"]
        assert max(look["next"]["compared_rpm"]) <= in_rpm(float(CASE.rotor.speeds.overspeed)) + 1e-6
    code, out, _ = rim("fit", UNIT, tmp_path / "run.csv", "--condition", "cold", "--so-far")
    assert "the rim has lifted off, between" in out
    assert "every look at this run together" in out
    assert "nan" not in out
    assert "inf" not in out.replace("information", "")


def test_one_line_of_a_run_up_of_unknown_length_bounds_nothing(tmp_path, rim):
    part_of_a_run(tmp_path / "run.csv", 0.5, timed=False)
    code, out, err = rim("fit", UNIT, tmp_path / "run.csv", "--condition", "cold", "--so-far", "--json")
    assert code == 0, err
    assert json.loads(out)["so_far"][0]["shown"] == "nothing"
    assert json.loads(out)["so_far"][0]["lift_off_interval_rpm"] == [None, None]


def look(rim, run, unit=UNIT):
    code, out, err = rim("fit", unit, run, "--condition", "cold", "--so-far", "--json")
    assert code == 0, err
    return json.loads(out)["so_far"][0]


def up(path, speeds, *, hold=20.0, error=None, warm=None, recorded=(), noise=0.008):
    """A run-up of holds, one reading each."""
    warm = warm or {}
    condition = COLD
    gap = [
        in_mm(float(sweep(CASE.rotor, replace(condition, **{
            f"{body}_temperature": getattr(condition, f"{body}_temperature") + kelvin[place]
            for body, kelvin in warm.items()
        }), n * RPM).air_gap))
        for place, n in enumerate(speeds)
    ]  # fmt: skip
    gap = np.array(gap) + noise * np.random.default_rng(5).normal(size=len(gap))
    head = ["time [s]", "speed [rpm]", "gap [mm]", *(["gap_error [mm]"] if error else [])]
    head += [f"{body}_temperature [degC]" for body in recorded]
    rows = [
        [f"{hold * place:g}", f"{n:g}", f"{gap[place]:.4f}", *([f"{error:g}"] if error else []),
         *(f"{float(np.mean(getattr(COLD, f'{body}_temperature'))) - 273.15 + warm[body][place]:.2f}"
           for body in recorded)]
        for place, n in enumerate(speeds)
    ]  # fmt: skip
    path.write_text("\n".join([",".join(head), *(",".join(row) for row in rows)]) + "\n", encoding="utf-8")
    return path


SPEEDS = np.array(
    [31.0, 62, 75, 87, 100, 110, 118, 125, 131, 137, 144, 150, 156, 162, 168, 175, 181, 187, 193, 199, 204]
)


def test_few_readings_of_no_stated_error_bound_nothing_in_a_look_as_in_a_fit(tmp_path, rim):
    run = up(tmp_path / "run.csv", SPEEDS[::3])
    found = look(rim, run)
    assert found["shown"] == "nothing"
    assert found["lift_off_interval_rpm"] == [None, None]
    code, out, _ = rim("fit", UNIT, run, "--condition", "cold")
    assert code == 0
    sentence = next(reason for reason in found["reasons"] if "gap_error" in reason)
    assert sentence[:60] in " ".join(out.split())
    # a speed to go to next is named all the same, without numbers that rest on their scatter
    assert found["next"]["speed_rpm"] is not None
    assert found["next"]["uncertainty_now_rpm"] is None
    stated = look(rim, up(tmp_path / "stated.csv", SPEEDS[::3], error=0.01))
    assert stated["shown"] == "seated"
    assert not any("gap_error" in reason for reason in stated["reasons"])


def test_readings_above_the_agreed_speed_are_remarked_and_none_is_recommended(tmp_path, rim):
    unit = tmp_path / "unit.toml"
    text = UNIT.read_text(encoding="utf-8")
    assert 'highest_speed = "1.5 x rated"' in text
    unit.write_text(text.replace('highest_speed = "1.5 x rated"', 'highest_speed = "180 rpm"'), encoding="utf-8")
    below = look(rim, up(tmp_path / "below.csv", SPEEDS[:15]), unit)
    assert not any("CAUTION" in note for note in below["notes"])
    found = look(rim, up(tmp_path / "above.csv", SPEEDS), unit)
    caution = next(note for note in found["notes"] if note.startswith("CAUTION"))
    assert "5 speed points lie above 180.0 rpm" in caution
    assert "204.0 rpm" in caution
    _, said, _ = rim("fit", unit, tmp_path / "above.csv", "--condition", "cold", "--so-far")
    assert "Continue by the plan" not in said
    for one in (below, found):
        assert max(one["next"]["compared_rpm"]) <= 180.0 + 1e-9


def test_recorded_temperatures_are_part_of_a_look_and_it_says_so(tmp_path, rim):
    share = np.linspace(0.0, 1.0, len(SPEEDS))
    warm = {"rim": 8.0 * share**2, "spider": 4.0 * share**2, "stator": 3.0 * share}
    truth = in_rpm(float(float_speed(CASE.rotor, COLD).speed))
    found = look(rim, up(tmp_path / "run.csv", SPEEDS, hold=600.0, warm=warm, recorded=tuple(warm)))
    assert found["shown"] == "lift-off"
    low, high = found["lift_off_interval_rpm"]
    assert low < truth < high
    assert any("are part of this look" in note for note in found["notes"])
    unknown = look(rim, up(tmp_path / "bare.csv", SPEEDS, hold=600.0, warm=warm))
    assert unknown["lift_off_interval_rpm"][0] is None or unknown["lift_off_interval_rpm"][0] < low
    assert not any("temperatures" in note for note in unknown["notes"])


def test_temperatures_that_a_look_cannot_use_are_said_to_be_left_out(tmp_path, rim):
    none = {"rim": np.zeros(len(SPEEDS)), "spider": np.zeros(len(SPEEDS))}
    for recorded, why in ((("rim",), "only where both are recorded"), (("rim", "spider"), "stay within 0.5 K")):
        found = look(rim, up(tmp_path / "run.csv", SPEEDS[:12], warm=none, recorded=recorded))
        note = next(note for note in found["notes"] if "not part of this look" in note)
        assert why in note
        assert "wider, never narrower" in note
