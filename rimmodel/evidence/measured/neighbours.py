"""From a fitted recording to the machine that it shows: a neighbour to each side for each cause of doubt.

Every neighbour is refitted to the same recording, to first order: what one cause moves, the unknowns of the fit follow.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.behaviour.contact.speeds import needed_interference
from rimmodel.behaviour.study.inputs import Inputs
from rimmodel.behaviour.study.rotor_model import RotorModel, case_inputs, rotor_model
from rimmodel.evidence.backfit.fit import OWN_CONDITION, BackFit
from rimmodel.evidence.backfit.fitter import Freedom
from rimmodel.evidence.backfit.gap_model import PARAMETERS, SCALES, GapModel, gap_model, varied_interference
from rimmodel.evidence.backfit.least_squares import jacobian
from rimmodel.evidence.backfit.recorded_heat import heat_departures
from rimmodel.evidence.chart.lift_off import moved, speed_errors
from rimmodel.evidence.measured.machine import (
    AXES,
    GAIN,
    LEVEL,
    NOISE,
    READINGS,
    RULED_OUT,
    TEMPERATURE,
    Level,
    MeasuredMachine,
)
from rimmodel.evidence.reduction.speed_points import SpeedPoints
from rimmodel.rotor import Condition, GivenSpider, Rotor
from rimmodel.rotor.case.case import Case
from rimmodel.rotor.requirements import CaseRecord
from rimmodel.rotor.tolerance import PER_KEY

ASSEMBLED_GAP = 0.025
"""Standard uncertainty of the mean gap as assembled, as a share, when the case has no tolerance of it: half of the
5 % that published assembly tolerances allow (US Bureau of Reclamation, FIST 2-7, appendix C)."""

LEARNED = ("fit.interference", "fit.settlement", "fit.stack_growth", "rim.hoop_stiffness_factor")
"""Numbers that a back-fit finds: their tolerances are not counted again."""

OF_THE_GAP = ("air_gap.cold", "air_gap.stator_bore_radius", "poles.face_radius")
"""Numbers whose tolerances together make that of the cold gap."""


def case_freedom(case: Case, record: CaseRecord | None = None) -> Freedom:
    """What a back-fit adjusts, with stiffnesses and recorded temperatures known as well as the case states them."""
    usual = Freedom()
    known = dict(usual.prior_sd)
    stated = {row.name: row for row in case.tolerances}
    pairs = [("rim.hoop_stiffness_factor", "hoop_stiffness_factor")]
    if isinstance(case.rotor.spider, GivenSpider):
        pairs.append(("spider.radial_stiffness", "spider_stiffness"))
    for key, name in pairs:
        if key in stated:
            known[name] = stated[key].standard_uncertainty / abs(stated[key].centre)
    return Freedom(usual.free, known, usual.heat_gain if record is None else record.temperature_gain)


def not_learned(case: Case) -> Inputs:
    """The tolerances of a case that a back-fit of the mean gap says nothing of."""
    inputs = case_inputs(case)
    known = {*LEARNED, *OF_THE_GAP}
    if isinstance(case.rotor.spider, GivenSpider):
        known.add("spider.radial_stiffness")
    kept = tuple(row for row in inputs.marginals if row.name not in known and not row.name.startswith(PER_KEY))
    names = {row.name for row in kept}
    return Inputs(kept, tuple(pair for pair in inputs.correlations if set(pair.between) <= names))


def cold_gap_uncertainty(case: Case) -> float:
    """Standard uncertainty of the mean gap as assembled.

    Returns
    -------
    float, m
    """
    stated = [row.standard_uncertainty for row in case.tolerances if row.name in OF_THE_GAP]
    return float(np.hypot.reduce(stated)) if stated else ASSEMBLED_GAP * float(case.rotor.air_gap.cold)


def measured_machines(case: Case, record: CaseRecord, points: SpeedPoints, fit: BackFit) -> tuple[MeasuredMachine, ...]:
    """The machine that a fitted recording shows, or those at the bounds of its lift-off where there is no best one.

    Parameters
    ----------
    record : CaseRecord
        Its condition and sensors.
    points : SpeedPoints
        Only those that were fitted.

    Returns
    -------
    tuple of MeasuredMachine
        One where both sides of the lift-off are known, else one for each bound, none without any.
    """
    builder = _Builder(case, record, points, fit)
    low, high = fit.float_speed_interval[OWN_CONDITION]
    best = fit.float_speed[OWN_CONDITION]
    bounded = (low > 0, bool(np.isfinite(high)))
    if all(bounded) and np.isfinite(best) and best > 0:
        return (builder.about(best),)
    ends = [end for end, known in zip((low, high), bounded, strict=True) if known and np.isfinite(end)]
    return tuple(builder.at_bound(end, bounded) for end in ends)


class _Builder:
    """One fitted recording, from which machines are built; every method is plain arithmetic on the same inputs."""

    def __init__(self, case: Case, record: CaseRecord, points: SpeedPoints, fit: BackFit) -> None:
        from scipy.special import ndtri

        self.case, self.record, self.fit, self.points = case, record, fit, points
        self.name, self.condition = case.condition(record.condition)
        self.model: RotorModel = rotor_model(case, ())
        self.inputs = not_learned(case)
        self.names = self.inputs.names
        self.z = float(ndtri((1 + fit.confidence) / 2))
        self.t = float(np.sqrt(fit.profile_allowed))
        self.free = [PARAMETERS.index(name) for name in fit.parameters]
        self.modes: int = points.axis_speed.shape[1]

    # every row of unknowns: PARAMETERS with the float speed of the run first, then tolerances, run temperature, gain,
    # and the errors of the axes of a chart
    @property
    def width(self) -> int:
        return len(PARAMETERS) + len(self.names) + 2 + self.modes

    def machine(self, rows: Floats) -> tuple[Rotor, dict[str, Condition], Condition]:
        """Rotor with the fitted hoop stiffness, conditions, and the state of the run; fields (row, 1)."""
        start = len(PARAMETERS)
        table = {name: rows[:, start + place, None] for place, name in enumerate(self.names)}
        rotor, conditions = self.model.machine(table)
        run = conditions[self.name]
        warmer = floats(run.rim_temperature) + rows[:, start + len(self.names), None]
        return rotor, conditions, replace(run, rim_temperature=warmer)

    def residuals(self, rows: Floats) -> Floats:
        """Weighted residuals (row, point) of the recording, the priors as rows of their own."""
        rotor, _, run = self.machine(rows)
        gain = len(PARAMETERS) + len(self.names) + 1
        model, read = self._gap_model(rotor, run), self.points.gap
        if self.modes:
            speed, read = moved(self.points, rows[:, gain + 1 :])
            model = replace(model, speed=speed)
        gaps = model.gaps(rows[:, : len(PARAMETERS)], run)
        pivot = float(np.mean(self.points.gap))
        gaps = pivot + (1.0 + rows[:, gain, None]) * (gaps - pivot)
        columns = [PARAMETERS.index(name) for name in self.fit.priors]
        known = np.array([self.fit.priors[name] for name in self.fit.priors])
        weighted = (read - gaps) @ self.fit.whitening.T
        return np.concatenate([weighted, rows[:, columns] / known], axis=1)

    def _gap_model(self, rotor: Rotor, run: Condition) -> GapModel:
        departures = heat_departures(self.points, self.condition)
        return gap_model(rotor, run, self.points.speed, self.points.direction, self.points.time, departures)

    def base(self, lift_off: float) -> Floats:
        """The row (unknown,) of the best fit with a given lift-off in the run."""
        row = np.zeros(self.width)
        row[: len(PARAMETERS)] = self.fit.unknowns
        row[0] = lift_off
        start = len(PARAMETERS)
        row[start : start + len(self.names)] = list(self.inputs.central().values())
        return row

    def about(self, best: float) -> MeasuredMachine:
        """The best machine with its neighbours, each fitted to the same recording to first order."""
        row = self.base(best)
        scale = np.concatenate([SCALES, self._spread(), [0.5, 0.005], np.ones(self.modes)])
        scale[0] = 1e-3 * best
        columns = np.array([*self.free, *range(len(PARAMETERS), self.width)])
        slope = jacobian(self.residuals, row[None], scale, columns)[0] * scale[columns]
        known = len(self.free)
        inverse = np.linalg.pinv(slope[:, :known], rcond=1e-8)
        covariance = inverse @ inverse.T
        follow = -inverse @ slope[:, known:]
        pairs: list[tuple[str, Floats, Floats]] = []

        def step(move: Floats, others: Floats) -> Floats:
            whole = np.zeros(self.width)
            whole[self.free] = move * scale[self.free]
            whole[len(PARAMETERS) :] = others * scale[len(PARAMETERS) :]
            return whole

        path = covariance[:, 0] / covariance[0, 0]
        none = np.zeros(self.width - len(PARAMETERS))
        ends = [(end - best) / scale[0] for end in self.fit.float_speed_interval[OWN_CONDITION]]
        pairs.append((NOISE, step(path * ends[0], none), step(path * ends[1], none)))
        rest = covariance - np.outer(path, path) * covariance[0, 0]
        sizes, turns = np.linalg.eigh(rest)
        for size, turn in zip(sizes, turns.T, strict=True):
            if size > 1e-12 * sizes[-1]:
                side = step(turn * self.t * np.sqrt(size), none)
                pairs.append((NOISE, -side, side))
        for cause, others in self._other_causes(scale[len(PARAMETERS) :]):
            side = step(follow @ others, others)
            pairs.append((cause, -side, side))
        rows = np.stack([row, *(row + low for _, low, _ in pairs), *(row + high for _, _, high in pairs)])
        return self._built(rows, [cause for cause, _, _ in pairs], (True, True), noise=True)

    def at_bound(self, end: float, bounded: tuple[bool, bool]) -> MeasuredMachine:
        """The machine at a bound of the lift-off: what noise leaves open is in the bound already."""
        row = self.base(end)
        pairs = []
        for cause, others in self._other_causes(np.ones(self.width - len(PARAMETERS))):
            side = np.concatenate([np.zeros(len(PARAMETERS)), others])
            if cause == AXES:  # nothing is fitted again: the bound moves with the speed axis
                side[0] = others[-self.modes :] @ speed_errors(self.points, end)
            pairs.append((cause, side))
        rows = np.stack([row, *(row - side for _, side in pairs), *(row + side for _, side in pairs)])
        return self._built(rows, [cause for cause, _ in pairs], bounded, noise=False)

    def _spread(self) -> Floats:
        return np.sqrt(np.diag(self.inputs.covariance()))

    def _other_causes(self, scale: Floats) -> list[tuple[str, Floats]]:
        """Steps (other unknown,) to the upper side, in units of `scale`, by cause; correlated ones turned apart."""
        count = len(self.names)
        found = []
        if count:
            factor = np.linalg.cholesky(self.inputs.covariance() + 1e-300 * np.eye(count))
            label = {place: name for name, members in self.inputs.groups().items() for place in members}
            for place in range(count):
                move = np.zeros(len(scale))
                move[:count] = self.z * factor[:, place] / scale[:count]
                found.append((label[place], move))
        for cause, place, size in (
            (TEMPERATURE, count, self.record.temperature_uncertainty),
            (GAIN, count + 1, self.record.sensor_gain),
            *((AXES, count + 2 + mode, 1.0) for mode in range(self.modes)),
        ):
            move = np.zeros(len(scale))
            move[place] = self.z * size / scale[place]
            found.append((cause, move))
        return found

    def _built(self, rows: Floats, causes: list[str], bounded: tuple[bool, bool], *, noise: bool) -> MeasuredMachine:
        """Machines of all rows, with the level of the gaps as a last pair of neighbours."""
        rotor, conditions, run = self.machine(rows)
        fitted = self._gap_model(rotor, run).rotor_of(rows[:, : len(PARAMETERS)])
        left = needed_interference(coefficients(varied_interference(fitted, 0.0), run), rows[:, 0, None])
        sensors, assembled = self.record.sensor_offset, cold_gap_uncertainty(self.case)
        trust = 0.0 if self.points.is_change else assembled**2 / (assembled**2 + sensors**2 + 1e-300)
        apart = self.z * assembled * np.sqrt(1.0 - trust)
        none = np.zeros(len(rows))
        order = np.concatenate([np.arange(1 + len(causes)), [0], np.arange(1 + len(causes), len(rows)), [0]])
        shift = np.concatenate([none[: 1 + len(causes)], [-apart], none[1 + len(causes) :], [apart]])[:, None]
        rotors, carried, levels = {}, {}, {}
        for cause, share in READINGS.items():
            kept, held, level = self._as_lost(rotor, fitted, left, rows, share)
            levels[cause] = level[:, 0]
            cold = floats(kept.air_gap.cold) + trust * np.nan_to_num(level)
            gap = np.broadcast_to(cold, (len(rows), 1))[order] + shift
            rotors[cause] = _with_cold_gap(_rows_of(kept, order, len(rows)), gap)
            carried[cause] = _with_cold_gap(_rows_of(held, order, len(rows)), gap)
        found = {name: _rows_of(state, order, len(rows)) for name, state in conditions.items()}
        return MeasuredMachine(
            self.case, self.fit.confidence, (*causes, LEVEL), rotors, carried, found,
            self._level(levels, causes), bounded, noise,
        )  # fmt: skip

    def _as_lost(
        self, rotor: Rotor, fitted: Rotor, left: Floats, rows: Floats, share: float
    ) -> tuple[Rotor, Rotor, Floats]:
        """The rotors as assembled with what they have lost since, and the level (row, 1) of the recording on them."""
        drawn = self.case.rotor.fit.interference
        kept = replace(rotor, rim=fitted.rim).with_interference(drawn).settled_to(left, share)
        held = replace(fitted, air_gap=rotor.air_gap, fit=replace(fitted.fit, **_lost(kept)))
        alike = coefficients(varied_interference(fitted.without_settlement(), left), self.condition).floating.at_rest
        expected = coefficients(held, self.condition).floating.at_rest - alike
        return kept, held, rows[:, 3, None] - expected

    def _level(self, levels: Mapping[str, Floats], causes: list[str]) -> Level:
        stated = self.case.rotor.fit.settlement_of
        if self.points.is_change:
            return Level({}, float("inf"), tuple(READINGS) if stated == "unknown" else (stated,))
        count = len(causes)
        half = {cause: (values[1 + count :] - values[1 : 1 + count]) / (2 * self.z) for cause, values in levels.items()}
        offset = self.record.sensor_offset
        spread = float(np.sqrt(np.nansum(half["keys"] ** 2) + offset**2 + cold_gap_uncertainty(self.case) ** 2))
        of_the_run = np.isin(causes, (NOISE, TEMPERATURE, GAIN))
        own = {cause: float(np.sqrt(np.nansum(part[of_the_run] ** 2) + offset**2)) for cause, part in half.items()}
        difference = {cause: float(level[0]) for cause, level in levels.items()}
        fits = tuple(cause for cause, value in difference.items() if abs(value) <= RULED_OUT * spread)
        possible = (stated,) if stated != "unknown" else fits or tuple(READINGS)
        return Level(difference, spread, possible, own)


def _lost(rotor: Rotor) -> dict[str, Any]:
    fit = rotor.fit
    return {"interference": fit.interference, "settlement": fit.settlement, "stack_growth": fit.stack_growth}


def _with_cold_gap(rotor: Rotor, gap: Floats) -> Rotor:
    return replace(rotor, air_gap=replace(rotor.air_gap, cold=gap[:, 0], stator_bore_radius=None))


def _rows_of(part: Any, order: NDArray[np.intp], size: int) -> Any:
    """The same object with its (row, 1) fields as (row,), rows in a given order; nested parts too."""
    from dataclasses import fields, is_dataclass

    changes = {}
    for entry in fields(part):
        value = getattr(part, entry.name)
        if isinstance(value, np.ndarray) and value.ndim == 2:
            changes[entry.name] = np.broadcast_to(value, (size, 1))[order, 0]
        elif is_dataclass(value) and not isinstance(value, type):
            changes[entry.name] = _rows_of(value, order, size)
    return replace(part, **changes) if changes else part
