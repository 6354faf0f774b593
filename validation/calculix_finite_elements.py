"""Rings, a shrink fit with contact and a keyed rim against CalculiX, a general finite-element program.

It runs as a program of its own, on sectors of 20-node bricks (`rimmodel.second_opinion.bricks`). Where nothing touches,
what differs is the seventh digit that it prints. In the shrink fit the spider is drawn too large by the interference,
and face-to-face contact has to find where the two surfaces meet. Calling both radii the same, as rimmodel does, costs
up to 1e-4 of an interference that is 1/2000 of the radius, and a hundred times less where the interference is a
hundredth; a warm spider grows by the thermal strain of its interference as well, 3.3e-4 of it at 30 K. Float speed is
where the line of the rim outside through two seated speeds crosses that through two free ones, in speed squared.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rimmodel import float_speed, sweep
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.elastic import HarmonicRing, Ring, key_shape_amplitudes, ring_edges, scalloped_compliance
from rimmodel.rotor import (
    REFERENCE_TEMPERATURE,
    UNIFORM_COLD,
    AirGap,
    Condition,
    DiscSpider,
    Material,
    Poles,
    Rim,
    Rotor,
    ShrinkFit,
    Speeds,
)
from rimmodel.second_opinion.bricks import THICKNESS, Sector, collection
from rimmodel.second_opinion.keyed import steps
from validation.calculix_decks import require_program, solve, steel_of
from validation.check import Check, Provenance

Floats = NDArray[np.float64]

SOURCE = "CalculiX, 20-node bricks, a thin layer"
DIGITS = "seven digits are printed, the last at worst 5e-7; twice the elements change nothing else"
WARM_DIGITS = "seven printed digits, and 2e-7 of three dimensions in a layer of 1 mm (1.7e-5 in one of 10 mm)"
LARGER = "the spider is drawn larger by the interference, 5e-4 of the radius; twice the elements change nothing"
LARGER_AND_WARM = "so drawn, the interference itself warms by 30 K: 3.3e-4 of it, half as much of the speed"
LARGER_BY_LITTLE = "5e-6 of the radius too large costs 4e-7; the rest is digits printed, on lines that are extended"
MESH = "elements of half the size move it by 3e-6"

A, B = 3.2, 3.6
STEEL, SPIDER_STEEL = Material(206e9, 0.3, 7850.0, 12e-6), Material(203e9, 0.28, 7800.0, 11e-6)
ALIKE = Ring(A, B, 206e9, 0.3, 7850.0, 1.0, 12e-6)
STACKED = replace(ALIKE, hoop_stiffness_factor=0.7)
SPEED, PRESSURE, WARMTH = 20.0, 10e6, (60.0, 20.0)
ROTOR = Rotor(
    Rim(STEEL, A, B, 1.8, 0.97, 0.85),
    Poles(40, 4000.0, 3.8, 4.1),
    DiscSpider(SPIDER_STEEL, 1.0, 1.8),
    ShrinkFit(1.5e-3),
    AirGap(17e-3),
    Speeds(12.0, 16.0, 22.0),
)
WARM = Condition(REFERENCE_TEMPERATURE + 40.0, REFERENCE_TEMPERATURE + 30.0)
KEYS, WIDTH = 12, 0.25
"""Invented, all of them."""

SLICE = np.radians([0.0, 4.0])
CONTACT_STIFFNESS = 1e16
"""Pa/m: the faces sink into each other by 1e-6 of the interference."""


def _spin(name: str, speed: float) -> str:
    return f"{name}, CENTRIF, {speed**2:.14g}, 0, 0, 0, 0, 0, 1"


def _edges(ring: Ring) -> dict[str, tuple[float, float]]:
    """Displacement (m) of bore and outside under each load alone."""
    sector = Sector("RIM", 1, np.linspace(A, B, 9), SLICE)
    rise = np.interp(sector.radius, [A, B], WARMTH)
    warmth = [f"{sector.node(*place)}, {rise[place[0]]:.14g}" for place in sector.places]
    steps = {
        "spin": ["*DLOAD, OP=NEW", _spin("RIM", SPEED)],
        "bore pressure": ["*DLOAD, OP=NEW", f"RIMBORE, P6, {PRESSURE}"],
        "outside traction": ["*DLOAD, OP=NEW", f"RIMOUTSIDE, P4, {-PRESSURE}"],
        "linear temperature": ["*DLOAD, OP=NEW", "*TEMPERATURE", *warmth],
    }
    states = solve(sector.deck(steel_of(ring)), [sector], list(steps.values()))
    ends = sector.node(0, 0), sector.node(-1, 0)
    return {name: (step.radial[ends[0]], step.radial[ends[1]]) for name, step in zip(steps, states, strict=True)}


def _ring_checks() -> list[Check]:
    loads = {
        "spin": {"speed": SPEED},
        "bore pressure": {"inner_pressure": PRESSURE},
        "outside traction": {"outer_traction": PRESSURE},
        "linear temperature": {"temperature": WARMTH},
    }
    wanted = {
        "isotropic": (ALIKE, ("spin", "bore pressure", "outside traction")),
        "hoop stiffness 0.7": (STACKED, ("spin", "bore pressure", "linear temperature")),
    }
    rows = []
    for label, (ring, names) in wanted.items():
        theirs = _edges(ring)
        for name, (place, radius) in product(names, (("bore", A), ("outside", B))):
            what = f"ring of 3.2/3.6 m, {label}: growth of the {place} by {name}"
            ours = partial(ring.radial_displacement, radius, **loads[name])
            reason = WARM_DIGITS if "temperature" in name else DIGITS
            rows.append(_check(f"CCX-1.{len(rows) + 1}", what, theirs[name][radius == B], "m", ours, 1e-6, reason))
    return rows


@dataclass(frozen=True)
class Fitted:
    """States of a shrink fit: radial displacements (m), and contact pressure (Pa) that holds at standstill only."""

    rim_outside: Floats
    rim_bore: Floats
    spider_outside: Floats
    standstill_pressure: Floats


def _fitted(rotor: Rotor, condition: Condition, speeds: Sequence[float] | Floats) -> Fitted:
    """Rim and spider in contact at each speed (rad/s)."""
    poles, steel, hole = rotor.poles, rotor.spider.material, rotor.spider.inner_radius
    disc = Ring(hole, A, steel.young_modulus, steel.poisson_ratio, steel.density, 1.0, steel.thermal_expansion)
    spider = Sector("SPIDER", 1, np.linspace(hole, A + rotor.fit.interference, 13), SLICE)
    rim = Sector("RIM", 10001, np.linspace(A, B, 5), SLICE)
    deck = [
        *spider.deck(steel_of(disc)),
        *rim.deck(steel_of(rotor.rim.ring)),
        *("*SURFACE, NAME=BORE", "RIMBORE, S6", "*SURFACE, NAME=SEAT", "SPIDEROUTSIDE, S4"),
        *("*SURFACE INTERACTION, NAME=FIT", "*SURFACE BEHAVIOR, PRESSURE-OVERCLOSURE=LINEAR", f"{CONTACT_STIFFNESS}"),
        *("*CONTACT PAIR, INTERACTION=FIT, TYPE=SURFACE TO SURFACE", "BORE, SEAT"),
    ]
    traction = poles.count * poles.mass * poles.mass_radius / (2 * np.pi * B * rotor.rim.length)
    rises = (condition.rim_temperature - REFERENCE_TEMPERATURE, condition.spider_temperature - REFERENCE_TEMPERATURE)
    warmth = ["*TEMPERATURE", f"RIM, {rises[0]:.14g}", f"SPIDER, {rises[1]:.14g}"]
    steps = [
        [*warmth, "*DLOAD, OP=NEW", _spin("RIM", w), _spin("SPIDER", w), f"RIMOUTSIDE, P4, {-traction * w * w:.14g}"]
        for w in speeds
    ]
    states = solve(deck, [spider, rim], steps)
    places = (rim.node(-1, 0), rim.node(0, 0), spider.node(-1, 0))
    moved = (np.array([state.radial[place] for state in states]) for place in places)
    return Fitted(*moved, np.array([-state.side_force["RIM"] for state in states]) / (A * THICKNESS))


def _knee(outside: Floats, speeds: Sequence[float]) -> float:
    """Speed (rad/s) at which the line of two seated speeds crosses that of two free ones, both in speed squared."""
    x = np.asarray(speeds) ** 2
    seated, free = np.polyfit(x[:2], outside[:2], 1), np.polyfit(x[2:], outside[2:], 1)
    return float(np.sqrt((seated[1] - free[1]) / (free[0] - seated[0])))


def _fit_checks() -> list[Check]:
    """The rotor at standstill, seated, and 1 % below and above our float speed."""
    lift = float(float_speed(ROTOR, UNIFORM_COLD).speed)
    speeds = np.array([0.0, 16.0, 0.99 * lift, 1.01 * lift])
    theirs, ours, model = (
        _fitted(ROTOR, UNIFORM_COLD, speeds),
        sweep(ROTOR, UNIFORM_COLD, speeds),
        coefficients(ROTOR, UNIFORM_COLD),
    )
    pressure = ours.contact_pressure
    pushed = model.edges.outer_displacement.pressure * pressure
    spider = model.spider.growth_per_speed_squared * speeds**2 - model.spider.compliance * pressure
    # the rim is free in the last state, where its growth is that of speed squared alone
    push = theirs.rim_outside - theirs.rim_outside[-1] * (speeds / speeds[-1]) ** 2
    growth = theirs.rim_outside - theirs.rim_outside[0]
    opened = theirs.rim_bore - theirs.spider_outside - ROTOR.fit.interference
    wanted = [
        ("contact pressure at standstill, from the force across the rim", theirs.standstill_pressure, pressure, 0),
        ("rim outside at standstill, pushed out by the spider", theirs.rim_outside, pushed, 0),
        ("spider at standstill", theirs.spider_outside, spider, 0),
        ("growth of the rim outside to 16 rad/s, seated", growth, ours.rim_outer_growth, 1),
        ("spider at 16 rad/s, seated", theirs.spider_outside, spider, 1),
        ("1 % below our float speed: rim outside, still pushed out by", push, pushed, 2),
        ("1 % above our float speed: clearance", opened, -ours.residual_interference, 3),
    ]
    rows = []
    for number, (what, other, own, at) in enumerate(wanted, start=1):
        value, unit = float(own[at]), "Pa" if "pressure" in what else "m"
        row = _check(f"CCX-2.{number}", f"shrink fit: {what}", float(other[at]), unit, lambda v=value: v, 1e-4, LARGER)
        of_fit = {"scale": ROTOR.fit.interference, "note": "differences are relative to the interference"}
        rows.append(replace(row, **of_fit) if unit == "m" else row)
    return rows


def _float_checks() -> list[Check]:
    """Float speed of the rotor cold, warm, and with a hundredth of its interference."""
    small = ROTOR.with_interference(ROTOR.fit.interference / 100)
    warmer = "rim 10 K warmer than the spider"
    wanted = [
        ("cold", ROTOR, UNIFORM_COLD, (12.0, 16.0, 20.0, 22.0), 1e-4, LARGER),
        (warmer, ROTOR, WARM, (8.0, 12.0, 18.0, 22.0), 3e-4, LARGER_AND_WARM),
        ("a hundredth of the interference", small, UNIFORM_COLD, (1.2, 1.6, 2.0, 2.2), 2e-6, LARGER_BY_LITTLE),
    ]
    rows = []
    for number, (label, rotor, condition, speeds, tolerance, reason) in enumerate(wanted, start=1):
        theirs = _knee(_fitted(rotor, condition, speeds).rim_outside, speeds)
        own = float(float_speed(rotor, condition).speed)
        what = f"float speed, {label}: where seated and free line of the rim outside cross"
        rows.append(_check(f"CCX-3.{number}", what, theirs, "rad/s", lambda v=own: v, tolerance, reason))
    return rows


def _keyed() -> tuple[float, float, float]:
    """Displacement (m) under a key (mean), of the outside above it, and of the outside between keys: half a pitch."""
    half, pitch = WIDTH / (2 * A), np.pi / KEYS
    under = half - steps(half, 0.05 * half, 0.5 * half)[::-1]
    angles = np.concatenate([under, half + steps(pitch - half, 0.05 * half, 0.02)[1:]])
    sector = Sector("RIM", 1, A + (B - A) * np.linspace(0.0, 1.0, 17) ** 1.5, angles)
    deck = sector.deck(steel_of(ALIKE))
    deck += collection("ELSET", "KEY", (sector.brick(0, j) for j in range(under.size - 1)))
    [state] = solve(deck, [sector], [["*DLOAD", f"KEY, P6, {PRESSURE}"]])
    bore = np.array([state.radial[sector.node(0, j)] for j in range(2 * under.size - 1)])
    simpson = np.diff(under) / 6 * (bore[:-2:2] + 4 * bore[1::2] + bore[2::2])
    return float(simpson.sum() / half), state.radial[sector.node(-1, 0)], state.radial[sector.node(-1, -1)]


def _key_checks() -> list[Check]:
    ring, even = HarmonicRing(A, B, ALIKE.young_modulus, ALIKE.poisson_ratio), ring_edges(ALIKE)
    smeared = PRESSURE * KEYS * WIDTH / (2 * np.pi * A)
    mean = scalloped_compliance(ring, KEYS, WIDTH, even.bore_displacement.pressure) * smeared
    angles, order = 2 * np.pi * np.arange(KEYS) / KEYS, 120
    waves = key_shape_amplitudes(ring, 1.0, angles, WIDTH, even.outer_displacement.pressure, order).sum(axis=-1)
    signs = (-1.0) ** (np.arange(order + 1) // KEYS)  # half a pitch on; only multiples of the key count are left
    outside = [PRESSURE * WIDTH * float(np.sum(waves.real * sign)) for sign in (1.0, signs)]
    places = ("bore under a key, mean", "outside above a key", "outside between keys")
    rows = zip(places, (float(mean), *outside), _keyed(), strict=True)
    return [
        _check(f"CCX-4.{number}", f"rim on 12 keys: {place}", other, "m", lambda v=own: v, 1e-5, MESH)
        for number, (place, own, other) in enumerate(rows, start=1)
    ]


def _check(identity: str, what: str, other: float, unit: str, ours: Any, tolerance: float, reason: str) -> Check:
    method = Provenance.INDEPENDENT_METHOD
    return Check(identity, what, SOURCE, other, unit, ours, method, tolerance=tolerance, reason=reason)


def checks() -> tuple[Check, ...]:
    """Every comparison of this file; about four seconds."""
    require_program("calculix_finite_elements")
    return (*_ring_checks(), *_fit_checks(), *_float_checks(), *_key_checks())


if __name__ == "__main__":
    for outcome in (row.run() for row in checks()):
        print(f"{outcome.check.what:100s} {outcome.difference:9.1e} {outcome.check.allowed:g} {outcome.holds}")
