"""Which file a recording is read from: the one that was named and no other, and only a plain file."""

from __future__ import annotations

import os
import socket
import time
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from rimmodel.evidence.recording.read import RecordingError, read_recording
from rimmodel.units import MILLIMETRE

TABLE = pl.DataFrame({"speed [rpm]": [20.0, 40.0, 60.0], "gap [mm]": [15.02, 14.97, 14.9]})
DECOY = TABLE.with_columns(pl.col("gap [mm]") - 5.0)


def write(frame: pl.DataFrame, path: Path) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    frame.write_parquet(path) if path.suffix == ".parquet" else frame.write_csv(path)
    return path


def gaps_mm(path: Path | str) -> list[float]:
    return (read_recording(path).table.collect()["gap"] / MILLIMETRE).round(6).to_list()


@pytest.mark.parametrize("kind", ["csv", "parquet"])
@pytest.mark.parametrize(
    ("named", "decoy"),
    [
        ("run[1]", "run1"),
        ("run[12]", "run2"),
        ("run*", "run_old"),
        ("run?", "run1"),
        ("unit[3]/run", "unit3/run"),
        ("a*/run", "ab/run"),
        ("{a,b}", "a"),
    ],
)
def test_a_name_with_marks_is_that_file_and_no_other(tmp_path: Path, named: str, decoy: str, kind: str) -> None:
    write(DECOY, tmp_path / f"{decoy}.{kind}")
    path = tmp_path / f"{named}.{kind}"
    with pytest.raises(RecordingError, match="no such file"):
        read_recording(path)
    write(TABLE, path)
    for source in (path, str(path)):
        assert gaps_mm(source) == [15.02, 14.97, 14.9]


@pytest.mark.parametrize("kind", ["csv", "parquet"])
def test_folder_names_are_no_columns(tmp_path: Path, kind: str) -> None:
    recording = read_recording(write(TABLE, tmp_path / "sensor=7" / "pole=3" / f"run.{kind}"))
    assert recording.columns == ("speed", "gap")
    assert recording.sensors == recording.poles == ()


def test_a_folder_named_like_the_home_folder_is_that_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    home = tmp_path / "home"
    write(DECOY, home / "run.csv")
    monkeypatch.setenv("HOME", str(home))
    monkeypatch.chdir(tmp_path)
    write(TABLE, tmp_path / "~" / "run.csv")
    assert gaps_mm("~/run.csv") == [15.02, 14.97, 14.9]


def test_what_is_no_plain_file_is_refused_before_it_is_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    os.mkfifo(tmp_path / "pipe.csv")
    (tmp_path / "link.csv").symlink_to("pipe.csv")
    (tmp_path / "loop.csv").symlink_to("loop.csv")
    (tmp_path / "nowhere.csv").symlink_to("none.csv")
    (tmp_path / "folder.csv").mkdir()
    monkeypatch.chdir(tmp_path)  # the name of a socket may not be long
    with socket.socket(socket.AF_UNIX) as server:
        server.bind("socket.csv")
    places = {
        "pipe.csv": "is a pipe",
        "link.csv": "is a pipe",
        "loop.csv": "symbolic links",
        "nowhere.csv": "no such file",
        "folder.csv": "is a directory",
        "socket.csv": "is a socket",
        "/dev/zero": "is a device",
        "/dev/null": "is a device",
        "a\0b.csv": "null",
    }
    for place, words in places.items():
        start = time.monotonic()
        with pytest.raises(RecordingError, match=words):
            read_recording(tmp_path / place)
        assert time.monotonic() - start < 1.0


def test_a_link_to_a_plain_file_is_followed(tmp_path: Path) -> None:
    write(TABLE, tmp_path / "run.csv")
    (tmp_path / "link.csv").symlink_to("run.csv")
    assert gaps_mm(tmp_path / "link.csv") == [15.02, 14.97, 14.9]


def test_spellings_are_one_name_in_all_that_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rows = pl.DataFrame(
        {
            "speed [rpm]": [20.0, 40.0, 60.0, 80.0],
            "gap [mm]": [15.0, 14.9, 14.8, 14.7],
            "sensor": ["g1", " G1", "G 2", "G  2"],
            "direction": ["UP", "up", "Down", "DOWN "],
        }
    )
    path = write(rows, tmp_path / "run.csv")
    for keep in (450_000_000, 0):
        monkeypatch.setattr("rimmodel.evidence.recording.opened.KEEP_BYTES", keep)
        for source in (path, rows):
            recording = read_recording(source)
            assert recording.sensors == ("G 2", "g1")
            assert recording.directions == ("up", "down")
            for table in (recording.table.collect(), recording.sample):
                assert table["sensor"].cast(pl.String).to_list() == ["g1", "g1", "G 2", "G 2"]
                assert table["direction"].cast(pl.String).to_list() == ["up", "up", "down", "down"]
            assert sum("are treated as one name" in note for note in recording.notes) == 4


def test_labels_that_agree_are_left_alone_and_not_remarked(tmp_path: Path) -> None:
    rows = TABLE.with_columns(pl.Series("plane", ["upper", "lower", "UPPER2"]))
    recording = read_recording(write(rows, tmp_path / "run.csv"))
    assert recording.planes == ("UPPER2", "lower", "upper")
    assert not any("one name" in note for note in recording.notes)


@pytest.mark.parametrize("place", [1, 7, 3000])
@pytest.mark.parametrize("quoted", [False, True])
def test_rows_with_hash_are_counted_wherever_they_stand(tmp_path: Path, place: int, quoted: bool) -> None:
    lines = ["speed [rpm],gap [mm],sensor", *(f"{i % 150 + 1},{15 - i * 1e-4:.4f},G{i % 3}" for i in range(3000))]
    if quoted:
        lines = [line.replace("G", '"G') + '"' if "G" in line else line for line in lines]
    lines[place] = "#" + lines[place]
    lines.insert(2, "# a remark, with two, commas")
    path = tmp_path / "run.csv"
    path.write_text("\n".join(lines))
    recording = read_recording(path)
    doubtful = [note for note in recording.notes if "Doubtful" in note]
    assert recording.rows == 2999
    assert len(doubtful) == 1
    assert "1 line begins with #" in doubtful[0]
    assert f"line {place + 1 + (place >= 2)}:" in doubtful[0]


def test_nothing_is_lost_between_any_two_quotation_marks(tmp_path: Path) -> None:
    """Marks put at random: either the file is refused, or every row is there."""
    random = np.random.default_rng(11)
    clean = ["speed [rpm],gap [mm],note", *(f"{i + 1},{15 - i * 0.01:.2f},n{i}" for i in range(40))]
    refused = 0
    for _ in range(60):
        lines = list(clean)
        for row in random.integers(1, 41, 2):
            at = int(random.integers(0, len(lines[row]) + 1))
            lines[row] = lines[row][:at] + '"' + lines[row][at:]
        path = tmp_path / "run.csv"
        path.write_text("\n".join(lines) + "\n")
        try:
            recording = read_recording(path)
        except RecordingError:
            refused += 1
            continue
        assert recording.rows == 40
        assert recording.dropped == ()
    assert refused > 30
