"""The doors of the package: what can be called by name, what shows in a notebook, and what a wrong argument is told."""

from __future__ import annotations

import inspect
import pydoc
import re
import subprocess
import sys
from functools import cache
from types import FunctionType, ModuleType

import numpy as np
import polars as pl
import pytest
from matplotlib.figure import Figure

import rimmodel as rm
from rimmodel.evidence.synthetic import Run, virtual_run
from rimmodel.tabular import ROWS_SHOWN, Tabular, in_brief, wanted
from tests.nomenclature import PRINT
from tests.plotting.drawn import axes_of

CASE = rm.example_case()
COLD = CASE.conditions["cold"]
TRUTH = float(rm.float_speed(CASE.rotor, COLD).speed)
UNITS = (*PRINT.values(), "s", "h", "degC")
WITHOUT_UNIT = {
    "plane", "direction", "readings", "outliers", "steady", "used_in_fit", "plausibility", "name", "quantity",
    "condition", "verdict", "unit", "stated_in_unit", "predicted_in_unit", "measured_in_unit",
}  # fmt: skip
"""Columns of words, counts and shares, and those that stand in the unit of their row."""


@cache
def results() -> dict[str, object]:
    """Everything that a reader gets on the way from a recording to a review, of an invented run."""
    speeds = tuple(np.linspace(20.0, 235.0, 14) * rm.RPM)
    recording = rm.read_recording(virtual_run(CASE.rotor, COLD, Run(speeds=speeds, noise=1e-5)), label="invented")
    points = rm.speed_points(recording)
    return {
        "recording": recording,
        "points": points,
        "knee": rm.find_knee(points, CASE.rotor, COLD),
        "fit": rm.back_fit(CASE.rotor, COLD, points),
        "measurement": rm.measure(CASE.rotor, COLD, recording, "cold"),
        "sweep": rm.sweep(CASE.rotor, COLD, np.linspace(0.0, 24.0, 30)),
        "review": rm.review(CASE, []),
        "case": CASE,
        "rotor": CASE.rotor,
        "condition": COLD,
        "many": CASE.rotor.with_interference(np.linspace(1e-3, 2e-3, 100_000)),
    }


TABLES = ("points", "knee", "fit", "measurement", "sweep", "review")


@pytest.mark.parametrize("name", rm.__all__)
def test_every_door_is_there_and_says_what_it_takes_and_returns(name: str) -> None:
    door = getattr(rm, name)
    assert name in dir(rm)
    if isinstance(door, FunctionType) and inspect.signature(door).parameters:
        words = pydoc.render_doc(door)
        assert "Parameters" in words
        assert "Returns" in words


def test_no_door_hides_a_package_of_the_same_name() -> None:
    import pkgutil

    hidden = {one.name for one in pkgutil.iter_modules(rm.__path__)} & set(rm.__all__)
    assert not {name for name in hidden if not isinstance(getattr(rm, name), ModuleType)}


def test_doors_that_need_much_load_when_they_are_used() -> None:
    late = ("polars", "matplotlib", "scipy.stats", "rimmodel.evidence.recording.read")
    asked = f"import sys, rimmodel; print([name for name in {late!r} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True, timeout=120)
    assert done.stdout.strip() == "[]"
    with pytest.raises(AttributeError, match="no attribute 'nonsense'"):
        rm.nonsense  # noqa: B018


@pytest.mark.derived
def test_the_doors_lead_from_a_recording_to_the_truth() -> None:
    found = results()
    for low, high in (found["knee"].interval, found["fit"].float_speed_interval[""]):
        assert low < TRUTH < high
    low, high = found["fit"].interference_interval
    assert low < CASE.rotor.fit.interference < high
    assert found["knee"].verdict == "resolved"
    # step by step or at once, it is the same fit
    assert found["measurement"].interference == pytest.approx(found["fit"].interference, rel=0.02)


@pytest.mark.parametrize("name", ["recording", *TABLES, "case", "rotor", "condition", "many"])
def test_what_is_shown_of_a_result_is_one_short_line(name: str) -> None:
    line = repr(results()[name])
    assert "\n" not in line
    assert len(line) < 260
    assert "nan" not in line
    assert re.match(r"\w+\(.*\)$", line)


@pytest.mark.parametrize("name", TABLES)
def test_a_frame_has_a_unit_in_the_name_of_every_column_that_has_one(name: str) -> None:
    frame = results()[name].to_frame()
    assert isinstance(frame, pl.DataFrame)
    assert frame.height > 0
    for column in frame.columns:
        assert column in WITHOUT_UNIT or column.rsplit("_", 1)[-1] in UNITS, column
    assert not any(frame[column].is_nan().any() for column in frame.columns if frame[column].dtype == pl.Float64)


