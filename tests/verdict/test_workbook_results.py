"""Results as workbooks: the numbers of the JSON, and no text that a spreadsheet would work out."""

import io
import json
import sys
import zipfile
from pathlib import Path

import openpyxl
import pytest

from rimmodel.rotor.case.case import EXAMPLES
from rimmodel.verdict.output.workbook import Table, workbook_bytes
from rimmodel.version import VERSION

NEW = (EXAMPLES / "new_case.toml").read_text(encoding="utf-8")


@pytest.fixture
def run(rim, monkeypatch, tmp_path):
    """Run the program in an empty folder: exit code and both streams."""
    monkeypatch.chdir(tmp_path)
    return rim


def sheet_rows(content, name):
    """Rows of a sheet below its head, as dicts."""
    book = openpyxl.load_workbook(io.BytesIO(content) if isinstance(content, bytes) else content)
    head, *rows = book[name].iter_rows(values_only=True)
    return [dict(zip(head, row, strict=True)) for row in rows]


def formulas(content):
    """How many cells hold a formula, by the XML itself."""
    with zipfile.ZipFile(io.BytesIO(content)) as parts:
        sheets = [parts.read(name).decode() for name in parts.namelist() if name.startswith("xl/worksheets/")]
    return sum(text.count("<f>") + text.count("<f ") for text in sheets)


def test_a_sweep_holds_the_numbers_of_its_json(run):
    code, out, err = run("sweep", "--points", 7, "--json", "--xlsx", "sweep.xlsx")
    assert code == 0
    assert err == "wrote sweep.xlsx\n"
    table = json.loads(out)
    rows = sheet_rows("sweep.xlsx", "sweep")
    assert len(rows) == 7
    for name, value in table.items():
        if isinstance(value, list):
            written = [row[name] for row in rows]
            assert [cell is None for cell in written] == [number is None for number in value]
            numbers = [number for number in value if number is not None]
            assert [cell for cell in written if cell is not None] == pytest.approx(numbers, rel=1e-8)
    about = {row["what"]: row["value"] for row in sheet_rows("sweep.xlsx", "about")}
    assert about["made by"] == f"rimmodel {VERSION}"
    assert about["condition"] == table["condition"]
    assert about["float speed rpm"] == pytest.approx(table["float_speed_rpm"], rel=1e-8)


def test_a_fit_holds_its_results_and_the_points_that_they_come_from(run):
    code, out, _ = run("fit", "--json", "--xlsx", "fit.xlsx")
    assert code == 0
    records = json.loads(out)["records"]
    for row, record in zip(sheet_rows("fit.xlsx", "results"), records, strict=True):
        assert row["label"] == record["label"]
        assert row["verdict"] == record["verdict"]
        assert row["float_speed_rpm"] == pytest.approx(record["float_speed_rpm"], rel=1e-8)
        ends = [row["float_speed_interval_rpm_low"], row["float_speed_interval_rpm_high"]]
        assert ends == pytest.approx(record["float_speed_interval_rpm"], rel=1e-8)
    points = sheet_rows("fit.xlsx", "speed points")
    for record in records:
        used = [row for row in points if row["record"] == record["label"] and row["used in fit"] == "yes"]
        assert len(used) == record["speed_points"]
        left = [row["measured_less_fitted_gap_mm"] for row in used]
        noise = (sum(value**2 for value in left) / len(left)) ** 0.5
        assert 0.5 * record["noise_mm"] < noise < 2 * record["noise_mm"]
        assert all(5 < row["gap_mm"] < 20 for row in used)
    texts = {row["text"] for row in sheet_rows("fit.xlsx", "remarks")}
    assert {*records[0]["notes"], *records[1]["notes"]} <= texts


def test_a_fleet_holds_good_and_faulty_cases(run, tmp_path):
    (tmp_path / "units").mkdir()
    (tmp_path / "units" / "good.toml").write_text(NEW.replace("My unit", "=1+1"), encoding="utf-8")
    (tmp_path / "units" / "bad.toml").write_text("title = 3\n", encoding="utf-8")
    code, out, _ = run("fleet", "units", "--json", "--xlsx", "fleet.xlsx")
    assert code == 2  # one is faulty
    rows = sheet_rows("fleet.xlsx", "fleet")
    assert [row["file"] for row in rows] == ["good.toml", "bad.toml"]
    assert rows[0]["unit"] == "=1+1"
    assert rows[0]["margin [%]"] == pytest.approx(100 * json.loads(out)["cases"][0]["margin"], abs=0.006)
    assert rows[1]["fault"]
    assert formulas(Path("fleet.xlsx").read_bytes()) == 0


@pytest.mark.parametrize(
    "text", ["=1+1", '=HYPERLINK("x")', "+1", "-1", "@SUM(A1)", "\t=1", "=", "{=1}", "#N/A", "a\x07b"]
)
def test_text_stays_text(text):
    content = workbook_bytes({"all": Table((text, "number"), [(text, -1.5), (text, None), ("", float("inf"))])})
    assert formulas(content) == 0
    book = openpyxl.load_workbook(io.BytesIO(content))
    cells = [cell for row in book["all"].iter_rows(max_col=1, max_row=3) for cell in row]
    assert [cell.value for cell in cells] == [text.replace("\x07", "?")] * 3
    assert all(cell.data_type == "s" and cell.quotePrefix for cell in cells)
    assert [book["all"].cell(row, 2).value for row in (2, 3, 4)] == [-1.5, None, None]


@pytest.mark.parametrize(
    ("words", "answer"),
    [
        ("sweep --xlsx sweep.csv", "does not end in .xlsx"),
        ("sweep --xlsx ''", "without a name"),
        ("sweep --points 100001 --xlsx a.xlsx", "a workbook takes 100000 speeds"),
        ("fit --xlsx taken.xlsx", "taken.xlsx already exists"),
        ("fleet . --xlsx out.xls", "does not end in .xlsx"),
    ],
)
def test_a_workbook_that_cannot_be_written_is_refused(run, tmp_path, words, answer):
    (tmp_path / "taken.xlsx").write_text("mine", encoding="utf-8")
    (tmp_path / "unit.toml").write_text(NEW, encoding="utf-8")
    code, out, err = run(*["" if word == "''" else word for word in words.split()])
    assert (code, out) == (2, "")
    assert answer in err
    assert (tmp_path / "taken.xlsx").read_text(encoding="utf-8") == "mine"


def test_without_the_library_it_says_what_to_install(run, monkeypatch):
    monkeypatch.setitem(sys.modules, "openpyxl", None)
    code, _, err = run("sweep", "--xlsx", "sweep.xlsx")
    assert code == 2
    assert "pip install '.[excel]'" in err


def test_a_recording_is_never_overwritten_by_a_result(run, tmp_path):
    records = '\n[[records]]\nfile = "run.xlsx"\ncondition = "cold"\n'
    (tmp_path / "unit.toml").write_text(NEW + records, encoding="utf-8")
    book = openpyxl.Workbook()
    book.active.append(["speed [rpm]", "gap [mm]"])
    for speed in range(20, 200, 10):
        book.active.append([speed, 15 - 2e-5 * speed**2 - 1.5e-5 * max(speed**2 - 130**2, 0)])
    book.save(tmp_path / "run.xlsx")
    before = (tmp_path / "run.xlsx").read_bytes()
    for command in ("sweep", "fit"):
        code, _, err = run(command, "unit.toml", "--force", "--xlsx", "run.xlsx")
        assert code == 2
        assert "is an input of this command" in err
    assert (tmp_path / "run.xlsx").read_bytes() == before
