"""The recordings of a case: their files, what each shows, and their faults all at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np

from rimmodel.arrays import floats
from rimmodel.evidence.measured.growth import growth_doubts
from rimmodel.evidence.measured.measure import measure, with_case, with_sensors, with_shifts
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.evidence.measured.neighbours import case_freedom
from rimmodel.evidence.recording.delimited import RecordingError
from rimmodel.evidence.recording.recording import Recording
from rimmodel.evidence.reduction.bore_split import PlaneGap
from rimmodel.evidence.reduction.rotor_shape import RotorShape, rotor_shape
from rimmodel.evidence.reduction.speed_points import speed_points
from rimmodel.evidence.shims.from_run import readings_of_run
from rimmodel.evidence.shims.readings import KeyReadings
from rimmodel.rotor.case.case import Case, CaseError
from rimmodel.rotor.requirements import CaseRecord
from rimmodel.verdict.beside import Beside
from rimmodel.verdict.judge import CLAIM_CONFIDENCE
from rimmodel.verdict.record_checks import open_record, refuse_twins, temperature_file
from rimmodel.verdict.single_poles import plane_gaps


def record_files(case: Case) -> list[tuple[CaseRecord, Path]]:
    """The records of a case with their paths, which are relative to the case file."""
    folder = case.path.parent if case.path else Path()
    return [(record, folder / record.file) for record in case.records]


def files_of(case: Case, records: Sequence[CaseRecord] | None) -> list[tuple[CaseRecord, Path]]:
    """The records to use with their paths: those given, else those of the case."""
    return record_files(case) if records is None else [(record, Path(record.file)) for record in records]


def input_files(case: Case, records: Sequence[CaseRecord] | None = None) -> tuple[Path, ...]:
    """The case file, every recording that it names, and those given instead: what results must not be written over."""
    named = [path for _, path in record_files(case)] + [Path(record.file) for record in records or ()]
    named += [path for record, file in record_files(case) if (path := temperature_file(record, file)) is not None]
    stated = [Path(record.columns_file) for record in records or () if record.columns_file]
    return (*([case.path] if case.path else []), *named, *stated)


def measure_records(
    case: Case, records: Sequence[CaseRecord] | None = None, beside: Beside | None = None, *, sensors: bool = False
) -> tuple[tuple[CaseRecord, ...], tuple[Measurement, ...]]:
    """Records of the case (or those given instead) and what each shows. Raises `ValueError` when there is none.

    Parameters
    ----------
    sensors : bool
        Whether the knees of single sensors are compared.
    """
    files = files_of(case, records)
    if not files:
        raise ValueError(f"{case.title!r} names no recording; give one: rimmodel fit CASE RECORD")
    refuse_twins(files)
    recordings = [open_record(case, record, path) for record, path in files]
    later = measured_beside(case, files, Beside() if beside is None else beside, sensors=sensors)
    return tuple(record for record, _ in files), shown_by(case, files, recordings, later, sensors=sensors)


def last_measurement(case: Case) -> Measurement | None:
    """What the last recording of a case shows: the rotor as it is now; None where the case names no recording."""
    files = record_files(case)
    refuse_twins(files)
    recordings = [open_record(case, record, path) for record, path in files]
    return _shown(case, files[-1][0], recordings[-1]) if files else None


def measured_beside(
    case: Case, files: Sequence[tuple[CaseRecord, Path]], helper: Beside, *, sensors: bool = False
) -> dict[int, Callable[[], Measurement]]:
    """Begin to read and measure every second recording in the process beside; by number, functions that wait for it."""
    return {
        number: helper.start(partial(_read_and_shown, case, record, path, sensors=sensors))
        for number, (record, path) in enumerate(files)
        if number % 2 and helper
    }


def shown_by(
    case: Case,
    files: Sequence[tuple[CaseRecord, Path]],
    recordings: Sequence[Recording],
    later: Mapping[int, Callable[[], Measurement]],
    *,
    sensors: bool = False,
) -> tuple[Measurement, ...]:
    """What each of several opened recordings shows, with what causes that nobody noted would do to it.

    Parameters
    ----------
    files : sequence of CaseRecord with Path
    recordings : sequence of Recording
        Read from them.
    later : mapping of int to callable
        From `measured_beside`.
    sensors : bool
        As in `measure_records`.
    """
    here = {
        number: _shown(case, record, recordings[number], sensors=sensors)
        for number, (record, _) in enumerate(files)
        if number not in later
    }
    return tuple(later[number]() if number in later else here[number] for number in range(len(files)))


def _read_and_shown(case: Case, record: CaseRecord, path: Path, *, sensors: bool) -> Measurement:
    return _shown(case, record, open_record(case, record, path), sensors=sensors)


def _shown(case: Case, record: CaseRecord, recording: Recording, *, sensors: bool = False) -> Measurement:
    found = with_shifts(measure_record(case, record, recording), case.conditions, recording)
    return with_sensors(found) if sensors else found


def check_records(case: Case) -> list[tuple[CaseRecord, Recording]]:
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


def understood_records(
    case: Case, records: Sequence[CaseRecord]
) -> tuple[list[tuple[CaseRecord, Recording]], list[str]]:
    """Recordings as they were understood, and what keeps a review from using them.

    Parameters
    ----------
    records : sequence of CaseRecord
        In place of those of the case.

    Raises
    ------
    RecordingError
        A recording that cannot be understood.
    """
    found, faults = [], []
    for record, path in files_of(case, records):
        recording = open_record(case, record, path)
        found.append((record, recording))
        try:
            _, condition = case.condition(record.condition)
            growth_doubts(case.rotor, condition, speed_points(recording), recording.source)
        except RecordingError as error:
            faults.append(str(error))
    return found, faults


def measure_record(
    case: Case, record: CaseRecord, recording: Recording, confidence: float = CLAIM_CONFIDENCE
) -> Measurement:
    """What one recording shows of the machine, with the tolerances of the case and the sensors of the record.

    Parameters
    ----------
    confidence : float, -
    """
    name, condition = case.condition(record.condition)
    found = measure(case.rotor, condition, recording, name, freedom=case_freedom(case, record), confidence=confidence)
    return with_case(found, case, record)


def shapes_of(case: Case, recording: Recording) -> dict[str, RotorShape]:
    """Rotor shape by sensor plane, where every pole was recorded and the sensors' angles are known."""
    if not _shows_shape(recording):
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


