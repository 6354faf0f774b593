"""General libraries as referees: scipy's optimisers, statistics and constants, mpmath's many digits."""

from __future__ import annotations

from dataclasses import replace
from functools import cache, partial

import mpmath
import numpy as np
from numpy.typing import NDArray
from scipy import constants, optimize, stats
from scipy.linalg import cholesky, solve_triangular

import rimmodel as rm
from rimmodel.behaviour.contact.coefficients import MAGNETIC_CONSTANT
from rimmodel.behaviour.keys.keyed_rotor import keyed_rotor
from rimmodel.behaviour.keys.lockstep import follow
from rimmodel.behaviour.keys.run import run_of
from rimmodel.behaviour.study.inputs import Inputs
from rimmodel.behaviour.study.sobol_indices import sobol_indices
from rimmodel.elastic.harmonics import HarmonicRing
from rimmodel.elastic.roundness import minimum_zone_circle
from rimmodel.evidence.knee.fit import Knee, fit_knee
from rimmodel.rotor.tolerance import Tolerance
from rimmodel.units import KILONEWTON, MILLIMETRE, parse_quantity
from validation.check import Check, Provenance

Floats = NDArray[np.float64]
ROUND_OFF = "the same equations solved by another method: round-off"

independent = partial(Check, provenance=Provenance.INDEPENDENT_METHOD)


def checks() -> tuple[Check, ...]:
    return (*_keys(), *_knee(), *_zone(), *_harmonics(), *_indices(), *_units())


# ------------------------------------------------------------------------------------------- keys by least squares

UNEVEN = 1e-3 * np.array([2.10, 2.25, 1.95, 2.05, 2.30, 2.10, 1.90, 2.15, 2.00, 2.20, 2.05, 1.85, 2.25, 2.10])
"""Invented shims behind the 14 keys of the invented example."""


@cache
def key_forces(speed: float) -> tuple[Floats, Floats]:
    """Ours and theirs in N: forces F >= 0 that minimise F Q F/2 - F w, Q the compliance of rim, keys and guides."""
    case = rm.example_case()
    fit = replace(case.rotor.fit, key_width=0.3, key_interference=None, guide_stiffness=3e9, tangential_clearance=None)
    keyed = keyed_rotor(replace(case.rotor, fit=fit), case.conditions["cold"], UNEVEN)
    ours = run_of(keyed, follow(keyed.loads), np.array([speed])).key_force[0]
    at = keyed.loads.at(speed**2)
    root = cholesky(at.compliance + (at.shape / at.stiffness) @ at.shape.T)
    theirs, _ = optimize.nnls(root, solve_triangular(root, at.interference, trans="T"))
    return ours, theirs


def _keys() -> tuple[Check, ...]:
    row = partial(
        independent,
        source="scipy.optimize.nnls (Lawson & Hanson), 14 uneven keys of the invented example with stiff guides",
        unit="kN",
        tolerance=1e-7,
        reason=ROUND_OFF,
    )
    rows = []
    for speed in (0.0, 19.0):
        ours, theirs = key_forces(speed)
        for key in (int(theirs.argmax()), int(np.flatnonzero(theirs)[theirs[theirs > 0].argmin()])):
            rows.append(
                row(
                    f"LIB-1.{len(rows) + 1}",
                    f"force on key {key + 1} at {speed:g} rad/s, {np.count_nonzero(theirs)} of 14 keys seated",
                    printed=float(theirs[key]) / KILONEWTON,
                    ours=partial(_kilonewton, ours[key]),
                )
            )
    return tuple(rows)


def _kilonewton(force: float) -> float:
    return force / KILONEWTON


# ------------------------------------------------------------------------------------------- knee by curve_fit


def broken(x: Floats, knee: float, level: float, before: float, after: float) -> Floats:
    """A broken line that passes `level` at its knee."""
    return level + before * np.minimum(x - knee, 0.0) + after * np.maximum(x - knee, 0.0)


@cache
def run_up() -> tuple[Knee, Floats, Floats]:
    """An invented run-up of 60 gaps in mm against (n/rated)^2: our knee, their parameters and standard errors."""
    random = np.random.default_rng(7)
    x = np.linspace(0.1, 1.45, 60) ** 2
    sigma = random.uniform(0.01, 0.03, x.size)
    y = broken(x, 1.2, 18.0, -1.0, -2.0) + sigma * random.standard_normal(x.size)
    start = [1.2, 18.0, -1.0, -2.0]
    best, covariance = optimize.curve_fit(broken, x, y, start, sigma, absolute_sigma=True, xtol=1e-13, ftol=1e-13)
    return fit_knee(x, y, sigma, robust=False, take_up=0.0, rounded=False), best, np.sqrt(np.diag(covariance))


