"""The least gap of one rotor at many speeds, with its place and forces; what is taken off, and whether it is known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Complex, Floats, Numbers, floats
from rimmodel.behaviour.axial.planes import narrowest
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.behaviour.contact.state import contact
from rimmodel.behaviour.least_gap.keyed import keys_matter
from rimmodel.behaviour.least_gap.least import LeastGap, settled_least, shapes_along
from rimmodel.behaviour.least_gap.net_pull import Closure, turning_parts
from rimmodel.behaviour.least_gap.shapes import OVAL, Shapes, magnification
from rimmodel.elastic.lowest_point import lowest_point
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.assembly import BoreHarmonic
from rimmodel.rotor.rim import ShapeHarmonic


@dataclass(frozen=True)
class GapStates:
    """The gap of one rotor at n speeds; NaN where there is no state.

    Attributes
    ----------
    mean, gap : array (n,), m
        Mean and least.
    stator_angle, rotor_angle : array (n,), rad
        Where it is least, and the place of the rotor that passes there.
    margin : array (n,), -
        Stiffness that the shaft has left against the pull, over its own.
    force : complex array (n, 3), N
        Net pull: standing, once per turn, twice per turn.
    profile : array (n, angle), m
        Least gap met at each place of the stator in one turn.
    keyed : bool
        Keys were followed one by one.
    """

    mean: Floats
    gap: Floats
    stator_angle: Floats
    rotor_angle: Floats
    margin: Floats
    force: Complex
    profile: Floats
    keyed: bool


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


def gap_states(rotor: Rotor, condition: Condition, speed: Floats, angle: Floats) -> GapStates:
    """The least gap of one rotor at speeds, with the rotor settled on its shaft; derived in what it calls.

    Parameters
    ----------
    rotor : Rotor
        Of scalar fields, as the condition.
    speed : array (n,), rad/s
    angle : array (angle,), rad
        On the stator, for the profile.

    The profile is least where the least gap is:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> found = gap_states(case.rotor, case.conditions["cold"], floats([0.0]), np.linspace(0.0, 2.0 * np.pi, 3601))
    >>> print(f"{1e6 * abs(found.profile.min() - found.gap[0]):.0f} um")
    0 um
    """
    x = floats(speed) ** 2
    model = coefficients(rotor, condition)
    found = shapes_along(rotor, condition, model, contact(model, x), x)
    best, closed = _settled(rotor, condition, found)
    profile = []
    for i in range(x.size):
        turned = Closure(closed.shift[i], closed.force[i], closed.margin[i])
        profile.append(_profile(_row(found, i), turned, angle, float(best.stator_angle[i] - best.rotor_angle[i])))
    return GapStates(
        floats(found.mean_gap), best.gap, best.stator_angle, best.rotor_angle, best.margin, turning_parts(closed.force),
        np.array(profile), keys_matter(rotor),
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


def taken_off(rotor: Rotor, condition: Condition) -> tuple[TakenOff, ...]:
    """What narrows the least gap against the mean gap at standstill, and whether it was measured.

    By definition of the inputs.

    The published tolerance of the centre is 5 % of the gap, here of 16 mm:

    >>> import rimmodel as rm
    >>> from dataclasses import replace
    >>> from rimmodel.rotor import Assembly
    >>> bare = replace(rm.example_case().rotor, assembly=Assembly())
    >>> centre = taken_off(bare, rm.example_case().conditions["cold"])[2]
    >>> print(f"{centre.what}: {1e3 * centre.amount:.1f} mm, {centre.measured}")
    axis off the centre of the bore: 0.8 mm, False
    """
    assembly, cold = rotor.assembly, float(rotor.air_gap.cold)
    model = coefficients(rotor, condition)
    still = floats(0.0)
    oval = float(np.fmax(magnification(rotor, condition, model, contact(model, still), still, OVAL), 1.0))

    def row(what: str, stated: Numbers | None, share: Numbers, part: float = 1.0) -> TakenOff:
        amount = float(share) * cold if stated is None else float(stated)
        return TakenOff(what, part * amount, stated is not None)

    bore = -float(lowest_point(_waves_of(assembly.stator_shape))[0]) if assembly.stator_shape else None
    faces = -float(lowest_point(-_waves_of(rotor.rim.shape))[0]) if rotor.rim.shape else None
    along = (
        (TakenOff("shims, heat, poles along the rim", float(narrowest(rotor, condition, still)), True),)
        if rotor.differs_along(condition)
        else ()
    )
    return (
        row("shape of the bore", bore, assembly.stator_circularity_share),
        row("shape of the pole faces", faces, float(assembly.rotor_circularity_share) * (1.0 if faces else oval)),
        row("axis off the centre of the bore", assembly.centre_offset, assembly.concentricity_share),
        row("half of the lean of the bore", assembly.stator_lean, assembly.stator_verticality_share, 0.5),
        row("half of the lean of the pole faces", assembly.rotor_lean, assembly.rotor_verticality_share, 0.5),
        row("orbit of the shaft", assembly.orbit, 0.0),
        *along,
    )


def _waves_of(rows: Sequence[BoreHarmonic | ShapeHarmonic]) -> Complex:
    """Harmonics from stated waves; one more than the highest of them."""
    waves = np.zeros(1 + max(row.harmonic for row in rows), dtype=np.complex128)
    for row in rows:
        waves[row.harmonic] += row.amplitude * np.exp(-1j * row.harmonic * row.phase)
    return waves


def gap_off_mean(rows: Sequence[BoreHarmonic | ShapeHarmonic]) -> float:
    """Largest deviation of a stated shape from its mean, in or out, by definition; zero without waves.

    Returns
    -------
    float, m

    Waves 2 and 4 that crest together reach 0.5 mm out, where their troughs do not meet:

    >>> print(f"{1e3 * gap_off_mean([BoreHarmonic(2, 0.4e-3), BoreHarmonic(4, 0.1e-3)]):.3f} mm")
    0.500 mm
    """
    if not rows:
        return 0.0
    waves = _waves_of(rows)
    return float(max(-lowest_point(waves)[0], -lowest_point(-waves)[0]))
