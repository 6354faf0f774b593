"""What is known of a restart after a history, and which thermometers would decide what is not, in sentences."""

from __future__ import annotations

import numpy as np

from rimmodel.behaviour.heat.restart import Restart
from rimmodel.planning.duty import Duty
from rimmodel.rotor.case.case import Case
from rimmodel.units import rpm

LITTLE = 0.05
"""Share of the possible machines in which readings must decide to be worth the name."""


def cases_words(share: float, cases: int) -> str:
    """In how many of the cases something happens: as a count where a percentage would round to none or to all.

    Parameters
    ----------
    share : float, -
    cases : int
        Worked out.

    >>> [cases_words(count / 1200, 1200) for count in (0, 3, 600)]
    ['in none of the 1200 cases worked out', 'in 3 of the 1200 cases worked out', 'in 50 % of the cases worked out']
    >>> [cases_words(count / 1200, 1200) for count in (1197, 1200)]
    ['in 1197 of the 1200 cases worked out', 'in all 1200 cases worked out']
    """
    count = round(share * cases)
    if count in (0, cases):
        return f"in {'all' if count else 'none of the'} {cases} cases worked out"
    if f"{100 * share:.0f}" in ("0", "100"):
        return f"in {count} of the {cases} cases worked out"
    return f"in {100 * share:.0f} % of the cases worked out"


def restart_sentences(duty: Duty) -> list[str]:
    """What is known of a restart, in sentences: until when, from when, and what would decide in between."""
    found = duty.run.restart
    if found is None:
        return ["The history does not come to rest after it has turned: nothing can be stated about a restart."]
    if duty.refusal:
        return [f"Nothing is shown of a restart: {duty.refusal}."]
    locked = found.locked_times
    never = (
        f" From {_late(locked[0])} to {_early(locked[-1])} the rim floats over the whole range of heat transfer."
        if locked.size
        else ""
    )
    lines = [f"{_restart_words(found, found.ratio)}{never}"]
    return [*lines, *_required_restarts(duty.case, found)]


def _restart_words(found: Restart, ratio: float) -> str:
    """From when a restart keeps a ratio of float speed to rated speed, in a sentence that states the ratio first."""
    first, again = found.windows(ratio)
    end = f"{found.time[-1] / 3600.0:.0f} h"
    head = (
        f"Earliest restart by float speed alone, with the float speed kept above {ratio:g} x rated "
        f"({rpm(ratio * found.speed, '.4g')}) from the first turn on"
    )
    if np.isinf(first):
        return f"{head}: at once; that margin is kept after any time at rest up to {end}."
    when = f"not within the {end} that were looked at" if np.isnan(again) else f"{_late(again)} after the stop"
    return f"{head}: {when}; before that, {_hot_words(found, first)}."


def _hot_words(found: Restart, until: float) -> str:
    """Until when (s, NaN for never) a restart soon after the stop keeps a margin, as the table by time at rest says."""
    if np.isnan(until):
        return "a hot restart is not shown to keep that margin at any time"
    lost = float(found.time[np.flatnonzero(found.time > until)[0]])
    if until < 60.0:
        return (
            "the margin is kept at the very moment of the stop alone ('holds' at 0 h at rest) and not shown to be kept "
            f"any more {_late(lost)} later, so no hot restart can rest on it"
        )
    return f"a hot restart keeps that margin up to {_early(until)} after the stop"


def _required_restarts(case: Case, found: Restart) -> list[str]:
    """The same for a requirement of the case that asks for more float speed than the history does."""
    asked = [row for row in case.requirements if row.quantity == "float_speed" and row.at_least is not None]
    most = max(asked, key=lambda row: float(row.at_least or 0.0), default=None)
    if most is None or float(most.at_least or 0.0) <= found.ratio * found.speed * (1 + 1e-9):
        return []
    ratio = float(most.at_least or 0.0) / found.speed
    return [f"Requirement '{most.name}' asks for more, {ratio:.4g} x rated. {_restart_words(found, ratio)}"]


def _early(time: float) -> str:
    """A time (s) in words, rounded down."""
    return f"{np.floor(time / 60):.0f} min" if time < 2 * 3600 else f"{np.floor(time / 360) / 10:.1f} h"


def _late(time: float) -> str:
    """A time (s) in words, rounded up."""
    return f"{np.ceil(time / 60):.0f} min" if time < 2 * 3600 else f"{np.ceil(time / 360) / 10:.1f} h"


def thermometer_sentence(duty: Duty) -> str:
    """Which two thermometers would decide; empty where nothing is open."""
    pair = duty.thermometers
    if pair is None or duty.refusal:
        return ""
    share = 1.0 - (pair.after / pair.before) ** 2 if pair.before > 0 else 0.0
    first, second = pair.places
    where = f"{first}, and {second}"
    machines = len(duty.run.model.possible)
    known = (
        f"They account for {100 * share:.0f} % of the spread due to heat transfer, and bring its standard uncertainty "
        f"down to {rpm(pair.after)} from {rpm(pair.before)} of float speed"
    )
    if not np.isfinite(pair.decided):
        return f"The two thermometers that say most of it, read before the restart, are these: {where}. {known}."
    if pair.decided < LITTLE:
        return f"No two thermometers would decide it. Those that say most are these: {where}. {known}; the fit remains."
    if round(pair.decided * machines) == machines:
        which = f"all {machines} machines that were worked out"
    elif f"{100 * pair.decided:.0f}" == "100":
        which = f"{round(pair.decided * machines)} of the {machines} machines that were worked out"
    else:
        which = f"{100 * pair.decided:.0f} % of the machines that are possible"
    return f"Two thermometers, read before the restart, would decide it in {which}: {where}. {known}."
