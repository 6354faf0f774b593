"""The rotor set up key by key: its compliance at the keys, its modes, and its loads against speed squared.

What is exact: plane stress for the rim; the interference each key has left, as in the smeared model; the rigid
shift of the rim with its mass and the pull on it. What is not:

- the spider under one key: exact for arms on a rigid hub with one key each; the hub's share, a disc and a spider
  given by one number are smeared, each key taking its share, unless `coupling` says how keys feel each other;
- spin and pull in the flexural modes act on the low harmonics only, up to the mean radius over the depth, at most 8,
  by the thin-ring term of `rimmodel.behaviour.contact.shape`;
- the mean pull and the gap in it are those of the smeared fit of the same mean interference, straight between
  nodes of speed squared; the smeared lift-off is one of them. The pull is a few percent of the fit, and uneven
  keys change the mean gap by hundredths of a millimetre.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Complex, Floats, floats
from rimmodel.behaviour.contact.coefficients import Coefficients, Direction, coefficients
from rimmodel.behaviour.contact.scallop import key_yield
from rimmodel.behaviour.contact.shape import as_built, bending_stiffness, floating_mass, pull_stiffness, spin_stiffness
from rimmodel.behaviour.contact.speeds import gap_closes
from rimmodel.behaviour.contact.state import contact, lift_off_speed_squared
from rimmodel.behaviour.keys.events import KeyLoads
from rimmodel.elastic.key_compliance import key_compliance_matrix, key_shape_amplitudes
from rimmodel.rotor import Condition, Rotor
from rimmodel.rotor.blocks import array_shape
from rimmodel.rotor.key_setup import guide_fault
from rimmodel.rotor.shrink_fit import key_list_fault

MOST_SPIN_HARMONICS = 8
_PULL_PANELS = 48
_HEADROOM = 1.3
"""The path runs to this share of the speed squared that takes off the tightest key, if no named speed is higher."""


@dataclass(frozen=True)
class KeyedRotor:
    """A rotor in a condition, ready to be followed key by key; made by `keyed_rotor`.

    Attributes
    ----------
    key_angle : array (N,), rad
    harmonic : array (H,), -
        Those with spin and pull, 1 first.
    outer_ratio : array (H,), -
        Outside over bore amplitude of each.
    outer_per_force : complex array (n, N), m/N
        Harmonics of the outside beyond those, per force on each key.
    built : complex array (n,), m
        Harmonics as built.
    gap_model : Coefficients
        The smeared fit.
    assembled : array (N,), m
        Raw interference of the keys.
    """

    rotor: Rotor
    condition: Condition
    loads: KeyLoads
    key_angle: Floats
    harmonic: Floats
    outer_ratio: Floats
    outer_per_force: Complex
    built: Complex
    gap_model: Coefficients
    assembled: Floats

    def with_keys(self, key_interference: Floats) -> KeyedRotor:
        """The same rotor with other interferences (N,) m at its keys; the mean pull stays as it was set up."""
        change = floats(key_interference) - self.assembled
        loads = replace(self.loads, interference=self.loads.interference + change)
        return replace(self, loads=loads, assembled=self.assembled + change)


def keyed_rotor(
    rotor: Rotor,
    condition: Condition,
    key_interference: ArrayLike | None = None,
    *,
    key_stiffness: ArrayLike | None = None,
    coupling: ArrayLike | None = None,
    mass_eccentricity: ArrayLike = (0.0, 0.0),
    pole_eccentricity: ArrayLike = (0.0, 0.0),
    highest_speed: float | None = None,
    direction: Direction = None,
) -> KeyedRotor:
    """Set up a rotor key by key.

    Parameters
    ----------
    rotor : Rotor
        Of scalar fields, with `fit.key_width` and a known number of keys, evenly spaced.
    condition : Condition
        Of scalar fields.
    key_interference : array (N,), m, optional
        Radial, as assembled; that of the fit by default, all alike when it holds none. Its mean replaces the fit's.
    key_stiffness : float or array (N,), N/m, optional
        Of each key with its shims; the fit's by default.
    coupling : array (N, N), m/N, optional
        Inward move of the spider at each key per force on each key, in place of the smeared compliance.
    mass_eccentricity, pole_eccentricity : array (2,), m
        Centre of mass of rim and poles, and of the pole faces, against the centre of the bore; both also follow
        harmonic 1 of `rim.shape`.
    highest_speed : float, rad/s, optional
        The path runs at least this far.
    direction : "up", "down" or None
        For the apparent interference from friction.

    Raises
    ------
    ValueError
        A rotor of arrays, no key width or number of keys, a list of the wrong length, keys that overlap, or guides
        without play and without stiffness.

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> print(np.rad2deg(keyed_rotor(case.rotor, case.conditions["cold"]).key_angle[:2]).round(2))
    [ 0.   25.71]
    """
    count, width = _checked_keys(rotor, condition)
    keys = _interferences(rotor, count) if key_interference is None else floats(key_interference)
    if keys.shape != (count,) or not np.all(np.isfinite(keys)):
        raise ValueError(f"key_interference has shape {keys.shape}; it must be {count} finite values in m, one a key")
    rotor = rotor.with_interference(float(keys.mean()))
    model = coefficients(rotor, condition, direction)
    angle = floats(rotor.fit.first_key_angle) + 2.0 * np.pi * np.arange(count) / count
    mean, outer = model.edges.bore_displacement.pressure, model.edges.outer_displacement.pressure
    harmonic = np.arange(1.0, spin_harmonics(rotor) + 1.0)
    ring, length = rotor.rim.harmonic_ring, float(rotor.rim.length)
    pressure = key_yield(rotor).pressure
    under = pressure.transform(harmonic * (width / float(rotor.rim.inner_radius)))
    shape = _mode_shapes(harmonic, angle, np.where(harmonic > 1.0, under, 1.0))
    area = np.pi * float(rotor.rim.inner_radius) * length
    flexible = np.repeat(ring.compliance(harmonic[1:]), 2) / area
    local = key_compliance_matrix(ring, length, angle, width, mean, pressure=pressure)
    local = local - (shape[:, 2:] * flexible) @ shape[:, 2:].T
    local = local + _support(model, rotor, count, key_stiffness, coupling)
    fine = int(np.clip(np.ceil(8.0 / np.log(float(rotor.rim.slot_bottom_radius / rotor.rim.inner_radius))), 24, 120))
    static = key_shape_amplitudes(ring, length, angle, width, outer, fine, pressure=pressure)
    static[: harmonic.size + 1] = 0.0
    place = (floats(rotor.rim.slot_bottom_radius), floats(rotor.rim.inner_radius))
    ends = [ring.state(harmonic[1:], radius).radial_displacement for radius in place]
    nodes = _nodes(rotor, condition, model, keys, highest_speed)
    closing, stiffness, force = _loads(rotor, condition, model, nodes, harmonic, mass_eccentricity, pole_eccentricity)
    left = float(model.at_rest) + keys - keys.mean()
    loads = KeyLoads(0.5 * (local + local.T), shape, left, nodes, closing, stiffness, force)
    ratio = np.concatenate([[1.0], ends[0] / ends[1]])
    built = as_built(rotor.rim, fine)
    return KeyedRotor(rotor, condition, loads, angle, harmonic, ratio, static, built, model, keys)


def spin_harmonics(rotor: Rotor) -> int:
    """Highest harmonic with spin and pull: mean radius over depth of the rim, from 2 to 8."""
    inner, outer = float(rotor.rim.inner_radius), float(rotor.rim.slot_bottom_radius)
    return int(np.clip(0.5 * (inner + outer) / (outer - inner), 2, MOST_SPIN_HARMONICS))


def _checked_keys(rotor: Rotor, condition: Condition) -> tuple[int, float]:
    """Number and width (m) of the keys of a rotor that can be set up key by key."""
    if array_shape(rotor, condition) != ():
        raise ValueError("rotor or condition holds arrays; keys are followed one rotor at a time: give scalars")
    if rotor.key_count is None:
        raise ValueError("fit.key_count is not given, and there are no arms to count; give the number of keys")
    if rotor.fit.key_width is None:
        raise ValueError("fit.key_width is not given; single keys need their width along the bore")
    if (wrong := key_list_fault(rotor.fit.key_interference, rotor.key_count)) is not None:
        raise ValueError(wrong)
    if (wrong := guide_fault(rotor.fit)) is not None:
        raise ValueError(wrong)
    return int(rotor.key_count), float(rotor.fit.key_width)


def _interferences(rotor: Rotor, count: int) -> Floats:
    """Interference of each key as assembled: the list of the fit moved to the fit's mean."""
    own = rotor.fit.key_interference
    spread = np.zeros(count) if own is None else floats(own) - np.mean(own)
    return floats(rotor.fit.interference + spread)


