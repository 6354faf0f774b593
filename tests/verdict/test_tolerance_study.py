"""The study of a case: its outputs, a posterior fed in, and what is left on disk when it is stopped."""

import json
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import rimmodel as rm
from rimmodel.behaviour.keys.tolerance import key_study
from rimmodel.behaviour.quantities import evaluate
from rimmodel.behaviour.study.blocks import study
from rimmodel.behaviour.study.inputs import with_table
from rimmodel.behaviour.study.rotor_model import Asked, case_inputs, default_asked, rotor_model, shim_sets
from rimmodel.evidence.backfit.fit import OWN_CONDITION, back_fit
from rimmodel.evidence.knee.fit import fit_knee
from rimmodel.evidence.recording.read import read_recording
from rimmodel.evidence.reduction.speed_points import speed_points
from rimmodel.rotor.blocks import BLOCK
from rimmodel.rotor.case.case import EXAMPLES, parse_case
from rimmodel.verdict.output.files import OutputError
from rimmodel.verdict.output.study import table as study_table
from rimmodel.verdict.output.study import text as study_text
from rimmodel.verdict.output.study import tornado
from rimmodel.verdict.tolerance_study import run_study

TEXT = (EXAMPLES / "quillmere.toml").read_text(encoding="utf-8")
BARE = TEXT.partition("[tolerances]")[0]


@pytest.fixture(scope="module")
def case():
    return rm.example_case()


def case_of(text, base=BARE):
    return parse_case(f"{base}\n{text}".encode(), "unit.toml", EXAMPLES / "unit.toml")


# ------------------------------------------------------------------------------------------- the model


@pytest.mark.independent
def test_every_sample_is_the_rotor_that_its_numbers_make(case):
    model, inputs = rotor_model(case), case_inputs(case)
    table = inputs.values(np.random.default_rng(3).uniform(0.01, 0.99, (inputs.dimensions, 40)))
    found = model(table)
    for place in (0, 17, 39):
        one = {name: float(values[place]) for name, values in table.items()}
        rotor, conditions = model.machine(one)
        assert rotor.poles.mass == one["poles.mass"]
        assert rotor.stator_bore_radius == pytest.approx(4.58 + one["air_gap.cold"], rel=1e-15)
        assert conditions["hot"].rim_temperature == one["conditions.hot.rim_temperature"]
        for asked in default_asked(case):
            known = evaluate(asked.quantity, rotor, conditions[asked.condition])
            assert np.broadcast_to(found[asked.name], (40,))[place] == pytest.approx(known, rel=1e-12)


@pytest.mark.parametrize(
    ("given", "varied", "fixed"),
    [
        ('cold = "16 mm"', "air_gap.cold", "face"),
        ('stator_bore_radius = "4.596 m"', "air_gap.stator_bore_radius", "face"),
        ('stator_bore_radius = "4.596 m"', "poles.face_radius", "bore"),
    ],
)
def test_face_gap_and_bore_stay_a_sum_when_one_of_them_varies(given, varied, fixed):
    base = BARE.replace('cold = "16 mm"', given)
    model = rotor_model(case_of(f'[tolerances]\n"{varied}" = {{standard = "0.1 mm"}}', base))
    before = model.rotor.poles.face_radius, model.rotor.stator_bore_radius
    _, stored = varied.split(".")
    start = {"cold": 0.016, "stator_bore_radius": 4.596, "face_radius": 4.58}[stored]
    rotor, _ = model.machine({varied: start + np.array([0.0, 1e-4])})
    moved = np.diff(np.broadcast_arrays(rotor.poles.face_radius, rotor.stator_bore_radius, np.zeros(2))[:2])
    assert np.allclose(moved[0 if fixed == "face" else 1], 0.0, atol=1e-12)
    assert np.allclose(moved[1 if fixed == "face" else 0], 1e-4, atol=1e-12)
    assert before == (4.58, pytest.approx(4.596))


@pytest.mark.derived
def test_fourteen_keys_scatter_their_mean_by_a_root_of_fourteen():
    base = BARE.replace('interference_tolerance = "0.1 mm"\n', "")
    case = case_of('[tolerances]\n"fit.key_interference" = {standard = "0.14 mm"}', base)
    model = rotor_model(case, [Asked("residual_interference_at_standstill", "cold")])
    inputs = case_inputs(case)
    assert inputs.dimensions == 14
    assert list(inputs.groups()) == ["fit.key_interference"]
    (found,) = study(model, inputs, 2**14).distributions.values()
    assert found.mean == pytest.approx(2.1e-3, rel=1e-4)
    assert found.standard_deviation == pytest.approx(0.14e-3 / 14**0.5, rel=0.02)


