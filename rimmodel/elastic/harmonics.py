"""A ring pressed on its bore by a pressure that varies as cos(n theta), n of 2 and more.

The Airy function of such a load is rho f(s) cos(n theta), with rho = r/a and s = ln(rho). With it equilibrium,
compatibility and the edge conditions of the ring become those of a beam in s, clamped at both ends::

    f'''' - 2 S f'' + P f = 0,     f(0) = 1/(n^2 - 1),     f'(0) = f(ln b/a) = f'(ln b/a) = 0
    2 S = 1 + m + m n^2 (E_r/G - 2 nu),     P = m (n^2 - 1)^2,     m = E_t/E_r

It holds for a polar-orthotropic and for an isotropic ring, where the four exponents of r are those of
Michell: n, -n, n + 2, 2 - n. Written with alpha and beta (exponents of f: +-alpha +-beta) the solution needs
alpha > 0 and the sign-free beta^2 only: real, complex and repeated exponents are one formula.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from rimmodel.arrays import Floats, require


@dataclass(frozen=True)
class HarmonicState:
    """Amplitudes of displacement and stress under a bore pressure pressure*cos(n theta)."""

    radial_displacement: Floats
    """Amplitude of the radial displacement, m, + outward where the pressure is positive."""
    hoop_stress: Floats
    """Amplitude of the hoop stress, Pa, + tension; in phase with the pressure."""


@dataclass(frozen=True)
class HarmonicRing:
    """A ring in plane stress under bore pressures that vary around it.

    Fields are scalars or arrays; they broadcast with each other and with what the methods are given.
    The edges are free of shear, the outer edge is free of load.

    Exact: isotropic and polar-orthotropic rings, any thickness. Approximate: the bending stiffness
    factor, which adds to every radial displacement what a thin ring of so much less bending stiffness would
    add, ``(1/factor - 1) 12 a/(E_t ln(b/a)^3 (n^2-1)^2)``. It softens the ring as a whole, leaves local indentation
    (n above a/h) alone, and leaves stress alone, which equilibrium fixes in a thin ring.

    Parameters
    ----------
    inner_radius, outer_radius : float or array, m
    young_modulus : float or array, Pa
        The radial modulus, smeared over the stack.
    poisson_ratio : float or array, -
        Hoop strain per radial strain under radial stress, sign turned.
    hoop_stiffness_factor : float or array, -
        E_t/E_r.
    shear_modulus : float or array, Pa, optional
        In-plane; None takes the isotropic E_r/(2(1+nu)).
    bending_stiffness_factor : float or array, -
        Bending stiffness over that of the solid section.

    Raises
    ------
    ValueError
        A field outside what a ring can have.
    """

    inner_radius: ArrayLike
    outer_radius: ArrayLike
    young_modulus: ArrayLike
    poisson_ratio: ArrayLike
    hoop_stiffness_factor: ArrayLike = 1.0
    shear_modulus: ArrayLike | None = None
    bending_stiffness_factor: ArrayLike = 1.0

    def __post_init__(self) -> None:
        """Refuse what no ring can be."""
        units = {"inner_radius": "m", "outer_radius": "m", "young_modulus": "Pa", "shear_modulus": "Pa"}
        for field in fields(self):
            value = getattr(self, field.name)
            if field.name != "poisson_ratio" and value is not None:
                good = (np.asarray(value) > 0.0) & np.isfinite(value)
                require(good, field.name, value, units.get(field.name, ""), "positive and finite")
        larger = np.asarray(self.outer_radius) > np.asarray(self.inner_radius)
        require(larger, "outer_radius", self.outer_radius, "m", "larger than inner_radius")
        nu = np.asarray(self.poisson_ratio)
        # positive strain energy of the plane law: nu^2 E_hoop < E_radial
        sound = nu**2 * np.asarray(self.hoop_stiffness_factor) < 1.0
        require(sound, "poisson_ratio", nu, "", "below 1/sqrt(hoop_stiffness_factor) in size")

    def expanded(self) -> HarmonicRing:
        """Return the same rings with one more array axis at the end, for harmonics to run along."""
        values: dict[str, Any] = {}
        for field in fields(self):
            value = getattr(self, field.name)
            values[field.name] = None if value is None else np.asarray(value)[..., None]
        return HarmonicRing(**values)

    def compliance(self, harmonic: ArrayLike) -> Floats:
        """Return C_n, the bore's radial displacement per bore pressure cos(n theta).

        For an isotropic ring, with t = ln(b/a)::

            C_n = a/(E (n^2-1)) {1 - nu + n (sinh 2nt + n sinh 2t)/(sinh^2 nt - n^2 sinh^2 t)}

        Limits: R^4/(E I (n^2-1)^2) of the thin ring, 2a/(E n) of the half plane. Derived here; the stress
        function is Michell's (Timoshenko & Goodier, Theory of Elasticity, article "General solution of the
        two-dimensional problem in polar coordinates", from memory). Stable to n = 1e5 and from b/a = 1.0005.

        Parameters
        ----------
        harmonic : float or array, -
            n, whole and >= 2.

        Returns
        -------
        array, m/Pa

        >>> sheet = HarmonicRing(inner_radius=1.0, outer_radius=1e6, young_modulus=1.0, poisson_ratio=0.3)
        >>> round(float(sheet.compliance(2)), 9)    # hole in an endless sheet: (2n + 1 - nu)/(n^2 - 1) = 4.7/3
        1.566666667
        """
        return self.state(harmonic, self.inner_radius).radial_displacement

    def state(self, harmonic: ArrayLike, radius: ArrayLike, pressure: ArrayLike = 1.0) -> HarmonicState:
        """Return radial displacement and hoop stress at any radius.

        All arguments broadcast. Deep inside a thick ring a high harmonic underflows to zero: below 1e-300 of the
        bore's. Derived here, see the head of this file.

        Parameters
        ----------
        harmonic : float or array, -
            n, whole and >= 2.
        radius : float or array, m
            From bore to outside.
        pressure : float or array, Pa
            Amplitude.

        Raises
        ------
        ValueError
            Another n, or a radius off the ring.

        >>> ring = HarmonicRing(1.0, 1e6, 1.0, 0.3)
        >>> round(float(ring.state(2, 1.0).hoop_stress), 9)     # hole in an endless sheet: s_t = -p
        -1.0
        """
        n, r = np.asarray(harmonic, dtype=np.float64), np.asarray(radius, dtype=np.float64)
        a, b = np.asarray(self.inner_radius), np.asarray(self.outer_radius)
        require((n >= 2.0) & (n == np.round(n)), "harmonic", n, "", "a whole number of 2 and more")
        inside = (r >= a * (1.0 - 1e-12)) & (r <= b * (1.0 + 1e-12))
        require(inside, "radius", r, "m", "between inner_radius and outer_radius")
        m, nu = np.asarray(self.hoop_stiffness_factor), np.asarray(self.poisson_ratio)
        thickness = np.log1p((b - a) / a)
        depth = np.clip(np.log1p((r - a) / a), 0.0, thickness)
        value, slope, curvature, support = _clamped_beam(*self._exponents(n), thickness, depth)
        q = n**2 - 1.0
        root_m = np.sqrt(m)
        bent = (1.0 / np.asarray(self.bending_stiffness_factor) - 1.0) * self._bending_part()
        strain = ((1.0 - nu) * value - nu * root_m * q * slope) / q + support / (root_m * q)
        displacement = a / np.asarray(self.young_modulus) * strain + bent / q**2
        stress = np.exp(-depth) * root_m * (curvature + slope)
        return HarmonicState(displacement * pressure, stress * pressure)

    def asymptote(self) -> Floats:
        """Return A_1 to A_4 of C_n = A_1/n + A_2/n^2 + A_3/n^3 + A_4/n^4 + O(n^-5) of high harmonics, m/Pa.

        Shape (4, ...). A_1 = 2a/E is the half plane's (isotropic). Error: also exp(-2 n decay_rate()). Derived here.

        >>> [float(A) for A in HarmonicRing(1.0, 1.1, 2.0, 0.3).asymptote()]
        [1.0, 0.35, 1.0, 0.35]
        """
        square, constant = self._alpha_squared()
        m, nu = np.asarray(self.hoop_stiffness_factor), np.asarray(self.poisson_ratio)
        first = 2.0 * np.sqrt(square / m)
        third = first * (1.0 + 0.5 * constant / square)
        scale = np.asarray(self.inner_radius) / np.asarray(self.young_modulus)
        bent = (1.0 / np.asarray(self.bending_stiffness_factor) - 1.0) * self._bending_part()
        terms = (scale * first, scale * (1.0 - nu), scale * third, scale * (1.0 - nu) + bent)
        return np.stack(np.broadcast_arrays(*terms)).astype(np.float64)

    def decay_rate(self) -> Floats:
        """Return the d of exp(-n d) with which a high harmonic fades from bore to outside; ln(b/a) when isotropic.

        Dimensionless. Derived here.

        >>> round(float(HarmonicRing(1.0, 1.1, 1.0, 0.3).decay_rate()), 6)       # ln 1.1
        0.09531
        """
        square, _ = self._alpha_squared()
        beta_square = square - np.sqrt(np.asarray(self.hoop_stiffness_factor))
        slowest = np.sqrt(square) - np.sqrt(np.maximum(beta_square, 0.0))
        return np.asarray(slowest * np.log(np.asarray(self.outer_radius) / np.asarray(self.inner_radius)))

    def _bending_part(self) -> Floats:
        """(n^2-1)^2 C_n of a thin ring, m/Pa: 12 a/(E_t t^3), t = ln(b/a) for h/R."""
        a, b = np.asarray(self.inner_radius), np.asarray(self.outer_radius)
        modulus = np.asarray(self.young_modulus) * np.asarray(self.hoop_stiffness_factor)
        return np.asarray(12.0 * a / (modulus * np.log1p((b - a) / a) ** 3))

    def _shear_ratio(self) -> Floats:
        """sqrt(m) (E_r/G - 2 nu)/2: 1 when isotropic, below 1 when exponents of high n are complex."""
        root_m = np.sqrt(np.asarray(self.hoop_stiffness_factor))
        if self.shear_modulus is None:
            return np.asarray(root_m)
        compliance = np.asarray(self.young_modulus) / np.asarray(self.shear_modulus)
        return np.asarray(0.5 * root_m * (compliance - 2.0 * np.asarray(self.poisson_ratio)))

    def _alpha_squared(self) -> tuple[Floats, Floats]:
        """Factor of n^2 and constant in alpha^2 = (S + sqrt(P))/2."""
        root_m = np.sqrt(np.asarray(self.hoop_stiffness_factor))
        return 0.5 * root_m * (self._shear_ratio() + 1.0), np.asarray(0.25 * (1.0 - root_m) ** 2)

    def _exponents(self, n: Floats) -> tuple[Floats, Floats]:
        """Alpha and beta^2 such that the exponents of f are +-alpha +-beta; n and 1 when isotropic."""
        root_m = np.sqrt(np.asarray(self.hoop_stiffness_factor))
        square, constant = self._alpha_squared()
        # Written in this order beta^2 is free of cancellation: it is exactly 1 for an isotropic ring.
        beta_squared = 0.25 * (1.0 + root_m) ** 2 + 0.5 * root_m * (self._shear_ratio() - 1.0) * n**2
        return np.sqrt(square * n**2 + constant), beta_squared


def _clamped_beam(
    alpha: Floats, beta_squared: Floats, end: Floats, depth: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Solve f'''' - 2S f'' + P f = 0 with f(0) = 1, f'(0) = f(end) = f'(end) = 0 at a depth.

    S = alpha^2 + beta^2, sqrt(P) = alpha^2 - beta^2. Returns f and, over sqrt(P), f', f'' and f''' - 2S f'.
    Every sum but f (small where it cancels) and f'' (which has a zero) is of positive terms when beta is real.
    Growing functions carry their exponential apart: `near` falls from the bore, `far` is its reflection.
    """
    rest = end - depth
    mu = np.sqrt(np.maximum(beta_squared, 0.0))
    near, far = np.exp((mu - alpha) * depth), np.exp((mu - alpha) * (end + rest))
    cosh_rest, sinh_rest = _decayed_hyperbolic(alpha, rest)
    cosh_depth, sinh_depth = _decayed_hyperbolic(alpha, depth)
    even_rest, odd_rest = _decayed_even_odd(beta_squared, rest)
    even_depth, odd_depth = _decayed_even_odd(beta_squared, depth)
    _, sinh_end = _decayed_hyperbolic(alpha, end)
    _, odd_end = _decayed_even_odd(beta_squared, end)
    determinant = _sum_times_difference(alpha, beta_squared, end)
    first, second = near * sinh_end / determinant, far * alpha * odd_end / determinant
    value = first * (sinh_rest * even_depth + alpha * cosh_rest * odd_depth)
    value = value - second * (sinh_depth * even_rest + alpha * cosh_depth * odd_rest)
    slope = -(first * sinh_rest * odd_depth + second * sinh_depth * odd_rest)
    curvature = first * (alpha * cosh_rest * odd_depth - sinh_rest * even_depth)
    curvature = curvature - second * (alpha * cosh_depth * odd_rest - sinh_depth * even_rest)
    support = first * cosh_rest * even_depth + second * cosh_depth * even_rest
    return value, slope, curvature, 2.0 * alpha * support - (alpha**2 + beta_squared) * slope


