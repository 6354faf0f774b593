"""Life by a course of speed against the sum over a stated duty, and against what a log can get wrong."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.behaviour.limits.fatigue import fatigue_checks
from rimmodel.behaviour.limits.life import YEAR, life_use, starts
from rimmodel.evidence.recording.delimited import RecordingError
from rimmodel.evidence.recording.speed_history import read_speed_history
from rimmodel.rotor.allowances import DutyCycle, Limits
from rimmodel.units import RPM
from rimmodel.verdict.output.life import table as life_table
from rimmodel.verdict.output.life import text as life_text
from tests.behaviour.invented_rotors import COLD, RIM_STEEL, changed

STRONG = replace(RIM_STEEL, ultimate_strength=640e6, endurance_limit=240e6)
MACHINE = changed(rim={"material": STRONG, "stress_concentration_factor": 3.0})
DAY = 86400.0


@pytest.mark.derived
def test_a_course_of_starts_takes_what_the_same_duty_takes():
    """300 starts to 20 rad/s and 40 to 22: the log of it and the duty of the case must agree."""
    duty = (DutyCycle(0.0, 20.0, 300.0, "start"), DutyCycle(0.0, 22.0, 40.0, "rejection"))
    whole = {row.name: row for row in fatigue_checks(MACHINE, COLD, "cold", Limits(), duty)}
    peaks = np.random.default_rng(8).permutation([20.0] * 300 + [22.0] * 40)
    course = np.append(np.stack([np.zeros(340), peaks], axis=1), 0.0)
    (found,) = life_use(MACHINE, {"cold": COLD}, course, YEAR)
    assert found.share_per_year > 0
    assert found.share_per_year == pytest.approx(float(whole["share of fatigue life used"].value), rel=1e-5)
    assert found.years(1.0, 0.5) == pytest.approx(0.5 / found.share_per_year)
    assert starts(course, 20.0) == 340


@pytest.mark.derived
def test_half_the_time_for_the_same_course_is_twice_the_share_of_a_year():
    course = [0.0, 22.0, 0.0]
    shares = [life_use(MACHINE, {"cold": COLD}, course, time)[0].share_per_year for time in (YEAR, YEAR / 2)]
    assert shares[1] == pytest.approx(2 * shares[0])


def test_a_rotor_without_an_endurance_limit_is_refused_by_the_name_of_the_key():
    with pytest.raises(ValueError, match="endurance_limit"):
        life_use(changed(MACHINE, rim={"material": RIM_STEEL}), {"cold": COLD}, [0.0, 10.0, 0.0], DAY)


def log_of(folder, rows, header="time [h],speed [rpm]"):
    path = folder / "log.csv"
    path.write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("rows", "header", "words"),
    [
        (["0,0", "5,120", "3,120"], "time [h],speed [rpm]", "line 4: time goes back by 7200 s"),
        (["0,0", "5,12000"], "time [h],speed [rpm]", "line 3: speed is 12000 rpm"),
        (["0,0", "5,120"], "time [s],speed [rpm]", "unit of the time column"),
        (["0,0"], "time [h],speed [rpm]", "fewer than two rows"),
        (["0,0", "5,120"], "hours,speed [rpm]", "column time is missing"),
        (["0,0", "5,120"], "time,speed [rpm]", "no unit"),
        (["0,0", "5,fast"], "time [h],speed [rpm]", "'fast' is not a number"),
    ],
)
def test_what_a_log_gets_wrong_is_named(tmp_path, rows, header, words):
    with pytest.raises(RecordingError, match=words):
        read_speed_history(log_of(tmp_path, rows, header), 200 * RPM)


def test_rows_without_a_number_are_counted(tmp_path):
    found = read_speed_history(log_of(tmp_path, ["0,0", "1,", "2,120", "30,0"]), 200 * RPM)
    assert (len(found.speed), found.left_out, found.duration) == (3, 1, 30 * 3600.0)


def test_the_text_prints_the_numbers_of_the_table(tmp_path):
    case = rm.example_case()
    rows = [f"{24 * day + hour},{speed}" for day in range(90) for hour, speed in ((0, 0), (1, 125), (8, 125.2), (9, 0))]
    history = read_speed_history(log_of(tmp_path, [*rows, "2170,180", "2171,0"]), float(case.rotor.speeds.highest))
    table, text = life_table(case, history), " ".join(life_text(case, history).split())
    json.dumps(table, allow_nan=False)
    assert table["starts"] == 91
    assert f"{table['starts']}, which is {table['starts_per_year']:.4g} a year" in text
    for row in table["conditions"]:
        assert row["years_left"] is None  # the steel of the example endures any number of these
        assert f"{row['worst_from_MPa']:.1f} to {row['worst_to_MPa']:.1f} MPa, is {row['goodman_ratio']:.2f}" in text
        assert sum(part["per_year"] for part in row["cycles"]) == pytest.approx(table["starts_per_year"])


def test_the_command_answers_and_refuses_in_one_line(rim, tmp_path):
    case = Path(rm.__file__).parent / "rotor" / "examples" / "quillmere.toml"
    log = log_of(tmp_path, ["0,0", "1,125", "8000,0"])
    code, out, _ = rim("life", case, log)
    assert code == 0
    assert "Starts from rest to rated speed: 1" in out
    code, out, words = rim("life", case, log, "--used", "2")
    assert (code, out) == (2, "")
    assert words.count("\n") == 1
    assert "--used is 2" in words


def test_an_overspeed_past_the_strength_of_the_steel_is_named_and_no_years_are_promised(tmp_path):
    """The bore of the example passes its ultimate strength by far at 300 rpm, 2.4 times its rated speed."""
    case = rm.example_case()
    history = read_speed_history(log_of(tmp_path, ["0,0", "1,125", "2,300", "900,0"]), 400 * RPM)
    table, text = life_table(case, history), " ".join(life_text(case, history).split())
    json.dumps(table, allow_nan=False)
    strength = float(case.rotor.rim.material.ultimate_strength) / 1e6
    for row in table["conditions"]:
        assert row["reaches_ultimate_strength"]
        assert row["worst_to_MPa"] >= strength
        assert (row["share_per_year"], row["years_left"]) == (None, 0.0)
        assert f"to {row['worst_to_MPa']:.1f} MPa, reaches the ultimate strength of the rim steel" in text
    assert "inspect the rim for cracks" in text
    assert text.count("NO LIFE IS LEFT") == len(table["conditions"])
    assert " lasts " not in text
    assert "None" not in text


def test_the_text_names_the_interference_that_it_rests_on(tmp_path):
    case = rm.example_case()
    history = read_speed_history(log_of(tmp_path, ["0,0", "1,125", "900,0"]), 200 * RPM)
    text = " ".join(life_text(case, history).split())
    assert f"Interference: {float(case.rotor.fit.interference) * 1e3:.2f} mm radial, as the case states;" in text
    lost = replace(case, rotor=changed(case.rotor, fit={"settlement": 0.25e-3}))
    assert "less 0.25 mm of settlement and stack growth" in " ".join(life_text(lost, history).split())


def test_a_life_of_thousands_of_years_is_not_printed_as_a_number(tmp_path):
    """Just past the endurance limit the sloped line holds for almost a million cycles; the course has one a month."""
    case = rm.example_case()
    history = read_speed_history(log_of(tmp_path, ["0,0", "1,225", "700,0"]), 400 * RPM)
    table, text = life_table(case, history), " ".join(life_text(case, history).split())
    years = [row["years_left"] for row in table["conditions"]]
    assert max(years) > 1000
    assert "lasts over 1,000 years" in text
    assert f"{max(years):.3g} years" not in text