def test_drawn_keys_go_into_the_study_key_by_key():
    case = case_of('[tolerances]\n"fit.key_interference" = {standard = "0.05 mm"}')
    inputs = case_inputs(case)
    table = inputs.values(np.random.default_rng(5).uniform(0.05, 0.95, (inputs.dimensions, 3)))
    sets = shim_sets(case, table)
    assert sets.shape == (3, 14)
    moved = table["fit.interference"] - 2.1e-3
    assert np.allclose(sets[:, 4], table["fit.key_interference[5]"] + moved)
    fit = replace(case.rotor.fit, key_width=0.3)
    marks = key_study(replace(case.rotor, fit=fit), case.conditions["cold"], sets)
    assert np.all(marks.first_lift_off < marks.mean_float)


def test_a_sample_that_cannot_be_built_names_the_number():
    case = case_of('[tolerances]\n"spider.hub_radius" = {distribution = "uniform", half_width = "2.5 m"}',
                   BARE.replace('"1.25 m"', '"2.6 m"'))  # fmt: skip
    with pytest.raises(ValueError, match=r"spider\.hub_radius.*narrow the tolerance"):
        run_study(case, 100)


# ------------------------------------------------------------------------------------------- the whole study


@pytest.fixture(scope="module")
def whole(case):
    return run_study(case, 20_000, index_samples=2**12)


def test_the_table_has_every_output_and_chance_and_is_json(case, whole):
    table = json.loads(json.dumps(study_table(whole), allow_nan=False))
    assert table["samples"] == 2**15
    assert "20000 samples rounded up to 32768" in table["notes"][0]
    speed = table["outputs"][0]
    assert (speed["quantity"], speed["condition"], speed["unit"]) == ("float_speed", "cold", "rpm")
    known = float(rm.float_speed(case.rotor, case.conditions["cold"]).speed) * 30 / np.pi
    assert speed["linear"]["value"] == pytest.approx(known, rel=1e-12)
    assert abs(speed["mean"] - known) < 0.1 * speed["standard_deviation"]
    assert speed["interval_95"][0] < speed["median"] < speed["interval_95"][1]
    assert sum(row["first"] for row in speed["sobol_indices"]) == pytest.approx(1.0, abs=0.05)
    assert table["chances"][0]["name"] == "no_float_in_service"
    assert all(row["interval_95"][0] <= row["probability"] <= row["interval_95"][1] for row in table["chances"])


def test_the_tornado_is_sorted_and_moves_as_the_rotor_does(case, whole):
    rows = tornado(whole, "float_speed, cold")
    swings = [abs(high - low) for _, low, high in rows]
    assert swings == sorted(swings, reverse=True)
    moves = {name: (low, high) for name, low, high in rows}
    up = rm.float_speed(case.rotor.with_interference(2.15e-3), case.conditions["cold"]).speed
    assert moves["fit.interference"][1] == pytest.approx(float(up), rel=1e-12)


def test_the_text_names_drivers_chances_and_where_the_straight_line_fails(whole):
    text = study_text(whole)
    for words in ("rim.hoop_stiffness_factor", "no_float_in_service", "straight line", "32768 samples (sobol, seed 1)"):
        assert words in text


def test_a_case_without_tolerances_is_told_what_to_add():
    with pytest.raises(ValueError, match=r"add \[tolerances\]"):
        run_study(case_of("", BARE.replace('interference_tolerance = "0.1 mm"\n', "")), 100)


# ---------------------------------------------------------------------------------------------- posterior


def test_the_posterior_of_a_back_fit_takes_the_place_of_the_drawing(case):
    cold = case.conditions["cold"]
    points = speed_points(read_recording(EXAMPLES / "quillmere_run.csv"))
    fit = back_fit(case.rotor, cold, points, fit_knee(points.speed**2, points.gap))
    drawn = np.random.default_rng(2).multivariate_normal(fit.estimate, fit.covariance, 4000)
    columns = {name: drawn[:, place] for place, name in enumerate(fit.parameters)}
    settled = case.rotor.fit.interference - columns["interference"]  # as in `settled_to`
    table = {
        "fit.interference": np.full(4000, case.rotor.fit.interference),
        "fit.settlement": settled,
        "rim.hoop_stiffness_factor": case.rotor.rim.hoop_stiffness_factor * np.exp(columns["hoop_stiffness_factor"]),
    }
    result = run_study(case, 2**15, table=table, index_samples=2**10)
    assert not {row.name for row in result.inputs.marginals} & table.keys()
    found = result.study.distributions["float_speed, cold"]
    # the fit knows the float speed better than either of its two parts, and so must the study
    low, high = fit.float_speed_interval[OWN_CONDITION]
    assert found.mean == pytest.approx(fit.float_speed[OWN_CONDITION], rel=0.01)
    assert 0.4 < (found.interval()[1] - found.interval()[0]) / (high - low) < 2.0
    torn = with_table(case_inputs(case), {"rim.hoop_stiffness_factor": table["rim.hoop_stiffness_factor"]})
    assert torn.rows == 4000
    known = evaluate("float_speed", case.rotor.settled_to(fit.interference), cold)
    assert known == pytest.approx(fit.float_speed[OWN_CONDITION], rel=0.1)


