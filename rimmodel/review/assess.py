"""Putting a review together: predictions, measurements, findings, drivers, shim, and the sentence on top."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from rimmodel.behaviour import Landmark, Sweep, first_yield, float_speed, gap_closes, speed_at_gap, sweep
from rimmodel.behaviour.criterion import Criterion
from rimmodel.behaviour.key_run import KeyRun
from rimmodel.evidence.compare import Comparison, compare_all
from rimmodel.evidence.growth import growth_doubts
from rimmodel.evidence.measure import Measurement, measure, with_case, with_shifts
from rimmodel.evidence.measured_machine import case_freedom
from rimmodel.evidence.recording import Recording, RecordingError
from rimmodel.evidence.reduce import speed_points
from rimmodel.evidence.rotor_shape import RotorShape, rotor_shape
from rimmodel.review.drivers import Driver, drivers
from rimmodel.review.headline import headline
from rimmodel.review.keys import keys_are_known, run_keys
from rimmodel.review.limits_page import case_checks, exceeded_in_brief
from rimmodel.review.present import is_measured, present_case
from rimmodel.review.record_checks import highest_speed, open_record, refuse_twins
from rimmodel.review.shims import ShimAdvice, shim_advice
from rimmodel.review.shrink_window import ShrinkWindow, shrink_window
from rimmodel.review.verdict import CLAIM_CONFIDENCE, Finding, judge
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.case import Case, CaseError
from rimmodel.rotor.requirements import Record

SPEED_STEPS = 101


@dataclass(frozen=True)
class Prediction:
    """What the model says of one condition, with the drawing's interference."""

    name: str
    condition: Condition
    float_speed: Landmark
    landmarks: dict[str, Landmark]
    at: dict[str, Sweep]
    curve: Sweep
    as_measured: AsMeasured | None


@dataclass(frozen=True)
class AsMeasured:
    """The same condition with the rotor as it is now: see `present.present_case`."""

    float_speed: Landmark
    at: dict[str, Sweep]
    curve: Sweep


@dataclass(frozen=True)
class Review:
    """A case reviewed: everything that the page, the tables and the JSON are written from."""

    case: Case
    predictions: dict[str, Prediction]
    measurements: tuple[Measurement, ...]
    comparisons: tuple[Comparison, ...]
    shapes: tuple[dict[str, RotorShape], ...]
    """For each measurement, rotor shape by sensor plane; empty where single poles were not recorded."""
    findings: tuple[Finding, ...]
    checks: tuple[Criterion, ...]
    """Against limits, each in its worst condition."""
    basis: str
    """On what checks, drivers, plan, load rejection and keys rest: see `present.present_case`."""
    drivers_in: str
    drivers: tuple[Driver, ...]
    window: ShrinkWindow
    shims: ShimAdvice
    """What to fit; the only place that says so."""
    keys: KeyRun | None
    """Key by key, in the condition of the drivers; None where the case does not describe its keys."""
    headline: str
    input_digest: str
    inputs: tuple[Path, ...] = ()
    """Files that the review was made from."""

    @property
    def requirements_hold(self) -> bool:
        """Whether every requirement holds; what is not shown does not."""
        return all(row.verdict == "holds" for row in self.findings if row.role == "requirement")

    def write(self, directory: str | Path, *, overwrite: bool = False) -> list[Path]:
        """Write review.html, review.json, sweep.csv and figures/*.svg; see `report.write_review`."""
        from rimmodel.review.report import write_review

        return write_review(self, Path(directory), overwrite=overwrite)


def assess(case: Case, records: Sequence[Record] | None = None) -> Review:
    """Review a case; `records` replace those that it names.

    The records stand in the order in which they were taken: the first speaks for the rotor as delivered, and decides
    about claims; the last speaks for the rotor as it is now, and decides about requirements.
    """
    files = _files(case, records)
    recordings = [open_record(case, record, path) for record, path in files]
    refuse_twins(files)
    measurements = tuple(
        with_shifts(_measure(case, record, recording), case.conditions, recording)
        for (record, _), recording in zip(files, recordings, strict=True)
    )
    now = _as_it_is(case, files, recordings, measurements)
    findings = _findings(case, measurements, now)
    predictions = {name: _predict(case, name, measurements[-1] if measurements else None) for name in case.conditions}
    claimed = next((row.condition for row in case.claims if row.quantity == "float_speed"), None)
    drivers_in, condition = case.condition(claimed)
    last = measurements[-1] if measurements else None
    present, basis = present_case(case, last)
    keyed, _ = present_case(case, last, drawn_spider=True)
    checks = case_checks(case, last)
    window = shrink_window(case, last)
    shims, beyond = shim_advice(window), exceeded_in_brief(checks, basis)
    comparisons = compare_all(measurements, [record.expected_change for record, _ in files])
    return Review(
        case=case,
        predictions=predictions,
        measurements=measurements,
        comparisons=comparisons,
        shapes=tuple(shapes_of(case, recording) for recording in recordings),
        findings=findings,
        checks=checks,
        basis=basis,
        drivers_in=drivers_in,
        drivers=drivers(present.rotor, condition),
        window=window,
        shims=shims,
        keys=run_keys(keyed, condition) if keys_are_known(case) else None,
        headline=headline(case, findings, predictions, measurements, comparisons, shims, beyond),
        input_digest=_digest(case, [path for _, path in files]),
        inputs=input_files(case, records),
    )


