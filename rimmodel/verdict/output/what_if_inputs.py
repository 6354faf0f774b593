"""What the WHAT IF part of the page knows of a machine: numbers alone, SI, under the names that they have here."""

from __future__ import annotations

from typing import Any

import numpy as np

from rimmodel.behaviour.contact.scallop import support_panels
from rimmodel.behaviour.contact.spider import spider_response
from rimmodel.rotor import Condition, Rotor


def machine_inputs(rotor: Rotor, carrier: Rotor | None = None, *, measured: bool = False) -> dict[str, Any]:
    """A rotor as `what_if_mechanics.js` takes it: every number that a slider does not move, and where those start.

    The spider stands as its growth and its compliance, keys included, and as what it yields panel by panel under a key
    beyond that: none of what is moved enters them, whatever kind of spider it is.

    Parameters
    ----------
    carrier : Rotor, optional
        Whose spider carries the rim, where `rotor` knows its stiffness alone, as after a fit.
    measured : bool
        The rotor is one that is shimmed as it stands: another interference leaves the gap of its floating rim.
    """
    rim, poles, fit, gap = rotor.rim, rotor.poles, rotor.fit, rotor.air_gap
    spider, built = spider_response(rotor), spider_response(rotor if carrier is None else carrier)
    ring, teeth = rim.ring, rim.teeth
    edges, panels = support_panels(rotor) or (None, None)
    return {
        "measured": measured,
        "highest_speed": rotor.speeds.highest,
        "rim": {
            "inner_radius": rim.inner_radius,
            "slot_bottom_radius": rim.slot_bottom_radius,
            "outer_radius": rim.outer_radius,
            "length": rim.length,
            "slot_depth": rim.slot_depth,
            "slot_flank_angle": rim.slot_flank_angle,
            "tooth_share": teeth.share,
            "young_modulus": ring.young_modulus,
            "density": ring.density,
            "poisson_ratio": ring.poisson_ratio,
            "thermal_expansion": ring.thermal_expansion,
            "hoop_stiffness_factor": rim.hoop_stiffness_factor,
            "bending_stiffness_factor": rim.bending_stiffness_factor,
            "shear_modulus": rim.shear_modulus,
            "net_factor": rim.net_factor,
        },
        "poles": {
            "count": poles.count,
            "mass": poles.mass,
            "mass_radius": poles.mass_radius,
            "face_radius": poles.face_radius,
            "face_length": rotor.face_length,
            "radial_stiffness": poles.radial_stiffness,
        },
        "spider": {
            "growth_per_speed_squared": spider.growth_per_speed_squared,
            "compliance": spider.compliance,
            "thermal_expansion": spider.thermal_expansion,
            "hoop_per_speed_squared": built.hoop_per_speed_squared,
            "hoop_per_pressure": built.hoop_per_pressure,
        },
        "fit": {
            "interference": fit.interference,
            "settlement": fit.settlement,
            "stack_growth": fit.stack_growth,
            "key_count": rotor.key_count,
            "key_width": fit.key_width,
            "key_edges": None if edges is None else edges.tolist(),
            "key_panels": None if panels is None else [list(row) for row in np.moveaxis(panels, (-2, -1), (0, 1))],
        },
        "air_gap": {
            "cold": gap.cold,
            "stator_thermal_expansion": gap.stator_thermal_expansion,
            "stator_core_depth": gap.stator_core_depth,
            "stator_core_modulus": gap.stator_core_modulus,
        },
    }


def condition_inputs(condition: Condition) -> dict[str, Any]:
    """A condition as `what_if_mechanics.js` takes it; temperatures in kelvin."""
    return {
        "excitation": condition.excitation,
        "rim_temperature": condition.rim_temperature,
        "spider_temperature": condition.spider_temperature,
        "pole_temperature": condition.pole_temperature,
        "stator_temperature": condition.stator_temperature,
        "flux_density": condition.flux_density,
    }


def for_json(value: Any, place: tuple[int, ...] = ()) -> Any:
    """Inputs as JSON can hold them: None for what is absent, rigid (infinite) or not known (NaN).

    Parameters
    ----------
    place : tuple of int
        Of fields that are arrays, the element that is wanted.
    """
    if isinstance(value, dict):
        return {name: for_json(entry, place) for name, entry in value.items()}
    if isinstance(value, list):
        return [for_json(entry, place) for entry in value]
    if value is None or isinstance(value, bool | str):
        return value
    array = np.asarray(value)
    number = float(array[place] if array.shape else array)
    return number if np.isfinite(number) else None
