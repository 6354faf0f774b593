"""What the model took for granted because the case did not say otherwise."""

from __future__ import annotations

import numpy as np

from rimmodel.behaviour.contact.speeds import float_speed
from rimmodel.evidence.measured.neighbours import ASSEMBLED_GAP, OF_THE_GAP
from rimmodel.rotor import ArmSpider, DiscSpider, GivenSpider
from rimmodel.rotor.case.case import Case
from rimmodel.units import mm, rpm
from rimmodel.verdict.along import worst_place


def assumptions(case: Case) -> list[str]:
    """Sentences for the page: general ones first, then those that this case leaves open."""
    rotor = case.rotor
    spider = rotor.spider
    said = [
        "Interference is radial, at standstill and 20 degC throughout; the cold gap is that of the assembled rotor at "
        "20 degC, without field and before any settlement.",
        "The rim is a ring in plane stress, stiff in the hoop direction by the hoop stiffness factor; every key "
        "carries an equal share. Stresses are gross unless 'net section' is stated.",
        "The interference tolerance is taken as two standard uncertainties. Predicted intervals include the "
        "tolerances that the case states. Intervals by test include the noise of the recording, those tolerances that "
        "a fit does not determine, the temperature of the run, gain and level of the sensors, and the cold gap. "
        "Reading errors may be correlated in time, grow with speed and drift slowly: the interval allows for what the "
        "run does not exclude.",
        "An effective interference is what is left at 20 degC after all settlement; it is carried to other conditions "
        "by the modelled growth of rim and spider.",
    ]
    if isinstance(spider, ArmSpider) and spider.hub_bore_radius is None:
        said.append("The hub is rigid: its bore and length are not given. A real hub grows and deflects a little more.")
    if isinstance(spider, GivenSpider) and spider.material is None:
        said.append("The spider expands like the rim: it has no material of its own.")
    if isinstance(spider, DiscSpider):
        said.append(
            "The spider is one disc of constant thickness that meets the rim all round."
            if spider.profile is None
            else "The spider is a disc in plane stress with the given profile, and meets the rim all round. This does "
            "not describe a hub that overhangs its web by more than its radial depth."
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
        said.append("The stator core does not deflect under the magnetic pull.")
    said += [*_along(case), *_of_records(case), *_unnamed(case)]
    for name, condition in case.conditions.items():
        if np.any(np.asarray(condition.flux_density) > 0):
            held = (
                "the flux density grows as the gap shrinks"
                if condition.excitation == "constant current"
                else "the flux density stays"
            )
            said.append(f"Condition '{name}': {condition.excitation}, so {held}.")
    return said


def _along(case: Case) -> list[str]:
    """Where shims, heat or poles differ along the rim: which numbers are of the mean, and what lifts off first."""
    said = []
    for name, condition in case.conditions.items():
        first = worst_place(case, "float_speed", condition)
        if first is None:
            continue
        mean = float(float_speed(case.rotor, condition).speed)
        if np.isfinite([first, mean]).all():
            said.append(
                f"The rim differs along its length in '{name}': as drawn its first place lifts off at {rpm(first)}, "
                f"and the float speed, that of the mean, is {rpm(mean)}. Histories, proving run, shims and drivers use "
                "that of the mean; the least gap and first_lift_off the worst place."
            )
    return said


def _of_records(case: Case) -> list[str]:
    """Standard uncertainties of each recording, and of the cold gap where no tolerance states one."""
    said = [
        f"'{record.label or record.file}': standard uncertainty of the level of the mean gap "
        f"{mm(record.sensor_offset, '.3g')}, of the sensitivity {100 * record.sensor_gain:.3g} %, of rim over "
        f"spider temperature in the run {record.temperature_uncertainty:.3g} K."
        for record in case.records
    ]
    if case.records and not any(row.name in OF_THE_GAP for row in case.tolerances):
        said.append(
            f"The mean gap as assembled has a standard uncertainty of {100 * ASSEMBLED_GAP:g} % of the cold gap, half "
            f"of what published assembly tolerances allow, as the case states no tolerance for it."
        )
    return said


def _unnamed(case: Case) -> list[str]:
    """Claims and requirements that name no condition where there are several."""
    if len(case.conditions) < 2:
        return []
    first = next(iter(case.conditions))
    named = [(f"Claim {row.quantity}", row.condition) for row in case.claims]
    named += [(f"Requirement {row.name}", row.condition) for row in case.requirements]
    return [
        f"{what} names no condition and is judged in '{first}', the first condition of the case."
        for what, name in named
        if name is None
    ]