def _as_it_is(
    case: Case,
    files: Sequence[tuple[Record, Path]],
    recordings: Sequence[Recording],
    measurements: Sequence[Measurement],
) -> dict[float, Measurement]:
    """The last measurement by confidence: made once more for each requirement that asks for another one."""
    if not measurements:
        return {}
    last = measurements[-1]
    others = {row.confidence for row in case.requirements} - {last.confidence}
    return {last.confidence: last, **{level: _measure(case, files[-1][0], recordings[-1], level) for level in others}}


def _findings(case: Case, measurements: Sequence[Measurement], now: dict[float, Measurement]) -> tuple[Finding, ...]:
    delivered = measurements[0] if measurements else None
    claims = [judge(case, item, delivered) for item in case.claims]
    requirements = [judge(case, item, now.get(item.confidence)) for item in case.requirements]
    return (*claims, *requirements)


def shapes_of(case: Case, recording: Recording) -> dict[str, RotorShape]:
    """Rotor shape by sensor plane, where every pole was recorded and the sensors' angles are known."""
    if not recording.poles or "angle" not in recording.columns or recording.is_change:
        return {}
    return {
        plane: rotor_shape(
            recording,
            plane=plane,
            pole_count=int(case.rotor.poles.count),
            nominal_gap=float(case.rotor.air_gap.cold),
            face_radius=float(case.rotor.poles.face_radius),
        )
        for plane in (recording.planes or ("",))
    }


def record_files(case: Case) -> list[tuple[Record, Path]]:
    """The records of a case with their paths, which are relative to the case file."""
    folder = case.path.parent if case.path else Path()
    return [(record, folder / record.file) for record in case.records]


def _files(case: Case, records: Sequence[Record] | None) -> list[tuple[Record, Path]]:
    return record_files(case) if records is None else [(record, Path(record.file)) for record in records]


def input_files(case: Case, records: Sequence[Record] | None = None) -> tuple[Path, ...]:
    """The case file, every recording that it names, and those given instead: what results must not be written over."""
    named = [path for _, path in record_files(case)] + [Path(record.file) for record in records or ()]
    return (*([case.path] if case.path else []), *named)


def measure_records(
    case: Case, records: Sequence[Record] | None = None
) -> tuple[tuple[Record, ...], tuple[Measurement, ...]]:
    """Records of the case (or those given instead) and what each shows. Raises `ValueError` when there is none."""
    files = _files(case, records)
    if not files:
        raise ValueError(f"{case.title!r} names no recording; give one: rimmodel fit CASE RECORD")
    refuse_twins(files)
    recordings = [open_record(case, record, path) for record, path in files]
    measured = tuple(
        with_shifts(_measure(case, record, recording), case.conditions, recording)
        for (record, _), recording in zip(files, recordings, strict=True)
    )
    return tuple(record for record, _ in files), measured


def check_records(case: Case) -> list[tuple[Record, Recording]]:
    """Every recording that a case names, read and reduced as a review would. Raises `CaseError` with all faults."""
    found, faults = [], []
    for record, path in record_files(case):
        try:
            recording = open_record(case, record, path)
            _, condition = case.condition(record.condition)
            growth_doubts(case.rotor, condition, speed_points(recording), recording.source)
            found.append((record, recording))
        except RecordingError as error:
            faults.append(str(error))
    try:
        refuse_twins(record_files(case))
    except RecordingError as error:
        faults.append(str(error))
    if faults:
        raise CaseError(str(case.path), faults)
    return found


def _measure(case: Case, record: Record, recording: Recording, confidence: float = CLAIM_CONFIDENCE) -> Measurement:
    name, condition = case.condition(record.condition)
    found = measure(case.rotor, condition, recording, name, freedom=case_freedom(case), confidence=confidence)
    return with_case(found, case, record)


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


def _states(rotor: Rotor, condition: Condition) -> tuple[Landmark, dict[str, Sweep], Sweep]:
    """Float speed, the states at standstill and at each named speed, and the sweep between."""
    speeds = {"standstill": 0.0, **rotor.speeds.named}
    return (
        float_speed(rotor, condition),
        {at: sweep(rotor, condition, speed) for at, speed in speeds.items()},
        sweep(rotor, condition, np.linspace(0.0, highest_speed(rotor), SPEED_STEPS)),
    )


def _digest(case: Case, files: Sequence[Path]) -> str:
    """SHA-256 over the case file and every record, in order: what this review was made from."""
    digest = hashlib.sha256(case.digest.encode())
    for file in files:
        with file.open("rb") as stream:
            digest.update(hashlib.file_digest(stream, "sha256").digest())
    return digest.hexdigest()
