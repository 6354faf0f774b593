"""A rotor in a condition as straight lines in speed squared and in the mean pull of the field."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from rimmodel.arrays import Floats, floats
from rimmodel.behaviour.contact.scallop import key_compliance
from rimmodel.behaviour.contact.spider import SpiderResponse, spider_expansion, spider_response
from rimmodel.elastic import EdgeLoads, RingEdges, ring_edges, wedging
from rimmodel.rotor import REFERENCE_TEMPERATURE, Condition, Rim, Rotor

MAGNETIC_CONSTANT = 4e-7 * np.pi


Direction = Literal["up", "down"] | None
"""Direction of the speed: friction adds interference in run-up and takes it in run-down; None is between."""


@dataclass(frozen=True)
class GapLine:
    """A gap of ``at_rest - per_speed_squared x - per_traction q``.

    Attributes
    ----------
    at_rest : array, m
    per_speed_squared : array, m s2
    per_traction : array, m/Pa
    """

    at_rest: Floats
    per_speed_squared: Floats
    per_traction: Floats


@dataclass(frozen=True)
class Coefficients:
    """A rotor in a condition as straight lines in x = speed squared and in the pull q on the rim outside.

    Interference left: ``at_rest - net_growth x - bore_per_traction q``; contact pressure: that, while
    positive, over `compliance`.

    Attributes
    ----------
    at_rest : array, m
    net_growth : array, m s2
        Of the rim bore with poles, less that of the spider, per speed squared.
    bore_per_traction, compliance : array, m/Pa
        Of the bore per outside traction; of rim and spider together per contact pressure.
    pole_traction : array, Pa s2
        Traction of the poles on the outside of the ring per speed squared: on its slot bottom, with its teeth.
    cold_pull : array, Pa
        Mean pull on the outside of the ring at the cold gap.
    cold_gap : array, m
    edges : RingEdges
        The outer displacement is that of the pole seats, outside the teeth.
    warm_bore_hoop_stress, warm_outer_hoop_stress : array, Pa
        Of the ring where its outside is hotter than its bore, or colder; zero at even temperature.
    """

    at_rest: Floats
    net_growth: Floats
    bore_per_traction: Floats
    compliance: Floats
    seated: GapLine
    floating: GapLine
    pole_traction: Floats
    cold_pull: Floats
    cold_gap: Floats
    constant_current: bool
    edges: RingEdges
    spider: SpiderResponse
    warm_bore_hoop_stress: Floats = field(default_factory=lambda: floats(0.0))
    warm_outer_hoop_stress: Floats = field(default_factory=lambda: floats(0.0))

    def interference(self, speed_squared: Floats, pull: Floats) -> Floats:
        """Interference left at the given speed squared and pull, m; below zero it is a clearance."""
        return self.at_rest - self.net_growth * speed_squared - self.bore_per_traction * pull

    @property
    def pull_constant(self) -> Floats:
        """Pull times gap squared, N: what stays fixed at constant field current."""
        return self.cold_pull * self.cold_gap**2

    def with_interference(self, interference: Floats) -> Coefficients:
        """The lines of a rotor with so much interference, from these of the same rotor with none.

        The interference shifts the lines and leaves their slopes: so one set of coefficients serves any number of
        interferences. Derived in `coefficients`.

        Parameters
        ----------
        interference : array, m

        >>> import rimmodel as rm
        >>> case = rm.example_case()
        >>> cold = case.conditions["cold"]
        >>> loose = coefficients(case.rotor.with_interference(0.0), cold)
        >>> print(f"{float(loose.with_interference(np.asarray(2.1e-3)).at_rest) * 1e3:.3f} mm")
        2.100 mm
        """
        held = self.edges.outer_displacement.pressure / self.compliance
        at_rest = self.at_rest + interference
        free = replace(self.floating, at_rest=self.floating.at_rest + held * np.maximum(interference, 0.0))
        seated = replace(self.seated, at_rest=free.at_rest - held * at_rest)
        return replace(self, at_rest=at_rest, floating=free, seated=seated)

    def with_heat(self, loss: Floats, growth: Floats) -> Coefficients:
        """The same lines with further loss of interference and growth of the pole faces; derived in `coefficients`.

        Parameters
        ----------
        loss, growth : array, m

        >>> import rimmodel as rm
        >>> case = rm.example_case()
        >>> lines = coefficients(case.rotor, case.conditions["cold"])
        >>> print(f"{float(lines.at_rest - lines.with_heat(np.asarray(1e-3), np.zeros(())).at_rest) * 1e3:.3f} mm")
        1.000 mm
        """
        held = self.edges.outer_displacement.pressure / self.compliance
        free = replace(self.floating, at_rest=self.floating.at_rest - growth)
        seated = replace(self.seated, at_rest=self.seated.at_rest - growth + held * loss)
        return replace(self, at_rest=self.at_rest - loss, floating=free, seated=seated)

    def with_friction(self, extra: Floats) -> Coefficients:
        """The same lines with more interference that friction holds; derived in `coefficients`.

        Parameters
        ----------
        extra : array, m

        >>> import rimmodel as rm
        >>> case = rm.example_case()
        >>> lines = coefficients(case.rotor, case.conditions["cold"])
        >>> print(f"{float(lines.with_friction(np.asarray(1e-4)).at_rest - lines.at_rest) * 1e3:.3f} mm")
        0.100 mm
        """
        if not extra.any():
            return self
        held = self.edges.outer_displacement.pressure / self.compliance
        seated = replace(self.seated, at_rest=self.seated.at_rest - held * extra)
        return replace(self, at_rest=self.at_rest + extra, seated=seated)


def coefficients(rotor: Rotor, condition: Condition, direction: Direction = None) -> Coefficients:
    """Straight lines of a rotor in a condition; every field of either may be an array.

    Parameters
    ----------
    direction : "up", "down" or None
        Sign of the apparent interference from friction.

    Notes
    -----
    Growth of bore and outside per speed squared holds the rim's own spin and the pole traction
    ``N m r / (2 pi b L)``, b the slot bottom where the rim has slots; the teeth hang there with the poles. The cold
    gap is that of the assembled standstill at 20 degC without field and before settlement, so the change of contact
    pressure since then counts, and nothing twice. A stack that has grown for good by g at the bore has grown by
    ``g a/b`` outside (its area does not change). Mean pull of a sine field of
    peak B: ``B^2/(4 mu0)``, carried to the rim outside by ``(r_face/b)(L_face/L)``. Derived here.
    """
    return loads(rotor, condition).coefficients(rotor, condition, direction)


@dataclass(frozen=True)
class Loads:
    """What a rotor in a condition carries and how it warms: all that stiffness of hoop and spider does not enter.

    Rotors that differ in those alone, as in a fit, share it.

    Attributes
    ----------
    traction : array, Pa s2
        Of the poles and teeth on the outside of the ring per speed squared.
    tooth_stretch_per_traction : array, m/Pa
    tooth_stretch_per_speed_squared : array, m s2
        Of the teeth alone, beside what hangs on them.
    pole_stretch : array, m s2
        Per speed squared.
    stretch_per_traction : array, m/Pa
        Of poles and stator together per pull on the rim outside.
    warm_loss, warm_growth : array, m
        Of interference, and of the pole faces beyond the stator bore.
    pull : array, Pa
    """

    traction: Floats
    tooth_stretch_per_traction: Floats
    tooth_stretch_per_speed_squared: Floats
    pole_stretch: Floats
    stretch_per_traction: Floats
    warm_loss: Floats
    warm_growth: Floats
    pull: Floats

    def coefficients(
        self, rotor: Rotor, condition: Condition, direction: Direction = None, like: Coefficients | None = None
    ) -> Coefficients:
        """`coefficients` of a rotor under these loads, where they are known, as they are throughout a fit.

        Parameters
        ----------
        direction : "up", "down" or None
        like : Coefficients, optional
            Of the same rotor in another condition: what both have in common is taken from there.

        >>> import rimmodel as rm
        >>> case = rm.example_case()
        >>> cold = case.conditions["cold"]
        >>> stiffer = case.rotor.with_interference(3e-3)
        >>> model = loads(case.rotor, cold).coefficients(stiffer, cold)
        >>> bool(model.net_growth == coefficients(stiffer, cold).net_growth)
        True
        """
        rim, gap, fit = rotor.rim, rotor.air_gap, rotor.fit
        edges = _seat_edges(rim, self) if like is None else like.edges
        spider = spider_response(rotor) if like is None else like.spider
        a, b = floats(rim.inner_radius), floats(rim.slot_bottom_radius)
        bore, outer = edges.bore_displacement, edges.outer_displacement
        net_growth = bore.speed_squared + bore.traction * self.traction - spider.growth_per_speed_squared
        compliance = bore.pressure + key_compliance(rotor) + spider.compliance if like is None else like.compliance

        interference, grown = floats(fit.interference), floats(fit.stack_growth)
        friction = {"up": 1.0, "down": -1.0, None: 0.0}[direction] * floats(fit.friction_interference)
        at_rest = interference + friction - floats(fit.settlement) - grown - self.warm_loss

        assembled = outer.pressure * np.maximum(interference, 0.0) / compliance
        free = GapLine(
            floats(gap.cold) + assembled - self.warm_growth - grown * a / b,
            outer.speed_squared + outer.traction * self.traction + self.pole_stretch,
            outer.traction + self.stretch_per_traction,
        )
        held = outer.pressure / compliance  # growth of the outside per interference left
        seated = GapLine(
            free.at_rest - held * at_rest,
            free.per_speed_squared - held * net_growth,
            free.per_traction - held * bore.traction,
        )
        return Coefficients(
            at_rest, net_growth, bore.traction, compliance, seated, free, self.traction, self.pull,
            floats(gap.cold), condition.excitation == "constant current", edges, spider, *_warm_stress(rim, condition),
        )  # fmt: skip


def loads(rotor: Rotor, condition: Condition) -> Loads:
    """The part of `coefficients` that stiffness of hoop and spider does not enter; derived there.

    48 poles of 3700 kg at 4.32 m over 2 pi x 4.06 m x 1.85 m: 16.3 kPa per (rad/s)^2.

    >>> import rimmodel as rm
    >>> case = rm.example_case()
    >>> print(f"{loads(case.rotor, case.conditions['cold']).traction / 1e3:.1f}")
    16.3
    """
    rim, poles = rotor.rim, rotor.poles
    a, b, length = (floats(value) for value in (rim.inner_radius, rim.slot_bottom_radius, rim.length))
    face, face_length = floats(poles.face_radius), floats(rotor.face_length)
    mass, mass_radius, count = (floats(value) for value in (poles.mass, poles.mass_radius, poles.count))
    stiffness, teeth = floats(poles.radial_stiffness), rim.teeth

    traction = count * mass * mass_radius / (2 * np.pi * b * length)
    if np.asarray(rim.slot_depth).any():  # without slots nothing wedges
        traction = traction * np.where(
            np.asarray(rim.slot_depth) > 0, wedging(rim.slot_flank_angle, count, teeth.share), 1.0
        )
    of_teeth, per_traction = teeth.traction_per_speed_squared, teeth.stretch_per_traction
    rim_rise = floats(condition.rim_temperature) - REFERENCE_TEMPERATURE
    spider_rise = floats(condition.spider_temperature) - REFERENCE_TEMPERATURE
    expansion = floats(rim.material.thermal_expansion)
    return Loads(
        traction + of_teeth,
        per_traction,
        teeth.stretch_per_speed_squared - per_traction * of_teeth,
        mass * mass_radius / stiffness,
        2 * np.pi * b * length / (count * stiffness) + _stator_pull_in(rotor),
        a * (expansion * rim_rise - spider_expansion(rotor) * spider_rise),
        _warm_growth(rotor, condition),
        floats(condition.flux_density) ** 2 / (4 * MAGNETIC_CONSTANT) * (face / b) * (face_length / length),
    )


def _seat_edges(rim: Rim, borne: Loads) -> RingEdges:
    """What the ring does at its edges, the outer displacement carried through the teeth to the pole seats.

    The traction of the ring holds the teeth themselves; they are stretched by what hangs on them and by their spin.
    """
    edges = ring_edges(rim.ring)
    outer = edges.outer_displacement
    seat = EdgeLoads(
        outer.pressure,
        outer.traction + borne.tooth_stretch_per_traction,
        outer.speed_squared + borne.tooth_stretch_per_speed_squared,
    )
    return RingEdges(edges.bore_displacement, seat, edges.bore_hoop_stress, edges.outer_hoop_stress)


def _warm_stress(rim: Rim, condition: Condition) -> tuple[Floats, Floats]:
    """Hoop stress at bore and outside of the free ring by the part of its temperature that is linear in radius."""
    rise = floats(condition.rim_temperature_rise)
    if not rise.any():
        return floats(0.0), floats(0.0)
    ring = rim.ring
    bore, outside = (
        ring.state(radius, temperature=(np.zeros_like(rise), rise)).hoop_stress
        for radius in (ring.inner_radius, ring.outer_radius)
    )
    return bore, outside


def _warm_growth(rotor: Rotor, condition: Condition) -> Floats:
    """Growth of pole faces less growth of the stator bore by temperature, m; the poles expand like the rim."""
    expansion = floats(rotor.rim.material.thermal_expansion)
    stator_expansion = rotor.air_gap.stator_thermal_expansion
    stator_alpha = expansion if stator_expansion is None else floats(stator_expansion)
    rim_rise = floats(condition.rim_temperature) - REFERENCE_TEMPERATURE
    pole_temperature = condition.pole_temperature
    pole_rise = rim_rise if pole_temperature is None else floats(pole_temperature) - REFERENCE_TEMPERATURE
    stator_rise = floats(condition.stator_temperature) - REFERENCE_TEMPERATURE
    b, face = floats(rotor.rim.outer_radius), floats(rotor.poles.face_radius)
    rotor_growth = expansion * (b * rim_rise + (face - b) * pole_rise)
    return rotor_growth - stator_alpha * floats(rotor.stator_bore_radius) * stator_rise


def _stator_pull_in(rotor: Rotor) -> Floats:
    """Inward move of the stator bore per pull on the rim outside, m/Pa: thin ring R^2/(E h)."""
    gap = rotor.air_gap
    if gap.stator_core_depth is None or gap.stator_core_modulus is None:
        return floats(0.0)
    b, length = floats(rotor.rim.slot_bottom_radius), floats(rotor.rim.length)
    at_face = (b / floats(rotor.poles.face_radius)) * (length / floats(rotor.face_length))
    return (
        at_face
        * floats(rotor.stator_bore_radius) ** 2
        / (floats(gap.stator_core_modulus) * floats(gap.stator_core_depth))
    )
