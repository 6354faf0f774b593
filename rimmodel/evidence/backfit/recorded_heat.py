"""Recorded temperatures as part of the model: which of them, and what a broken line sees once they are taken out.

Where temperatures of a run were recorded the level of its gaps moves by what the rotor of the case makes of them, each
within a stated range; where they were not, a drift stays unknown and is a matter of the noise. Rim and spider count
together or not at all: how one is held by the other moves interference and lift-off, and one alone says nothing of it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.evidence.backfit.fitter import Fitter, Freedom
from rimmodel.evidence.backfit.gap_model import GAINS, gap_model
from rimmodel.evidence.knee.fit import Knee
from rimmodel.evidence.reduction.speed_points import SpeedPoints
from rimmodel.evidence.reduction.temperatures import ALLOWED, ALLOWED_RIM_OVER_SPIDER
from rimmodel.rotor import Condition, Rotor

LEAST_DEPARTURE = 0.5
"""K from the condition within which temperatures are what the condition says: the uncertainty of the run has it."""

FURTHEST = 15.0
"""K of the mean of a run from its condition beyond which the condition is wrong, not the temperatures."""

MET = 0.1
"""Share of the points that must be as near to the condition as a run without this model must be throughout."""

GAIN_OF = {"rim": GAINS[0], "spider": GAINS[1], "stator": GAINS[2]}


def heat_departures(points: SpeedPoints, condition: Condition) -> dict[str, Floats]:
    """Recorded temperatures above those of the condition that the model takes into account.

    Returns
    -------
    dict of str to array (point,), K
        By "rim", "spider", "pole", "stator": rim and spider where both are known at every point, poles with them, the
        stator by itself; empty where nothing was recorded, where nothing departs from the condition, and where a body
        departs throughout, so that condition or thermometer may be wrong.
    """
    pole = condition.rim_temperature if condition.pole_temperature is None else condition.pole_temperature
    stated = {
        "rim": condition.rim_temperature,
        "spider": condition.spider_temperature,
        "pole": pole,
        "stator": condition.stator_temperature,
    }
    found = {}
    for name, temperature in stated.items():
        recorded = getattr(points, f"{name}_temperature")
        if recorded.shape == points.speed.shape and np.isfinite(recorded).all():
            found[name] = recorded - float(np.mean(temperature))
    if not {"rim", "spider"} <= found.keys():
        found = {name: kelvin for name, kelvin in found.items() if name == "stator"}
    near = all(abs(float(kelvin.mean())) <= FURTHEST for kelvin in found.values()) and _met(found)
    far = any(float(np.abs(kelvin).max()) > LEAST_DEPARTURE for kelvin in found.values())
    return found if near and far else {}


def _met(departures: Mapping[str, Floats]) -> bool:
    """Whether a tenth of the run was in the condition: what departs throughout may be a wrong thermometer as well."""
    limits = [(kelvin, ALLOWED) for kelvin in departures.values()]
    if "rim" in departures:
        limits.append((floats(departures["rim"] - departures["spider"]), ALLOWED_RIM_OVER_SPIDER))
    return all(float(np.quantile(np.abs(kelvin), MET)) <= limit for kelvin, limit in limits)


def with_gains(freedom: Freedom, departures: Mapping[str, Floats]) -> Freedom:
    """What a back-fit adjusts, with the gains of these temperatures within their range.

    Parameters
    ----------
    departures : mapping of str to array (point,), K
        From `heat_departures`.
    """
    gains = tuple(gain for name, gain in GAIN_OF.items() if name in departures)
    known = {**freedom.prior_sd, **dict.fromkeys(gains, freedom.heat_gain)}
    return replace(freedom, free=(*freedom.free, *gains), prior_sd=known)


def knee_beside_heat(
    rotor: Rotor,
    condition: Condition,
    points: SpeedPoints,
    freedom: Freedom,
    knee_of: Callable[[Floats], Knee],
) -> Knee:
    """The knee of gaps from which what recorded temperatures did is taken out.

    What heat does to the gap depends on whether the rim is seated, which is the very question. So a knee counts only
    where it is there under both answers: with all gaps taken as those of a seated rim, as they are where nothing
    lifts off, and as those of a floating rim; each with the gains, within their range, that leave the straightest
    line. Where both show a knee, its place is that of the gaps as the fitted rotor changes its state.

    Parameters
    ----------
    knee_of : callable
        From gaps (point,), m, to their knee.
    """
    departures = heat_departures(points, condition)
    model = gap_model(rotor, condition, points.speed, points.direction, points.time, departures)
    heat = model.heat
    if heat is None:
        return knee_of(points.gap)
    lines = coefficients(rotor, condition)
    held = float(np.mean(lines.edges.outer_displacement.pressure / lines.compliance))
    first: Knee | None = None
    for shift in (held * heat.loss - heat.growth, -heat.growth):
        first = knee_of(points.gap - _straightest(points, shift, freedom))
        if first.verdict != "resolved":
            return first
    wider = with_gains(freedom, departures)
    sigma = first.sigma if first is not None else 1e-5
    best = Fitter(model, points.gap, max(sigma, 1e-7), wider, condition).best().parameters
    moved = model.gaps(best)[0] - replace(model, heat=None).gaps(best)[0]
    return knee_of(points.gap - moved)


def without_heat(rotor: Rotor, condition: Condition, points: SpeedPoints) -> SpeedPoints:
    """The points as in their condition: gaps less what recorded temperatures did, between seated and floating."""
    heat = gap_model(
        rotor, condition, points.speed, points.direction, points.time, heat_departures(points, condition)
    ).heat
    if heat is None:
        return points
    lines = coefficients(rotor, condition)
    held = float(np.mean(lines.edges.outer_displacement.pressure / lines.compliance))
    return replace(points, gap=points.gap - (0.5 * held * heat.loss - heat.growth).sum(axis=0))


def _straightest(points: SpeedPoints, shift: Floats, freedom: Freedom) -> Floats:
    """What heat did (point,), m, with the gains that leave the straightest line in speed squared, within their range.

    Parameters
    ----------
    shift : array (3, point), m
        By rim, spider and stator, as recorded.
    """
    spread = np.full(len(GAINS), freedom.heat_gain)
    plain = points.gap - shift.sum(axis=0)
    x = points.speed**2
    line = np.column_stack([np.ones_like(x), x / x.max()])
    scatter = _scatter(np.column_stack([line, shift.T]), plain)
    rows = np.concatenate(
        [np.column_stack([line, shift.T]) / scatter, np.column_stack([np.zeros((3, 2)), np.diag(1 / spread)])]
    )
    found = np.linalg.lstsq(rows, np.concatenate([plain / scatter, np.zeros(3)]), rcond=None)[0]
    return floats((1.0 + found[2:]) @ shift)


def _scatter(design: Floats, value: Floats) -> float:
    rest = value - design @ np.linalg.lstsq(design, value, rcond=None)[0]
    left = max(len(value) - int(np.linalg.matrix_rank(design)), 1)
    return max(float(np.sqrt(np.sum(rest**2) / left)), 1e-7)
