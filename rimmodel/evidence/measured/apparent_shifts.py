"""What could make a knee stand elsewhere: apparent shifts of float speed and interference by causes nobody noted.

Each cause is put on top of the fitted gaps, and the rotor fitted again from where it stood: what then moves would be
read as the rotor's, though it is not. The noise of the run is left out. With it the sum of squares of a broken line has
corners at the recorded speeds, where a best fit may rest whatever a small cause does: the shift of one noisy run would
be nothing or twice too large, while its mean over the noise is that without.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from rimmodel.arrays import Floats
from rimmodel.evidence.backfit.fit import BackFit
from rimmodel.evidence.backfit.gap_model import NO_STATE, PARAMETERS, SCALES, GapModel
from rimmodel.evidence.backfit.least_squares import fit_batch
from rimmodel.rotor import Condition
from rimmodel.units import MILLIMETRE, in_mm, mm

WARMER = 1.0
"""Kelvin of rim over spider, drifting through the run or wrong throughout."""

SHARE = 0.01
"""Of gain, and of speed."""

SEATED = 0.05 * MILLIMETRE
"""Take-up of pole seats; they settle in the first `EARLY` of the speed (common practice, no source)."""

EARLY = 0.4

NEARBY = (1.0, 0.95, 1.05)
"""Of the fitted interference, from which a disturbed recording is fitted again."""

USUAL_FIELD = 0.9
"""Tesla of a field left on, where no condition of the case has one (from memory)."""


@dataclass(frozen=True)
class ApparentShift:
    """What one cause would do to the numbers of a recording.

    Attributes
    ----------
    cause, assumed : str
        What happens unnoted, and how much of it is assumed.
    float_speed : float, rad/s
        Too high by this; NaN where no knee is left.
    interference : float, m
        Too large by this.
    """

    cause: str
    assumed: str
    float_speed: float
    interference: float


@dataclass(frozen=True)
class _Disturbed:
    """Fitted gaps (point,), m, with a cause on top, and speeds (point,), rad/s, as they would be noted."""

    cause: str
    assumed: str
    gap: Floats
    speed: Floats


def apparent_shifts(
    fit: BackFit, others: Sequence[Condition] = (), without: Mapping[str, Floats] | None = None
) -> tuple[ApparentShift, ...]:
    """How far each of several usual causes would move the float speed and the interference of this recording.

    Parameters
    ----------
    fit : BackFit
        Of the recording, with an interference.
    others : sequence of Condition
        Of the case, for the field that may have been left on.
    without : mapping of array (point,), m, optional
        Mean gaps of the fitted points with one sensor left out, by sensor; the sensor that moves most is reported.

    Returns
    -------
    tuple of ApparentShift
        Empty without an interference. The fit goes on from where it stood, so a cause that would make it find another
        knee altogether does worse than this.
    """
    if not np.isfinite(fit.interference):
        return ()
    model = fit.model
    fitted = model.gaps(fit.unknowns[None])[0]
    recorded = fitted + fit.residual
    causes = list(_causes(fit, fitted, others))
    sensors = [
        _Disturbed("one bad sensor", f"{name} left out, of {len(without or {})}", fitted + gap - recorded, model.speed)
        for name, gap in (without or {}).items()
        if np.isfinite(gap).all()
    ]
    as_it_is = _Disturbed("", "", fitted, model.speed)
    speed, left = _refitted(fit, [as_it_is, *causes, *sensors])
    rows = [
        ApparentShift(one.cause, one.assumed, float(speed[place] - speed[0]), float(left[place] - left[0]))
        for place, one in enumerate([*causes, *sensors], 1)
    ]
    own, by_sensor = rows[: len(causes)], rows[len(causes) :]
    known = [row for row in by_sensor if np.isfinite(row.float_speed)]
    return (*own, *([max(known, key=lambda row: abs(row.float_speed))] if known else []))


def _causes(fit: BackFit, fitted: Floats, others: Sequence[Condition]) -> Iterator[_Disturbed]:
    model, condition = fit.model, fit.model.condition

    def in_state(cause: str, assumed: str, **changes: Floats | float | str) -> Iterator[_Disturbed]:
        gap = replace(model, condition=replace(condition, **changes)).gaps(fit.unknowns[None])[0]  # type: ignore[arg-type]
        if (gap < NO_STATE / 2).all():  # the pull of a field may leave no state at all
            yield _Disturbed(cause, assumed, gap, model.speed)

    def by(cause: str, assumed: str, change: Floats) -> _Disturbed:
        return _Disturbed(cause, assumed, fitted + change, model.speed)

    warm = condition.rim_temperature
    yield from in_state(
        "rim warms during the run", f"{WARMER:g} K from first to last point",
        rim_temperature=warm + WARMER * _progress(model),
    )  # fmt: skip
    yield from in_state(
        "rim hotter than the spider by more than recorded", f"{WARMER:g} K", rim_temperature=warm + WARMER
    )
    field = float(np.max(condition.flux_density))
    if field > 0:
        yield from in_state("field off although recorded as on", f"0 T for {field:g} T", flux_density=0.0)
    else:
        other = max(others, key=lambda state: float(np.max(state.flux_density)), default=condition)
        left_on = float(np.max(other.flux_density)) or USUAL_FIELD
        yield from in_state("field left on", f"{left_on:g} T", flux_density=left_on, excitation=other.excitation)
    yield by("all sensors read too wide", f"{100 * SHARE:.0f} % of gain", SHARE * fitted)
    yield _Disturbed("speed reads too high", f"{100 * SHARE:.0f} %", fitted, model.speed * (1 + SHARE))
    scatter = _key_scatter(fit)
    if scatter is not None:
        rows = np.repeat(fit.unknowns[None], len(scatter), axis=0)
        rows[:, 0] += scatter
        spread = in_mm(float(np.std(scatter)))
        rounding = model.gaps(rows).mean(axis=0) - fitted
        yield by("keys lift off one by one", f"{spread:.2f} mm of scatter", rounding)
    assumed = f"{mm(SEATED, 'g')} below {100 * EARLY:.0f} % of the highest speed"
    yield by("pole seats settle during run-up", assumed, -SEATED * _settled(model))


def _progress(model: GapModel) -> Floats:
    """From 0 at the first point to 1 at the last: by time, or up and down again where no time is known."""
    moment = model.time
    if not np.ptp(moment):
        along = np.where(model.direction < 0, 2 * np.max(model.speed) - model.speed, model.speed)
        moment = np.empty(len(along))
        moment[np.argsort(along, kind="stable")] = np.arange(len(along), dtype=float)
    span = float(np.ptp(moment))
    progress: Floats = (moment - moment.min()) / span
    return progress


def _settled(model: GapModel) -> Floats:
    """Share of the take-up that is done at each point: it grows with centrifugal force, and stays."""
    rising = np.minimum((model.speed / (EARLY * np.max(model.speed))) ** 2, 1.0)
    return np.where(model.direction < 0, 1.0, rising)


def _key_scatter(fit: BackFit) -> Floats | None:
    """Interference of each key over their mean, m, as listed or by their tolerance; None where neither is known.

    Each key is taken to seat its own part of the rim, which stiffness of the rim would even out: an upper bound.
    """
    from scipy.special import ndtri

    shims = fit.model.rotor.fit
    if shims.key_interference is not None:
        listed = np.array(shims.key_interference, dtype=float)
        even: Floats = listed - listed.mean()
        return even if np.ptp(even) > 0 else None
    deviation = float(np.max(shims.key_interference_tolerance)) / 2
    quantiles: Floats = deviation * ndtri((np.arange(20) + 0.5) / 20)
    return quantiles if deviation > 0 else None


def _refitted(fit: BackFit, disturbed: Sequence[_Disturbed]) -> tuple[Floats, Floats]:
    """Float speed (case,), rad/s, and interference (case,), m, of every disturbed recording, from the best fit on."""
    model, count = fit.model, len(PARAMETERS)
    gaps, speeds = (np.stack([getattr(one, name) for one in disturbed]) for name in ("gap", "speed"))
    priors = [PARAMETERS.index(name) for name in fit.priors]
    known = np.array([fit.priors[name] for name in fit.priors])

    def residuals(rows: Floats) -> Floats:
        which, unknowns = rows[:, count].astype(int), rows[:, :count]
        fitted = replace(model, speed=speeds[which]).gaps(unknowns)
        return np.concatenate([(gaps[which] - fitted) / fit.sigma, unknowns[:, priors] / known], axis=1)

    # the kinks of a broken line make small valleys between the recorded speeds: start on either side as well
    start = np.tile(np.append(fit.unknowns, 0.0), (len(NEARBY), len(disturbed), 1))
    start[..., 0] *= np.array(NEARBY)[:, np.newaxis]
    start[..., count] = np.arange(len(disturbed))
    start = start.reshape(-1, count + 1)
    free = np.append(np.isin(PARAMETERS, fit.parameters), False)
    found = fit_batch(residuals, start, np.append(SCALES, 1.0), free=free, steps=40, tolerance=1e-8)
    least = np.argmin(found.sum_of_squares.reshape(len(NEARBY), -1), axis=0)
    best = least * len(disturbed) + np.arange(len(disturbed))
    unknowns = found.parameters[best, :count]
    squared = model.knee(unknowns, None, model.condition)
    lost = ~found.converged[best] | ~(squared > 0)
    speed = np.where(lost, np.nan, np.sqrt(np.maximum(squared, 0.0)))
    return speed, np.where(lost, np.nan, unknowns[:, 0])
