"""Rings and discs shrunk one over the other: shaft, hub, spider, rim, with an interference at each joint.

Every joint is unilateral: it presses or it is open. Which joints are shut is found by trying all sets of them; the
right one leaves no joint pulling and none overlapping, and is the only one (Cottle, Pang & Stone, The Linear
Complementarity Problem, ch. 3, from memory: the matrix is symmetric and positive definite).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats, floats
from rimmodel.elastic.disc import Disc
from rimmodel.elastic.ring import Ring, RingState

SAME_RADIUS = 2e-3
"""Share by which the radii at a joint may differ: interferences are a permille at most."""

MOST_JOINTS = 8


@dataclass(frozen=True)
class NestedRings:
    """Members from inside out with what presses them; arrays have the joint or member as first axis.

    Attributes
    ----------
    speed : array, rad/s
    temperatures : tuple of float or array, K
        Rise of each member above the stress-free state.
    contact_pressure : array (joint, ...), Pa
        On the shorter member of each joint, zero where it is open.
    clearance : array (joint, ...), m
        Radial, zero where the joint is shut.
    inner_pressure, outer_traction : array (member, ...), Pa
        On bore and outside of each member, + pushes or pulls outward.
    """

    members: tuple[Ring | Disc, ...]
    speed: Floats
    temperatures: tuple[ArrayLike, ...]
    contact_pressure: Floats
    clearance: Floats
    inner_pressure: Floats
    outer_traction: Floats

    def state(self, member: int, radius: ArrayLike) -> RingState:
        """Stresses and displacement of one member.

        Parameters
        ----------
        member : int
            Counted from 0, inside out.
        radius : float or array, m
        """
        return self.members[member].state(
            radius, self.speed, self.inner_pressure[member], self.outer_traction[member], self.temperatures[member]
        )


def nested_rings(
    members: Sequence[Ring | Disc],
    interferences: Sequence[ArrayLike],
    speed: ArrayLike = 0.0,
    temperatures: Sequence[ArrayLike] | None = None,
    outer_traction: ArrayLike = 0.0,
    lengths: Sequence[float] | None = None,
) -> NestedRings:
    """Contact pressures of nested members.

    Parameters
    ----------
    members : sequence of Ring or Disc
        From inside out; the first may be solid.
    interferences : sequence of float or array, m
        Radial, one a joint; below zero a clearance.
    speed : float or array, rad/s
    temperatures : sequence of float or array, K, optional
        Uniform rise of each member; none when None.
    outer_traction : float or array, Pa
        On the outermost member.
    lengths : sequence of float, m, optional
        Axial length of each member; all alike when None. A `Disc` has the thickness of its own edges instead, and then
        every `Ring` needs its length.

    Raises
    ------
    ValueError
        Numbers that do not match, radii that do not meet, a length that is missing or not positive.

    Notes
    -----
    ``clearance = -(delta + u_out - u_in) + G p``, both not below zero and one of them zero; ``u`` are the free
    displacements of both sides of a joint and G their influence coefficients. Loads pass a joint of unequal lengths
    as force per circumference.

    Two rings of one steel, 1 to 2 and 2 to 3 m, 1 mm: Lame's compound cylinder, E delta/b over the sum of both
    (r_o^2 + r_i^2)/(r_o^2 - r_i^2), 5/3 + 13/5, so 200e9 x 0.0005/(64/15):

    >>> inner, outer = Ring(1.0, 2.0, 200e9, 0.3, 7850.0), Ring(2.0, 3.0, 200e9, 0.3, 7850.0)
    >>> print(f"{nested_rings([inner, outer], [1e-3]).contact_pressure[0] / 1e6:.2f} MPa")
    23.44 MPa

    """
    _check(members, interferences, temperatures, lengths)
    edges = [_edge_lengths(members[i], None if lengths is None else lengths[i]) for i in range(len(members))]
    omega, traction = floats(speed), floats(outer_traction)
    rises = tuple(temperatures) if temperatures is not None else (0.0,) * len(members)
    free = [
        _displacements(member, speed=omega, temperature=rise, outer_traction=traction if last else 0.0)
        for member, rise, last in zip(members, rises, [False] * (len(members) - 1) + [True], strict=True)
    ]
    joints = range(len(members) - 1)
    overlap = [floats(interferences[j]) + free[j][1] - free[j + 1][0] for j in joints]
    line_load, clearance = _solve(_influence(members, edges), np.stack(np.broadcast_arrays(*overlap)))
    shape = line_load.shape[1:]
    bore, outside = np.zeros((len(members), *shape)), np.zeros((len(members), *shape))
    outside[-1] = traction
    for j in joints:
        outside[j], bore[j + 1] = -line_load[j] / edges[j][1], line_load[j] / edges[j + 1][0]
    shorter = np.array([min(edges[j][1], edges[j + 1][0]) for j in joints])
    pressure = line_load / shorter.reshape(-1, *[1] * len(shape))
    return NestedRings(tuple(members), omega, rises, pressure, clearance, bore, outside)


def _radii(member: Ring | Disc) -> tuple[float, float]:
    if isinstance(member, Disc):
        radii = floats(member.radii)
        return float(radii[0]), float(radii[-1])
    return float(np.asarray(member.inner_radius)), float(np.asarray(member.outer_radius))


def _edge_lengths(member: Ring | Disc, length: float | None) -> tuple[float, float]:
    if isinstance(member, Disc):
        thickness = floats(member.thicknesses)
        return float(thickness[0]), float(thickness[-1])
    return (1.0, 1.0) if length is None else (length, length)


def _displacements(member: Ring | Disc, **loads: ArrayLike) -> tuple[Floats, Floats]:
    """Radial displacement at bore and outside, m; that of a solid centre is zero."""
    inner, outer = _radii(member)
    at_bore = np.zeros(()) if inner == 0 else member.state(inner, **loads).radial_displacement
    return at_bore, member.state(outer, **loads).radial_displacement


def _influence(members: Sequence[Ring | Disc], edges: Sequence[tuple[float, float]]) -> Floats:
    """Opening of each joint per line load (N/m of circumference) at each."""
    count = len(members) - 1
    matrix = np.zeros((count, count))
    for j in range(count):
        inside, around = members[j], members[j + 1]
        pressed = _displacements(inside, outer_traction=-1.0 / edges[j][1])
        pushed = _displacements(around, inner_pressure=1.0 / edges[j + 1][0])
        matrix[j, j] = float(pushed[0] - pressed[1])
        if j > 0:
            matrix[j - 1, j] = float(pressed[0])
        if j + 1 < count:
            matrix[j + 1, j] = float(-pushed[1])
    return matrix


def _solve(matrix: Floats, overlap: Floats) -> tuple[Floats, Floats]:
    """Line loads and clearances (joint, ...) that fit the overlaps (m)."""
    count = len(matrix)
    shape = overlap.shape
    wanted = overlap.reshape(count, -1)
    load, clearance = np.full(wanted.shape, np.nan), np.full(wanted.shape, np.nan)
    slack = 1e-12 * np.abs(wanted).max(axis=0)
    todo = np.ones(wanted.shape[1], dtype=bool)
    for shut in product((True, False), repeat=count):
        closed = np.flatnonzero(shut)
        tried = np.zeros_like(wanted)
        if len(closed):
            tried[closed] = np.linalg.solve(matrix[np.ix_(closed, closed)], wanted[closed])
        left = matrix @ tried - wanted
        right = todo & (tried >= 0).all(axis=0) & (left >= -slack).all(axis=0)
        open_ = ~np.array(shut)[:, np.newaxis]
        load[:, right] = tried[:, right]
        clearance[:, right] = np.where(open_, np.maximum(left, 0.0), 0.0)[:, right]
        todo &= ~right
        if not todo.any():
            break
    return load.reshape(shape), clearance.reshape(shape)


def _check(
    members: Sequence[Ring | Disc],
    interferences: Sequence[ArrayLike],
    temperatures: Sequence[ArrayLike] | None,
    lengths: Sequence[float] | None,
) -> None:
    count = len(members)
    if not 2 <= count <= MOST_JOINTS + 1:
        raise ValueError(f"members are {count}; nested rings are 2 to {MOST_JOINTS + 1}")
    if len(interferences) != count - 1:
        raise ValueError(f"interferences are {len(interferences)}; {count} members have {count - 1} joints")
    for name, given in (("temperatures", temperatures), ("lengths", lengths)):
        if given is not None and len(given) != count:
            raise ValueError(f"{name} are {len(given)}; there must be one for each of the {count} members")
    if lengths is None and len({isinstance(member, Disc) for member in members}) > 1:
        raise ValueError("lengths is missing; beside a Disc, which has its thickness, every Ring needs its length")
    if lengths is not None and not all(np.isfinite(length) and length > 0 for length in lengths):
        raise ValueError(f"lengths are {list(lengths)} m; each must be positive")
    for j in range(count - 1):
        inside, around = _radii(members[j])[1], _radii(members[j + 1])[0]
        if abs(inside - around) > SAME_RADIUS * inside:
            raise ValueError(
                f"joint {j + 1}: the inner member ends at {inside:g} m, the outer one starts at {around:g} m; they "
                "must meet, the interference is given apart"
            )
        if not np.isfinite(floats(interferences[j])).all():
            raise ValueError(f"interference {j + 1} is not a finite number")