def keys_of_run(case: Case, record: CaseRecord) -> KeyReadings:
    """What a run, recorded pole by pole, shows of the interference of each key; of several planes the mean.

    Raises
    ------
    RecordingError
        Not recorded pole by pole, or keys of which it shows nothing.
    ValueError
        The case has no tolerance of its keying sheet, which the run is weighed against.
    """
    _, condition = case.condition(record.condition)
    recording = open_record(case, record, Path(record.file))
    shapes = shapes_of(case, recording)
    if not shapes:
        raise RecordingError(
            f"{record.file}: gaps of single poles with the angles of the sensors are needed to read the keys from a "
            "run; give readings of the keys instead"
        )
    stated = case.shims.reading_tolerance if case.shims is not None else None
    tolerance = float(stated if stated is not None else case.rotor.fit.key_interference_tolerance)
    if not tolerance > 0.0:
        raise ValueError("shims.reading_tolerance and fit.key_interference_tolerance are not given; state one of them")
    found = [readings_of_run(case.rotor, condition, shape, tolerance, record.file) for shape in shapes.values()]
    spread = [one.covariance for one in found if one.covariance is not None]
    return replace(
        found[0],
        interference=floats(np.mean([one.interference for one in found], axis=0)),
        covariance=floats(np.mean(spread, axis=0)),
    )


def shapes_beside(
    case: Case, files: Sequence[tuple[CaseRecord, Path]], recordings: Sequence[Recording], helper: Beside
) -> list[Callable[[], dict[str, RotorShape]]]:
    """Begin with the shapes that each recording shows in the process beside; functions that wait for them."""
    return [
        helper.start(partial(_read_and_shapes, case, record, path))
        if helper and _shows_shape(recording)
        else partial(shapes_of, case, recording)
        for (record, path), recording in zip(files, recordings, strict=True)
    ]


def _read_and_shapes(case: Case, record: CaseRecord, path: Path) -> dict[str, RotorShape]:
    return shapes_of(case, open_record(case, record, path))


def _shows_shape(recording: Recording) -> bool:
    return bool(recording.poles) and "angle" in recording.columns and not recording.is_change


@dataclass(frozen=True)
class PlanesOf:
    """The sensor planes of one recording under its label and condition."""

    label: str
    condition: str
    planes: Mapping[str, PlaneGap]


def planes_of_records(case: Case, records: Sequence[CaseRecord] | None) -> tuple[PlanesOf, ...]:
    """The planes of those recordings of a case (or of those given instead) that hold single poles."""
    found = []
    for record, path in files_of(case, records):
        recording = open_record(case, record, path)
        planes = plane_gaps(case, record, shapes_of(case, recording), CLAIM_CONFIDENCE)
        if planes:
            found.append(PlanesOf(record.label or recording.source, case.condition(record.condition)[0], planes))
    return tuple(found)
