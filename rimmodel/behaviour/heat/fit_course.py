"""Float speed, interference, forces, stresses and gap against time, from temperatures against time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rimmodel.arrays import Floats, Numbers, floats
from rimmodel.behaviour.contact.coefficients import coefficients
from rimmodel.behaviour.contact.speeds import float_speed_of
from rimmodel.behaviour.contact.sweep import sweep
from rimmodel.behaviour.heat.course import HeatCourse, HeatModel, course_condition
from rimmodel.behaviour.limits.spider import arm_stresses, contact_force, spider_under
from rimmodel.elastic.thermal_stress import thermal_stress
from rimmodel.rotor import ArmSpider, Condition, Rotor

_PLACES = 12
"""Parts of the depth of the rim between which T(r) is taken as straight for its stress."""


@dataclass(frozen=True)
class FitCourse:
    """The fit through a history, arrays (draw, time).

    Attributes
    ----------
    rim_temperature, spider_temperature, stator_temperature : array (draw, time), K
        Means, as a condition has them.
    float_speed : array (draw, time), rad/s
        Of the rotor as warm as it is, with the field that it has at that moment: inf where it never floats.
    residual_interference : array (draw, time), m
        At the speed of the moment; below zero it is a clearance.
    contact_pressure : array (draw, time), Pa
    key_force : array (draw, time), N
        Radial force on one key, an even share; of all keys together where their number is not known.
    spider_stress : array (draw, time), Pa
        Size of the arm stress at root or tip, whichever is larger; of a disc the hoop stress at its bore; NaN
        where neither is known.
    rim_thermal_stress : array (draw, time), Pa
        Largest tension in the hoop direction by T(r) in the rim alone.
    rim_bore_hoop_stress : array (draw, time), Pa
        All of it: spin, poles, pull, contact and T(r).
    air_gap : array (draw, time), m
    """

    heat: HeatCourse
    rim_temperature: Floats
    spider_temperature: Floats
    stator_temperature: Floats
    float_speed: Floats
    residual_interference: Floats
    contact_pressure: Floats
    key_force: Floats
    spider_stress: Floats
    rim_thermal_stress: Floats
    rim_bore_hoop_stress: Floats
    air_gap: Floats

    @property
    def float_speed_ratio(self) -> Floats:
        """Float speed over speed (draw, time), dimensionless; infinite at standstill."""
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio: Floats = np.where(self.heat.speed > 0, self.float_speed / self.heat.speed, np.inf)
        return ratio


def fit_course(rotor: Rotor, model: HeatModel, steady: Condition, heat: HeatCourse, carrier: Rotor) -> FitCourse:
    """What the temperatures of a history do to the fit at every moment.

    Mechanics follow at once: every moment is a state of its own, by the mean temperatures that govern growth, and by
    T(r) of the rim for its stress. Friction between ledge, keys and rim is left out. Source: the sweep of a condition.

    Parameters
    ----------
    rotor : Rotor
        Its interference or settlement may be arrays (rotor, 1, 1): the draws then stand once for each, one set after
        the other.
    steady : Condition
        Whose field the machine has while it is excited.
    carrier : Rotor
        Spider and keys as built, which carry the contact pressure of `rotor`.

    Returns
    -------
    FitCourse
    """
    condition = course_condition(model, steady, heat.state, heat.excited)
    state = sweep(rotor, condition, heat.speed)
    lift_off = float_speed_of(coefficients(rotor, condition), floats(rotor.speeds.highest))
    network = model.network
    seen = np.arange(network.rim.start, network.rim.stop)[:: max(1, (network.rim.stop - 1) // _PLACES)]
    inside = thermal_stress(rotor.rim.ring, network.radius[seen])
    stress = heat.state @ (inside.hoop_per_temperature @ network.basis[seen]).T
    force = contact_force(rotor, state) / (1.0 if rotor.key_count is None else floats(rotor.key_count))
    if isinstance(carrier.spider, ArmSpider):
        carried = np.max(np.abs(arm_stresses(carrier, carrier.spider, state)), axis=0)
    else:
        carried = np.abs(spider_under(carrier, state).spider_hoop_stress)
    shape = np.broadcast_shapes(state.speed.shape, lift_off.shape, heat.state.shape[:-1])

    def flat(values: Floats | Numbers) -> Floats:
        return floats(np.broadcast_to(floats(values), shape).reshape(-1, shape[-1]))

    return FitCourse(
        heat,
        flat(condition.rim_temperature),
        flat(condition.spider_temperature),
        flat(condition.stator_temperature),
        flat(lift_off),
        flat(state.residual_interference),
        flat(state.contact_pressure),
        flat(force),
        flat(floats(carried)),
        flat(stress.max(axis=-1)),
        flat(state.rim_bore_hoop_stress + stress[..., 0]),
        flat(state.air_gap),
    )
