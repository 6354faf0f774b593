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
from rimmodel.evidence.backfit.recorded_heat import GAIN_OF, heat_departures, knee_beside_heat, without_heat
from rimmodel.evidence.backfit.shared_knee import Series
from rimmodel.evidence.backfit.warming import level_drift
from rimmodel.evidence.chart.lift_off import axis_doubt, with_axes
from rimmodel.evidence.knee.fit import Knee, fit_knee
from rimmodel.evidence.knee.of_points import SAME_PLACE, WORDS, moments
from rimmodel.evidence.measured.apparent_shifts import apparent_shifts
from rimmodel.evidence.measured.beyond_drawing import beyond_drawing_remark
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
from rimmodel.units import in_mm, in_rpm, rpm

if TYPE_CHECKING:
    from rimmodel.rotor.case.case import Case
    from rimmodel.rotor.requirements import CaseRecord


LEAST_OF_A_DIRECTION = 5
"""Speed points that a run-up or a run-down needs for a fit of its own."""


IMPOSSIBLE = 1e-4
"""Chance of the misfit of a right model below which the rotor of the case is not taken for that of the run."""

MISFIT = (
    "the rotor of the case cannot reproduce these gaps with any plausible stiffness: check pole mass, radii, units "
    "and condition; the knee is reported, but no interference follows from it and it is not used for any verdict"
)

HEAT_DENIED = (
    "the rotor of the case cannot reproduce these gaps with the recorded temperatures: they move as if the {body} had "
    "departed from the condition by {share:.0f} % of what was recorded, where its range is {allowed:.0f} % "
    "either side (one standard deviation; up to {most:.0f} % is let pass): check thermometers, their columns and the "
    "condition; it is not used for any verdict"
)

HEAT_UNSEEN = (
    "these gaps are explained better without the recorded temperatures than with them (they scatter by {bare:.3f} mm "
    "against {heated:.3f} mm): a thermometer or its column may be wrong; without them the rim lifts off at {lift}. "
    "Check the thermometers; the recording is not used for any verdict"
)

BETTER_BARE = 3.0
"""Logarithm of the likelihood ratio from which gaps count as explained better without the recorded temperatures."""

