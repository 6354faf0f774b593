"""The page and its files: self-contained, every name as text, strict JSON, whole or not written at all."""

import base64
import csv
import errno
import hashlib
import io
import json
import os
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from html import unescape
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

from rimmodel.plotting.style import to_svg
from rimmodel.rotor.case.case import EXAMPLES, parse_case, read_case
from rimmodel.verdict import review
from rimmodel.verdict.cautions import CAUTIONS
from rimmodel.verdict.output.details import details, drawings
from rimmodel.verdict.output.details import table as details_table
from rimmodel.verdict.output.files import OutputError, csv_text, write_files
from rimmodel.verdict.output.made import made_on
from rimmodel.verdict.output.page import page, sweep_csv
from rimmodel.verdict.output.sweep import text as sweep_text
from rimmodel.verdict.output.tables import table as review_table
from rimmodel.verdict.output.text import text as review_text
from tests.plotting.drawn import panels_in

NEW = (EXAMPLES / "new_case.toml").read_text(encoding="utf-8")

TITLE = "<script>alert(1)</script> & \"x\" 'y' $x$"
CONDITION = '=HYPERLINK("http://a.b","c")<b>'
PLUS, AT = "+1", "@x"
LABEL = '<img src=x onerror=alert(1)> $x$ & "q"'
REQUIREMENT = "</td><script>1</script>"


def quoted(text):
    return json.dumps(text)  # a JSON string is a TOML string too


def nasty_text():
    text = NEW.replace('title = "My unit"', f"title = {quoted(TITLE)}")
    text = text.replace(
        "[conditions.cold]", f"[conditions.{quoted(PLUS)}]\n[conditions.{quoted(AT)}]\n[conditions.cold]"
    )
    text = text.replace("[conditions.hot]", f"[conditions.{quoted(CONDITION)}]")
    text = text.replace('condition = "hot"', f"condition = {quoted(CONDITION)}")
    text = text.replace("[requirements.no_float_in_service]", f"[requirements.{quoted(REQUIREMENT)}]")
    return text + f'\n[[records]]\nfile = "run.csv"\ncondition = "cold"\nlabel = {quoted(LABEL)}\n'


def nasty_case(folder):
    speed = np.linspace(20.0, 300.0, 20)
    gap = 15.0 - 2e-5 * speed**2 - 1.5e-5 * np.maximum(speed**2 - 200.0**2, 0.0)
    rows = "".join(f"{n:.3f},{g:.4f}\n" for n, g in zip(speed, gap, strict=True))
    (folder / "run.csv").write_text("speed [rpm],gap [mm]\n" + rows, encoding="utf-8")
    (folder / "unit.toml").write_text(nasty_text(), encoding="utf-8")
    return read_case(folder / "unit.toml")


