"""Recordings on a sheet of a workbook: read as the same table from CSV is, and refused with the address of the cell."""

import datetime
import io
import re
import sys
import tomllib
import zipfile

import numpy as np
import openpyxl
import pytest

from rimmodel.cli import main
from rimmodel.evidence.recording import workbook
from rimmodel.evidence.recording.read import RecordingError, read_recording
from rimmodel.rotor.case.case import EXAMPLES, CaseError, parse_case
from rimmodel.verdict.records import check_records

HEADER = ["speed [rpm]", "gap [mm]"]
ROWS = [[20, 16.14], [60, 15.96], [100, 15.65], [120, 15.42], [140, 15.16], [160, 14.83]]
NEW = (EXAMPLES / "new_case.toml").read_text(encoding="utf-8")


def saved(path, sheets, merged=()):
    """Write a workbook with the rows of each sheet."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
        for place in merged:
            sheet.merge_cells(place)
    book.save(path)
    return path


@pytest.fixture
def run_book(tmp_path):
    """A workbook of one sheet with these rows."""

    def make(rows, merged=(), name="Run 1"):
        return saved(tmp_path / "run.xlsx", {name: rows}, merged)

    return make


def with_stored_results(path, results):
    """The same workbook with results stored beside its formulas, as a spreadsheet program leaves them."""
    parts = io.BytesIO(path.read_bytes())
    with zipfile.ZipFile(parts) as old, zipfile.ZipFile(path, "w") as new:
        for item in old.infolist():
            text = old.read(item)
            if item.filename == "xl/worksheets/sheet1.xml":
                for cell, (kind, value) in results.items():
                    pattern = rf'<c r="{cell}"([^>]*)><f>(.*?)</f><v ?/?>(</v>)?</c>'
                    found = f'<c r="{cell}" t="{kind}"><f>\\2</f><v>{value}</v></c>'
                    text, count = re.subn(pattern, found, text.decode())
                    assert count == 1, cell
                    text = text.encode()
            new.writestr(item, text)
    return path


def refused(path, *words, sheet=None):
    with pytest.raises(RecordingError) as caught:
        read_recording(path, sheet=sheet)
    text = str(caught.value)
    assert all(word in text for word in words), text
    assert "Traceback" not in text
    assert str(path) in text


def columns(recording):
    return recording.table.collect().sort("speed").to_dict(as_series=False)


# ------------------------------------------------------------------------------------------------ what is read


@pytest.mark.independent
def test_a_sheet_reads_as_the_same_table_from_csv(run_book, tmp_path):
    extra = [[*row, "G1", 1, 0.5 * n, "up", 20.0 if n else None, "a remark nobody reads"] for n, row in enumerate(ROWS)]
    head = [*HEADER, "sensor", "pole", "Time [s]", "direction", "rim temperature [degC]", "remark"]
    head[4] = "time [min]"
    text = "\n".join(",".join("" if cell is None else str(cell) for cell in row) for row in [head, *extra])
    (tmp_path / "run.csv").write_text(text + "\n", encoding="utf-8")
    book, csv = read_recording(run_book([head, *extra])), read_recording(tmp_path / "run.csv")
    assert columns(book) == columns(csv)
    assert (book.rows, book.dropped, book.sensors, book.poles, book.directions) == (
        csv.rows, csv.dropped, csv.sensors, csv.poles, csv.directions,
    )  # fmt: skip
    assert book.notes == ("Read from sheet 'Run 1'.", *csv.notes)


def test_title_rows_above_the_header_are_passed_over_and_named(run_book):
    above = [["Proving run of an invented unit"], [None], ["date", datetime.date(2026, 3, 1)]]
    recording = read_recording(run_book([*above, HEADER, *ROWS], merged=["A1:D1"]))
    assert recording.rows == 6
    assert recording.notes[:2] == ("Read from sheet 'Run 1'.", "Rows 1 to 3 of the sheet, above the header, not used.")


def test_messages_name_the_row_of_the_sheet(run_book):
    refused(run_book([["title"], [], HEADER, *ROWS[:2], [100, "fast"], *ROWS[3:]]), "row 6", "'fast' is not a number")
    rows = [HEADER, *ROWS[:3], [None, None], [None, 15.4], *ROWS[3:]]
    recording = read_recording(run_book(rows))
    assert recording.rows == 7
    assert [(count, first) for _, count, first in recording.dropped] == [(1, 6)]


def test_the_only_sheet_that_holds_something_needs_no_name(tmp_path):
    path = saved(tmp_path / "run.xlsx", {"Notes": [], "Run": [HEADER, *ROWS]})
    assert read_recording(path).source == f"{path}, sheet 'Run'"
    assert read_recording(path).label == "run"
    assert read_recording(path, sheet="Run").label == "run, Run"
    path.rename(tmp_path / "export")  # whatever it is called
    assert read_recording(tmp_path / "export").rows == 6


def test_a_hidden_sheet_is_read_by_its_name_only(tmp_path):
    book = openpyxl.load_workbook(saved(tmp_path / "run.xlsx", {"Run": [HEADER, *ROWS], "Old": [HEADER, *ROWS[:4]]}))
    book["Old"].sheet_state = "hidden"
    book.save(tmp_path / "run.xlsx")
    assert read_recording(tmp_path / "run.xlsx").rows == 6
    assert read_recording(tmp_path / "run.xlsx", sheet="Old").rows == 4


def test_numbers_as_text_are_read_and_names_as_numbers_are_names(run_book):
    rows = [[*HEADER, "sensor"], *([row[0], str(row[1]), 1 + n % 2] for n, row in enumerate(ROWS))]
    recording = read_recording(run_book(rows))
    assert recording.sensors == ("1", "2")
    assert np.allclose(recording.sample["gap"].to_numpy(), [row[1] * 1e-3 for row in ROWS], rtol=1e-14)


def test_formulas_with_stored_results_are_their_results(run_book):
    rows = [[*HEADER, "sensor"], *([row[0], row[1], "G1"] for row in ROWS)]
    rows[1][1], rows[2][1], rows[2][2] = "=16+0.14", "=15.9+0.06", '=IF(1=1,"","G2")'
    path = with_stored_results(run_book(rows), {"B2": ("n", "16.14"), "B3": ("n", "15.96"), "C3": ("str", "")})
    assert read_recording(path).sample["gap"].to_list() == pytest.approx([row[1] * 1e-3 for row in ROWS], rel=1e-14)


# ------------------------------------------------------------------------------------------------ what is refused


def test_the_sheet_must_be_there_and_named_where_there_are_several(tmp_path):
    path = saved(tmp_path / "run.xlsx", {"Run 1": [HEADER, *ROWS], "Run 2": [HEADER, *ROWS[:5]], "Empty": []})
    refused(path, "2 sheets that hold something ('Run 1', 'Run 2')", "--sheet NAME", "[[records]]")
    refused(path, "no sheet 'Run 3'", "'Run 1', 'Run 2'", sheet="Run 3")
    refused(path, "no sheet 'run 1'; is 'Run 1' meant?", sheet="run 1")
    refused(path, "sheet 'Empty' is empty", sheet="Empty")
    assert read_recording(path, sheet="Run 2").rows == 5
    refused(saved(tmp_path / "none.xlsx", {"A": [], "B": [[None, None]]}), "all its sheets are empty")


def test_a_sheet_of_another_file_is_refused(tmp_path):
    (tmp_path / "run.csv").write_text("speed [rpm],gap [mm]\n20,16\n60,15.9\n", encoding="utf-8")
    refused(tmp_path / "run.csv", "is no workbook", "'Run 1'", sheet="Run 1")


@pytest.mark.parametrize(
    ("place", "value", "words"),
    [
        ((2, 1), datetime.datetime(2026, 3, 1), ("cell B4", "a date or clock time", "not a number")),
        ((0, 0), datetime.time(12, 30), ("cell A2", "a date or clock time")),
        ((1, 2), datetime.datetime(2026, 1, 2), ("cell C3", "a date", "not a name", "text")),
        ((3, 1), True, ("cell B5", "TRUE", "not a number")),
        ((3, 1), "#DIV/0!", ("cell B5", "the error #DIV/0!", "mend the formula")),
        ((4, 1), "=B2-B3", ("cell B6", "'=B2-B3'", "without a stored result")),
        ((4, 2), '="G"&1', ("cell C6", "without a stored result")),
        ((5, 1), "14,83", ("row 7", "'14,83' is not a number")),
        ((5, 1), "14.83 mm", ("row 7", "'14.83 mm' is not a number")),
    ],
    ids=lambda value: str(value)[:20],
)
def test_a_cell_that_is_no_reading_is_refused_with_its_address(run_book, place, value, words):
    rows = [[*row, "G1"] for row in ROWS]
    rows[place[0]][place[1]] = value
    refused(run_book([[*HEADER, "sensor"], *rows]), "sheet 'Run 1'", *words)


def test_a_date_in_a_column_that_is_not_read_does_not_matter(run_book):
    rows = [[*row, datetime.datetime(2026, 3, 1), "=NOW()", True] for row in ROWS]
    recording = read_recording(run_book([[*HEADER, "date", "clock", "checked"], *rows]))
    assert recording.rows == 6
    assert "Columns not used: date, clock, checked." in recording.notes


def test_merged_cells_are_refused_where_they_stand_for_several(run_book):
    rows = [HEADER, *ROWS]
    refused(run_book([["speed [rpm]", None], *ROWS], merged=["A1:B1"]), "A1:B1 are merged in the header")
    refused(run_book(rows, merged=["B3:B4"]), "B3:B4 are merged in a column that is read")
    refused(run_book([["run", None], *rows], merged=["A1:B2"]), "A1:B2 are merged in the header")
    beside = [[*HEADER, "remark"], *([*row, "hot"] for row in ROWS)]
    assert read_recording(run_book(beside, merged=["C2:C4"])).rows == 6


def test_headers_are_held_to_the_same_rules(run_book):
    refused(run_book([[*HEADER, "Gap [in]"], *([*row, 1.0] for row in ROWS)]), "are both gap; keep one")
    refused(run_book([["speed", "gap"], *ROWS]), "column 'speed' has no unit")
    refused(run_book([["speed [rpm]", "clearance [mm]"], *ROWS]), "column gap is missing")
    refused(run_book(ROWS), "column speed is missing", "the header is missing")
    refused(run_book([HEADER]), "a header only, in row 1")
    refused(run_book([["speed [rpm]", '="gap [mm]"'], *ROWS]), "cell B1", "without a stored result")


def test_damaged_and_foreign_files_are_refused_in_words(run_book, tmp_path):
    whole = run_book([HEADER, *ROWS]).read_bytes()
    cut = tmp_path / "cut.xlsx"
    cut.write_bytes(whole[: len(whole) // 2])
    refused(cut, "damaged, or of another kind than xlsx", "save it again as .xlsx")
    parts = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(whole)) as old, zipfile.ZipFile(parts, "w") as new:
        for item in old.infolist():
            new.writestr(item, b"<worksheet" if "sheet1" in item.filename else old.read(item))
    (tmp_path / "broken.xlsx").write_bytes(parts.getvalue())
    refused(tmp_path / "broken.xlsx", "cannot be read as a workbook")
    (tmp_path / "locked.xlsx").write_bytes(bytes.fromhex("d0cf11e0a1b11ae1") + bytes(600))
    refused(tmp_path / "locked.xlsx", "has a password", ".xlsx without a password")


def test_a_workbook_that_would_fill_the_memory_is_refused_before_it_is_unpacked(run_book, monkeypatch):
    monkeypatch.setattr(workbook, "LARGEST", 1000)
    refused(run_book([HEADER, *ROWS]), "MB unpacked", "Parquet")


def test_without_the_library_it_says_what_to_install(run_book, monkeypatch):
    path = run_book([HEADER, *ROWS])
    monkeypatch.setitem(sys.modules, "openpyxl", None)
    refused(path, "openpyxl", "pip install '.[excel]'", "'CSV UTF-8'")


# ------------------------------------------------------------------------------------------------ cases and commands


def curve(knee):
    """An invented run with a bend at the knee, rpm."""
    speed = np.arange(20.0, 300.0, 14.0)
    gap = 15.0 - 2e-5 * speed**2 - 1.5e-5 * np.maximum(speed**2 - knee**2, 0.0)
    return [[float(n), round(float(g), 5)] for n, g in zip(speed, gap, strict=True)]


@pytest.fixture
def run(monkeypatch, capsys, tmp_path):
    """Run the program in a folder with a case and a workbook of two runs."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "unit.toml").write_text(NEW, encoding="utf-8")
    saved(tmp_path / "run.xlsx", {"Before": [HEADER, *curve(200)], "After": [HEADER, *curve(215)]})

    def call(*words):
        monkeypatch.setattr(sys, "argv", ["rimmodel", *words])
        code = 0
        try:
            main()
        except SystemExit as end:
            code = end.code or 0
        streams = capsys.readouterr()
        return code, streams.out, streams.err

    return call