def _decayed_hyperbolic(rate: Floats, length: Floats) -> tuple[Floats, Floats]:
    """Cosh and sinh of rate*length, both over exp(rate*length)."""
    decay = np.exp(-2.0 * rate * length)
    return 0.5 * (1.0 + decay), -0.5 * np.expm1(-2.0 * rate * length)


def _decayed_even_odd(rate_squared: Floats, length: Floats) -> tuple[Floats, Floats]:
    """cosh(beta x) and sinh(beta x)/beta of either sign of beta^2, over exp(beta x) where it is real."""
    growth, turn = np.sqrt(np.maximum(rate_squared, 0.0)), np.sqrt(np.maximum(-rate_squared, 0.0))
    cosh, sinh = _decayed_hyperbolic(growth, length)
    grows = growth > 0.0
    odd = np.where(grows, sinh / np.where(grows, growth, 1.0), length * np.sinc(turn * length / np.pi))
    return np.where(grows, cosh, np.cos(turn * length)), odd


def _sum_times_difference(alpha: Floats, beta_squared: Floats, end: Floats) -> Floats:
    """sinh^2(alpha t) - (alpha/beta)^2 sinh^2(beta t), over exp(2 alpha t), without cancellation.

    In a thin ring the difference of the two sines is their third-order part: it is summed as a series there.
    """
    mu = np.sqrt(np.maximum(beta_squared, 0.0))
    _, sine = _decayed_hyperbolic(alpha, end)
    _, odd = _decayed_even_odd(beta_squared, end)
    other = alpha * odd * np.exp((mu - alpha) * end)
    x, y = np.minimum((alpha * end) ** 2, 1.0), np.clip(beta_squared * end**2, -1.0, 1.0)
    series = alpha * end * np.exp(-alpha * end) * (_sine_series(x) - _sine_series(y))
    return (sine + other) * np.where(alpha * end < 1.0, series, sine - other)


def _sine_series(x: Floats) -> Floats:
    """sinh(sqrt(x))/sqrt(x) - 1 for |x| <= 1; the first term left out is 1/21! of it."""
    total = np.zeros_like(x)
    for k in range(9, 0, -1):
        total = (1.0 + total) * x / (2 * k * (2 * k + 1))
    return total
