"""Putting a review together: predictions, measurements, findings, drivers, shim, and the sentence on top."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from rimmodel.behaviour import Landmark, Sweep, first_yield, float_speed, gap_closes, speed_at_gap, sweep
from rimmodel.evidence.measure import Measurement, describe, measure
from rimmodel.evidence.recording import Recording, RecordingError, read_recording
from rimmodel.evidence.reduce import speed_points
from rimmodel.review.drivers import Driver, Shim, drivers, shim
from rimmodel.review.quantities import interval_text, text
from rimmodel.review.verdict import CLAIM_CONFIDENCE, Finding, item_confidence, judge
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.case import Case, CaseError
from rimmodel.rotor.requirements import Claim, Record, Requirement
from rimmodel.rotor.rotor import settled_to
from rimmodel.units import MILLIMETRE

SPEED_STEPS = 101

WIDEST_READING = 1.5
"""Times the cold gap: no reading of a gap can be wider than that; hot stators and ovality stay far below."""


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
    """The same condition with the effective interference that the last recording shows."""

    float_speed: Landmark
    at: dict[str, Sweep]
    curve: Sweep


@dataclass(frozen=True)
class Review:
    """A case reviewed: everything that the page, the tables and the JSON are written from."""

    case: Case
    predictions: dict[str, Prediction]
    measurements: tuple[Measurement, ...]
    findings: tuple[Finding, ...]
    drivers_in: str
    drivers: tuple[Driver, ...]
    shim: Shim | None
    headline: str
    input_digest: str

    @property
    def requirements_hold(self) -> bool:
        """Whether every requirement holds; what is not shown does not."""
        return all(row.verdict == "holds" for row in self.findings if row.role == "requirement")

    def write(self, directory: str | Path, *, overwrite: bool = False) -> list[Path]:
        """Write review.html, review.json, sweep.csv and figures/*.svg; see `report.write_review`."""
        from rimmodel.review.report import write_review

        return write_review(self, Path(directory), overwrite=overwrite)


def assess(case: Case, records: Sequence[Record] | None = None) -> Review:
    """Review a case; `records` replace those that it names."""
    files = _files(case, records)
    measurements = tuple(_measure(case, record, path) for record, path in files)
    last = measurements[-1] if measurements else None
    governing = _governing(case, files, measurements)
    predictions = {name: _predict(case, name, last) for name in case.conditions}
    items: list[Claim | Requirement] = [*case.claims, *case.requirements]
    findings = tuple(judge(case, item, governing.get(item_confidence(item))) for item in items)
    claimed = next((row.condition for row in case.claims if row.quantity == "float_speed"), None)
    drivers_in, condition = case.condition(claimed)
    needed = shim(case, governing)
    return Review(
        case,
        predictions,
        measurements,
        findings,
        drivers_in,
        drivers(case.rotor, condition),
        needed,
        headline(case, findings, predictions, last, needed),
        _digest(case, [path for _, path in files]),
    )


def _governing(
    case: Case, files: Sequence[tuple[Record, Path]], measurements: Sequence[Measurement]
) -> dict[float, Measurement]:
    """The last measurement, which decides, by confidence: once more for a requirement that asks for another one."""
    if not measurements:
        return {}
    last = measurements[-1]
    others = {row.confidence for row in case.requirements} - {last.confidence}
    return {last.confidence: last, **{level: _measure(case, *files[-1], level) for level in sorted(others)}}


def record_files(case: Case) -> list[tuple[Record, Path]]:
    """The records of a case with their paths, which are relative to the case file."""
    folder = case.path.parent if case.path else Path()
    return [(record, folder / record.file) for record in case.records]


def _files(case: Case, records: Sequence[Record] | None) -> list[tuple[Record, Path]]:
    return record_files(case) if records is None else [(record, Path(record.file)) for record in records]


def measure_records(
    case: Case, records: Sequence[Record] | None = None
) -> tuple[tuple[Record, ...], tuple[Measurement, ...]]:
    """Records of the case (or those given instead) and what each shows; raises `ValueError` when there is none."""
    files = _files(case, records)
    if not files:
        raise ValueError(f"{case.title!r} names no recording; give one: rimmodel fit CASE RECORD")
    return tuple(record for record, _ in files), tuple(_measure(case, record, path) for record, path in files)


def open_record(case: Case, record: Record, path: Path) -> Recording:
    """Read a recording against the case: its poles, and the widest gap that its bore allows."""
    return read_recording(
        path,
        label=record.label,
        direction=record.direction,
        largest_gap=WIDEST_READING * float(case.rotor.air_gap.cold),
        pole_count=int(case.rotor.poles.count),
    )


def check_records(case: Case) -> list[tuple[Record, Recording]]:
    """Every recording that a case names, read and reduced as a review would; raises `CaseError` with all faults."""
    found, faults = [], []
    for record, path in record_files(case):
        try:
            recording = open_record(case, record, path)
            speed_points(recording)
            found.append((record, recording))
        except RecordingError as error:
            faults.append(str(error))
    if faults:
        raise CaseError(str(case.path), faults)
    return found


def _measure(case: Case, record: Record, path: Path, confidence: float = CLAIM_CONFIDENCE) -> Measurement:
    name, condition = case.condition(record.condition)
    recording = open_record(case, record, path)
    return measure(case.rotor, condition, recording, name, conditions=case.conditions, confidence=confidence)


def highest_speed(rotor: Rotor) -> float:
    """The highest speed that the case names, rad/s."""
    return float(list(rotor.speeds.named.values())[-1])


def _predict(case: Case, name: str, governing: Measurement | None) -> Prediction:
    rotor, condition = case.rotor, case.conditions[name]
    marks = {"gap closed": gap_closes(rotor, condition)}
    if rotor.rim.material.yield_strength is not None:
        marks["first yield"] = first_yield(rotor, condition)
    if rotor.air_gap.minimum_allowed is not None:
        marks["gap at allowed minimum"] = speed_at_gap(rotor, condition, rotor.air_gap.minimum_allowed)
    shown = None
    if governing is not None and np.isfinite(governing.interference):
        shown = AsMeasured(*_states(settled_to(rotor, governing.interference), condition))
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


def headline(
    case: Case,
    findings: Sequence[Finding],
    predictions: dict[str, Prediction],
    measurement: Measurement | None,
    needed: Shim | None,
) -> str:
    """The verdict in words: the claim first, then what the run shows, the requirements, the shim."""
    sentences = []
    for row in findings:
        if row.role == "claim" and row.quantity == "float_speed":
            verdict = "is not shown by this evidence" if row.verdict == "not shown" else row.verdict
            sentences.append(
                f"The claimed float speed of {text('float_speed', row.stated)} ({row.condition}) {verdict}."
            )
    if not sentences:
        name, prediction = next(iter(predictions.items()))
        sentences.append(f"No float speed is claimed; the prediction ({name}): {prediction.float_speed.note}.")
    if measurement is None:
        sentences.append("No test record was given: this rests on the drawing alone.")
    else:
        sentences.append(f"In '{measurement.label}' ({measurement.condition}) the rim {describe(measurement)}.")
    if measurement is not None and np.isfinite(measurement.interference):
        interval = interval_text("residual_interference_at_standstill", measurement.interference_interval)
        drawn = float(case.rotor.fit.interference) / MILLIMETRE
        sentences.append(
            f"That is an effective interference of {measurement.interference / MILLIMETRE:.2f} mm "
            f"({interval}) against {drawn:.2f} mm on the drawing."
        )
    required = [row for row in findings if row.role == "requirement"]
    failed = [row.name for row in required if row.verdict == "does not hold"]
    open_ = [row.name for row in required if row.verdict == "not shown"]
    if failed:
        sentences.append(f"Requirements that do not hold: {', '.join(failed)}.")
    if open_:
        sentences.append(f"Requirements not shown: {', '.join(open_)}.")
    if required and not failed and not open_:
        sentences.append("All requirements hold.")
    if needed is not None and needed.change_with_confidence > 0:
        sure = needed.change_with_confidence
        with_confidence = (
            f"{sure / MILLIMETRE:+.2f} mm would do so with confidence"
            if np.isfinite(sure)
            else "this evidence sets no bound that would do so with confidence"
        )
        sentences.append(
            f"Shims of {needed.change / MILLIMETRE:+.2f} mm (radial) would bring the best estimate to "
            f"'{needed.requirement}', {with_confidence}."
        )
    return " ".join(sentences)


def _digest(case: Case, files: Sequence[Path]) -> str:
    """SHA-256 over the case file and every record, in order: what this review was made from."""
    digest = hashlib.sha256(case.digest.encode())
    for file in files:
        with file.open("rb") as stream:
            digest.update(hashlib.file_digest(stream, "sha256").digest())
    return digest.hexdigest()
