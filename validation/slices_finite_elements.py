"""A rim that differs along its length: first and last lift-off of its slices against axisymmetric finite elements.

scikit-fem, nine-node quadrilaterals over radius and height, polar-orthotropic with an axial modulus and a shear modulus
across the sheets of their own, both ends free. Poles pull on the part of the outside that they cover, heat and shims
are linear in height, and the spider is an elastic bed on the bore: each place by itself, or behind it a bar that stays
straight on two supports at the ends. The elements know nothing of sections that stay plane, of slices and of a
compliance of the ring. First lift-off: all of the bore is held and its pressure reaches zero somewhere; last: the rim
is free and its bore leaves the interference nowhere. The last rows hold the pressure of a bore that is in part free.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache, partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rimmodel import example_case
from rimmodel.arrays import floats
from rimmodel.behaviour.axial.lift_off import first_lift_off_of, last_lift_off_of
from rimmodel.behaviour.axial.slices import SlicedRotor, Stack, slice_states, sliced_rotor
from rimmodel.rotor import Axial, Condition, Rotor
from rimmodel.units import RPM
from validation.check import Check, Provenance

Floats = NDArray[np.float64]

SOURCE = "scikit-fem, nine-node quadrilaterals, axisymmetric, orthotropic with shear across the sheets"
REASON = "sections that stay plane, slices of finite length"
PRESSED_REASON = "half a per cent of the pressure at standstill, a tenth of which is left or less"
DEEP, HIGH = 5, 60
"""Elements through the depth and over the height."""


@dataclass(frozen=True)
class Course:
    """One rim: what differs along it, how stiff its stack is against solid steel, and what its spider is."""

    what: str
    axial: Axial
    warmer: float
    """K, upper end over lower."""
    along: float
    across: float
    """Axial modulus and shear modulus over those of solid steel."""


SOLID, PRESSED, SOFT = (1.0, 1.0), (0.3, 0.1), (0.05, 0.005)
COURSES = (
    Course("shims of 0.2 mm, solid stack", Axial(interference_taper=0.2e-3, spider_yields="local"), 0.0, *SOLID),
    Course("shims of 0.2 mm, soft stack", Axial(interference_taper=0.2e-3, spider_yields="local"), 0.0, *SOFT),
    Course("shims of 0.4 mm, straight spider", Axial(interference_taper=0.4e-3, spider_yields="ends"), 0.0, *PRESSED),
    Course("upper end 6 K warmer, pressed stack", Axial(spider_yields="local"), 6.0, *PRESSED),
    Course("poles on nine tenths, solid stack", Axial(pole_length=1.665, spider_yields="local"), 0.0, *SOLID),
    Course("poles on nine tenths, pressed stack", Axial(pole_length=1.665, spider_yields="local"), 0.0, *PRESSED),
    Course("poles on nine tenths, soft stack", Axial(pole_length=1.665, spider_yields="local"), 0.0, *SOFT),
    Course("poles on nine tenths, straight spider", Axial(pole_length=1.665, spider_yields="ends"), 0.0, *PRESSED),
    Course(
        "poles off the middle, shims, heat",
        Axial(pole_length=1.6, pole_rise=0.1, interference_taper=-0.2e-3, spider_yields="local"), 3.0, *PRESSED,
    ),
)  # fmt: skip
"""Invented; on the built-in machine, a rim of 3.62 to 4.06 m, 1.85 m long, cold and without field."""


def course_rotor(course: Course) -> tuple[Rotor, Condition, SlicedRotor]:
    """Ours, with the stack stiffness of a course."""
    case = example_case()
    rotor = replace(case.rotor, axial=course.axial)
    condition = replace(case.conditions["cold"], rim_temperature_taper=course.warmer)
    return rotor, condition, sliced_rotor(rotor, condition, _stack(rotor, course))


def _stack(rotor: Rotor, course: Course) -> Stack:
    young = float(rotor.rim.material.young_modulus)
    shear = young / (2.0 * (1.0 + float(rotor.rim.material.poisson_ratio)))
    return Stack(course.across * shear, course.along * young, course.axial.spider_yields == "ends")


class Bore:
    """The rim in elements: compliance and free growth of the places of its bore, lowest first."""

    def __init__(self, rotor: Rotor, stack: Stack) -> None:
        from skfem import Basis, BilinearForm, ElementQuad2, ElementVector, FacetBasis, MeshQuad

        ring, self.length = rotor.rim.ring, float(rotor.rim.length)
        self.inner, self.outer = float(ring.inner_radius), float(ring.outer_radius)
        radial, nu = float(np.asarray(ring.young_modulus)), float(np.asarray(ring.poisson_ratio))
        hoop, shear = radial * float(np.asarray(ring.hoop_stiffness_factor)), float(stack.shear_modulus)
        side = -nu / radial
        self.law = np.linalg.inv(
            [[1 / radial, side, side], [side, 1 / hoop, side], [side, side, 1 / float(stack.axial_modulus)]]
        )
        mesh = MeshQuad.init_tensor(
            np.linspace(self.inner, self.outer, DEEP + 1), np.linspace(-self.length / 2, self.length / 2, HIGH + 1)
        )
        element = ElementVector(ElementQuad2())
        self.basis = Basis(mesh, element, intorder=4)
        self.sides = {
            radius: FacetBasis(
                mesh, element, intorder=6,
                facets=mesh.facets_satisfying(partial(_at_radius, radius), boundaries_only=True),
            )
            for radius in (self.inner, self.outer)
        }  # fmt: skip
        law = self.law

        @BilinearForm
        def elastic(u, v, w):  # type: ignore[no-untyped-def]
            one, other = _strains(u, w), _strains(v, w)
            sums = sum(law[i, j] * one[j] * other[i] for i in range(3) for j in range(3))
            return (sums + shear * (u.grad[0, 1] + u.grad[1, 0]) * (v.grad[0, 1] + v.grad[1, 0])) * w.x[0]

        self.stiffness = elastic.assemble(self.basis)
        places, up = self.basis.doflocs, self._upward()
        on_bore = np.flatnonzero(np.isclose(places[0], self.inner) & ~up)
        self.nodes = on_bore[np.argsort(places[1, on_bore])]
        self.height = places[1, self.nodes]
        lowest = np.flatnonzero(np.isclose(places[0], self.inner) & up)
        self.pinned = lowest[np.argmin(np.abs(places[1, lowest]))]
        self.share = self._line(self.inner, lambda z: 1.0 + 0.0 * z)[self.nodes] / self.inner
        """m; height that belongs to each node: sums to the length."""

    def _upward(self) -> NDArray[np.bool_]:
        """Which unknowns are axial displacements."""
        up = np.zeros(self.basis.N, dtype=bool)
        for kind in (self.basis.nodal_dofs, self.basis.facet_dofs, self.basis.interior_dofs):
            up[kind[1::2].ravel()] = True
        return up

    def _line(self, radius: float, traction: Any) -> Floats:
        from skfem import LinearForm

        @LinearForm
        def pulled(v, w):  # type: ignore[no-untyped-def]
            return traction(w.x[1]) * v[0] * w.x[0]

        return floats(pulled.assemble(self.sides[radius]))

    def spin(self, density: float) -> Floats:
        """Load per speed squared of the rim itself."""
        from skfem import LinearForm

        @LinearForm
        def body(v, w):  # type: ignore[no-untyped-def]
            return density * w.x[0] ** 2 * v[0]

        return floats(body.assemble(self.basis))

    def poles(self, traction: float, length: float, middle: float) -> Floats:
        """Load of a mean outside traction that a part of the length takes, smeared over the nodes it covers."""
        fine = 4000
        at = (np.arange(fine) + 0.5) / fine * length - length / 2 + middle
        weights = np.zeros_like(self.height)
        ends = np.linspace(-self.length / 2, self.length / 2, HIGH + 1)
        cell = np.clip(np.searchsorted(ends, at) - 1, 0, HIGH - 1)
        place = (at - ends[cell]) / (ends[1] - ends[0])
        for step, shape in enumerate(((1 - place) * (1 - 2 * place), 4 * place * (1 - place), place * (2 * place - 1))):
            np.add.at(weights, 2 * cell + step, shape / fine)
        places, up = self.basis.doflocs, self._upward()
        outside = np.flatnonzero(np.isclose(places[0], self.outer) & ~up)
        load = np.zeros(self.basis.N)
        load[outside[np.argsort(places[1, outside])]] = traction * self.outer * self.length * weights
        return load

    def heat(self, strain_at_end: float) -> Floats:
        """Load of a free strain that is linear in height, from minus half of a difference to plus half of it."""
        from skfem import LinearForm

        law, length = self.law, self.length

        @LinearForm
        def warm(v, w):  # type: ignore[no-untyped-def]
            other = _strains(v, w)
            return strain_at_end * w.x[1] / length * sum(law[i].sum() * other[i] for i in range(3)) * w.x[0]

        return floats(warm.assemble(self.basis))

    def displaced(self, loads: Floats) -> Floats:
        """Outward displacement of the nodes of the bore under columns of loads."""
        from scipy.sparse.linalg import splu

        kept = np.setdiff1d(np.arange(self.basis.N), self.pinned)
        moved = np.zeros_like(loads)
        moved[kept] = splu(self.stiffness[kept][:, kept].tocsc()).solve(loads[kept])
        return moved[self.nodes]


def _at_radius(radius: float, at: Floats) -> NDArray[np.bool_]:
    return np.isclose(at[0], radius)


def _strains(u: Any, w: Any) -> list[Any]:
    return [u.grad[0, 0], u[0] / w.x[0], u.grad[1, 1]]


@dataclass(frozen=True)
class ByElements:
    """Interference along the bore of a free rim as ``at_rest - per_speed x``, and what pressures yield there."""

    height: Floats
    share: Floats
    at_rest: Floats
    per_speed: Floats
    yielding: Floats

    def pressure(self, squared: float) -> Floats:
        """Pa at the nodes; only where it pushes."""
        wanted = self.at_rest - self.per_speed * squared
        held = np.ones(wanted.size, dtype=bool)
        for _ in range(100):
            found = np.zeros_like(wanted)
            found[held] = np.linalg.solve(self.yielding[np.ix_(held, held)], wanted[held])
            open_ = self.yielding @ found - wanted
            wrong = (held & (found < 0.0)) | (~held & (open_ < 0.0))
            if not wrong.any():
                return found
            held ^= wrong
        raise ArithmeticError("no set of held nodes was found")

    def first(self) -> float:
        """Speed at which the first place of a bore that is held everywhere presses no more, rad/s."""
        inverse = np.linalg.inv(self.yielding)
        rest, slope = inverse @ self.at_rest, inverse @ self.per_speed
        return float(np.sqrt(np.min(rest[slope > 0.0] / slope[slope > 0.0])))

    def last(self) -> float:
        """Speed at which the free bore leaves no interference anywhere, rad/s."""
        return float(np.sqrt(np.max(self.at_rest / self.per_speed)))


@cache
def by_elements(course: Course) -> ByElements:
    """A course in finite elements."""
    rotor, _, sliced = course_rotor(course)
    bore, model, axial = Bore(rotor, _stack(rotor, course)), sliced.model, course.axial
    ring, length = rotor.rim.ring, float(rotor.rim.length)
    pole_length = length if axial.pole_length is None else float(axial.pole_length)
    steel = rotor.rim.material
    loads = [
        bore.spin(float(np.asarray(ring.density)))
        + bore.poles(float(sliced.hung), pole_length, float(axial.pole_rise)),
        bore.heat(float(steel.thermal_expansion) * course.warmer),
    ]
    push = np.zeros((bore.basis.N, bore.nodes.size))
    push[bore.nodes, np.arange(bore.nodes.size)] = bore.inner * bore.share
    found = bore.displaced(np.column_stack([*loads, push]))
    place = bore.height / length
    spider, keys = float(model.spider.compliance), 0.0
    soft = float(model.compliance - model.edges.bore_displacement.pressure) - keys
    yielding = found[:, 2:].copy()
    if course.axial.spider_yields == "ends":
        weights = bore.share / length
        yielding += spider * (1.0 + 4.0 * np.outer(place, place)) * weights
        soft -= spider
    yielding += soft * np.eye(place.size)
    taper = 0.0 if axial.interference_taper is None else float(axial.interference_taper)
    return ByElements(
        place,
        bore.share / length,
        float(model.at_rest) + taper * place - found[:, 1],
        found[:, 0] - float(model.spider.growth_per_speed_squared),
        yielding,
    )


PARTLY = (
    (COURSES[0], 187.0), (COURSES[2], 185.0), (COURSES[5], 186.0), (COURSES[7], 180.0),
)  # fmt: skip
"""Courses and speeds (rpm) at which a part of the bore is free."""


def _most_pressed(course: Course, speed_rpm: float) -> float:
    """Mean pressure of the whole bore in a state that is in part free, MPa."""
    sliced = course_rotor(course)[2]
    return float(slice_states(sliced, floats((speed_rpm * RPM) ** 2)).contact_pressure.mean()) / 1e6


def checks() -> tuple[Check, ...]:
    """Every comparison of this file; a few seconds."""
    rows = []
    for number, course in enumerate(COURSES, 1):
        sliced = course_rotor(course)[2]
        other = by_elements(course)
        for which, theirs, ours in (
            ("first", other.first(), first_lift_off_of),
            ("last", other.last(), last_lift_off_of),
        ):
            rows.append(
                Check(
                    f"SLICES-{number}-{which}", f"{which} lift-off: {course.what}", SOURCE, theirs / RPM, "rpm",
                    partial(_in_rpm, ours, sliced), Provenance.INDEPENDENT_METHOD, 0.005, REASON,
                )
            )  # fmt: skip
    for number, (course, speed) in enumerate(PARTLY, 1):
        other = by_elements(course)
        mean = float(other.pressure((speed * RPM) ** 2) @ other.share) / 1e6
        rows.append(
            Check(
                f"SLICES-P{number}", f"mean pressure, in part free, {speed:g} rpm: {course.what}", SOURCE, mean, "MPa",
                partial(_most_pressed, course, speed), Provenance.INDEPENDENT_METHOD, 0.005, PRESSED_REASON,
                scale=_standing(course),
            )
        )  # fmt: skip
    return tuple(rows)


def _standing(course: Course) -> float:
    """Mean pressure at standstill, MPa."""
    model = course_rotor(course)[2].model
    return float(model.at_rest / model.compliance) / 1e6


def _in_rpm(ours: Any, sliced: SlicedRotor) -> float:
    return float(ours(sliced)) / RPM


if __name__ == "__main__":
    for row in checks():
        print(f"{row.what:60s} {row.run().ours:12.6g} {row.printed:12.6g} {row.run().difference:+9.1e}")
