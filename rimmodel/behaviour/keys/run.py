"""A run of the rotor key by key: forces, centre and shape at each speed, every event, and the characteristic speeds."""

from __future__ import annotations

from dataclasses import dataclass, fields, is_dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Complex, Floats, floats
from rimmodel.behaviour.contact.asked import asked_speed
from rimmodel.behaviour.contact.shape import bending_stiffness, minimum_gap
from rimmodel.behaviour.contact.state import contact
from rimmodel.behaviour.keys.complementarity import pressed_keys, settle
from rimmodel.behaviour.keys.events import KeyPath
from rimmodel.behaviour.keys.keyed_rotor import KeyedRotor, keyed_rotor
from rimmodel.behaviour.keys.lockstep import follow
from rimmodel.behaviour.keys.path import KeySpeeds, RunEvent, key_speeds, run_events, run_notes
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.blocks import array_shape


@dataclass(frozen=True)
class KeyRun:
    """States (n speeds, N keys) of the rotor in a run-up, its events, its characteristic speeds, and notes in words.

    NaN where no state exists, which a note explains.

    Attributes
    ----------
    speed : array (n,), rad/s
    key_angle : array (N,), rad
    key_force : array (n, N), N
    clearance : array (n, N), m
        Zero at seated keys.
    centre : array (n, 2), m
        Of the rim, in the turning frame.
    ovality : array (n,), m
        Amplitude of the second harmonic of the outer radius, shape as built included.
    outer_harmonics : complex array (n, h), m
        Harmonics 0, 1, 2, ... of the outer radius against the even circle, for `shape.profile`.
    mean_gap : array (n,), m
    eccentricity : array (n,), m
        The worst: once the rim leans on a few keys that is the tangential clearance where it is known.
    minimum_gap : array (n,), m
        With that and the shape taken off.
    """

    speed: Floats
    key_angle: Floats
    key_force: Floats
    clearance: Floats
    centre: Floats
    ovality: Floats
    outer_harmonics: Complex
    mean_gap: Floats
    eccentricity: Floats
    minimum_gap: Floats
    events: tuple[RunEvent, ...]
    event_speeds: KeySpeeds
    notes: tuple[str, ...]


def key_run(rotor: Rotor, condition: Condition, speed: ArrayLike | None = None, **setup: Any) -> KeyRun:
    """Run a rotor up key by key.

    Parameters
    ----------
    rotor : Rotor
        Of scalar fields, as the condition.
    speed : array (n,), rad/s, optional
        Where states are wanted; 101 speeds from standstill to the highest named one by default. Events and
        characteristic speeds do not depend on them.
    **setup
        Further arguments of `keyed_rotor`.

    Raises
    ------
    ValueError
        As `keyed_rotor`; or a speed below zero, or one that can only stand in rpm.

    Even keys all lift off at the speed at which the smeared rim does:

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> run = key_run(case.rotor, case.conditions["cold"], key_interference=np.full(14, 2.1e-3))
    >>> print(f"{run.event_speeds.first_lift_off / rm.float_speed(case.rotor, case.conditions['cold']).speed:.9f}")
    1.000000000
    """
    highest = float(rotor.speeds.highest)
    omega = np.linspace(0.0, highest, 101) if speed is None else np.atleast_1d(asked_speed(rotor, speed))
    farthest = max(highest, float(omega.max(initial=0.0)))
    if setup:
        keyed = keyed_rotor(rotor, condition, highest_speed=farthest, **setup)
        return run_of(keyed, follow(keyed.loads), omega)
    return run_of(*followed(rotor, condition, farthest), omega)


def followed(rotor: Rotor, condition: Condition, highest_speed: float | None = None) -> tuple[KeyedRotor, KeyPath]:
    """A rotor set up key by key and its path, kept for the next who asks: a review asks at several speeds.

    Parameters
    ----------
    rotor : Rotor
        Of scalar fields, as the condition.
    highest_speed : float, rad/s, optional
        The path runs at least this far; to the highest named speed by default.

    Raises
    ------
    ValueError
        As `keyed_rotor`.

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> followed(case.rotor, case.conditions["cold"]) is followed(case.rotor, case.conditions["cold"])
    True
    """
    if array_shape(rotor, condition) != ():
        raise ValueError("rotor or condition holds arrays; keys are followed one rotor at a time: give scalars")
    highest = float(rotor.speeds.highest)
    return _followed(plain_numbers(rotor), plain_numbers(condition), max(highest, highest_speed or 0.0))


def plain_numbers(stored: Any) -> Any:
    """The same dataclass, nested ones included, with numbers in place of arrays without a dimension.

    So one of scalar fields can be remembered by.
    """
    changes: dict[str, Any] = {}
    for f in fields(stored):
        value = getattr(stored, f.name)
        if isinstance(value, np.ndarray) and not value.ndim:
            changes[f.name] = float(value)
        elif is_dataclass(value) and not isinstance(value, type):
            changes[f.name] = plain_numbers(value)
    return replace(stored, **changes) if changes else stored


@lru_cache(maxsize=32)
def _followed(rotor: Rotor, condition: Condition, highest_speed: float) -> tuple[KeyedRotor, KeyPath]:
    keyed = keyed_rotor(rotor, condition, highest_speed=highest_speed)
    return keyed, follow(keyed.loads)