UNSETTLED = "the fit of the rotor to these gaps did not converge: it is not used for any verdict"

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
        return knee, _trusted(fit, knee, some)

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
    bare = partial(read, _without_temperatures(points), None, whole=False) if heated else None
    against = (*wrong, *axis_doubt(knee, fitted_points), *_unfit(knee, fit, bare))
    return Measurement(
        label, source, condition_name, points, knees,
        _verdict(knee, fit, (*against, *points.disqualified)),
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


def _unfit(knee: Knee, fit: BackFit, bare: Callable[[], tuple[Knee, BackFit]] | None) -> tuple[str, ...]:
    """What speaks against the fit itself, also beside that without recorded temperatures."""
    if misfit(fit, knee):
        return (MISFIT,)
    heat = denied_heat(fit)
    if heat:
        return (heat,)
    return (*(() if fit.converged else (UNSETTLED,)), *(() if bare is None else _unseen_heat(fit, bare()[1])))


def _without_temperatures(points: SpeedPoints) -> SpeedPoints:
    """The points as if no temperature had been recorded."""
    unknown = np.full(points.speed.shape, np.nan)
    return replace(
        points, rim_temperature=unknown, spider_temperature=unknown, pole_temperature=unknown,
        stator_temperature=unknown,
    )  # fmt: skip


def _unseen_heat(fit: BackFit, bare: BackFit) -> tuple[str, ...]:
    """What speaks against recorded temperatures: gaps that a fit without them explains better.

    The likelihood ratio of two fits of unknown noise is that of their scatter to the power of the number of points,
    of which correlation in the better fit leaves the fewer that are worth a reading of their own.
    """
    count = len(bare.residual)
    if len(fit.residual) != count or count < LEAST_OF_A_DIRECTION:
        return ()
    heated, alone = (float(np.sqrt(np.mean(one.residual**2))) for one in (fit, bare))
    together = float(np.clip(np.mean(bare.residual[1:] * bare.residual[:-1]) / alone**2, 0.0, 0.95)) if alone else 0.0
    if alone <= 0.0 or count * (1.0 - together) / (1.0 + together) * np.log(heated / alone) < BETTER_BARE:
        return ()
    low, high = bare.float_speed_interval[OWN_CONDITION]
    ends = f" ({in_rpm(low):.1f} to {in_rpm(high):.1f} rpm)" if np.isfinite(high) else ""
    lift = f"{rpm(bare.float_speed[OWN_CONDITION])}{ends}"
    return (HEAT_UNSEEN.format(bare=in_mm(alone), heated=in_mm(heated), lift=lift),)


def _of_directions(points: SpeedPoints) -> dict[str, NDArray[np.bool_]]:
    """Points of each direction that has enough; a hold without one is the turning point and belongs to both."""
    return {
        direction: (points.direction == direction) | (points.direction == "")
        for direction in ("up", "down")
        if np.count_nonzero(points.direction == direction) >= LEAST_OF_A_DIRECTION
    }


def _trusted(fit: BackFit, knee: Knee, points: SpeedPoints) -> BackFit:
    """The fit with what the run bears out of it."""
    if misfit(fit, knee) or denied_heat(fit):
        return disowned(fit, knee)
    return unbounded(fit) if undecided(knee) and not _returns(points) else fit


def _returns(points: SpeedPoints) -> bool:
    """Whether a run comes back, which separates speed from a level that only drifts."""
    return len(_of_directions(points)) == 2


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


def _verdict(knee: Knee, fit: BackFit, against: tuple[str, ...]) -> str:
    """Resolved only where the rotor of the case follows the gaps and both sides of the lift-off are known."""
    low, high = fit.float_speed_interval[OWN_CONDITION]
    if knee.verdict == "resolved" and (against or not (low > 0 and np.isfinite(high))):
        return "not resolvable"
    return knee.verdict


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


def misfit(fit: BackFit, knee: Knee) -> bool:
    """Whether the modelled rotor cannot follow the gaps that two free lines follow.

    The broken line has two free slopes where the rotor has stiffnesses within what machines can be: the rise of the sum
    of squares against it is F with 2 degrees of freedom where the rotor is right. A rounded knee is no misfit.
    """
    from scipy.special import fdtrc

    if knee.verdict != "resolved" or knee.width:
        return False
    rise = (fit.chi_squared - knee.chi_squared) / 2.0
    return bool(rise > 0 and fdtrc(2, knee.degrees_of_freedom, rise) < IMPOSSIBLE)


def denied_heat(fit: BackFit) -> str:
    """Which recorded temperatures the gaps contradict, in words: beyond what their gain may plausibly be."""
    from scipy.special import ndtri

    most = -float(ndtri(IMPOSSIBLE / 2))
    for body, gain in GAIN_OF.items():
        if gain in fit.priors:
            off, known = float(fit.estimate[fit.parameters.index(gain)]), fit.priors[gain]
            if abs(off) > most * known:
                return HEAT_DENIED.format(
                    body=body, share=100 * (1.0 + off), allowed=100 * known, most=100 * most * known
                )
    return ""


def disowned(fit: BackFit, knee: Knee) -> BackFit:
    """The fit with nothing left but the knee: what follows from another rotor is taken back."""
    low, high = np.sqrt(np.maximum(knee.interval, 0.0))
    nothing = dict.fromkeys(fit.float_speed, (0.0, float("inf")))
    return replace(
        fit,
        interference=float("nan"),
        interference_interval=(-float("inf"), float("inf")),
        float_speed={**dict.fromkeys(fit.float_speed, float("nan")), "": float(np.sqrt(knee.position))},
        float_speed_interval={**nothing, "": (float(low), float(high))},
    )


def undecided(knee: Knee) -> bool:
    """Whether one straight line may as well be that of the seated rim as that of the floating rim."""
    low, high = knee.interval
    return knee.verdict == "not resolvable" and not low > 0.0 and not np.isfinite(high)


def unbounded(fit: BackFit) -> BackFit:
    """The fit without bounds: a rotor laid on one line bounds by its stiffness alone.

    A stator that warms unseen in a run-up turns the line of a floating rim into that of a seated rim.
    """
    nothing = dict.fromkeys(fit.float_speed_interval, (0.0, float("inf")))
    return replace(fit, float_speed_interval=nothing, interference_interval=(-float("inf"), float("inf")))


def chosen_points(points: SpeedPoints, chosen: NDArray[np.bool_]) -> SpeedPoints:
    """The points of a mask, with everything that belongs to them."""
    arrays = {
        name: value[chosen]
        for name, value in vars(points).items()
        if isinstance(value, np.ndarray) and value.shape[:1] == chosen.shape
    }
    return SpeedPoints(**{**vars(points), **arrays})
