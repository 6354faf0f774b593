"""What the model took for granted because the case did not say otherwise."""

from __future__ import annotations

import numpy as np

from rimmodel.rotor import ArmSpider, DiscSpider, GivenSpider
from rimmodel.rotor.case import Case


def assumptions(case: Case) -> list[str]:
    """Sentences for the page: general ones first, then those that this case leaves open."""
    rotor = case.rotor
    spider = rotor.spider
    said = [
        "Interference is radial, at standstill and 20 degC throughout; the cold gap is that of the assembled rotor at "
        "20 degC, without field and before any settlement.",
        "The rim is a ring in plane stress, stiff in the hoop direction by the hoop stiffness factor; every key "
        "carries its even share. Stresses are gross unless 'net section' is said.",
        "The interference tolerance is taken as two standard uncertainties. Predicted intervals hold the tolerances "
        "that the case states; by test, only interference, gap, hoop and spider stiffness are uncertain.",
        "An effective interference is what is left at 20 degC after all settlement; it is carried to other conditions "
        "by the modelled growth of rim and spider.",
    ]
    if isinstance(spider, ArmSpider) and spider.hub_bore_radius is None:
        said.append("The hub is rigid: its bore and length are not given. A real hub grows and gives a little more.")
    if isinstance(spider, GivenSpider) and spider.material is None:
        said.append("The spider expands like the rim: it has no material of its own.")
    if isinstance(spider, DiscSpider):
        said.append(
            "The spider is one disc of constant thickness that meets the rim all round."
            if spider.profile is None
            else "The spider is a disc in plane stress by its profile, and meets the rim all round. A hub that "
            "overhangs its web by more than its radial depth is not described by that."
        )
    if np.isinf(rotor.fit.key_stiffness):
        said.append("Keys and shims are rigid.")
    if np.isinf(rotor.poles.radial_stiffness):
        said.append("Poles sit rigidly on the rim; their thermal expansion is that of the rim.")
    if rotor.poles.face_length is None:
        said.append("Pole faces are as long as the rim.")
    if rotor.air_gap.stator_thermal_expansion is None:
        said.append("The stator bore expands like the rim.")
    if rotor.air_gap.stator_core_depth is None:
        said.append("The stator core does not give under the magnetic pull.")
    for name, condition in case.conditions.items():
        if np.any(np.asarray(condition.flux_density) > 0):
            held = (
                "the flux density grows as the gap shrinks"
                if condition.excitation == "constant current"
                else "the flux density stays"
            )
            said.append(f"Condition '{name}': {condition.excitation}, so {held}.")
    return said
