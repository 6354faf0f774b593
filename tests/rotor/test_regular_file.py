"""Only plain files are opened: a pipe would wait for a writer, a device need never end."""

import os
import shutil
import socket
import time

import pytest

from rimmodel.rotor.case.case import EXAMPLES, LARGEST_FILE, CaseError, read_case
from rimmodel.verdict.output.fleet import fleet


@pytest.fixture
def odd_places(tmp_path, monkeypatch):
    """Paths by the word that the refusal must hold."""
    os.mkfifo(tmp_path / "pipe.toml")
    (tmp_path / "link.toml").symlink_to("pipe.toml")
    (tmp_path / "loop.toml").symlink_to("loop.toml")
    (tmp_path / "nowhere.toml").symlink_to("none")
    (tmp_path / "device.toml").symlink_to("/dev/zero")
    (tmp_path / "folder.toml").mkdir()
    monkeypatch.chdir(tmp_path)  # the name of a socket may not be long
    with socket.socket(socket.AF_UNIX) as server:
        server.bind("socket.toml")
    with (tmp_path / "large.toml").open("wb") as file:
        file.truncate(LARGEST_FILE + 1)
    return {
        tmp_path / "pipe.toml": "is a pipe",
        tmp_path / "link.toml": "is a pipe",
        tmp_path / "loop.toml": "symbolic links",
        tmp_path / "nowhere.toml": "no such file: the link is broken",
        tmp_path / "device.toml": "is a device",
        tmp_path / "folder.toml": "is a directory",
        tmp_path / "socket.toml": "is a socket",
        tmp_path / "large.toml": "larger than 2 MB",
        tmp_path / "a\0b": "null",
    }


def test_a_case_that_is_no_plain_file_is_refused_at_once(odd_places):
    for path, words in odd_places.items():
        start = time.monotonic()
        with pytest.raises(CaseError, match=words):
            read_case(path)
        assert time.monotonic() - start < 1.0


def test_a_fleet_lists_what_is_no_plain_file_and_goes_on(odd_places, tmp_path):
    for name in ("quillmere.toml", "quillmere_run.csv", "quillmere_run_after.parquet"):
        shutil.copy(EXAMPLES / name, tmp_path / name)
    found = fleet(tmp_path)
    assert [row.file for row in found.rows] == ["quillmere.toml"]
    faults = {row.file: row.fault for row in found.faulty}
    for path, words in odd_places.items():
        if path.name.endswith(".toml") and path.name != "folder.toml":
            assert words in faults[path.name]
