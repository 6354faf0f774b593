"""`fit --out`: every number of the CSV stands in the JSON, what was left out is listed, and nothing is overwritten."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import polars as pl
import pytest

import rimmodel as rm
from rimmodel.evidence.measured.compare import compare_all
from rimmodel.evidence.measured.left_out import OUTLIERS, left_out
from rimmodel.evidence.measured.measure import with_sensors
from rimmodel.evidence.synthetic import Run, virtual_run
from rimmodel.rotor.requirements import CaseRecord
from rimmodel.units import MILLIMETRE, RPM
from rimmodel.verdict.output.fit import text as fit_text
from rimmodel.verdict.output.fit_files import FILES
from rimmodel.verdict.output.fit_files import write as write_fit
from rimmodel.verdict.records import measure_records
from tests.built_in import example_measured

CASE = rm.example_case()
COLD = CASE.conditions["cold"]
SPEEDS = tuple(np.linspace(20.0, 235.0, 14) * RPM)
DRIFTING, DEAD, STRAYS, BLANKS = "S3", "S8", 3, 4
"""What is wrong with the invented run: two sensors, readings that are far off, and rows without a gap."""


def faulty_run() -> pl.DataFrame:
    """An invented run with faults that are known one by one."""
    run = Run(speeds=SPEEDS, readings=12, noise=0.02 * MILLIMETRE, seed=7)
    frame = virtual_run(CASE.rotor, COLD, run).with_row_index("row")
    hours = pl.col("time [s]") / 3600.0
    gap = pl.col("gap [mm]")
    # sensor S1 at the first hold: readings so far off that nothing else explains them
    strays = frame.filter(pl.col("sensor") == "S1")["row"].to_list()[:STRAYS]
    blanks = frame.filter(pl.col("sensor") == "S2")["row"].to_list()[-BLANKS:]
    return frame.with_columns(
        pl.when(pl.col("sensor") == DRIFTING)
        .then(gap + 0.8 * hours)
        .when(pl.col("sensor") == DEAD)
        .then(0.05 + 0.01 * (pl.col("row") % 7))
        .when(pl.col("row").is_in(strays))
        .then(gap + 3.0)
        .when(pl.col("row").is_in(blanks))
        .then(None)
        .otherwise(gap)
        .alias("gap [mm]")
    ).drop("row")


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The built-in records as files."""
    place = tmp_path_factory.mktemp("fit") / "made" / "here"
    records, found = example_measured()
    measurements = tuple(with_sensors(one) for one in found)
    comparisons = compare_all(measurements, [one.expected_change for one in records])
    write_fit(CASE, None, measurements, comparisons, place)
    return place


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def table_of(place: Path) -> dict[str, object]:
    def refused(name: str) -> float:
        raise AssertionError(f"{name} in JSON")

    return json.loads((place / "fit.json").read_text(encoding="utf-8"), parse_constant=refused)


@pytest.mark.parametrize("name", ["points", "sensors", "left_out"])
def test_every_number_of_the_csv_stands_in_the_json(written: Path, name: str) -> None:
    rows = rows_of(written / f"{name}.csv")
    expected = [(record["label"], row) for record in table_of(written)["records"] for row in record[name]]
    assert len(rows) == len(expected)
    for row, (label, stated) in zip(rows, expected, strict=True):
        assert row.pop("record") == label
        assert set(row) == set(stated)
        for column, value in stated.items():
            cell = row[column]
            if value is None:
                assert cell == ""
            elif isinstance(value, bool):
                assert cell == ("yes" if value else "no")
            elif isinstance(value, int | float):
                assert float(cell) == pytest.approx(value, rel=1e-8)
            else:
                assert cell == value


def test_points_are_those_of_the_fit_and_what_is_left_adds_up(written: Path) -> None:
    record = table_of(written)["records"][0]
    whole = [row for row in record["points"] if row["plane"] == ""]
    assert sum(row["used_in_fit"] for row in whole) == record["speed_points"]
    for row in whole:
        assert row["fitted_gap_mm"] + row["measured_less_fitted_mm"] == pytest.approx(row["gap_mm"], abs=1e-9)
    # the mean over both planes, six sensors each, is the mean of all
    planes = {
        plane: [row["gap_mm"] for row in record["points"] if row["plane"] == plane] for plane in ("upper", "lower")
    }
    means = np.mean([planes["upper"], planes["lower"]], axis=0)
    assert np.allclose(means, [row["gap_mm"] for row in whole], atol=2e-4)
    # and that over its sensors is that of a plane
    upper = [row for row in record["sensors"] if row["plane"] == "upper"]
    count = len(whole)
    over = np.mean([[row["gap_mm"] for row in upper[at : at + count]] for at in range(0, len(upper), count)], axis=0)
    assert np.allclose(over, planes["upper"], atol=2e-4)