def test_a_table_of_unknown_numbers_is_refused(case):
    with pytest.raises(ValueError, match=r"no 'fit.interferense'; did you mean 'fit.interference'"):
        run_study(case, 100, table={"fit.interferense": [1.0]})


# ------------------------------------------------------------------------------------------- stopped and resumed


def stop_after(blocks):
    def progress(done, of):
        if done >= blocks * BLOCK:
            raise KeyboardInterrupt

    return progress


def numbers(path):
    table = json.loads(Path(path).read_text(encoding="utf-8"))
    table.pop("notes")
    return table


SETTINGS = {"samples": 2**16, "index_samples": 0, "chunk": BLOCK}


def test_an_interrupted_study_keeps_what_is_done_and_goes_on_to_the_same_bits(case, tmp_path):
    run_study(case, out=tmp_path / "whole.json", **SETTINGS)
    out = tmp_path / "study.json"
    result = run_study(case, out=out, progress=stop_after(3), **SETTINGS)
    assert result.interrupted
    assert result.study.samples == 3 * BLOCK
    assert "interrupted after 24576 of 65536 samples" in study_text(result)
    assert not out.exists()
    partial = json.loads(result.written.read_text(encoding="utf-8"))
    assert partial["result"]["samples"] == 3 * BLOCK
    with pytest.raises(OutputError, match="resume=True"):
        run_study(case, out=out, **SETTINGS)
    again = run_study(case, out=out, resume=True, workers=2, **SETTINGS)
    assert "resumed after 24576 samples" in again.notes
    assert numbers(out) == numbers(tmp_path / "whole.json")
    assert not result.written.exists()
    with pytest.raises(OutputError, match="already exists"):
        run_study(case, out=out, **SETTINGS)


def test_a_partial_result_of_another_study_is_refused(case, tmp_path):
    out = tmp_path / "study.json"
    run_study(case, out=out, progress=stop_after(2), **SETTINGS)
    with pytest.raises(ValueError, match="belongs to another study"):
        run_study(case, out=out, resume=True, seed=9, **SETTINGS)
    (tmp_path / "study.json.partial").write_text('{"state": []}', encoding="utf-8")
    with pytest.raises(ValueError, match="not a partial result"):
        run_study(case, out=out, resume=True, **SETTINGS)
    with pytest.raises(ValueError, match="needs the result file"):
        run_study(case, resume=True, **SETTINGS)


def test_places_that_cannot_be_written_are_said_before_the_work(case, tmp_path):
    (tmp_path / "file").write_text("x", encoding="utf-8")
    for out in (tmp_path / "file" / "study.json", Path("/dev/full")):
        with pytest.raises(OutputError):
            run_study(case, out=out, progress=stop_after(0), **SETTINGS)


def test_a_disk_that_fills_up_leaves_what_was_done_before(case, tmp_path, monkeypatch):
    out = tmp_path / "study.json"
    run_study(case, out=out, progress=stop_after(2), **SETTINGS)
    before = (tmp_path / "study.json.partial").read_bytes()

    def full(self, target):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(OutputError, match="No space left on device"):
        run_study(case, out=out, resume=True, **SETTINGS)
    assert (tmp_path / "study.json.partial").read_bytes() == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["study.json.partial"]


SCRIPT = """
import sys, time
import rimmodel as rm
from rimmodel.behaviour.study import case_study as where
from rimmodel.verdict.tolerance_study import run_study

where.SAVE_EVERY = 0.0
run_study(rm.example_case(), 2**16, index_samples=0, chunk=8192, out=sys.argv[1], resume=True,
                progress=lambda done, of: (print(done, flush=True), time.sleep(0.2)))
"""


def test_a_killed_study_goes_on_from_what_it_had_written(case, tmp_path):
    if os.name != "posix":
        pytest.skip("there is no kill -9 on this system")
    out = tmp_path / "study.json"
    run_study(case, out=tmp_path / "whole.json", **SETTINGS)
    with subprocess.Popen(
        [sys.executable, "-c", SCRIPT, str(out)], stdout=subprocess.PIPE, text=True, stderr=subprocess.DEVNULL
    ) as process:
        for line in process.stdout:
            if int(line) >= 4 * BLOCK:
                time.sleep(0.1)
                process.send_signal(signal.SIGKILL)
                break
    assert process.returncode == -signal.SIGKILL
    assert not out.exists()
    result = run_study(case, out=out, resume=True, **SETTINGS)
    assert any(note.startswith("resumed after") for note in result.notes)
    assert numbers(out) == numbers(tmp_path / "whole.json")
