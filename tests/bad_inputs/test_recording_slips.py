"""No slip in a recording comes through: each is refused or doubted in words, and none of them decides anything."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import rimmodel as rm
from rimmodel.evidence.recording.delimited import RecordingError
from rimmodel.rotor.requirements import CaseRecord, Claim, Requirement
from rimmodel.units import MILLIMETRE, RPM
from rimmodel.verdict.output.fit import text as fit_text
from rimmodel.verdict.result import Review
from tests.bad_inputs.recording_slips import SLIPS, Slip, changes, clean, settled_case

LIFT_OFF, RECORDED = 140.0 * RPM, 160.0 * RPM


def lenient_case(excited: bool = False) -> rm.Case:
    """One condition, no keys, and a claim and requirements that the clean run meets with room to spare."""
    case = settled_case()
    fit = replace(case.rotor.fit, key_interference=None, key_width=None, settlement=0.0)
    condition = replace(case.conditions["cold"], flux_density=0.9 if excited else 0.0)
    return replace(
        case,
        rotor=replace(case.rotor, fit=fit),
        conditions={"run": condition},
        thermal=None,
        histories=(),
        records=(),
        claims=(Claim("float_speed", LIFT_OFF, "run"), Claim("gap_at_overspeed", 12.0 * MILLIMETRE, "run")),
        requirements=(Requirement("tight", "float_speed", "run", at_least=0.9 * LIFT_OFF, at_most=None),),
        duty=(),
    )


def reviewed(frame, folder: Path, *, excited: bool = False) -> Review:
    path = folder / "run.csv"
    frame.write_csv(path)
    return rm.review(lenient_case(excited), [CaseRecord(str(path), "run", "run")])


@pytest.mark.parametrize("start", [clean, changes], ids=["gaps", "changes"])
def test_the_clean_run_decides(start, tmp_path):
    found = reviewed(start(), tmp_path)
    assert found.measurements[0].disqualified == ()
    assert [row.verdict for row in found.findings] == ["holds"] * 3


@pytest.mark.parametrize("slip", SLIPS, ids=[slip.name for slip in SLIPS])
def test_a_slip_is_refused_or_doubted(slip: Slip, tmp_path):
    found, refused = None, ""
    try:
        found = reviewed(slip.change(slip.start()), tmp_path, excited=slip.excited)
    except RecordingError as error:
        refused = str(error)
    if found is None:
        assert slip.words in refused
        assert len(refused.splitlines()) == 1
        return
    (measurement,) = found.measurements
    assert any(slip.words in sentence for sentence in measurement.disqualified), measurement.disqualified
    assert {row.verdict for row in found.findings} == {"not shown"}
    text = " ".join(fit_text(found.measurements, ()).split())
    assert slip.words in text
    for shown in (text, found.headline):
        assert "nan" not in shown.replace("nance", "").split()
        assert "inf" not in shown.split()


def test_one_recording_under_two_names_is_refused(tmp_path):
    for name in ("before.csv", "after.csv"):
        clean().write_csv(tmp_path / name)
    records = [CaseRecord(str(tmp_path / name), "run", name) for name in ("before.csv", "after.csv")]
    with pytest.raises(RecordingError, match="record 2 is identical to record 1"):
        rm.review(lenient_case(), records)


def test_there_are_slips_enough_and_each_has_its_own_name():
    assert len({slip.name for slip in SLIPS}) == len(SLIPS) >= 40