@pytest.mark.derived
def test_numbers_of_a_frame_are_in_those_units() -> None:
    found = results()
    frame = found["sweep"].to_frame()
    assert np.allclose(frame["speed_rpm"].to_numpy(), np.linspace(0.0, 24.0, 30) * 30.0 / np.pi)
    assert np.allclose(frame["air_gap_mm"].to_numpy(), 1e3 * found["sweep"].air_gap)
    frame = found["measurement"].to_frame()
    assert np.allclose(frame["gap_mm"], frame["fitted_gap_mm"] + frame["measured_less_fitted_mm"])
    assert found["points"].to_frame()["readings"].sum() == found["points"].count.sum()


@pytest.mark.parametrize("name", TABLES)
def test_a_notebook_shows_a_table_and_a_figure(name: str) -> None:
    result = results()[name]
    page = result._repr_html_()
    assert page.count("<tr>") <= ROWS_SHOWN + 2
    assert all(f"<th>{column}</th>" in page for column in result.to_frame().columns)
    figure = result.plot()
    assert isinstance(figure, Figure)
    assert all("[" in label for pair in axes_of(figure)[:1] for label in pair if label)


def test_names_from_a_file_are_text_in_a_notebook() -> None:
    from dataclasses import replace

    named = replace(results()["measurement"], label="<script>alert(1)</script>")
    assert "<script>" not in named._repr_html_()


def test_a_table_without_a_figure_says_so() -> None:
    class Bare(Tabular):
        def columns(self) -> dict[str, object]:
            return {"length_mm": [1.0]}

    with pytest.raises(TypeError, match=r"no figure of a Bare; to_frame\(\) has its numbers"):
        Bare().plot()
    with pytest.raises(TypeError, match="one row of speeds"):
        rm.sweep(CASE.rotor, COLD, 3.0).plot()


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: rm.float_speed(CASE, COLD), "write case.rotor"),
        (lambda: rm.float_speed(CASE.rotor, "cold"), "write case.conditions['cold']"),
        (lambda: rm.sweep("unit.toml", COLD, 1.0), "wants a Rotor"),
        (lambda: rm.sweep(CASE.rotor, None, 1.0), "wants a Condition"),
        (lambda: rm.sweep(CASE.rotor, COLD, "125 rpm"), "125 * rm.RPM"),
        (lambda: rm.sweep(CASE.rotor, COLD, [1.0, "fast"]), "numbers in rad/s"),
        (lambda: rm.first_yield(CASE, COLD), "write case.rotor"),
        (lambda: rm.gap_closes(CASE, COLD), "write case.rotor"),
        (lambda: rm.speed_at_gap(CASE.rotor, COLD, "13 mm"), "13 mm is written 0.013"),
        (lambda: rm.interference_for_float_speed(CASE, COLD, 19.0), "write case.rotor"),
        (lambda: rm.review("unit.toml"), "write review(read_case('unit.toml'))"),
        (lambda: rm.review(None), "write read_case(file)"),
        (lambda: rm.review(CASE, "run.csv"), "CaseRecord(file, condition)"),
        (lambda: rm.review(CASE, ["run.csv"]), "CaseRecord(file, condition)"),
        (lambda: rm.read_case(3), "the path of a case file"),
        (lambda: rm.speed_points("run.csv"), "write read_recording(file)"),
        (lambda: rm.find_knee("run.csv"), "write speed_points(read_recording(file))"),
        (lambda: rm.back_fit(CASE, COLD, results()["points"]), "write case.rotor"),
        (lambda: rm.back_fit(CASE.rotor, COLD, results()["recording"]), "wants speed points"),
        (lambda: rm.measure(CASE.rotor, COLD, "run.csv"), "write read_recording(file)"),
    ],
)
def test_a_wrong_kind_of_argument_is_refused_in_one_line(call, says: str) -> None:
    with pytest.raises(TypeError) as refused:
        call()
    message = str(refused.value)
    assert says in message
    assert "\n" not in message
    assert len(message) < 240


def test_other_slips_of_a_call_are_refused_in_words() -> None:
    with pytest.raises(ValueError, match="'sideways'; it must be 'up', 'down' or None"):
        rm.sweep(CASE.rotor, COLD, 1.0, "sideways")
    with pytest.raises(ValueError, match="kept apart by plane"):
        rm.find_knee(rm.speed_points(results()["recording"], by_plane=True))


def test_numbers_in_brief() -> None:
    assert in_brief(np.array([np.nan, 0.002]), "length") == "2.00 to 2.00 mm (array of 2)"
    assert in_brief(np.array([np.nan]), "length") == "no finite mm (array of 1)"
    with pytest.raises(TypeError, match=r"x is .aaa.*\.\.\. \(str\)") as refused:
        wanted("a" * 500, float, "x", "f wants a number")
    assert len(str(refused.value)) < 120