def test_a_case_names_the_sheets_of_its_runs(tmp_path, run):
    records = "".join(
        f'\n[[records]]\nfile = "run.xlsx"\nsheet = "{name}"\ncondition = "cold"\n' for name in ("Before", "After")
    )
    case = parse_case((NEW + records).encode(), "unit.toml", tmp_path / "unit.toml")
    found = check_records(case)
    assert [recording.label for _, recording in found] == ["run, Before", "run, After"]
    assert found[0][1].sample["gap"].to_list() != found[1][1].sample["gap"].to_list()
    twice = parse_case((NEW + records.replace('"After"', '"Before"')).encode(), "u.toml", tmp_path / "unit.toml")
    with pytest.raises(CaseError, match="is identical to"):
        check_records(twice)
    assert tomllib.loads(NEW + records)["records"][1]["sheet"] == "After"


def test_fit_reads_the_sheets_that_are_named_in_order(run):
    code, out, err = run(
        "fit", "unit.toml", "run.xlsx", "run.xlsx", "--condition", "cold", "--condition", "cold",
        "--sheet", "Before", "--sheet", "After",
    )  # fmt: skip
    assert (code, err) == (0, "")
    assert out.index("run, Before") < out.index("run, After")


@pytest.mark.parametrize(
    ("words", "answer"),
    [
        ("fit unit.toml run.xlsx --condition cold", "name the one to read: --sheet NAME"),
        ("fit unit.toml run.xlsx --condition cold --sheet Later", "has no sheet 'Later'"),
        ("fit unit.toml run.xlsx --condition cold --sheet Before --sheet After", "2 --sheet and 1 workbooks"),
        ("fit unit.toml --sheet Before", "give the recording too"),
        ("review unit.toml --record run.xlsx --condition cold --sheet Later", "has no sheet 'Later'"),
        ("letter --out a.html unit.toml --record run.xlsx --condition cold --sheet Later", "has no sheet 'Later'"),
    ],
    ids=lambda text: text[:40],
)
def test_a_sheet_that_does_not_fit_is_refused(run, words, answer):
    code, out, err = run(*words.split())
    assert (code, out) == (2, ""), err
    assert err.count("rimmodel: ") == 1
    assert answer in err
