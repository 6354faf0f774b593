"""From a recording to a measured float speed and the effective interference behind it.

The EFFECTIVE interference is what is left at standstill and 20 degC after all settlement: the drawing interference
that would make this rim lift off where it does, in the condition of the run. Any other condition follows from it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from rimmodel.behaviour.contact.asked import asked_machine
from rimmodel.evidence.backfit.expected import expected_slopes, slope_uncertainty, widest_knee
from rimmodel.evidence.backfit.fit import ALL_POINTS, OWN_CONDITION, BackFit, back_fit
from rimmodel.evidence.backfit.fitter import Freedom
from rimmodel.evidence.backfit.recorded_heat import heat_departures, knee_beside_heat, without_heat
from rimmodel.evidence.backfit.shared_knee import Series
from rimmodel.evidence.backfit.warming import level_drift
from rimmodel.evidence.chart.lift_off import axis_doubt, with_axes
from rimmodel.evidence.knee.fit import Knee, fit_knee
from rimmodel.evidence.knee.of_points import SAME_PLACE, WORDS, moments
from rimmodel.evidence.measured.apparent_shifts import apparent_shifts
from rimmodel.evidence.measured.beyond_drawing import beyond_drawing_remark
from rimmodel.evidence.measured.borne_out import trusted, unfit, verdict_of, without_temperatures
from rimmodel.evidence.measured.growth import growth_doubts
from rimmodel.evidence.measured.level import level_doubt, level_remark
from rimmodel.evidence.measured.machine import by_test, interference_left, own_interval
from rimmodel.evidence.measured.measurement import Measurement, best_or_none
from rimmodel.evidence.measured.neighbours import measured_machines
from rimmodel.evidence.measured.reasons import doubts, overlap
from rimmodel.evidence.measured.spread import plane_spread, sensor_spread, two_ends
from rimmodel.evidence.recording.recording import Recording
from rimmodel.evidence.reduction.condensed import reduce_recording
from rimmodel.evidence.reduction.sensor_gaps import gaps_without_each, sensor_gaps
from rimmodel.evidence.reduction.speed_points import SpeedPoints, speed_points
from rimmodel.evidence.reduction.temperatures import temperature_doubts
from rimmodel.rotor import Condition, Rotor
from rimmodel.tabular import wanted

if TYPE_CHECKING:
    from rimmodel.rotor.case.case import Case
    from rimmodel.rotor.requirements import CaseRecord


LEAST_OF_A_DIRECTION = 5
"""Speed points that a run-up or a run-down needs for a fit of its own."""

SHAPE_APART = (
    "eccentricity and ovality change at another speed than the mean gap does: the rim may wander before it floats, and "
    "they were left out of the fit"
)

PLANES_APART = "the sensor planes show different knees: laminations slide, or the rim is tilted or hotter at one end"


def measure(
    rotor: Rotor,
    condition: Condition,
    recording: Recording,
    condition_name: str = "",
    *,
    conditions: Mapping[str, Condition] | None = None,
    freedom: Freedom | None = None,
    series: Sequence[Series] = (),
    confidence: float = 0.95,
) -> Measurement:
    """Reduce a recording to speed points, find the knee in each direction and in all, and fit the rotor to them.

    Parameters
    ----------
    rotor : Rotor
        Gives growth, slopes and the centre of the priors; its interference does not enter.
    condition : Condition
        In which the recording was taken.
    condition_name : str
        For the result.
    conditions : mapping of str to Condition, optional
        Conditions for which float speeds are inferred.
    freedom : Freedom, optional
        What is adjusted and what is known beforehand.
    series : sequence of Series
        Of the rotor shape, such as those of `shape_series`: they bend where the rim lifts off, and are fitted
        together with the mean gap.
    confidence : float, -

    Returns
    -------
    Measurement
        Float speed and effective interference with their intervals, from the noise of the run alone, with the verdict
        and every reason to distrust it.

    Raises
    ------
    RecordingError
        Too few speed points.
    TypeError
        An argument of another kind, such as a case for a rotor.
    """
    asked_machine(rotor, condition, "measure(rotor, condition, recording)")
    wanted(recording, Recording, "recording", "measure wants a recording", "write read_recording(file)")
    reduction = reduce_recording(recording)
    whole = measure_points(
        rotor,
        condition,
        speed_points(recording, reduction=reduction),
        condition_name,
        label=recording.label or recording.source,
        source=recording.source,
        conditions=conditions,
        freedom=freedom,
        series=series,
        confidence=confidence,
    )
    whole = replace(whole, sensors=sensor_gaps(recording, reduction))
    if len(recording.planes) < 2:
        return whole
    try:
        by_plane = speed_points(recording, by_plane=True, reduction=reduction)
        planes = plane_knees(rotor, condition, by_plane, confidence)
    except ValueError as unable:  # one plane too poor for a line of its own; all together they were not
        return replace(whole, reasons=(*whole.reasons, f"planes cannot be evaluated separately: {unable}"))
    return _with_planes(replace(whole, planes=planes, plane_points=by_plane), rotor, condition)


def _with_planes(measurement: Measurement, rotor: Rotor, condition: Condition) -> Measurement:
    """The measurement with a comparison of its planes, and the doubt where they do not lift off together."""
    points, knee, sensors = measurement.points, measurement.knees[ALL_POINTS], measurement.sensors
    if sensors is None:
        return measurement
    apart = [one.interval for one in measurement.planes.values() if one.verdict == "resolved"]
    doubted = not all(overlap(one, other) for one, other in combinations(apart, 2))
    spread = plane_spread(points.speed, moments(points), sensors, knee, measurement.confidence)
    if spread is not None:
        ends = two_ends(rotor, condition, points.speed, sensors, spread)
        measurement, doubted = replace(measurement, spreads=(spread,), ends=ends), doubted or spread.differ
    return replace(measurement, reasons=(PLANES_APART, *measurement.reasons)) if doubted else measurement


def with_sensors(measurement: Measurement) -> Measurement:
    """The measurement with a comparison of its single sensors beside that of its planes."""
    points, knee = measurement.points, measurement.knees[ALL_POINTS]
    if measurement.sensors is None:
        return measurement
    spread = sensor_spread(points.speed, moments(points), measurement.sensors, knee, measurement.confidence)
    planes = tuple(one for one in measurement.spreads if one.of == "plane")
    return replace(measurement, spreads=(*planes, *(() if spread is None else (spread,))))


def plane_knees(rotor: Rotor, condition: Condition, points: SpeedPoints, confidence: float) -> dict[str, Knee]:
    """Knee of the mean gap of each sensor plane, from points that were kept apart by plane.

    Parameters
    ----------
    confidence : float, -
    """
    slopes = expected_slopes(rotor, condition)
    found = {}
    for plane in np.unique(points.plane):
        some = chosen_points(points, points.plane == plane)
        of_gaps = partial(
            fit_knee,
            np.round(some.speed**2, SAME_PLACE),
            confidence=confidence,
            expected_slopes=slopes,
            words=WORDS,
            time=moments(some),
            own_error=some.standard_error,
            widest=widest_knee(rotor, condition),
            drift=level_drift(rotor, condition, some.time, float(some.speed.max())),
        )
        found[str(plane)] = knee_beside_heat(rotor, condition, some, Freedom(), of_gaps)
    return found


def measure_points(
    rotor: Rotor,
    condition: Condition,
    points: SpeedPoints,
    condition_name: str = "",
    *,
    label: str = "",
    source: str = "",
    conditions: Mapping[str, Condition] | None = None,
    freedom: Freedom | None = None,
    series: Sequence[Series] = (),
    confidence: float = 0.95,
) -> Measurement:
    """`measure` for points that are reduced already.

    Parameters
    ----------
    conditions, freedom, series, confidence : as in `measure`
    """
    wrong = growth_doubts(rotor, condition, without_heat(rotor, condition, points), source)
    given = Freedom() if freedom is None else freedom
    unsure = slope_uncertainty(rotor, condition, given)
    apart: list[str] = []
    knee_of = partial(
        fit_knee, expected_slopes=expected_slopes(rotor, condition), expected_slope_uncertainty=unsure, words=WORDS,
        confidence=confidence,
    )  # fmt: skip

    def read(some: SpeedPoints, others: Mapping[str, Condition] | None, *, whole: bool) -> tuple[Knee, BackFit]:
        squared, widest = np.round(some.speed**2, SAME_PLACE), widest_knee(rotor, condition)
        drift = level_drift(rotor, condition, some.time, float(some.speed.max()))
        of_gaps = partial(
            knee_of, squared, time=moments(some), own_error=some.standard_error, widest=widest, drift=drift
        )
        knee = knee_beside_heat(rotor, condition, some, given, of_gaps)
        fitted = partial(back_fit, rotor, condition, some, knee, conditions=others, freedom=freedom, whole=whole)
        fit = _fitted(partial(fitted, confidence=confidence), series if whole else (), apart)
        return knee, trusted(fit, knee, returns=len(_of_directions(some)) == 2)

    whole_run = read(points, conditions, whole=True)
    found = {ALL_POINTS: whole_run}
    for direction, chosen in _of_directions(points).items():
        found[direction] = whole_run if chosen.all() else read(chosen_points(points, chosen), None, whole=False)
    knees = {direction: knee for direction, (knee, _) in found.items()}
    fits = {direction: fit for direction, (_, fit) in found.items()}
    knee, fit = whole_run
    fitted_points = chosen_points(points, knee.used)
    axes = with_axes(fit, fitted_points)
    heated = bool(heat_departures(points, condition))
    bare = partial(read, without_temperatures(fitted_points), None, whole=False) if heated else None
    against = (*wrong, *axis_doubt(knee, fitted_points), *unfit(knee, fit, bare))
    return Measurement(
        label, source, condition_name, points, knees,
        verdict_of(knee, fit, (*against, *points.disqualified)),
        best_or_none(knee, fit.float_speed[OWN_CONDITION], fit.float_speed_interval[OWN_CONDITION]),
        axes.float_speed_interval,
        best_or_none(knee, fit.interference, fit.interference_interval),
        axes.interference_interval,
        confidence,
        (*axes.notes, *points.notes),
        (*against, *points.disqualified, *points.remarks, *apart, *doubts(points, knees, fit)),
        fits,
        disqualified=(*against, *points.disqualified),
        own_interference_interval=axes.interference_interval,
    )  # fmt: skip


def _of_directions(points: SpeedPoints) -> dict[str, NDArray[np.bool_]]:
    """Points of each direction that has enough; a hold without one is the turning point and belongs to both."""
    return {
        direction: (points.direction == direction) | (points.direction == "")
        for direction in ("up", "down")
        if np.count_nonzero(points.direction == direction) >= LEAST_OF_A_DIRECTION
    }


def _fitted(fitted: Callable[..., BackFit], series: Sequence[Series], apart: list[str]) -> BackFit:
    """The back-fit with the shape series that agree with the mean gap; those that do not are left out with a reason."""
    alone = fitted()
    if not series:
        return alone
    shared = fitted(series=series)
    if overlap(alone.float_speed_interval[OWN_CONDITION], shared.float_speed_interval[OWN_CONDITION]):
        return shared
    apart.append(SHAPE_APART)
    return alone


def with_case(measurement: Measurement, case: Case, record: CaseRecord) -> Measurement:
    """The measurement with everything in its numbers that the recording alone does not know.

    Tolerances of the case, temperature of the run, gain and level of the sensors: the interval of the effective
    interference, and the float speeds in all conditions, hold them; the lift-off in the run stays what was seen.

    Parameters
    ----------
    record : CaseRecord
        That the measurement was made from.
    """
    measurement = _with_temperatures(measurement, case, record.temperature_gain)
    if np.isnan(measurement.fits[ALL_POINTS].interference):
        return measurement
    used = chosen_points(measurement.points, measurement.knees[ALL_POINTS].used)
    machines = measured_machines(case, record, used, measurement.fits[ALL_POINTS])
    left = by_test(machines, interference_left, measurement.condition)
    cold = float(case.rotor.air_gap.cold)
    level = level_doubt(machines[0].level, cold) if machines else ""
    remark = level_remark(machines[0].level, cold) if machines else ""
    remarks = tuple(filter(None, (beyond_drawing_remark(case, record, left.interval), remark)))
    remarked = replace(measurement, reasons=(*remarks, *measurement.reasons))
    return replace(
        _against(remarked, (level,) if level else ()),
        machines=machines,
        interference_interval=left.interval,
        own_interference_interval=own_interval(left),
        float_speeds={name: by_test(machines, "float_speed", name) for name in case.conditions},
    )


def with_shifts(measurement: Measurement, conditions: Mapping[str, Condition], recording: Recording) -> Measurement:
    """The measurement with what usual causes that nobody noted would do to it, where it shows a knee.

    Parameters
    ----------
    conditions : mapping of str to Condition
        Of the case.
    recording : Recording
        That the measurement was made from.
    """
    if measurement.verdict != "resolved" or measurement.disqualified:
        return measurement
    used = measurement.knees[ALL_POINTS].used
    without = {name: gap[used] for name, gap in gaps_without_each(recording).items() if gap.shape == used.shape}
    shifts = apparent_shifts(measurement.fits[ALL_POINTS], list(conditions.values()), without)
    return replace(measurement, apparent_shifts=shifts)


def _with_temperatures(measurement: Measurement, case: Case, gain: float) -> Measurement:
    """The measurement with what its recorded temperatures say against the condition."""
    rotor = case.rotor
    if np.isfinite(measurement.interference):
        rotor = rotor.settled_to(measurement.interference)
    condition = case.conditions[measurement.condition]
    counted = heat_departures(measurement.points, condition)
    found = temperature_doubts(rotor, condition, measurement.points, counted, gain)
    remarked = replace(measurement, reasons=(*found.remarks, *measurement.reasons))
    return _against(remarked, found.disqualified)


def _against(measurement: Measurement, sentences: tuple[str, ...]) -> Measurement:
    """The measurement with more that speaks against deciding anything by it: it is then not resolved."""
    if not sentences:
        return measurement
    return replace(
        measurement,
        disqualified=(*measurement.disqualified, *sentences),
        reasons=(*sentences, *measurement.reasons),
        verdict="not resolvable" if measurement.verdict == "resolved" else measurement.verdict,
    )


def chosen_points(points: SpeedPoints, chosen: NDArray[np.bool_]) -> SpeedPoints:
    """The points of a mask, with everything that belongs to them."""
    arrays = {
        name: value[chosen]
        for name, value in vars(points).items()
        if isinstance(value, np.ndarray) and value.shape[:1] == chosen.shape
    }
    return SpeedPoints(**{**vars(points), **arrays})
