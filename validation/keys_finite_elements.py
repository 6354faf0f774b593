"""Uneven keys on a spinning rim, plane stress: forces and lift-off speeds against a finite-element contact solve.

The whole ring of `validation.ring_harmonics_finite_elements`, now spinning: body force, what it gains by displacement,
stiffening by the hoop tension of the spin, and the poles as a mass on the outer edge. Nothing is split into harmonics
and the elastic part of the first one is in. At three speeds the mesh is reduced to the mean displacement under each
key and the mean shift of the bore; the reduced stiffness, almost a straight line in speed squared, is interpolated
by a parabola. Keys are then found by non-negative least squares (scipy), and lift-offs by halving the speed step.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rimmodel.behaviour.keys.run import KeyRun, key_run
from rimmodel.elastic import Ring as SpinningRing
from rimmodel.rotor import UNIFORM_COLD, AirGap, GivenSpider, Material, Poles, Rim, Rotor, ShrinkFit, Speeds
from validation.ring_harmonics_finite_elements import (
    LENGTH,
    SYMMETRIC,
    Check,
    Ring,
    _assemble,
    _closed,
    _edge_integral,
    _graded,
    _radial_nodes,
    _under,
)

Floats = NDArray[np.float64]

SOURCE = "scikit-fem, nine-node quadrilaterals, plane stress; contact by non-negative least squares"
REASON = (
    "the shift of the rim is rigid in the sums, up to 0.3 % of one key's compliance, less where the neighbours share; "
    "the spin of a harmonic is that of a thin ring, a few percent of a stiffness of which it is a tenth"
)
TOLERANCE = 2e-3
"""Asked for is 1 %; a wrong term should not hide below it."""

STEEL = Material(206e9, 0.3, 7850.0)
KEYS, WIDTH = 10, 0.25
INTERFERENCE = 1e-3 * np.array([1.5, 1.9, 1.2, 1.6, 1.4, 1.75, 1.3, 1.55, 1.1, 1.7])
GUIDES = 4e9
SPEEDS = (12.0, 16.0, 18.0, 20.0)
"""Invented: radial interference of each key (m), stiffness of the guides (N/m), speeds (rad/s)."""

ROTOR = Rotor(
    Rim(STEEL, 3.3, 3.72, LENGTH),
    Poles(40, 6e3, 3.72, 4.2),
    GivenSpider(3e10, 0.15e-3, 20.0),
    ShrinkFit(float(INTERFERENCE.mean()), key_count=KEYS, key_width=WIDTH, guide_stiffness=GUIDES),
    AirGap(15e-3),
    Speeds(10.0, 14.0, 20.0),
)


@dataclass(frozen=True)
class ReducedRing:
    """Stiffness (N/m) and load (N) at the keys and the two shifts of the bore, as parabolas in speed squared."""

    stiffness: Floats
    load: Floats

    def key_force(self, speed: float) -> Floats:
        """Key forces (N) at one speed."""
        from scipy.linalg import cholesky, solve_triangular
        from scipy.optimize import nnls

        x = speed**2
        powers = x ** np.arange(3.0)
        stiffness, load = np.tensordot(powers, self.stiffness, 1), powers @ self.load
        stiffness[[-2, -1], [-2, -1]] += GUIDES
        soft = np.linalg.inv(stiffness)
        spider = ROTOR.spider
        growth = spider.growth / spider.growth_speed**2 * x
        wanted = INTERFERENCE + growth - (soft @ load)[:KEYS]
        whole = soft[:KEYS, :KEYS] + np.eye(KEYS) * KEYS / spider.radial_stiffness
        root = cholesky(0.5 * (whole + whole.T))
        return np.asarray(nnls(root, solve_triangular(root, wanted, trans="T"))[0])


@cache
def reduced_ring(smallest: float = 0.2) -> ReducedRing:
    """Reduce the mesh at three speeds; a few seconds."""
    from scipy.sparse import bmat, csr_matrix
    from scipy.sparse.linalg import splu

    ring = Ring(ROTOR.rim.inner_radius, ROTOR.rim.outer_radius)
    patch = WIDTH / ring.inner_radius
    key_angle = 2.0 * math.pi * np.arange(KEYS) / KEYS
    seam = -math.pi / KEYS
    ends = sorted([angle + side * 0.5 * patch for angle in key_angle for side in (-1.0, 1.0)])
    size = smallest * 0.5 * patch
    angles = _graded([seam, *ends, seam + 2.0 * math.pi], size, 2.0, 0.03)
    model = _assemble(ring, angles, _radial_nodes(ring, size, 1.5))
    means = [_edge_integral(model.bore, _under(angle, patch)) / patch for angle in key_angle]
    shifts = [_edge_integral(model.bore, wave) / math.pi for wave in (np.cos, np.sin)]
    close = _closed(model.basis, angles)
    probe = close.T @ np.array([*means, *shifts]).T
    turn = csr_matrix(_edge_integral(model.bore, np.ones_like, component=1)[None, :]) @ close * STEEL.young_modulus
    softening, load = _spin(model)
    nodes = np.array([10.0, 17.0, 22.0]) ** 2
    stiff, force = [], []
    for x in nodes:
        at_speed = close.T @ (model.stiffness + x * softening) @ close
        factor = splu(bmat([[at_speed, turn.T], [turn, None]], format="csc"), permc_spec=SYMMETRIC)
        right = np.column_stack([probe, x * (close.T @ load)])
        answer = probe.T @ factor.solve(np.vstack([right, np.zeros(right.shape[1])]))[:-1]
        inverse = np.linalg.inv(answer[:, :-1] / LENGTH)
        stiff.append(inverse)
        force.append(inverse @ answer[:, -1])
    powers = np.linalg.inv(nodes[:, None] ** np.arange(3.0))
    return ReducedRing(np.tensordot(powers, np.array(stiff), 1), powers @ np.array(force))


def _spin(model: Any) -> tuple[Any, Floats]:
    """Stiffness and load per speed squared: hoop tension, less what a displaced mass gains; body and pole force."""
    from skfem import BilinearForm, LinearForm

    rim, poles = ROTOR.rim, ROTOR.poles
    edge_mass = poles.count * poles.mass / (2.0 * math.pi * rim.outer_radius * LENGTH)
    spun = SpinningRing(rim.inner_radius, rim.outer_radius, STEEL.young_modulus, STEEL.poisson_ratio, STEEL.density)

    def tension(u: Any, v: Any, w: Any) -> Any:
        r = w.x[0]
        state = spun.state(np.clip(r, rim.inner_radius, rim.outer_radius), 1.0, 0.0, edge_mass * rim.outer_radius)

        def slopes(f: Any) -> tuple[Any, Any, Any, Any]:
            g = f.grad
            return g[0, 0], g[1, 0], (g[0, 1] - f[1]) / r, (g[1, 1] + f[0]) / r

        (a, b, c, d), (e, f, g, h) = slopes(u), slopes(v)
        stiffening = state.radial_stress * (a * e + b * f) + state.hoop_stress * (c * g + d * h)
        return (stiffening - STEEL.density * (u[0] * v[0] + u[1] * v[1])) * r

    def edge(u: Any, v: Any, w: Any) -> Any:
        return -edge_mass * (u[0] * v[0] + u[1] * v[1]) * rim.outer_radius

    body = LinearForm(lambda v, w: STEEL.density * w.x[0] ** 2 * v[0]).assemble(model.basis)
    poles_load = LinearForm(lambda v, w: edge_mass * rim.outer_radius**2 * v[0]).assemble(model.outer)
    softening = BilinearForm(tension).assemble(model.basis) + BilinearForm(edge).assemble(model.outer)
    return softening, np.asarray(body + poles_load)


def lift_offs(ring: ReducedRing, slowest: float, fastest: float) -> dict[int, float]:
    """Speed (rad/s) at which each key loses its force for the last time, by steps and halving."""
    speeds = np.linspace(slowest, fastest, 121)
    forces = np.array([ring.key_force(speed) for speed in speeds])
    found = {}
    for key in range(KEYS):
        pressed = np.flatnonzero(forces[:, key] > 0.0)
        if pressed.size == 0 or pressed[-1] == speeds.size - 1:
            continue
        low, high = speeds[pressed[-1]], speeds[pressed[-1] + 1]
        for _ in range(30):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if ring.key_force(middle)[key] > 0.0 else (low, middle)
        found[key + 1] = 0.5 * (low + high)
    return found


def our_run() -> KeyRun:
    """Our run at the same speeds."""
    return key_run(ROTOR, UNIFORM_COLD, np.array(SPEEDS), key_interference=INTERFERENCE)


def checks() -> list[Check]:
    """Every key force at each speed, of the largest force there, and every lift-off speed; about ten seconds."""
    run, ring, rows = our_run(), reduced_ring(), []
    for row, speed in enumerate(SPEEDS):
        other = ring.key_force(speed)
        worst = int(np.argmax(np.abs(run.key_force[row] - other)))
        for key in sorted({worst, int(np.argmax(other))}):
            ours = run.key_force[row, key]
            name = f"10 uneven keys at {speed:g} rad/s: force on key {key + 1}{', the worst' if key == worst else ''}"
            rows.append(_check(name, ours, other[key], other.max(), "N"))
    last = {event.key: event.speed for event in run.events if event.kind == "lift-off"}
    for key, speed in sorted(lift_offs(ring, 12.0, 22.0).items(), key=lambda pair: pair[1]):
        rows.append(_check(f"10 uneven keys: lift-off of key {key}", last[key], speed, speed, "rad/s"))
    return rows


def _check(what: str, ours: float, other: float, scale: float, unit: str) -> Check:
    relative = abs(float(ours - other)) / float(scale)
    return Check(what, SOURCE, float(ours), float(other), relative, TOLERANCE, REASON, unit)


if __name__ == "__main__":
    for line in checks():
        print(f"{line.what:62s} {line.ours:12.6g} {line.other:12.6g} {line.relative_difference:9.1e}")