def _knee() -> tuple[Check, ...]:
    ours, best, error = run_up()
    mine = (ours.position, ours.level, ours.slope_before, ours.slope_after)
    row = partial(
        independent,
        source="scipy.optimize.curve_fit from the true values, 60 invented gaps of known uncertainty",
        tolerance=1e-4,
        reason="its derivative is by differences across the kink",
    )
    names, units = ("knee", "gap at the knee", "slope before", "slope after"), ("-", "mm", "mm", "mm")
    return tuple(
        check
        for place, (name, unit) in enumerate(zip(names, units, strict=True))
        for check in (
            row(f"LIB-2.{place + 1}a", f"run-up: {name}", printed=float(best[place]), unit=unit,
                ours=partial(float, mine[place])),
            row(f"LIB-2.{place + 1}b", f"run-up: standard error of the {name}", printed=float(error[place]), unit=unit,
                ours=partial(_error, ours, place)),
        )
    )  # fmt: skip


def _error(knee: Knee, place: int) -> float:
    return float(np.sqrt(knee.covariance[place, place]))


# ------------------------------------------------------------------------------------------- narrowest zone by simplex


def narrowest_zone() -> tuple[float, float]:
    """Ours and theirs in mm: 44 invented face radii of 4 m, the zone by linear programs about ever better centres."""
    random = np.random.default_rng(9)
    angle = np.linspace(0.0, 2.0 * np.pi, 44, endpoint=False)
    radius = 4.0 + 1e-3 * random.standard_normal(44)
    x, y = radius * np.cos(angle), radius * np.sin(angle)
    centre, one = np.zeros(2), np.ones(44)
    for _ in range(6):  # distance is linear in a small move of the centre
        distance = np.hypot(x - centre[0], y - centre[1])
        toward = np.column_stack([(x - centre[0]) / distance, (y - centre[1]) / distance])
        outside = np.column_stack([-toward, -one, 0 * one])
        inside = np.column_stack([toward, 0 * one, one])
        found = optimize.linprog(
            [0, 0, 1, -1],
            np.vstack([outside, inside]),
            np.concatenate([-distance, distance]),
            bounds=[(None, None)] * 4,
        )
        centre = centre + found.x[:2]
    theirs = float(np.ptp(np.hypot(x - centre[0], y - centre[1])))
    return float(minimum_zone_circle(x, y).zone) / MILLIMETRE, theirs / MILLIMETRE


def _zone() -> tuple[Check, ...]:
    ours, theirs = narrowest_zone()
    source = "scipy.optimize.linprog, repeated about the centre found"
    what = "roundness of 44 invented poles: narrowest ring that holds all faces"
    tolerance, reason = 1e-8, "differences of radii near 4 m: 1e-15 of 4 m on 4 mm, and the simplex"
    return (independent("LIB-3", what, source, theirs, "mm", partial(float, ours), tolerance=tolerance, reason=reason),)


# ------------------------------------------------------------------------------------------- harmonics in 50 digits


def michell(n: int, inner: str, outer: str, nu: str) -> mpmath.mpf:
    """Displacement per bore pressure cos(n theta) over a/E, by Michell's stress function in 50 digits.

    Of r^m cos(n theta): radial stress (m - n^2) r^(m-2), shear n (m-1) r^(m-2).
    """
    with mpmath.workdps(50):
        poisson, a, b = mpmath.mpf(nu), mpmath.mpf(1), mpmath.mpf(outer) / mpmath.mpf(inner)
        powers = (n, -n, n + 2, 2 - n)
        rows = [[(m - n * n) * r ** (m - 2) for m in powers] for r in (a, b)]
        rows += [[n * (m - 1) * r ** (m - 2) for m in powers] for r in (a, b)]
        first, second, third, fourth = mpmath.lu_solve(mpmath.matrix(rows), mpmath.matrix([-1, 0, 0, 0]))
        kappa = (3 - poisson) / (1 + poisson)
        moved = -n * first + n * second + (kappa - n - 1) * third + (kappa + n - 1) * fourth
        return moved * (1 + poisson)  # 2 G = E/(1 + nu)


