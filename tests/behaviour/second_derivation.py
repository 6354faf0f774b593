"""A second derivation of the assembled rotor, for tests: where each surface lies, contact and pull by root finding.

Nothing here comes from rimmodel but the stored inputs. Rings are solved for displacements, ``U (r/b)^k + V (r/b)^-k
+ W r^3`` with the edge loads as a 2 x 2 system; arms by integrating the force along them; the fit by letting the rim
bore and the top of the spider meet; the gap as stator bore less pole face; the pull by bracketing the widest gap that
agrees with its own pull.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq, minimize_scalar

from rimmodel.rotor import ArmSpider, Condition, DiscSpider, Rotor

MAGNETIC = 4e-7 * math.pi


@dataclass(frozen=True)
class Field:
    """u = U (r/b)^k + V (r/b)^-k + W r^3 of a ring, and its stresses."""

    outer: float
    modulus: float
    poisson: float
    factor: float
    constants: tuple[float, float, float]

    def displacement(self, r):
        (big, small, spin), k, s = self.constants, math.sqrt(self.factor), r / self.outer
        return big * s**k + (small * s**-k if small else 0.0) + spin * r**3

    def strains(self, r):
        (big, small, spin), k, s = self.constants, math.sqrt(self.factor), r / self.outer
        low = small * s**-k if small else 0.0
        radial = (k * big * s**k - k * low) / r + 3 * spin * r**2
        return radial, (big * s**k + low) / r + spin * r**2

    def stresses(self, r):
        radial, hoop = self.strains(r)
        plane = self.modulus / (1 - self.poisson**2 * self.factor)
        return plane * (radial + self.poisson * self.factor * hoop), plane * self.factor * (
            hoop + self.poisson * radial
        )


def ring(a, b, modulus, poisson, density, factor=1.0, pressure=0.0, traction=0.0, x=0.0) -> Field:
    """Plane-stress ring or (a = 0, isotropic) solid disc under bore pressure, outside traction and speed squared."""
    k = math.sqrt(factor)
    spin = -density * x * (1 - poisson**2 * factor) / (modulus * (9 - factor))

    def radial_stress(r, constants):
        return Field(b, modulus, poisson, factor, constants).stresses(r)[0]

    if a == 0:
        assert k == 1
        rest = traction - radial_stress(b, (0.0, 0.0, spin))
        return Field(b, modulus, poisson, factor, (rest / radial_stress(b, (1.0, 0.0, 0.0)), 0.0, spin))
    (a1, a2), (b1, b2) = ((radial_stress(r, (1.0, 0.0, 0.0)), radial_stress(r, (0.0, 1.0, 0.0))) for r in (a, b))
    bore, outside = -pressure - radial_stress(a, (0.0, 0.0, spin)), traction - radial_stress(b, (0.0, 0.0, spin))
    determinant = a1 * b2 - a2 * b1
    big, small = (bore * b2 - outside * a2) / determinant, (a1 * outside - b1 * bore) / determinant
    return Field(b, modulus, poisson, factor, (big, small, spin))


@dataclass(frozen=True)
class State:
    """What the rotor does at one speed."""

    gap: float
    pull: float
    interference: float
    pressure: float
    rim: Field


class Machine:
    """One rotor in one condition; `x` is speed squared, `pull` the traction of the field on the rim outside."""

    def __init__(self, rotor: Rotor, condition: Condition, direction: str | None = None) -> None:
        self.rotor, self.condition = rotor, condition
        fit, rim = rotor.fit, rotor.rim
        feigned = {"up": fit.friction_interference, "down": -fit.friction_interference, None: 0.0}[direction]
        self.ledge = fit.interference + feigned - fit.settlement
        self.a, self.b, self.length = rim.inner_radius, rim.outer_radius, rim.length
        self.face, self.faces = rotor.poles.face_radius, rotor.poles.face_length or rim.length
        steel = rim.material
        self.rim_rise, self.spider_rise = condition.rim_temperature - 293.15, condition.spider_temperature - 293.15
        poles = condition.pole_temperature
        self.pole_rise = self.rim_rise if poles is None else poles - 293.15
        self.stator_rise = condition.stator_temperature - 293.15
        self.alpha = steel.thermal_expansion
        own = rotor.spider.material
        self.spider_alpha = self.alpha if own is None else own.thermal_expansion
        stator = rotor.air_gap.stator_thermal_expansion
        self.stator_alpha = self.alpha if stator is None else stator

    def pole_traction(self, x: float) -> float:
        poles = self.rotor.poles
        return poles.count * (poles.mass * poles.mass_radius * x) / (2 * math.pi * self.b * self.length)

    def rim(self, pressure: float, pull: float, x: float) -> Field:
        rim, steel = self.rotor.rim, self.rotor.rim.material
        return ring(
            self.a, self.b, rim.stacking_factor * steel.young_modulus, steel.poisson_ratio,
            rim.stacking_factor * steel.density, rim.hoop_stiffness_factor,
            pressure, self.pole_traction(x) + pull, x,
        )  # fmt: skip

    def spider_top(self, pressure: float, x: float) -> float:
        """Radial displacement of what the rim bears on, keys included."""
        total = 2 * math.pi * self.a * self.length * pressure
        spider, fit = self.rotor.spider, self.rotor.fit
        keys = fit.key_count or getattr(spider, "count", None)
        squeeze = total / keys / fit.key_stiffness if keys else 0.0
        if isinstance(spider, DiscSpider):
            steel = spider.material
            outside = -total / (2 * math.pi * self.a * spider.thickness)
            disc = ring(
                spider.bore_radius, self.a, steel.young_modulus, steel.poisson_ratio, steel.density,
                traction=outside, x=x,
            )  # fmt: skip
            return disc.displacement(self.a) - squeeze
        if not isinstance(spider, ArmSpider):
            return spider.growth * x / spider.growth_speed**2 - total / spider.radial_stiffness - squeeze
        steel = spider.material

        def force(r: float) -> float:
            outboard = steel.density * spider.arm_area * x * (self.a**2 - r**2) / 2
            return outboard + spider.tip_mass * self.a * x - total / spider.count

        strain = quad(force, spider.hub_radius, self.a, epsrel=1e-13)[0]
        stretch = strain / (steel.young_modulus * spider.arm_area)
        hub = 0.0
        if spider.hub_length is not None:
            pulled = spider.count * force(spider.hub_radius) / (2 * math.pi * spider.hub_radius * spider.hub_length)
            hub = ring(
                spider.hub_bore_radius, spider.hub_radius, steel.young_modulus, steel.poisson_ratio, steel.density,
                traction=pulled, x=x,
            ).displacement(spider.hub_radius)  # fmt: skip
        return stretch + hub - squeeze

    def overlap(self, pressure: float, pull: float, x: float) -> float:
        """How far the top of the spider lies outside the rim bore when this pressure acts on both."""
        spider = self.ledge + self.spider_top(pressure, x) + self.spider_alpha * self.spider_rise * self.a
        return spider - self.rim(pressure, pull, x).displacement(self.a) - self.alpha * self.rim_rise * self.a

    def pressure(self, pull: float, x: float) -> float:
        free, pressed = self.overlap(0.0, pull, x), self.overlap(1e7, pull, x)
        return max(free, 0.0) * 1e7 / (free - pressed)

    @cached_property
    def assembled_growth(self) -> float:
        """Growth of the rim outside by the fit as assembled: cold, no field, nothing settled yet."""
        none = Machine(self.rotor, Condition())
        none.ledge = self.rotor.fit.interference
        return none.rim(none.pressure(0.0, 0.0), 0.0, 0.0).displacement(self.b)

    def gap(self, pull: float, x: float) -> float:
        """Stator bore less pole face."""
        poles, gap = self.rotor.poles, self.rotor.air_gap
        force = poles.mass * poles.mass_radius * x + pull * 2 * math.pi * self.b * self.length / poles.count
        outside = self.rim(self.pressure(pull, x), pull, x).displacement(self.b) - self.assembled_growth
        expansion = self.alpha * (self.b * self.rim_rise + (self.face - self.b) * self.pole_rise)
        face = self.face + outside + expansion + force / poles.radial_stiffness
        bore = self.face + gap.cold
        stator = bore * (1 + self.stator_alpha * self.stator_rise)
        if gap.stator_core_depth is not None:
            at_face = pull * (2 * math.pi * self.b * self.length) / (2 * math.pi * self.face * self.faces)
            stator -= at_face * bore**2 / (gap.stator_core_modulus * gap.stator_core_depth)
        return stator - face

    def field_pull(self, gap: float) -> float:
        """Traction on the rim outside by the field over the pole faces."""
        flux = self.condition.flux_density
        if self.condition.excitation == "constant current":
            flux *= self.rotor.air_gap.cold / gap
        mean = flux**2 / (4 * MAGNETIC)  # half of B^2/(2 mu0): mean over a sine
        return mean * (2 * math.pi * self.face * self.faces) / (2 * math.pi * self.b * self.length)

    def state(self, x: float) -> State | None:
        """The stable state with the widest gap, or None when the pull closes the gap."""
        gap = self.balanced_gap(x)
        if gap is None:
            return None
        pull = self.field_pull(gap) if self.condition.flux_density else 0.0
        pressure = self.pressure(pull, x)
        return State(self.gap(pull, x), pull, self.overlap(0.0, pull, x), pressure, self.rim(pressure, pull, x))

    def balanced_gap(self, x: float) -> float | None:
        """The widest gap that agrees with its own pull; the excess of one over the other is concave in the gap."""
        unpulled = self.gap(0.0, x)
        if not self.condition.flux_density:
            return unpulled
        if self.condition.excitation != "constant current":
            return self.gap(self.field_pull(1.0), x)
        if unpulled <= 0:
            return None

        def excess(gap: float) -> float:
            return self.gap(self.field_pull(gap), x) - gap

        best = minimize_scalar(
            lambda gap: -excess(gap),
            bounds=(0.01 * unpulled, unpulled),
            method="bounded",
            options={"xatol": 1e-7 * unpulled},
        ).x
        return brentq(excess, best, unpulled, xtol=1e-16, rtol=1e-14) if excess(best) > 0 else None

    def float_speed_squared(self, highest: float) -> float | None:
        """Speed squared at which the interference passes zero, up to `highest`; None if the gap closes or it stays."""

        def left(x: float) -> float:
            state = self.state(x)
            return -1.0 if state is None else state.interference

        x = np.linspace(0.0, highest, 25)
        end = next((i for i, value in enumerate(x) if left(value) <= 0), None)
        if end is None:
            return None
        last = brentq(left, x[end - 1], x[end], xtol=1e-13 * highest, rtol=1e-14)
        # at a snap the interference jumps; at lift-off it has run out on the seated side
        return last if abs(left(last * (1 - 1e-11))) < 1e-7 else None

    def closing_speed_squared(self, highest: float) -> float:
        """Speed squared from which no state exists: the last balance of a field, by halving."""
        low, high = 0.0, highest
        for _ in range(60):
            middle = (low + high) / 2
            low, high = (low, middle) if self.state(middle) is None else (middle, high)
        return low