def test_the_prediction_beside_the_points_is_that_of_the_drawing(written: Path) -> None:
    row = table_of(written)["records"][0]["points"][0]
    gap = float(rm.sweep(CASE.rotor, COLD, row["speed_rpm"] * RPM).air_gap)
    assert row["predicted_gap_mm"] == pytest.approx(1e3 * gap, abs=1e-6)


def test_each_record_has_its_figures(written: Path) -> None:
    drawn = {path.stem for path in (written / "figures").iterdir()}
    kinds = ("points", "residuals_speed", "residuals_time", "knee", "likelihood", "planes", "sensors", "spread")
    assert drawn >= {f"{kind}_{number}" for kind in kinds for number in (1, 2)}
    assert {"shape_2_1", "roundness_2_1"} <= drawn  # the record whose poles were read one by one
    for path in (written / "figures").iterdir():
        assert ElementTree.fromstring(path.read_text(encoding="utf-8")).tag.endswith("svg")


@pytest.mark.derived
def test_what_was_left_out_is_listed_piece_by_piece(tmp_path: Path) -> None:
    path = tmp_path / "faulty.csv"
    faulty_run().write_csv(path)
    records, (found,) = measure_records(CASE, [CaseRecord(str(path), "cold")])
    gone = left_out(found)
    assert {(row.what, row.name.split(",")[0].split(" (")[0]) for row in gone if row.what == "sensor"} == {
        ("sensor", DRIFTING),
        ("sensor", DEAD),
    }
    assert "drifts" in next(row.reason for row in gone if row.name.startswith(DRIFTING))
    assert "dead" in next(row.reason for row in gone if row.name.startswith(DEAD))
    (rows,) = (row for row in gone if row.what == "rows")
    assert rows.count == BLANKS
    (readings,) = (row for row in gone if row.what == "readings" and row.name.startswith("S1,"))
    assert (readings.count, readings.reason) == (STRAYS, OUTLIERS)
    text = fit_text([found], [])
    listed = text[text.index("    left out:\n") :]
    for words in ("S3", "S8", "4 rows left out", "readings left out as outliers"):
        assert words in listed
    write_fit(CASE, records, [found], [], tmp_path / "out")
    assert len(rows_of(tmp_path / "out" / "left_out.csv")) == len(gone)


def test_a_run_without_faults_says_that_nothing_was_left_out(written: Path) -> None:
    assert rows_of(written / "left_out.csv") == []
    _, found = example_measured()
    assert "    left out: nothing\n" in fit_text(found, [])


@pytest.mark.parametrize("command", ["fit", "review"])
def test_results_stay_unless_force_is_given_and_nothing_is_computed_before(rim, tmp_path, monkeypatch, command) -> None:
    from rimmodel.verdict import assess, records

    def measured(*_: object, **__: object) -> None:
        raise AssertionError("measured before the place was looked at")

    monkeypatch.setattr(records, "measure_records", measured)
    monkeypatch.setattr(assess, "assess", measured)
    taken = tmp_path / "taken"
    taken.mkdir()
    (taken / (FILES[0] if command == "fit" else "review.json")).write_text("mine", encoding="utf-8")
    code, _, err = rim(command, "--out", taken)
    assert code == 2
    assert "already exists" in err
    assert "--force" in err
    assert "overwrite=True" not in err
    plain = tmp_path / "plain"
    plain.write_text("a file", encoding="utf-8")
    for place in (plain / "below", plain, Path("/dev/null"), Path("/proc/nowhere/at/all")):
        code, out, err = rim(command, "--out", place)
        assert (code, out) == (2, "")
        assert "cannot write" in err
    assert sorted(path.name for path in tmp_path.iterdir()) == ["plain", "taken"]


def test_the_command_writes_and_says_what(rim, tmp_path) -> None:
    path = tmp_path / "run.csv"
    virtual_run(CASE.rotor, COLD, Run(speeds=SPEEDS, run_down=False)).write_csv(path)
    case = CASE.path
    code, out, err = rim("fit", case, path, "--condition", "cold", "--out", tmp_path / "out", "--json")
    assert code == 0
    assert all(f"wrote {tmp_path / 'out' / name}" in err for name in FILES)
    printed, stored = json.loads(out), table_of(tmp_path / "out")
    assert {name: stored[name] for name in printed if name != "records"} == {
        name: value for name, value in printed.items() if name != "records"
    }
    assert set(printed["knee_spread"]) == {"plane", "sensor"}
    with pytest.raises(ValueError, match="overwrite=True"):
        write_fit(CASE, [CaseRecord(str(path), "cold")], *_measured(path), tmp_path / "out")


def _measured(path: Path):
    _, found = measure_records(CASE, [CaseRecord(str(path), "cold")])
    return found, []