@pytest.fixture(scope="module", autouse=True)
def one_day():
    """The page carries its date: hold it, so that midnight within a run changes no byte."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SOURCE_DATE_EPOCH", "1790000000")
        yield


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """A review full of nasty names, and the folder that it was written to."""
    folder = tmp_path_factory.mktemp("nasty")
    found = review(nasty_case(folder))
    found.write(folder / "out")
    return found, folder / "out"


class Page(HTMLParser):
    """Tags, attributes and texts of a page as a browser would take them apart."""

    def __init__(self, html):
        super().__init__(convert_charrefs=True)
        self.tags, self.attributes, self.texts = [], [], []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs

    def handle_data(self, data):
        self.texts.append(data)


@pytest.fixture(scope="module")
def html(written):
    return (written[1] / "review.html").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def parsed(html):
    return Page(html)


# ------------------------------------------------------------------------------------------------- the page


def test_the_page_asks_for_nothing_outside_itself(html, parsed):
    assert not {"link", "iframe", "img", "object", "embed", "base", "form"} & set(parsed.tags)
    assert parsed.tags.count("script") == 2  # numbers, and what follows them when inputs are moved
    for name, value in parsed.attributes:
        assert not name.startswith("on"), name
        if name in ("src", "href", "xlink:href", "data", "action", "poster", "srcset"):
            assert value.startswith("#"), value
    styles = re.findall(r"<style.*?</style>", html, re.DOTALL)
    assert styles
    assert not re.search(r"url\((?!#)|@import", " ".join(styles) + " ".join(v or "" for _, v in parsed.attributes))


def test_the_page_carries_a_security_policy_that_its_own_parts_keep(html, parsed):
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', html)
    rules = dict(rule.split(" ", 1) for rule in unescape(policy.group(1)).split("; "))
    assert rules["default-src"] == "'none'"
    assert not {"connect-src", "frame-src", "object-src", "worker-src"} & rules.keys()  # so they follow default-src
    own = re.search(r"<script>(.*?)</script>", html, re.DOTALL).group(1).encode()
    assert rules["script-src"] == f"'sha256-{base64.b64encode(hashlib.sha256(own).digest()).decode()}'"  # no other
    assert rules["style-src"] == "'unsafe-inline'"  # the page styles itself, and the figures their parts
    assert html.index("Content-Security-Policy") < html.index("<title>") < html.index("<style>")
    assert parsed.texts.count("Claims and requirements") == 1


def test_inner_references_of_the_figures_meet_exactly_one_target(parsed):
    names = [value for name, value in parsed.attributes if name == "id"]
    assert len(names) == len(set(names))
    for name, value in parsed.attributes:
        if name in ("href", "xlink:href"):
            assert value[1:] in names
        for target in re.findall(r"url\(#([^)]*)\)", value or ""):
            assert target in names


def test_names_come_out_as_text_on_the_page(parsed):
    texts = "\n".join(parsed.texts)
    for name in (TITLE, CONDITION, PLUS, AT, LABEL, REQUIREMENT):
        assert name in texts
    assert f"Review: {TITLE}" in parsed.texts


def test_the_verdict_stands_first_and_the_cautions_are_there(written, parsed):
    found, _ = written
    texts = [text.strip() for text in parsed.texts]
    assert found.headline in texts
    assert texts.index(found.headline) < texts.index("Claims and requirements")
    for line in CAUTIONS:
        assert line in texts
    assert f"SHA-256 of all inputs: {found.input_digest}" in texts


def test_every_input_stands_on_the_page_as_it_was_read(parsed):
    for key, value in (("rim.inner_radius", "3 m"), ("poles.count", "40"), ("records[1].label", LABEL)):
        place = parsed.texts.index(key)
        assert value in parsed.texts[place : place + 4]


def test_the_figures_are_whole_svg_files_and_stand_on_the_page(written, html):
    files = sorted((written[1] / "figures").glob("*.svg"))
    assert {"speed_chart.svg", "drivers.svg"} <= {path.name for path in files}
    assert html.count("<svg") == len(files) + html.count('<svg id="what-if-')  # those are drawn in the browser
    for path in files:
        root = ET.parse(path).getroot()
        assert root.tag == "{http://www.w3.org/2000/svg}svg"
        tags = {element.tag.rpartition("}")[2] for element in root.iter()}
        assert not {"script", "image", "b", "img"} & tags
    chart = (written[1] / "figures" / "speed_chart.svg").read_text(encoding="utf-8")
    assert "<img" not in chart
    assert "$x$" in chart  # drawn as it is and noted beside its outlines, not set as a formula


# ------------------------------------------------------------------------------------------------- CSV and JSON


def test_no_cell_of_the_csv_is_a_formula(written):
    rows = list(csv.reader(io.StringIO((written[1] / "sweep.csv").read_text(encoding="utf-8"))))
    names = {row[0] for row in rows[1:]}
    assert names == {"'" + PLUS, "'" + AT, "'" + CONDITION, "cold"}
    for row in rows[1:]:
        assert row[0][0] not in "=+-@"
        for cell in row[1:]:
            assert cell == "" or np.isfinite(float(cell))
    assert len({len(row) for row in rows}) == 1


def test_negative_numbers_of_the_csv_stay_numbers():
    case = parse_case(NEW.encode(), "unit.toml")
    rows = list(csv.DictReader(io.StringIO(sweep_csv(review(replace(case, rotor=case.rotor.with_interference(1e-3)))))))
    assert min(float(row["residual_interference_mm"]) for row in rows) < 0


def test_cells_that_look_like_formulas_become_text():
    cells = ["=1+1", "+1", "-1", "@x", "\t=1", "plain", 'a "q", b']
    (_, row) = csv.reader(io.StringIO(csv_text(["h"] * 8, [[*cells, -1.5]])))
    assert row == ["'=1+1", "'+1", "'-1", "'@x", "'\t=1", "plain", 'a "q", b', "-1.5"]


def strict(text):
    return json.loads(text, parse_constant=lambda word: pytest.fail(f"{word} is not JSON"))


def test_the_json_has_the_agreed_keys(written):
    found, folder = written
    table = strict((folder / "review.json").read_text(encoding="utf-8"))
    assert {"title", "input_digest", "conditions", "claims", "requirements", "sensitivities", "shim_change_mm",
            "cautions"} <= table.keys()  # fmt: skip
    assert table["title"] == TITLE
    assert set(table["conditions"]) == {PLUS, AT, "cold", CONDITION}
    for entry in table["conditions"].values():
        assert {"float_speed_rpm", "float_note", "at"} <= entry.keys()
        assert {"rated", "overspeed"} <= entry["at"].keys()
    for row in table["claims"] + table["requirements"]:
        assert {"name", "condition", "stated", "predicted", "measured", "interval", "verdict", "margin",
                "reason"} <= row.keys()  # fmt: skip
        assert row["verdict"] in ("holds", "does not hold", "not shown")
    assert table["claims"][0]["stated"] == pytest.approx(195.0)  # 1.3 x 150 rpm
    assert table["requirements"][0]["name"] == REQUIREMENT
    assert table["cautions"] == list(CAUTIONS)
    assert table == json.loads(json.dumps(review_table(found) | details_table(found, details(found))))


HARD = {
    "under the magnetic pull before the rim floats": {
        'flux_density = "0.9 T"': 'flux_density = "1.6 T"',
        'cold = "15 mm"': 'cold = "1 mm"',
        'minimum_allowed = "8 mm"': 'minimum_allowed = "0.5 mm"',
    },
    "floats at standstill": {'interference = "1.8 mm"': 'interference = "-0.1 mm"'},
    "never floats": {'arm_area = "0.05 m^2"': 'arm_area = "0.01 m^2"\ntip_mass = "20 t"'},
    "beyond overspeed": {'interference = "1.8 mm"': 'interference = "9 mm"'},
}


@pytest.mark.parametrize("name", HARD)
def test_where_a_number_does_not_exist_json_has_null_and_the_page_has_words(name):
    text = NEW
    for old, new in HARD[name].items():
        assert text.count(old) == 1
        text = text.replace(old, new)
    found = review(parse_case(text.encode(), "unit.toml"))
    table = strict(json.dumps(review_table(found), allow_nan=False))
    notes = [entry["float_note"] for entry in table["conditions"].values()]
    speeds = [entry["float_speed_rpm"] for entry in table["conditions"].values()]
    if name == "never floats":
        assert speeds == [None, None]
    if name == "floats at standstill":
        assert speeds == [0.0, 0.0]
    assert any(name in note for note in notes)
    behind = details(found)
    strict(json.dumps(details_table(found, behind), allow_nan=False))
    drawn = {name: panels_in(to_svg(draw())) for name, draw in drawings(found, behind).items()}
    around = any(np.isfinite(row.gap) for row in behind.least_gap.at)
    more = (*(("plan",) if behind.plan else ()), "least_gap_speed", *(("least_gap_angle",) if around else ()))
    assert drawn == dict.fromkeys(("limits", "window", *more), 1)
    empty = dict.fromkeys(
        ("gap_chart", "speed_chart", "drivers", "limits", "window", "plan", "load_rejection", "duty_1", "restart_1"),
        "<svg></svg>",
    )
    for said in (review_text(found), page(found, empty, behind)):
        assert not re.search(r"(?<![\w“])(nan|inf)(?!\w|”)", said)


def test_columns_of_text_line_up_and_show_a_dash_for_nothing():
    lines = sweep_text({"a": [1.0, None], "long_name": [12345.678, 0.5]}).splitlines()
    assert len({len(line) for line in lines}) == 1
    assert lines[2].split() == ["-", "0.5"]
    assert lines[1].split() == ["1", "12345.7"]


# ------------------------------------------------------------------------------------------------- writing


def contents(folder):
    return {path.relative_to(folder): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def test_the_same_inputs_give_the_same_bytes(written, monkeypatch, tmp_path):
    _, folder = written
    monkeypatch.setenv("TZ", "Pacific/Auckland")
    review(read_case(folder.parent / "unit.toml")).write(tmp_path / "again")
    assert contents(tmp_path / "again") == contents(folder)


@pytest.mark.derived
@pytest.mark.parametrize(("seconds", "date"), [("0", "1970-01-01"), ("951782400", "2000-02-29")])
def test_the_date_of_the_page_can_be_held(monkeypatch, seconds, date):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", seconds)
    assert made_on() == date


@pytest.mark.parametrize("seconds", ["", "today", "1e9", "9" * 30])
def test_a_date_that_is_none_is_refused_by_name(monkeypatch, seconds):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", seconds)
    with pytest.raises(OutputError, match=r"SOURCE_DATE_EPOCH is .*whole seconds since 1970"):
        made_on()


FILES = ("a.txt", "b.txt", "sub/c.txt")


@pytest.fixture
def results(tmp_path):
    """Three results of an earlier run, and what is to replace them."""
    paths = [tmp_path / name for name in FILES]
    write_files({path: f"old {path.name}" for path in paths})
    return tmp_path, {path: f"new {path.name}" for path in paths}


def test_existing_results_stay_unless_told_otherwise(results):
    folder, files = results
    before = contents(folder)
    with pytest.raises(OutputError, match=r"a\.txt already exists; .*overwrite=True"):
        write_files(files)
    assert contents(folder) == before
    assert write_files(files, overwrite=True) == list(files)
    assert {path.name: path.read_text(encoding="utf-8") for path in files} == {
        "a.txt": "new a.txt",
        "b.txt": "new b.txt",
        "c.txt": "new c.txt",
    }
    assert len(contents(folder)) == 3


@pytest.mark.parametrize("failing", [1, 2, 3])
def test_a_rename_that_fails_leaves_the_earlier_results_whole(results, monkeypatch, failing):
    folder, files = results
    before, calls, rename = contents(folder), [], Path.replace

    def broken(self, target):
        calls.append(target)
        if len(calls) == failing:
            raise OSError(errno.EIO, "Input/output error", str(target))
        return rename(self, target)

    monkeypatch.setattr(Path, "replace", broken)
    with pytest.raises(OutputError, match=r"Input/output error.*choose another place"):
        write_files(files, overwrite=True)
    assert len(calls) == failing
    assert contents(folder) == before
    assert write_files(files, overwrite=True) == list(files)  # and a second run works


def test_a_rename_that_fails_leaves_no_new_file_behind(tmp_path, monkeypatch):
    calls, rename = [], Path.replace

    def broken(self, target):
        calls.append(target)
        if len(calls) == 2:
            raise OSError(errno.EIO, "Input/output error")
        return rename(self, target)

    monkeypatch.setattr(Path, "replace", broken)
    with pytest.raises(OutputError):
        write_files({tmp_path / name: "new" for name in FILES})
    assert contents(tmp_path) == {}


def test_a_full_disk_leaves_the_earlier_results_whole(results, monkeypatch):
    folder, files = results
    before, real = contents(folder), Path.open

    def on_a_full_disk(self, *how, **more):
        return real(Path("/dev/full") if self.parts[-2:] == ("new", "1") else self, *how, **more)

    monkeypatch.setattr(Path, "open", on_a_full_disk)
    with pytest.raises(OutputError, match=r"b\.txt: No space left on device"):
        write_files(files, overwrite=True)
    assert contents(folder) == before
    monkeypatch.undo()
    write_files(files, overwrite=True)
    assert all(path.read_text(encoding="utf-8").startswith("new") for path in files)


def test_a_place_below_a_plain_file_is_refused(tmp_path):
    (tmp_path / "plain").write_text("mine", encoding="utf-8")
    for place in ("plain/a.txt", "plain/sub/a.txt"):
        with pytest.raises(OutputError, match=r"cannot write .*not a directory"):
            write_files({tmp_path / place: "new"}, overwrite=True)
    assert contents(tmp_path) == {Path("plain"): b"mine"}


def test_what_is_no_file_is_never_replaced(tmp_path):
    (tmp_path / "folder").mkdir()
    os.mkfifo(tmp_path / "pipe")
    for name in ("folder", "pipe"):
        with pytest.raises(OutputError, match="is a directory or a device"):
            write_files({tmp_path / name: "new"}, overwrite=True)
    assert (tmp_path / "pipe").is_fifo()
