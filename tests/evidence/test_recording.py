"""Reading recordings: what is accepted, what is refused in which words, and that no row is lost silently."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import polars as pl
import pytest

from rimmodel.evidence.recording.read import Recording, RecordingError, read_recording
from rimmodel.units import DEGREE, MILLIMETRE, RPM, ZERO_CELSIUS

SPEEDS = [20.0, 40.0, 60.0, 80.0, 100.0, 120.0]
GAPS = [15.02, 14.97, 14.9, 14.8, 14.67, 14.51]
CHART = "speed [rpm],gap [mm]\n" + "".join(f"{s:g},{g:g}\n" for s, g in zip(SPEEDS, GAPS, strict=True))


def write(folder: Path, text: str | bytes, name: str = "run.csv") -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def gaps_mm(recording: Recording) -> list[float]:
    return (recording.table.collect()["gap"] / MILLIMETRE).round(6).to_list()


def refusal(source: object, **options: object) -> str:
    with pytest.raises(RecordingError) as caught:
        read_recording(source, **options)  # type: ignore[arg-type]
    return str(caught.value)


# ---------------------------------------------------------------------------------------------- accepted


def test_a_digitised_chart_is_enough(tmp_path: Path) -> None:
    recording = read_recording(write(tmp_path, CHART))
    table = recording.table.collect()
    assert table["speed"].to_list() == pytest.approx([s * RPM for s in SPEEDS])
    assert gaps_mm(recording) == GAPS
    assert (recording.rows, recording.dropped, recording.label) == (6, (), "run")
    assert recording.speed_range == pytest.approx((20 * RPM, 120 * RPM))


@pytest.mark.parametrize(
    "text",
    [
        CHART.replace(",", ";"),
        CHART.replace(",", "\t"),
        CHART.replace(",", ";").replace(".", ","),
        CHART.replace(",", "\t").replace(".", ","),
        "\ufeff" + CHART,
        CHART.replace("\n", "\r\n"),
        "# a comment\n\n# another, with a comma\n" + CHART,
        CHART.replace("60,", "# in between\n60,"),
        CHART.replace(",", ", "),
        CHART.replace("speed [rpm]", '"speed [rpm]"').replace("gap [mm]", '" Gap  [ mm ] "'),
        "gap [mm],remark,speed [rpm]\n" + "".join(f"{g},x,{s}\n" for s, g in zip(SPEEDS, GAPS, strict=True)),
    ],
    ids=["semicolon", "tab", "decimal ;", "decimal tab", "bom", "crlf", "head", "inside", "blank", "quoted", "order"],
)
def test_every_way_of_writing_the_same_table_reads_the_same(tmp_path: Path, text: str) -> None:
    recording = read_recording(write(tmp_path, text))
    assert gaps_mm(recording) == GAPS
    assert recording.table.collect()["speed"].to_list() == pytest.approx([s * RPM for s in SPEEDS])


def test_whole_numbers_first_and_a_decimal_comma_much_later(tmp_path: Path) -> None:
    rows = "".join(f"{i % 150 + 1};15\n" for i in range(30_000)) + "100;2,5\n"
    recording = read_recording(write(tmp_path, "speed [rpm];gap [mm]\n" + rows))
    assert gaps_mm(recording)[-1] == 2.5
    assert recording.dropped == ()


def test_short_rows_and_words_for_no_reading_are_dropped_and_counted(tmp_path: Path) -> None:
    text = CHART + "130\n# remark\n140,nan\n150,n/a\n\n160,\n170,inf\n,14\n"
    recording = read_recording(write(tmp_path, text))
    assert gaps_mm(recording) == GAPS
    assert recording.rows == 12
    assert set(recording.dropped) == {
        ("gap is missing or not a finite number", 5, 8),
        ("speed is missing or not a finite number", 1, 15),
    }
    assert any("5 rows left out because gap is missing" in note and "line 8" in note for note in recording.notes)
    assert any("blank line" in note for note in recording.notes)


def test_dates_and_remarks_do_not_decide_the_decimal_mark(tmp_path: Path) -> None:
    text = "date;remark;speed [rpm];gap [mm];rim_temperature [\u00b0C]\n"
    for speed, gap in zip(SPEEDS, GAPS, strict=True):
        text += f"05.01.2024;v. 1.2;{speed:g};{str(gap).replace('.', ',')};20\n"
    recording = read_recording(write(tmp_path, text))
    assert gaps_mm(recording) == GAPS
    assert recording.table.collect()["rim_temperature"][0] == pytest.approx(20 + ZERO_CELSIUS)


def test_units_come_from_the_header(tmp_path: Path) -> None:
    text = (
        "speed [rad/s],gap [um],time [min],angle [deg],rim_temperature [degC],sensor,plane,pole,direction,excitation\n"
        "1,15000,0,90,40,3,upper,1,up,off\n2,14900,1,90,41,10,lower,44,down,off\n"
    )
    table = read_recording(write(tmp_path, text)).table.collect()
    assert table["gap"].to_list() == pytest.approx([0.015, 0.0149])
    assert table["time"].to_list() == pytest.approx([0.0, 60.0])
    assert table["angle"].to_list() == pytest.approx([90 * DEGREE] * 2)
    assert table["rim_temperature"].to_list() == pytest.approx([40 + ZERO_CELSIUS, 41 + ZERO_CELSIUS])
    assert table["pole"].dtype == pl.Int32
    assert table["sensor"].cast(pl.String).to_list() == ["3", "10"]


def test_what_was_found_is_told(tmp_path: Path) -> None:
    text = "speed [rpm],gap [mm],sensor,plane,pole,direction,note\n"
    text += "10,15,G10,upper,1,up,a\n20,14,G2,lower,44,down,b\n"
    recording = read_recording(write(tmp_path, text))
    assert recording.sensors == ("G2", "G10")
    assert recording.planes == ("lower", "upper")
    assert recording.poles == (1, 44)
    assert recording.directions == ("up", "down")
    assert any("note" in note and "not used" in note for note in recording.notes)
    assert any("No sensor angles" in note for note in recording.notes)


def test_parquet_polars_and_pandas_read_like_text(tmp_path: Path) -> None:
    pandas = pytest.importorskip("pandas")
    columns = {"speed [rpm]": SPEEDS, "gap [mm]": GAPS, "sensor": ["a"] * 6}
    frame = pl.DataFrame(columns)
    frame.write_parquet(tmp_path / "run.parquet")
    sources = [tmp_path / "run.parquet", str(tmp_path / "run.parquet"), frame, frame.lazy(), pandas.DataFrame(columns)]
    for source in sources:
        recording = read_recording(source)
        assert gaps_mm(recording) == GAPS
        assert recording.sensors == ("a",)


def test_numbers_as_text_in_a_frame_are_parsed() -> None:
    recording = read_recording(pl.DataFrame({"speed [rpm]": ["10", " 20", "30"], "gap [mm]": ["15.5", "nan", "15.2 "]}))
    assert gaps_mm(recording) == [15.5, 15.2]
    assert recording.dropped == (("gap is missing or not a finite number", 1, 2),)


def test_change_of_gap_may_be_negative() -> None:
    recording = read_recording(pl.DataFrame({"speed [rpm]": [10.0, 20.0], "gap_change [mm]": [0.0, -0.4]}))
    assert recording.is_change
    assert gaps_mm(recording) == [0.0, -0.4]


def test_direction_may_come_from_the_caller(tmp_path: Path) -> None:
    recording = read_recording(write(tmp_path, CHART), direction="down", label="after")
    assert recording.directions == ("down",)
    assert recording.label == "after"
    assert recording.table.collect()["direction"].unique().to_list() == ["down"]


def test_stray_readings_that_the_bore_does_not_allow_are_counted() -> None:
    gap = np.full(500, 15.0)
    gap[[7, 90]] = 99.0, -1.0
    frame = pl.DataFrame({"speed [rpm]": np.linspace(0, 100, 500), "gap [mm]": gap})
    recording = read_recording(frame, largest_gap=20 * MILLIMETRE)
    assert set(recording.dropped) == {("gap is larger than 20 mm", 1, 8), ("gap is zero or negative", 1, 91)}
    assert recording.table.collect().height == 498


def test_a_trace_below_zero_at_standstill_is_left_out_and_counted() -> None:
    frame = pl.DataFrame({"speed [rpm]": [-0.02, 50.0, 100.0], "gap [mm]": [15.0, 14.9, 14.7]})
    assert read_recording(frame).dropped == (("speed is negative", 1, 1),)


# ----------------------------------------------------------------------------------------------- refused


def test_no_file_directory_empty_and_binary(tmp_path: Path) -> None:
    assert "no such file" in refusal(tmp_path / "none.csv")
    assert "directory" in refusal(tmp_path)
    assert "empty" in refusal(write(tmp_path, "", "empty.csv"))
    assert "empty" in refusal(write(tmp_path, " \n\n", "blank.csv"))
    assert "binary" in refusal(write(tmp_path, bytes(range(256)) * 20, "binary.csv"))
    assert "spreadsheet" in refusal(write(tmp_path, b"PK\x03\x04" + b"\0" * 99, "book.csv"))
    assert "comments" in refusal(write(tmp_path, "# only\n# comments\n", "remarks.csv"))
    assert "no usable row" in refusal(write(tmp_path, "speed [rpm],gap [mm]\n", "header.csv"))
    assert "cannot be read" in refusal(write(tmp_path, b"PAR1" + b"\0" * 200, "broken.parquet"))


def test_other_encodings_are_read_and_named(tmp_path: Path) -> None:
    for encoding, words in (("latin-1", "Latin-1"), ("utf-16", "UTF-16")):
        recording = read_recording(write(tmp_path, CHART.replace("gap [mm]", "gap [\u00b5m]").encode(encoding)))
        assert gaps_mm(recording) == pytest.approx([gap / 1000.0 for gap in GAPS])
        assert words in recording.notes[0]
    assert "UTF-32" in refusal(write(tmp_path, CHART.encode("utf-32")))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (CHART.replace(",", " "), ["line 1", "no comma, semicolon or tab"]),
        (CHART.replace("gap [mm]", "gab [mm]"), ["column gap is missing", "'gab [mm]' meant"]),
        (CHART.replace("speed [rpm]", "x [rpm]"), ["column speed is missing", "'x [rpm]'", "columns."]),
        (CHART.replace("gap [mm]", "gap"), ["'gap' has no unit", "gap [mm]"]),
        (CHART.replace("gap [mm]", "gap [rpm]"), ["'gap [rpm]'", "does not measure"]),
        (CHART.replace("gap [mm]", "gap [mmm]"), ["'gap [mmm]'", "unknown"]),
        (CHART.replace("speed [rpm]", "speed [Hz]"), ["'speed [Hz]'", "rad/s"]),
        (CHART.replace("14.9\n", "closed\n"), ["line 4", "'gap [mm]'", "'closed' is not a number"]),
        ("speed [rpm],gap [mm]\n10,a\n20,b\n", ["line 2", "'gap [mm]'", "'a'"]),
        (CHART.replace("14.9\n", "14,9\n"), ["line 4", "3 fields", "header has 2"]),
        (CHART.replace("60,", "-60,"), ["line 4", "speed is negative", "-60 rpm"]),
        ("speed [rpm],gap [mm]\n100,15\n", ["one speed", "100 rpm"]),
        ("speed [rpm],gap [mm]\n100,15\n100,14\n100,13\n", ["one speed", "stuck"]),
        ("speed [rpm],gap [mm],gap [mm]\n1,2,3\n", ["'gap [mm]' appears twice"]),
        ("speed [rpm],gap [mm],gap [um]\n1,2,3\n", ["'gap [mm]'", "'gap [um]'", "both gap"]),
        (CHART.replace("[mm]", "[m]"), ["gap is larger than 500 mm", "6 of 6"]),
        ("speed [rpm],gap [mm],direction\n10,15,up\n20,14,hoch\n", ["direction", "'hoch'"]),
        ("speed [rpm],gap [mm],pole\n10,15,1\n20,14,0\n", ["line 3", "pole", "from 1"]),
        ("speed [rpm],gap [mm],pole\n10,15,1\n20,14,2.5\n", ["line 3", "pole", "2.5"]),
        ("# " + CHART, ["column speed is missing", "hidden in a comment line"]),
        (CHART.replace("60,", "1e300,"), ["line 4", "speed is larger than", "1e+300 rpm"]),
        ("speed [rpm],gap [mm],time [s]\n10,15,0\n20,14,0\n", ["time is 0 s in all 2", "leave the column out"]),
        ("speed [rpm],gap [mm]\nnan,15\n,14\n", ["no usable row", "speed is missing"]),
    ],
)
def test_bad_text_is_refused_in_clear_words(tmp_path: Path, text: str, words: list[str]) -> None:
    message = refusal(write(tmp_path, text))
    assert "run.csv" in message
    for word in words:
        assert word in message
    assert "\n" not in message


def test_gaps_larger_than_the_bore_allows_are_refused(tmp_path: Path) -> None:
    message = refusal(write(tmp_path, CHART.replace("14.9\n", "149\n")), largest_gap=25 * MILLIMETRE)
    assert "line 4" in message
    assert "149 mm" in message
    assert "25 mm" in message


def test_pole_index_out_of_range_is_refused(tmp_path: Path) -> None:
    path = write(tmp_path, "speed [rpm],gap [mm],pole\n10,15,1\n20,14,45\n")
    assert read_recording(path).poles == (1, 45)
    message = refusal(path, pole_count=44)
    assert "line 3" in message
    assert "1 to 44" in message


@pytest.mark.parametrize("factor", [1000.0, 39.37, 1 / 25.4, 0.001])
def test_mixed_units_by_sensor_are_refused(factor: float) -> None:
    sensors = np.repeat(["G1", "G2", "G3"], 6)
    gap = np.tile(GAPS, 3) * np.where(sensors == "G2", factor, 1.0)
    message = refusal(pl.DataFrame({"speed [rpm]": np.tile(SPEEDS, 3), "gap [um]": gap, "sensor": sensors}))
    assert "sensor G2" in message
    assert "unit" in message


def test_other_things_than_recordings_are_refused() -> None:
    assert "not int" in refusal(3)
    assert "'sideways'" in refusal(pl.DataFrame({"speed [rpm]": [1.0], "gap [mm]": [1.0]}), direction="sideways")
    frame = pl.DataFrame({"speed [rpm]": [1.0, 2.0], "gap [mm]": [1.0, 2.0], "direction": ["up", "up"]})
    assert "direction column" in refusal(frame, direction="up")
    dates = pl.DataFrame({"speed [rpm]": [1.0, 2.0], "gap [mm]": [1.0, 2.0]}).with_columns(
        pl.lit("2020-01-01").str.to_date().alias("time [s]")
    )
    assert "time is 0 s in all 2" in refusal(dates)


def test_a_recording_too_long_for_memory_is_read_again_to_the_same_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write(tmp_path, CHART + "130,nan\n\n140,14.2\n")
    kept = read_recording(path)
    monkeypatch.setattr("rimmodel.evidence.recording.opened.KEEP_BYTES", 0)
    lazy = read_recording(path)
    assert "Csv SCAN" in lazy.table.explain()
    assert "Csv SCAN" not in kept.table.explain()
    assert lazy.table.collect().equals(kept.table.collect())
    assert lazy.dropped == kept.dropped


def test_the_table_never_holds_a_dropped_row_and_nothing_is_lost(tmp_path: Path) -> None:
    random = np.random.default_rng(7)
    gap = random.normal(15.0, 0.1, 5000)
    speed = random.uniform(0.0, 200.0, 5000)
    for values in (gap, speed):
        values[random.integers(0, 5000, 200)] = random.choice([np.nan, np.inf, -np.inf], 200)
    pl.DataFrame({"speed [rpm]": speed, "gap [mm]": gap}).write_csv(tmp_path / "noisy.csv")
    recording = read_recording(tmp_path / "noisy.csv")
    kept = int(np.count_nonzero(np.isfinite(gap) & np.isfinite(speed)))
    assert recording.table.collect().height == kept
    assert recording.rows - sum(count for _, count, _ in recording.dropped) == kept
    first = 2 + int(np.flatnonzero(~np.isfinite(speed))[0])
    (lost,) = (line for reason, _, line in recording.dropped if reason.startswith("speed"))
    assert lost == first
