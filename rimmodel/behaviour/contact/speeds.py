"""Speeds at which something happens: lift-off, first yield, the gap at its allowed minimum, the gap closed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.contact.asked import asked_gap, asked_machine, asked_speed
from rimmodel.behaviour.contact.coefficients import Coefficients, Direction, GapLine, coefficients
from rimmodel.behaviour.contact.state import contact, lift_off_speed_squared, solve_gap, speed_squared_of
from rimmodel.elastic.plasticity import first_yield_speed
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.blocks import BLOCK, array_shape, blocks
from rimmodel.units import in_mm, in_rpm, mm, rpm


@dataclass(frozen=True)
class CharacteristicSpeed:
    """A speed at which something happens, and its words.

    Attributes
    ----------
    speed : array, rad/s
        inf never, 0 from standstill on, NaN none before the pull closes the gap.
    """

    speed: Floats
    note: str


def float_speed(rotor: Rotor, condition: Condition, direction: Direction = None) -> CharacteristicSpeed:
    """Speed at which the rim lifts off the spider: the interference that is left reaches zero.

    Parameters
    ----------
    rotor : Rotor
        Any field may be an array; large ones are walked through in blocks.
    condition : Condition
        Temperatures and field.
    direction : "up", "down" or None
        "up" gives lift-off in a run-up and "down" re-seating in a run-down, apart by the apparent
        interference from friction.

    Returns
    -------
    CharacteristicSpeed
        `speed` in rad/s: inf where it never floats by speed, 0 where it floats at standstill, NaN where the
        magnetic pull closes the gap before, or by the highest named speed. `note` says so in words, with the margin,
        for a single rotor.

    Raises
    ------
    TypeError
        An argument of another kind, such as a case for a rotor.
    ValueError
        Another direction.

    Notes
    -----
    ``w_f^2 = (delta - thermal - settlement - pull) / (c_r - c_s)``; implicit at constant field current, where the
    pull depends on the gap, and then solved as a cubic. The law p/p0 = 1 - (n/n_f)^2 of a shrunk ring is textbook
    (Hearn, Mechanics of Materials 2, ch. 4); the rest is derived here. Spider stiffness does not enter.

    A quarter of the interference halves the float speed of a cold rim:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> cold = case.conditions["cold"]
    >>> whole = rm.float_speed(case.rotor, cold).speed
    >>> part = rm.float_speed(case.rotor.with_interference(case.rotor.fit.interference / 4), cold).speed
    >>> print(f"{part / whole:.4f}")
    0.5000
    """
    asked_machine(rotor, condition, "float_speed(rotor, condition)", direction)
    shape = array_shape(rotor, condition)
    if int(np.prod(shape)) <= BLOCK:
        speed = float_speed_of(coefficients(rotor, condition, direction), floats(rotor.speeds.highest))
    else:
        speed = np.empty(int(np.prod(shape)))
        for part, (some, state) in blocks(rotor, condition):
            speed[part] = float_speed_of(coefficients(some, state, direction), floats(some.speeds.highest))
        speed = speed.reshape(shape)
    return CharacteristicSpeed(speed, _float_note(rotor, condition, direction, speed))


def float_speed_of(model: Coefficients, highest: Floats | float = 0.0) -> Floats:
    """Float speed of a rotor in a condition that are known as lines; see `float_speed` for the equation, derived there.

    Parameters
    ----------
    highest : float or array, rad/s
        A rim that never floats has no float speed either where the pull has closed the gap by this speed.

    Returns
    -------
    array, rad/s
        As in `CharacteristicSpeed`.

    2.1 mm of interference that 4 (rad/s)^2 take to nothing:

    >>> import rimmodel as rm
    >>> from dataclasses import replace
    >>> model = coefficients(rm.example_case().rotor, rm.example_case().conditions["cold"])
    >>> print(f"{float_speed_of(replace(model, net_growth=model.at_rest / 4.0)):.3f}")
    2.000
    """
    squared, _ = lift_off_speed_squared(model)
    narrows = (model.seated.per_speed_squared >= 0) & (model.seated.per_traction >= 0) & (model.bore_per_traction >= 0)
    if (narrows & (model.net_growth > 0) & (squared > 0)).all():
        return floats(np.sqrt(squared))  # speed and pull take interference alike: more of it is there at standstill
    standing = contact(model, np.zeros_like(squared)).residual_interference
    with np.errstate(invalid="ignore"):
        lifts = (model.net_growth > 0) | (squared > 0)  # a spider that outgrows the rim leaves it to the growing pull
        by_speed = np.where(lifts, np.sqrt(np.maximum(squared, 0.0)), np.inf)
    if np.isinf(by_speed).any():
        gap, _ = solve_gap(model.seated, model, floats(highest) ** 2 + np.zeros_like(squared))
        by_speed = np.where(np.isinf(by_speed) & np.isnan(gap), np.nan, by_speed)
    return np.where(standing > 0, by_speed, np.where(np.isnan(standing), np.nan, 0.0))


def _float_note(rotor: Rotor, condition: Condition, direction: Direction, speed: Floats) -> str:
    if speed.shape:
        never, standing, shut = np.isinf(speed).sum(), (speed == 0).sum(), np.isnan(speed).sum()
        return f"{speed.size} rotors: {never} never float, {standing} at standstill, {shut} pulled shut before"
    model = coefficients(rotor, condition, direction)

    def left(omega: Floats) -> float:
        return in_mm(float(contact(model, floats(omega) ** 2).residual_interference))

    rated = floats(rotor.speeds.rated)
    name, highest = rotor.speeds.highest_name, rotor.speeds.highest
    if speed == 0:
        seats = " and the spider grows faster than the rim: speed seats it" if model.net_growth < 0 else ""
        return f"floats at standstill: {abs(left(floats(0.0))):.2f} mm clearance{seats}"
    if np.isnan(speed):
        if np.isnan(left(floats(0.0))):
            return "no float speed: the magnetic pull closes the gap at standstill already"
        shut = in_rpm(float(gap_closes(rotor, condition).speed))
        return f"no float speed: the gap closes at {shut:.1f} rpm under the magnetic pull before the rim floats"
    if np.isinf(speed):
        return (
            "never floats by speed: the spider grows at least as fast as the rim; "
            f"{left(floats(highest)):.2f} mm still tight at {name}"
        )
    words = f"lifts off at {rpm(speed)}, {float(speed / rated):.3f} x rated"
    if speed > floats(highest):
        return f"{words}, beyond {name} ({rpm(highest)}): {left(floats(highest)):.2f} mm still tight there"
    return words


def interference_for_float_speed(rotor: Rotor, condition: Condition, speed: Floats | float) -> Floats:
    """Radial interference with which the rim of `condition` lifts off at exactly `speed`.

    The inverse of `float_speed`; settlement and friction (None) are taken from the rotor. The pull is that of the
    gap at that speed; NaN where it has closed the gap by then. Under a spider that outgrows the rim it is the
    interference (mostly a clearance) with which the rim seats at `speed`. Derived here.

    Parameters
    ----------
    rotor : Rotor
        Any field may be an array.
    condition : Condition
        Temperatures and field.
    speed : float or array, rad/s

    Returns
    -------
    array, m

    Raises
    ------
    ValueError
        A speed that can only stand in rpm; see `asked_speed`.
    TypeError
        An argument of another kind, such as a case for a rotor.

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> cold = case.conditions["cold"]
    >>> speed = rm.float_speed(case.rotor, cold).speed
    >>> print(f"{rm.interference_for_float_speed(case.rotor, cold, speed) * 1e3:.6f} mm")
    2.100000 mm
    """
    asked_machine(rotor, condition, "interference_for_float_speed(rotor, condition, speed)")
    return needed_interference(coefficients(rotor.with_interference(0.0), condition), asked_speed(rotor, speed))


def needed_interference(model: Coefficients, omega: Floats) -> Floats:
    """`interference_for_float_speed` from the coefficients of the rotor without interference; derived here.

    Parameters
    ----------
    model : Coefficients
        Of a rotor whose interference is zero.
    omega : array, rad/s

    Returns
    -------
    array, m

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> cold = case.conditions["cold"]
    >>> speed = rm.float_speed(case.rotor, cold).speed
    >>> loose = coefficients(case.rotor.with_interference(0.0), cold)
    >>> print(f"{float(needed_interference(loose, speed)) * 1e3:.6f} mm")
    2.100000 mm
    """
    # the gap of a floating rim depends on the interference only through the assembled state, so solve for both:
    # at lift-off the interference is I = losses + n x + A q(g), and g = G0 + slope max(I, 0) - s_x x - s_q q
    losses = model.net_growth * omega**2 - model.at_rest

    def needed(held: Floats) -> Floats:
        line = GapLine(
            model.floating.at_rest + held * losses,
            model.floating.per_speed_squared,
            model.floating.per_traction - held * model.bore_per_traction,
        )
        return losses + model.bore_per_traction * solve_gap(line, model, omega**2)[1]

    tight = needed(model.edges.outer_displacement.pressure / model.compliance)
    return np.where(tight < 0, needed(floats(0.0)), tight)


def speed_at_gap(rotor: Rotor, condition: Condition, gap: Floats | float) -> CharacteristicSpeed:
    """Speed at which the mean gap has shrunk to `gap`, or at which the pull snaps it shut before that.

    Closed form: at that gap the pull is known, and the gap is piecewise linear in speed squared.

    Parameters
    ----------
    rotor : Rotor
        Any field may be an array.
    condition : Condition
        Temperatures and field.
    gap : float or array, m

    Returns
    -------
    CharacteristicSpeed

    Raises
    ------
    ValueError
        A gap that can only stand in millimetres.
    TypeError
        An argument of another kind, such as a case for a rotor.
    """
    asked_machine(rotor, condition, "speed_at_gap(rotor, condition, gap)")
    model = coefficients(rotor, condition)
    wanted = asked_gap(gap)
    pull = model.cold_pull
    if model.constant_current and np.any(model.cold_pull):
        with np.errstate(divide="ignore", invalid="ignore"):
            pull = np.where(model.cold_pull > 0, model.pull_constant / wanted**2, 0.0)
    snap, at_snap = _snap(model)
    snaps = wanted < at_snap  # the wanted gap lies beyond the last balance
    with np.errstate(invalid="ignore"):
        squared = np.where(snaps, snap, _speed_squared_on_lines(model, wanted, pull))
    speed = np.sqrt(np.maximum(squared, 0.0))
    if speed.shape:
        return CharacteristicSpeed(speed, f"{speed.size} rotors")
    return CharacteristicSpeed(speed, _gap_note(wanted, speed, at_snap if snaps else None))


def _gap_note(wanted: Floats, speed: Floats, at_snap: Floats | None) -> str:
    what = f"gap of {mm(wanted)}"
    at_speed = f"{'gap closes' if wanted == 0 else what} at {rpm(speed)}"
    if at_snap is None:
        return at_speed if speed > 0 else f"{what}: already narrower at standstill"
    if speed == 0:
        return f"{what}: the magnetic pull closes it at standstill"
    if wanted == 0:
        return f"{at_speed}, under the magnetic pull from {mm(at_snap)}"
    return f"{what}: the magnetic pull closes the gap from {mm(at_snap)} before that"


def gap_closes(rotor: Rotor, condition: Condition) -> CharacteristicSpeed:
    """Speed at which the mean gap is gone: pole face on stator bore, or the pull without a balance.

    Parameters
    ----------
    rotor : Rotor
        Any field may be an array.
    condition : Condition
        Temperatures and field.

    Returns
    -------
    CharacteristicSpeed

    Raises
    ------
    TypeError
        An argument of another kind, such as a case for a rotor.
    """
    asked_machine(rotor, condition, "gap_closes(rotor, condition)")
    return speed_at_gap(rotor, condition, 0.0)


def _speed_squared_on_lines(model: Coefficients, gap: Floats, pull: Floats) -> Floats:
    """Speed squared at which a gap is reached under a known pull: seated while that leaves interference."""

    def on(line: GapLine) -> Floats:
        return (line.at_rest - gap - line.per_traction * pull) / line.per_speed_squared

    with np.errstate(invalid="ignore"):
        seated = on(model.seated)
        return np.where(model.interference(seated, pull) >= 0, seated, on(model.floating))


def _snap(model: Coefficients) -> tuple[Floats, Floats]:
    """Speed squared and gap at which the pull has no balance any more; infinite where it always has one."""
    if not (model.constant_current and np.any(model.cold_pull)):
        return floats(np.inf), floats(0.0)

    def edge(line: GapLine) -> tuple[Floats, Floats]:
        # kappa = 4/27: the gap without pull is (27/4 c K)^(1/3), the gap itself two thirds of it
        unpulled = np.cbrt(6.75 * line.per_traction * model.pull_constant)
        return (line.at_rest - unpulled) / line.per_speed_squared, 2 / 3 * unpulled

    seated, seated_gap = edge(model.seated)
    floating, floating_gap = edge(model.floating)
    lift_off, pull = lift_off_speed_squared(model)
    constant = model.pull_constant
    with np.errstate(divide="ignore", invalid="ignore"):
        held = model.interference(seated, constant / seated_gap**2) >= 0
        # a rim that is still seated where a floating one would lose its balance loses it as it lifts off
        loose = ~held & ~(model.interference(floating, constant / floating_gap**2) > 0)
        cases = [held, loose]
        return (
            np.select(cases, [seated, floating], lift_off),
            np.select(cases, [seated_gap, floating_gap], np.sqrt(constant / pull)),
        )


def first_yield(rotor: Rotor, condition: Condition) -> CharacteristicSpeed:
    """Speed at which the rim first yields on its net section, by Tresca, seated or floating, the pull included.

    Seated, the bore carries hoop stress plus contact pressure; floating, the hoop stress of spin, poles and pull.

    Parameters
    ----------
    rotor : Rotor
        Any field may be an array.
    condition : Condition
        Temperatures and field.

    Returns
    -------
    CharacteristicSpeed

    Raises
    ------
    ValueError
        The rim's material has no yield strength.
    TypeError
        An argument of another kind, such as a case for a rotor.
    """
    asked_machine(rotor, condition, "first_yield(rotor, condition)")
    if rotor.rim.material.yield_strength is None:
        raise ValueError("rim material has no yield_strength; give it to ask for the speed of first yield")
    strength = floats(rotor.rim.material.yield_strength) * floats(rotor.rim.net_factor)
    model = coefficients(rotor, condition)
    at_bore = _first_yield_squared(rotor, model, strength)
    outside_first = np.zeros(np.shape(at_bore), dtype=bool)
    if np.any(condition.rim_temperature_rise):  # a bore that is hotter is relieved, and the outside may yield first
        outside = _outside_yield_squared(model, strength)
        outside_first = outside < at_bore
    speed = np.sqrt(np.where(outside_first, outside, at_bore) if outside_first.any() else at_bore)
    if speed.shape:
        return CharacteristicSpeed(speed, f"{speed.size} rotors")
    if np.isnan(speed):
        return CharacteristicSpeed(speed, "no first yield: the magnetic pull closes the gap before the rim yields")
    side = "outside" if outside_first else "bore"
    words = "yields at standstill" if speed == 0 else f"first yield of the rim {side} at {rpm(speed)}"
    return CharacteristicSpeed(speed, words)


def _outside_yield_squared(model: Coefficients, strength: Floats) -> Floats:
    """Speed squared at which the outside of the ring yields, seated while that leaves interference."""
    hoop, left = model.edges.outer_hoop_stress, strength - model.warm_outer_hoop_stress
    spin = hoop.speed_squared + hoop.traction * model.pole_traction
    floating, _ = speed_squared_of(model.floating, model, left, spin, hoop.traction)
    held = hoop.pressure / model.compliance
    pressed, slope = left - held * model.at_rest, spin - held * model.net_growth
    seated, pull = speed_squared_of(model.seated, model, pressed, slope, hoop.traction - held * model.bore_per_traction)
    with np.errstate(invalid="ignore"):
        seated = np.where(slope > 0, seated, np.inf)
        stays = model.interference(np.maximum(seated, 0.0), pull) >= 0
    return np.maximum(np.where(stays, seated, floating), 0.0)


def _first_yield_squared(rotor: Rotor, model: Coefficients, strength: Floats) -> Floats:
    strength = np.maximum(strength - model.warm_bore_hoop_stress, 1.0)  # Pa; heat alone may have used it up
    hoop = model.edges.bore_hoop_stress
    spin = hoop.speed_squared + hoop.traction * model.pole_traction
    floating, _ = speed_squared_of(model.floating, model, strength, spin, hoop.traction)
    # a rim that is stiffer in the hoop direction may peak inside: its speed without pull, over that of its bore
    free = first_yield_speed(rotor.rim.ring, strength, traction_per_speed_squared=model.pole_traction)
    floating = floating * free**2 * spin / strength

    per_pressure = (hoop.pressure + 1) / model.compliance
    left = strength - per_pressure * model.at_rest
    slope, per_pull = spin - per_pressure * model.net_growth, hoop.traction - per_pressure * model.bore_per_traction
    seated, pull = speed_squared_of(model.seated, model, left, slope, per_pull)
    standing = contact(model, floats(0.0))
    at_once = left - per_pull * standing.pull <= 0
    with np.errstate(invalid="ignore"):
        seated = np.where(at_once, 0.0, np.where(slope > 0, seated, np.inf))
        held = np.where(at_once, standing.residual_interference, model.interference(seated, pull)) >= 0
    return np.maximum(np.where(held, seated, floating), 0.0)
