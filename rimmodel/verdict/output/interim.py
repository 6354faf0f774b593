"""An interim look at a run, as JSON and in words."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any

import numpy as np

from rimmodel.planning.next_speed import NextSpeed
from rimmodel.units import in_rpm, number, rpm
from rimmodel.verdict.interim import SoFar

WIDTH = 100

SAME_SPEED = 0.005
"""Share within which two speeds of a run are one."""

HOLDS = (
    "The interval holds at {sure:.0f} % for every look at this run together, however often and whenever one looks. "
    "The interval of fit holds for one look at a finished run. This one contains the noise of the readings, what is "
    "not known of the stiffnesses, and what rim, spider and stator may warm in the time of the run (a long hold at "
    "every reading where times are not recorded; only what thermometers miss where temperatures are part of the look); "
    "readings at low speed in the run-down show that warming. Nothing here controls or watches a machine."
)


def table(found: SoFar) -> dict[str, Any]:
    """One look for JSON; null where there is no number."""
    low, high = found.interval
    after = found.next
    return {
        "label": found.label,
        "file": found.source,
        "condition": found.condition,
        "speed_points": found.points,
        "fastest_rpm": number(found.fastest, "speed"),
        "shown": found.shown,
        "lift_off_interval_rpm": [None if not low > 0.0 else number(low, "speed"), number(high, "speed")],
        "confidence_of_all_looks": found.confidence,
        "next": None
        if after is None
        else {
            "speed_rpm": number(after.best, "speed") if after.gains else None,
            "worth_a_reading": after.gains,
            "repeats_a_speed": after.gains and after.repeats,
            "uncertainty_now_rpm": None if found.reasons else number(after.present, "speed"),
            "compared_rpm": [float(in_rpm(value)) for value in after.speed],
            "information_bits": [float(value) for value in after.information],
            "uncertainty_after_rpm": None if found.reasons else [float(in_rpm(value)) for value in after.uncertainty],
            "read_already": [bool(value) for value in after.repeated],
        },
        "reasons": list(found.reasons),
        "notes": list(found.notes),
    }


def text(looks: Sequence[SoFar]) -> str:
    """The same for a terminal."""
    blocks = ["\n".join(_lines(found)) for found in looks]
    sure = 100 * looks[0].confidence
    return "\n\n".join([*blocks, textwrap.fill(HOLDS.format(sure=sure), WIDTH)])


def _lines(found: SoFar) -> list[str]:
    head = f"{found.label} ({found.condition}), {found.points} speed points up to {rpm(found.fastest)}"
    lines = [head, *textwrap.wrap(_shown(found), WIDTH, initial_indent="    ", subsequent_indent="    ")]
    if found.next is not None:
        said = textwrap.wrap(_next(found), WIDTH, initial_indent="    ", subsequent_indent="    ")
        lines += said
    for words in (*found.reasons, *found.notes):
        lines += textwrap.wrap(f"- {words}", WIDTH, initial_indent="    ", subsequent_indent="      ")
    return lines


def _shown(found: SoFar) -> str:
    low, high = found.interval
    if found.reasons:
        return "Shown so far: nothing."
    if found.shown == "lift-off":
        above = f"between {rpm(low)} and {rpm(high)}" if low > 0.0 else f"below {rpm(high)}"
        return f"Shown so far: the rim has lifted off, {above}."
    if found.shown == "floating":
        return f"Shown so far: the rim floats at every speed that was run; it lifts off below {rpm(high)}, if it seats."
    if found.shown == "seated":
        bound = f", and below {rpm(high)}" if np.isfinite(high) else ""
        return (
            "Shown so far, if nothing but speed and warming moved the gap: the rim does not lift off below "
            f"{rpm(low)}{bound}. A lift-off is not shown."
        )
    bound = f" (below {rpm(high)}, if the rim lifts off at all)" if np.isfinite(high) else ""
    return f"Shown so far: nothing of the lift-off{bound}."


def _next(found: SoFar) -> str:
    after = found.next
    assert after is not None
    if not after.gains:
        return _none_alone(found, after)
    best, *others = [place for place in after.order if after.worth[place]]
    more = " and ".join(
        rpm(float(after.speed[place]), ".0f") for place in [place for place in others if not after.repeated[place]][:2]
    )
    most = "most" if after.information[best] >= max(after.information[after.worth]) else "as much as any"
    tells = f"would tell {most}{f' (then {more})' if more else ''}"
    again = " once more" if after.repeats else ""
    # what readings that bound nothing leave open is no number to go by
    lowers = (
        ""
        if found.reasons
        else f": the standard uncertainty of the lift-off is expected to go from {rpm(after.present)} to "
        f"{rpm(float(after.uncertainty[best]))}"
    )
    below = after.speed[best] < after.last
    why = " It lies below the last speed: it shows how much of the change of the gap is drift." if below else ""
    return (
        f"Of the speeds that the plan allows next, {rpm(float(after.speed[best]), '.0f')}{again} {tells}{lowers}.{why}"
    )


def _none_alone(found: SoFar, after: NextSpeed) -> str:
    """What to do where no next speed by itself is worth a recommendation: up only where nothing speaks against it."""
    low, high = (rpm(float(end), ".0f") for end in (after.speed.min(), after.speed.max()))
    step = f"from {low} to {high}" if low != high else f"at {low}"
    now = "" if found.reasons else f" (its standard uncertainty is {rpm(after.present)} now)"
    said = f"No single next step that the plan allows, {step}, is expected to settle the lift-off by itself{now}."
    down = "a run-down with the same holds, low speeds included, helps to distinguish drift from a knee"
    rising = after.last > (1.0 - SAME_SPEED) * found.fastest and found.shown in ("seated", "nothing")
    if rising and not np.isfinite(found.go_on_to):
        return f"{said} Clear the remarks below before the run goes to a higher speed; {down}."
    if rising and found.fastest < (1.0 - SAME_SPEED) * found.go_on_to:
        top = rpm(found.go_on_to, ".0f")
        return f"{said} Continue by the plan, within its hold and stop lines, up to {top} and not above; then {down}."
    return f"{said} {down.capitalize()}."
