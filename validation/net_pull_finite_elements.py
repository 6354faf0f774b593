"""Net pull of a gap that is not even: the integral of rimmodel.behaviour.least_gap against plane finite elements.

scikit-fem, nine-node quadrilaterals, magnetic scalar potential between two irons without reluctance: a wave of p pole
pairs on the rotor, nothing on the bore. The force is the growth of the field's energy at fixed potential as the rotor
is shifted, a difference of two solutions to each side. What the field does between poles and along the gap is in the
elements and not in ours, whose traction is that of the local gap.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np
from numpy.typing import NDArray

from rimmodel.behaviour.least_gap.net_pull import PulledGap, net_pull
from validation.check import Check, Provenance

Floats = NDArray[np.float64]

MAGNETIC_CONSTANT = 4e-7 * np.pi
FACE, GAP = 4.58, 16e-3
FLUX = 0.9
"""T, peak where the gap is the mean."""
PER_WAVE, THROUGH = 24, 3
"""Elements to a wave of the poles, and through the gap."""
STEP = 2e-5
"""m, by which the rotor is shifted to each side."""
SOURCE = "scikit-fem, nine-node quadrilaterals, scalar potential, energy at two shifts"
REASON = "ours takes the traction at the radius of the faces, the elements act at mid-gap: g/(2 r), 0.2 %"


def energy(pairs: int, centre: complex, rotor: Callable[[Floats], Floats], bore: Callable[[Floats], Floats]) -> float:
    """Energy of the field, J/m, with the rotor centre at x + i y; radii (m) of both outlines over their own angle."""
    from skfem import Basis, BilinearForm, ElementQuad2, MeshQuad, condense, solve

    count = PER_WAVE * pairs
    angle = 2.0 * np.pi * np.arange(count) / count
    ray = np.exp(1j * angle)
    inner = centre + rotor(angle) * ray
    outer = bore(angle) * ray
    share = np.linspace(0.0, 1.0, THROUGH + 1)[:, None]
    nodes = ((1.0 - share) * inner + share * outer).ravel()
    row, column = np.meshgrid(np.arange(THROUGH), np.arange(count), indexing="ij")
    here, beside = row * count + column, row * count + (column + 1) % count
    corners = np.stack([here, here + count, beside + count, beside]).reshape(4, -1)
    mesh = MeshQuad(np.stack([nodes.real, nodes.imag]), corners)
    basis = Basis(mesh, ElementQuad2(), intorder=5)

    @BilinearForm
    def laplace(u, v, _):  # type: ignore[no-untyped-def]
        return u.grad[0] * v.grad[0] + u.grad[1] * v.grad[1]

    stiffness = laplace.assemble(basis)
    place = basis.doflocs[0] + 1j * basis.doflocs[1]
    edge = basis.get_dofs().all()
    turned = np.angle(place[edge] - centre)
    on_rotor = np.abs(np.abs(place[edge] - centre) - rotor(turned)) < 0.3 * GAP
    potential = np.zeros(basis.N)
    current = FLUX * GAP / MAGNETIC_CONSTANT
    potential[edge] = np.where(on_rotor, current * np.cos(pairs * turned), 0.0)
    found = solve(*condense(stiffness, x=potential, D=edge))
    return float(0.5 * MAGNETIC_CONSTANT * found @ (stiffness @ found))


def wave(mean: float, harmonics: dict[int, complex], angle: Floats) -> Floats:
    """A radius from its mean and harmonics."""
    found = np.full_like(angle, mean)
    for n, amplitude in harmonics.items():
        found = found + (amplitude * np.exp(1j * n * angle)).real
    return found


def by_elements(pairs: int, centre: complex, rotor: dict[int, complex], bore: dict[int, complex]) -> complex:
    """Net force, N/m."""
    inner, outer = partial(wave, FACE, rotor), partial(wave, FACE + GAP, bore)
    x, y = (
        (energy(pairs, centre + step, inner, outer) - energy(pairs, centre - step, inner, outer)) / (2.0 * STEP)
        for step in (STEP, 1j * STEP)
    )
    return complex(x, y)


def ours(centre: complex, rotor: dict[int, complex], bore: dict[int, complex]) -> complex:
    """Net force by the integral, N/m."""
    waves = np.zeros(8, dtype=complex)
    waves[0] = GAP
    for n, amplitude in bore.items():
        waves[n] += amplitude
    for n, amplitude in rotor.items():
        waves[n] -= amplitude
    traction = FLUX**2 / (4.0 * MAGNETIC_CONSTANT)
    area = np.float64(2.0 * np.pi * FACE)
    return complex(net_pull(PulledGap(waves, np.float64(0.0), np.float64(traction), area), centre)[0])


CASES = (
    ("circle off centre by a twentieth of the gap, 24 pole pairs", 24, 0.8e-3 + 0j, {}, {}),
    ("circle off centre by two fifths of the gap, 24 pole pairs", 24, 6.4e-3 + 0j, {}, {}),
    ("circle off centre by two fifths of the gap, 12 pole pairs", 12, 6.4e-3 + 0j, {}, {}),
    ("oval rotor off centre in an oval bore", 24, 1.5e-3j, {2: 1.2e-3 + 0j}, {2: 0.6e-3j, 3: 0.5e-3 + 0j}),
    ("central rotor of waves 2 and 3", 24, 0j, {2: 1.5e-3 + 0j, 3: 1.5e-3 + 0j}, {}),
)
"""Pole pairs, centre (m), harmonics of rotor and bore (m): invented."""


def checks() -> tuple[Check, ...]:
    """Every comparison of this file; about ten seconds."""
    rows = []
    for number, (what, pairs, centre, rotor, bore) in enumerate(CASES, 1):
        other = by_elements(pairs, centre, rotor, bore)
        mine = ours(centre, rotor, bore)
        along = other / abs(other)
        rows.append(
            Check(
                f"PULL-{number}", f"net pull: {what}", SOURCE, abs(other) / 1e3, "kN/m",
                partial(float, (mine / along).real / 1e3), Provenance.INDEPENDENT_METHOD, 0.01, REASON,
            )
        )  # fmt: skip
    return tuple(rows)


if __name__ == "__main__":
    for row in checks():
        print(f"{row.what:75s} {row.run().ours:12.6g} {row.printed:12.6g} {row.run().difference:+9.1e}")