def _harmonics() -> tuple[Check, ...]:
    ring = HarmonicRing(4.0, 4.5, 206e9, 0.3)
    rows = []
    for n in (2, 3, 14, 60):
        rows.append(
            independent(
                f"LIB-4.{n}",
                f"growth of the bore of a ring of 4.0/4.5 m under a pressure cos({n} theta), over p a/E",
                "Michell's stress function, four edge conditions solved by mpmath in 50 digits",
                float(michell(n, "4.0", "4.5", "0.3")),
                "-",
                partial(_scaled_compliance, ring, n),
                tolerance=1e-11,
                reason=ROUND_OFF,
            )
        )
    return tuple(rows)


def _scaled_compliance(ring: HarmonicRing, n: int) -> float:
    return float(ring.compliance(n) * 206e9 / 4.0)


# ------------------------------------------------------------------------------------------- what drives a float speed

DRIVERS = (("interference", 2.0e-3, 0.1e-3), ("hoop_stiffness_factor", 0.8, 0.04), ("pole_mass", 9000.0, 100.0))
"""Name, middle, standard uncertainty: an invented machine."""


def float_speeds(interference: Floats, factor: Floats, mass: Floats) -> Floats:
    """Float speed of the invented example with other interference, hoop stiffness and pole mass."""
    rotor = rm.example_case().rotor
    changed = replace(
        rotor,
        rim=replace(rotor.rim, hoop_stiffness_factor=factor),
        poles=replace(rotor.poles, mass=mass),
        fit=replace(rotor.fit, interference=interference),
    )
    return np.asarray(rm.float_speed(changed, rm.example_case().conditions["cold"]).speed)


@cache
def indices() -> tuple[Floats, Floats]:
    """First-order indices of the float speed: ours, and those of scipy.stats (Saltelli's scheme)."""
    normals = [stats.norm(middle, sigma) for _, middle, sigma in DRIVERS]
    theirs = stats.sobol_indices(
        func=lambda x: float_speeds(*x)[np.newaxis], n=2**14, dists=normals, rng=np.random.default_rng(4)
    )
    inputs = Inputs(tuple(Tolerance(name, middle, "normal", sigma) for name, middle, sigma in DRIVERS))
    ours = sobol_indices(lambda table: {"speed": float_speeds(*table.values())}, inputs, 2**14, seed=3)
    return ours.first[0], theirs.first_order.ravel()


def _indices() -> tuple[Check, ...]:
    return tuple(
        independent(
            f"LIB-5.{place + 1}",
            f"share of the variance of a float speed due to {name.replace('_', ' ')}",
            "scipy.stats.sobol_indices, 16,384 samples",
            float(indices()[1][place]),
            "-",
            partial(_ours, place),
            tolerance=0.01,
            reason="sampling of both: 0.01 of the whole variance, 1/sqrt(16,384)",
            scale=1.0,
        )
        for place, (name, _, _) in enumerate(DRIVERS)
    )


def _ours(place: int) -> float:
    return float(indices()[0][place])


# ------------------------------------------------------------------------------------------- units


UNITS = (
    ("65 ksi", "strength", 65_000 * constants.psi),
    ("200000 lb", "mass", 200_000 * constants.lb),
    ("60 mil", "small length", 60 * constants.mil),
    ("90 degF", "temperature", float(constants.convert_temperature(90.0, "F", "K"))),
    ("200000 lbf", "force", 200_000 * constants.lbf),
    ("136.4 rpm", "speed", 136.4 * 2 * constants.pi / constants.minute),
)


def _units() -> tuple[Check, ...]:
    exact = partial(independent, source="scipy.constants", tolerance=1e-14, reason="exact by definition: round-off")
    return (
        *(
            exact(f"LIB-6.{n}", f"{text} in SI", printed=value, unit="SI", ours=partial(parse_quantity, text, kind))
            for n, (text, kind, value) in enumerate(UNITS, 1)
        ),
        independent(
            "LIB-7",
            "magnetic constant",
            "scipy.constants, CODATA",
            constants.mu_0,
            "H/m",
            lambda: MAGNETIC_CONSTANT,
            tolerance=1e-9,
            reason="measured since 2019; 4e-7 pi was its definition before",
        ),
    )