def run_of(keyed: KeyedRotor, path: KeyPath, speed: Floats) -> KeyRun:
    """States of a followed path at given speeds, with what follows from them.

    Parameters
    ----------
    speed : array (n,), rad/s
    """
    x, keys = speed**2, keyed.key_angle.size
    rows = _rows(path, x)
    seated = _seated(path, x, keys)
    force, clearance = np.where(seated, rows[:, :keys], 0.0), np.where(seated, 0.0, rows[:, :keys])
    mode = rows[:, keys:]
    marks = key_speeds(keyed, path)
    stop = keyed.rotor.fit.tangential_clearance
    leans = min((mark for mark in (marks.centring_lost, marks.one_sided) if mark is not None), default=np.inf)
    if stop:
        _rest_on_guides(keyed, x, float(stop), leans, force, clearance, mode)
    outer = _outer_harmonics(keyed, force, mode)
    off = np.hypot(mode[:, 0], mode[:, 1])
    worst = np.where(speed > leans, float(stop), off) if stop else off
    gap = _mean_gap(keyed, x, force)
    shape = outer.copy()
    shape[:, 0] = 0.0
    least = minimum_gap(gap, np.nan_to_num(shape)) - (worst - off)
    events = run_events(path)
    notes = run_notes(keyed, path, marks, events, bool(np.isnan(off).any()))
    return KeyRun(
        speed, keyed.key_angle, force, clearance, mode[:, :2], np.abs(outer[:, 2]), outer, gap, worst,
        np.where(np.isnan(off), np.nan, least), events, marks, notes,
    )  # fmt: skip


def _rows(path: KeyPath, x: Floats) -> Floats:
    """Rows (force or clearance of each key, then modes) at each x; NaN beyond the end of the path."""
    size = len(path.pieces[0].table) if path.pieces else 0
    rows = np.full((x.size, size), np.nan)
    for inside, piece in _places(path, x):
        rows[inside] = piece.at(np.maximum(x[inside], piece.start))
    return rows


def _seated(path: KeyPath, x: Floats, keys: int) -> Any:
    seated = np.zeros((x.size, keys), dtype=bool)
    for inside, piece in _places(path, x):
        seated[inside] = piece.seated
    return seated


def _places(path: KeyPath, x: Floats) -> Any:
    """Which x lie in which piece; the piece that starts last where two meet, and the next where they are apart."""
    stops = np.array([piece.stop for piece in path.pieces])
    number = np.searchsorted(stops, x, side="left")
    for place in np.unique(number[number < stops.size]):
        yield number == place, path.pieces[place]


def _rest_on_guides(
    keyed: KeyedRotor, x: Floats, stop: float, lost: float, force: Floats, clearance: Floats, mode: Floats
) -> None:
    """Hold the rim at the tangential clearance where it has run farther; forces and modes are changed in place."""
    off = np.hypot(mode[:, 0], mode[:, 1])
    last = np.array([1.0, 0.0])
    for row in np.flatnonzero(x > lost**2):
        if np.isfinite(off[row]) and off[row] <= stop:
            continue
        last = mode[row, :2] / off[row] if np.isfinite(off[row]) else last
        held = keyed.loads.at(float(x[row]))
        free = replace(
            held,
            shape=held.shape[:, 2:],
            interference=held.interference - held.shape[:, :2] @ (stop * last),
            stiffness=held.stiffness[2:],
            force=held.force[2:],
        )
        start = np.nan_to_num(mode[row, 2:])
        found = settle(free, start)
        mode[row, :2] = stop * last
        if found is None:
            mode[row] = force[row] = clearance[row] = np.nan
        else:
            mode[row, 2:], force[row], clearance[row] = found.mode, found.key_force, found.clearance


def _outer_harmonics(keyed: KeyedRotor, force: Floats, mode: Floats) -> Complex:
    """Harmonics of the outer radius (n, h): as built, the modes carried outside, and what keys press in beyond them."""
    outer = keyed.built + np.nan_to_num(force) @ keyed.outer_per_force.T
    waves = mode[:, 0::2] - 1j * mode[:, 1::2]
    outer[:, 1 : waves.shape[1] + 1] += waves * keyed.outer_ratio
    return outer


def _mean_gap(keyed: KeyedRotor, x: Floats, force: Floats) -> Floats:
    """Mean gap (m): as in the smeared model, with the mean pressure of the keys now and as assembled."""
    model, rotor = keyed.gap_model, keyed.rotor
    area = 2.0 * np.pi * float(rotor.rim.inner_radius) * float(rotor.rim.length)
    grow = model.edges.outer_displacement.pressure
    smeared = np.maximum(floats(rotor.fit.interference), 0.0) / model.compliance
    cold = keyed.loads.at(0.0)
    stiffness = _bare_stiffness(keyed)
    assembled = settle(
        replace(cold, interference=keyed.assembled, stiffness=stiffness, force=np.zeros_like(cold.force)),
        np.zeros(stiffness.size),
    )
    pressed = (
        assembled.key_force
        if assembled is not None
        else pressed_keys(cold.compliance, keyed.assembled, keyed.assembled > 0.0)[1]
    )
    line, pull = model.floating, contact(model, x).pull
    change = grow * (pressed.sum() / area - smeared - force.sum(axis=1) / area)
    return floats(line.at_rest - line.per_speed_squared * x - line.per_traction * pull + change)


def _bare_stiffness(keyed: KeyedRotor) -> Floats:
    """Stiffness (m,) N/m of the modes at standstill without a field."""
    rim, fit = keyed.rotor.rim, keyed.rotor.fit
    area = np.pi * float(rim.inner_radius) * float(rim.length)
    guides = 0.0 if fit.tangential_clearance else float(fit.guide_stiffness)
    held = bending_stiffness(keyed.rotor, keyed.harmonic) * area
    return floats(np.repeat(held + np.where(keyed.harmonic == 1.0, guides, 0.0), 2))