def _mode_shapes(harmonic: Floats, angle: Floats, weight: Floats) -> Floats:
    """Cosine and sine of each harmonic at each key, times what the pressure under a key leaves of it; (N, 2H)."""
    phase = angle[:, None] * harmonic
    return floats(np.stack([np.cos(phase) * weight, np.sin(phase) * weight], axis=-1).reshape(angle.size, -1))


def _support(model: Coefficients, rotor: Rotor, count: int, key_stiffness: Any, coupling: Any) -> Floats:
    """Compliance of spider and keys at each key, m/N."""
    area = 2.0 * np.pi * floats(rotor.rim.inner_radius) * floats(rotor.rim.length)
    own = 1.0 / floats(rotor.fit.key_stiffness)
    carrier = (model.spider.compliance + key_yield(rotor).support) * count / area - own
    keys = own if key_stiffness is None else 1.0 / floats(key_stiffness)
    if coupling is None:
        return np.diag(np.broadcast_to(carrier + keys, (count,)))
    matrix = floats(coupling)
    if matrix.shape != (count, count) or not np.allclose(matrix, matrix.T, rtol=1e-6):
        raise ValueError(f"coupling has shape {matrix.shape}; it must be symmetric, {count} by {count}, in m/N")
    return floats(matrix + np.diag(np.broadcast_to(keys, (count,))))


