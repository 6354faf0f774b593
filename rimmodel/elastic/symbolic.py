"""Sympy derivations of what the numeric modules compute; nothing here is called by them.

`rotating_ring` starts from equilibrium, the strain law and compatibility, and ends in the constants. Tests hold
`rimmodel.elastic.ring` to it in high precision.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import sympy as sp

r, a, b = sp.symbols("r a b", positive=True)
k = sp.Symbol("k", positive=True)
"""Square root of E_hoop / E_radial."""
young_modulus, poisson_ratio, density = sp.symbols("E nu rho", positive=True)
speed, pressure, traction = sp.symbols("omega p q", real=True)
expansion, warm_bore, warm_outer = sp.symbols("alpha T_a T_b", real=True)


@dataclass(frozen=True)
class Field:
    """Radial stress, hoop stress and radial displacement as expressions in r."""

    radial_stress: sp.Expr
    hoop_stress: sp.Expr
    radial_displacement: sp.Expr


def equilibrium(field: Field) -> sp.Expr:
    """Radial force balance of an element, zero when it holds: d(r s_r)/dr - s_t + rho w^2 r^2."""
    return sp.diff(r * field.radial_stress, r) - field.hoop_stress + density * speed**2 * r**2


def compatibility(field: Field) -> sp.Expr:
    """Radial strain of the law less du/dr, zero when both strains come from one displacement."""
    law = (field.radial_stress - poisson_ratio * field.hoop_stress) / young_modulus + expansion * temperature()
    return law - sp.diff(field.radial_displacement, r)


def temperature() -> sp.Expr:
    """Rise that is linear in radius between the bore and the outside."""
    return warm_bore + (warm_outer - warm_bore) * (r - a) / (b - a)


@cache
def rotating_ring() -> Field:
    """Solve the polar-orthotropic rotating ring with edge loads and a linear temperature.

    The hoop stress follows from equilibrium and the displacement from the hoop strain; compatibility then fixes
    the particular terms, the edge loads fix the free constants.
    """
    free_up, free_down, spin_term, warm_term = sp.symbols("A B P W")
    radial = free_up * r ** (k - 1) + free_down * r ** (-k - 1) + spin_term * r**2 + warm_term * r
    hoop = sp.diff(r * radial, r) + density * speed**2 * r**2
    strain = hoop / (young_modulus * k**2) - poisson_ratio * radial / young_modulus + expansion * temperature()
    trial = Field(radial, hoop, r * strain)
    rest = sp.expand(sp.simplify(compatibility(trial)))
    particular = sp.solve([rest.coeff(r, 2), rest.coeff(r, 1)], [spin_term, warm_term], dict=True)[0]
    radial = radial.subs(particular)
    edges = [radial.subs(r, a) + pressure, radial.subs(r, b) - traction]
    free = sp.solve(edges, [free_up, free_down], dict=True)[0]
    return Field(
        *(
            part.subs(particular).subs(free)
            for part in (trial.radial_stress, trial.hoop_stress, trial.radial_displacement)
        )
    )


def thin_ring_hoop_stress() -> sp.Expr:
    """Limit of the hoop stress of the spinning isotropic ring as the bore meets the outside: rho w^2 b^2."""
    h = sp.Symbol("h", positive=True)
    spun = rotating_ring().hoop_stress.subs({pressure: 0, traction: 0, warm_bore: 0, warm_outer: 0, k: 1})
    return sp.limit(sp.simplify(spun.subs({r: b, a: b - h})), h, 0)
