"""A proving run planned: speeds, expected gaps with their band, stop lines, and how well it would find the knee."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rimmodel.behaviour import sweep
from rimmodel.behaviour.coefficients import coefficients
from rimmodel.behaviour.contact import lift_off_speed_squared
from rimmodel.elastic.ring import Floats
from rimmodel.evidence.fitter import PRIOR_SD, Freedom
from rimmodel.evidence.gap_model import PARAMETERS, SCALES, gap_model
from rimmodel.evidence.least_squares import jacobian
from rimmodel.review.stop_lines import StopLines, stop_lines
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.allowances import FIRST_STEP, ProvingRun
from rimmodel.rotor.case import Case
from rimmodel.units import MILLIMETRE, RPM

SLOW_ROLL = 0.05
"""Of rated speed: turning just fast enough for every pole to pass every sensor."""

FINER = 3.0
"""Steps stand so many times closer where the rim is expected to lift off."""

SAMPLES = 4000
"""Rotors drawn for the bands of gap and float speed; with a fixed seed, so that a plan stays the same."""

RIMS = 200
"""Of these, over which the precision is averaged."""

BAND = (2.5, 97.5)


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
    condition : str
    speed : array (step,), rad/s
    fine : bool array (step,)
    gap : array (step,), m
        Expected with the interference of the case.
    gap_low, gap_high : array (step,), m
        Bound 95 % of the rotors that the case may describe.
    stops : StopLines
    highest_speed : float, rad/s
    reaches : float, rad/s
        The fastest step that the stop lines let the expected rotor reach.
    float_speed, float_speed_low, float_speed_high : float, rad/s
        Expected, and the bounds of the same 95 %.
    precision : Precision
        No rows where the rim lifts off outside the steps.
    notes : tuple of str
    """

    condition: str
    speed: Floats
    fine: np.ndarray[tuple[int], np.dtype[np.bool_]]
    gap: Floats
    gap_low: Floats
    gap_high: Floats
    stops: StopLines
    highest_speed: float
    reaches: float
    float_speed: float
    float_speed_low: float
    float_speed_high: float
    precision: Precision
    notes: tuple[str, ...]


def run_plan(case: Case, condition: str | None = None, interference: float | None = None) -> RunPlan:
    """Plan a proving run.

    Parameters
    ----------
    case : Case
        Its table [plan] sets the agreed highest speed (overspeed when absent), the noise and the number of steps.
    condition : str, optional
        In which it is run; the first of the case when None.
    interference : float, m, optional
        Radial, as assembled: where shims have changed since the drawing.

    Returns
    -------
    RunPlan

    Raises
    ------
    ValueError
        No `air_gap.minimum_allowed`: without it no stop line can be drawn; an agreed speed no faster than slow roll.

    Notes
    -----
    Band: rotors drawn with the tolerance of the interference as two standard uncertainties, hoop stiffness by 15 % and
    spider stiffness by 50 % (as in a back-fit), and half the sensor offset. Precision: inverse of the information
    matrix of the gaps of both ways with those two as priors; the run alone tells the rest.

    No step goes beyond the agreed speed:

    >>> import rimmodel as rm
    >>> plan = run_plan(rm.example_case())
    >>> bool(plan.speed.max() == plan.highest_speed), bool((plan.stops.mean_gap > plan.stops.minimum).all())
    (True, True)
    """
    name, state = case.condition(condition)
    rotor = case.rotor if interference is None else case.rotor.with_interference(interference)
    run = case.plan
    highest = float(rotor.speeds.overspeed if run.highest_speed is None else run.highest_speed)
    rated = float(rotor.speeds.rated)
    if not highest > FIRST_STEP * rated:
        raise ValueError(
            f"plan.highest_speed is {highest / RPM:g} rpm; it must be above {FIRST_STEP:.0%} of rated speed, where the "
            "steps start"
        )
    expected, low, high = _float_speeds(rotor, state)
    speed, fine = run_speeds(rated, highest, int(run.points), (low, high))
    stops = stop_lines(rotor, state, speed, run)
    gap = sweep(rotor, state, speed, "up").air_gap
    gap_low, gap_high = _band(rotor, state, speed, run)
    short = np.flatnonzero(~(gap >= stops.mean_gap))
    reaches = float(speed[short[0]] if len(short) else speed[-1])
    precision = _precision_at(rotor, state, speed, run, (low, expected, high))
    plan = RunPlan(
        name, speed, fine, gap, gap_low, gap_high, stops, highest, reaches, expected, low, high, precision, ()
    )
    return RunPlan(**{**vars(plan), "notes": tuple(_notes(plan, case))})


