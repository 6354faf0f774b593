"""A proving run planned: speeds, expected gaps with their band, stop lines, and how well it would find the knee."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.behaviour import sweep
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.behaviour.contact.state import lift_off_speed_squared
from rimmodel.evidence.backfit.drawn_rotors import drawn_gaps, drawn_knees, float_speed_uncertainty
from rimmodel.evidence.measured.machine import by_test
from rimmodel.evidence.measured.measurement import Measurement
from rimmodel.planning.predicted import standard_errors
from rimmodel.planning.present import present_case
from rimmodel.planning.stop_lines import StopLines, stop_lines
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.allowances import ProvingRun
from rimmodel.rotor.case.case import Case
from rimmodel.units import MILLIMETRE, RPM, in_rpm, mm, rpm

SLOW_ROLL = 0.05
"""Of rated speed: turning just fast enough for every pole to pass every sensor."""

FINER = 3.0
"""Steps stand so many times closer where the rim is expected to lift off."""

BAND = (2.5, 97.5)

# Of 60 virtual run-ups of 60 points (two straight lines) that end where the rim lifts off 20 % later are called
# seated in 100, 75 and 50 % with both slopes known to 5, 10 and 15 %, and in none with the 17 to 22 % of a drawing.
ONE_LINE = (
    "one straight line, which bounds nothing unless hoop and spider stiffness are known from elsewhere to about 10 % "
    "or better"
)


@dataclass(frozen=True)
class Precision:
    """How well the plan would find a float speed, for rims that lift off at several.

    Attributes
    ----------
    float_speed : array (rim,), rad/s
    standard_uncertainty : array (rim,), rad/s
    """

    float_speed: Floats
    standard_uncertainty: Floats


@dataclass(frozen=True)
class RunPlan:
    """A run-up and the same steps down.

    Attributes
    ----------
    basis : str
        On which rotor it rests: see `present.present_case`.
    measured : bool
        Whether bands and lift-off hold what a recording leaves open, instead of what a drawing leaves open.
    speed : array (step,), rad/s
        Whole rpm.
    fine : bool array (step,)
    gap : array (step,), m
        Expected.
    gap_low, gap_high : array (step,), m
        Bound 95 % of the rotors that the case, or the last recording, may describe.
    hold_gap : array (step,), m
        Below this mean gap the rotor is none of these: hold, and find out why. Never below the stop line.
    stops : StopLines
        Rounded up to the hundredth of a millimetre.
    highest_speed : float, rad/s
        Agreed; the last step is the whole rpm below it.
    reaches : float, rad/s
        The fastest step that the stop lines let the expected rotor reach.
    float_speed, float_speed_low, float_speed_high : float, rad/s
        Expected, and the bounds of the same 95 %.
    precision : Precision
        No rows where the rim lifts off outside the steps.
    """

    condition: str
    basis: str
    measured: bool
    speed: Floats
    fine: np.ndarray[tuple[int], np.dtype[np.bool_]]
    gap: Floats
    gap_low: Floats
    gap_high: Floats
    hold_gap: Floats
    stops: StopLines
    highest_speed: float
    reaches: float
    float_speed: float
    float_speed_low: float
    float_speed_high: float
    precision: Precision
    notes: tuple[str, ...]


def run_plan(
    case: Case,
    condition: str | None = None,
    interference: float | None = None,
    measurement: Measurement | None = None,
) -> RunPlan:
    """Plan a proving run.

    Parameters
    ----------
    case : Case
        Its table [plan] sets the agreed highest speed (overspeed when absent), the noise and the number of steps.
    condition : str, optional
        In which it is run; the first of the case when None.
    interference : float, m, optional
        Radial, as assembled: where shims have changed since the drawing.
    measurement : Measurement, optional
        Of the last recording: the plan then starts from the rotor that it shows, and the band holds what it leaves
        open. Not together with an interference.

    Raises
    ------
    ValueError
        No `air_gap.minimum_allowed`: without it no stop line can be drawn; an agreed speed no faster than slow roll;
        an interference beside a measurement.

    Notes
    -----
    Band of the drawing: rotors with the tolerance of the interference as two standard uncertainties, hoop stiffness by
    15 % and spider stiffness by 50 % (as in a back-fit), and half the sensor offset. Band after a recording: everything
    that the numbers by test hold (`evidence.measured_machine`), and half the sensor offset. Precision: inverse of the
    information matrix of the gaps of run-up and run-down with those two stiffnesses as priors; the rest
    is for the run to show.

    No step goes beyond the agreed speed:

    >>> import rimmodel as rm
    >>> plan = run_plan(rm.example_case())
    >>> bool(plan.speed.max() <= plan.highest_speed), bool((plan.stops.mean_gap > plan.stops.minimum).all())
    (True, True)
    """
    if measurement is not None and interference is not None:
        raise ValueError("a plan starts from a measurement or from an interference, not from both")
    name, state = case.condition(condition)
    present, basis = present_case(case, measurement)
    rotor = present.rotor if interference is None else case.rotor.with_interference(interference)
    if interference is not None:
        basis = f"as drawn, with {mm(interference)} of interference"
    shown = measurement.machines if measurement is not None and present is not case else ()
    run = case.plan
    highest = float(rotor.speeds.overspeed if run.highest_speed is None else run.highest_speed)
    rated = float(rotor.speeds.rated)
    if not highest > ProvingRun.first_step * rated:
        raise ValueError(
            f"plan.highest_speed is {rpm(highest, 'g')}; it must be above {100 * ProvingRun.first_step:.0f} % "
            "of rated speed, where the steps start"
        )
    expected, low, high = _float_speeds(rotor, state)
    if shown:
        low, high = (max(end, 0.0) for end in by_test(shown, "float_speed", name).interval)
    speed, fine = run_speeds(rated, highest, int(run.points), (low, high))
    exact = stop_lines(rotor, state, speed, run)
    stops = replace(exact, mean_gap=rounded_up(exact.mean_gap), single_gap=rounded_up(exact.single_gap))
    gap = sweep(rotor, state, speed, "up").air_gap
    gap_low, gap_high = (
        _shown_band(measurement, name, speed, run) if measurement and shown else _band(rotor, state, speed, run)
    )
    hold = np.maximum(rounded_up(gap_low), stops.mean_gap)
    short = np.flatnonzero(~(gap >= stops.mean_gap))
    reaches = float(speed[short[0]] if len(short) else speed[-1])
    precision = _precision_at(rotor, state, speed, run, (low, expected, high))
    plan = RunPlan(
        name,
        basis,
        bool(shown),
        speed,
        fine,
        gap,
        gap_low,
        gap_high,
        hold,
        stops,
        highest,
        reaches,
        expected,
        low,
        high,
        precision,
        (),
    )
    return replace(plan, notes=tuple(_notes(plan, case)))


def rounded_up(gap: Floats) -> Floats:
    """Gaps rounded up to the hundredth of a millimetre: the safe side of a line below which one stops.

    Parameters
    ----------
    gap : array, m

    Returns
    -------
    array, m

    >>> print(rounded_up(np.array([9.3412e-3, 9.35e-3])))
    [0.00935 0.00935]
    """
    return np.ceil(gap / (0.01 * MILLIMETRE) - 1e-6) * 0.01 * MILLIMETRE


def run_speeds(
    rated: float, highest: float, points: int, expected: tuple[float, float]
) -> tuple[Floats, np.ndarray[tuple[int], np.dtype[np.bool_]]]:
    """Steps of whole rpm from standstill to `highest`, and which are fine ones.

    Standstill and slow roll, then `points` less these two from a quarter of rated speed on, three times closer where
    lift-off is expected and 3 % to either side of it; rated speed is one of them. All are rounded down but rated speed,
    which is rounded to the nearest; so close to each other that two fall on one rpm, fewer are left.

    Parameters
    ----------
    rated, highest : float, rad/s
    expected : pair of float, rad/s
        Where lift-off is expected.

    Returns
    -------
    steps : array (step,), rad/s
    fine : bool array (step,)

    Where no lift-off is expected, five even steps from 25 to 150 rpm, the nearest one moved to rated:

    >>> steps, fine = run_speeds(100 * RPM, 150 * RPM, 7, (900 * RPM, 990 * RPM))
    >>> print(np.round(in_rpm(steps), 1), int(fine.sum()))
    [  0.   5.  25.  56. 100. 118. 150.] 0
    """
    low, high = 0.97 * expected[0], 1.03 * expected[1]
    grid = np.linspace(ProvingRun.first_step * rated, highest, 4001)
    weight = np.where((grid >= low) & (grid <= high), FINER, 1.0)
    mass = np.concatenate([[0.0], np.cumsum((weight[1:] + weight[:-1]) / 2)])
    steps = np.interp(np.linspace(0.0, mass[-1], points - 2), mass, grid)
    whole = np.floor(in_rpm(steps) + 1e-9)
    last = np.floor(in_rpm(highest) + 1e-9)
    at_rated = np.round(in_rpm(rated))
    if at_rated < last:
        inner = whole[1:-1]
        inner[np.argmin(np.abs(inner - at_rated))] = at_rated
    slow = max(np.floor(in_rpm(SLOW_ROLL * rated)), 1.0)
    whole = np.unique(np.concatenate([[0.0, slow], whole[:-1], [last]]))
    speed = whole[whole <= last] * RPM
    return speed, (speed >= low) & (speed <= high)


def _float_speeds(rotor: Rotor, condition: Condition) -> tuple[float, float, float]:
    """Expected float speed and the bounds of 95 % of the rotors, rad/s; 0 where it floats at standstill."""
    squared = drawn_knees(rotor, condition)
    own, _ = lift_off_speed_squared(coefficients(rotor, condition))
    low, high = np.percentile(squared, BAND)
    return tuple(float(np.sqrt(max(value, 0.0))) for value in (float(own), low, high))  # type: ignore[return-value]


def _band(rotor: Rotor, condition: Condition, speed: Floats, run: ProvingRun) -> tuple[Floats, Floats]:
    gaps, middle = drawn_gaps(rotor, condition, speed, float(run.sensor_offset))
    # the model knows no settlement, which opens the gap of a seated rim: bring its middle onto the expected line
    shift = sweep(rotor, condition, speed).air_gap - middle
    low, high = np.percentile(gaps, BAND, axis=0)
    return low + shift, high + shift


def _shown_band(measurement: Measurement, condition: str, speed: Floats, run: ProvingRun) -> tuple[Floats, Floats]:
    """Bounds of the gap that the measured machine may have at each speed, with half the offset of the sensors."""
    found = [by_test(measurement.machines, _gap_at(float(value)), condition) for value in speed]
    reading = standard_errors(measurement.machines[0].confidence) * float(run.sensor_offset) / 2
    low, best, high = (
        np.array(some) for some in zip(*((row.interval[0], row.best, row.interval[1]) for row in found), strict=True)
    )
    return best - np.hypot(best - low, reading), best + np.hypot(high - best, reading)


def _gap_at(speed: float) -> Callable[[Rotor, Condition], Floats]:
    return lambda rotor, condition: sweep(rotor, condition, speed, "up").air_gap


def _precision_at(
    rotor: Rotor, condition: Condition, speed: Floats, run: ProvingRun, expected: tuple[float, float, float]
) -> Precision:
    """Precision for each expected float speed that lies within the steps."""
    inside = np.array(sorted({value for value in expected if speed[2] < value < speed[-1]}))
    noise = float(run.sensor_noise)
    found = [float_speed_uncertainty(rotor, condition, speed[1:], noise, float(value)) for value in inside]
    return Precision(inside, np.array(found))


def _notes(plan: RunPlan, case: Case) -> list[str]:
    """What the reader must know of this plan besides its numbers."""
    notes, rotor = [], case.rotor
    if plan.float_speed_low > plan.highest_speed:
        notes.append(
            f"The rim is expected to lift off above the agreed {rpm(plan.highest_speed, '.0f')}: this run can show "
            f"at best that it stays seated, not where it floats. It shows {ONE_LINE}."
        )
    elif plan.float_speed_high > plan.highest_speed:
        notes.append(f"The rim may lift off above the agreed speed; the run then shows {ONE_LINE}.")
    if plan.float_speed_low <= plan.speed[2]:
        notes.append(
            f"The rim may float from the start; without a seated part the run shows {ONE_LINE}, and then gives an "
            "upper bound only."
        )
    if plan.reaches < plan.speed[-1]:
        notes.append(
            f"The stop line ends this run at {rpm(plan.reaches, '.0f')}: from there the next step could take the mean "
            f"gap below {mm(plan.stops.minimum)}. Use smaller steps, or agree on a lower speed."
        )
    if rotor.fit.interference_tolerance == 0 and not plan.measured:
        notes.append("No interference tolerance is given: the bands include stiffness and sensor offset only.")
    if float(np.max(case.conditions[plan.condition].flux_density)) > 0:
        notes.append("The run is excited: these gaps include the magnetic pull; do not mix it with unexcited runs.")
    return notes
