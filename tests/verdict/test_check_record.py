"""What the check of a recording says, columns stated in a file and in the case, and slips that must not pass."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from rimmodel.rotor.case.case import EXAMPLES, CaseError, parse_case
from rimmodel.rotor.case.column_map import ColumnMapError, read_column_map

CASE = (EXAMPLES / "quillmere.toml").read_text(encoding="utf-8")
RECORD_AT = CASE.index("[[records]]")


def sensors(scale: float = 1.0, head: str = "{sensor} {plane} {angle}\u00b0 [mm]") -> pl.DataFrame:
    """The invented run of the built-in case with one column for each sensor."""
    run = pl.read_csv(EXAMPLES / "quillmere_run.csv", comment_prefix="#")
    heads = [
        head.format(sensor=s, plane=p, angle=f"{a:.0f}")
        for s, p, a in zip(run["sensor"], run["plane"], run["angle [deg]"], strict=True)
    ]
    run = run.with_columns(pl.Series("head", heads), pl.col("gap [mm]") * scale)
    return run.pivot(on="head", index=["time [s]", "speed [rpm]"], values="gap [mm]")


@pytest.fixture
def unit(tmp_path, monkeypatch):
    """The built-in case without its records, in a folder of its own."""
    monkeypatch.chdir(tmp_path)
    rest = CASE[RECORD_AT:]
    (tmp_path / "unit.toml").write_text(CASE[:RECORD_AT] + rest[rest.index("[tolerances]") :], encoding="utf-8")
    return tmp_path


def test_text_and_json_say_the_same_of_every_column(rim, unit):
    sensors().write_csv("run.csv")
    code, out, err = rim("check", "unit.toml", "run.csv", "--condition", "cold")
    assert (code, err) == (0, "")
    table = json.loads(rim("check", "unit.toml", "run.csv", "--condition", "cold", "--json")[1])["records"][0]
    run = pl.read_csv(EXAMPLES / "quillmere_run.csv", comment_prefix="#")
    assert table["rows"] == table["rows_used"] == run.height
    for column in table["columns"]:
        line = next(line for line in out.splitlines() if line.strip().startswith(column["column"] + "  "))
        low, high = (float(number) for number in re.search(r"([\d.]+) to ([\d.]+) (?:mm|rpm|s)", line).groups())
        assert low == pytest.approx(column["lowest"], rel=1e-5)
        assert high == pytest.approx(column["highest"], rel=1e-5)
        if column["meaning"] != "gap":
            continue
        mine = run.filter((pl.col("sensor") == column["sensor"]) & (pl.col("plane") == column["plane"]))
        assert (mine["gap [mm]"].min(), mine["gap [mm]"].max()) == pytest.approx((column["lowest"], column["highest"]))
        assert mine["angle [deg]"].unique().to_list() == pytest.approx([column["angle_deg"]])
        assert column["readings"] == mine.height
    for words in ("first lines as written:", "first readings as understood:", "left out:", "guess: sensors"):
        assert words in out


def test_rows_left_out_are_shown_with_their_reason(rim, unit):
    lines = sensors().write_csv().splitlines()
    cells = lines[5].split(",")
    cells[3] = "#N/A"
    lines[5] = ",".join(cells)
    Path("run.csv").write_text("Invented\n" + "\n".join(lines) + "\nEnd\n", encoding="utf-8")
    code, out, _ = rim("check", "unit.toml", "run.csv", "--condition", "cold")
    assert code == 0
    assert "1 readings: gap is missing or not a finite number (first in line 7)" in out
    assert "1 line above it not used" in out
    assert "1 line below the last row not used" in out


MAP = 'columns."G*" = { sensor = "G*", unit = "mm" }\ncells.decimal_mark = "."\n'


def test_the_same_is_stated_in_a_file_and_in_the_case(rim, unit):
    frame = sensors()
    frame.columns = ["time [s]", "speed [rpm]", *(f"G{i}" for i in range(1, frame.width - 1))]
    frame.write_csv("run.csv")
    code, _, err = rim("fit", "unit.toml", "run.csv", "--condition", "cold")
    assert code == 2
    assert "has no unit" in err
    Path("map.toml").write_text(MAP, encoding="utf-8")
    by_file = rim("fit", "unit.toml", "run.csv", "--condition", "cold", "--columns", "map.toml", "--json")
    assert by_file[0] == 0, by_file[2]
    case = Path("unit.toml").read_text(encoding="utf-8")
    record = f'\n[[records]]\nfile = "run.csv"\ncondition = "cold"\n{MAP}'
    Path("with.toml").write_text(case + record, encoding="utf-8")
    by_case = rim("fit", "with.toml", "--json")
    assert by_case[0] == 0, by_case[2]
    assert json.loads(by_case[1])["float_speed_rpm"] == json.loads(by_file[1])["float_speed_rpm"]
    house = rim("fit", "unit.toml", str(EXAMPLES / "quillmere_run.csv"), "--condition", "cold", "--json")
    own = json.loads(house[1])["float_speed_rpm"]
    assert json.loads(by_file[1])["float_speed_rpm"] == pytest.approx(own, abs=1.0)
    assert any("Columns taken: " in note for note in json.loads(by_file[1])["notes"])


@pytest.mark.parametrize(
    ("head", "scale", "words"),
    [
        ("{sensor} [mm]", 39.37, "a factor of 39.37"),
        ("{sensor} [mm]", 10.0, "larger than"),
        ("{sensor} [mil]", 1.0, "mil|below|larger|factor"),
        ("{sensor} [in]", 1.0, "larger than"),
        ("{sensor} [um]", 1.0, "factor of 1000"),
    ],
)
def test_a_slip_of_the_unit_never_passes(rim, unit, head, scale, words):
    sensors(scale, head).write_csv("run.csv")
    code, out, err = rim("check", "unit.toml", "run.csv", "--condition", "cold")
    assert (code, out) == (2, "")
    assert re.search(words, err), err


def test_speed_and_gap_exchanged_are_refused(rim, unit):
    frame = sensors(head="{sensor} [mm]")
    names = frame.columns
    frame.columns = [names[0], names[2], "speed [rpm]", *names[3:]]
    frame.write_csv("run.csv")
    code, _, err = rim("check", "unit.toml", "run.csv", "--condition", "cold")
    assert code == 2
    assert "run.csv" in err


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "states nothing"),
        ("columns = 3", "columns"),
        ('columns."G1 [mm]" = { unit = "mm", unti = "x" }', "unknown key"),
        ('columns."G1 [mm]" = { meaning = "gab" }', "did you mean 'gap'"),
        ('cells.date_order = "day"', "date_order"),
        ("cells.header_line = 0", "header_line"),
        ('columns."nothing of the kind" = { unit = "mm" }', "which the table does not have"),
        ('columns."S1 upper 0\u00b0 [mm]" = { angle = "0 mm" }', "angle"),
        ('columns."S1 upper 0\u00b0 [mm]" = { gain = "0" }', "zero"),
        ('columns."S1 upper 0\u00b0 [mm]" = { gain = "2 mm/V" }', "bare number"),
        ('columns."S1 upper 0\u00b0 [mm]" = { unit = "V" }', "a signal in V"),
        ('columns."S1 upper 0\u00b0 [mm]" = { unit = "V", gain = "2.5 V/mm" }', "gain"),
        ('columns."S1 upper 0\u00b0 [mm]" = { unit = "mA", table = [["4 mA", "5 mm"]] }', "two rows"),
        ('columns."S1 upper 0\u00b0 [mm]" = { unit = "mA", table = [["4 mA"]] }', "2|two"),
        ("colums = 3", "did you mean 'columns'"),
        ("=", "no TOML"),
    ],
)
def test_a_wrong_statement_is_refused(rim, unit, text, words):
    sensors().write_csv("run.csv")
    Path("map.toml").write_text(text, encoding="utf-8")
    code, out, err = rim("check", "unit.toml", "run.csv", "--condition", "cold", "--columns", "map.toml")
    assert (code, out) == (2, "")
    assert re.search(words, err), err
    assert "Traceback" not in err


def test_statements_of_a_case_are_checked_with_it():
    with pytest.raises(CaseError, match=r"records\[1\]\.columns\.X\.unti: unknown key"):
        parse_case((CASE[:RECORD_AT] + '[[records]]\nfile = "a.csv"\ncondition = "cold"\ncolumns.X = { unti = "mm" }\n'
                    + CASE[CASE.index("[tolerances]") :]).encode(), "unit.toml")  # fmt: skip
    with pytest.raises(ColumnMapError, match="no such file"):
        read_column_map("none.toml")


def test_columns_without_a_recording_are_refused(rim, unit):
    code, _, err = rim("fit", "unit.toml", "--columns", "map.toml")
    assert code == 2
    assert "stand in the case" in err


def test_readings_outside_of_a_table_of_calibration_are_left_out_and_counted(rim, unit):
    frame = sensors()
    first = frame.columns[2]
    signal = ((frame[first] - 5.0) * 0.8 + 4.0).to_numpy().copy()
    signal[4] = 0.2  # a broken wire
    frame = frame.with_columns(pl.Series(first, np.round(signal, 6))).rename({first: "AI 1"})
    frame.write_csv("run.csv")
    Path("map.toml").write_text(
        'columns."AI 1" = { sensor = "S1", plane = "upper", angle = "0 deg", unit = "mA", '
        'table = [["4 mA", "5 mm"], ["20 mA", "25 mm"]] }\n',
        encoding="utf-8",
    )
    code, out, err = rim("check", "unit.toml", "run.csv", "--condition", "cold", "--columns", "map.toml")
    assert code == 0, err
    assert "1 readings outside of it count as missing" in out
    assert "1 readings: gap is missing" in out


def test_pole_by_pole_is_shown_against_speed(rim, unit):
    poles = int(re.search(r"^count = (\d+)", CASE[CASE.index("[poles]") :], re.MULTILINE)[1])
    speeds = (30.0, 60.0, 90.0, 120.0, 150.0)
    rows, time = [], 0.0
    for speed in speeds:
        for _ in range(4):
            for pole in range(poles):
                gap = 16.0 - 5e-5 * speed**2 + 0.1 * np.cos(2.0 * np.pi * (pole / poles - 0.25))
                rows.append((round(time + 60.0 / speed * pole / poles, 6), speed, pole + 1, gap + 0.01, gap - 0.01))
            time += 60.0 / speed
    frame = pl.DataFrame(rows, schema=["time [s]", "speed [rpm]", "Pole no.", "G1 [mm]", "G2 [mm]"], orient="row")
    frame.write_csv("run.csv")
    found = rim("check", "unit.toml", "run.csv", "--condition", "cold", "--json")
    table = json.loads(found[1])["records"][0]["pole_by_pole"]
    assert (table["turns"], table["turns_whole"], table["turns_missing"]) == (20, 20, 0)
    for pole in table["poles"]:
        assert len(pole["mean_gap_mm"]) == poles
    for row in table["by_speed"]:
        assert row["eccentricity_mm"] == pytest.approx(0.1, abs=1e-4)
        assert row["eccentricity_angle_deg"] == pytest.approx(270.0, abs=0.01)  # the gap is widest at 90 deg
        assert row["ovality_mm"] == pytest.approx(0.0, abs=1e-4)
    out = rim("check", "unit.toml", "run.csv", "--condition", "cold")[1]
    assert "pole by pole:" in out
    assert "20 turns, 20 of them whole" in out