def run_speeds(
    rated: float, highest: float, points: int, expected: tuple[float, float]
) -> tuple[Floats, np.ndarray[tuple[int], np.dtype[np.bool_]]]:
    """Steps from standstill to exactly `highest`, and which are fine ones.

    Standstill and slow roll, then `points` less these two from a quarter of rated speed on, three times closer where
    lift-off is expected and 3 % to either side of it; rated speed is one of them. Rounded to 0.1 rpm.

    Parameters
    ----------
    rated, highest : float, rad/s
    points : int
    expected : pair of float, rad/s
        Where lift-off is expected.

    Returns
    -------
    steps : array (points,), rad/s
    fine : bool array (points,)

    Where no lift-off is expected, five even steps from 25 to 150 rpm, the nearest one moved to rated:

    >>> steps, fine = run_speeds(100 * RPM, 150 * RPM, 7, (900 * RPM, 990 * RPM))
    >>> print(np.round(steps / RPM, 1), int(fine.sum()))
    [  0.    5.   25.   56.2 100.  118.7 150. ] 0
    """
    low, high = 0.97 * expected[0], 1.03 * expected[1]
    grid = np.linspace(FIRST_STEP * rated, highest, 4001)
    weight = np.where((grid >= low) & (grid <= high), FINER, 1.0)
    mass = np.concatenate([[0.0], np.cumsum((weight[1:] + weight[:-1]) / 2)])
    steps = np.interp(np.linspace(0.0, mass[-1], points - 2), mass, grid)
    steps = np.floor(steps / RPM * 10 + 1e-9) / 10 * RPM
    if rated < highest:
        inner = steps[1:-1]
        inner[np.argmin(np.abs(inner - rated))] = rated
    steps[-1] = highest
    speed = np.unique(np.concatenate([[0.0, SLOW_ROLL * rated], steps]))
    return speed, (speed >= low) & (speed <= high)


def _draws(rotor: Rotor, run: ProvingRun | None) -> Floats:
    """Unknowns (rotor, parameter) of `SAMPLES` rotors that the case may describe."""
    normal = np.random.default_rng(20).normal(size=(SAMPLES, len(PARAMETERS)))
    fit = rotor.fit
    centre = np.zeros(len(PARAMETERS))
    centre[0] = float(fit.interference) - float(fit.settlement)
    deviation = np.zeros(len(PARAMETERS))
    deviation[0] = float(fit.interference_tolerance) / 2
    for name, share in PRIOR_SD.items():
        deviation[PARAMETERS.index(name)] = share
    deviation[PARAMETERS.index("gap_offset")] = 0.0 if run is None else float(run.sensor_offset) / 2
    return centre + normal * deviation


def _float_speeds(rotor: Rotor, condition: Condition) -> tuple[float, float, float]:
    """Expected float speed and the bounds of 95 % of the rotors, rad/s; 0 where it floats at standstill."""
    model = gap_model(rotor, condition, np.array([1.0]), np.array(["up"]), np.array([np.nan]))
    squared = model.knee(_draws(rotor, None), None, condition)
    own, _ = lift_off_speed_squared(coefficients(rotor, condition))
    low, high = np.percentile(squared, BAND)
    return tuple(float(np.sqrt(max(value, 0.0))) for value in (float(own), low, high))  # type: ignore[return-value]


