"""One run in every usual format: read to the same points, or refused with what would settle it; never misread."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from rimmodel.evidence.recording.read import Recording, RecordingError, read_recording
from rimmodel.evidence.reduction.speed_points import speed_points
from rimmodel.evidence.tables.heads import read_head
from rimmodel.evidence.tables.unit_words import unit_named
from rimmodel.units import DEGREE, MILLIMETRE, RPM
from tests.evidence.formats_of_run import formats
from tests.evidence.one_run import ANGLES, GAPS, LEVELS, POLES, RATED, ROWS_EACH, SENSORS, SPEEDS, TIMES, Format, write

FORMATS = formats()
POINTS = np.array(GAPS).reshape(len(LEVELS), -1).mean(axis=1) * MILLIMETRE
"""Mean gaps of the truth by speed."""


def read(folder: Path, form: Format) -> Recording:
    known = {"rated_speed": RATED * RPM, "pole_count": POLES} if form.machine else {}
    if form.columns:
        (folder / "map.toml").write_text(form.columns)
        known["columns"] = folder / "map.toml"
    return read_recording(write(folder, form), **known)


@pytest.mark.derived
@pytest.mark.parametrize("form", [form for form in FORMATS if not form.remedy], ids=lambda form: form.name)
def test_a_format_is_read_to_the_same_points(tmp_path: Path, form: Format):
    recording = read(tmp_path, form)
    table = recording.table.collect()
    allowed = max(1e-9, form.digits) * MILLIMETRE
    assert table.height == len(SPEEDS) * len(SENSORS)
    np.testing.assert_allclose(np.sort(table["gap"]), np.sort(np.ravel(GAPS)) * MILLIMETRE, rtol=0, atol=allowed)
    points = speed_points(recording, ramps=False, least_hold=2.0 * 30.0)
    np.testing.assert_allclose(points.speed, np.array(LEVELS) * RPM, rtol=1e-9)
    np.testing.assert_allclose(points.gap, POINTS, rtol=0, atol=max(1e-12, allowed))
    runs = table.group_by("sensor", *(["plane"] if recording.planes else []), maintain_order=True).agg("gap")["gap"]
    found = sorted(tuple(np.round(np.array(run) / MILLIMETRE, 4)) for run in runs)
    assert found == sorted(map(tuple, np.transpose(GAPS))), "the gaps of each sensor, in the order of the run"
    if form.time:
        assert np.unique(table["time"].round(4)).tolist() == pytest.approx(np.array(TIMES), abs=1e-3)
        order = np.argsort(table["time"].to_numpy(), kind="stable")
        np.testing.assert_allclose(table["speed"].to_numpy()[order], np.repeat(SPEEDS, 6) * RPM, rtol=1e-9)
    assert len(recording.sensors) * max(1, len(recording.planes)) >= len(SENSORS)
    if form.angles:
        for angle in set(ANGLES):
            here = table.filter((table["angle"] / DEGREE - angle).abs() < 1e-9)["gap"].mean()
            there = np.mean([row[i] for row in GAPS for i in range(len(ANGLES)) if ANGLES[i] == angle])
            assert here == pytest.approx(there * MILLIMETRE, abs=1e-9)
    notes = " ".join(recording.notes)
    for words in form.says:
        assert words in notes
    assert recording.understood


@pytest.mark.parametrize("form", [form for form in FORMATS if form.remedy], ids=lambda form: form.name)
def test_what_can_be_read_twice_or_not_at_all_is_refused_with_the_remedy(tmp_path: Path, form: Format):
    with pytest.raises(RecordingError) as caught:
        read(tmp_path, form)
    for words in form.remedy:
        assert words in str(caught.value)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 900


def test_the_table_of_formats_is_long_and_each_is_another():
    assert len(FORMATS) >= 90
    assert len({form.name for form in FORMATS}) == len(FORMATS)
    contents = [made for form in FORMATS if isinstance(made := form.make(), bytes) and not form.columns]
    assert len(set(contents)) >= len(contents) - 4
    assert ROWS_EACH * len(LEVELS) == len(SPEEDS)


@pytest.mark.parametrize(
    "head",
    [
        "rated speed [rpm]",
        "Speed setpoint [rpm]",
        "wind speed [m/s]",
        "Seal gap [mm]",
        "Gap 1 max (mm)",
        "gap min [mm]",
        "Vibration X [um]",
        "Head water level [m]",
        "Bearing temp [degC]",
        "Winding temperature [degC]",
        "Axial gap [mm]",
    ],
)
def test_a_head_that_need_not_be_the_rotor_is_not_taken(head: str):
    assert read_head(head).meaning == "not used"
    assert read_head(head).why


@pytest.mark.parametrize(
    ("head", "angle"),
    [
        ("G1 45\u00b0 [mm]", 45.0),
        ("G1-45\u00b0 [mm]", 45.0),
        ("G1 - 45\u00b0 [mm]", 45.0),
        ("G1@22,5 deg [mm]", 22.5),
        ("G1 -45\u00b0 [mm]", None),
        ("G1 \u221245\u00b0 [mm]", None),
        ("G1 045 [mm]", None),
        ("G1 45 \u00b0C [mm]", None),
    ],
)
def test_an_angle_is_taken_only_where_it_is_written_as_one(head: str, angle: float | None):
    assert read_head(head).angle == angle


def test_a_unit_in_capitals_that_means_another_is_not_taken():
    assert unit_named("MV") is None
    assert unit_named("mV").name == "mV"
    assert unit_named("RPM").name == "rpm"
