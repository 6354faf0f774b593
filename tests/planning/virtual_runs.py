"""A plan put to the test by virtual runs: whether its stop lines hold, and its precision is what it says.

Whatever runs here is invented; it proves the plan, and is evidence of no machine.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats
from rimmodel.behaviour import sweep
from rimmodel.evidence.backfit.fitter import PRIOR_SD, Fitter, Freedom
from rimmodel.evidence.backfit.gap_model import PARAMETERS, gap_model
from rimmodel.planning.proving_run import RunPlan
from rimmodel.planning.stop_lines import HEAVIER, LEAST_HOOP_STIFFNESS
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.allowances import ProvingRun
from rimmodel.rotor.case.case import Case


@dataclass(frozen=True)
class StopProof:
    """Virtual runs under the stop lines, and what they met.

    Attributes
    ----------
    runs, stopped : int
    broken : int
        Runs that met a gap below the allowed minimum after their start.
    least_gap : float, m
        The least mean gap that was met.
    without_lines : float, m
        The least gap that the same rotors would have met had nothing stopped them; NaN gaps (pulled
        shut) count as zero.
    """

    runs: int
    stopped: int
    broken: int
    least_gap: float
    without_lines: float


def prove_stop_lines(case: Case, plan: RunPlan, runs: int = 10_000, seed: int = 1) -> StopProof:
    """Drive many different rotors through a plan, far outside of what the case expects.

    Interference from 1 mm of clearance to two and a half times that of the case, hoop stiffness factor from 0.6 to 1,
    poles and field within 5 %, cold gap within 15 %, rim 20 K colder to 20 K hotter than stated, readings with noise
    and up to the whole sensor offset too wide, every speed passed by up to the overshoot. Every second rotor is the
    worst of all that: loose, softest, heaviest, fully excited, read widest and passed furthest; only its gap is drawn.

    >>> import rimmodel as rm
    >>> from rimmodel.planning.proving_run import run_plan
    >>> case = rm.example_case()
    >>> prove_stop_lines(case, run_plan(case), runs=500).broken
    0
    """
    rng = np.random.default_rng(seed)
    worst = np.arange(runs)[:, np.newaxis] % 2 == 0
    rotor, condition = _truths(case.rotor, case.conditions[plan.condition], worst, rng)
    return _driven(rotor, condition, plan, case.plan, worst, rng)


def _truths(
    rotor: Rotor, condition: Condition, worst: NDArray[np.bool_], rng: np.random.Generator
) -> tuple[Rotor, Condition]:
    def between(low: float, high: float, at_worst: float | None = None) -> Floats:
        drawn = rng.uniform(low, high, worst.shape)
        return drawn if at_worst is None else np.where(worst, at_worst, drawn)

    own = float(rotor.rim.hoop_stiffness_factor)
    softest = min(LEAST_HOOP_STIFFNESS, 0.75 * own)
    stiffness = between(softest, max(1.0, own), softest)
    cold = float(rotor.air_gap.cold) * between(0.85, 1.15)
    drawn = abs(float(rotor.fit.interference))
    truth = replace(
        rotor,
        rim=replace(rotor.rim, hoop_stiffness_factor=stiffness),
        poles=replace(rotor.poles, mass=float(rotor.poles.mass) * between(2 - HEAVIER, HEAVIER, HEAVIER)),
        fit=replace(rotor.fit, interference=between(-1e-3, 2.5 * drawn, -1e-3), key_interference=None),
        air_gap=replace(rotor.air_gap, cold=cold, minimum_allowed=None, stator_bore_radius=None),
    )
    warmer = float(condition.rim_temperature) + between(-20.0, 20.0)
    field = float(condition.flux_density) * float(rotor.air_gap.cold) / cold * between(2 - HEAVIER, HEAVIER, HEAVIER)
    return truth, replace(condition, rim_temperature=warmer, flux_density=field)


def _driven(
    rotor: Rotor,
    condition: Condition,
    plan: RunPlan,
    run: ProvingRun,
    worst: NDArray[np.bool_],
    rng: np.random.Generator,
) -> StopProof:
    runs, steps = len(worst), len(plan.speed)
    passed, wide = float(run.speed_overshoot), float(run.sensor_offset)
    speed = plan.speed * (1 + np.where(worst, passed, rng.uniform(0.0, passed, (runs, steps))))
    gap = np.nan_to_num(sweep(rotor, condition, speed, "up").air_gap, nan=0.0)
    settled = np.nan_to_num(sweep(rotor, condition, plan.speed, "up").air_gap, nan=0.0)
    offset = np.where(worst, wide, rng.uniform(0.0, wide, (runs, 1)))
    reading = settled + offset + rng.normal(0.0, float(run.sensor_noise), gap.shape)
    goes_on = np.logical_and.accumulate(reading >= plan.stops.mean_gap, axis=1)
    met = np.concatenate([np.zeros((runs, 1), dtype=bool), goes_on[:, :-1]], axis=1)  # steps reached by a decision
    return StopProof(
        runs,
        int((~goes_on[:, :-1].all(axis=1)).sum()),
        int((met & (gap < plan.stops.minimum)).any(axis=1).sum()),
        float(gap[met].min()) if met.any() else float("inf"),
        float(gap.min()),
    )


@dataclass(frozen=True)
class FoundFloatSpeeds:
    """Float speeds that virtual runs gave, against the truth.

    Attributes
    ----------
    truth : float, rad/s
    found : array (run,), rad/s
    """

    truth: float
    found: Floats

    @property
    def standard_deviation(self) -> float:
        """Scatter of the found ones about the truth, rad/s."""
        return float(np.sqrt(np.mean((self.found - self.truth) ** 2)))


def found_float_speeds(
    case: Case, plan: RunPlan, float_speed: float, runs: int = 60, seed: int = 1
) -> FoundFloatSpeeds:
    """Run the plan with rims that lift off at `float_speed`, and fit each run as a review would.

    The stiffnesses of each virtual rim are drawn from the same 15 % and 50 % that the fit takes as known, so that the
    scatter about the truth is what the information matrix foretells.

    Parameters
    ----------
    case : Case
    plan : RunPlan
    float_speed : float, rad/s
    runs, seed : int

    Returns
    -------
    FoundFloatSpeeds
    """
    rng = np.random.default_rng(seed)
    condition = case.conditions[plan.condition]
    speed = np.concatenate([plan.speed[1:], plan.speed[:0:-1]])
    direction = np.repeat(["up", "down"], len(plan.speed) - 1)
    model = gap_model(case.rotor, condition, speed, direction, np.full(len(speed), np.nan))
    noise = float(case.plan.sensor_noise)
    truth = np.zeros((runs, len(PARAMETERS)))
    truth[:, 0] = float_speed
    for name, share in PRIOR_SD.items():
        truth[:, PARAMETERS.index(name)] = rng.normal(0.0, share, runs)
    gaps = model.gaps(truth, condition) + rng.normal(0.0, noise, (runs, len(speed)))
    found = []
    for gap in gaps:
        best = Fitter(model, gap, noise, Freedom(), condition).best()
        found.append(float(np.sqrt(max(float(model.knee(best.parameters, None, condition)[0]), 0.0))))
    return FoundFloatSpeeds(float_speed, np.array(found))
