"""What to check around the heating of a rim: before, while keys go in, while it cools, cold, and at the first run."""

from __future__ import annotations

import numpy as np

from rimmodel.planning.heating import REACHED, HeatingPlan
from rimmodel.units import mm

HEATING_CAUTIONS = (
    "Hot steel, live heaters and a rim that is held by nothing but its ledge can kill. Permit to work, fire watch, "
    "extinguishers, no solvents or oily rags under the covers, and air to breathe in the pit come first.",
    "Power is off, locked and proven dead before anyone reaches between rim and spider.",
    "The clearance that is measured at every key decides whether it goes in, not this sheet and not a temperature.",
    "Never drive a key that does not go in by hand: stop, close the covers, heat again.",
    "Standards, local codes, fire rules, the maker's instructions and licensed engineers decide; this sheet is for "
    "their information.",
)

REST_ON = (
    "Rim and spider are free of each other until a key holds: growth is that of the bore by T(r), and of the mean of "
    "the spider.",
    "Temperatures over the height and around the rim are not computed; the limits of their spread are taken off the "
    "clearance and added to the hottest place.",
    "The bore heats the spider on all of its surface; the spider loses heat to the air of the hall, which stays at its "
    "temperature.",
    "The heaters follow the limits in steps of 10 min. The power is off while keys are fitted, with "
    "heating.open_heat_transfer from then on.",
    "From the moment at which the last key holds, rim and spider conduct as in service (thermal.contact_conductance); "
    "the first keys that hold conduct a little earlier.",
    "Settlement and growth of the stack since an earlier assembly are not taken off: give what is to be keyed now as "
    "heating.interference.",
)


def checks_of(plan: HeatingPlan) -> dict[str, list[str]]:
    """Checks by stage, as sentences with the numbers of the plan; those before it alone where it is not reached."""
    if plan.verdict != REACHED:
        stop = f"Do not heat by this sheet ({plan.verdict}): change what it names, then work the plan out again."
        return {"before": [stop, *_before(plan)]}
    heating = plan.heating
    cold = 2.0 if plan.cooling is None else plan.cooling.within
    rate = f"{float(heating.rate_limit) * 3600:g} K/h"
    spreads = (
        f"{float(heating.depth_spread):g} K from bore to outside, {float(heating.height_spread):g} K from top to "
        f"bottom, {float(heating.around_spread):g} K around"
    )
    return {
        "before": _before(plan),
        "while heating": [
            f"Every 30 min: all thermometers. {_rate_sentence(plan)}",
            f"Hold where the spread passes {spreads}; the schedule spreads by up to {_spread(plan):.1f} K through the "
            "depth.",
            "From half of the difference on: measure the clearance at every key, top and bottom; where it opens on one "
            "side alone, stop and centre.",
        ],
        "while keys go in": [
            "Measure the clearance at each key before it goes in; go in order, opposite pairs; stop at the time of the "
            "last key in this sheet.",
        ],
        "cooling down": [
            f"Let it cool by itself under its covers, no draughts and no blowers on the rim; not faster than {rate}, "
            f"spread not above {spreads}.",
            "Once all keys are in, keep the spider from cooling below the hall; record rim and spider until they "
            "agree; note when each key begins to hold, by hand and feeler.",
        ],
        "cold": [
            f"With rim and spider within {cold:g} K: every key tight by hammer and feeler, top and bottom; no key or "
            "shim proud; locks and welds as the maker asks.",
            _growth_sentence(plan),
            "Roundness, centre and lean at every pole, top and bottom, against the tolerances of assembly "
            "('rimmodel least-gap').",
        ],
        "first run": [
            "Before it: keys again after a night of cooling, air gap around the stator, studs, locks, loose parts and "
            "tools out, brakes and trips proven.",
            "Run in steps ('rimmodel plan') with gap and vibration recorded; stop at its lines.",
            "After the first overspeed, cold: keys, roundness, gap and studs again, and the interference that is left "
            "from the recording ('rimmodel fit'): laminations settle.",
        ],
    }


def _before(plan: HeatingPlan) -> list[str]:
    return [
        "Measure cold: bore or pole faces at every key, top and bottom; the seats; every key with its shims; the "
        "keying sheet signed.",
        "Thermometers on rim bore, outside, top and bottom at four places around at least, and on every second arm "
        "of the spider; read against each other cold, at one temperature.",
        "Rim free to move on its ledge and held central; guides greased and not bound; studs tightened as the "
        "maker asks for a hot rim.",
        f"A rehearsal of one key, timed: it must take no longer than {float(plan.heating.time_per_key) / 60:.0f} min.",
    ]


def _rate_sentence(plan: HeatingPlan) -> str:
    """The limit of the rate, and what of it the schedule uses: a schedule at the limit leaves no margin over it."""
    limit, course = float(plan.heating.rate_limit) * 3600, plan.course
    used = float(np.diff(plan.model.mean(course.state), axis=1).max()) / float(course.time[1]) * 3600
    if used < limit - 0.05:
        return f"Heat no faster than {limit:g} K/h; the schedule rises by up to {used:.1f} K/h. Above it, less power."
    return (
        f"Heat no faster than {limit:g} K/h, which the schedule uses in full: set the heaters by the mean that is "
        "read, and take power off whenever it runs ahead of the schedule."
    )


def _spread(plan: HeatingPlan) -> float:
    """Largest spread through the depth while the rim is heated, K."""
    return float(plan.model.spread(plan.course.state).max())


def _growth_sentence(plan: HeatingPlan) -> str:
    expected, low, high = plan.outside_growth
    return (
        f"The rim outside has grown by {mm(expected)} ({mm(low)} to {mm(high)} with the tolerance of the fit), "
        "as a radial mean over all poles against before. Less is interference that is not there: find the keys that do "
        "not hold before any run."
    )
