"""Every bad recording file is refused in one clear message; every odd but legal one gives the right numbers."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from rimmodel.evidence.recording.read import RecordingError, read_recording
from tests.bad_inputs import BadRecording, LegalRecording
from tests.bad_inputs.legal_recordings import LEGAL
from tests.bad_inputs.recording_files import CASES

NEVER = ("Traceback", "polars", "schema", "dtype", "ComputeError", "inf ", "nan ", "thrift", "Rust")
LONGEST, SECONDS = 700, 5.0


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_a_bad_file_is_refused_in_one_message(tmp_path: Path, case: BadRecording, capfd: pytest.CaptureFixture[str]):
    path = tmp_path / case.file_name
    path.write_bytes(case.content)
    start = time.monotonic()
    with pytest.raises(RecordingError) as caught:
        read_recording(path)
    assert time.monotonic() - start < SECONDS
    message = str(caught.value)
    assert message.startswith(str(path))
    message = message.replace(str(tmp_path), "")  # the folder has the name of the test
    for word in case.words:
        assert word in message
    for word in NEVER:
        assert word not in message
    assert "\n" not in message
    assert len(message) < LONGEST
    assert capfd.readouterr() == ("", "")


@pytest.mark.derived
@pytest.mark.parametrize("case", LEGAL, ids=lambda case: case.name)
def test_an_unusual_file_gives_the_right_numbers(tmp_path: Path, case: LegalRecording):
    path = tmp_path / case.file_name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(case.content)
    recording = read_recording(path)
    table = recording.table.collect()
    assert table["speed"].to_list() == pytest.approx(case.speed, rel=1e-12, abs=1e-15)
    assert table["gap"].to_list() == pytest.approx(case.gap, rel=1e-12, abs=1e-15)
    notes = " ".join(recording.notes)
    for word in case.notes:
        assert word in notes


def test_names_and_faults_stand_once():
    for rows in (CASES, LEGAL):
        assert len({row.name for row in rows}) == len(rows)
        assert len({row.content for row in rows if isinstance(row, BadRecording)}) in (0, len(rows))
    assert len(CASES) >= 90
    assert len(LEGAL) >= 30