def _band(rotor: Rotor, condition: Condition, speed: Floats, run: ProvingRun) -> tuple[Floats, Floats]:
    model = gap_model(rotor, condition, speed, np.full(len(speed), "up"), np.full(len(speed), np.nan))
    gaps = model.gaps(_draws(rotor, run))
    # the model knows no settlement, which opens the gap of a seated rim: bring its centre onto the expected line
    centre = np.zeros((1, len(PARAMETERS)))
    centre[0, 0] = float(rotor.fit.interference) - float(rotor.fit.settlement)
    shift = sweep(rotor, condition, speed).air_gap - model.gaps(centre)[0]
    low, high = np.percentile(gaps, BAND, axis=0)
    return low + shift, high + shift


def _precision_at(
    rotor: Rotor, condition: Condition, speed: Floats, run: ProvingRun, expected: tuple[float, float, float]
) -> Precision:
    """Precision for each expected float speed that lies within the steps."""
    inside = np.array(sorted({value for value in expected if speed[2] < value < speed[-1]}))
    noise = float(run.sensor_noise)
    found = [float_speed_uncertainty(rotor, condition, speed[1:], noise, float(value)) for value in inside]
    return Precision(inside, np.array(found))


def float_speed_uncertainty(
    rotor: Rotor, condition: Condition, speed: Floats, noise: float, float_speed: float
) -> float:
    """Standard uncertainty of the float speed that mean gaps, up and down, would give.

    ``F = J'J/sigma^2 + diag(1/prior^2)`` over float speed, hoop stiffness, spider stiffness and gap offset; its inverse
    holds the variance of the float speed. The soft spider of one rim hides its knee more than the stiff one of another,
    so the variance is averaged over `RIMS` rims drawn with the stiffnesses that the case may describe. The matrix is
    local: a knee that is missed altogether is not in it, and virtual runs scatter more widely (see `virtual_plan`).

    Parameters
    ----------
    rotor : Rotor
    condition : Condition
    speed : array (step,), rad/s
    noise : float, m
        Of one mean gap.
    float_speed : float, rad/s

    Returns
    -------
    float, rad/s
    """
    both = np.concatenate([speed, speed[::-1]])
    way = np.repeat(["up", "down"], len(speed))
    model = gap_model(rotor, condition, both, way, np.full(len(both), np.nan))
    free = Freedom()
    columns = np.flatnonzero(free.mask)
    scale = SCALES.copy()
    scale[0] = 0.01 * float_speed
    at = _draws(rotor, None)[:RIMS]
    at[:, 0] = float_speed
    slope = jacobian(lambda some: model.gaps(some, condition), at, scale, columns) / noise
    information = np.swapaxes(slope, 1, 2) @ slope
    for name, share in free.prior_sd.items():
        place = int(np.flatnonzero(columns == PARAMETERS.index(name))[0])
        information[:, place, place] += 1 / share**2
    size = scale[columns]  # near unity before it is inverted
    variance = np.linalg.inv(information * np.outer(size, size))[:, 0, 0]
    return float(size[0] * np.sqrt(np.mean(variance)))


def _notes(plan: RunPlan, case: Case) -> list[str]:
    """What the reader must know of this plan besides its numbers."""
    notes, rotor = [], case.rotor
    if plan.float_speed_low > plan.highest_speed:
        notes.append(
            f"The rim is expected to lift off above the agreed {plan.highest_speed / RPM:.0f} rpm: this run can show "
            "that it stays seated, not where it floats."
        )
    elif plan.float_speed_high > plan.highest_speed:
        notes.append("The rim may lift off above the agreed speed; the run then gives a lower bound only.")
    if plan.float_speed_low <= plan.speed[2]:
        notes.append("The rim may float from the start; without a seated stretch the run gives an upper bound only.")
    if plan.reaches < plan.highest_speed:
        notes.append(
            f"The stop line ends this run at {plan.reaches / RPM:.1f} rpm: from there the next step could take the "
            f"mean gap below {plan.stops.minimum / MILLIMETRE:.2f} mm. Put the steps closer, or agree on less."
        )
    if rotor.fit.interference_tolerance == 0:
        notes.append("No interference tolerance is given: the bands hold stiffness and sensor offset alone.")
    if float(np.max(case.conditions[plan.condition].flux_density)) > 0:
        notes.append("The run is excited: the pull of the field is in these gaps; mix it with no other run.")
    return notes
