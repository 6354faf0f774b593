"""How a ring answers forces on keys: patches of its bore, of one width, under a pressure of one shape.

Every answer is a sum over harmonics of the ring. It falls off as n^-1 until the key width cuts it, as n^-3 under an
even pressure, far too slow to add up. What a high harmonic tends to, A_1/n + ... + A_4/n^4, is therefore summed to
infinity in closed form, and only the difference, which falls as n^-5, is added term by term.

n = 1 is left out throughout: it moves the ring as a rigid body, which the balance of key forces decides. The strain
that comes with it, in a rim of b/a = 1.13 that its own inertia holds, is 0.26 of the even (n = 0) answer: 0.24 % of
the displacement at one key under its own force alone, and nothing when even keys carry even forces.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rimmodel.arrays import Floats, require
from rimmodel.elastic.harmonics import HarmonicRing
from rimmodel.elastic.key_pressure import EVEN, KeyPressure, panel_transforms, yield_under
from rimmodel.elastic.key_sums import limit_at, limit_panels, limit_sum

NARROWEST_KEY = 1e-3
"""Key width over bore radius below which a key is refused as a knife edge."""
KNIFE_EDGE = "at least 1/1000 of inner_radius: the local dent of a knife edge is not modelled"
_DIRECT_TERMS = 400
_MOST_TERMS = 200_000


def key_compliance_matrix(
    ring: HarmonicRing,
    length: ArrayLike,
    key_angle: ArrayLike,
    key_width: ArrayLike,
    mean_compliance: ArrayLike,
    spin_stiffness: ArrayLike = 0.0,
    pull_stiffness: ArrayLike = 0.0,
    pressure: KeyPressure = EVEN,
) -> Floats:
    """Return the mean radial displacement of each key's patch per force on each key, without rigid motion.

    The load of a key is spread over its width as `pressure` says, and the mean is weighted with it; friction and
    contact stiffness are not in it::

        G_ij = [C_0/2 + sum_{n>=2} C_n cos n(theta_i - theta_j) T_n^2]/(pi a L),   T_n = sinc(n w/2a) of an even load

    Converged to 1e-8 of the diagonal. Spin and pull act as if on the bore; take them for the low harmonics only.
    Derived here.

    Parameters
    ----------
    ring : HarmonicRing
        Fields of shape (...).
    length : float or array (...), m
    key_angle : array (..., N), rad
    key_width : float or array (...), m
        Along the bore.
    mean_compliance : float or array (...), m/Pa
        Bore displacement per even pressure (C_0).
    spin_stiffness, pull_stiffness : float or array (..., H), Pa/m
        Of the harmonics 2, 3, ... in this order: stiffness K_n = 1/C_n of the first H becomes K_n + spin - pull.
    pressure : KeyPressure
        Under each key; even by default.

    Returns
    -------
    array (..., N, N), m/N
        Symmetric.

    Raises
    ------
    ValueError
        A key too narrow, keys that overlap, or a harmonic whose pull exceeds its stiffness.

    >>> ring = HarmonicRing(1.0, 1e6, 1.0, 0.3)               # a hole in an endless sheet, two keys, w = 0.1 a
    >>> G = key_compliance_matrix(ring, 1.0, [0.0, 3.141592653589793], 0.1, 1.3)
    >>> n = np.arange(2, 200_000)                             # C_n = (2n + 0.7)/(n^2 - 1), added up by force
    >>> terms = (2 * n + 0.7) / (n**2 - 1) * np.sinc(n * 0.05 / np.pi) ** 2
    >>> bool(np.allclose(G[0] * np.pi, 0.65 + np.array([terms.sum(), (terms * (-1.0) ** n).sum()]), rtol=1e-8))
    True
    """
    angle = np.asarray(key_angle, dtype=np.float64)
    patch = _patch_angle(ring, key_width, angle)
    n = np.arange(1.0, _direct_terms(ring) + 1.0)
    direct, limit = _split(ring, n, spin_stiffness, pull_stiffness)
    direct = direct * pressure.transform(n * patch[..., None]) ** 2
    phase = n[:, None] * angle[..., None, :]
    cosine, sine = np.cos(phase), np.sin(phase)
    weight = direct[..., :, None]
    total = np.swapaxes(cosine, -1, -2) @ (weight * cosine) + np.swapaxes(sine, -1, -2) @ (weight * sine)
    apart = np.abs(angle[..., :, None] - angle[..., None, :])  # even in the angle: keeps G symmetric
    total = total + _limit_of_pairs(limit, apart, patch, pressure)
    mean = np.asarray(mean_compliance)[..., None, None]
    area = np.pi * np.asarray(ring.inner_radius) * np.asarray(length)
    return np.asarray((0.5 * mean + total) / area[..., None, None])


def scalloped_compliance(
    ring: HarmonicRing,
    key_count: ArrayLike,
    key_width: ArrayLike,
    mean_compliance: ArrayLike,
    pressure: KeyPressure = EVEN,
) -> Floats:
    """Return the radial displacement at equal, evenly spaced keys per SMEARED bore pressure.

    Arguments and fields of the ring broadcast. The smeared pressure is N F/(2 pi a L)::

        C_key = C_0 + 2 sum_m C_{mN} T_{mN}^2,   T_n = sinc(n w/2a) under an even load

    Converged to 1e-8. Keys that touch each other are an even pressure: C_0. Derived here.

    Parameters
    ----------
    key_count : float or array, -
        N, whole, 2 or more.
    key_width : float or array, m
    mean_compliance : float or array, m/Pa
        C_0.
    pressure : KeyPressure
        Under each key; even by default.

    Returns
    -------
    array, m/Pa

    Raises
    ------
    ValueError
        As in `key_compliance_matrix`.

    >>> ring = HarmonicRing(1.0, 1.1, 1.0, 0.3)
    >>> round(float(scalloped_compliance(ring, 8, 2 * np.pi / 8, 10.82)), 9)
    10.82
    """
    panels = scalloped_panels(ring, key_count, key_width, pressure.edges)
    return np.asarray(np.asarray(mean_compliance) + yield_under(pressure, panels))


def scalloped_panels(ring: HarmonicRing, key_count: ArrayLike, key_width: ArrayLike, edges: Floats) -> Floats:
    """Return the radial displacement of pairs of panels of equal keys beyond that of an even pressure.

    Per SMEARED bore pressure, all of it on one pair of panels of each key; `scalloped_compliance` weighs them with the
    shares of a pressure. Derived there.

    Parameters
    ----------
    key_count, key_width : as in `scalloped_compliance`
    edges : array (K + 1,), -
        Of the panels, as in `KeyPressure`.

    Returns
    -------
    array (..., K, K), m/Pa
        Symmetric.

    >>> ring = HarmonicRing(1.0, 1.1, 1.0, 0.3)
    >>> one = scalloped_panels(ring, 8, 0.2, EVEN.edges)[0, 0]
    >>> bool(np.isclose(10.82 + one, scalloped_compliance(ring, 8, 0.2, 10.82)))
    True
    """
    count = np.asarray(key_count, dtype=np.float64)
    patch = _even_patch(count, key_width, ring.inner_radius, "inner_radius")
    n = np.arange(1.0, np.ceil(_direct_terms(ring) / np.min(count)) + 1.0) * count[..., None]
    limit = ring.asymptote()
    difference = ring.expanded().compliance(n) - limit_at(limit[..., None], n)
    return _panels(difference, n, limit, count, patch, edges)


def dented_compliance(
    inner_radius: ArrayLike,
    outer_radius: ArrayLike,
    young_modulus: ArrayLike,
    poisson_ratio: ArrayLike,
    key_count: ArrayLike,
    key_width: ArrayLike,
    pressure: KeyPressure = EVEN,
) -> Floats:
    """Return how far a disc yields at equal, evenly spaced keys on its outside beyond the even pressure.

    Inward, per SMEARED pressure on the outside. All arguments broadcast. An edge pressure cos(n theta) moves the
    outside of a disc with a free bore inward by::

        D_n = b/(E (n^2-1)) {n (sinh 2nt + n sinh 2t)/(sinh^2 nt - n^2 sinh^2 t) - (1 - nu)},   t = ln(b/a)

    which is C_n of `HarmonicRing` with the edges exchanged, t to -t; ``(2n - 1 + nu) b/(E (n^2-1))`` of a solid disc,
    2b/(E n) of the half plane. The result is ``2 sum_m D_{mN} T_{mN}^2`` as in
    `scalloped_compliance`, converged to 1e-8. Derived here.

    Parameters
    ----------
    inner_radius : float or array, m
        Zero for a solid disc.
    outer_radius : float or array, m
    young_modulus : float or array, Pa
    poisson_ratio : float or array, -
    key_count : float or array, -
        N, whole, 2 or more.
    key_width : float or array, m
    pressure : KeyPressure
        Under each key; even by default.

    Returns
    -------
    array, m/Pa

    Raises
    ------
    ValueError
        Keys that are fewer than 2 or no whole number, knife edges, or that overlap.

    Keys that touch each other press evenly:

    >>> round(abs(float(dented_compliance(0.0, 1.0, 1.0, 0.3, 8, 2 * np.pi / 8))), 9)
    0.0
    """
    disc = (inner_radius, outer_radius, young_modulus, poisson_ratio)
    return yield_under(pressure, dented_panels(*disc, key_count, key_width, pressure.edges))


def dented_panels(
    inner_radius: ArrayLike,
    outer_radius: ArrayLike,
    young_modulus: ArrayLike,
    poisson_ratio: ArrayLike,
    key_count: ArrayLike,
    key_width: ArrayLike,
    edges: Floats,
) -> Floats:
    """Return the inward displacement of pairs of panels of equal keys on a disc, as `scalloped_panels` of a rim.

    Parameters
    ----------
    inner_radius, outer_radius, young_modulus, poisson_ratio, key_count, key_width : as in `dented_compliance`
    edges : array (K + 1,), -
        Of the panels, as in `KeyPressure`.

    Returns
    -------
    array (..., K, K), m/Pa
        Symmetric; derived at `dented_compliance`.

    >>> disc = (0.3, 1.0, 1.0, 0.3, 8, 0.2)
    >>> bool(np.isclose(dented_panels(*disc, EVEN.edges)[0, 0], dented_compliance(*disc)))
    True
    """
    count = np.asarray(key_count, dtype=np.float64)
    outer, nu = np.asarray(outer_radius, dtype=np.float64), np.asarray(poisson_ratio, dtype=np.float64)
    patch = _even_patch(count, key_width, outer, "outer_radius")
    scale = outer / np.asarray(young_modulus, dtype=np.float64)
    with np.errstate(divide="ignore"):
        depth = np.log(outer / np.asarray(inner_radius, dtype=np.float64))
    limit = np.stack(np.broadcast_arrays(2.0 * scale, -(1.0 - nu) * scale, 2.0 * scale, -(1.0 - nu) * scale))
    terms = max(_DIRECT_TERMS, int(np.ceil(20.0 / np.min(depth))))
    require(terms <= _MOST_TERMS, "inner_radius", inner_radius, "m", "smaller: so thin a ring needs too many terms")
    n = np.arange(1.0, np.ceil(terms / np.min(count)) + 1.0) * count[..., None]
    each = scale[..., None] * (n * _depth_factor(n, depth[..., None]) - (1.0 - nu[..., None])) / (n**2 - 1.0)
    return _panels(each - limit_at(limit[..., None], n), n, limit, count, patch, edges)


def _even_patch(count: Floats, key_width: ArrayLike, radius: ArrayLike, named: str) -> Floats:
    """Angle that each of equal keys takes, rad; refuses a count that is none, knife edges and keys that overlap."""
    require((count >= 2.0) & (count == np.round(count)), "key_count", count, "", "a whole number of 2 and more")
    patch = np.asarray(key_width) / np.asarray(radius)
    require(patch >= NARROWEST_KEY, "key_width", key_width, "m", KNIFE_EDGE)
    apart = patch * count <= 2.0 * np.pi * (1.0 + 1e-12)
    require(apart, "key_width", key_width, "m", f"at most the pitch 2 pi {named}/key_count: keys do not overlap")
    return np.asarray(patch)


def _panels(difference: Floats, n: Floats, limit: Floats, count: Floats, patch: Floats, edges: Floats) -> Floats:
    """Twice the sum over the harmonics n (..., M) of N, 2N, ... from what they are beyond their limit."""
    waves = panel_transforms(edges, n * patch[..., None])
    direct = np.swapaxes(waves, -1, -2) @ (difference[..., None] * waves)
    scaled = [A / count**k for k, A in enumerate(limit, start=1)]
    return np.asarray(2.0 * (direct + limit_panels(scaled, patch * count, edges)))


def _depth_factor(n: Floats, depth: Floats) -> Floats:
    """(sinh 2nt + n sinh 2t)/(sinh^2 nt - n^2 sinh^2 t) of a depth t, in exponentials that fall; 2 without end."""
    fallen = 1.0 - np.exp(-2.0 * n * depth)
    other = np.exp(-2.0 * (n - 1.0) * depth)
    above = (
        2.0 * (1.0 - np.exp(-4.0 * n * depth)) / fallen**2 + 2.0 * n * other * (1.0 - np.exp(-4.0 * depth)) / fallen**2
    )
    return np.asarray(above / (1.0 - n**2 * other * ((1.0 - np.exp(-2.0 * depth)) / fallen) ** 2))


def key_shape_amplitudes(
    ring: HarmonicRing,
    length: ArrayLike,
    key_angle: ArrayLike,
    key_width: ArrayLike,
    mean_compliance: ArrayLike,
    harmonics: int,
    radius: ArrayLike | None = None,
    spin_stiffness: ArrayLike = 0.0,
    pull_stiffness: ArrayLike = 0.0,
    pressure: KeyPressure = EVEN,
) -> NDArray[np.complex128]:
    """Return the harmonics of the radial displacement at a radius per force on each key, without rigid motion.

    The displacement at an angle theta per force on key j is::

        u(theta) = Re sum_n amplitude_n exp(i n theta),   amplitude_n = U_n(r) T_n exp(-i n theta_j)/(pi a L)

    A mode keeps its form under spin and pull: K_n/(K_n + spin - pull) scales it at every radius. Derived here.

    Parameters
    ----------
    ring, length, key_angle, key_width : as in `key_compliance_matrix`
    mean_compliance : float or array (...), m/Pa
        Displacement at that radius, not at the bore, per even bore pressure.
    harmonics : int
        The highest n, 2 or more.
    radius : float or array (...), m, optional
        None is the outer edge, where a few over ln(b/a) harmonics are all there is.
    spin_stiffness, pull_stiffness, pressure : as in `key_compliance_matrix`

    Returns
    -------
    complex array (..., harmonics + 1, N), m/N
        n = 0 first; n = 1 is zero.

    Raises
    ------
    ValueError
        As in `key_compliance_matrix`; harmonics below 2.

    >>> ring = HarmonicRing(1.0, 1e6, 1.0, 0.3)
    >>> A = key_shape_amplitudes(ring, 1.0, [0.0, 0.5], 0.1, 1.3, harmonics=2, radius=1.0)
    >>> [round(float(x), 6) for x in np.pi * A[:, 0].real]         # C_0/2, 0 and 4.7/3 sin(0.1)/0.1
    [0.65, 0.0, 1.564057]
    """
    require(harmonics >= 2, "harmonics", harmonics, "", "2 or more")
    angle = np.asarray(key_angle, dtype=np.float64)
    patch = _patch_angle(ring, key_width, angle)[..., None]
    n = np.arange(2.0, harmonics + 1.0)
    wide = ring.expanded()
    place = np.asarray(wide.outer_radius if radius is None else np.asarray(radius)[..., None])
    bore = wide.compliance(n)
    answer = wide.state(n, place).radial_displacement * _with_spin_and_pull(bore, spin_stiffness, pull_stiffness) / bore
    answer = answer * pressure.transform(n * patch)
    mean = np.broadcast_to(0.5 * np.asarray(mean_compliance)[..., None], (*answer.shape[:-1], 1))
    answer = np.concatenate([mean, np.zeros_like(mean), answer], axis=-1)
    area = np.asarray(np.pi * np.asarray(ring.inner_radius) * np.asarray(length))[..., None, None]
    turn = np.exp(-1j * np.arange(harmonics + 1.0)[:, None] * angle[..., None, :])
    return np.asarray(answer[..., None] * turn / area)


def _patch_angle(ring: HarmonicRing, key_width: ArrayLike, angle: Floats) -> Floats:
    """Angle under a key, rad; refuses a knife edge and keys that overlap."""
    patch = np.asarray(np.asarray(key_width) / np.asarray(ring.inner_radius))
    require(patch >= NARROWEST_KEY, "key_width", key_width, "m", KNIFE_EDGE)
    turned = np.sort(np.mod(angle, 2.0 * np.pi), axis=-1)
    gap = np.diff(turned, axis=-1, append=turned[..., :1] + 2.0 * np.pi)
    apart = gap > patch[..., None] * (1.0 - 1e-9)
    rule = "at most the distance between two keys along the bore; check key_angle (rad)"
    require(apart, "key_width", np.asarray(key_width)[..., None], "m", rule)
    return patch


def _limit_of_pairs(limit: Floats, apart: Floats, patch: Floats, pressure: KeyPressure) -> Floats:
    """`limit_sum` of each pair of keys (..., N, N); pairs of one distance, whichever comes first, are worked out once.

    So even keys stay even to the last digit, and no round-off chooses among them.
    """
    if apart.ndim > 2:  # angles of their own for each ring
        return limit_sum(limit[..., None, None], apart, patch[..., None, None], pressure)
    turned = np.mod(apart, 2.0 * np.pi)
    nearest: Floats = np.round(np.minimum(turned, 2.0 * np.pi - turned), 13).astype(np.float64)
    distinct, place = np.unique(nearest, return_inverse=True)
    found = limit_sum(limit[..., None], distinct, patch[..., None], pressure)
    return np.asarray(found[..., place.reshape(apart.shape)])


def _direct_terms(ring: HarmonicRing) -> int:
    """Harmonics to add up before the ring is as good as a half plane to them: exp(-40) comes back."""
    terms = np.maximum(_DIRECT_TERMS, np.ceil(20.0 / ring.decay_rate()))
    require(terms <= _MOST_TERMS, "outer_radius", ring.outer_radius, "m", "larger: so thin a ring needs too many terms")
    return int(np.max(terms))


def _split(ring: HarmonicRing, n: Floats, spin: ArrayLike, pull: ArrayLike) -> tuple[Floats, Floats]:
    """C_n less its limit for n = 1 (where C_n is none), 2, ..., and the coefficients of the limit."""
    limit = ring.asymptote()
    answer = _with_spin_and_pull(ring.expanded().compliance(n[1:]), spin, pull)
    rigid = np.zeros((*answer.shape[:-1], 1))
    return np.concatenate([rigid, answer], axis=-1) - limit_at(limit[..., None], n), limit


def _with_spin_and_pull(compliance: Floats, spin: ArrayLike, pull: ArrayLike) -> Floats:
    """1/(K_n + spin - pull) for the first harmonics from n = 2, the rest untouched."""
    added = np.atleast_1d(np.asarray(spin, dtype=np.float64) - np.asarray(pull, dtype=np.float64))
    if not added.any():
        return compliance
    count = min(added.shape[-1], compliance.shape[-1])
    factor = 1.0 + added[..., :count] * compliance[..., :count]
    unstable = np.argwhere(~(factor > 0.0))
    if unstable.size:
        n = int(unstable[0, -1]) + 2
        raise ValueError(
            f"pull_stiffness exceeds bending and spin stiffness of harmonic n = {n}: the free ring is unstable there; "
            "lower the pull or stiffen the ring"
        )
    changed = compliance[..., :count] / factor
    rest = np.broadcast_to(compliance[..., count:], (*changed.shape[:-1], compliance.shape[-1] - count))
    return np.concatenate([changed, rest], axis=-1)
