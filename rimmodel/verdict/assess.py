"""Putting a review together: predictions, measurements, findings, drivers, shim, and the sentence on top."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

import numpy as np

from rimmodel.behaviour import CharacteristicSpeed, Sweep, first_yield, float_speed, gap_closes, speed_at_gap, sweep
from rimmodel.evidence.measured.compare import compare_all
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.evidence.pooling.runs import pooled_runs
from rimmodel.evidence.recording.recording import Recording
from rimmodel.evidence.reduction.bore_split import PlaneGap
from rimmodel.evidence.reduction.rotor_shape import RotorShape
from rimmodel.planning.present import case_checks, is_measured, present_case
from rimmodel.planning.shrink_window import shrink_window
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.registry import quantity_at
from rimmodel.rotor.requirements import CaseRecord, Claim, Requirement
from rimmodel.verdict.beside import Beside
from rimmodel.verdict.drivers import drivers
from rimmodel.verdict.headline import headline
from rimmodel.verdict.histories import judge_histories
from rimmodel.verdict.judge import Finding, item_confidence, judge
from rimmodel.verdict.limits import exceeded_in_brief
from rimmodel.verdict.output.keys import keys_are_known, run_keys
from rimmodel.verdict.record_checks import open_record, refuse_twins, temperature_file
from rimmodel.verdict.records import (
    files_of,
    input_files,
    measure_record,
    measured_beside,
    shapes_beside,
    shapes_of,
    shown_by,
)
from rimmodel.verdict.result import AsMeasured, Prediction, Review
from rimmodel.verdict.shims import shim_advice
from rimmodel.verdict.single_poles import plane_gaps

SPEED_STEPS = 101


def assess(case: Case, records: Sequence[CaseRecord] | None = None, beside: Beside | None = None) -> Review:
    """Review a case; `records` replace those that it names, and a process `beside` does a part of the work.

    The records stand in the order in which they were taken: the first speaks for the rotor as delivered, and decides
    about claims; the last speaks for the rotor as it is now, and decides about requirements.
    """
    files = files_of(case, records)
    recordings = [open_record(case, record, path) for record, path in files]
    refuse_twins(files)
    helper = Beside() if beside is None else beside
    later = measured_beside(case, files, helper)
    shapes = shapes_beside(case, files, recordings, helper)
    measurements = shown_by(case, files, recordings, later)
    last = measurements[-1] if measurements else None
    claimed = next((row.condition for row in case.claims if row.quantity == "float_speed"), None)
    drivers_in, condition = case.condition(claimed)
    keyed, _ = present_case(case, last, drawn_spider=True)
    window = helper.start(partial(shrink_window, case, last))
    keys = helper.start(partial(run_keys, keyed, condition)) if keys_are_known(case) else None
    histories = judge_histories(case, last)
    now = _as_it_is(case, files, recordings, measurements)
    by_record = [(record, shape) for (record, _), shape in zip(files, shapes, strict=True)]
    findings = _findings(case, measurements, now, by_record)
    predictions = {name: _predict(case, name, last) for name in case.conditions}
    present, basis = present_case(case, last)
    checks = case_checks(case, last)
    shims, beyond = shim_advice(window()), exceeded_in_brief(checks, basis)
    comparisons = compare_all(measurements, [record.expected_change for record, _ in files])
    return Review(
        case=case,
        predictions=predictions,
        measurements=measurements,
        comparisons=comparisons,
        shapes=tuple(shape() for shape in shapes),
        records=tuple(record for record, _ in files),
        findings=findings,
        checks=checks,
        basis=basis,
        drivers_in=drivers_in,
        drivers=drivers(present.rotor, condition),
        window=window(),
        shims=shims,
        keys=None if keys is None else keys(),
        headline=headline(case, findings, predictions, measurements, comparisons, shims, beyond, histories.findings),
        histories=histories,
        input_digest=_digest(case, files),
        inputs=input_files(case, records),
        pooled=pooled_runs(measurements),
    )


def findings_by_run(case: Case) -> tuple[Finding, ...]:
    """Claims, then requirements, as a review judges them by the recordings that a case names; empty where it has none.

    Raises
    ------
    ValueError, OSError
        A recording that cannot be read, or not be used.
    """
    files = files_of(case, None)
    if not files:
        return ()
    recordings = [open_record(case, record, path) for record, path in files]
    refuse_twins(files)
    opened = [(record, recording) for (record, _), recording in zip(files, recordings, strict=True)]
    ends = opened[:: max(len(opened) - 1, 1)]  # claims stand by the first, requirements by the last
    measurements = [measure_record(case, record, recording) for record, recording in ends]
    shapes: ByRecord = [(record, partial(shapes_of, case, recording)) for record, recording in ends]
    return _findings(case, measurements, _as_it_is(case, files, recordings, measurements), shapes)


def _as_it_is(
    case: Case,
    files: Sequence[tuple[CaseRecord, Path]],
    recordings: Sequence[Recording],
    measurements: Sequence[Measurement],
) -> dict[float, Measurement]:
    """The last measurement by confidence: made once more for each requirement that asks for another confidence."""
    if not measurements:
        return {}
    last = measurements[-1]
    others = {row.confidence for row in case.requirements} - {last.confidence}
    return {
        last.confidence: last,
        **{level: measure_record(case, files[-1][0], recordings[-1], level) for level in others},
    }


ByRecord = list[tuple[CaseRecord, Callable[[], dict[str, RotorShape]]]]


def _findings(
    case: Case, measurements: Sequence[Measurement], now: dict[float, Measurement], shapes: ByRecord
) -> tuple[Finding, ...]:
    delivered = measurements[0] if measurements else None
    claims = [judge(case, item, delivered, _poles(case, item, shapes[:1])) for item in case.claims]
    requirements = [
        judge(case, item, now.get(item.confidence), _poles(case, item, shapes[-1:])) for item in case.requirements
    ]
    return (*claims, *requirements)


def _poles(case: Case, item: Claim | Requirement, shapes: ByRecord) -> dict[str, PlaneGap]:
    """Sensor planes of the recording that decides, for what single poles show by themselves."""
    if not shapes or not quantity_at(item.quantity).quantity.by_single_poles:
        return {}
    record, shape = shapes[0]
    return plane_gaps(case, record, shape(), item_confidence(item))


def _predict(case: Case, name: str, governing: Measurement | None) -> Prediction:
    rotor, condition = case.rotor, case.conditions[name]
    marks = {"gap closed": gap_closes(rotor, condition)}
    if rotor.rim.material.yield_strength is not None:
        marks["first yield"] = first_yield(rotor, condition)
    if rotor.air_gap.minimum_allowed is not None:
        marks["gap at allowed minimum"] = speed_at_gap(rotor, condition, rotor.air_gap.minimum_allowed)
    shown = None
    if is_measured(governing):
        shown = AsMeasured(*_states(present_case(case, governing)[0].rotor, condition))
    drawn, at, curve = _states(rotor, condition)
    return Prediction(name, condition, drawn, marks, at, curve, shown)


def _states(rotor: Rotor, condition: Condition) -> tuple[CharacteristicSpeed, dict[str, Sweep], Sweep]:
    """Float speed, the states at standstill and at each named speed, and the sweep between."""
    return (
        float_speed(rotor, condition),
        {at: sweep(rotor, condition, speed) for at, speed in rotor.speeds.from_standstill.items()},
        sweep(rotor, condition, np.linspace(0.0, float(rotor.speeds.highest), SPEED_STEPS)),
    )


def _digest(case: Case, files: Sequence[tuple[CaseRecord, Path]]) -> str:
    """SHA-256 over the case file and every record, in order: what this review was made from."""
    digest = hashlib.sha256(case.digest.encode())
    for record, file in files:
        with file.open("rb") as stream:
            digest.update(hashlib.file_digest(stream, "sha256").digest())
        digest.update((record.sheet or "").encode())
        if (table := temperature_file(record, file)) is not None:
            digest.update(table.read_bytes())
        digest.update(repr(record.columns).encode() if record.columns else b"")
    return digest.hexdigest()
