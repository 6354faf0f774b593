"""What has taken interference between two runs: keys that bed in, a stack that grows, or nothing that can be shown."""

from dataclasses import replace
from functools import cache

import numpy as np
import polars as pl
import pytest

import rimmodel as rm
from rimmodel.evidence.measured.compare import compare
from rimmodel.evidence.measured.lost_since import lost_since, lost_words
from rimmodel.evidence.measured.measure import measure, with_case
from rimmodel.evidence.recording.read import read_recording
from rimmodel.evidence.synthetic import Run, virtual_run
from rimmodel.units import MILLIMETRE, RPM
from rimmodel.verdict.output.fit import comparison_table, comparison_text

CASE = rm.example_case()
COLD, RECORD = CASE.conditions["cold"], CASE.records[0]
SPEEDS = tuple(np.linspace(20.0, 235.0, 14) * RPM)
LOST = 0.6 * MILLIMETRE


@cache
def measured(seed, name="settlement", lost=0.0, offset=0.0):
    rotor = replace(CASE.rotor, fit=replace(CASE.rotor.fit, **{name: lost}))
    frame = virtual_run(rotor, COLD, Run(speeds=SPEEDS, run_down=False, seed=seed))
    frame = frame.with_columns(pl.col("gap [mm]") + offset / MILLIMETRE) if offset else frame
    found = measure(CASE.rotor, COLD, read_recording(frame, label=f"run {seed}"), "cold")
    return with_case(found, CASE, RECORD)


@pytest.mark.derived
@pytest.mark.parametrize(("name", "cause"), [("settlement", "keys"), ("stack_growth", "stack")])
def test_a_large_loss_is_told_apart_by_the_level_of_the_gap(name, cause):
    found = compare(measured(10), measured(50, name, LOST))
    assert found.lost.verdict == cause
    assert abs(found.lost.level_change[cause]) < 2 * found.lost.uncertainty[cause]
    # a stack that has grown at its bore by the loss has grown outside by about a/b of it (thin ring: as much)
    apart = abs(found.lost.level_change["stack"] - found.lost.level_change["keys"])
    assert 0.85 * LOST < apart < LOST
    words = comparison_text(found)
    assert ("keys and shims have bedded in:" in words) == (cause == "keys")
    assert ("the stack has grown for good" in words) == (cause == "stack")
    assert comparison_table(found)["lost_by"] == cause


def test_a_small_loss_is_not_told_apart_and_says_what_would():
    found = compare(measured(10), measured(50, "settlement", LOST / 2))
    assert found.lost.verdict == "not shown"
    assert "is not shown: the level of the gap fits both; a smaller sensor_offset" in comparison_text(found)


def test_no_loss_has_no_cause():
    found = compare(measured(10), measured(50))
    assert found.lost.verdict == "nothing lost"
    assert lost_words(found.lost) == ""


@pytest.mark.derived
def test_shims_that_were_added_count_as_what_ought_to_be_there():
    # 0.6 mm lost in the keys while shims should have added 0.2 mm: it is the shortfall of 0.8 mm that has a cause
    before, after = measured(10), measured(50, "settlement", LOST)
    change = compare(before, after).interference_change_interval
    bare, shimmed = (lost_since(before, after, change, added) for added in (None, LOST / 3))
    assert shimmed.verdict == "keys"
    assert shimmed.level_change["keys"] == bare.level_change["keys"]
    assert shimmed.level_change["stack"] - bare.level_change["stack"] == pytest.approx(0.89 * LOST / 3, rel=0.05)


def test_a_level_that_fits_neither_blames_neither():
    found = compare(measured(10), measured(50, "settlement", LOST, 0.7 * MILLIMETRE))
    assert found.lost.verdict == "neither"
    assert "sensors, stator or cold gap may have changed" in comparison_text(found)


def test_runs_that_cannot_be_set_beside_each_other_show_nothing():
    before, after = measured(10), measured(50, "settlement", LOST)
    warm = lost_since(before, replace(after, condition="hot"), (-7e-4, -5e-4), None)
    assert (warm.verdict, "different conditions (cold, hot)" in warm.reason) == ("not shown", True)
    out = lost_since(before, replace(after, disqualified=("so",)), (-7e-4, -5e-4), None)
    assert "not used for any verdict" in out.reason
    bare = lost_since(before, replace(after, machines=()), (-7e-4, -5e-4), None)
    assert "does not show its interference with both bounds" in bare.reason