def _nodes(
    rotor: Rotor, condition: Condition, model: Coefficients, keys: Floats, highest_speed: float | None
) -> Floats:
    """Speeds squared between which the loads are straight: both ends without a field, a fine division with one."""
    last = float(rotor.speeds.highest) ** 2
    growth = float(model.net_growth)
    if growth > 0.0:
        last = max(last, _HEADROOM * (float(model.at_rest) + float(np.ptp(keys))) / growth)
    if highest_speed is not None:
        last = max(last, float(highest_speed) ** 2)
    if not np.any(model.cold_pull):
        return np.array([0.0, last])
    shut = float(gap_closes(rotor, condition).speed) ** 2
    if not shut > 0.0:
        raise ValueError("the magnetic pull closes the gap at standstill; there is no path to follow")
    last = min(last, shut * (1.0 - 1e-6))
    nodes = np.linspace(0.0, last, _PULL_PANELS + 1)
    lift_off = float(lift_off_speed_squared(model)[0])
    return np.union1d(nodes, [lift_off]) if 0.0 < lift_off < last else nodes


def _loads(
    rotor: Rotor,
    condition: Condition,
    model: Coefficients,
    nodes: Floats,
    harmonic: Floats,
    mass_eccentricity: ArrayLike,
    pole_eccentricity: ArrayLike,
) -> tuple[Floats, Floats, Floats]:
    """Closing (P,) m, stiffness (P, m) N/m and force (P, m) N of the modes at each node."""
    state = contact(model, nodes)
    closing = model.net_growth * nodes + model.bore_per_traction * state.pull
    area = np.pi * float(rotor.rim.inner_radius) * float(rotor.rim.length)
    pull = pull_stiffness(rotor, condition, state.air_gap)[:, None] * area
    spin = spin_stiffness(rotor, harmonic) * area * nodes[:, None]
    guides = 0.0 if rotor.fit.tangential_clearance else float(rotor.fit.guide_stiffness)
    held = bending_stiffness(rotor, harmonic) * area + np.where(harmonic == 1.0, guides, 0.0)
    stiffness = np.repeat(held + spin - pull, 2, axis=1)
    built = as_built(rotor.rim, harmonic.size)[1:]
    waves = np.stack([built.real, -built.imag], axis=-1).reshape(-1)
    force = np.repeat(pull - spin, 2, axis=1) * waves
    force[:, :2] += floating_mass(rotor) * nodes[:, None] * floats(mass_eccentricity) + pull * floats(pole_eccentricity)
    return floats(closing), floats(stiffness), floats(force)
