"""The least gap of a case against speed, with its band, its place, its forces, and what was taken off unmeasured."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from rimmodel.arrays import Complex, Floats, Interval, floats
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.behaviour.contact.state import contact
from rimmodel.behaviour.least_gap.keyed import keys_matter, with_keys
from rimmodel.behaviour.least_gap.least import LeastGap, least_gap, settled_least
from rimmodel.behaviour.least_gap.net_pull import Closure, turning_parts
from rimmodel.behaviour.least_gap.shapes import OVAL, Shapes, magnification, shapes
from rimmodel.elastic.lowest_point import lowest_point
from rimmodel.planning.predicted import standard_errors
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.case.case import Case

SPEED_STEPS = 41
ANGLES = 361


@dataclass(frozen=True)
class TakenOff:
    """One thing that narrows the least gap against the mean gap.

    Attributes
    ----------
    what : str
        In words.
    amount : float, m
        At standstill.
    measured : bool
        Stated in the case; else the full assembly tolerance, or nothing where none is published.
    """

    what: str
    amount: float
    measured: bool


@dataclass(frozen=True)
class LeastGapAt:
    """The least gap at one named speed.

    Attributes
    ----------
    speed : float, rad/s
    mean, gap : float, m
    interval : pair of float, m
    stator_angle, rotor_angle : float, rad
    margin : float, -
        Stiffness that the shaft has left against the pull, over its own.
    force : complex array (3,), N
        Net pull: standing, once per turn, twice per turn; NaN without a state.
    profile : array (angle,), m
        Least gap met at each place of the stator in one turn.
    """

    name: str
    speed: float
    mean: float
    gap: float
    interval: Interval
    stator_angle: float
    rotor_angle: float
    margin: float
    force: Complex
    profile: Floats


@dataclass(frozen=True)
class LeastGapCurve:
    """The least gap of a case in a condition.

    Attributes
    ----------
    speed : array (n,), rad/s
    mean, gap, low, high : array (n,), m
        Band from the tolerances of the case; NaN where there is no least gap.
    angle : array (angle,), rad
        On the stator.
    confidence : float, -
    """

    condition: str
    speed: Floats
    mean: Floats
    gap: Floats
    low: Floats
    high: Floats
    angle: Floats
    at: tuple[LeastGapAt, ...]
    taken_off: tuple[TakenOff, ...]
    keyed: bool
    confidence: float


def least_gap_curve(case: Case, name: str, condition: Condition, confidence: float = 0.95) -> LeastGapCurve:
    """The least gap from standstill to the highest speed of a case.

    The band is that of the smeared rim, laid about the gap of the keys one by one where shims are uneven.

    Parameters
    ----------
    name : str
        Of the condition.
    confidence : float, -
    """
    rotor = case.rotor
    named = {at: float(value) for at, value in rotor.speeds.from_standstill.items()}
    speed = np.unique([*np.linspace(0.0, float(rotor.speeds.highest), SPEED_STEPS), *named.values()])
    x = floats(speed**2)
    model = coefficients(rotor, condition)
    state = contact(model, x)
    found = with_keys(rotor, condition, shapes(rotor, condition, model, state, x), x)
    best, closed = _settled(rotor, condition, found)
    below, above = _band(case, name, speed, confidence)
    angle = np.linspace(0.0, 2.0 * np.pi, ANGLES)
    rows = []
    for at, value in named.items():
        i = int(np.argmin(np.abs(speed - value)))
        one = _row(found, i)
        first_turn = float(best.stator_angle[i] - best.rotor_angle[i])
        turned = Closure(closed.shift[i], closed.force[i], closed.margin[i])
        rows.append(
            LeastGapAt(
                at, value, float(found.mean_gap[i]), float(best.gap[i]),
                (float(best.gap[i] - below[i]), float(best.gap[i] + above[i])),
                float(best.stator_angle[i]), float(best.rotor_angle[i]), float(best.margin[i]),
                turning_parts(turned.force), _profile(one, turned, angle, first_turn),
            )
        )  # fmt: skip
    return LeastGapCurve(
        name, speed, floats(found.mean_gap), best.gap, best.gap - below, best.gap + above, angle, tuple(rows),
        taken_off(rotor, condition), keys_matter(rotor), confidence,
    )  # fmt: skip


def _settled(rotor: Rotor, condition: Condition, found: Shapes) -> tuple[LeastGap, Closure]:
    """Least gaps (n,) and the closure (n, turn) of speeds; NaN where there is no state."""
    lost = np.isnan(found.mean_gap) | np.isnan(found.anywhere) | np.isnan(found.faces).any(axis=-1)
    bore = np.broadcast_to(found.bore, (*lost.shape, found.bore.shape[-1]))
    faces = np.broadcast_to(found.faces, (*lost.shape, found.faces.shape[-1]))
    safe = Shapes(
        np.where(lost, 1.0, found.mean_gap),
        bore,
        np.where(lost[:, None], 0.0, faces),
        np.where(lost, 0.0, found.anywhere),
    )
    best, closed = settled_least(rotor, condition, safe)
    none = np.where(lost, np.nan, 0.0)
    return (
        LeastGap(best.gap + none, best.stator_angle + none, best.rotor_angle + none, best.margin + none),
        Closure(closed.shift + none[:, None], closed.force + none[:, None], closed.margin + none[:, None]),
    )


def _row(found: Shapes, i: int) -> Shapes:
    def of(waves: Complex) -> Complex:
        return waves[i] if waves.ndim > 1 else waves

    return Shapes(floats(found.mean_gap[i]), of(found.bore), of(found.faces), floats(found.anywhere[i]))


def _profile(found: Shapes, closed: Closure, angle: Floats, first_turn: float) -> Floats:
    """Least gap at each place of the stator: when the crest of the rotor passes, shifted as it is then."""
    if np.isnan(found.faces).any() or np.isnan(closed.shift).any():
        return np.full(angle.shape, np.nan)
    n = np.arange(found.bore.shape[-1])
    bore = (found.bore @ np.exp(1j * n[:, None] * angle)).real
    high, crest = lowest_point(-found.faces)
    count = closed.shift.size
    parts = np.fft.fft(closed.shift) / count
    order = np.fft.fftfreq(count, 1.0 / count)
    turn = angle - crest - first_turn
    shift = parts @ np.exp(1j * order[:, None] * turn)
    return floats(found.mean_gap + bore + high - found.anywhere - (shift * np.exp(-1j * angle)).real)


def _band(case: Case, name: str, speed: Floats, confidence: float) -> tuple[Floats, Floats]:
    """How far the least gap reaches below and above with the tolerances of the case, m; NaN where it has no value.

    Each uncorrelated direction of the tolerances is followed to both ends of its interval, and the reaches of each side
    put together in quadrature: a jump where the rim lifts off then counts once, at its own height.
    """
    from rimmodel.behaviour.study.rotor_model import case_inputs, rotor_model

    inputs = case_inputs(case)
    if not inputs.names:
        none = np.zeros(speed.shape)
        return none, none
    covariance = inputs.covariance()
    steps = standard_errors(confidence) * np.linalg.cholesky(covariance + 1e-300 * np.eye(len(covariance)))
    centre = np.array(list(inputs.central().values()))
    rows = np.concatenate([centre[None], centre - steps.T, centre + steps.T])
    rotor, conditions = rotor_model(case, ()).machine(
        {key: rows[:, place, None] for place, key in enumerate(inputs.names)}
    )
    even = replace(rotor, fit=replace(rotor.fit, key_interference=None))
    lines = coefficients(even, conditions[name])
    x = floats(speed**2)
    found = least_gap(even, conditions[name], lines, contact(lines, x), x).gap
    values = np.broadcast_to(found, (len(rows), speed.size))
    change = (values[1:] - values[0]).reshape(2, len(centre), speed.size)
    below = np.sqrt((np.maximum(-change.min(axis=0), 0.0) ** 2).sum(axis=0))
    above = np.sqrt((np.maximum(change.max(axis=0), 0.0) ** 2).sum(axis=0))
    return floats(below), floats(above)


def taken_off(rotor: Rotor, condition: Condition) -> tuple[TakenOff, ...]:
    """What narrows the least gap against the mean gap at standstill, and whether it was measured."""
    assembly, cold = rotor.assembly, float(rotor.air_gap.cold)
    model = coefficients(rotor, condition)
    still = floats(0.0)
    oval = float(np.fmax(magnification(rotor, condition, model, contact(model, still), still, OVAL), 1.0))

    def row(what: str, stated: object, share: object, part: float = 1.0) -> TakenOff:
        amount = float(share) * cold if stated is None else float(stated)  # type: ignore[arg-type]
        return TakenOff(what, part * amount, stated is not None)

    bore = -float(lowest_point(_waves_of(assembly.stator_shape))[0]) if assembly.stator_shape else None
    faces = -float(lowest_point(-_waves_of(rotor.rim.shape))[0]) if rotor.rim.shape else None
    return (
        row("shape of the bore", bore, assembly.stator_circularity_share),
        row("shape of the pole faces", faces, float(assembly.rotor_circularity_share) * (1.0 if faces else oval)),
        row("axis off the centre of the bore", assembly.centre_offset, assembly.concentricity_share),
        row("half of the lean of the bore", assembly.stator_lean, assembly.stator_verticality_share, 0.5),
        row("half of the lean of the pole faces", assembly.rotor_lean, assembly.rotor_verticality_share, 0.5),
        row("orbit of the shaft", assembly.orbit, 0.0),
    )


def _waves_of(rows: tuple[object, ...]) -> Complex:
    """Harmonics from stated waves; one more than the highest of them."""
    waves = np.zeros(1 + max(row.harmonic for row in rows), dtype=np.complex128)  # type: ignore[attr-defined]
    for row in rows:
        waves[row.harmonic] += row.amplitude * np.exp(-1j * row.harmonic * row.phase)  # type: ignore[attr-defined]
    return waves
